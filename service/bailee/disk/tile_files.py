"""Tiles as files, where C2SP tlog-tiles says they are: `<folder>/tile/<L>/<N>[.p/<W>]`.

Hash tiles lie in a folder that anybody may read. Entry tiles lie in another one, because they hold what
people said. Both are a pure function of the log, so writing one again does no harm.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from bailee.disk import durable, replacing
from bailee.errors import Broken, Malformed
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.entry import HASH_BYTES
from bailee.ledger.merkle import TILE_HEIGHT, TILE_WIDTH


class TileFiles:
    """Tiles in one folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def write(self, level: int | None, index: int, width: int, data: bytes) -> None:
        """Keep a tile; what people said is read by the owner of the folder alone.

        Raises `Unavailable` ("disk").
        """
        mode = replacing.PRIVATE if level is None else replacing.PUBLIC
        durable.write(self.path(level, index, width), data, mode)

    def read(self, level: int | None, index: int, width: int) -> bytes | None:
        """The first `width` hashes or entries of a tile, out of this file or a fuller one; None when there is
        none.

        A partial tile may be gone once a fuller one is there (C2SP tlog-tiles, Partial Tiles).
        """
        for path in (self.path(level, index, width), *self._fuller(level, index, width)):
            try:
                return _first(path.read_bytes(), level, width)
            except FileNotFoundError:
                continue
        return None

    def drop_partials(self, level: int | None, index: int, *, below: int = TILE_WIDTH) -> None:
        """Remove the partial tiles narrower than `below`; with all of them gone, their folder too."""
        folder = self.path(level, index, 1).parent
        if below == TILE_WIDTH:
            shutil.rmtree(folder, ignore_errors=True)
        elif folder.is_dir():
            for path in folder.iterdir():
                if path.name.isdigit() and int(path.name) < below:
                    path.unlink(missing_ok=True)

    def path(self, level: int | None, index: int, width: int) -> Path:
        """Where a tile of this width lies."""
        return self._folder / merkle.tile_path(level, index, width)

    def _fuller(self, level: int | None, index: int, width: int) -> list[Path]:
        partial = self.path(level, index, 1).parent
        wider = (
            sorted(int(path.name) for path in partial.iterdir() if path.name.isdigit())
            if partial.is_dir()
            else []
        )
        return [
            *(partial / str(each) for each in wider if each > width),
            self.path(level, index, TILE_WIDTH),
        ]


class TreeOnDisk:
    """Hash tiles of the log's first `size` entries, as `ledger.merkle` reads them."""

    def __init__(self, files: TileFiles, size: int) -> None:
        self._files, self._size = files, size

    def read(self, level: int, index: int) -> bytes:
        """All hashes of one row that belong to this size; fewer when the file lacks them."""
        width = merkle.tile_width(level, index, self._size)
        return (self._files.read(level, index, width) if width else None) or b""


def changed(old: int, new: int) -> list[tuple[int, int, int]]:
    """Level, index and width of every hash tile that a log of `new` entries has and a log of `old` entries
    had not.
    """
    found = []
    level = 0
    while new >> (TILE_HEIGHT * level):
        before, after = old >> (TILE_HEIGHT * level), new >> (TILE_HEIGHT * level)
        if before < after:
            indexes = range(before // TILE_WIDTH, (after - 1) // TILE_WIDTH + 1)
            found += [(level, index, merkle.tile_width(level, index, new)) for index in indexes]
        level += 1
    return found


def require_derived(tree: TileFiles, texts: TileFiles, old: int, new: int) -> None:
    """Read back every tile between two sizes: each hash must be that of the entry, or of the tile, it stands
    for.

    Raises `Broken` ("read-back"): what is on disk must not be signed.
    """
    for level, index, width in changed(old, new):
        hashes = tree.read(level, index, width) or b""
        first = max((old >> (TILE_HEIGHT * level)) - index * TILE_WIDTH, 0)
        for place in range(first if level else 0, width):
            if level:
                below = tree.read(level - 1, index * TILE_WIDTH + place, TILE_WIDTH) or b""
                true = merkle.tile_root(below) if len(below) == merkle.TILE_BYTES else b""
                _require(hashes[place * HASH_BYTES : (place + 1) * HASH_BYTES] == true, level, index)
        if level == 0:
            leaves = b"".join(map(entries.leaf_hash, _told(texts, index, width)))
            _require(leaves == hashes, level, index)


def _told(texts: TileFiles, index: int, width: int) -> list[bytes]:
    """The entries of a tile; none of one that cannot be read, and then the hashes say so."""
    try:
        return entries.unpack(texts.read(None, index, width) or b"")
    except Malformed:
        return []


def _require(holds: bool, level: int, index: int) -> None:  # noqa: FBT001 - the condition itself
    if not holds:
        raise Broken(
            f"The tile {merkle.tile_path(level, index)} on disk is not what the entries hash to: nothing is"
            " signed. Check the disk, then start the service again.",
            code="read-back",
            place=merkle.tile_path(level, index),
        )


def _first(data: bytes, level: int | None, width: int) -> bytes:
    if level is None:
        return entries.pack(entries.unpack(data)[:width])
    return data[: width * HASH_BYTES]
