"""Whether files can still be written in a folder: asked before the log finds out by failing.

Which host this is, to other hosts of the same log.

Processes that share a home are one host, and a copy of the home is another: the name is made of the running
machine and of the folder itself, and neither goes with a copy, be it of the folder, of the disk, or of a
whole machine. A machine that was started again is another host too, because it might be a copy; nothing hangs
on that once the old row has run out.
"""

from __future__ import annotations

import platform
import shutil
import tempfile
import uuid
from hashlib import sha256
from pathlib import Path
from typing import Final

from bailee.errors import Unavailable

_BOOT: Final = Path("/proc/sys/kernel/random/boot_id")
"""Linux: drawn anew at each start of the machine (random(4))."""


def host_of(home: Path) -> str:
    """The name of the host that this process belongs to."""
    folder = home.stat()
    return sha256(f"{_machine()}\n{folder.st_dev}\n{folder.st_ino}".encode()).hexdigest()[:32]


def _machine() -> str:
    try:
        return _BOOT.read_text("ascii").strip()
    except OSError:  # elsewhere: the machine's name and its network card
        return f"{platform.node()} {uuid.getnode()}"


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
