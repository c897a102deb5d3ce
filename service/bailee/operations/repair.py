"""Bringing back entries that an old copy of the database lacks, byte for byte.

They come from anywhere: the service's own entry tiles, a monitor's mirror, bundles that somebody holds.
Nobody is believed: all of it is put back in one transaction, and that one is undone unless the tree then has
the very root that the log signed. Private fields are not part of the log: of missing entries only those come
back that a bundle shows.

Bringing back what is kept beside the log and is no part of it: contradictions of devices, and time stamps.

An old copy of the database lacks them, and no tile has them. Auditors' files carry them; nobody is believed
for that: a contradiction must be signed twice by a key of this log, one of the two texts being an entry here;
a stamp must be over a checkpoint of this log and not be altered. Whose stamp it is only auditors decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from sqlalchemy.engine import Connection

from bailee.disk.tile_files import TileFiles
from bailee.errors import BaileeError, Broken, Unavailable
from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.base64url import unb64u
from bailee.ledger.checkpoint import Checkpoint, VerifierKey
from bailee.operations import maintenance
from bailee.operations.snapshots import Books
from bailee.rules.remedies import act
from bailee.signing import disclosures, notes, signed_statement, timestamp
from bailee.store import conflict_table, log, number_index, private, tree
from bailee.store import time_stamps as tokens
from bailee.store.database import Database
from bailee.verify import authority, bundle
from bailee.verify.authorship import Steps, unseen
from bailee.verify.bundle import TimeStampToken
from bailee.verify.conflicts import contradict, opened


@frozen
class Found:
    """An entry from somewhere: its text, and the private fields that were with it."""

    text: str
    disclosures: tuple[str, ...] = ()


@frozen
class Repaired:
    """What was done: entries before and now, and how many private fields of the entries put back are not
    here.
    """

    before: int
    now: int
    fields_missing: int


def size(connection: Connection) -> int:
    """How many entries the database has."""
    return tree.size(connection)


def newest_note(connection: Connection) -> str | None:
    """The newest checkpoint that the database has."""
    return tree.newest_note(connection)


def newest_of(candidates: Iterable[str | None], log_key: VerifierKey) -> tuple[Checkpoint, str] | None:
    """The largest checkpoint that the log signed, and its note; what it did not sign is passed over."""
    found = []
    for note in candidates:
        try:
            found += [(notes.open_checkpoint(note, [log_key]), note)] if note else []
        except BaileeError:
            continue
    return max(found, key=lambda each: each[0].size, default=None)


def from_tiles(folder: Path, first: int, size: int) -> dict[int, Found]:
    """Entries `first` to `size` - 1 out of a folder of entry tiles, as far as they are there."""
    files = TileFiles(folder)
    found: dict[int, Found] = {}
    for index in range(first // merkle.TILE_WIDTH, -(-size // merkle.TILE_WIDTH)):
        begin = index * merkle.TILE_WIDTH
        width = min(size - begin, merkle.TILE_WIDTH)
        for narrower in range(width, 0, -1):  # what lies there may be of an earlier checkpoint
            data = files.read(None, index, narrower)
            if data is not None:
                texts = [text.decode("ascii", "replace") for text in entries.unpack(data)]
                found |= {begin + at: Found(text) for at, text in enumerate(texts) if begin + at >= first}
                break
    return found


def from_bundles(texts: Iterable[bytes]) -> dict[int, Found]:
    """Entries out of bundles, with the private fields they show. Raises `Malformed`."""
    return {
        each.index: Found(each.text, each.disclosures) for text in texts for each in bundle.read(text).entries
    }


def repair(
    database: Database,
    target: Checkpoint,
    note: str,
    sources: Sequence[Mapping[int, Found]],
    steps: Steps = unseen,
) -> Repaired:
    """Bring the database up to `target`, which the log signed.

    What later sources show wins over earlier ones.

    Raises `Unavailable` ("entries-missing") naming what no source has, `Broken` ("conflict", "root") when it
    cannot be the same log: then nothing was changed.
    """
    with database.reading() as connection:
        before = tree.size(connection)
    found: dict[int, Found] = {}
    for source in sources:
        for index, each in source.items():
            known = found.get(index)
            if known is None or known.text != each.text or not known.disclosures:
                found[index] = each
    missing = [index for index in range(before, target.size) if index not in found]
    if missing:
        raise Unavailable(
            f"{_which(missing)} nowhere to be found. Repair first on the other host, if there is one; or name"
            " a monitor's mirror, or bundles. Nothing was changed.",
            code="entries-missing",
            acts=[act("repair_ledger", mirror=None), act("repair_ledger", bundle=None)],
            missing=len(missing),
        )
    texts = [found[index] for index in range(before, target.size)]
    fields = database.write(lambda connection: _put_back(connection, texts, target, note, steps))
    return Repaired(before, max(before, target.size), fields)


def _which(missing: Sequence[int]) -> str:
    if len(missing) == 1:
        return f"Entry {missing[0]} of the log (counted from 0) is"
    return (
        f"{len(missing)} entries of the log (counted from 0), the first {missing[0]}, the last"
        f" {missing[-1]}, are"
    )


def _put_back(
    connection: Connection, found: Sequence[Found], target: Checkpoint, note: str, steps: Steps
) -> int:
    rows, leaves, fields = [], [], 0
    for each in found:
        signed = signed_statement.read(entries.read(each.text).stmt).claims
        told = _that_fit(each.disclosures, signed)
        row, logged = log.put_back(connection, each.text, told)
        rows.append(row)
        leaves.append(unb64u(logged.leaf))
        fields += len(signed.private) - len(logged.disclosures)
        steps(len(rows), len(found))
    tree.place(connection, rows, leaves)
    if tree.root_at(connection, target.size) != target.root:
        raise Broken(
            f"With these entries the log does not have the root that was signed for {target.size} entries:"
            " one of the sources is not of this log, or was altered. Nothing was changed.",
            code="root",
            size=target.size,
        )
    if tree.size(connection) == target.size and tree.note_at(connection, target.size) is None:
        tree.keep_note(connection, target.size, note, 0)
    maintenance.rebuild(connection, steps)
    return fields


def _that_fit(told: tuple[str, ...], signed: signed_statement.Claims) -> tuple[str, ...]:
    try:
        disclosures.reveal(told, signed.private, signed_statement.public_names(signed))
    except BaileeError:
        return ()
    return told


@frozen
class PutBack:
    """How many contradictions and stamps are here again, and how many that were shown do not hold."""

    conflicts: int
    tokens: int
    refused: int


def put_back(database: Database, origin: str, texts: Iterable[bytes], now: datetime) -> PutBack:
    """Take out of these bundles what is not here. Raises `Malformed` for what is no bundle."""
    read = [bundle.read(text) for text in texts]
    pairs = dict.fromkeys(pair for each in read for pair in each.conflicts)
    stamps = dict.fromkeys(token for each in read for token in each.tokens)

    def put(connection: Connection) -> PutBack:
        books = Books()
        kept = [_conflict(connection, books, origin, pair, now) for pair in pairs]
        taken = [_token(connection, origin, token) for token in stamps]
        return PutBack(kept.count(True), taken.count(True), kept.count(None) + taken.count(None))

    return database.write(put)


def _conflict(
    connection: Connection, books: Books, origin: str, pair: tuple[str, str], now: datetime
) -> bool | None:
    """Whether it was put back; None when it is no contradiction of what is recorded here."""
    try:
        said = [signed_statement.read(text).claims.iss for text in pair]
        orgs = {org: found for org in said if (found := books.organization(connection, org))}
        logged, refused = (opened(text, origin, orgs) for text in pair)
    except BaileeError:
        return None
    recorded = private.find(connection, logged.digest) is not None
    if not recorded or private.find(connection, refused.digest) or not contradict(logged, refused):
        return None
    key = orgs[refused.claims.iss].keys[refused.kid]
    if refused.claims.iss not in number_index.parties(connection, refused.claims.sub):
        return None
    # A file does not say when it was brought: of a key that has ended since, nobody is accused by it any
    # more.
    return conflict_table.keep(connection, refused, now, late=key.revocation is not None)


def _token(connection: Connection, origin: str, token: TimeStampToken) -> bool | None:
    """Whether it was put back; None when it is over no checkpoint of this log, or was altered."""
    root = tree.root_at(connection, token.size)
    try:
        stamp = timestamp.read(token.der)
        if root is None or timestamp.imprint_of(Checkpoint(origin, token.size, root).body()) != stamp.imprint:
            return None
        authority.unaltered(stamp)
    except BaileeError:
        return None
    return tokens.keep(connection, token.size, token.der)
