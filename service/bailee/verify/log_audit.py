"""A whole log, checked from its entries' own bytes: what an operator asks of a database, and a monitor of
somebody else's log.

`Audit.read` takes the entries in the order of the log and says of each what does not hold; `Audit.root` is
the root of what was read, to be compared with a checkpoint. Checked is whatever is checked of one file
(`verifier`, steps 3 to 9): the exact form, the link and the recorded time of every entry; each statement's
signature by a key that stood when it was recorded, in a role that may say it, of a party of its chain
(`authorship`); and the count of every device: no counter twice, each statement naming the one before. What a
device says it had seen, of its chain and of the whole log, must be here. Kept in memory: the tree, the hash
of every entry by its chain, each organization, and what has not closed up in a device's count.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from bailee.domain.acts.privacy import Erased
from bailee.domain.fields import EDITION
from bailee.errors import BaileeError
from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.base64url import b64u, unb64u
from bailee.signing import recording, signed_statement
from bailee.signing.signed_statement import Unverified
from bailee.verify.authorship import Authorship


@frozen
class Trouble:
    """Something that does not hold: the entry's place in the log (None for the log as a whole), and what is
    wrong.
    """

    index: int | None
    says: str


@dataclass(slots=True)
class _Device:
    """A device's count.

    Up to `closed` everything is here, the last with digest `last`; `ahead` came before its turn.
    """

    closed: int = 0
    last: str | None = None
    ahead: dict[int, tuple[str, str | None]] = field(default_factory=dict)

    def hear(self, seq: int, digest: str, prev: str | None) -> str | None:
        """Take one statement; what is wrong with its place in the count."""
        if seq <= self.closed or seq in self.ahead:
            return f"used its number {seq} twice"
        if seq > 1 and prev is None:
            return f"marked its entry {seq} as its first"
        self.ahead[seq] = (digest, prev)
        while self.closed + 1 in self.ahead:
            digest, prev = self.ahead.pop(self.closed + 1)
            follows = prev == self.last
            self.closed, self.last = self.closed + 1, digest
            if not follows:
                return f"did not refer to its entry {self.closed - 1} in its entry {self.closed}"
        return None


@dataclass(slots=True)
class _Chain:
    """A hash chain so far: its last number, its head and when that was recorded, the hashes of all its
    entries, one after the other: a fifth of the memory of a set. One that lies across two of them would be
    harder to make than a second entry with the same hash.
    """

    n: int = 0
    head: str | None = None
    rec: str = ""
    leaves: bytearray = field(default_factory=bytearray)


@dataclass(slots=True)
class Audit:
    """One reading of one log; `origin` is the name that its statements must be made for."""

    origin: str
    size: int = 0
    erased: dict[str, int] = field(default_factory=dict)
    """By statement: how many of its private fields are said to be erased."""
    unknown: list[int] = field(default_factory=list)
    """Entries that say what this program does not know, or rest on such a thing: not checked."""
    speakers: dict[str, str] = field(default_factory=dict)
    """By key: the organization in whose name it spoke."""
    _chains: dict[str, _Chain] = field(default_factory=dict)
    _heads: dict[tuple[int, str], bool] = field(default_factory=dict)
    _devices: dict[str, _Device] = field(default_factory=dict)
    _authorship: Authorship = field(default_factory=Authorship)
    _tree: dict[tuple[int, int], bytes] = field(default_factory=dict)
    _leaves: list[bytes] = field(default_factory=list)

    def read(self, text: str, disclosures: Sequence[str] = ()) -> Iterator[str]:
        """Take the next entry of the log; everything that does not hold about it. Iterate to the end."""
        self._leaves.append(entries.leaf_hash(text.encode("utf-8", "surrogateescape")))
        self.size += 1
        if len(self._leaves) == merkle.TILE_WIDTH:
            self._grow()
        try:
            yield from self._entry(entries.read(text), entries.link(text), disclosures)
        except BaileeError as error:
            yield error.sentence

    def root(self, size: int) -> bytes:
        """Root of the first `size` entries. Raises `Malformed` when fewer were read."""
        self._grow()
        return merkle.root(_Rows(self._tree), size)

    def tiles(self) -> Iterator[tuple[int, int, bytes]]:
        """Level, index and hashes of every row of the tree as far as it was read."""
        self._grow()
        for (level, index), hashes in sorted(self._tree.items()):
            yield level, index, hashes

    def _grow(self) -> None:
        start = self.size - len(self._leaves)
        for row in merkle.grow(_Rows(self._tree), start, self._leaves):
            self._tree[row.level, row.index] = row.hashes
        self._leaves = []

    def _entry(self, entry: entries.Entry, leaf: str, disclosures: Sequence[str]) -> Iterator[str]:
        yield from self._link(entry, leaf)
        statement = signed_statement.read(entry.stmt)
        claims = statement.claims
        yield from self._seen(statement, entry.chain, leaf)
        if (claims.sub, claims.aud) != (entry.chain, self.origin):
            yield f"An entry about {claims.sub} for {claims.aud} is in {entry.chain} of {self.origin}."
        try:
            signed_statement.open_with(statement, self._authorship.public_of(statement), disclosures)
            self.speakers[statement.kid] = claims.iss
            if wrong := self._counted(statement):
                yield f"The device {statement.kid} {wrong}."
            found = recording.recorded(entry, leaf, statement, {})
            self._authorship.admit(found, claims.aud)
        except BaileeError as error:
            if not self._authorship.is_unknown(statement, error):
                raise
            self.unknown.append(self.size - 1)
        else:
            if isinstance(found.body, Erased):
                self.erased[found.body.statement] = (
                    self.erased.get(found.body.statement, 0) + found.body.count
                )

    def not_checked(self) -> str:
        """What this program does not know, as a sentence; empty when it knows everything."""
        if not self.unknown:
            return ""
        which = (
            f"Entry {self.unknown[0]} has"
            if len(self.unknown) == 1
            else (f"{len(self.unknown):,} entries, the first of them {self.unknown[0]}, have")
        )
        return (
            f"{which} what this program does not know: edition {EDITION} of the rule book is its newest."
            " These were not checked. No fault follows from that: check again with the newest Bailee."
        )

    def _counted(self, statement: Unverified) -> str | None:
        device = self._devices.setdefault(statement.kid, _Device())
        return device.hear(
            statement.claims.seq, signed_statement.digest(statement.text), statement.claims.prev
        )

    def _link(self, entry: entries.Entry, leaf: str) -> Iterator[str]:
        chain = self._chains.setdefault(entry.chain, _Chain())
        if (entry.n, entry.prev) != (chain.n + 1, chain.head):
            yield (
                f"{entry.chain} does not go on from its entry {chain.n}: an entry is missing, doubled or"
                " altered."
            )
        if entry.rec < chain.rec:  # one fixed form, so text order is time order
            yield f"Its recording time is {entry.rec}, before that of the entry it follows ({chain.rec})."
        chain.n, chain.head, chain.rec = entry.n, leaf, entry.rec
        chain.leaves += unb64u(leaf)

    def _seen(self, statement: Unverified, chain: str, leaf: str) -> Iterator[str]:
        """What the device had seen: an earlier entry of this chain, an earlier state of the log."""
        after, seen = statement.claims.after, statement.claims.seen
        if after is not None and (after == leaf or self._chains[chain].leaves.rfind(unb64u(after)) < 0):
            yield (
                f"The device {statement.kid} had seen an entry of {chain} that is not here: an entry is"
                " missing here, or copies differ."
            )
        if seen:
            key = (seen.size, seen.root)
            if key not in self._heads:
                self._heads[key] = seen.size < self.size and b64u(self.root(seen.size)) == seen.root
            if not self._heads[key]:
                yield (
                    f"The device {statement.kid} had seen the log with {seen.size} entries in a state that it"
                    " never had."
                )


@frozen
class _Rows:
    tree: dict[tuple[int, int], bytes]

    def read(self, level: int, index: int) -> bytes:
        """All hashes of that row so far, as `ledger.merkle` reads them."""
        return self.tree.get((level, index), b"")


def leaf_of(text: str) -> str:
    """Leaf hash of an entry's text in base64url, whatever the text."""
    return b64u(entries.leaf_hash(text.encode("utf-8", "surrogateescape")))
