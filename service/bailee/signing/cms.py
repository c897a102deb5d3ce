"""Signed data as a time stamp carries it (RFC 5652 5): what was signed, by which certificate, with what.

Read here, not checked.

A token has exactly one signer, who signs attributes and not the content itself (RFC 3161 2.4.2).
`signed_bytes` of such a signer are the attributes with the tag of a SET, over which the signature is made
(RFC 5652 5.4).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.signing import der
from bailee.signing.der import Reader

SIGNED_DATA: Final = bytes.fromhex("2a864886f70d010702")
"""1.2.840.113549.1.7.2 (RFC 5652 5.1)."""
CONTENT_TYPE: Final = bytes.fromhex("2a864886f70d010903")
"""1.2.840.113549.1.9.3 (RFC 5652 11.1)."""
MESSAGE_DIGEST: Final = bytes.fromhex("2a864886f70d010904")
"""1.2.840.113549.1.9.4 (RFC 5652 11.2)."""
SIGNING_CERTIFICATE: Final = bytes.fromhex("2a864886f70d010910020c")
"""1.2.840.113549.1.9.16.2.12, with SHA-1 (RFC 2634 5.4)."""
SIGNING_CERTIFICATE_V2: Final = bytes.fromhex("2a864886f70d010910022f")
"""1.2.840.113549.1.9.16.2.47 (RFC 5035 3)."""

_EXPLICIT_1: Final = 0xA1


@frozen
class Name:
    """How a signer names its certificate: the issuer's name as its bytes are, and the serial number."""

    issuer: bytes
    serial: bytes


@frozen
class SignerInfo:
    """Object identifiers as bytes; `attributes` gives what stands in the set of values of each signed
    attribute.

    `certificate` is None when it is named in another way than by issuer and number.
    """

    certificate: Name | None
    digest: bytes
    attributes: Mapping[bytes, bytes]
    signed_bytes: bytes
    algorithm: bytes
    signature: bytes


@frozen
class SignedData:
    """What was signed, the kind of thing it is, the certificates that came with it (DER each), and who
    signed.
    """

    kind: bytes
    content: bytes
    certificates: tuple[bytes, ...]
    signer: SignerInfo


def read(data: bytes) -> SignedData:
    """Read signed data of one signer. Raises `Malformed` (`bad-der`) for anything else."""
    outer = Reader(data)
    wrapped = outer.into(der.SEQUENCE)
    outer.end()
    if wrapped.take(der.OID) != SIGNED_DATA:
        raise _other()
    signed = wrapped.into(der.EXPLICIT_0).into(der.SEQUENCE)
    signed.take(der.INTEGER)
    signed.take(der.SET)
    content = signed.into(der.SEQUENCE)
    kind, what = content.take(der.OID), content.into(der.EXPLICIT_0).take(der.OCTET_STRING)
    certificates = tuple(_each(signed.into(der.EXPLICIT_0))) if signed.peek() == der.EXPLICIT_0 else ()
    if signed.peek() == _EXPLICIT_1:
        # lists of revoked certificates: who may speak for an authority's revocation is not ours to know
        signed.skip()
    signers = signed.into(der.SET)
    signed.end()
    signer = _signer(signers.into(der.SEQUENCE))
    signers.end()
    return SignedData(kind, what, certificates, signer)


def name_of(certificate: bytes) -> Name:
    """The name by which a signer would speak of this certificate (RFC 5280 4.1). Raises `Malformed`."""
    inner = Reader(certificate).into(der.SEQUENCE).into(der.SEQUENCE)
    if inner.peek() == der.EXPLICIT_0:
        inner.skip()
    serial = inner.take(der.INTEGER)
    inner.take(der.SEQUENCE)
    return Name(inner.take(der.SEQUENCE), serial)


def _signer(info: Reader) -> SignerInfo:
    info.take(der.INTEGER)
    name = None
    if info.peek() == der.SEQUENCE:
        name = _name(info.into(der.SEQUENCE))
    else:
        info.skip()
    digest = info.into(der.SEQUENCE).take(der.OID)
    raw = info.take(der.EXPLICIT_0)
    algorithm = info.into(der.SEQUENCE).take(der.OID)
    signature = info.take(der.OCTET_STRING)
    if info.peek() == _EXPLICIT_1:
        info.skip()  # attributes that nobody signed
    info.end()
    return SignerInfo(name, digest, _attributes(Reader(raw)), der.value(der.SET, raw), algorithm, signature)


def _name(named: Reader) -> Name:
    name = Name(named.take(der.SEQUENCE), named.take(der.INTEGER))
    named.end()
    return name


def _attributes(reader: Reader) -> dict[bytes, bytes]:
    """By kind; RFC 5652 5.3: each at most once."""
    found: dict[bytes, bytes] = {}
    while reader.more:
        one = reader.into(der.SEQUENCE)
        kind = one.take(der.OID)
        if kind in found:
            raise _other()
        found[kind] = one.take(der.SET)
        one.end()
    return found


def _each(reader: Reader) -> list[bytes]:
    found = []
    while reader.more:
        found.append(reader.whole())
    return found


def _other() -> Malformed:
    return Malformed(
        "The time stamp is of another kind: an RFC 3161 token with one signature is needed.", code="bad-der"
    )
