"""Which host this is, to other hosts of the same log.

Processes that share a home are one host, and a copy of the home is another: the name is made of the running machine and of the folder
itself, and neither goes with a copy, be it of the folder, of the disk, or of a whole machine. A machine that was started again is another
host too, because it might be a copy; nothing hangs on that once the old row has run out.
"""

from __future__ import annotations

import platform
import uuid
from hashlib import sha256
from pathlib import Path
from typing import Final

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
