"""Key files on an office computer: RFC 8410 keys in PKCS#8 PEM."""

import subprocess
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec, ed448, x25519
from cryptography.hazmat.primitives.serialization import BestAvailableEncryption, Encoding, PrivateFormat
from spoken import KEY

from bailee.errors import Malformed
from bailee.signing.keys import SigningKey
from programs import required

PASSPHRASE = "blue cassette, four winds"


@pytest.fixture(scope="module")
def protected() -> bytes:
    """The key under a passphrase; stretching it takes a tenth of a second."""
    return KEY.pem(PASSPHRASE)


def refused(pem: bytes, passphrase: str | None = None) -> Malformed:
    """The error with which the file is refused."""
    with pytest.raises(Malformed) as refusal:
        SigningKey.from_pem(pem, passphrase)
    return refusal.value


def test_a_plain_key_file_is_read_back() -> None:
    """An organization could not open its own root key again."""
    assert SigningKey.from_pem(KEY.pem()).kid == KEY.kid
    assert SigningKey.from_pem(KEY.pem(), "").kid == KEY.kid
    assert SigningKey.from_pem(KEY.pem("")).kid == KEY.kid


def test_the_private_key_of_the_standard_is_read() -> None:
    """Keys made with other software could not be used."""
    # RFC 8410 10.3, the example without attributes; value from memory, proven by its public key in 10.1.
    pem = (
        b"-----BEGIN PRIVATE"
        b" KEY-----\nMC4CAQAwBQYDK2VwBCIEINTuctv5E1hK1bbY8fdp+K06/nwoy/HU++CXqI9EdVhC\n-----END PRIVATE"
        b" KEY-----\n"
    )
    assert SigningKey.from_pem(pem).jwk["x"] == "Gb9ECWmEzf6FQbrBZ9w7lshQhqowtrbLDFw4rXAxZuE"


def test_a_key_file_with_a_passphrase_is_read_back(protected: bytes) -> None:
    """An organization could not open its own root key again."""
    assert SigningKey.from_pem(protected, PASSPHRASE).kid == KEY.kid
    assert b"ENCRYPTED" in protected
    assert KEY.pem()[30:80] not in protected


def test_two_protected_files_of_one_key_differ(protected: bytes) -> None:
    """A thief with two copies would need to guess the passphrase only once for both."""
    assert KEY.pem(PASSPHRASE).splitlines()[0] != protected.splitlines()[0]


@pytest.mark.parametrize("passphrase", ["blue cassette, four wind", PASSPHRASE.upper(), "x"])
def test_a_wrong_passphrase_is_named(protected: bytes, passphrase: str) -> None:
    """A person would look for a lost file instead of the right passphrase."""
    refusal = refused(protected, passphrase)
    assert refusal.code == "passphrase"
    assert "passphrase is wrong" in refusal.sentence


@pytest.mark.parametrize("passphrase", [None, ""])
def test_a_missing_passphrase_is_named(protected: bytes, passphrase: str | None) -> None:
    """A person would believe the key is damaged."""
    assert refused(protected, passphrase).sentence == "This key file needs its passphrase."


def test_a_passphrase_for_a_plain_file_is_named() -> None:
    """A person would believe that the key on the disk is protected."""
    assert refused(KEY.pem(), PASSPHRASE).sentence == "This key file has no passphrase."


def test_a_file_protected_by_other_software_is_read() -> None:
    """A key protected with openssl could not be used."""
    private = serialization.load_pem_private_key(KEY.pem(), None)
    protect = BestAvailableEncryption(b"theirs")
    pem = private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, protect)
    assert SigningKey.from_pem(pem, "theirs").kid == KEY.kid


@pytest.mark.slow
def test_a_damaged_file_says_so_and_never_gives_the_same_key(protected: bytes) -> None:
    """A half-written key file would crash the program, or a wrong key be used unnoticed."""
    plain = KEY.pem()
    for position in range(len(plain)):
        damaged = plain[:position] + bytes([plain[position] ^ 1]) + plain[position + 1 :]
        try:
            # A changed secret is a different, well-formed key; only its name shows it.
            assert SigningKey.from_pem(damaged).kid != KEY.kid or damaged.split() == plain.split()
        except Malformed:
            continue
    head = len(protected.splitlines()[0])
    for cut in (0, 5, 12, head - 1, head, head + 1, head + 30, head + 90, len(protected) - 40):
        assert refused(protected[:cut], PASSPHRASE).code == "passphrase"


@pytest.mark.parametrize("salt", [b"", b"!!", b"AAAA", b"\xff\xfe", b"A" * 22 + b"="])
def test_a_damaged_salt_says_so(protected: bytes, salt: bytes) -> None:
    """A damaged first line would crash the program."""
    _, _, rest = protected.partition(b"\n")
    assert refused(b"Argon2id: " + salt + b"\n" + rest, PASSPHRASE).code == "passphrase"


@pytest.mark.parametrize(
    "other",
    [
        ec.generate_private_key(ec.SECP256R1()),
        ed448.Ed448PrivateKey.generate(),
        x25519.X25519PrivateKey.generate(),
    ],
)
def test_a_key_of_another_kind_is_refused(other: ec.EllipticCurvePrivateKey) -> None:
    """An organization would print a root thumbprint that can never sign anything."""
    pem = other.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, serialization.NoEncryption())
    assert refused(pem).code == "bad-key"


def test_openssl_reads_the_plain_file(tmp_path: Path) -> None:
    """An organization whose software is gone could not use its root key with anything else."""
    openssl = required("openssl")
    (tmp_path / "key.pem").write_bytes(KEY.pem())
    done = subprocess.run(
        [openssl, "pkey", "-in", "key.pem", "-pubout", "-outform", "DER"],
        cwd=tmp_path,
        capture_output=True,
        check=True,
    )
    assert done.stdout[-32:] == KEY.public


def test_a_key_does_not_print_itself() -> None:
    """A private key would end up in a log file."""
    assert "d61b19de" not in repr(KEY)
    assert "nWGxne" not in f"{KEY}{vars(type(KEY))}"
