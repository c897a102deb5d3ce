"""Bringing back what is kept beside the log and is no part of it: contradictions of devices, and time stamps.

An old copy of the database lacks them, and no tile has them. Auditors' files carry them; nobody is believed for that: a contradiction must
be signed twice by a key of this log, one of the two texts being an entry here; a stamp must be over a checkpoint of this log and not be
altered. Whose stamp it is only auditors decide.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy.engine import Connection

from bailee.errors import BaileeError
from bailee.frozen import frozen
from bailee.ledger.checkpoint import Checkpoint
from bailee.operations.books import Books
from bailee.signing import signed_statement, timestamp
from bailee.store import conflicts, mentions, private, tokens, tree
from bailee.store.database import Database
from bailee.verify import authority, bundle
from bailee.verify.bundle import Token
from bailee.verify.conflicts import contradict, opened


@frozen
class Returned:
    """How many contradictions and stamps are here again, and how many that were shown do not hold."""

    conflicts: int
    tokens: int
    refused: int


def put_back(database: Database, origin: str, texts: Iterable[bytes], now: datetime) -> Returned:
    """Take out of these bundles what is not here. Raises `Malformed` for what is no bundle."""
    read = [bundle.read(text) for text in texts]
    pairs = dict.fromkeys(pair for each in read for pair in each.conflicts)
    stamps = dict.fromkeys(token for each in read for token in each.tokens)

    def put(connection: Connection) -> Returned:
        books = Books()
        kept = [_conflict(connection, books, origin, pair, now) for pair in pairs]
        taken = [_token(connection, origin, token) for token in stamps]
        return Returned(kept.count(True), taken.count(True), kept.count(None) + taken.count(None))

    return database.write(put)


def _conflict(
    connection: Connection, books: Books, origin: str, pair: tuple[str, str], now: datetime
) -> bool | None:
    """Whether it was put back; None when it is no contradiction of what is recorded here."""
    try:
        said = [signed_statement.read(text).claims.iss for text in pair]
        orgs = {org: found for org in said if (found := books.organisation(connection, org))}
        logged, refused = (opened(text, origin, orgs) for text in pair)
    except BaileeError:
        return None
    recorded = private.find(connection, logged.digest) is not None
    if not recorded or private.find(connection, refused.digest) or not contradict(logged, refused):
        return None
    key = orgs[refused.claims.iss].keys[refused.kid]
    if refused.claims.iss not in mentions.parties(connection, refused.claims.sub):
        return None
    # A file does not say when it was brought: of a key that has ended since, nobody is accused by it any more.
    return conflicts.keep(connection, refused, now, late=key.revocation is not None)


def _token(connection: Connection, origin: str, token: Token) -> bool | None:
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
