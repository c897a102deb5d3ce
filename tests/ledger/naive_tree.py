"""The reference definition: RFC 9162 section 2.1 word for word, slow and obvious.

And tiles kept in memory.
"""

from functools import cache
from hashlib import sha256

from bailee.ledger.merkle import Tile


def leaf(number: int) -> bytes:
    """Make a cheap stand-in for the leaf hash of entry `number`."""
    return sha256(number.to_bytes(8, "big")).digest()


def _k(n: int) -> int:
    """Find the largest power of two smaller than n (2.1.1)."""
    k = 1
    while 2 * k < n:
        k *= 2
    return k


@cache
def mth(start: int, end: int) -> bytes:
    """Compute MTH(D[start:end]) over the leaves above (2.1.1)."""
    n = end - start
    if n == 0:
        return sha256(b"").digest()
    if n == 1:
        return leaf(start)
    middle = start + _k(n)
    return sha256(b"\x01" + mth(start, middle) + mth(middle, end)).digest()


def path(m: int, start: int, end: int) -> list[bytes]:
    """Build PATH(m, D[start:end]) (2.1.3.1)."""
    n = end - start
    if n == 1:
        return []
    k = _k(n)
    if m < k:
        return [*path(m, start, start + k), mth(start + k, end)]
    return [*path(m - k, start + k, end), mth(start, start + k)]


def subproof(m: int, start: int, end: int, *, known: bool = True) -> list[bytes]:
    """Build SUBPROOF(m, D[start:end], b); PROOF(m, D_n) is SUBPROOF(m, D_n, true) (2.1.4.1)."""
    n = end - start
    if m == n:
        return [] if known else [mth(start, end)]
    k = _k(n)
    if m <= k:
        return [*subproof(m, start, start + k, known=known), mth(start + k, end)]
    return [*subproof(m - k, start + k, end, known=False), mth(start, start + k)]


class MemoryTiles:
    """Tile rows in a dictionary, and a note of what was read."""

    def __init__(self) -> None:
        self.rows: dict[tuple[int, int], bytes] = {}
        self.reads: list[tuple[int, int]] = []

    def read(self, level: int, index: int) -> bytes:
        """Give the row as it is, or nothing."""
        self.reads.append((level, index))
        return self.rows.get((level, index), b"")

    def store(self, tiles: list[Tile]) -> None:
        """Keep the new contents."""
        for tile in tiles:
            self.rows[tile.level, tile.index] = tile.hashes
