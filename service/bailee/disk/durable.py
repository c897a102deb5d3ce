"""Files that survive a power cut: written whole or not at all.

A file is written under another name, forced to the disk, given its name, and then the folder is forced to the disk, because
a name is content of its folder (POSIX leaves all of this to the program). A reader never sees half a file.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from bailee.errors import Unavailable

_UNFINISHED: Final = ".new"


def write(path: Path, data: bytes) -> None:
    """Put `data` at `path`, replacing what was there; durable when this returns. Raises `Unavailable` ("disk")."""
    try:
        make_folder(path.parent)
        unfinished = path.with_name(f"{path.name}.{os.getpid()}-{threading.get_ident()}{_UNFINISHED}")
        with unfinished.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        unfinished.replace(path)
        _sync_folder(path.parent)
    except OSError as error:
        raise unwritable(path, error) from error


def append_line(path: Path, line: bytes) -> None:
    """Add one line to a file; durable when this returns. An unfinished last line is closed first, never continued."""
    try:
        fresh = not path.exists()
        with path.open("ab+") as file:
            if file.tell():
                file.seek(-1, os.SEEK_END)
                line = (b"" if file.read(1) == b"\n" else b"\n") + line
            file.write(line + b"\n")
            file.flush()
            os.fsync(file.fileno())
        if fresh:
            _sync_folder(path.parent)
    except OSError as error:
        raise unwritable(path, error) from error


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, each name durable."""
    if not folder.is_dir():
        make_folder(folder.parent)
        folder.mkdir(exist_ok=True)
        _sync_folder(folder.parent)


@contextmanager
def alone(path: Path) -> Iterator[None]:
    """Keep every other process that asks with the same file out until the end; a dead process lets go by dying."""
    try:
        import fcntl
    except ImportError:  # where there is no such lock, one process serves
        yield
        return
    try:
        make_folder(path.parent)
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise unwritable(path, error) from error
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def unwritable(path: Path, error: OSError) -> Unavailable:
    """Our error for a file that cannot be written or read."""
    return Unavailable(
        f"{path} cannot be used ({error.strerror}): make room, or correct its owner. Nothing recorded is lost.",
        code="disk",
        file=str(path),
    )


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # folders cannot be opened there
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
