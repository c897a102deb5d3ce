"""Proof of possession: a new key signs that it is the one to be enrolled here.

A compact JWS with its own `typ` over `{"aud": log origin, "iat": seconds, "iss": organization}`, made on the
new device and carried inside the enrollment. Without it an administrator could enroll, by mistake or on
purpose, a key that belongs to somebody else. It says nothing about who holds the device; that is the identity
check's answer.
"""

from __future__ import annotations

from typing import Final

from bailee.errors import BaileeError, Forged
from bailee.signing import compact, keys

TYP: Final = "custody-key-proof+jwt"
LIMIT: Final = 1024


def issue(key: keys.SigningKey, iss: str, audience: str, now: int) -> str:
    """The proof of `key` for organization `iss` in the log `audience`, made at `now` (s)."""
    return compact.write(key, TYP, {"aud": audience, "iat": now, "iss": iss})


def check(text: str, kid: str, public: bytes, iss: str, audience: str) -> int:
    """When it was made, in whole seconds by the clock of the new device.

    Raises `Forged` (`bad-key-proof`, `weak-key`) unless the key `public`, whose name is `kid`, signed for
    this organization and log. In an enrollment the time does not matter: that has its own.
    """
    try:
        proof = compact.read(text, TYP, LIMIT, "bad-key-proof")
        compact.verify(text, public)
    except BaileeError as error:
        if error.code == "weak-key":
            raise
        raise _refused(error.sentence) from error
    iat = proof.claims.get("iat")
    if proof.kid != kid or keys.kid_of(public) != kid:
        raise _refused("It names another key.")
    if proof.claims.keys() != {"aud", "iat", "iss"} or type(iat) is not int or iat < 0:
        raise _refused("It must hold aud, iat and iss and nothing else.")
    if proof.claims["iss"] != iss or proof.claims["aud"] != audience:
        raise _refused("It was made for another organization or another ledger.")
    return iat


def _refused(why: str) -> Forged:
    return Forged(
        f"The new device has not shown that it holds this key: make the proof again on that device. {why}",
        code="bad-key-proof",
    )
