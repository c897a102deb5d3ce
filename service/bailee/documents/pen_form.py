"""The sheet that goes on by pen when power and network are gone: six cassettes on its front, hand-overs and
receiving at a laboratory on its back, black on white.

All of it lies within 190.5 x 254 mm, which Letter and A4 both hold at 100 %. What is on it, and by which
letters and codes, says `asking.pen_sheet`; here is where it stands. A line bears the number of an issued
cassette: no second label is stuck on anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Final, get_args

from bailee.asking import pen_sheet
from bailee.asking.pen_sheet import FOOT, HEAD, ROOMS, TABLE, TICKED, Cell, numbers_of
from bailee.documents.dock_block import CONDITIONS, DECISIONS
from bailee.domain.acts.form import Package
from bailee.domain.lots import Lot
from bailee.domain.numbers import grouped
from bailee.frozen import field, frozen
from bailee.labels.drawing import Drawing, Grid, Label, Mark, Separator, Symbol, Text, Typeface, fitted, grid
from bailee.labels.pdf import DPI, Paper
from bailee.labels.placing import refuse_small
from bailee.labels.symbols import QR_QUIET, qr
from bailee.presentation import words
from bailee.presentation.words import NONE, Heading

PAPER_MM: Final = (215.9, 279.4)
PRINTED_MM: Final = (190.5, 254)
"""In the middle of the paper: within the margins of Letter and of A4."""

_LEFT, _TOP = ((paper - printed) / 2 for paper, printed in zip(PAPER_MM, PRINTED_MM, strict=True))
_WIDE: Final = 190.0
_HEAD_MM, _RULES_MM, _BAND_MM, _ROW_MM = 22, 5, 7, 16
_CODES_MM, _INK_MM, _DOCK_MM = 15.5, 9, 11
_QR_MM: Final = 20
_SMALL, _TITLE, _NUMBER = 2.5, 4.2, 6.4
"""Type, millimeters an em; 2.5 is 7 points, and nothing is set below 6.5."""
_SMALLEST: Final = 2.28
_REPRINT: Final = 3.4
_LETTER_MM: Final = 5
_TICK_MM: Final = 2.8
_HAIR, _LINE = 0.12, 0.3

_RULES: Final = (
    "Ink only. Wrong: one line through it, initials, date; never overwrite. Circle the unit."
    " One pump a page. No label here. Hand-overs, receiving: on the back."
)
_ENTERING: Final = (
    "Local codes and your license come first. Do not go in: sewage, live wires near water, a smell of gas,"
    " sagging ceilings, asbestos or lead."
)
_CAREFUL: Final = (
    "Disturb no growth; N-95 and gloves where that may happen. Attics, crawl spaces: not alone. No outdoor"
    " run in lightning or storm. Call the office: in, and out."
)
_CAUTIONS: Final = (_ENTERING, _CAREFUL)
_CLIENT, _SITE = "client (kept private)", "site (kept private)"
_CONTACT, _REPORT_TO = "contact (kept private)", "report to"
_PRIVATE: Final = "Client, site and contact are kept private: give this sheet only to whom they may be known."
_TYPE, _LOT, _EXPIRES = "cassettes: type", "lot number", "expires"
_BANDS: Final[Sequence[Mapping[tuple[str, str], float]]] = (
    {("A", "visit"): 34, ("A", "zone"): 44, ("B", "firm"): 56, ("C", "lab"): 56},
    {("D", "project"): 50, ("", _CLIENT): 60, ("", _SITE): 80},
    {("", _CONTACT): 95, ("", _REPORT_TO): 95},
    {("E", "analysis"): 62, ("F", "turnaround"): 44, ("F", "due"): 38, ("G", "purchase"): 46},
    {("H", "ventilation"): 116, ("H", "fresh_air"): 74},
    {("H", "windows"): 48, ("H", "cleaners"): 44, ("H", "fresh_air_off"): 44, ("H", "cleaned"): 54},
    {
        ("I", "pump"): 27, ("I", "meter"): 24, ("I", "through"): 38, ("I", "before_at"): 28,
        ("I", "before"): 23, ("I", "after_at"): 27, ("I", "after"): 23,
    },
    {
        ("J", "in_at"): 30.5, ("J", "in_c"): 22, ("J", "in_pct"): 16, ("J", "out_at"): 27.5,
        ("J", "out_c"): 22, ("J", "out_pct"): 16, ("J", "sky"): 14.5, ("J", "wind"): 15.5, ("J", "rain"): 26,
    },
    {("", _TYPE): 50, ("", _LOT): 70, ("", _EXPIRES): 70},
)  # fmt: skip
"""The lines above the cassettes and the widths of their blanks, with the letter before the first; one without
a letter is for whoever reads the paper, and typed by no line.
"""
_UPPER: Final = {"sample": 49, "serial": 24, "kind": 41, "room": 15, "area": 15, "remarks": 39.5}
_LOWER: Final = {
    "start": 18, "run": 16, "height": 17, "distance": 17, "flow_before": 19, "flow_after": 19, "covers": 22,
    "duplicate": 14, "point": 19, "near": 22.5,
}  # fmt: skip
"""The two halves of a row."""
_CAPTIONS: Final = {
    "sample": "sample: 12 characters of its label",
    "flow_before": "before L/min", "flow_after": "after L/min", "distance": "distance",
    "point": "point on sketch", "covers": "covers on",
}  # fmt: skip
_UNIT_BEHIND: Final = frozenset({"before", "after", "in_c", "in_pct", "out_c", "out_pct"})
"""Blanks with nothing before them: their unit stands behind, or two units of which one is circled."""
_OF_LENGTH: Final = {"height": "ft or m", "distance": "ft or m"}
"""In the cells of a row."""
_NUMBER_MM: Final = 6.5
_BOXES: Final = 12
"""One for each character of a sample number."""
_KEPT: Final = {("K", "kept"): 94, ("K", "where"): 24, ("K", "from"): 34, ("K", "until"): 38}
_SENT: Final = (
    ("envelope number", 66), ("custody seal number", 66), ("containers (bags, boxes)", 58),
)  # fmt: skip
_TAKEN: Final = ("name", 57), ("sign", 52), ("date", 27), ("time", 20), ("UTC offset", 29)
_COUNTED: Final = (
    ("I counted", 22), ("cassettes and read their numbers: name", 77), ("sign", 42), ("date", 24),
    ("time", 20),
)  # fmt: skip
_CARRIED: Final = (("carrier", 80), (Heading.TRACKING.lower(), 110))
_HANDS: Final = (Heading.RELINQUISHED.lower(), Heading.RECEIVED_BY.lower())
_HAND: Final = {": name, organization": 68, "sign": 42, "date": 25, "time": 15, "to": 20, "purpose": 20}
"""Of the giver; of the receiver all but the last two. Dates of ten characters and times of five by hand."""
_LOOKED_AT: Final = "not_looked_at"
_PACKAGE: Final = tuple(words.plain(each) for each in get_args(Package) if each != _LOOKED_AT)
_SEAL: Final = tuple(says for code, says in words.SEAL_STATES.items() if code != _LOOKED_AT)
_DOCK: Final[Sequence[Sequence[tuple[str, float, tuple[str, ...]]]]] = (
    (("package", 190, _PACKAGE),),
    (("envelope number as read", 95, ()), ("custody seal number as read", 95, ())),
    (("seal", 100, _SEAL), ("what was seen", 90, ())),
    (
        ("temperature inside, circle C or F", 64, ()), ("containers, how many", 58, ()),
        ("cassettes, how many", 68, ()),
    ),
    (("cassettes", 190, CONDITIONS),),
    (("which, remarks", 190, ()),),
    (("delivered: date", 50, ()), ("time", 45, ()), ("opened: date", 50, ()), ("time", 45, ())),
    (
        ("received by: name", 62, ()), ("sign", 48, ()), ("date", 28, ()), ("time", 22, ()),
        ("UTC offset", 30, ()),
    ),
    (("", 70, DECISIONS), ("reason", 120, ())),
    (("firm called: who", 62, ()), ("when", 40, ()), ("decided by", 50, ()), ("date, time", 38, ())),
)  # fmt: skip
"""The back: what a dock finds that has no power either. Typed later with `bailee receive`."""
_ENTERED: Final = (("entered by", 60), ("on", 40), ("entries", 90))
_DIGEST: Final = "SHA-256 of the photograph of this sheet, first 16 characters"


def kit(lots: Sequence[Lot], visit: date) -> dict[str, str]:
    """What is known of the cassettes carried along, for their blanks: kinds, each lot with its last day."""
    if not lots:
        return {}
    kinds = dict.fromkeys(words.plain(lot.cassette) for lot in lots)
    days = (f"{lot.expires or NONE}{' EXPIRED' if lot.is_over(visit) else ''}" for lot in lots)
    told = {_TYPE: kinds, _LOT: [lot.maker_lot for lot in lots], _EXPIRES: days}
    return {column: ", ".join(said) for column, said in told.items()}


@frozen
class PenSheet:
    """One page of a form, front and back. `address` is inside its QR code; `filled` are the blanks of A to F
    and of the cassettes that are known, by column; what does not fit there is left to the pen. `names` are
    the full names of organizations, printed before the short ones where both fit. `reprint` is the mark of
    one, `demo` that of a demonstration's log.
    """

    form: str
    address: str
    page: int = 1
    pages: int = 1
    filled: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    reprint: str = ""
    demo: str = ""


def pdf(sheets: Sequence[PenSheet], at: datetime) -> bytes:
    """Front and back of each, made at `at`. The same input gives the same bytes."""
    page = grid(DPI, *PAPER_MM)
    paper = Paper(page, "Custody form, by pen", at)
    face = paper.face(Label("", ""))
    for sheet in sheets:
        for side in (_Page.front, _Page.back):
            paper.add_page()
            drawing = Drawing(page, grouped(sheet.form), "", tuple(side(_Page(page, face), sheet)))
            paper.draw(drawing, page.dots(_LEFT), page.dots(_TOP))
    return paper.file()


class _Page:
    def __init__(self, page: Grid, face: Typeface) -> None:
        self._page, self._face = page, face

    def front(self, sheet: PenSheet) -> Iterator[Mark]:
        """From top to bottom; every height is that of the drawing."""
        yield from self._head(sheet, "CUSTODY FORM, BY PEN", "", _CAUTIONS)
        top = float(_HEAD_MM)
        yield from self._titled(top, _RULES)
        top += _RULES_MM
        filled = dict(sheet.filled)
        for column, name in sheet.names.items():
            both = f"{name} ({filled[column]})"
            width = next(wide for band in _BANDS for (_, each), wide in band.items() if each == column)
            if self._face.ems(both, bold=True) * _SMALLEST < width - _LETTER_MM - 8:
                filled[column] = both
        for band in _BANDS:
            yield from self._band(top, _BAND_MM, band, HEAD, filled)
            top += _BAND_MM
        for row in numbers_of(sheet.page):
            yield from self._row(top, row)
            top += _ROW_MM
        yield from self._codes(top)
        top += _CODES_MM
        yield from self._band(top, _BAND_MM, _KEPT, FOOT, {})
        top += _BAND_MM
        yield from self._lettered(top, "L", "Collected by:", _TAKEN)
        top += _INK_MM
        yield from self._lettered(top, "M", "", _COUNTED)
        top += _INK_MM
        yield self._rule(0, top, _WIDE)
        yield from self._blanks(top, _BAND_MM, 0, _SENT)
        top += _BAND_MM
        yield self._rule(0, top, _WIDE)
        yield from self._blanks(top, _BAND_MM, 0, _CARRIED)
        yield self._rule(0, top + _BAND_MM, _WIDE)

    def back(self, sheet: PenSheet) -> Iterator[Mark]:
        """What the dock writes, and who typed the sheet."""
        yield from self._head(sheet, "CUSTODY FORM, BY PEN: BACK", ", back", (_PRIVATE,))
        top = float(_HEAD_MM)
        yield from self._hands(top)
        top += 6 * _INK_MM
        yield from self._titled(top, "Receiving at the laboratory. Read the seal before anything is opened.")
        top += _RULES_MM
        for line in _DOCK:
            left = 0.0
            yield self._rule(0, top, _WIDE)
            for caption, width, ticks in line:
                if ticks:
                    yield from self._ticks(top, _DOCK_MM, left, left + width, caption, ticks)
                else:
                    yield from self._blank(top, _DOCK_MM, left, left + width, caption)
                left += width
            top += _DOCK_MM
        yield from self._titled(top, "Typed into the ledger: keep the sheet.")
        top += _RULES_MM
        yield from self._blanks(top, _DOCK_MM, 0, _ENTERED)
        top += _DOCK_MM
        yield from self._blanks(top, _DOCK_MM, 0, ((_DIGEST, _WIDE),))
        yield self._rule(0, top + _DOCK_MM, _WIDE)

    def _head(self, sheet: PenSheet, title: str, side: str, under: Sequence[str]) -> Iterator[Mark]:
        yield self._text(0, 5.2, title, _TITLE, 90, bold=True)
        name = pen_sheet.name(sheet.form, sheet.page)
        said = f"sheet {name}, page {sheet.page} of {sheet.pages}{side}"
        page = self._text(0, 5.2, said, _SMALL + 0.5, 80)
        yield replace(page, x=self._page.dots(_WIDE - _QR_MM - 4) - page.width)
        yield self._text(82, 5.2, sheet.demo, _REPRINT, 45, bold=True)
        number = self._text(0, 13, grouped(sheet.form), _NUMBER, 120, bold=True)
        yield number
        beside = self._mm(number.width) + 4
        yield self._text(beside, 13, sheet.reprint, _REPRINT, _WIDE - _QR_MM - 4 - beside, bold=True)
        for n, said in enumerate(under):
            yield self._text(0, 17.4 + n * 3.1, said, _SMALL, _WIDE - _QR_MM - 4)
        matrix = qr(sheet.address)
        module = self._page.dots(_QR_MM) // (matrix.size + 2 * QR_QUIET)
        refuse_small(self._page, module)
        side_dots = matrix.size * module
        corner = self._page.dots(_WIDE) - (QR_QUIET * module + side_dots)
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
            begin, end = left, left + width
            left = end
            if letter not in ("", before):
                yield self._text(begin + 0.6, top + high - 2, letter, 3.2, _LETTER_MM, bold=True)
                begin, before = begin + _LETTER_MM, letter
            cell = next((each for each in lines.get(letter, ()) if each.column == column), None)
            if cell is None:
                yield from self._blank(top, high, begin, end, column, said=filled.get(column, ""))
            elif column in TICKED:
                yield from self._ticks(top, high, begin, end, cell.caption, _answers(cell))
            else:
                told = ("", cell.caption) if column in _UNIT_BEHIND else (cell.caption, cell.unit)
                yield from self._blank(top, high, begin, end, *told, filled.get(column, ""))

    def _ticks(
        self, top: float, high: float, left: float, right: float, caption: str, answers: Sequence[str]
    ) -> Iterator[Mark]:
        """Words, and a box before each answer; the answers stand evenly on the line."""
        base = top + high - 2
        text = self._text(left, base, caption, _SMALL, right - left)
        yield text
        yield from self._boxes(base, left + self._mm(text.width) + 2, right, answers)

    def _boxes(self, base: float, left: float, right: float, answers: Sequence[str]) -> Iterator[Mark]:
        said = [self._text(0, base, each, _SMALL, right - left) for each in answers]
        needed = sum(self._mm(each.width) + _TICK_MM + 0.6 for each in said)
        gap = min(4.0, (right - left - needed) / len(said))
        for each in said:
            yield from self._square(left, base - _TICK_MM + 0.3)
            yield replace(each, x=self._page.dots(left + _TICK_MM + 0.6))
            left += _TICK_MM + 0.6 + self._mm(each.width) + gap

    def _square(self, left: float, top: float) -> Iterator[Mark]:
        for down in (0.0, _TICK_MM):
            yield self._rule(left, top + down, _TICK_MM, _HAIR)
            yield self._rule(left + down, top, 0, _HAIR, _TICK_MM)

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
            end -= self._mm(after.width) + 1.4
            yield replace(after, x=self._page.dots(end + 0.6))
        if said and self._face.ems(said, bold=True) * _SMALLEST < end - begin - 0.5:
            yield self._text(begin + 0.4, base - 0.3, said, 2.8, end - begin - 0.4, bold=True)
        yield self._rule(begin, base + 0.5, end - begin, _HAIR)

    def _row(self, top: float, number: str) -> Iterator[Mark]:
        """One cassette: its number, and two halves with their captions over the ink."""
        half = _ROW_MM / 2
        captions = {cell.column: cell.caption for cell in TABLE} | _CAPTIONS
        answers = {cell.column: _answers(cell) for cell in TABLE if cell.column in TICKED}
        yield self._rule(0, top, _WIDE)
        yield self._text(0.8, top + 6.4, number, 4.0, _NUMBER_MM, bold=True)
        for upper, widths in ((top, _UPPER), (top + half, _LOWER)):
            left = float(_NUMBER_MM)
            for column, width in widths.items():
                yield self._rule(left, upper, 0, _HAIR, half)
                yield self._text(left + 0.6, upper + 2.5, captions[column], _SMALL, width - 1)
                if unit := _OF_LENGTH.get(column):
                    text = self._text(0, upper + half - 1.2, unit, _SMALL, width - 1)
                    yield replace(text, x=self._page.dots(left + width - 0.8) - text.width)
                if column in answers:
                    yield from self._boxes(upper + half - 1.3, left + 1, left + width, answers[column])
                left += width
        yield self._rule(_NUMBER_MM, top + half, _WIDE - _NUMBER_MM, _HAIR)
        each = (_UPPER["sample"] - 1) / _BOXES
        for n in range(1, _BOXES):
            thick = _LINE if n % 4 == 0 else _HAIR
            yield self._rule(_NUMBER_MM + n * each, top + 3, 0, thick, half - 3)

    def _codes(self, top: float) -> Iterator[Mark]:
        """What the short codes mean, in the words of the record."""
        yield self._rule(0, top, _WIDE)
        for n, said in enumerate(code_lines()):
            yield self._text(0.6, top + 2.9 + n * 2.9, said, _SMALL, _WIDE - 1.2)

    def _lettered(
        self, top: float, letter: str, before: str, blanks: Sequence[tuple[str, float]]
    ) -> Iterator[Mark]:
        """A line to sign in ink, with its letter."""
        yield self._rule(0, top, _WIDE)
        yield self._text(0.6, top + _INK_MM - 2, letter, 3.2, _LETTER_MM, bold=True)
        (first, width), *others = blanks
        yield from self._blanks(top, _INK_MM, _LETTER_MM, ((f"{before} {first}".strip(), width), *others))

    def _hands(self, top: float) -> Iterator[Mark]:
        """N: three times relinquished and received, one below the other; captions over the ink."""
        for row in range(6):
            upper, side = top + row * _INK_MM, _HANDS[row % 2]
            yield self._rule(0, upper, _WIDE, _HAIR if row % 2 else _LINE)
            left = 0.0
            for caption, width in _HAND.items():
                said = f"{side}{caption}" if left == 0 else caption
                inset = float(_LETTER_MM) if left == 0 else 0.6
                if row == 0 and left == 0:
                    yield self._text(0.6, upper + 4, "N", 3.2, _LETTER_MM, bold=True)
                if row % 2 == 0 or caption not in ("to", "purpose"):
                    yield self._text(left + inset, upper + 2.6, said, _SMALL, width - inset - 0.4)
                if left:
                    yield self._rule(left, upper, 0, _HAIR, _INK_MM)
                left += width

    def _titled(self, top: float, said: str) -> Iterator[Mark]:
        """White on a black bar."""
        dots = self._page.dots
        yield Separator(0, dots(top), dots(_WIDE), dots(_RULES_MM))
        yield replace(self._text(1.5, top + 3.5, said, _SMALL + 0.3, _WIDE - 3, bold=True), light=True)

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


def _answers(cell: Cell) -> tuple[str, ...]:
    return tuple(says for _, _, says in cell.ask.choices)


def code_lines() -> Iterator[str]:
    """The codes of the sheet with their meaning, some columns a line; the rooms are two."""
    named = {cell.column: cell for cell in (*TABLE, *HEAD["J"], *FOOT["K"], *FOOT["N"])}
    half = (len(ROOMS) + 1) // 2

    def told(column: str, part: slice = slice(None)) -> str:
        codes = ", ".join(
            key if key.lower() == says else f"{key} {says}"
            for key, _, says in named[column].ask.choices[part]
        )
        return f"{words.plain(column)}: {codes}"

    yield told("room", slice(half))
    yield f"{told('room', slice(half, None))}   {told('wind')}"
    yield told("near")
    yield f"{told('sky')}   {told('where')}"
    yield f"{told('purpose')}   {told('area')}"
