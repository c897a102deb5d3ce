"""Private keys at rest: PKCS#8 PEM text, encrypted where a passphrase was given.

Apart from `keys` because whoever only verifies never opens such a file, and pays for none of it.
"""

from __future__ import annotations

import os
from typing import Final

from cryptography.exceptions import InternalError, UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

from bailee.errors import Malformed
from bailee.ledger.base64url import b64u, unb64u

_STRETCHED: Final = b"Argon2id: "


def write(private: Ed25519PrivateKey, passphrase: str | None) -> bytes:
    """PKCS#8 PEM text. With a passphrase, encrypted under a key stretched by Argon2id (RFC 9106)."""
    if not passphrase:
        return _pem(private, serialization.NoEncryption())
    salt = os.urandom(16)
    protect = serialization.BestAvailableEncryption(_stretch(passphrase, salt))
    return _STRETCHED + b64u(salt).encode() + b"\n" + _pem(private, protect)


def read(pem: bytes, passphrase: str | None) -> Ed25519PrivateKey:
    """Read back what `write` wrote. Raises `Malformed` with a code that tells a wrong passphrase from a bad file."""
    secret = passphrase.encode() if passphrase else None
    try:
        if passphrase and pem.startswith(_STRETCHED):
            salt, _, pem = pem.removeprefix(_STRETCHED).partition(b"\n")
            secret = _stretch(passphrase, unb64u(salt.decode("ascii", "replace")))
        private = serialization.load_pem_private_key(pem, secret)
    except TypeError as error:
        said = "This key file has no passphrase." if passphrase else "This key file needs its passphrase."
        raise Malformed(said, code="passphrase") from error
    except (
        ValueError,
        UnsupportedAlgorithm,
        InternalError,
        Malformed,
    ) as error:  # a damaged file gives any of these
        raise Malformed(
            "The key file cannot be opened: the passphrase is wrong or the file is damaged.",
            code="passphrase",
        ) from error
    if not isinstance(private, Ed25519PrivateKey):
        raise Malformed("The key file holds another kind of key; Ed25519 is needed.", code="bad-key")
    return private


def _pem(private: Ed25519PrivateKey, protect: serialization.KeySerializationEncryption) -> bytes:
    return private.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, protect)


def _stretch(passphrase: str, salt: bytes) -> bytes:
    """Argon2id with RFC 9106's second recommended setting (64 MiB, 3 passes, 4 lanes), as text PKCS#8 can take."""
    key = Argon2id(salt=salt, length=32, iterations=3, lanes=4, memory_cost=64 * 1024).derive(
        passphrase.encode()
    )
    return b64u(key).encode()
