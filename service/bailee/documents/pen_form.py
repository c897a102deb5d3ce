"""The sheet that goes on by pen when power and network are gone: one page, six cassettes, black on white.

All of it lies within 190.5 x 254 mm, which Letter and A4 both hold at 100 %. What is on it, and by which
letters and codes, says `asking.pen_sheet`; here is where it stands. A line bears the number of an issued
cassette: no second label is stuck on anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

from bailee.asking.pen_sheet import FOOT, HEAD, LINES, ROOMS, TABLE, Cell
from bailee.domain.numbers import grouped
from bailee.frozen import field, frozen
from bailee.labels.drawing import Drawing, Grid, Label, Mark, Separator, Symbol, Text, Typeface, fitted, grid
from bailee.labels.pdf import DPI, Paper
from bailee.labels.placing import refuse_small
from bailee.labels.symbols import QR_QUIET, qr
from bailee.presentation import words

PAPER_MM: Final = (215.9, 279.4)
PRINTED_MM: Final = (190.5, 254)
"""In the middle of the paper: within the margins of Letter and of A4."""

_LEFT, _TOP = ((paper - printed) / 2 for paper, printed in zip(PAPER_MM, PRINTED_MM, strict=True))
_WIDE: Final = 190.0
_HEAD_MM, _RULES_MM, _BAND_MM, _TITLES_MM, _ROW_MM = 22, 5, 8, 7, 16
_CODES_MM, _INK_MM, _FOOT_MM = 18, 9, 8
_QR_MM: Final = 20
_SMALL, _TITLE, _NUMBER = 2.3, 4.2, 6.4
"""Type, millimeters an em; 2.3 is 6.5 points."""
_SMALLEST: Final = 2.28
_LETTER_MM: Final = 5
_HAIR, _LINE = 0.12, 0.3

_RULES: Final = "Ink only. Wrong: one line through it, initials, time; never overwrite. One pump a page."
_ENTERING: Final = (
    "Local codes and your license come first. Do not go in: sewage, live wires near water, a smell of gas,"
    " sagging ceilings, asbestos or lead."
)
_CAREFUL: Final = (
    "Disturb no growth; N-95 and gloves where that may happen. Attics, crawl spaces: not alone. No outdoor"
    " run in lightning or storm. Call the office: in, and out."
)
_CAUTIONS: Final = (_ENTERING, _CAREFUL)
_BANDS: Final[Sequence[Mapping[tuple[str, str], float]]] = (
    {("A", "visit"): 32, ("A", "zone"): 46, ("B", "firm"): 34, ("C", "lab"): 34, ("D", "project"): 44},
    {("E", "analysis"): 62, ("F", "turnaround"): 44, ("F", "due"): 38, ("G", "purchase"): 46},
    {
        ("H", "ventilation"): 24, ("H", "windows"): 36, ("H", "cleaners"): 38, ("H", "fresh_air"): 24,
        ("H", "fresh_air_off"): 24, ("H", "cleaned"): 39,
    },
    {
        ("I", "pump"): 28, ("I", "meter"): 28, ("I", "through"): 30, ("I", "before_at"): 26,
        ("I", "before"): 25, ("I", "after_at"): 24, ("I", "after"): 24,
    },
    {
        ("J", "in_at"): 30, ("J", "in_c"): 17, ("J", "in_pct"): 13, ("J", "out_at"): 32, ("J", "out_c"): 17,
        ("J", "out_pct"): 13, ("J", "sky"): 20, ("J", "wind"): 17, ("J", "rain"): 28,
    },
)  # fmt: skip
"""The lines above the cassettes and the widths of their blanks, with the letter before the first."""
_TABLE: Final = {
    "sample": 30, "serial": 18, "kind": 6, "room": 12, "area": 7, "start": 15, "run": 11, "height": 10,
    "distance": 11, "flow_before": 16, "covers": 9, "point": 40,
}  # fmt: skip
"""Columns. The flow after stands under that before; near, photo and remarks under and beside the point."""
_NUMBER_MM: Final = 5
_KEPT: Final = {("K", "kept"): 30, ("K", "where"): 30, ("K", "from"): 60, ("K", "until"): 65}
_HANDS: Final = ("relinquished: name", "sign", "time", "received: name", "sign", "time", "to", "purpose")
_HANDS_MM: Final = (38, 24, 18, 38, 24, 18, 16, 14)


@frozen
class PenSheet:
    """One page of a form. `address` is inside its QR code; `filled` are the blanks of A to F that are known,
    by column; what does not fit there is left to the pen.
    """

    form: str
    address: str
    page: int = 1
    pages: int = 1
    filled: Mapping[str, str] = field(default_factory=dict)


def pdf(sheets: Sequence[PenSheet], at: datetime) -> bytes:
    """A page for each, made at `at`. The same input gives the same bytes."""
    page = grid(DPI, *PAPER_MM)
    paper = Paper(page, "Custody form, by pen", at)
    face = paper.face(Label("", ""))
    for sheet in sheets:
        paper.add_page()
        drawing = Drawing(page, grouped(sheet.form), "", tuple(_Page(page, face).marks(sheet)))
        paper.draw(drawing, page.dots(_LEFT), page.dots(_TOP))
    return paper.file()


class _Page:
    def __init__(self, page: Grid, face: Typeface) -> None:
        self._page, self._face = page, face

    def marks(self, sheet: PenSheet) -> Iterator[Mark]:
        """From top to bottom; every height is that of the drawing."""
        yield from self._head(sheet)
        top = float(_HEAD_MM)
        yield from self._bar(top, _RULES_MM)
        yield replace(self._text(1.5, top + 3.5, _RULES, _SMALL + 0.3, _WIDE - 3, bold=True), light=True)
        top += _RULES_MM
        for band in _BANDS:
            yield from self._band(top, _BAND_MM, band, HEAD, sheet.filled)
            top += _BAND_MM
        yield from self._table(top)
        top += _TITLES_MM + LINES * _ROW_MM
        yield from self._codes(top)
        top += _CODES_MM
        yield from self._band(top, _BAND_MM, _KEPT, FOOT, {})
        top += _BAND_MM
        yield from self._ink(top)
        top += 2 * _INK_MM
        yield from self._hands(top)
        top += 3 * _INK_MM
        last = ("entered by", 44), ("on", 30), ("entries", 36), ("photo sha-256, first 16", 80)
        yield from self._blanks(top, _FOOT_MM, 0, last)
        yield self._rule(0, top, _WIDE)

    def _head(self, sheet: PenSheet) -> Iterator[Mark]:
        yield self._text(0, 5.2, "CUSTODY FORM, BY PEN", _TITLE, 80, bold=True)
        page = self._text(0, 5.2, f"page {sheet.page} of {sheet.pages}", _SMALL + 0.5, 40)
        yield replace(page, x=self._page.dots(_WIDE - _QR_MM - 4) - page.width)
        yield self._text(0, 13, grouped(sheet.form), _NUMBER, 120, bold=True)
        for n, said in enumerate(_CAUTIONS):
            yield self._text(0, 17.4 + n * 3.1, said, _SMALL, _WIDE - _QR_MM - 4)
        matrix = qr(sheet.address)
        module = self._page.dots(_QR_MM) // (matrix.size + 2 * QR_QUIET)
        refuse_small(self._page, module)
        side = matrix.size * module
        corner = self._page.dots(_WIDE) - (QR_QUIET * module + side)
        yield Symbol(corner, QR_QUIET * module, module, matrix)

    def _band(
        self,
        top: float,
        high: float,
        widths: Mapping[tuple[str, str], float],
        lines: Mapping[str, Sequence[Cell]],
        filled: Mapping[str, str],
    ) -> Iterator[Mark]:
        """Letters with their blanks, one line over the whole width."""
        yield self._rule(0, top, _WIDE)
        left, before = 0.0, ""
        for (letter, column), width in widths.items():
            cell = next(each for each in lines[letter] if each.column == column)
            begin = left
            if letter != before:
                yield self._text(left + 0.6, top + high - 2, letter, 3.2, _LETTER_MM, bold=True)
                begin, before = left + _LETTER_MM, letter
            yield from self._blank(
                top, high, begin, left + width, cell.caption, cell.unit, filled.get(column, "")
            )
            left += width

    def _blanks(
        self, top: float, high: float, left: float, blanks: Sequence[tuple[str, float]]
    ) -> Iterator[Mark]:
        for caption, width in blanks:
            yield from self._blank(top, high, left, left + width, caption)
            left += width

    def _blank(
        self, top: float, high: float, left: float, right: float, caption: str, unit: str = "", said: str = ""
    ) -> Iterator[Mark]:
        """Words, a line to write on, and its unit; what is known already stands on the line."""
        base = top + high - 2
        text = self._text(left, base, caption, _SMALL, right - left - 6)
        yield text
        begin = left + self._mm(text.width) + 1
        end = right - 1.2
        if unit:
            after = self._text(0, base, unit, _SMALL, right - left)
            end -= self._mm(after.width) + 0.6
            yield replace(after, x=self._page.dots(end + 0.6))
        if said and self._face.ems(said, bold=True) * _SMALL < end - begin - 0.5:
            yield self._text(begin + 0.4, base - 0.5, said, 2.8, end - begin - 0.4, bold=True)
        yield self._rule(begin, base + 0.5, end - begin, _HAIR)

    def _table(self, top: float) -> Iterator[Mark]:
        """Six numbered rows under their titles."""
        captions = {cell.column: cell.caption for cell in TABLE}
        bottom = top + _TITLES_MM + LINES * _ROW_MM
        yield self._text(0.8, top + 4.6, "#", _SMALL, _NUMBER_MM)
        left = float(_NUMBER_MM)
        for column, width in _TABLE.items():
            title = {"flow_before": "flow L/min", "point": "point, near, photo, remarks"}.get(
                column, captions[column]
            )
            yield self._text(left + 0.6, top + 4.6, title, _SMALL, width - 0.8)
            yield self._rule(left, top, 0, _HAIR, bottom - top)
            left += width
        yield self._rule(0, top, _WIDE)
        for row in range(LINES):
            upper = top + _TITLES_MM + row * _ROW_MM
            yield self._rule(0, upper, _WIDE, _LINE if row == 0 else _HAIR)
            yield self._text(1, upper + 6.4, str(row + 1), 4.4, _NUMBER_MM, bold=True)
            yield from self._inside(upper, captions)

    def _inside(self, upper: float, captions: Mapping[str, str]) -> Iterator[Mark]:
        """What a row divides: two flows, and the last column."""
        lefts = {column: _NUMBER_MM + sum(list(_TABLE.values())[:n]) for n, column in enumerate(_TABLE)}
        half, flow, last = upper + _ROW_MM / 2, lefts["flow_before"], lefts["point"]
        yield self._text(flow + 0.5, upper + 2.6, captions["flow_before"], _SMALL, 10)
        yield self._text(flow + 0.5, half + 2.6, captions["flow_after"], _SMALL, 10)
        yield self._rule(flow, half, _TABLE["flow_before"], _HAIR)
        for begin, base, column in (
            (last, upper, "point"), (last + 20, upper, "near"), (last, half, "remarks"),
        ):  # fmt: skip
            yield self._text(begin + 0.5, base + 2.6, captions[column], _SMALL, 38)
        yield self._rule(last, half, _TABLE["point"], _HAIR)
        yield self._rule(last + 20, upper, 0, _HAIR, _ROW_MM / 2)

    def _codes(self, top: float) -> Iterator[Mark]:
        """What the short codes mean, in the words of the record."""
        yield self._rule(0, top, _WIDE)
        for n, said in enumerate(code_lines()):
            yield self._text(0.6, top + 2.9 + n * 2.9, said, _SMALL, _WIDE - 1.2)

    def _ink(self, top: float) -> Iterator[Mark]:
        """L and M: who took them and when, who counted them."""
        for n, (letter, blanks) in enumerate(
            (
                ("L", (("I took these: name", 62), ("sign", 48), ("date", 30), ("time", 22), ("UTC", 23))),
                (
                    "M",
                    (("I counted", 22), ("cassettes and read their numbers: name", 100), ("sign", 63)),
                ),
            )
        ):
            upper = top + n * _INK_MM
            yield self._rule(0, upper, _WIDE)
            yield self._text(0.6, upper + _INK_MM - 2, letter, 3.2, _LETTER_MM, bold=True)
            yield from self._blanks(upper, _INK_MM, _LETTER_MM, blanks)

    def _hands(self, top: float) -> Iterator[Mark]:
        """N: three times relinquished and received; captions over the ink."""
        for row in range(3):
            upper = top + row * _INK_MM
            yield self._rule(0, upper, _WIDE, _LINE if row == 0 else _HAIR)
            left = 0.0
            for caption, width in zip(_HANDS, _HANDS_MM, strict=True):
                inset = 0.6
                if row == 0 and left == 0:
                    yield self._text(0.6, upper + 4, "N", 3.2, _LETTER_MM, bold=True)
                    inset = float(_LETTER_MM)
                yield self._text(left + inset, upper + 2.6, caption, _SMALL, width - inset - 0.4)
                if left:
                    yield self._rule(left, upper, 0, _HAIR, _INK_MM)
                left += width

    def _bar(self, top: float, high: float) -> Iterator[Mark]:
        dots = self._page.dots
        yield Separator(0, dots(top), dots(_WIDE), dots(high))

    def _text(
        self, left: float, base: float, said: str, size: float, room: float, *, bold: bool = False
    ) -> Text:
        dots = self._page.dots
        text = Text(dots(left), dots(base), dots(size), 0, said, bold)
        return fitted(self._face, text, dots(room), dots(_SMALLEST))

    def _rule(self, left: float, top: float, wide: float, thick: float = _LINE, high: float = 0) -> Separator:
        """A line: along `wide`, or down `high` where it is not 0."""
        dots = self._page.dots
        stroke = max(1, dots(thick))
        return Separator(
            dots(left), dots(top), dots(wide) if wide else stroke, dots(high) if high else stroke
        )

    def _mm(self, dots: int) -> float:
        return float(self._page.mm(dots))


def code_lines() -> Iterator[str]:
    """The codes of the sheet with their meaning, some columns a line; the rooms are two."""
    named = {cell.column: cell for cell in (*TABLE, *HEAD["H"], *HEAD["J"], *FOOT["K"], *FOOT["N"])}
    half = len(ROOMS) // 2

    def told(column: str, part: slice = slice(None)) -> str:
        codes = ", ".join(f"{key} {says}" for key, _, says in named[column].ask.choices[part])
        return f"{words.plain(column)}: {codes}"

    yield "   ".join(map(told, ("kind", "area", "covers", "wind")))
    yield told("room", slice(half))
    yield f"{told('room', slice(half, None))}   {told('where')}"
    yield told("near")
    yield "   ".join(map(told, ("kept", "purpose")))
    yield "   ".join(map(told, ("ventilation", "fresh_air", "sky")))
