"""Sheets of labels for an office printer, as one PDF."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from enum import Enum

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.labels.drawing import Label, grid
from bailee.labels.pdf import DPI, Paper
from bailee.labels.placing import cassette

_MODULE = 6
"""0.508 mm at 300 dots an inch."""


@frozen
class Sheet:
    """A sheet of die-cut labels in millimeters; `pitch` is the distance from one label to the next."""

    paper: tuple[float, float]
    columns: int
    rows: int
    label: tuple[float, float]
    pitch: tuple[float, float]
    corner: tuple[float, float]

    @property
    def places(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows


class Layout(Enum):
    """The sheets we print on. Their dimensions are common practice, no source."""

    LETTER_30 = Sheet((215.9, 279.4), 3, 10, (66.675, 25.4), (69.85, 25.4), (4.7625, 12.7))
    A4_24 = Sheet((210, 297), 3, 8, (63.5, 33.9), (66.0, 33.9), (7.25, 12.9))


def sheet_pdf(
    labels: Sequence[Label],
    layout: Layout = Layout.LETTER_30,
    *,
    skip: int = 0,
    printed: datetime | None = None,
) -> bytes:
    """Print labels row by row on as many sheets as they need, leaving out `skip` places already used on the
    first.

    The same labels, layout, `skip` and `printed` give the same bytes.
    Raises Malformed: `label-none` without labels, `label-start` when `skip` is not a place on the sheet,
    `label-room` when a label does not fit.
    """
    sheet = layout.value
    if not labels:
        raise Malformed("There is no label to print: ask for at least one.", code="label-none")
    if not 0 <= skip < sheet.places:
        raise Malformed(
            f"This sheet has {sheet.places} labels: skip 0 to {sheet.places - 1} of them, not {skip}.",
            code="label-start",
            skip=skip,
            places=sheet.places,
        )
    page, cell = grid(DPI, *sheet.paper), grid(DPI, *sheet.label)
    paper = Paper(page, f"{len(labels)} labels", printed)
    paper.add_page()
    for place, label in enumerate(labels, start=skip):
        on_sheet = place % sheet.places
        if place > skip and on_sheet == 0:
            paper.add_page()
        row, column = divmod(on_sheet, sheet.columns)
        left = page.dots(sheet.corner[0] + column * sheet.pitch[0])
        top = page.dots(sheet.corner[1] + row * sheet.pitch[1])
        paper.draw(cassette(label, cell, _MODULE, paper.face(label)), left, top)
    return paper.file()
