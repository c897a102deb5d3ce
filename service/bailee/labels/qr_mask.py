"""The choice of a QR code's mask, ISO/IEC 18004 7.8, without drawing the symbol eight times.

A mask is XORed over the data modules, and the format bits depend on level and mask alone. So two masks
of the same version and level differ by the same modules whatever the text says: the eight differences
are drawn once per version and level, and a symbol drawn once yields all eight candidates by XOR. The
penalty is counted on whole symbols held as one integer: shifting it by one module or by one line and
taking AND compares every module with its neighbor at once.

The standard scores the complete symbol, format bits included; so do we.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from typing import Literal, cast

from bailee.frozen import frozen

MASKS = range(8)
RUN, BLOCK, FINDER, BALANCE = 3, 3, 40, 10
"""The weights N1 to N4 of ISO/IEC 18004 table 11."""

_LONG_RUN = 5
_FINDER_LIKE = ("10111010000", "00001011101")


@frozen
class Lines:
    """All modules of a symbol in one integer, line after line, a zero between lines; 1 is dark."""

    along: int
    across: int
    size: int

    def __xor__(self, other: Lines) -> Lines:
        return Lines(self.along ^ other.along, self.across ^ other.across, self.size)

    def rows(self) -> tuple[int, ...]:
        """Give one integer a row."""
        one = (1 << self.size) - 1
        return tuple(self.along >> (self.size + 1) * y & one for y in reversed(range(self.size)))


def masked(text: str, version: int, level: Literal["Q", "H"]) -> tuple[int, ...]:
    """Return the rows of the QR code of an alphanumeric text, under the mask of least penalty (the lowest of
    equals).
    """
    plain = _drawn(text, version, level, 0)
    candidates = (plain ^ difference for difference in _differences(version, level))
    return min(candidates, key=penalty).rows()


def penalty(lines: Lines) -> int:
    """Score a symbol as ISO/IEC 18004 7.8.3.1 does: long runs, blocks, finder look-alikes, imbalance."""
    size, stride, inside = lines.size, lines.size + 1, _inside(lines.size)
    score = 0
    for dark in (lines.along, lines.across):
        light = dark ^ inside
        for tone in (dark, light):
            pairs = tone & tone >> 1
            long = pairs & pairs >> 2 & tone >> _LONG_RUN - 1
            # A run of n >= 5 holds n - 4 windows of five and costs 3 + (n - 5).
            score += long.bit_count() + (RUN - 1) * (long & ~(long >> 1)).bit_count()
        score += FINDER * sum(_matches(dark, light, pattern) for pattern in _FINDER_LIKE)
    light = lines.along ^ inside
    for tone in (lines.along, light):
        pairs = tone & tone >> 1
        score += BLOCK * (pairs & pairs >> stride).bit_count()
    modules = size * size
    return score + BALANCE * (abs(20 * lines.along.bit_count() - 10 * modules) // modules)


def _matches(dark: int, light: int, pattern: str) -> int:
    found = -1
    for shift, module in enumerate(pattern):
        found &= (dark if module == "1" else light) >> shift
    return found.bit_count()


@cache
def _inside(size: int) -> int:
    return int("0".join(["1" * size] * size), 2)


@cache
def _differences(version: int, level: Literal["Q", "H"]) -> tuple[Lines, ...]:
    first = _drawn("A", version, level, 0)
    return tuple(first ^ _drawn("A", version, level, mask) for mask in MASKS)


def _drawn(text: str, version: int, level: Literal["Q", "H"], mask: int) -> Lines:
    from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_Q
    from qrcode.main import QRCode
    from qrcode.util import MODE_ALPHA_NUM, QRData

    correction = ERROR_CORRECT_H if level == "H" else ERROR_CORRECT_Q
    code = QRCode(version=version, error_correction=correction, border=0, mask_pattern=mask)
    code.add_data(QRData(text.encode("ascii"), mode=cast("Literal[2]", MODE_ALPHA_NUM)), optimize=0)
    code.make(fit=False)
    matrix = code.get_matrix()
    return Lines(_joined(matrix), _joined(zip(*matrix, strict=True)), len(matrix))


def _joined(lines: Iterable[Sequence[object]]) -> int:
    return int("0".join("".join("1" if module else "0" for module in line) for line in lines), 2)
