"""A log of nothing but hashes, held in memory: it signs whatever it is told to, also two histories."""

from __future__ import annotations

from bailee.cosigning import request
from bailee.ledger import merkle
from bailee.ledger.checkpoint import Checkpoint, VerifierKey
from bailee.ledger.entry import leaf_hash
from bailee.signing import notes
from bailee.signing.keys import SigningKey

ORIGIN = "ledger.example/tiny"


class TinyLog:
    """`branch` makes another history from entry `since` on, under the same name and key."""

    def __init__(self, origin: str = ORIGIN, *, branch: str = "", since: int = 0) -> None:
        self.key = SigningKey.from_seed(b"tiny".ljust(32, b"."))
        self.origin = origin
        self._branch, self._since = branch, since
        self._rows: dict[tuple[int, int], bytes] = {}
        self._size = 0

    @property
    def verifier(self) -> VerifierKey:
        """The log's public key."""
        return notes.verifier_key(self.origin, self.key)

    def read(self, level: int, index: int) -> bytes:
        """Tiles, as `ledger.merkle` reads them."""
        return self._rows.get((level, index), b"")

    def checkpoint(self, size: int) -> Checkpoint:
        """The checkpoint over the first `size` entries."""
        while self._size < size:
            branch = self._branch if self._size >= self._since else ""
            leaf = leaf_hash(f"{self._size}{branch}".encode())
            for row in merkle.grow(self, self._size, [leaf]):
                self._rows[row.level, row.index] = row.hashes
            self._size += 1
        return Checkpoint(self.origin, size, merkle.root(self, size))

    def note(self, size: int) -> str:
        """Signed."""
        return notes.sign(self.checkpoint(size), self.key)

    def ask(self, old: int, size: int) -> bytes:
        """The request that a cosigner gets."""
        note = self.note(size)
        path = merkle.consistency_path(self, old, size) if old <= size else []
        return request.write(old, path, note)
