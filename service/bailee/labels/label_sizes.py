"""Sizes and shifts of labels as people type them, in millimeters: `50x25` and `0.6,-0.4`."""

from __future__ import annotations

import re
from typing import Final

from bailee.errors import Malformed

SIZE: Final = r"^[0-9]{1,3}(\.[0-9])?x[0-9]{1,3}(\.[0-9])?$"
SHIFT: Final = r"^-?[0-9](\.[0-9]{1,2})?,-?[0-9](\.[0-9]{1,2})?$"

LEAST_SAMPLE: Final = (38, 19)
"""A QR code of 29 modules at 0.375 mm with its quiet zone is 13.9 mm high; beside it the number is read."""
LEAST_ENVELOPE: Final = (60, 40)
_MOST: Final = 300
_FURTHEST: Final = 5


def read_size(text: str, least: tuple[int, int]) -> tuple[float, float]:
    """Width and height. Raises Malformed `label-size`, below `least` and above 300 mm too."""
    if re.fullmatch(SIZE, text) and text.isascii():
        width, height = map(float, text.split("x"))
        if least[0] <= width <= _MOST and least[1] <= height <= _MOST:
            return width, height
    raise Malformed(
        f"This label cannot be {text!r}: write width x height in millimeters, like 50x25, at least"
        f" {least[0]}x{least[1]} and at most {_MOST}x{_MOST}.",
        code="label-size",
        least=list(least),
    )


def read_shift(text: str) -> tuple[float, float]:
    """To the right and down. Raises Malformed `label-shift`, above 5 mm too."""
    if re.fullmatch(SHIFT, text) and text.isascii():
        right, down = map(float, text.split(","))
        if max(abs(right), abs(down)) <= _FURTHEST:
            return right, down
    raise Malformed(
        f"Labels cannot be shifted by {text!r}: write right,down in millimeters, like 0.6,-0.4, each up to"
        f" {_FURTHEST}; a minus sign is left or up.",
        code="label-shift",
    )
