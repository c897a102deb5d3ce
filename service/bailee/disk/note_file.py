"""Signed notes in a file, one a line, oldest first: the high-water mark of a log.

Kept outside the database, best on another disk, so that an old copy of the database cannot take it back as
well. A line is the note as a JSON string. A line that a crash cut short was never relied on: it has no end,
and is passed over.
"""

from __future__ import annotations

import json
import os
from itertools import islice
from pathlib import Path
from typing import Final

from bailee.disk import durable

_TAIL: Final = 2 * 1024 * 1024
"""Bytes read from the end: several of the largest notes (256 KiB before JSON's escapes)."""


class NoteFile:
    """One such file."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def append(self, note: str) -> None:
        """Add a note; durable when this returns. Raises `Unavailable` ("disk")."""
        durable.append_line(self.path, json.dumps(note).encode())

    def newest(self) -> str | None:
        """The last whole note; None when there is no file or nothing in it. Raises `Unavailable` ("disk")."""
        return next(iter(self.newest_few(1)), None)

    def newest_few(self, count: int = 8) -> list[str]:
        """The last whole notes, the newest first. Raises `Unavailable` ("disk")."""
        try:
            with self.path.open("rb") as file:
                file.seek(max(file.seek(0, os.SEEK_END) - _TAIL, 0))
                lines = file.read().split(b"\n")[:-1]
        except FileNotFoundError:
            return []
        except OSError as error:
            raise durable.unwritable(self.path, error) from error
        return list(islice((note for line in reversed(lines) if (note := _note(line)) is not None), count))

    def version(self) -> tuple[int, int] | None:
        """Changes whenever the file does; None when there is no file."""
        return file_version(self.path)


def file_version(path: Path) -> tuple[int, int] | None:
    """Changes whenever a file does; None when there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


def _note(line: bytes) -> str | None:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, str) else None
