"""Ed25519 as published: RFC 8032 7.1 and Wycheproof."""

import hashlib

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from nacl.signing import VerifyKey

from bailee.errors import Forged
from bailee.signing import keys
from published import rows

RFC8032 = rows("ed25519-rfc8032", "sign")
ORDER = 2**252 + 27742317777372353535851937790883648493  # RFC 8032 5.1, L


def same_as_published(secret: str, public: str, message: str, signature: str) -> None:
    """Assert key, signature and check, all in hex."""
    key = keys.SigningKey.from_seed(bytes.fromhex(secret))
    assert key.public.hex() == public
    assert key.sign(bytes.fromhex(message)).hex() == signature
    keys.verify(bytes.fromhex(public), bytes.fromhex(signature), bytes.fromhex(message))
    keys.public_bytes(key.jwk)


@pytest.mark.parametrize("case", RFC8032, ids=["TEST 1", "TEST 2", "TEST 3", "TEST 1024", "TEST SHA(abc)"])
def test_the_examples_of_the_ed25519_standard(case: list[str]) -> None:
    """No other software in the world could check what a phone signed."""
    same_as_published(*case)


def test_all_published_examples() -> None:
    """Long or odd messages would sign differently here than on a phone."""
    for case in rows("ed25519-sign-input", "sign"):
        same_as_published(*case)


def test_wycheproof_without_exception() -> None:
    """A known trick against signature checks would pass one of ours."""
    cases = rows("ed25519-wycheproof")
    assert len(cases) == 151
    found = []
    for number, (result, key, message, signature) in enumerate(cases, 1):
        public = bytes.fromhex(key)
        keys.public_bytes(keys.jwk_of(public))
        try:
            keys.verify(public, bytes.fromhex(signature), bytes.fromhex(message))
        except Forged:
            accepted = "invalid"
        else:
            accepted = "valid"
        if accepted != result:
            found.append(number)
    # The strict profile differs from Wycheproof nowhere: none of its keys is weak, none of its valid R is the
    # identity.
    assert found == []


def test_a_signature_whose_r_is_the_identity_is_refused() -> None:
    """A key owner could make a signature that one auditor's library accepts and another's refuses."""
    seed = bytes.fromhex(RFC8032[0][0])
    digest = bytearray(hashlib.sha512(seed).digest()[:32])  # RFC 8032 5.1.5: the secret scalar
    digest[0] &= 248
    digest[31] = (digest[31] & 127) | 64
    scalar = int.from_bytes(digest, "little")
    key, message = keys.SigningKey.from_seed(seed), b"form"
    identity = bytes([1]) + bytes(31)
    challenge = int.from_bytes(hashlib.sha512(identity + key.public + message).digest(), "little") % ORDER
    signature = identity + (challenge * scalar % ORDER).to_bytes(32, "little")
    # The equation of RFC 8032 5.1.7 holds, and OpenSSL says so; libsodium refuses small-order R.
    Ed25519PublicKey.from_public_bytes(key.public).verify(signature, message)
    with pytest.raises(Exception, match="forged or corrupt"):
        VerifyKey(key.public).verify(message, signature)
    with pytest.raises(Forged) as refusal:
        keys.verify(key.public, signature, message)
    assert refusal.value.code == "bad-signature"


@pytest.mark.parametrize("length", [0, 1, 31, 32, 63, 65, 128])
def test_a_signature_of_another_length_is_refused(length: int) -> None:
    """A cut-off upload would crash the service instead of being answered."""
    key = keys.SigningKey.from_seed(bytes(range(32)))
    signature = (key.sign(b"form") * 2)[:length]
    with pytest.raises(Forged):
        keys.verify(key.public, signature, b"form")
