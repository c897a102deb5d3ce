"""From stored text to meaning: a log entry, its statement, its disclosures, as the domain reads them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from types import MappingProxyType

from bailee.domain import statements
from bailee.domain.facts import Facts
from bailee.domain.fields import EDITION
from bailee.domain.moments import Moment
from bailee.domain.statements import Recorded
from bailee.errors import NOT_KNOWN, BadStatement, BaileeError, Unavailable
from bailee.ledger.entry import Entry
from bailee.signing import disclosures, signed_statement
from bailee.signing.signed_statement import Unverified


def recorded(entry: Entry, leaf: str, statement: Unverified, disclosed: Mapping[str, str]) -> Recorded:
    """The domain's view of an entry. Raises `BadStatement` when the act is not well formed."""
    claims = statement.claims
    return told(entry, leaf, statement, statements.parse(entry.chain, claims.act, claims.data), disclosed)


def told(
    entry: Entry,
    leaf: str,
    statement: Unverified,
    body: Facts,
    disclosed: Mapping[str, str] = MappingProxyType({}),
) -> Recorded:
    """The same when the act has been parsed already."""
    claims = statement.claims
    return Recorded(
        chain=entry.chain,
        n=entry.n,
        leaf=leaf,
        rec=datetime.fromisoformat(entry.rec),
        digest=signed_statement.digest(statement.text),
        kid=statement.kid,
        org=claims.iss,
        act=claims.act,
        at=Moment.of(claims.iat, claims.tzo),
        seq=claims.seq,
        prev=claims.prev,
        after=claims.after,
        data=claims.data,
        body=body,
        refs=claims.refs,
        seen=(claims.seen.size, claims.seen.root) if claims.seen else None,
        private=len(claims.private),
        skew=claims.skew,
        disclosed=disclosed,
    )


def own_entry(entry: Entry, leaf: str, told: Sequence[str]) -> Recorded:
    """The same from the ledger's own database, where signatures were checked on the way in.

    Raises `Unavailable` for what a program of a later edition recorded there.
    """
    statement = signed_statement.read(entry.stmt)
    claims = statement.claims
    fields: dict[str, str] = {}
    try:
        fields = (
            disclosures.reveal(told, claims.private, signed_statement.public_names(claims)) if told else {}
        )
    except BaileeError:  # altered beside the log: withheld here, and named by the operator's check
        fields = {}
    try:
        return recorded(entry, leaf, statement, fields)
    except BadStatement as error:
        if error.code != NOT_KNOWN:
            raise
        raise Unavailable(
            f"Entry {entry.n} of {entry.chain} has something this program does not know: it was recorded by a"
            f" program of a later edition of the rule book than {EDITION}. Start that one again; nothing is"
            " lost.",
            code=NOT_KNOWN,
        ) from error
