"""Who is asking, over HTTP: a bearer token, or the cookie a page got for one."""

from __future__ import annotations

from typing import Final

from flask import current_app, g, request, session

from bailee.api.limits import limits
from bailee.errors import Forged
from bailee.operations import access
from bailee.operations.access import Asker
from bailee.operations.ledger import Ledger

SESSION_S: Final = 12 * 3600
"""A working day; the key that opened it may be revoked sooner, which ends it at once."""


def ledger() -> Ledger:
    """The running ledger."""
    found = current_app.extensions["ledger"]
    assert isinstance(found, Ledger)
    return found


def asker() -> Asker:
    """The asker of this request. Raises `Forged` (`no-token`) when nobody says who they are."""
    if "asker" not in g:
        g.asker = _recognise()
        limits().admit_key(g.asker.kid)
    found = g.asker
    assert isinstance(found, Asker)
    return found


def enter(token: str) -> Asker:
    """Exchange a token for a cookie."""
    with ledger().database.reading() as connection:
        found = access.recognise(ledger(), connection, token)
    session.clear()
    session.update(org=found.org, kid=found.kid, until=ledger().now().epoch_seconds + SESSION_S)
    return found


def _recognise() -> Asker:
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    with ledger().database.reading() as connection:
        if scheme.lower() == "bearer" and token:
            return access.recognise(ledger(), connection, token.strip())
        if session.get("until", 0) > ledger().now().epoch_seconds:
            return access.standing(ledger(), connection, session["org"], session["kid"])
    raise Forged(
        "Say who you are: send an access token signed by your device key, or enter through `bailee pages`.",
        code="no-token",
    )
