"""Whether an authority that the auditor chose signed a time stamp: its signature, its certificate, and what
that certificate is for.

RFC 3161 2.3, 2.4.2 and appendix B; RFC 5652 5.4 and 11; RFC 5035 5.4. The path to a root is searched by the
library `cryptography`, at the time that the token tells: a certificate that has expired since makes no old
stamp worse. Whether the authority ended its certificate before that time is not in the token and not looked
up. `cryptography.x509` is imported where it is used, because few verifications need it and the page of the
verifier has none.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Final

from bailee.errors import Forged, Malformed, Unavailable, Unknown
from bailee.signing import cms, der
from bailee.signing.cms import SignedData, SignerInfo
from bailee.signing.der import Reader
from bailee.signing.timestamp import TST_INFO, Stamp

if TYPE_CHECKING:
    from cryptography.x509 import Certificate, ExtendedKeyUsage
    from cryptography.x509.verification import Policy

_DIGESTS: Final = {
    bytes.fromhex("608648016503040201"): "sha256",
    bytes.fromhex("608648016503040202"): "sha384",
    bytes.fromhex("608648016503040203"): "sha512",
}
"""2.16.840.1.101.3.4.2.1 to .3 (RFC 5754 2). What is weaker is not believed."""
_ALGORITHMS: Final[dict[bytes, tuple[str, str | None]]] = {
    bytes.fromhex("2a864886f70d010101"): ("RSA", None),
    bytes.fromhex("2a864886f70d01010b"): ("RSA", "sha256"),
    bytes.fromhex("2a864886f70d01010c"): ("RSA", "sha384"),
    bytes.fromhex("2a864886f70d01010d"): ("RSA", "sha512"),
    bytes.fromhex("2a8648ce3d040302"): ("EC", "sha256"),
    bytes.fromhex("2a8648ce3d040303"): ("EC", "sha384"),
    bytes.fromhex("2a8648ce3d040304"): ("EC", "sha512"),
}
"""Kind of key and digest: rsaEncryption (the signer's own digest counts), sha…WithRSAEncryption,
ecdsa-with-SHA… (RFC 5754 3)."""


def certificates(text: bytes) -> tuple[bytes, ...]:
    """The certificates in a file, PEM or DER, each as DER. Raises `Malformed` (`stamp-root`)."""
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import Encoding

    try:
        if b"-----BEGIN " in text:
            found = x509.load_pem_x509_certificates(text)
        else:
            found = [x509.load_der_x509_certificate(text)]
        return tuple(_load(each.public_bytes(Encoding.DER)).public_bytes(Encoding.DER) for each in found)
    except (ValueError, x509.InvalidVersion, Unknown) as error:
        raise Malformed(
            "This is no certificate: bring the root certificate of the time stamp authority, PEM or DER.",
            code="stamp-root",
        ) from error


def signed_by(stamp: Stamp, roots: Sequence[bytes]) -> str:
    """The name of the authority that signed this stamp, whose certificate leads to one of `roots`.

    Raises `Forged` (`stamp`) for what contradicts itself, so that somebody altered it; `Unknown` (`stamp`)
    when it may be genuine and is not to be believed for want of a certificate; `Unavailable` (`stamp`) when
    it is signed in a way that is not known here.
    """
    certificate = unaltered(stamp, roots)
    _require_purpose(certificate)
    _require_valid_then(certificate, stamp.at)
    _require_path(certificate, stamp.signed.certificates, roots, stamp.at)
    return certificate.subject.rfc4514_string()


def unaltered(stamp: Stamp, more: Sequence[bytes] = ()) -> Certificate:
    """The certificate that signed this stamp, whosoever it is; it comes with the stamp or is one of `more`.

    Raises as `signed_by` does.
    """
    signed = stamp.signed
    bound = _certificate_hash(signed.signer)
    named = [each for each in _named(signed, more) if hashlib.new(bound[0], each).digest() == bound[1]]
    if not named:
        raise _not_named(signed, more)
    certificate = _load(named[0])
    _require_signature(signed, certificate)
    return certificate


def _certificate_hash(signer: SignerInfo) -> tuple[str, bytes]:
    """The digest by which the signer names its own certificate: the first of signing-certificate (RFC 5035
    5.4), either version.

    The old version binds with SHA-1 (RFC 2634 5.4): enough here, where it only tells certificates of one name
    and number apart.
    """
    for kind in (cms.SIGNING_CERTIFICATE_V2, cms.SIGNING_CERTIFICATE):
        if kind not in signer.attributes:
            continue
        first = Reader(signer.attributes[kind]).into(der.SEQUENCE).into(der.SEQUENCE).into(der.SEQUENCE)
        digest = "sha256" if kind == cms.SIGNING_CERTIFICATE_V2 else "sha1"
        if first.peek() == der.SEQUENCE:
            digest = _digest(first.into(der.SEQUENCE).take(der.OID))
        return digest, first.take(der.OCTET_STRING)
    raise _not_believed("it does not show which certificate it was signed with (RFC 3161 2.4.2)")


def _named(signed: SignedData, roots: Iterable[bytes]) -> Iterator[bytes]:
    """Certificates of the name and number that the signer gives."""
    for each in (*signed.certificates, *roots):
        try:
            fits = cms.name_of(each) == signed.signer.certificate
        except Malformed:
            continue
        if fits:
            yield each


def _not_named(signed: SignedData, roots: Iterable[bytes]) -> Forged | Unknown:
    if any(_named(signed, roots)):
        return _altered("the certificate that it names is another one than the one it comes with")
    return _not_believed("the certificate of its authority is neither in it nor in what you brought")


def _require_signature(signed: SignedData, certificate: Certificate) -> None:
    """RFC 5652 5.4 and 11: the attributes are of this content, and the signature is over the attributes."""
    signer = signed.signer
    digest = hashlib.new(_digest(signer.digest), signed.content).digest()
    wanted = {
        cms.CONTENT_TYPE: der.value(der.OID, TST_INFO),
        cms.MESSAGE_DIGEST: der.value(der.OCTET_STRING, digest),
    }
    if any(signer.attributes.get(kind) != value for kind, value in wanted.items()):
        raise _altered("what it shows is not what was signed")
    if not _fits(signer, certificate):
        raise _altered("the signature does not fit it and the certificate it names")


def _fits(signer: SignerInfo, certificate: Certificate) -> bool:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa

    kind, digest = _ALGORITHMS.get(signer.algorithm, ("", None))
    name = digest or _digest(signer.digest)
    algorithm = {"sha256": hashes.SHA256(), "sha384": hashes.SHA384(), "sha512": hashes.SHA512()}[name]
    key = certificate.public_key()
    try:
        if kind == "RSA" and isinstance(key, rsa.RSAPublicKey):
            key.verify(signer.signature, signer.signed_bytes, padding.PKCS1v15(), algorithm)
        elif kind == "EC" and isinstance(key, ec.EllipticCurvePublicKey):
            key.verify(signer.signature, signer.signed_bytes, ec.ECDSA(algorithm))
        elif not kind:
            raise _unknown_way()
        else:
            return False
    except InvalidSignature:
        return False
    return True


def _require_purpose(certificate: Certificate) -> None:
    """RFC 3161 2.3: for time stamps and nothing else, and marked so that nobody may overlook it."""
    from cryptography import x509
    from cryptography.x509.oid import ExtendedKeyUsageOID

    try:
        purpose = certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage)
    except x509.ExtensionNotFound:
        raise _not_believed("its certificate is not marked for time stamps (RFC 3161 2.3)") from None
    if not purpose.critical or list(purpose.value) != [ExtendedKeyUsageOID.TIME_STAMPING]:
        raise _not_believed("its certificate is not one for time stamps alone (RFC 3161 2.3)")
    try:
        usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    except x509.ExtensionNotFound:
        return
    if not (usage.digital_signature or usage.content_commitment) or usage.key_cert_sign:
        raise _not_believed("the key of its certificate is not for signatures (RFC 5280 4.2.1.3)")


def _require_valid_then(certificate: Certificate, at: datetime) -> None:
    """RFC 3161, appendix B 4: the time told lies within the validity of the certificate."""
    begin, end = certificate.not_valid_before_utc, certificate.not_valid_after_utc
    if not begin <= at <= end:
        raise _not_believed(
            f"its certificate was valid from {begin:%Y-%m-%d %H:%M} to {end:%Y-%m-%d %H:%M} UTC, and not at"
            " the time it shows"
        )


def _require_path(
    certificate: Certificate, others: Iterable[bytes], roots: Iterable[bytes], at: datetime
) -> None:
    """RFC 5280 6, as the library searches it: every certificate above may issue others and was valid then."""
    from cryptography import x509
    from cryptography.x509 import verification

    above = (
        verification.ExtensionPolicy.permit_all()
        .require_present(x509.BasicConstraints, verification.Criticality.AGNOSTIC, None)
        .may_be_present(x509.ExtendedKeyUsage, verification.Criticality.AGNOSTIC, _may_issue)
    )
    verifier = (
        verification.PolicyBuilder()
        .store(verification.Store([_load(each) for each in roots]))
        .time(at)
        .extension_policies(ca_policy=above, ee_policy=verification.ExtensionPolicy.permit_all())
        .build_client_verifier()
    )
    try:
        verifier.verify(certificate, list(_readable(others)))
    except verification.VerificationError as error:
        raise _not_believed(
            "its certificate does not lead to a root that you brought and that was valid then"
        ) from error


def _may_issue(_policy: Policy, _certificate: Certificate, purpose: ExtendedKeyUsage | None) -> None:
    """An issuer that names purposes must name this one, or any.

    Raises `ValueError`, as the library asks for.
    """
    from cryptography.x509.oid import ExtendedKeyUsageOID

    if purpose is not None and not {
        ExtendedKeyUsageOID.TIME_STAMPING,
        ExtendedKeyUsageOID.ANY_EXTENDED_KEY_USAGE,
    } & set(purpose):
        raise ValueError("An issuer of other certificates than those for time stamps")


def _load(certificate: bytes) -> Certificate:
    from cryptography import x509
    from cryptography.exceptions import UnsupportedAlgorithm

    try:
        found = x509.load_der_x509_certificate(certificate)
        found.extensions  # noqa: B018 - what cannot be read is found here, and not in the middle of a check
        found.public_key()
    except (
        ValueError,
        x509.InvalidVersion,
        x509.DuplicateExtension,
        x509.UnsupportedGeneralNameType,
        UnsupportedAlgorithm,
    ) as error:
        raise _not_believed("the certificate of its authority cannot be read") from error
    return found


def _readable(certificates: Iterable[bytes]) -> Iterator[Certificate]:
    for each in certificates:
        try:
            yield _load(each)
        except Unknown:
            continue


def _digest(oid: bytes) -> str:
    if oid not in _DIGESTS:
        raise _unknown_way()
    return _DIGESTS[oid]


def _altered(why: str) -> Forged:
    return Forged(f"It was altered: {why}.", code="stamp")


def _not_believed(why: str) -> Unknown:
    return Unknown(f"It does not verify: {why}.", code="stamp")


def _unknown_way() -> Unavailable:
    return Unavailable(
        "It is signed in a way that this program does not know; `openssl ts -verify` may.", code="stamp"
    )
