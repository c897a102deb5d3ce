"""Compact JWS (RFC 7515 7.1), the strict part of it: one spelling, one algorithm, one header.

Statements, access tokens and key proofs are all read by these steps, in this order:

1. the text is canonical: three base64url parts that re-encode to themselves, the last one a 64-byte
   signature;
2. the header is exactly `{"alg":"Ed25519","kid":…,"typ":…}` (RFC 9864): keys come from the log, never from
   the text;
3. the claims are one object of strict JSON (no duplicate members, no floats);
4. the signature holds over the exact characters `header.claims`, with R not the identity.

`read` does 1 to 3 and believes nothing; `verify` does 4. Each use has its own `typ`, so that none can stand
in for another (RFC 8725 3.11).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Final

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.ledger.base64url import b64u, unb64u
from bailee.signing import keys, strict_json

HEADER_LIMIT: Final = 256
"""Characters of a header; ours have about 150. Read headers are remembered, so they must not be large."""

_KID: Final = re.compile(r"[A-Za-z0-9_-]{43}", re.ASCII)
_SIGNATURE_CHARACTERS: Final = 86


@frozen
class Compact:
    """Read, not believed: the exact text, the key it names and the claims it makes."""

    text: str
    kid: str
    claims: dict[str, Any]


def write(key: keys.SigningKey, typ: str, claims: Mapping[str, Any]) -> str:
    """Sign `claims`. Raises `Malformed` (`not-canonical`) for a value that strict JSON cannot hold."""
    header = b64u(strict_json.dumps({"alg": "Ed25519", "kid": key.kid, "typ": typ}))
    signing_input = f"{header}.{b64u(strict_json.dumps(dict(claims)))}"
    return f"{signing_input}.{b64u(key.sign(signing_input.encode('ascii')))}"


def read(text: str, typ: str, limit: int, code: str) -> Compact:
    """Steps 1 to 3.

    Raises `Malformed`: `too-large` above `limit` characters, `not-canonical`, or `code` for a wrong header.
    """
    if len(text) > limit:
        raise Malformed(
            f"This signed text has {len(text)} characters and {limit} is the most: split it in two.",
            code="too-large",
            limit=limit,
        )
    parts = text.split(".")
    if len(parts) != 3 or len(parts[2]) != _SIGNATURE_CHARACTERS:
        raise Malformed(
            "This is not a compact JWS with an Ed25519 signature: send the text exactly as it was issued.",
            code="not-canonical",
        )
    header, payload, signature = parts
    unb64u(signature)
    kid = _kid(header, typ, code)
    claims = strict_json.loads(unb64u(payload))
    if not isinstance(claims, dict):
        raise Malformed("The claims must be a JSON object.", code=code)
    return Compact(text, kid, claims)


def verify(text: str, public: bytes) -> None:
    """Step 4, for a text that `read` has accepted. Raises `Forged` (`bad-signature`)."""
    signing_input, _, signature = text.rpartition(".")
    keys.verify(public, unb64u(signature), signing_input.encode("ascii"))


@lru_cache(maxsize=4096)
def _kid(header: str, typ: str, code: str) -> str:
    """The key a header names. One device writes one header, so it is parsed once."""
    if len(header) > HEADER_LIMIT:
        raise Malformed("The header must hold alg, kid and typ and nothing else.", code=code)
    members = strict_json.loads(unb64u(header))
    if not (isinstance(members, dict) and members.keys() == {"alg", "kid", "typ"}):
        raise Malformed("The header must hold alg, kid and typ and nothing else.", code=code)
    kid = members["kid"]
    if (
        members["alg"] != "Ed25519"
        or members["typ"] != typ
        or not (isinstance(kid, str) and _KID.fullmatch(kid))
    ):
        raise Malformed(f"The header must have alg Ed25519, typ {typ} and a key ID.", code=code)
    return kid
