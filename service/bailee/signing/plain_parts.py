"""Statements taken apart, for tools that know nothing of this program: what was signed, the signature, the
key.

    openssl pkeyutl -verify -rawin -pubin -inkey 12.pem -in 12.txt -sigfile 12.sig

Nothing is checked here but the form: that is what the other tool is for.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from bailee.errors import BaileeError
from bailee.ledger import entry as entries
from bailee.ledger.base64url import unb64u
from bailee.signing import keys, signed_statement

# SubjectPublicKeyInfo of Ed25519 (RFC 8410 4) up to the 32 bytes of the key.
_SPKI: Final = bytes.fromhex("302a300506032b6570032100")
_BRING: Final = ("jwk", "recovery_jwk")


def files(told: Iterable[tuple[int, str]]) -> Iterator[tuple[str, bytes]]:
    """Names and contents of files, from entries by their place in the log: `N.txt` (RFC 7515 5.1, signing
    input), `N.sig`, `N.pem`.

    Entries and statements that cannot be read are left out, and keys that nothing before brings.
    """
    public: dict[str, bytes] = {}
    for index, text in told:
        try:
            statement = signed_statement.read(entries.read(text).stmt)
        except BaileeError:
            continue
        public |= _brought(statement.claims.data)
        signing_input, _, signature = statement.text.rpartition(".")
        yield f"{index}.txt", signing_input.encode("ascii")
        yield f"{index}.sig", unb64u(signature)
        if key := public.get(statement.kid):
            yield f"{index}.pem", _pem(key)


def _brought(data: Mapping[str, Any]) -> dict[str, bytes]:
    """Keys that an act brings, by their thumbprints (RFC 7638); what is no key is passed over."""
    found = {}
    for member in _BRING:
        try:
            raw = keys.public_bytes(data.get(member))
        except BaileeError:
            continue
        found[keys.kid_of(raw)] = raw
    return found


def _pem(public: bytes) -> bytes:
    encoded = base64.b64encode(_SPKI + public)
    return b"-----BEGIN PUBLIC KEY-----\n" + encoded + b"\n-----END PUBLIC KEY-----\n"
