"""Device keys: Ed25519, named by their JWK thumbprint.

A key names itself: `kid` is the RFC 7638 thumbprint of its public JWK (RFC 8037 2). Before a key may speak it
is checked to be a canonical encoding of a point in the prime-order subgroup (`points.refuse_weak`), so that
no two verifiers can disagree about its signatures.

Private keys at rest: PKCS#8 PEM text, encrypted where a passphrase was given.

Apart from `keys` because whoever only verifies never opens such a file, and pays for none of it.
"""

from __future__ import annotations

import hashlib
import os
from functools import lru_cache
from typing import Final, Protocol

from cryptography.exceptions import InternalError, InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

from bailee.errors import Forged, Malformed
from bailee.ledger.base64url import b64u, unb64u
from bailee.signing import points

_STRETCHED: Final = b"Argon2id: "


def write(private: Ed25519PrivateKey, passphrase: str | None) -> bytes:
    """PKCS#8 PEM text. With a passphrase, encrypted under a key stretched by Argon2id (RFC 9106)."""
    if not passphrase:
        return _pem(private, serialization.NoEncryption())
    salt = os.urandom(16)
    protect = serialization.BestAvailableEncryption(_stretch(passphrase, salt))
    return _STRETCHED + b64u(salt).encode() + b"\n" + _pem(private, protect)


def read(pem: bytes, passphrase: str | None) -> Ed25519PrivateKey:
    """Read back what `write` wrote.

    Raises `Malformed` with a code that tells a wrong passphrase from a bad file.
    """
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
    """Argon2id with RFC 9106's second recommended setting (64 MiB, 3 passes, 4 lanes), as text PKCS#8 can
    take.
    """
    key = Argon2id(salt=salt, length=32, iterations=3, lanes=4, memory_cost=64 * 1024).derive(
        passphrase.encode()
    )
    return b64u(key).encode()


IDENTITY_R: Final = bytes([1]) + bytes(31)
"""Encoding of the identity point: as R of a signature it is refused (verifiers disagree about it)."""

Jwk = dict[str, str]


def jwk_of(public: bytes) -> Jwk:
    """Public JWK of a raw 32-byte Ed25519 key (RFC 8037 2), members in lexical order."""
    return {"crv": "Ed25519", "kty": "OKP", "x": b64u(public)}


def thumbprint(jwk: Jwk) -> str:
    """RFC 7638 3 thumbprint (SHA-256, base64url) of an Ed25519 public JWK."""
    text = f'{{"crv":"{jwk["crv"]}","kty":"{jwk["kty"]}","x":"{jwk["x"]}"}}'
    return b64u(hashlib.sha256(text.encode("ascii")).digest())


@lru_cache(maxsize=4096)
def kid_of(public: bytes) -> str:
    """The name of a raw public key: its JWK's thumbprint."""
    return thumbprint(jwk_of(public))


def public_bytes(jwk: object) -> bytes:
    """Raw public key of a JWK with exactly `crv`, `kty`, `x`; refuses weak points.

    Raises `Malformed`, `Forged`.
    """
    if not (
        isinstance(jwk, dict)
        and set(jwk) == {"crv", "kty", "x"}
        and all(isinstance(v, str) for v in jwk.values())
    ):
        raise Malformed("A public key must be a JWK with crv, kty and x and nothing else.", code="bad-key")
    if jwk["kty"] != "OKP" or jwk["crv"] != "Ed25519":
        raise Malformed("Only Ed25519 keys (kty OKP, crv Ed25519) can sign custody entries.", code="bad-key")
    raw = unb64u(jwk["x"])
    if len(raw) != 32:
        raise Malformed("An Ed25519 public key is 32 bytes.", code="bad-key")
    _require_strong(raw)
    return raw


def require_name(public: bytes, kid: str) -> None:
    """Raise `Forged` (`wrong-key-name`) unless `kid` is the thumbprint of this public key."""
    if kid_of(public) != kid:
        raise Forged(
            "The key does not have the key ID in the request: make the request again.",
            code="wrong-key-name",
            kid=kid,
        )


def verify(public: bytes, signature: bytes, message: bytes) -> None:
    """Ed25519 (RFC 8032 5.1.7) under the strict profile: the key is strong (`weak-key`), R is not the
    identity. Raises `Forged`.

    Every signature of the ledger is checked here, whoever made it: no way to a weak key leads past this.
    """
    _require_strong(public)
    if signature[:32] == IDENTITY_R:
        raise Forged("The signature uses a degenerate point and is refused.", code="bad-signature")
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (InvalidSignature, ValueError) as error:
        raise Forged("The signature does not fit the entry and its key.", code="bad-signature") from error


@lru_cache(maxsize=4096)
def _require_strong(public: bytes) -> None:
    """Refuse weak keys; one that was found strong is not asked again."""
    points.refuse_weak(public)


class LogKey(Protocol):
    """What signs in a log's name and knows its public half: `SigningKey`, or a token that keeps the key."""

    @property
    def kid(self) -> str: ...  # noqa: D102 - as of `SigningKey`
    @property
    def public(self) -> bytes: ...  # noqa: D102
    def sign(self, message: bytes) -> bytes: ...  # noqa: D102


class SigningKey:
    """A private key that knows its own name. Never printed, never logged."""

    __slots__ = ("_private", "kid", "public")

    def __init__(self, private: Ed25519PrivateKey) -> None:
        self._private = private
        self.public = private.public_key().public_bytes_raw()
        self.kid = thumbprint(jwk_of(self.public))

    @classmethod
    def generate(cls) -> SigningKey:
        """A fresh key from the system's random source."""
        return cls(Ed25519PrivateKey.generate())

    @classmethod
    def from_seed(cls, seed: bytes) -> SigningKey:
        """The key of a 32-byte seed (RFC 8032 5.1.5); for published vectors and demonstrations."""
        return cls(Ed25519PrivateKey.from_private_bytes(seed))

    @property
    def jwk(self) -> Jwk:
        """The public half."""
        return jwk_of(self.public)

    def sign(self, message: bytes) -> bytes:
        """Ed25519 signature, 64 bytes."""
        return self._private.sign(message)

    def pem(self, passphrase: str | None = None) -> bytes:
        """Text for a key file, as `keys.write` makes it."""
        return write(self._private, passphrase)

    @classmethod
    def from_pem(cls, pem: bytes, passphrase: str | None = None) -> SigningKey:
        """Read back what `pem` wrote.

        Raises `Malformed` with a code that tells a wrong passphrase from a bad file.
        """
        return cls(read(pem, passphrase))
