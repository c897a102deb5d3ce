"""The operator's two questions of a database: is every entry what it should be, and make its indexes anew.

`check` believes nothing but the entries' own bytes: it hashes, links, verifies and recomputes what the tables claim. Memory stays flat:
entries are streamed; per chain the newest is remembered, per device its counters. `rebuild` runs the same indexing that
registering runs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from sqlalchemy.engine import Connection

from bailee.domain import organisations
from bailee.domain.organisation_acts import Founded
from bailee.domain.organisations import Organisation
from bailee.domain.statements import Recorded
from bailee.errors import BaileeError
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.base64url import b64u, unb64u
from bailee.ledger.checkpoint import VerifierKey
from bailee.signing import notes, recording, signed_statement
from bailee.store import log, mentions, tree
from bailee.store.log import Logged


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something that does not hold: the entry's place in the log (None for the log as a whole), and what is wrong."""

    index: int | None
    says: str


@dataclass(slots=True)
class _Seen:
    """What must be remembered while reading on."""

    chains: dict[str, tuple[int, str | None]] = field(default_factory=dict)
    devices: dict[str, set[int]] = field(default_factory=dict)
    organisations: dict[str, Organisation] = field(default_factory=dict)
    tree: dict[tuple[int, int], bytes] = field(default_factory=dict)
    size: int = 0

    def read(self, level: int, index: int) -> bytes:
        """The tree grown so far, as `merkle` reads it."""
        return self.tree.get((level, index), b"")

    def grow(self, leaves: list[bytes]) -> None:
        """Grow the tree, keeping only rows that may still change."""
        for row in merkle.grow(self, self.size, leaves):
            self.tree[row.level, row.index] = row.hashes
        self.size += len(leaves)


def check(connection: Connection, log_key: VerifierKey) -> Iterator[Trouble]:
    """Everything that does not hold in the log, in order; nothing yielded means that nothing was found."""
    size = tree.size(connection)
    seen = _Seen()
    leaves: list[bytes] = []
    for logged in log.everything(connection, 0, size):
        leaves.append(entries.leaf_hash(logged.text.encode()))
        if len(leaves) == merkle.TILE_WIDTH:
            seen.grow(leaves)
            leaves = []
        yield from (Trouble(logged.index, said) for said in _entry(logged, seen))
    seen.grow(leaves)
    if seen.size != size:
        yield Trouble(None, f"The log should have {size} entries, and {seen.size} are here.")
    yield from (Trouble(None, said) for said in _tree(connection, seen, log_key))


def rebuild(connection: Connection) -> int:
    """Make the index of numbers and parties anew from every entry; how many there were. Waiting entries are included."""
    mentions.clear(connection)
    count = 0
    for chain_id, logged in log.every_chain(connection):
        mentions.index(connection, chain_id, recording.own_entry(entries.read(logged.text), logged.leaf, ()))
        count += 1
    return count


def _entry(logged: Logged, seen: _Seen) -> Iterator[str]:
    try:
        entry = entries.read(logged.text)
        leaf = b64u(entries.leaf_hash(logged.text.encode()))
        if leaf != logged.leaf:
            yield "The stored leaf hash is not that of the entry."
        n, head = seen.chains.get(entry.chain, (0, None))
        if (entry.n, entry.prev) != (n + 1, head):
            yield f"{entry.chain} does not go on from its entry {n}: an entry is missing, doubled or altered."
        seen.chains[entry.chain] = (entry.n, leaf)
        yield from _statement(logged, entry, leaf, seen)
    except BaileeError as error:
        yield error.sentence


def _statement(logged: Logged, entry: entries.Entry, leaf: str, seen: _Seen) -> Iterator[str]:
    unverified = signed_statement.read(entry.stmt)
    claims = unverified.claims
    if claims.sub != entry.chain:
        yield f"A statement about {claims.sub} stands in {entry.chain}."
    found = recording.recorded(entry, leaf, unverified, {})
    organisation = seen.organisations.get(claims.iss)
    public = _public(found, organisation, unverified)
    if public is None:
        yield f"The key {unverified.kid} was not enrolled with {claims.iss} when this was recorded."
    else:
        signed_statement.open_with(unverified, public, logged.disclosures)
    said = seen.devices.setdefault(unverified.kid, set())
    if claims.seq in said:
        yield f"The device {unverified.kid} used its counter {claims.seq} twice."
    said.add(claims.seq)
    if entry.chain.startswith("org/"):
        known = (
            organisations.fold([found]) if organisation is None else organisations.apply(organisation, found)
        )
        seen.organisations[claims.iss] = known


def _public(
    found: Recorded, organisation: Organisation | None, unverified: signed_statement.Unverified
) -> bytes | None:
    if isinstance(found.body, Founded):
        return unb64u(found.body.jwk.x)
    key = organisation.keys.get(unverified.kid) if organisation else None
    return unb64u(key.x) if key else None


def _tree(connection: Connection, seen: _Seen, log_key: VerifierKey) -> Iterator[str]:
    stored = tree.StoredTiles(connection)
    for (level, index), hashes in sorted(seen.tree.items()):
        if stored.read(level, index) != hashes:
            yield f"Tile {level}/{index} is not what the entries hash to."
    note = tree.newest_note(connection)
    if note is None:
        return
    try:
        checkpoint = notes.open_checkpoint(note, [log_key])
    except BaileeError as error:
        yield error.sentence
        return
    if (checkpoint.size, checkpoint.root) != (seen.size, merkle.root(seen, seen.size)):
        yield f"The newest checkpoint ({checkpoint.size} entries) is not that of the entries here ({seen.size})."
