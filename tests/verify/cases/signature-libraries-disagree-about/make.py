"""See README.md beside this."""

from __future__ import annotations

from hashlib import sha256, sha512

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from bailee.ledger.base64url import b64u, unb64u
from bailee.verify.bundle import Bundle
from builders import CLERK
from log_simulator import LogSimulator
from spoiling import ORDER, keep, log_it


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """R is the identity: [S]B = [k]A holds for S = k times the secret scalar. Or S + L in place of S."""
    text = keep(town)
    signing_input, _, signature = text.rpartition(".")
    if variant == "R is the identity":
        seed, public = sha256(f"{CLERK.org}/{CLERK.name}".encode()).digest(), town.device(CLERK).key.public
        half = bytearray(sha512(seed).digest()[:32])
        half[0], half[31] = half[0] & 248, (half[31] & 63) | 64
        r = bytes([1]) + bytes(31)
        k = int.from_bytes(sha512(r + public + signing_input.encode()).digest(), "little")
        made = r + (k * int.from_bytes(half, "little") % ORDER).to_bytes(32, "little")
        Ed25519PublicKey.from_public_bytes(public).verify(made, signing_input.encode())  # OpenSSL takes it
    else:
        raw = unb64u(signature)
        made = raw[:32] + (int.from_bytes(raw[32:], "little") + ORDER).to_bytes(32, "little")
    return log_it(town, f"{signing_input}.{b64u(made)}")
