"""What refused statements prove, kept beside the log.

One that contradicts what its device signed before or after proves that its key is in two places. An act of
administration that shows by itself why it was refused (`signing.refused`) explains the number that it has
used up, and proves the same where its key signed another text under that number: whichever came first.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

from sqlalchemy.engine import Connection

from bailee.errors import BaileeError
from bailee.operations.snapshots import Books
from bailee.signing import refused as refused_statement
from bailee.signing.signed_statement import SignedStatement, Unverified
from bailee.store import conflict_table, log, refused_table

_SHOWN_BY_ITSELF: Final = frozenset({"wrong-role", "wrong-form", "key-taken"})
"""Refusals whose reason may be read off the refused text (`signing.refused`)."""


def after_refusal(
    connection: Connection,
    books: Books,
    signed: SignedStatement,
    refused: BaileeError,
    why: BaileeError,
    now: datetime,
) -> None:
    """Keep what it proves. `why`: the reason that would have stood if its number had been free."""
    forked = refused.code == "device-fork"
    if why.code in _SHOWN_BY_ITSELF:
        if not _shows_why(connection, books, signed):
            return
        if not forked:
            log.hold_signer(connection, signed)
            refused_table.keep(connection, signed, now)
            forked = _contradicts(connection, signed)
    elif why.code not in ("device-fork", "revoked-key"):
        return
    if forked or why.code == "revoked-key":
        _keep(connection, books, signed, now)


def after_recording(connection: Connection, books: Books, signed: SignedStatement, now: datetime) -> None:
    """Keep what was refused before this was recorded, and cannot stand beside it."""
    for slip in refused_table.near(connection, signed.kid, signed.claims.seq):
        if log.contradicts(log.device(connection, slip), slip):
            _keep(connection, books, slip, now)


def _shows_why(connection: Connection, books: Books, signed: SignedStatement) -> bool:
    try:
        refused_statement.read(
            signed.text, signed.claims.aud, books.organization(connection, signed.claims.iss)
        )
    except BaileeError:
        return False
    return True


def _contradicts(connection: Connection, signed: SignedStatement) -> bool:
    """Whether its key signed something in its place that is here: recorded, or refused as this was."""
    if log.contradicts(log.device(connection, signed), signed):
        return True
    own = signed.claims.seq, log.signing_input(signed.text)
    slips = refused_table.near(connection, signed.kid, signed.claims.seq)
    return any(each.claims.seq == own[0] and log.signing_input(each.text) != own[1] for each in slips)


def _keep(connection: Connection, books: Books, said: SignedStatement | Unverified, now: datetime) -> None:
    organization = books.organization(connection, said.claims.iss)
    key = organization.keys.get(said.kid) if organization else None
    if key is not None:
        conflict_table.keep(connection, said, now, late=key.revocation is not None)
