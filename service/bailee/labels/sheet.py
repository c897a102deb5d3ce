"""Sheets of labels for an office printer, as one PDF."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from enum import Enum

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.labels.drawing import Label, grid
from bailee.labels.pdf import DPI, Paper, counted_labels, no_labels
from bailee.labels.placing import roomiest

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

    def corner_of(self, place: int) -> tuple[float, float]:
        """The upper left corner of a label, places counted row by row from 0."""
        row, column = divmod(place, self.columns)
        return self.corner[0] + column * self.pitch[0], self.corner[1] + row * self.pitch[1]


class Layout(Enum):
    """The sheets we print on, by name. Their dimensions are common practice, no source. Those of 38 x 19 mm
    are ours: a test page shows whether a sheet of yours has them.
    """

    LETTER_30 = Sheet((215.9, 279.4), 3, 10, (66.675, 25.4), (69.85, 25.4), (4.7625, 12.7))
    A4_24 = Sheet((210, 297), 3, 8, (63.5, 33.9), (66.0, 33.9), (7.25, 12.9))
    LETTER_70 = Sheet((215.9, 279.4), 5, 14, (38, 19), (40.5, 19), (7.95, 6.7))
    A4_75 = Sheet((210, 297), 5, 15, (38, 19), (40.5, 19), (5, 6))


def layout_named(name: str) -> Sheet:
    """The sheet that people call `letter-30`."""
    return Layout[name.replace("-", "_").upper()].value


def sheet_pdf(
    labels: Sequence[Label],
    sheet: Sheet = Layout.LETTER_30.value,
    *,
    skip: int = 0,
    shift_mm: tuple[float, float] = (0, 0),
    printed: datetime | None = None,
) -> bytes:
    """Print labels row by row on as many sheets as they need, leaving out `skip` places already used on the
    first, and everything moved right and down by `shift_mm`.

    The same labels, sheet, `skip`, shift and `printed` give the same bytes.
    Raises Malformed: `label-none` without labels, `label-start` when `skip` is not a place on the sheet,
    `label-room` when a label does not fit.
    """
    if not labels:
        raise no_labels()
    if not 0 <= skip < sheet.places:
        raise Malformed(
            f"This sheet has {sheet.places} labels: skip 0 to {sheet.places - 1} of them, not {skip}.",
            code="label-start",
            skip=skip,
            places=sheet.places,
        )
    page, cell = grid(DPI, *sheet.paper), grid(DPI, *sheet.label)
    paper = Paper(page, counted_labels(labels), printed)
    paper.add_page()
    for place, label in enumerate(labels, start=skip):
        on_sheet = place % sheet.places
        if place > skip and on_sheet == 0:
            paper.add_page()
        left, top = (
            page.dots(side + by) for side, by in zip(sheet.corner_of(on_sheet), shift_mm, strict=True)
        )
        paper.draw(roomiest(label, cell, _MODULE, paper.face(label)), left, top)
    return paper.file()
