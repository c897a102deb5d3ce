"""Who is asking: a device key, shown by a token it signed a moment ago."""

from __future__ import annotations

from sqlalchemy.engine import Connection

from bailee.domain.fields import Role
from bailee.errors import Forged
from bailee.frozen import frozen
from bailee.ledger.base64url import unb64u
from bailee.operations.ledger import Ledger
from bailee.signing import access


@frozen
class Asker:
    """An enrolled key that stands, and the organisation whose forms it may see."""

    org: str
    kid: str
    role: Role


def recognise(ledger: Ledger, connection: Connection, token_text: str) -> Asker:
    """The asker behind a token. Raises `Forged` or `Malformed` with codes that all mean: not let in."""
    token = access.read(token_text)
    organisation = ledger.books.organisation(connection, token.iss)
    key = organisation.keys.get(token.kid) if organisation else None
    if key is None:
        raise _not_enrolled(token.iss, token.kid)
    try:
        token.verify(unb64u(key.x), ledger.settings.origin, ledger.now().epoch_seconds)
    except Forged as error:
        if error.code == "bad-signature":  # who does not hold the key does not learn that it is enrolled
            raise _not_enrolled(token.iss, token.kid) from error
        raise
    return standing(ledger, connection, token.iss, token.kid)


def standing(ledger: Ledger, connection: Connection, org: str, kid: str) -> Asker:
    """The asker for a key that is enrolled and not revoked. Raises `Forged`."""
    organisation = ledger.books.organisation(connection, org)
    key = organisation.keys.get(kid) if organisation else None
    if key is None:
        raise _not_enrolled(org, kid)
    if key.revocation:
        raise Forged(f"The key {kid[:8]}… was revoked: use your new key.", code="revoked-key", kid=kid)
    return Asker(org, kid, key.role)


def _not_enrolled(org: str, kid: str) -> Forged:
    return Forged(
        f"The key {kid[:8]}… is not enrolled with {org}: ask its administrator to enrol it.",
        code="unknown-key",
        kid=kid,
    )
