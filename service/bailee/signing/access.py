"""Access tokens: the device key, signing for five minutes that it is asking.

A token for the pages is of another kind (`PAGES`): it opens one session that reads, once, and nothing else
takes it, because the link that carries it stays in a browser's memory.

A short-lived JWT (RFC 7519) with its own `typ`, so that it can never be mistaken for a statement. It proves
who asks; what they may see is decided where the question is answered.
"""

from __future__ import annotations

import secrets
from typing import Final

from bailee.domain.moments import clock_words
from bailee.errors import Forged, Malformed
from bailee.frozen import frozen
from bailee.signing import compact, keys

TYP: Final = "custody-access+jwt"
PAGES: Final = "custody-pages+jwt"
LIFETIME_S: Final = 300
CLOCK_LEEWAY_S: Final = 120
"""Phones drift; a token from a clock two minutes fast still works."""
LIMIT: Final = 700
"""Characters of a token; the longest names of organization and log give about 650."""


@frozen
class AccessToken:
    """Who asks, before the signature is checked with `verify`."""

    text: str
    kid: str
    iss: str
    aud: str
    iat: int
    exp: int

    def verify(self, public: bytes, audience: str, now: int) -> None:
        """Raise `Forged` unless signed by `public`, for `audience`, and `now` (s) lies in its few minutes.

        The token counts from `CLOCK_LEEWAY_S` before its `iat` until, but not at, `CLOCK_LEEWAY_S` after its
        end.
        """
        keys.require_name(public, self.kid)
        compact.verify(self.text, public)
        if self.aud != audience:
            raise Forged("This access token is for another ledger.", code="wrong-audience")
        if not self.iat - CLOCK_LEEWAY_S <= now < min(self.exp, self.iat + LIFETIME_S) + CLOCK_LEEWAY_S:
            raise Forged(
                f"The clock of this device was {clock_words(now - self.iat)} when it asked this, or that was"
                " long ago. Set the clock by the network and ask again; make a new link for one that lay"
                " about.",
                code="token-expired",
                now=now,
            )


def issue(key: keys.SigningKey, iss: str, audience: str, now: int) -> str:
    """A token valid for `LIFETIME_S` seconds from `now`."""
    return compact.write(key, TYP, _claims(iss, audience, now))


def issue_for_pages(key: keys.SigningKey, iss: str, audience: str, now: int) -> str:
    """A token that opens the pages once, within `LIFETIME_S` seconds from `now`.

    No two are alike (`jti`, RFC 7519 4.1.7).
    """
    return compact.write(key, PAGES, {**_claims(iss, audience, now), "jti": secrets.token_urlsafe(9)})


def _claims(iss: str, audience: str, now: int) -> dict[str, str | int]:
    return {"aud": audience, "exp": now + LIFETIME_S, "iat": now, "iss": iss}


def read(text: str, typ: str = TYP) -> AccessToken:
    """Parse a token of this kind. Raises `Malformed` (`bad-token`)."""
    try:
        token = compact.read(text, typ, LIMIT, "bad-token")
    except Malformed as error:
        raise _unreadable() from error
    iss, aud, iat, exp = (token.claims.get(name) for name in ("iss", "aud", "iat", "exp"))
    if not (isinstance(iss, str) and isinstance(aud, str) and type(iat) is int and type(exp) is int):
        raise _unreadable()
    return AccessToken(text, token.kid, iss, aud, iat, exp)


def _unreadable() -> Malformed:
    return Malformed("The access token cannot be read: make a new one.", code="bad-token")
