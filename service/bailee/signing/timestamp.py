"""Time stamps by an authority that is no party: RFC 3161 tokens over a checkpoint.

What is stamped is the text of a checkpoint as the log signs it: origin, size and root, each on a line (C2SP
tlog-checkpoint). Here a token is asked for, and read: which text it is over, and what time it tells. Whether
the authority really signed it depends on certificates that only the auditor can choose to trust
(`verify.authority`).
"""

from __future__ import annotations

import hashlib
import re
from datetime import UTC, datetime
from typing import Final

from bailee.errors import Broken, Malformed
from bailee.frozen import frozen
from bailee.signing import cms, der
from bailee.signing.cms import SignedData
from bailee.signing.der import Reader

LIMIT: Final = 32 * 1024
"""Bytes of a token: some hundred for the stamp, some thousand for each certificate that comes with it."""
REQUEST_TYPE: Final = "application/timestamp-query"
REPLY_TYPE: Final = "application/timestamp-reply"
"""RFC 3161 3.4."""

_SHA256: Final = bytes.fromhex("608648016503040201")
"""2.16.840.1.101.3.4.2.1 (RFC 5754 2.2)."""
TST_INFO: Final = bytes.fromhex("2a864886f70d0109100104")
"""1.2.840.113549.1.9.16.1.4 (RFC 3161 2.4.2)."""


_YEARS: Final = range(1950, 2200)
"""GeneralizedTime can say any year up to 9999.

RFC 3161 is of 2001, and certificates begin with 1950 (RFC 5280 4.1.2.5).
"""
_TIME: Final = re.compile(r"[0-9]{14}(\.[0-9]{1,6})?Z")


@frozen
class Stamp:
    """What a token says: the SHA-256 of the text it is over, and when the authority says it saw it.

    `signed` is the proof, unchecked.
    """

    imprint: bytes
    at: datetime
    signed: SignedData


def request(text: str, nonce: int) -> bytes:
    """The query for a token over `text` (RFC 3161 2.4.1), asking for the authority's certificate with it."""
    algorithm = der.value(der.SEQUENCE, der.value(der.OID, _SHA256), der.value(der.NULL))
    imprint = der.value(der.SEQUENCE, algorithm, der.value(der.OCTET_STRING, imprint_of(text)))
    certificate = der.value(der.BOOLEAN, b"\xff")
    return der.value(der.SEQUENCE, der.integer(1), imprint, der.integer(nonce), certificate)


def imprint_of(text: str) -> bytes:
    """SHA-256 of the text."""
    return hashlib.sha256(text.encode()).digest()


def token_in(reply: bytes) -> bytes:
    """The token in an authority's reply, or `reply` itself when it is one.

    Raises `Malformed`, and `Broken` (`not-stamped`) when the authority refused.
    """
    if len(reply) > LIMIT:
        raise Malformed(f"A time stamp has at most {LIMIT} bytes: this is another file.", code="too-large")
    outer = Reader(reply)
    inner = outer.into(der.SEQUENCE)
    outer.end()
    if inner.peek() == der.OID:
        return reply
    status = int.from_bytes(inner.into(der.SEQUENCE).take(der.INTEGER), "big")
    if status > 1 or not inner.more:  # 0 granted, 1 granted with changes (RFC 3161 2.4.2)
        raise Broken(
            f"The authority gave no time stamp (status {status}): ask another one.", code="not-stamped"
        )
    return der.value(der.SEQUENCE, inner.take(der.SEQUENCE))


def read(token: bytes) -> Stamp:
    """What a token says; nothing of it is checked. Raises `Malformed` (`too-large`, `bad-der`)."""
    if len(token) > LIMIT:
        raise Malformed(f"A time stamp has at most {LIMIT} bytes: this is another file.", code="too-large")
    signed = cms.read(token)
    _require(signed.kind == TST_INFO)
    content = Reader(signed.content)
    info = content.into(der.SEQUENCE)
    content.end()
    info.take(der.INTEGER)
    info.take(der.OID)
    imprint = info.into(der.SEQUENCE)
    _require(imprint.into(der.SEQUENCE).take(der.OID) == _SHA256)
    hashed = imprint.take(der.OCTET_STRING)
    info.take(der.INTEGER)
    return Stamp(hashed, _time(info.take(der.GENERALIZED_TIME)), signed)


def _time(content: bytes) -> datetime:
    """GeneralizedTime in UTC, with or without a fraction of a second (RFC 3161 2.4.2)."""
    text = content.decode("ascii", "replace")
    form = "%Y%m%d%H%M%S.%fZ" if "." in text else "%Y%m%d%H%M%SZ"
    try:
        if not _TIME.fullmatch(text):
            raise ValueError(text)  # noqa: TRY301 - strptime alone would read fewer digits
        found = datetime.strptime(text, form).replace(tzinfo=UTC)
    except ValueError as error:
        raise Malformed(
            f"The time stamp shows no time that can be read: {text!r}.", code="bad-der"
        ) from error
    if found.year not in _YEARS:
        raise Malformed(f"The time stamp shows an impossible time: {text!r}.", code="bad-der")
    return found


def _require(holds: bool) -> None:  # noqa: FBT001 - an assertion with words
    if not holds:
        raise Malformed(
            "The time stamp is of another kind: an RFC 3161 token over SHA-256 is needed.", code="bad-der"
        )
