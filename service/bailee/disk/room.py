"""Whether files can still be written in a folder: asked before the log finds out by failing."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Final

from bailee.errors import Unavailable

LEAST_FREE: Final = 64 * 1024 * 1024
"""Bytes: some 50,000 entries with their tiles, time enough for somebody to make room."""
_PROBE: Final = 4096


def require(folder: Path, least: int = LEAST_FREE) -> None:
    """Raise `Unavailable` (`disk`) unless a file can be written there and so many bytes are free."""
    try:
        free = shutil.disk_usage(folder).free
        with tempfile.TemporaryFile(dir=folder, buffering=0) as probe:
            probe.write(bytes(_PROBE))
    except OSError as error:
        raise Unavailable(
            f"Files in {folder} cannot be written ({error.strerror}): make room, or mount the disk.",
            code="disk",
        ) from error
    if free < least:
        raise Unavailable(
            f"Only {free // 2**20} MB are free for {folder}, and {least // 2**20} are asked for: make room.",
            code="disk",
        )
