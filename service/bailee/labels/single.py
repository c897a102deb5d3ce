"""One label at a time: for a thermal label printer, for the screen, and for the outside of an envelope."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.labels import raster, vector
from bailee.labels.drawing import Grid, Label, grid
from bailee.labels.pdf import DPI, Paper, counted_labels, no_labels
from bailee.labels.placing import cassette, envelope, roomiest

MODULES = {203: 4, 300: 5, 600: 12}
"""Dots a QR module by printer resolution: 0.501, 0.423 and 0.508 mm."""

SMALL_MM = (50, 25)
ENVELOPE_MM = (100, 60)

_SVG_DPI, _SVG_MODULE = 254, 5
"""An SVG has no dots: tenths of a millimeter keep its numbers short, and modules at 0.5 mm."""

_NOTO = raster.NotoSans()


def png(
    label: Label, dpi: int = 203, *, size_mm: tuple[float, float] = SMALL_MM, module_dots: int | None = None
) -> bytes:
    """Draw a cassette label as a one-bit PNG of whole printer dots, its resolution in its metadata.

    Raises Malformed: `label-resolution` for a dpi other than 203, 300 or 600, `label-module` for modules
    below 0.375 mm, `label-room` when the label is too small for what it says.
    """
    area = _printer(dpi, size_mm)
    if module_dots is None:
        return raster.png(roomiest(label, area, MODULES[dpi], _NOTO))
    return raster.png(cassette(label, area, module_dots, _NOTO))


def svg(label: Label, *, size_mm: tuple[float, float] = SMALL_MM) -> str:
    """Draw a cassette label as SVG with modules of 0.5 mm at most; raises Malformed `label-room`."""
    return vector.svg(roomiest(label, grid(_SVG_DPI, *size_mm), _SVG_MODULE, _NOTO))


def envelope_png(label: Label, dpi: int = 203, *, size_mm: tuple[float, float] = ENVELOPE_MM) -> bytes:
    """Draw an envelope label as a one-bit PNG; raises Malformed as `png` does."""
    return raster.png(envelope(label, _printer(dpi, size_mm), _NOTO))


def envelope_svg(label: Label, *, size_mm: tuple[float, float] = ENVELOPE_MM) -> str:
    """Draw an envelope label as SVG; raises Malformed `label-room`."""
    return vector.svg(envelope(label, grid(_SVG_DPI, *size_mm), _NOTO))


def envelope_pdf(
    label: Label, *, size_mm: tuple[float, float] = ENVELOPE_MM, printed: datetime | None = None
) -> bytes:
    """Draw an envelope label as a PDF page of its size; the same label and `printed` give the same bytes.

    Raises Malformed `label-room`.
    """
    area = grid(DPI, *size_mm)
    paper = Paper(area, grouped(label.number), printed)
    paper.add_page()
    paper.draw(envelope(label, area, paper.face(label)))
    return paper.file()


def roll_pdf(
    labels: Sequence[Label],
    dpi: int = 203,
    *,
    size_mm: tuple[float, float] = SMALL_MM,
    shift_mm: tuple[float, float] = (0, 0),
    printed: datetime | None = None,
) -> bytes:
    """Draw cassette labels for a roll, in their order: a page each, of the label's size, with no margin.

    Everything is moved right and down by `shift_mm`. Raises Malformed as `png` does, and `label-none`.
    """
    if not labels:
        raise no_labels()
    area = _printer(dpi, size_mm)
    paper = Paper(area, counted_labels(labels), printed)
    for label in labels:
        paper.add_page()
        drawing = roomiest(label, area, MODULES[dpi], paper.face(label))
        paper.draw(drawing, *map(area.dots, shift_mm))
    return paper.file()


def _printer(dpi: int, size_mm: tuple[float, float]) -> Grid:
    if dpi not in MODULES:
        known = ", ".join(map(str, sorted(MODULES)))
        raise Malformed(
            f"Labels are drawn for printers of {known} dots an inch, not {dpi}: look up your printer's"
            " resolution.",
            code="label-resolution",
            dpi=dpi,
        )
    return grid(dpi, *size_mm)
