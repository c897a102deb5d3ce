"""Files that survive a power cut: written whole or not at all.

A file is written under another name, forced to the disk, given its name, and then the folder is forced to the
disk, because a name is content of its folder (POSIX leaves all of this to the program). A reader never sees
half a file.
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from bailee.disk import replacing, systems
from bailee.errors import Unavailable

_AGAIN_S: Final = 0.01


def write(
    path: Path, data: bytes, mode: int = replacing.PRIVATE, holds: Callable[[], bool] | None = None
) -> bool:
    """Put `data` at `path`, replacing what was there; durable when this returns.

    Raises `Unavailable` ("disk", "not-a-file").

    A new file gets `mode`, and one of the owner's alone a new folder of that kind. `holds` is asked last,
    when all but the replacing is done: False leaves everything as it was, and so does `disarm`, by whomever
    it was called since. Whether it was replaced.
    """
    try:
        make_folder(path.parent, 0o700 if mode == replacing.PRIVATE else 0o777)
        if holds is None:
            replacing.replace(path, data, mode)
        elif not _replace_if(holds, replacing.beside(path, data, mode), path):
            return False
        _sync_folder(path.parent)
    except OSError as error:
        raise unwritable(path, error) from error
    return True


def _replace_if(holds: Callable[[], bool], unfinished: Path, path: Path) -> bool:
    try:
        if holds():
            systems.put(unfinished, path)
            return True
    except FileNotFoundError:  # disarmed meanwhile
        return False
    finally:
        unfinished.unlink(missing_ok=True)
    return False


def disarm(path: Path) -> None:
    """Let nobody who is in the middle of writing `path` come to its end, not even a process that was stopped
    and wakes later.
    """
    for unfinished in path.parent.glob(f"{path.name}.*{replacing.UNFINISHED}"):
        unfinished.unlink(missing_ok=True)


def append_line(path: Path, line: bytes) -> None:
    """Add one line to a file; durable when this returns.

    An unfinished last line is closed first, never continued.
    """
    try:
        fresh = not path.exists()
        with path.open("ab+") as file:
            if file.tell():
                file.seek(-1, os.SEEK_END)
                line = (b"" if file.read(1) == b"\n" else b"\n") + line
            file.write(line + b"\n")
            file.flush()
            systems.force(file.fileno())
        if fresh:
            _sync_folder(path.parent)
    except OSError as error:
        raise unwritable(path, error) from error


def make_folder(folder: Path, mode: int = 0o777) -> None:
    """Make a folder, with this mode less the umask, and those above it, each name durable."""
    if not folder.is_dir():
        make_folder(folder.parent, mode)
        folder.mkdir(mode, exist_ok=True)
        _sync_folder(folder.parent)


def rename(folder: Path, final: Path) -> None:
    """Give a whole folder its name; durable when this returns. Raises OSError."""
    _sync_folder(folder)
    folder.rename(final)
    _sync_folder(final.parent)


@contextmanager
def alone(path: Path, patience_s: float | None = None) -> Iterator[bool]:
    """Keep every other process that asks with the same file out until the end; a dead process lets go by
    dying.

    Whether that came about: after `patience_s` seconds nobody waits any longer for a process that does not
    let go. None waits for ever.
    """
    with _locked(path, patience_s, shared=False) as got:
        yield got


@contextmanager
def beside(path: Path) -> Iterator[bool]:
    """Keep out until the end who asks to be `alone` with the same file, and nobody else.

    Whether that came about: not while somebody is `alone`.
    """
    with _locked(path, 0, shared=True) as got:
        yield got


@contextmanager
def _locked(path: Path, patience_s: float | None, *, shared: bool) -> Iterator[bool]:
    try:
        make_folder(path.parent)
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise unwritable(path, error) from error
    try:
        got = _got(lambda: systems.lock(descriptor, shared=shared), patience_s)
        try:
            yield got
        finally:
            if got:
                systems.unlock(descriptor)
    finally:
        os.close(descriptor)


def _got(lock: Callable[[], bool], patience_s: float | None) -> bool:
    until = math.inf if patience_s is None else time.monotonic() + patience_s
    while not lock():
        if time.monotonic() >= until:
            return False
        time.sleep(_AGAIN_S)
    return True


def unwritable(path: Path, error: OSError) -> Unavailable:
    """Our error for a file that cannot be written or read."""
    return Unavailable(
        f"{path} cannot be used ({error.strerror}): make room, or correct its owner. Nothing recorded is"
        " lost.",
        code="disk",
        file=str(path),
    )


def _sync_folder(folder: Path) -> None:
    if systems.SYSTEM == systems.WINDOWS:  # folders cannot be opened there
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        systems.force(descriptor)
    finally:
        os.close(descriptor)
