"""Statements of administration that a ledger refused: each has used up a counter of its device, and each
shows by itself why it is no entry.

Nobody's word is asked: the key, the number, the act and the reason are read off the signed text and off the
chain of its organization. What was done to samples is never refused for its role, so no such text explains
anything.
"""

from __future__ import annotations

from bailee.domain import statements
from bailee.domain.acts.organization import Founded, Recovered
from bailee.domain.acts.table import ROWS, name_of
from bailee.domain.organizations import Organization, why_not
from bailee.domain.statements import split_chain
from bailee.errors import BaileeError, Forged
from bailee.signing import key_lookup, signed_statement
from bailee.signing.signed_statement import SignedStatement


def read(text: str, origin: str | None, organization: Organization | None) -> tuple[SignedStatement, str]:
    """A refused statement whose signature holds, for the log `origin`, and why it could not be recorded.

    Raises `Forged` (`no-refusal` where no reason is found), `Malformed`, `BadStatement`.
    """
    statement = signed_statement.read(text)
    claims = statement.claims
    if origin is not None and claims.aud != origin:
        raise Forged(f"It was made for the log {claims.aud}.", code="wrong-audience")
    signed = signed_statement.open_with(statement, key_lookup.public_of(statement, organization))
    if organization is None or organization.id != claims.iss or statement.kid not in organization.keys:
        raise key_lookup.unknown(statement)
    return signed, _reason(signed, organization)


def _reason(signed: SignedStatement, organization: Organization) -> str:
    claims, row = signed.claims, ROWS.get(signed.claims.act)
    kind, number = split_chain(claims.sub)
    if row is None or row.physical or kind not in ("org", "lot") or row.chain != kind:
        raise _none("it is no act of administration")
    if kind == "org" and number != organization.id:
        raise _none("it is about another organization")
    if claims.act == name_of(Recovered):
        raise _none("its key decides about a recovery, and no role")  # it may be enrolled besides
    if claims.act == name_of(Founded):
        if signed.kid != organization.root:
            raise _none("another key founded this organization")
        return f"{organization.id} is founded once, and that stands in the log"
    try:
        body = statements.parse(claims.sub, claims.act, claims.data)
    except BaileeError as error:
        raise _none("its content cannot be read") from error
    why = why_not(organization, organization.keys[signed.kid], claims.act, body)
    if not why:
        raise _none("its role may sign this")
    return why.rstrip(".")


def _none(why: str) -> Forged:
    return Forged(f"This refused entry explains no missing number: {why}.", code="no-refusal")
