"""Which Ed25519 public keys are allowed to speak.

RFC 8032 leaves verifiers room: for keys that are not canonical encodings, or that have a small-order component,
libraries disagree about which signatures hold, and for small-order keys one fixed signature fits every
message. So a key must decode canonically (RFC 8032 5.1.3) to a point of prime order L; then verifiers agree.
Plain integer arithmetic on public data: about 1 ms a key, run once per enrolment.
"""

from __future__ import annotations

from typing import Final

from bailee.errors import Forged

_P: Final = 2**255 - 19
_D: Final = -121665 * pow(121666, _P - 2, _P) % _P
_SQRT_MINUS_ONE: Final = pow(2, (_P - 1) // 4, _P)
_L: Final = 2**252 + 27742317777372353535851937790883648493

_Point = tuple[int, int, int, int]
_IDENTITY: Final[_Point] = (0, 1, 1, 0)


def refuse_weak(public: bytes) -> None:
    """Raise `Forged` (`weak-key`) unless the 32 bytes are a canonical point of prime order."""
    point = _decode(public)
    if point is None or _is_identity(point) or not _is_identity(_times(_L, point)):
        raise Forged(
            "This public key is malformed or weak and cannot be enrolled: make a new key.", code="weak-key"
        )


def _decode(public: bytes) -> _Point | None:
    """RFC 8032 5.1.3, in extended coordinates; None when the encoding is not canonical or no point has it."""
    if len(public) != 32:
        return None
    encoded = int.from_bytes(public, "little")
    sign, y = encoded >> 255, encoded & (1 << 255) - 1
    if y >= _P:
        return None
    numerator, denominator = (y * y - 1) % _P, (_D * y * y + 1) % _P
    x = numerator * pow(denominator, 3, _P) * pow(numerator * pow(denominator, 7, _P), (_P - 5) // 8, _P) % _P
    if (denominator * x * x - numerator) % _P:
        x = x * _SQRT_MINUS_ONE % _P
    if (denominator * x * x - numerator) % _P or (x == 0 and sign):
        return None
    if x & 1 != sign:
        x = _P - x
    return x, y, 1, x * y % _P


def _add(first: _Point, second: _Point) -> _Point:
    """RFC 8032 5.1.4."""
    a = (first[1] - first[0]) * (second[1] - second[0]) % _P
    b = (first[1] + first[0]) * (second[1] + second[0]) % _P
    c = 2 * first[3] * second[3] * _D % _P
    d = 2 * first[2] * second[2] % _P
    e, f, g, h = b - a, d - c, d + c, b + a
    return e * f % _P, g * h % _P, f * g % _P, e * h % _P


def _double(point: _Point) -> _Point:
    """RFC 8032 5.1.4: cheaper than adding a point to itself."""
    a, b, c = point[0] * point[0] % _P, point[1] * point[1] % _P, 2 * point[2] * point[2] % _P
    h, total = a + b, point[0] + point[1]
    e, g = h - total * total % _P, a - b
    f = c + g
    return e * f % _P, g * h % _P, f * g % _P, e * h % _P


def _times(scalar: int, point: _Point) -> _Point:
    """From the highest bit down: L has few bits set in its upper half, so most steps only double."""
    total = _IDENTITY
    for bit in f"{scalar:b}":
        total = _double(total)
        if bit == "1":
            total = _add(total, point)
    return total


def _is_identity(point: _Point) -> bool:
    return point[0] % _P == 0 and (point[1] - point[2]) % _P == 0
