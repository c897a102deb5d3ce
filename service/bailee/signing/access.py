"""Access tokens: the device key, signing for five minutes that it is asking.

A short-lived JWT (RFC 7519) with its own `typ`, so that it can never be mistaken for a statement. It proves who asks;
what they may see is decided where the question is answered.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from bailee.errors import Forged, Malformed
from bailee.ledger.base64url import b64u, unb64u
from bailee.signing import keys, strict_json

TYP: Final = "custody-access+jwt"
LIFETIME_S: Final = 300
CLOCK_LEEWAY_S: Final = 120
"""Phones drift; a token from a clock two minutes fast still works."""

_SHAPE: Final = re.compile(r"[A-Za-z0-9_-]{1,200}\.[A-Za-z0-9_-]{1,400}\.[A-Za-z0-9_-]{86}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Token:
    """Who asks, before the signature is checked with `verify`."""

    text: str
    kid: str
    iss: str
    aud: str
    iat: int
    exp: int

    def verify(self, public: bytes, audience: str, now: int) -> None:
        """Raise `Forged` unless signed by `public`, for `audience`, and `now` (s) lies in its few minutes."""
        signing_input, _, signature = self.text.rpartition(".")
        keys.verify(public, unb64u(signature), signing_input.encode("ascii"))
        if self.aud != audience:
            raise Forged("This access token is for another ledger.", code="wrong-audience")
        if not self.iat - CLOCK_LEEWAY_S <= now < min(self.exp, self.iat + LIFETIME_S) + CLOCK_LEEWAY_S:
            raise Forged(
                "This access token has run out: check the clock of this device and try again.",
                code="token-expired",
                now=now,
            )


def issue(key: keys.SigningKey, iss: str, audience: str, now: int) -> str:
    """A token valid for `LIFETIME_S` seconds from `now`."""
    header = b64u(strict_json.dumps({"alg": "Ed25519", "kid": key.kid, "typ": TYP}))
    claims = {"aud": audience, "exp": now + LIFETIME_S, "iat": now, "iss": iss}
    signing_input = f"{header}.{b64u(strict_json.dumps(claims))}"
    return f"{signing_input}.{b64u(key.sign(signing_input.encode('ascii')))}"


def read(text: str) -> Token:
    """Parse a token. Raises `Malformed` (`bad-token`)."""
    if not _SHAPE.fullmatch(text):
        raise Malformed("The access token cannot be read.", code="bad-token")
    header_text, payload, _ = text.split(".")
    header, claims = strict_json.loads(unb64u(header_text)), strict_json.loads(unb64u(payload))
    if not (isinstance(header, dict) and isinstance(claims, dict)):
        raise Malformed("The access token cannot be read.", code="bad-token")
    kid, iss, aud, iat, exp = (
        header.get("kid"),
        claims.get("iss"),
        claims.get("aud"),
        claims.get("iat"),
        claims.get("exp"),
    )
    right_header = (
        set(header) == {"alg", "kid", "typ"} and header["alg"] == "Ed25519" and header["typ"] == TYP
    )
    if not (
        right_header
        and isinstance(kid, str)
        and isinstance(iss, str)
        and isinstance(aud, str)
        and isinstance(iat, int)
        and isinstance(exp, int)
    ):
        raise Malformed("The access token cannot be read.", code="bad-token")
    return Token(text, kid, iss, aud, iat, exp)
