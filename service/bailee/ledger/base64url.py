"""Base64 text that has exactly one spelling.

A decoder that forgives padding, stray bits or the other alphabet gives one value many texts, and then a
hash over the text can be changed without changing the value. So every text read here must be the text
that would be written. Base64url without padding (RFC 4648 section 5, RFC 7515 section 2) is used in
statements and entries; plain base64 with padding (RFC 4648 section 4) only in notes and proofs (C2SP).
"""

from __future__ import annotations

import binascii

from bailee.errors import Malformed

_TO_URL = bytes.maketrans(b"+/", b"-_")
_FROM_URL = bytes.maketrans(b"-_", b"+/")


def b64u(data: bytes) -> str:
    """Write base64url without padding (RFC 7515 section 2)."""
    return binascii.b2a_base64(data, newline=False).rstrip(b"=").translate(_TO_URL).decode("ascii")


def unb64u(text: str) -> bytes:
    """Read base64url without padding; raises `Malformed` ("not-canonical") for any other spelling."""
    try:
        data = binascii.a2b_base64(text.encode("ascii").translate(_FROM_URL) + b"==")
    except ValueError:
        raise _refused("base64url") from None
    if b64u(data) != text:
        raise _refused("base64url")
    return data


def b64(data: bytes) -> str:
    """Write base64 with padding (RFC 4648 section 4)."""
    return binascii.b2a_base64(data, newline=False).decode("ascii")


def unb64(text: str) -> bytes:
    """Read base64 with padding; raises `Malformed` ("not-canonical") for any other spelling."""
    try:
        data = binascii.a2b_base64(text.encode("ascii"))
    except ValueError:
        raise _refused("base64") from None
    if b64(data) != text:
        raise _refused("base64")
    return data


def _refused(alphabet: str) -> Malformed:
    return Malformed(
        f"A {alphabet} value is not written in its one exact form. Send the text exactly as it was issued.",
        code="not-canonical",
        alphabet=alphabet,
    )
