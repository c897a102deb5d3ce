"""A folder for one person's files: made for them alone, and used only where nobody else can put or exchange
anything.

Whoever can write to a folder decides what its names mean, and a link that bears the folder's name leads to
one of theirs. Above it, the way that somebody typed is their own choice, links and all.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Final

from bailee.errors import Unavailable

_OTHERS_WRITE: Final = stat.S_IWGRP | stat.S_IWOTH
_ROOT: Final = 0
"""The superuser can exchange every file anyway (POSIX "appropriate privileges")."""


def make_private(folder: Path) -> None:
    """Make a folder that only its owner may enter, or find one that only they can write to.

    Raises `Unavailable`: "not-a-folder" for a link or a file, "folder-exposed" where others can write,
    "cannot-write" when the system refuses.
    """
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        try:
            folder.mkdir(mode=0o700)
        except FileExistsError:
            _require_own(folder, folder.lstat())
    except OSError as error:
        raise Unavailable(
            f"The folder {folder} cannot be made or used ({error.strerror}): give another one.",
            code="cannot-write",
            file=str(folder),
        ) from error


def _require_own(folder: Path, found: os.stat_result) -> None:
    if not stat.S_ISDIR(found.st_mode):
        what = "a link" if stat.S_ISLNK(found.st_mode) else "no folder"
        raise Unavailable(
            f"{folder} is {what}, and nothing is written there: use the name of a folder, or remove what has"
            " this name.",
            code="not-a-folder",
            file=str(folder),
        )
    if os.name != "posix":
        return
    is_foreign = found.st_uid not in (os.geteuid(), _ROOT)
    if is_foreign or found.st_mode & _OTHERS_WRITE:
        why = (
            "belongs to another user"
            if is_foreign
            else "can be written to by others (`chmod go-w` ends that)"
        )
        raise Unavailable(
            f"The folder {folder} {why}, who could exchange what is written there: give one of your own.",
            code="folder-exposed",
            file=str(folder),
        )
