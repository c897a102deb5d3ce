"""Who is asking, over HTTP: a bearer token, or the cookie a page got for one."""

from __future__ import annotations

from typing import Final

from flask import current_app, g, request, session

from bailee.api.rate_limits import limits
from bailee.domain.organizations import Key, Organization
from bailee.errors import Forged
from bailee.operations import visibility
from bailee.operations.ledger import Ledger
from bailee.operations.visibility import Asker

_READING: Final = frozenset({"GET", "HEAD"})
"""All that a cookie is good for."""


def ledger() -> Ledger:
    """The running ledger."""
    found = current_app.extensions["ledger"]
    assert isinstance(found, Ledger)
    return found


def asker() -> Asker:
    """The asker of this request. Raises `Forged` (`no-token`) when nobody says who they are."""
    if "asker" not in g:
        g.asker = _recognize()
        limits().admit_key(g.asker.kid, g.asker.org)
    found = g.asker
    assert isinstance(found, Asker)
    return found


def holder() -> tuple[Organization, Key]:
    """Whose key the bearer token of this request shows, though it may have ended: what a device asks about
    itself. A cookie shows no key.
    """
    if not (token := _bearer()):
        raise _nobody()
    with ledger().database.reading() as connection:
        organization, key = visibility.holder(ledger(), connection, token)
    limits().admit_key(key.kid, organization.id)
    return organization, key


def enter(token: str) -> Asker:
    """Exchange a token for a cookie, once."""
    name, found = visibility.enter(ledger(), token)
    session.clear()
    session["name"] = name
    return found


def leave() -> None:
    """End the session, not the cookie alone: who has a copy of it has nothing."""
    if name := session.get("name"):
        visibility.leave(ledger(), name)
    session.clear()


def _recognize() -> Asker:
    token = _bearer()
    with ledger().database.reading() as connection:
        if token:
            return visibility.recognize(ledger(), connection, token)
        if (name := session.get("name")) and request.method in _READING:
            found = visibility.entered(ledger(), connection, name)
            if found:
                return found
    raise _nobody()


def _bearer() -> str:
    """The token of this request; empty where there is none."""
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    return token.strip() if scheme.lower() == "bearer" else ""


def _nobody() -> Forged:
    return Forged(
        "Sign in first: send an access token signed by your device key, or use `bailee pages`, which reads"
        " only.",
        code="no-token",
    )
