"""A signed statement: what one person said, in bytes that never change.

The text is a compact JWS over JWT claims (RFC 7519). Steps, in this order and by every verifier:

1. to 3. canonical text, exact header, strict JSON, as `compact` says;
4. the claims have their names and types;
5. the signature holds, by the key whose thumbprint the header names;
6. the disclosures beside it are the ones it was signed with.

`read` does 1 to 4 and gives an `Unverified`, which can only be asked who it claims to be from; `open_with`
does 5 and 6 and is the only maker of a `SignedStatement`. Whether that person may do the act is not decided
here.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import Any, Final

from bailee.domain.moments import parse_offset
from bailee.errors import BadMoment, Malformed
from bailee.frozen import field, frozen
from bailee.ledger.base64url import b64u
from bailee.signing import compact, disclosures, keys

TYP: Final = "custody-statement+sd-jwt"
LIMIT: Final = 16 * 1024
"""Bytes of one statement: with its entry it must fit the 65,535 bytes of a C2SP entry tile."""
YEAR_2200: Final = 7_258_118_400
"""Claimed times end before it (s since 1970), so that no later reckoning with them can leave the calendar."""

_DIGEST: Final = re.compile(r"[A-Za-z0-9_-]{43}", re.ASCII)
_ORGANIZATION: Final = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,30}[a-z0-9])?", re.ASCII)
_MOST_SKEW: Final = 10**10
"""Seconds, some three hundred years: a device that has lost its battery shows 1970 or 2000."""
_ACT: Final = re.compile(r"[a-z][a-z_]{2,31}", re.ASCII)


@frozen
class Seen:
    """The newest checkpoint the device had verified when it signed."""

    size: int
    root: str


@frozen
class Claims:
    """What is signed.

    `data` are the public facts of the act; `private` the digests of its personal fields. `skew`: by how many
    seconds the ledger's clock was ahead of the device's, as measured at the last answer; 0 when by too few to
    tell, or not known.
    """

    iss: str
    aud: str
    sub: str
    act: str
    iat: int
    tzo: str
    seq: int
    prev: str | None
    after: str | None
    data: Mapping[str, Any]
    refs: tuple[str, ...] = ()
    seen: Seen | None = None
    private: tuple[str, ...] = ()
    skew: int = 0

    def to_json(self) -> dict[str, Any]:
        """The JWT claims set (RFC 7519), absent members left out."""
        claims: dict[str, Any] = {
            "iss": self.iss,
            "aud": self.aud,
            "sub": self.sub,
            "act": self.act,
            "iat": self.iat,
            "tzo": self.tzo,
            "seq": self.seq,
            "prev": self.prev,
            "after": self.after,
            "data": dict(self.data),
        }
        if self.refs:
            claims["refs"] = list(self.refs)
        if self.skew:
            claims["skew"] = self.skew
        if self.seen:
            claims["seen"] = {"root": self.seen.root, "size": self.seen.size}
        if self.private:
            claims |= {"_sd": sorted(self.private), "_sd_alg": "sha-256"}
        return claims


@frozen
class Unverified:
    """Read but not yet believed: it may be asked which key it names and what it claims, nothing more."""

    text: str
    kid: str
    claims: Claims


@frozen
class SignedStatement:
    """A statement whose signature and disclosures hold. Made only by `open_with`."""

    text: str
    kid: str
    claims: Claims
    disclosed: Mapping[str, str]
    _made_by_open: object = field(repr=False, compare=False)

    def __post_init__(self) -> None:
        if self._made_by_open is not _OPENED:
            raise TypeError("a SignedStatement comes from open_with, which checks it")

    @property
    def digest(self) -> str:
        """Its id: base64url SHA-256 of its characters."""
        return digest(self.text)

    @property
    def signing_input(self) -> str:
        """`header.claims`: what makes two statements the same one, whatever their signatures."""
        return self.text.rsplit(".", 1)[0]


_OPENED: Final = object()


def digest(text: str) -> str:
    """Id of a statement: base64url SHA-256 of the ASCII compact JWS."""
    return b64u(hashlib.sha256(text.encode("ascii")).digest())


def sign(key: keys.SigningKey, claims: Claims) -> str:
    """The signed text. Raises `Malformed`, as `read` does, when it would not be accepted anywhere."""
    text = compact.write(key, TYP, claims.to_json())
    # Checked before it leaves: a refused statement has already used up its place in the device's count.
    read(text)
    return text


def read(text: str) -> Unverified:
    """Steps 1 to 4. Raises `Malformed` with code `too-large`, `not-canonical` or `bad-statement`."""
    found = compact.read(text, TYP, LIMIT, "bad-statement")
    return Unverified(text, found.kid, _claims(found.claims))


def open_with(unverified: Unverified, public: bytes, disclosed: Sequence[str] = ()) -> SignedStatement:
    """Steps 5 and 6, with the raw public key the log knows under that `kid`. Raises `Forged`, `Malformed`."""
    keys.require_name(public, unverified.kid)
    compact.verify(unverified.text, public)
    claims = unverified.claims
    fields = disclosures.reveal(disclosed, claims.private, public_names(claims)) if disclosed else {}
    return SignedStatement(unverified.text, unverified.kid, claims, fields, _OPENED)


def public_names(claims: Claims) -> set[str]:
    """The names a private field may not take: those signed in the open, in the claims or in `data`."""
    return _CLAIM_RULES.keys() | claims.data.keys()


def _claims(members: Mapping[str, Any]) -> Claims:
    faults = [name for name, holds in _CLAIM_RULES.items() if not holds(members.get(name, _MISSING))]
    if faults:
        raise Malformed(
            f"These claims are missing or malformed: {', '.join(faults)}.",
            code="bad-statement",
            claims=faults,
        )
    seen = members.get("seen")
    return Claims(
        iss=members["iss"],
        aud=members["aud"],
        sub=members["sub"],
        act=members["act"],
        iat=members["iat"],
        tzo=members["tzo"],
        seq=members["seq"],
        prev=members["prev"],
        after=members["after"],
        data=members["data"],
        refs=tuple(members.get("refs", ())),
        seen=Seen(seen["size"], seen["root"]) if seen else None,
        private=tuple(members.get("_sd", ())),
        skew=members.get("skew", 0),
    )


_MISSING: Final = object()


def _matches(pattern: re.Pattern[str], value: object) -> bool:
    return isinstance(value, str) and pattern.fullmatch(value) is not None


def _is_count(value: object, least: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= least


@lru_cache(maxsize=256)
def _is_offset(value: object) -> bool:
    try:
        return isinstance(value, str) and parse_offset(value) is not None
    except BadMoment:
        return False


def _are_digests(value: object) -> bool:
    return isinstance(value, list) and all(_matches(_DIGEST, item) for item in value)


def _is_text(value: object) -> bool:
    return isinstance(value, str) and 0 < len(value) <= 128 and value.isascii() and value.isprintable()


_CLAIM_RULES: Final[dict[str, Callable[[Any], bool]]] = {
    "iss": lambda v: _matches(_ORGANIZATION, v),
    "aud": _is_text,
    "sub": _is_text,
    "act": lambda v: _matches(_ACT, v),
    "iat": lambda v: _is_count(v, 0) and v < YEAR_2200,
    "tzo": lambda v: isinstance(v, str) and _is_offset(v),
    "seq": lambda v: _is_count(v, 1),
    "prev": lambda v: v is None or _matches(_DIGEST, v),
    "after": lambda v: v is None or _matches(_DIGEST, v),
    "data": lambda v: isinstance(v, dict),
    "refs": lambda v: v is _MISSING or _are_digests(v),
    "seen": lambda v: (
        v is _MISSING
        or v is None
        or (isinstance(v, dict) and _is_count(v.get("size"), 0) and _matches(_DIGEST, v.get("root")))
    ),
    "skew": lambda v: v is _MISSING or (_is_count(v, -_MOST_SKEW) and 0 != v <= _MOST_SKEW),
    "_sd": lambda v: v is _MISSING or (_are_digests(v) and v == sorted(set(v))),
    "_sd_alg": lambda v: v is _MISSING or v == "sha-256",
}
