"""The complete log of fifteen entries that another program made (transparency-dev/tessera, testdata/log),
size by size.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from published import rows


@dataclass(frozen=True)
class Files:
    """What that log shows at one size: checkpoint, bundle of entries, tile of their hashes."""

    size: int
    checkpoint: str
    bundle: bytes
    hashes: bytes


def key() -> str:
    """The verifier key of the log."""
    ((found,),) = rows("log-tessera", "key")
    return found


def sizes() -> list[Files]:
    """From the empty log on; its files only grow."""
    found, bundle, hashes = [], b"", b""
    for size, checkpoint, *grown in rows("log-tessera", "size"):
        entry, leaf = map(bytes.fromhex, grown or ("", ""))
        bundle, hashes = bundle + entry, hashes + leaf
        found.append(Files(int(size), checkpoint, bundle, hashes))
    return found


def write(folder: Path) -> None:
    """Its tiles under the names they have there."""
    for files in sizes()[1:]:
        for kind, data in (("entries", files.bundle), ("0", files.hashes)):
            path = folder / "tile" / kind / "000.p" / str(files.size)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
