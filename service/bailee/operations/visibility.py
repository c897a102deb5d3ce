"""Who is asking: a device key, shown by a token it signed a moment ago, or by the session that such a token
opened.

Who may see what: decided here, and told in one sentence for what is not there and for what is not the asker's
to see.

Every look-up goes by what the asker may see, so that both cases take the same steps and get the same answer:
neither words nor time tell that a number exists. Forms are seen by the organizations named on them, lots by
their owner, and the chain of an organization by itself, by those that share a form with it on which it has
itself spoken, and by monitors. To name somebody on a form of one's own opens nothing.
"""

from __future__ import annotations

from hashlib import sha256
from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain.fields import Role
from bailee.domain.organizations import Key, Organization
from bailee.errors import Forged, Unknown
from bailee.frozen import frozen
from bailee.ledger.base64url import b64u, unb64u
from bailee.operations.ledger import Ledger
from bailee.rules.remedies import act
from bailee.signing import access
from bailee.store import number_index, web_sessions
from bailee.store.web_sessions import WebSession

SESSION_S: Final = 12 * 3600
"""A working day; the key that opened it may be revoked sooner, which ends it at once."""


@frozen
class Asker:
    """An enrolled key that stands, and the organization whose forms it may see."""

    org: str
    kid: str
    role: Role


def recognize(ledger: Ledger, connection: Connection, token_text: str, typ: str = access.TYP) -> Asker:
    """The asker behind a token of this kind.

    Raises `Forged` or `Malformed` with codes that all mean: not let in.
    """
    organization, key = holder(ledger, connection, token_text, typ)
    return standing(ledger, connection, organization.id, key.kid)


def holder(
    ledger: Ledger, connection: Connection, token_text: str, typ: str = access.TYP
) -> tuple[Organization, Key]:
    """Whose key a token shows, whether it stands or has ended. Raises as `recognize` does but for that."""
    token = access.read(token_text, typ)
    organization = ledger.books.organization(connection, token.iss)
    key = organization.keys.get(token.kid) if organization else None
    if organization is None or key is None:
        raise _not_enrolled(token.iss, token.kid)
    try:
        token.verify(unb64u(key.x), ledger.settings.origin, ledger.now().epoch_seconds)
    except Forged as error:
        if error.code == "bad-signature":  # who does not hold the key does not learn that it is enrolled
            raise _not_enrolled(token.iss, token.kid) from error
        raise
    return organization, key


def enter(ledger: Ledger, token_text: str) -> tuple[str, Asker]:
    """Open the pages with a token that was never used: the name of the session, and whose it is.

    Raises as `recognize` does.

    Also `Forged` ("token-used").
    """
    now = ledger.now().epoch_seconds
    with ledger.database.reading() as connection:
        found = recognize(ledger, connection, token_text, access.PAGES)
    name = b64u(sha256(token_text.encode()).digest())
    session = WebSession(found.org, found.kid, now + SESSION_S)
    if not ledger.database.write(lambda connection: web_sessions.begin(connection, name, session, now)):
        raise Forged(
            "This link was used already: make a new one.", code="token-used", acts=[act("make_link")]
        )
    return name, found


def entered(ledger: Ledger, connection: Connection, name: str) -> Asker | None:
    """Whose session this is, while it lasts. Raises `Forged` when its key does not stand any more."""
    found = web_sessions.find(connection, name, ledger.now().epoch_seconds)
    return standing(ledger, connection, found.org, found.kid) if found else None


def leave(ledger: Ledger, name: str) -> None:
    """End a session for everybody who has its cookie."""
    ledger.database.write(lambda connection: web_sessions.end(connection, name))


def standing(ledger: Ledger, connection: Connection, org: str, kid: str) -> Asker:
    """The asker for a key that is enrolled and not revoked. Raises `Forged`."""
    organization = ledger.books.organization(connection, org)
    key = organization.keys.get(kid) if organization else None
    if key is None:
        raise _not_enrolled(org, kid)
    if key.revocation:
        raise Forged(f"The key {kid[:8]}… was revoked: use your new key.", code="revoked-key", kid=kid)
    return Asker(org, kid, key.role)


def _not_enrolled(org: str, kid: str) -> Forged:
    return Forged(
        f"The key {kid[:8]}… is not enrolled with {org}: ask its administrator to enroll it.",
        code="unknown-key",
        kid=kid,
    )


def nothing(kind: str, number: str) -> Unknown:
    """The answer about a thing that is not there or not the asker's to see."""
    return Unknown(f"There is no {kind} {number} here that your organization may see.", number=number)


def sees(connection: Connection, chain: str, asker: str) -> bool:
    """Whether the organization `asker` may see the chain; not, when there is none."""
    return number_index.is_visible(connection, chain, asker)


def knows(ledger: Ledger, connection: Connection, asker: Asker, org: str) -> bool:
    """Whether keys, roles, equipment and own thresholds of an organization are the asker's to see."""
    return sees(connection, f"org/{org}", asker.org) or asker.kid in ledger.settings.monitors


def require(connection: Connection, chain: str, asker: str) -> None:
    """Raise `Unknown` unless the organization `asker` may see the chain."""
    if not sees(connection, chain, asker):
        raise nothing(*chain.split("/", 1))
