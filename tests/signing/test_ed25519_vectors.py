"""Ed25519 as published: RFC 8032 7.1 and Wycheproof."""

import hashlib
import json
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from nacl.signing import VerifyKey

from bailee.errors import Forged
from bailee.signing import keys

# RFC 8032 section 7.1: TEST 1, TEST 2, TEST 3 (secret, public, message, signature).
RFC8032 = {
    "TEST 1": (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
            "d25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    "TEST 2": (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
            "387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
    "TEST 3": (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        (
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659"
            "4a7c15e9716ed28dc027beceea1ec40a"
        ),
    ),
}
ORDER = 2**252 + 27742317777372353535851937790883648493  # RFC 8032 5.1, L


def same_as_published(secret: str, public: str, message: str, signature: str) -> None:
    """Assert key, signature and check, all in hex."""
    key = keys.SigningKey.from_seed(bytes.fromhex(secret))
    assert key.public.hex() == public
    assert key.sign(bytes.fromhex(message)).hex() == signature
    keys.verify(bytes.fromhex(public), bytes.fromhex(signature), bytes.fromhex(message))
    keys.public_bytes(key.jwk)


@pytest.mark.parametrize("name", RFC8032)
def test_the_examples_of_the_ed25519_standard(name: str) -> None:
    """No other software in the world could check what a phone signed."""
    same_as_published(*RFC8032[name])


def test_all_published_examples(vectors: Path) -> None:
    """Long or odd messages would sign differently here than on a phone."""
    for file in ("rfc8032_7_1.json", "sign_input_sample.json"):
        for case in json.loads((vectors / "ed25519" / file).read_text())["vectors"]:
            same_as_published(case["secret"], case["public"], case["message"], case["signature"])


def test_wycheproof_without_exception(vectors: Path) -> None:
    """A known trick against signature checks would pass one of ours."""
    groups = json.loads((vectors / "ed25519" / "wycheproof_ed25519_test.json").read_text())["testGroups"]
    # The strict profile differs from Wycheproof nowhere: none of its keys is weak, none of its valid R is the identity.
    strict_differences: list[int] = []
    found, seen = [], 0
    for group in groups:
        public = bytes.fromhex(group["publicKey"]["pk"])
        keys.public_bytes(keys.jwk_of(public))
        for case in group["tests"]:
            seen += 1
            try:
                keys.verify(public, bytes.fromhex(case["sig"]), bytes.fromhex(case["msg"]))
            except Forged:
                accepted = False
            else:
                accepted = True
            if accepted != (case["result"] == "valid"):
                found.append(case["tcId"])
    assert seen == 151
    assert found == strict_differences


def test_a_signature_whose_r_is_the_identity_is_refused() -> None:
    """A key owner could make a signature that one auditor's library accepts and another's refuses."""
    seed = bytes.fromhex(RFC8032["TEST 1"][0])
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
