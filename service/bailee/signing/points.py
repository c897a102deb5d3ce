"""Which Ed25519 public keys are allowed to speak.

RFC 8032 leaves verifiers room: for keys that are not canonical encodings, or that have a small-order
component, libraries disagree about which signatures hold, and for small-order keys one fixed signature fits
every message. So a key must decode canonically (RFC 8032 5.1.3) to a point of prime order L; then verifiers
agree.

The order is asked of X25519 (RFC 7748), the same curve in other coordinates: multiplied by a scalar that is
-1 modulo L and a multiple of 8, a point of prime order becomes its own opposite, which has the same
coordinate u, and a small-order component is lost. A tenth of a millisecond a key.
"""

from __future__ import annotations

from typing import Final

from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey

from bailee.errors import Forged

_P: Final = 2**255 - 19
_D: Final = -121665 * pow(121666, -1, _P) % _P
_L: Final = 2**252 + 27742317777372353535851937790883648493
# Of the scalars wanted the only one between 2^254 and 2^255: those RFC 7748 5 takes as they are.
_MINUS_ONE: Final = X25519PrivateKey.from_private_bytes((5 * _L - 1).to_bytes(32, "little"))


def refuse_weak(public: bytes) -> None:
    """Raise `Forged` (`weak-key`) unless the 32 bytes are a canonical point of prime order."""
    y = int.from_bytes(public, "little") & (1 << 255) - 1  # without the sign of x
    if len(public) != 32 or y >= _P or not _on_curve(y) or not _of_prime_order(y):
        raise Forged(
            "This public key is malformed or weak, and no signature of it is accepted: make a new key.",
            code="weak-key",
        )


def _on_curve(y: int) -> bool:
    """RFC 8032 5.1.3: x^2 = (y^2 - 1) / (d y^2 + 1) is a square, and not zero: such x have no sign, and small
    order.
    """
    return pow((y * y - 1) * (_D * y * y + 1), (_P - 1) // 2, _P) == 1


def _of_prime_order(y: int) -> bool:
    """RFC 7748 4.1: u = (1 + y) / (1 - y)."""
    u = ((1 + y) * pow(1 - y, -1, _P) % _P).to_bytes(32, "little")
    try:
        return _MINUS_ONE.exchange(X25519PublicKey.from_public_bytes(u)) == u
    except (
        ValueError
    ):  # of a point of small order nothing is left, and no secret is made of nothing (RFC 7748 6.1)
        return False
