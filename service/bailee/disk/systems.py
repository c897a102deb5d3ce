"""What macOS and Windows do otherwise with files: forced to the medium, put in the place of another, locked,
kept to oneself.

Nobody else asks which system this is. Each function does on Linux what POSIX says; `tests/disk` plays the
other systems, whose words are those of their makers' manuals (fcntl(2) of macOS; `_locking`, `icacls`).
"""

from __future__ import annotations

import importlib
import os
import re
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from bailee.errors import Unavailable

SYSTEM = sys.platform
MACOS, WINDOWS = "darwin", "win32"

_TRIES: Final = 10
_AGAIN_S: Final = 0.05
_SHARED: Final = 64
"""Processes that may hold one lock beside each other on Windows."""
_OWN: Final = frozenset({"SY", "BA", "OW"})
"""Whom Windows always lets in: the system, administrators, the owner (SDDL's names)."""
_ALLOWED: Final = re.compile(r"\(X?A;[^;]*;[^;]*;[^;]*;[^;]*;([^;)]+)")

OF_SQLITE: Final = ("fullfsync=ON", "checkpoint_fullfsync=ON")
"""What SQLite is told, so that it too reaches the medium on macOS; elsewhere it changes nothing."""


def force(descriptor: int) -> None:
    """Bring what was written to the medium.

    On macOS fsync(2) ends in the drive's own memory, and a power cut there would bring a counter back.
    """
    if SYSTEM == MACOS:
        fcntl: Any = importlib.import_module("fcntl")
        with suppress(OSError):  # a volume that does not know it, as on a network
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
            return
    os.fsync(descriptor)


def put(unfinished: Path, path: Path) -> None:
    """Give a file the name of another one, which is gone then.

    Windows refuses while anybody reads the other one, a scanner of viruses for a moment. Raises `Unavailable`
    ("in-use") when that does not end, OSError.
    """
    for attempt in range(_TRIES):
        try:
            unfinished.replace(path)
        except PermissionError as error:
            if SYSTEM != WINDOWS:
                raise
            if attempt == _TRIES - 1:
                raise Unavailable(
                    f"{path} is open in another program: close it there, and try again. It is as it was.",
                    code="in-use",
                    file=str(path),
                ) from error
            time.sleep(_AGAIN_S)
        else:
            return


def lock(descriptor: int, *, shared: bool) -> bool:
    """Try to lock a file, alone or beside others that share it; `unlock` ends it, and so does the process."""
    if SYSTEM == WINDOWS:
        return any(map(_region(descriptor, "LK_NBLCK"), _regions(shared=shared)))
    fcntl: Any = importlib.import_module("fcntl")
    try:
        fcntl.flock(descriptor, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def unlock(descriptor: int) -> None:
    """Give a lock back: on Windows before the file is closed, elsewhere by that."""
    if SYSTEM == WINDOWS:
        for each in (*_regions(shared=False), *_regions(shared=True)):
            _region(descriptor, "LK_UNLCK")(each)


def _regions(*, shared: bool) -> list[tuple[int, int]]:
    """Windows has no shared lock for this: who shares locks one byte of many, who is alone all of them."""
    return [(each, 1) for each in range(_SHARED)] if shared else [(0, _SHARED)]


def _region(descriptor: int, how: str) -> Any:
    msvcrt: Any = importlib.import_module("msvcrt")

    def locked(region: tuple[int, int]) -> bool:
        os.lseek(descriptor, region[0], os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, getattr(msvcrt, how), region[1])
        except OSError:
            return False
        return True

    return locked


def make_own(path: Path) -> None:
    """Let nobody but its owner read a file that holds a key; modes do that elsewhere. Raises OSError."""
    if SYSTEM == WINDOWS:
        _asked("icacls", path, "/inheritance:r", "/grant:r", f"*{_me()}:F")


def closing(path: Path) -> str:
    """The command that shuts others out of a file."""
    if SYSTEM == WINDOWS:
        return f'icacls "{path}" /inheritance:r /grant:r "%USERNAME%":F'
    return f"chmod 600 {path}"


def is_exposed(path: Path) -> bool:
    """Whether somebody else may read it. Raises OSError."""
    if SYSTEM != WINDOWS:
        return os.name == "posix" and bool(path.stat().st_mode & 0o077)
    with tempfile.TemporaryDirectory() as folder:
        saved = Path(folder) / "acl"
        _asked("icacls", path, "/save", saved)
        who = set(_ALLOWED.findall(saved.read_text("utf-16")))
    return not who <= _OWN | {_me()}


def _me() -> str:
    """The number by which Windows knows who runs this."""
    found = re.search(r"S-1-[0-9-]+", _asked("whoami", "/user", "/fo", "csv", "/nh"))
    if found is None:
        raise OSError(0, "Windows gives no name of the person who runs this")
    return found[0]


def _asked(*words: str | Path) -> str:
    done = subprocess.run([*map(str, words)], capture_output=True, text=True, check=False)  # noqa: S603 - our own words
    if done.returncode:
        raise OSError(0, f"{words[0]} refused: {done.stderr.strip()}")
    return done.stdout
