"""X25519 (RFC 7748 5) in whole numbers: `signing/points.py` asks it about public keys, and the browser
answers too late.

For public data only: it takes more or less time for other numbers.
"""

from __future__ import annotations

from typing import Final, Self

_P: Final = 2**255 - 19
_A24: Final = 121665
_KEY_BYTES: Final = 32


class PublicKey:
    """A coordinate u."""

    def __init__(self, u: int) -> None:
        self.u = u

    @classmethod
    def from_public_bytes(cls, data: bytes) -> Self:
        """From 32 bytes, the highest bit left out (RFC 7748 5). Raises `ValueError`."""
        return cls(_number(data) & (1 << 255) - 1)


class PrivateKey:
    """A scalar."""

    def __init__(self, scalar: int) -> None:
        self._scalar = scalar

    @classmethod
    def from_private_bytes(cls, data: bytes) -> Self:
        """From 32 bytes, made a multiple of 8 from 2^254 on (RFC 7748 5). Raises `ValueError`."""
        return cls(_number(data) & (1 << 255) - 8 | 1 << 254)

    def exchange(self, peer_public_key: PublicKey) -> bytes:
        """The coordinate u of so many times the point. Raises `ValueError` when it is zero (RFC 7748 6.1)."""
        found = _times(self._scalar, peer_public_key.u % _P)
        if not found:
            raise ValueError("The point has a small order")
        return found.to_bytes(_KEY_BYTES, "little")


def _number(data: bytes) -> int:
    if len(data) != _KEY_BYTES:
        raise ValueError("An X25519 key is 32 bytes long")
    return int.from_bytes(data, "little")


def _times(scalar: int, u: int) -> int:
    """RFC 7748 5, the ladder: two neighboring multiples, from the highest bit of the scalar down."""
    low, high = (1, 0), (u, 1)
    for bit in f"{scalar:b}":
        if bit == "1":
            high, low = _step(high, low, u)
        else:
            low, high = _step(low, high, u)
    return low[0] * pow(low[1], _P - 2, _P) % _P


def _step(
    doubled: tuple[int, int], other: tuple[int, int], u: int
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Twice the one, and the sum of both, as fractions."""
    a, b = doubled[0] + doubled[1], doubled[0] - doubled[1]
    aa, bb = a * a % _P, b * b % _P
    e = aa - bb
    da, cb = (other[0] - other[1]) * a % _P, (other[0] + other[1]) * b % _P
    return (
        (aa * bb % _P, e * (aa + _A24 * e) % _P),
        ((da + cb) ** 2 % _P, u * (da - cb) ** 2 % _P),
    )
