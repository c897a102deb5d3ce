"""A label as marks on a grid of printer dots, before it becomes a PNG, an SVG or a PDF.

Everything sits on whole dots, so a module has the same width wherever it is printed; half-dot modules
are what makes a small symbol unreadable. Coordinates run from the upper left corner.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Protocol

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.labels.symbols import Matrix

MM_PER_INCH = Fraction(254, 10)


@frozen
class Label:
    """What one label says: its number, the text of its QR code (see `symbols.qr_text`) and further lines.

    A label carries no personal data: the lines are for lots, dates, counts and seal numbers.
    """

    number: str
    url_text: str
    lines: tuple[str, ...] = ()


@frozen
class Grid:
    """A printable area: `width` x `height` dots at `dpi` dots an inch."""

    dpi: int
    width: int
    height: int

    def dots(self, mm: float) -> int:
        """Give the nearest whole number of dots to a length in millimeters."""
        return round(Fraction(mm) * self.dpi / MM_PER_INCH)

    def mm(self, dots: int) -> Fraction:
        """Give a number of dots in millimeters."""
        return dots * MM_PER_INCH / self.dpi


def grid(dpi: int, width_mm: float, height_mm: float) -> Grid:
    """Make the grid nearest to a paper size in millimeters."""
    whole = Grid(dpi, 0, 0)
    return Grid(dpi, whole.dots(width_mm), whole.dots(height_mm))


@frozen
class Symbol:
    """A QR code whose first dark module has its upper left corner at `x`, `y`.

    A module is `module` dots wide.
    """

    x: int
    y: int
    module: int
    matrix: Matrix


@frozen
class Text:
    """One line of text, `size` dots an em and `width` dots long, starting at `x` on the baseline `y`.

    What is `light` is white: it stands on a separator drawn before it.
    """

    x: int
    y: int
    size: int
    width: int
    words: str
    bold: bool = False
    light: bool = False


@frozen
class Separator:
    """A filled rectangle: a line that separates, or the ground of light words."""

    x: int
    y: int
    width: int
    height: int


Mark = Symbol | Text | Separator


@frozen
class Drawing:
    """A finished label; `title` is its number and `description` all it says, for those who cannot see it."""

    grid: Grid
    title: str
    description: str
    marks: tuple[Mark, ...]


class Typeface(Protocol):
    """What setting text needs to know of the letters it will be drawn with."""

    def ems(self, words: str, *, bold: bool) -> float:
        """Give the width of a text as a multiple of the type size."""
        ...


def fitted(face: Typeface, text: Text, room: int, smallest: int) -> Text:
    """Set a text in its size, or smaller where it would not fit into `room` dots.

    Raises Malformed `label-room` when even `smallest` is too wide: a cut-off number or date misleads.
    """
    ems = face.ems(text.words, bold=text.bold)
    size = min(text.size, int(room / ems)) if ems else text.size
    if size < smallest:
        raise Malformed(
            f"{text.words!r} is too long for this label: shorten it or use a larger label.",
            code="label-room",
            words=text.words,
        )
    return replace(text, size=size, width=round(ems * size))
