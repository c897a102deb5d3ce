"""A page that shows where a printer puts its labels: cross hairs, the frame of each label, two rulers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

from bailee.labels.drawing import (
    MM_PER_INCH,
    Drawing,
    Grid,
    Label,
    Mark,
    Separator,
    Text,
    Typeface,
    fitted,
    grid,
)
from bailee.labels.pdf import DPI, Paper
from bailee.labels.sheet import Sheet

_HAIR_MM: Final = 0.2
_CROSS_MM: Final = 6
_INCH: Final = float(MM_PER_INCH)
_AT_FULL_SIZE: Final = "Print at 100 %."
_MEASURE: Final = ("Both rulers measure true,", "or the printer scales.")
_OVER_RULER_MM: Final = 6.8
"""From the middle of the rulers to words that stand over their captions."""
_EXAMPLE: Final = ("Example: frames 0.6 mm", "too far left, 0.4 mm too low:", "shift 0.6,-0.4")
_LEADING_MM: Final = 3.6
_LONGEST: Final = 4 * _INCH
"""Of the rulers."""


def one_label(size_mm: tuple[float, float]) -> Sheet:
    """A roll as a sheet that is one label."""
    return Sheet(size_mm, 1, 1, size_mm, size_mm, (0, 0))


def alignment_pdf(
    sheet: Sheet, name: str, *, shift_mm: tuple[float, float] = (0, 0), printed: datetime | None = None
) -> bytes:
    """One page, moved right and down by `shift_mm` as the labels will be, with the `name` of the layout.

    Where a label is too narrow for 100 mm and 4 in, the rulers have as many whole steps as it holds.
    """
    page = grid(DPI, *sheet.paper)
    paper = Paper(page, "Test page for labels", printed)
    paper.add_page()
    face = paper.face(Label("", ""))
    words = _words(page, sheet, face, _told(sheet, name))
    marks = (*_crosses(page), *_frames(page, sheet), *_rulers(page, sheet, face), *words)
    paper.draw(Drawing(page, "Test page", name, marks), *map(page.dots, shift_mm))
    return paper.file()


def _line(page: Grid, left: float, top: float, width: float, height: float) -> Separator:
    return Separator(
        *(page.dots(side) for side in (left, top)), *(max(1, page.dots(side)) for side in (width, height))
    )


def _crosses(page: Grid) -> Iterator[Separator]:
    """Their centers stand as far from both edges as a cross is wide, or in a label, as half of it."""
    width, height = (float(page.mm(side)) for side in (page.width, page.height))
    arm = min(_CROSS_MM, height / 6) / 2
    for x in (2 * arm, width - 2 * arm):
        for y in (2 * arm, height - 2 * arm):
            yield _line(page, x - arm, y - _HAIR_MM / 2, 2 * arm, _HAIR_MM)
            yield _line(page, x - _HAIR_MM / 2, y - arm, _HAIR_MM, 2 * arm)


def _frames(page: Grid, sheet: Sheet) -> Iterator[Separator]:
    """Of each label, but of those on which the rulers lie: a ruler is read by its own lines alone."""
    wide, high = sheet.label
    begin, end = ((sheet.paper[0] + side * _LONGEST) / 2 for side in (-1, 1))
    for place in range(sheet.places):
        left, top = sheet.corner_of(place)
        is_ruled = place // sheet.columns == sheet.rows // 2 and left < end and begin < left + wide
        if is_ruled and sheet.places > 1:
            continue
        for down in (0, high - _HAIR_MM):
            yield _line(page, left, top + down, wide, _HAIR_MM)
        for across in (0, wide - _HAIR_MM):
            yield _line(page, left + across, top, _HAIR_MM, high)


def _rulers(page: Grid, sheet: Sheet, face: Typeface) -> Iterator[Mark]:
    """Two rulers in the middle of the middle row: millimeters above, eighths of an inch below."""
    width, height = (float(page.mm(side)) for side in (page.width, page.height))
    middle = sheet.corner_of(sheet.rows // 2 * sheet.columns)[1] + sheet.label[1] / 2
    room = width - 2 * min(_CROSS_MM, height / 6) - 2
    for step, parts, most, unit, base in (
        (10.0, 10, 10, "mm", middle - 1),
        (_INCH, 8, 4, "in", middle + 6),
    ):
        steps = min(most, int(room / step))
        left = (width - steps * step) / 2
        yield _line(page, left, base, steps * step + _HAIR_MM, _HAIR_MM)
        for tick in range(steps * parts + 1):
            long = 3.0 if tick % parts == 0 else 2.2 if tick * 2 % parts == 0 else 1.4
            yield _line(page, left + tick * step / parts, base - long, _HAIR_MM, long)
        end = f"{steps * 10 if unit == 'mm' else steps} {unit}"
        size = page.dots(2.5)
        text = fitted(face, Text(0, page.dots(base - 3.4), size, 0, end), page.width, 1)
        yield Text(page.dots(left + steps * step) - text.width, text.y, size, text.width, end)


def _told(sheet: Sheet, name: str) -> Sequence[Sequence[str]]:
    """The lines in the first labels; a roll has one line, and its size names it."""
    size = f"{sheet.label[0]:g} x {sheet.label[1]:g} mm"
    if sheet.places == 1:
        return ((f"{size}. {_AT_FULL_SIZE}",),)
    return (f"{name}: {size}", _AT_FULL_SIZE, *_MEASURE), _EXAMPLE


def _words(page: Grid, sheet: Sheet, face: Typeface, told: Sequence[Sequence[str]]) -> Iterator[Text]:
    """In the middle of the labels; of a roll between the upper cross hairs."""
    wide, high = sheet.label
    first, room = high / 6 + 1, wide - 6
    if sheet.places == 1:
        first, room = min(first, high / 2 - _OVER_RULER_MM), wide - 3 * min(_CROSS_MM, high / 6) - 1
    for place, lines in enumerate(told):
        left, top = sheet.corner_of(place)
        for n, words in enumerate(lines):
            base = page.dots(top + first + n * _LEADING_MM)
            text = fitted(face, Text(0, base, page.dots(2.5), 0, words), page.dots(room), 1)
            yield replace(text, x=page.dots(left) + (page.dots(wide) - text.width) // 2)
