"""A file in the place of another: whole or not at all, through no link, and shown to nobody who could not
read it before.

In a folder that others may write to, a name can be a trap: a link planted there leads the writer to another
file of theirs. So what is written gets a random name first, made exclusively, which follows no link (POSIX
`open`, O_CREAT with O_EXCL); taking the name of the file before it (POSIX `rename`) replaces a link and never
follows it.
"""

from __future__ import annotations

import os
import secrets
import stat
from pathlib import Path
from typing import Final

from bailee.disk import systems
from bailee.errors import Unavailable

PRIVATE: Final = 0o600
"""For its owner alone: what is written for a person holds names and addresses."""

PUBLIC: Final = 0o666
"""For whomever the umask of the process lets read it: what a log shows to everybody."""

UNFINISHED: Final = ".new"
_FLAGS: Final = (
    os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
)


def replace(path: Path, data: bytes, mode: int) -> None:
    """Put `data` at `path`.

    A new file gets `mode`, a file of one's own keeps its own. Raises as `beside` and `systems.put` do.
    """
    unfinished = beside(path, data, mode)
    try:
        systems.put(unfinished, path)
    except BaseException:
        unfinished.unlink(missing_ok=True)
        raise


def create(path: Path, data: bytes) -> None:
    """A new file for its owner alone, forced to the disk: a key.

    Raises FileExistsError when anything bears its name, OSError.
    """
    _write_new(path, data, PRIVATE)


def beside(path: Path, data: bytes, mode: int) -> Path:
    """Write `data` to a new file in the folder of `path`, forced to the disk and ready to replace it; its
    path.

    Raises `Unavailable` ("not-a-file") when `path` is a link or anything else but a file, OSError when the
    system refuses.
    """
    kept = _kept_mode(path)
    unfinished = path.with_name(f"{path.name}.{secrets.token_hex(8)}{UNFINISHED}")
    _write_new(unfinished, data, mode, kept)
    return unfinished


def _write_new(path: Path, data: bytes, mode: int, kept: int | None = None) -> None:
    descriptor = os.open(path, _FLAGS, mode if kept is None else PRIVATE)
    try:
        with os.fdopen(descriptor, "wb") as file:
            if mode == PRIVATE:
                systems.make_own(path)  # before anything is in it
            file.write(data)
            if kept is not None and os.name == "posix":
                os.fchmod(descriptor, kept)
            file.flush()
            systems.force(descriptor)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def _kept_mode(path: Path) -> int | None:
    """The permissions of the file that is there, if they are its owner's wish for this very name."""
    try:
        found = path.lstat()
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(found.st_mode):
        what = "a link" if stat.S_ISLNK(found.st_mode) else "no regular file"
        raise Unavailable(
            f"{path} is {what}, and nothing is written there: use the name of a file, or remove what has this"
            " name.",
            code="not-a-file",
            file=str(path),
        )
    # A stranger's file, or one with a second name elsewhere, may have been put here for its permissions.
    is_own = os.name == "posix" and found.st_uid == os.geteuid() and found.st_nlink == 1
    return stat.S_IMODE(found.st_mode) & 0o777 if is_own else None
