"""The Merkle tree of the log, kept as tiles: growing it, and building proofs from it.

A tile row holds up to 256 consecutive hashes; at level 0 they are leaf hashes, and each hash at level k+1
is the root of one full tile at level k (C2SP tlog-tiles, Merkle Tree). Levels of the tree in between are
hashed again when needed. A proof reads at most two tiles per level: one on the path, one on the right edge.
Checking proofs is `ledger.proof`, kept apart so that a fault in building cannot hide in checking.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from hashlib import sha256
from typing import Protocol

from bailee.errors import Broken, Malformed
from bailee.frozen import frozen
from bailee.ledger.entry import HASH_BYTES

TILE_HEIGHT = 8
TILE_WIDTH = 1 << TILE_HEIGHT
TILE_BYTES = TILE_WIDTH * HASH_BYTES
MAX_LEVEL = 63
"""C2SP tlog-tiles: a level is between 0 and 63."""

EMPTY_ROOT = sha256().digest()
"""The root of a log without entries (RFC 9162 2.1.1)."""

_PATH = re.compile(r"tile/(entries|[0-9]{1,2})/((?:x[0-9]{3}/){0,6}[0-9]{3})(?:\.p/([0-9]{1,3}))?")


@frozen
class Tile:
    """The contents of one tile row: `hashes` is 1 to 256 hashes of 32 bytes, one after the other."""

    level: int
    index: int
    hashes: bytes

    @property
    def width(self) -> int:
        """How many hashes it holds."""
        return len(self.hashes) // HASH_BYTES


class Tiles(Protocol):
    """Where tile rows are kept."""

    def read(self, level: int, index: int) -> bytes:
        """All hashes of that row that exist, complete or partial; more than asked for does no harm."""


def node_hash(left: bytes, right: bytes) -> bytes:
    """Compute SHA-256(0x01 ‖ left ‖ right): an inner node (RFC 9162 2.1.1)."""
    return sha256(b"\x01" + left + right).digest()


def tile_root(hashes: bytes) -> bytes:
    """Compute the root over one full tile: the hash that stands for it one level up (C2SP tlog-tiles, Merkle
    Tree).
    """
    return _fold(_cut(hashes))


def tile_width(level: int, index: int, size: int) -> int:
    """Count the hashes that row holds in a log of `size` entries, 0 to 256 (C2SP
    tlog-tiles, Partial Tiles).
    """
    return min(max((size >> (TILE_HEIGHT * level)) - index * TILE_WIDTH, 0), TILE_WIDTH)


def tile_path(level: int | None, index: int, width: int = TILE_WIDTH) -> str:
    """Write the path of a tile: "tile/0/x001/x234/067", partial "….p/112"; level None is an entry tile."""
    digits = str(index)
    digits = digits.zfill(-(-len(digits) // 3) * 3)
    groups = [digits[at : at + 3] for at in range(0, len(digits), 3)]
    row = "/".join([f"x{group}" for group in groups[:-1]] + groups[-1:])
    part = "" if width == TILE_WIDTH else f".p/{width}"
    return f"tile/{'entries' if level is None else level}/{row}{part}"


def read_tile_path(path: str) -> tuple[int | None, int, int]:
    """Read (level, index, width) from a tile path written exactly as `tile_path` writes it.

    Raises `Malformed` ("tile-path").
    """
    found = _PATH.fullmatch(path)
    if found:
        name, groups, part = found.groups()
        level = None if name == "entries" else int(name)
        index = int(groups.replace("x", "").replace("/", ""))
        width = TILE_WIDTH if part is None else int(part)
        if (level or 0) <= MAX_LEVEL and 1 <= width <= TILE_WIDTH and tile_path(level, index, width) == path:
            return level, index, width
    raise Malformed(
        "There is no such tile path. Use the form tile/0/000 or tile/0/000.p/12.", code="tile-path"
    )


def root(tiles: Tiles, size: int) -> bytes:
    """Compute the root of the log's first `size` entries (RFC 9162 2.1.1).

    Raises `Malformed` ("out-of-range") for a negative size and `Broken` ("tile-short") when a tile lacks
    hashes.
    """
    _require_order(0, size)
    return _Reader(tiles).range_root(0, size) if size else EMPTY_ROOT


def inclusion_path(tiles: Tiles, index: int, size: int) -> list[bytes]:
    """Build the proof that entry `index` (from 0) is in the log's first `size` entries (RFC 9162 2.1.3.1).

    Raises `Malformed` ("out-of-range") unless 0 <= index < size, and `Broken` ("tile-short").
    """
    _require_order(0, index, size - 1)
    start, end = 0, size
    siblings = []
    while end - start > 1:
        middle = start + _split(end - start)
        if index < middle:
            siblings.append((middle, end))
            end = middle
        else:
            siblings.append((start, middle))
            start = middle
    reader = _Reader(tiles)
    return [reader.range_root(*span) for span in reversed(siblings)]


def consistency_path(tiles: Tiles, old: int, new: int) -> list[bytes]:
    """Build the proof that the log of `new` entries continues the log of `old` entries (RFC 9162 2.1.4.1).

    Empty when nothing needs proof: equal sizes, or an empty old log.
    Raises `Malformed` ("out-of-range") unless 0 <= old <= new, and `Broken` ("tile-short").
    """
    _require_order(0, old, new)
    if old in (0, new):
        return []
    start, end = 0, new
    parts = []
    while old != end:
        middle = start + _split(end - start)
        if old <= middle:
            parts.append((middle, end))
            end = middle
        else:
            parts.append((start, middle))
            start = middle
    if start:  # otherwise the old root itself is this part, and whoever checks has it
        parts.append((start, end))
    reader = _Reader(tiles)
    return [reader.range_root(*span) for span in reversed(parts)]


def grow(tiles: Tiles, size: int, leaf_hashes: Iterable[bytes]) -> list[Tile]:
    """Append leaf hashes to a log of `size` entries: every tile row that changes, with its new contents.

    Rows come level by level from 0, left to right. Reads at most one tile per level.
    Raises `Broken` ("tile-short") when a stored row lacks hashes that a log of `size` must have.
    """
    changed = []
    hashes = list(leaf_hashes)
    assert all(len(each) == HASH_BYTES for each in hashes)
    level, position = 0, size
    while hashes:
        index, kept = divmod(position, TILE_WIDTH)
        row = (_first(tiles.read(level, index), kept, level, index) if kept else b"") + b"".join(hashes)
        rows = [
            Tile(level, index + number, row[at : at + TILE_BYTES])
            for number, at in enumerate(range(0, len(row), TILE_BYTES))
        ]
        changed += rows
        hashes = [_fold(_cut(tile.hashes)) for tile in rows if tile.width == TILE_WIDTH]
        level, position = level + 1, index
    return changed


class _Reader:
    """Roots of ranges of leaves, reading each tile once; made anew for each proof."""

    def __init__(self, tiles: Tiles) -> None:
        self._tiles = tiles
        self._rows: dict[tuple[int, int], bytes] = {}

    def range_root(self, start: int, end: int) -> bytes:
        """Compute the root of leaves start to end-1, where the largest full subtree in it
        begins at `start`.
        """
        fulls = []
        while start < end:
            height = (end - start).bit_length() - 1
            fulls.append(self._full_root(start, height))
            start += 1 << height
        result = fulls.pop()
        while fulls:
            result = node_hash(fulls.pop(), result)
        return result

    def _full_root(self, start: int, height: int) -> bytes:
        """Compute the root of the 2**height leaves from `start`: a run of hashes inside one tile."""
        level, rest = divmod(height, TILE_HEIGHT)
        index, first = divmod(start >> (TILE_HEIGHT * level), TILE_WIDTH)
        last = first + (1 << rest)
        if (level, index) not in self._rows:
            self._rows[level, index] = self._tiles.read(level, index)
        return _fold(_cut(_first(self._rows[level, index], last, level, index)[first * HASH_BYTES :]))


def _first(row: bytes, width: int, level: int, index: int) -> bytes:
    """Take the row's first `width` hashes, which must be there."""
    if len(row) < width * HASH_BYTES:
        raise Broken(
            "A tile of the log lacks hashes that it must hold. Restore the tile before going on.",
            code="tile-short",
            place=tile_path(level, index),
            expected=width,
            found=len(row) // HASH_BYTES,
        )
    return row[: width * HASH_BYTES]


def _cut(row: bytes) -> list[bytes]:
    return [row[at : at + HASH_BYTES] for at in range(0, len(row), HASH_BYTES)]


def _fold(hashes: list[bytes]) -> bytes:
    """Compute the root over a power of two of hashes."""
    while len(hashes) > 1:
        hashes = [node_hash(hashes[at], hashes[at + 1]) for at in range(0, len(hashes), 2)]
    return hashes[0]


def _split(count: int) -> int:
    """Find the largest power of two smaller than `count` (RFC 9162 2.1.1); count is at least 2."""
    return 1 << ((count - 1).bit_length() - 1)


def _require_order(*numbers: int) -> None:
    if list(numbers) != sorted(numbers):
        raise Malformed(
            "The log has no such entry or size. Ask within the size of its newest checkpoint.",
            code="out-of-range",
        )
