"""A letter page that grows downwards: headings, fields, tables whose rows never overlap and never leave the
margins.

Everything is set in Noto Sans, embedded, so that the page looks the same in ten years and prints any Latin,
Greek or Cyrillic name. There is one weight in the file; bold is the same outline drawn with a thin stroke. A
character the font lacks, or that shows nothing and only steers others, is printed as its code point in
brackets rather than lost. The same calls with the same `at` give the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import zip_longest
from typing import TYPE_CHECKING, Final
from unicodedata import category

from bailee.documents.kept_together import TIE, tied
from bailee.documents.one_clock import on_the_clock_of, shows_another
from bailee.frozen import frozen
from bailee.presentation import words as words_of
from bailee.presentation.custody_drawing import Bar, Dot, LineDrawing, LineText, Shape, Stroke

if TYPE_CHECKING:
    from fpdf import FPDF
    from fpdf.fonts import TTFFont

    from bailee.labels.symbols import Bars, Matrix

WIDTH, HEIGHT, MARGIN = 215.9, 279.4, 12.7
"""Letter paper, upright, in millimeters. What is printed on, 190.5 x 254, lies inside A4 too, at 100 %."""

INNER: Final = WIDTH - 2 * MARGIN
BODY, SMALL = 8.5, 8.0
SMALLEST = 6.5
"""Points. Nothing is set smaller than 8, but what is wider than its column, and that not below 6.5."""

TICK: Final = 3.4
"""Side of a box to tick, in millimeters."""

_LEADING: Final = 1.22
_POINT: Final = 25.4 / 72
_BOTTOM: Final = HEIGHT - MARGIN - 7
_TALLEST: Final = HEIGHT - 2 * MARGIN - 40
"""Of a row that is not divided, with room for heads above it."""
_GAP: Final = 1.5
"""Between columns."""
_STROKE: Final = 0.0075
"""Millimeters for each point of size: what makes the regular outline look bold and leaves
the counters open."""

_STEERING: Final = frozenset({"Cc", "Cf", "Zl", "Zp"})
"""General categories (Unicode, UAX 44) of signs without a shape: controls, formats such as a turn of
direction, separators."""

_DOT: Final = 25.4 / 300
"""Bars begin and end at whole dots of an office printer, 300 or 600 to the inch, or their widths differ."""

_HAIR: Final = 0.18
"""Millimeters, half a point: what a copier in black and white still prints between two rows."""
_PAGE_OF: Final = 24
"""Millimeters at the right of a foot, for the number of the page."""
_UPRIGHT: Final = 13.4
"""Millimeters that a heading over boxes to tick is high; it reads upwards."""

_INK, _SOFT, _LINE, _TINT = (18, 24, 32), (58, 64, 72), (176, 182, 188), (238, 240, 242)


@frozen
class Line:
    """Some words in one style; they are wrapped to the column they stand in."""

    words: str
    bold: bool = False
    soft: bool = False
    struck: bool = False
    size: float = BODY


@frozen
class Column:
    """A column of a table: heading, width in millimeters, whether its figures stand to the right, and whether
    each row has a box to tick there.
    """

    title: str
    width: float
    right: bool = False
    tick: bool = False


Cell = Sequence[Line]
_Placed = tuple[float, Sequence[Line], float | None]
"""Left edge, wrapped lines, and the width to align to on the right, if any."""


class Letter:
    """A document under construction.

    `running` stands at the head of every page but the first, `foot` under all. With `zone` all times stand
    on its clocks.
    """

    def __init__(self, title: str, running: str, foot: str, at: datetime, zone: str | None = None) -> None:
        from fpdf import FPDF

        from bailee.labels.pdf import embed_noto

        self._pdf: FPDF = FPDF(unit="mm", format="letter")
        self._pdf.set_auto_page_break(auto=False)
        self._pdf.set_margin(0)
        self._pdf.c_margin = 0
        self._pdf.set_title(title)
        self._pdf.set_lang("en")
        self._pdf.set_creator("Bailee")
        self._pdf.set_creation_date(at)
        self._font: TTFFont = embed_noto(self._pdf)
        self._glyphs = frozenset(self._font.cmap)
        self._running, self._foot, self._zone = running, foot, zone
        self._another_clock = False
        self.y = 0.0
        self._new_page()

    def file(self) -> bytes:
        """The finished PDF."""
        self._explain_brackets()
        return bytes(self._pdf.output())

    @property
    def pages(self) -> int:
        """How many there are by now."""
        return int(self._pdf.pages_count)

    @property
    def room(self) -> float:
        """Millimeters left on this page."""
        return _BOTTOM - self.y

    def need(self, height: float) -> None:
        """Go to the next page unless so many millimeters are left on this one."""
        if self.y + height > _BOTTOM:
            self._new_page()

    def space(self, height: float) -> None:
        """Leave some room."""
        self.y += height

    def heading(self, words: str, beside: str = "", *, keep: float = 16) -> None:
        """A section begins; at least `keep` millimeters of it stay on the same page."""
        self.need(keep + 7)
        self.y += 3.2
        self._rule(0.35, _INK)
        baseline = self.y + 4.2
        self._say(MARGIN, baseline, Line(words, bold=True, size=9.5))
        if beside:
            words = self._printable(beside)
            left = MARGIN + INNER - self._wide(Line(words, size=SMALL))
            self._say(left, baseline, Line(words, size=SMALL))
        self.y += 5.8

    def paragraph(self, *lines: Line, indent: float = 0.0, wide: float | None = None) -> None:
        """Lines over the whole width, or so many millimeters of it."""
        for line in self._wrapped(lines, INNER - indent if wide is None else wide):
            self.need(_height(line))
            self._line(MARGIN + indent, line)

    def box(self, *lines: Line) -> None:
        """Words nobody may overlook, in a frame."""
        wrapped = list(self._wrapped(lines, INNER - 6))
        height = sum(map(_height, wrapped)) + 3
        self.need(height + 1)
        self._pdf.set_draw_color(*_INK)
        self._pdf.set_line_width(0.6)
        self._pdf.rect(MARGIN + 0.3, self.y, INNER - 0.6, height)
        top, self.y = self.y, self.y + 1.5
        for line in wrapped:
            self._line(MARGIN + 3, line)
        self.y = top + height + 2

    def fields(self, columns: int, pairs: Sequence[tuple[str, Cell]]) -> None:
        """Labels with their values, so many beside one another."""
        width = INNER / columns
        rows = [pairs[i : i + columns] for i in range(0, len(pairs), columns)]
        for row in rows:
            cells = [
                list(self._wrapped([Line(label, size=SMALL), *value], width - 2 * _GAP))
                for label, value in row
            ]
            self.need(_tall(cells))
            self._lay([(MARGIN + i * width, cell, None) for i, cell in enumerate(cells)])
            self.y += 1.1

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[Cell]],
        apart: float = 0.8,
        *,
        least: float = 0,
    ) -> None:
        """Rows under headings that are repeated on every page, `apart` from the lines above and below, and
        each `least` millimeters high at least.

        Only a row taller than a page is divided.
        """
        lefts = [MARGIN + sum(c.width for c in columns[:i]) for i in range(len(columns))]
        for n, row in enumerate(rows):
            cells = [
                list(self._wrapped(cell, column.width - _GAP))
                for cell, column in zip(row, columns, strict=True)
            ]
            placed = [
                (left, cell, column.width - 2 * _GAP if column.right else None)
                for left, cell, column in zip(lefts, cells, columns, strict=True)
            ]
            high = max(_tall(cells) + 2 * apart, least)
            if n == 0:
                self._table_head(columns, lefts, high)
            elif self.y + high > _BOTTOM:
                self._new_page()
                self._table_head(columns, lefts)
            self.y += apart
            for left in (left for left, column in zip(lefts, columns, strict=True) if column.tick):
                self.frame(left, self.y, TICK, TICK)
            self._lay(placed, lambda: self._table_head(columns, lefts))
            self.y += high - _tall(cells) - apart
            self._rule(_HAIR, _INK)

    def qr(self, matrix: Matrix, left: float, top: float, side: float) -> None:
        """A QR code whose dark modules fill a square of `side` millimeters."""
        module = side / matrix.size
        self._pdf.set_fill_color(0)
        for x, y, length in matrix.runs():
            self._pdf.rect(left + x * module, top + y * module, length * module, module, style="F")

    def bars(self, bars: Bars, left: float, top: float, height: float) -> None:
        """A Code 128 from the dot next to `left`; a module is four dots, 0.34 mm.

        A bar is drawn a hair narrower: a printer blackens every dot that it touches.
        """
        first, hair = round(left / _DOT), 0.1
        self._pdf.set_fill_color(0)
        for x, length in bars.runs():
            begin, wide = first + 4 * x + hair, 4 * length - 2 * hair
            self._pdf.rect(begin * _DOT, top, wide * _DOT, height, style="F")

    def say(self, left: float, baseline: float, line: Line) -> None:
        """One line at a fixed place, cut to nothing: for what is known to fit."""
        self._say(
            left, baseline, Line(self._printable(line.words), line.bold, line.soft, line.struck, line.size)
        )

    def wide(self, line: Line) -> float:
        """How wide a line is at a fixed place, in millimeters."""
        return self._wide(replace(line, words=self._printable(line.words)))

    def stroke(self, left: float, top: float, width: float) -> None:
        """A thin line to write on."""
        self._pdf.set_draw_color(*_INK)
        self._pdf.set_line_width(0.2)
        self._pdf.line(left, top, left + width, top)

    def frame(self, left: float, top: float, width: float, height: float) -> None:
        """An empty box: one to tick, or a cell to sign in."""
        self._pdf.set_draw_color(*_INK)
        self._pdf.set_line_width(0.2)
        self._pdf.rect(left, top, width, height)

    def _lay(self, cells: Sequence[_Placed], head: Callable[[], None] | None = None) -> None:
        """Cells side by side: one after the other as they are read or, when they are taller than a page, line
        by line.
        """
        levels = [
            max(_height(line) for line in level if line) for level in zip_longest(*(c[1] for c in cells))
        ]
        if self.y + sum(levels) > _BOTTOM:
            self._lay_over_pages(cells, levels, head)
            return
        for left, lines, width in cells:
            for n, line in enumerate(lines):
                self._put(left, line, width, self.y + sum(levels[:n]))
        self.y += sum(levels)

    def _lay_over_pages(
        self, cells: Sequence[_Placed], levels: Sequence[float], head: Callable[[], None] | None
    ) -> None:
        for n, height in enumerate(levels):
            if self.y + height > _BOTTOM:
                self._new_page()
                if head:
                    head()
            for left, lines, width in cells:
                if n < len(lines):
                    self._put(left, lines[n], width, self.y)
            self.y += height

    def _put(self, left: float, line: Line, width: float | None, top: float) -> None:
        """One line in its column; `width` is given where figures stand to the right."""
        indent = width - self._wide(line) if width else 0
        self._say(left + indent, top + _height(line) * 0.78, line)

    def _table_head(self, columns: Sequence[Column], lefts: Sequence[float], first: float = 8) -> None:
        """Headings, on one page with the row under them, unless that is taller than a page."""
        cells = [
            [] if c.tick else list(self._wrapped([Line(c.title, size=SMALL)], c.width - _GAP))
            for c in columns
        ]
        height = max(_tall(cells), _UPRIGHT if any(c.tick for c in columns) else 0) + 1.2
        self.need(height + (first if first < _TALLEST else 8))
        self._pdf.set_fill_color(*_TINT)
        self._pdf.rect(MARGIN, self.y, INNER, height, style="F")
        self.y += 0.6
        placed = [
            (left, cell, c.width - 2 * _GAP if c.right else None)
            for left, cell, c in zip(lefts, cells, columns, strict=True)
        ]
        top = self.y
        self._lay(placed)
        self.y = top - 0.6 + height
        for left, column in zip(lefts, columns, strict=True):
            if column.tick:
                self._upright(column.title, left)
        self._rule(_HAIR, _INK)

    def _upright(self, words: str, left: float) -> None:
        """A heading that reads upwards, and ends where the page is now."""
        at = left + 2
        for line in self._wrapped([Line(words, size=7)], _UPRIGHT):
            with self._pdf.rotation(90, at, self.y - 0.6):
                self._say(at, self.y - 0.6, line)
            at += 2.5

    def _explain_brackets(self) -> None:
        """In the foot of a page on which a time by another clock stands, and only there."""
        if self._another_clock:
            told = Line(words_of.ANOTHER_CLOCK, soft=True, size=SMALL)
            self._say(MARGIN + INNER - _PAGE_OF - self._wide(told), HEIGHT - MARGIN - 1, told)
        self._another_clock = False

    def _new_page(self) -> None:
        self._explain_brackets()
        self._pdf.add_page()
        self._pdf.set_fill_color(255)
        below = HEIGHT - MARGIN
        self.y = below - 5
        self._rule(0.15, _LINE)
        self._say(MARGIN, below - 1, Line(self._foot, soft=True, size=SMALL))
        self._pdf.set_xy(MARGIN, below - 4.2)
        self._pdf.cell(INNER, 4, f"Page {self._pdf.page_no()} of {{nb}}", align="R")
        self.y = MARGIN
        if self._pdf.page_no() > 1:
            self._say(MARGIN, self.y + 3, Line(self._printable(self._running), soft=True, size=SMALL))
            self.y += 6

    def draw(self, drawn: LineDrawing) -> None:
        """A drawing over the whole width, kept together."""
        scale = INNER / drawn.width
        self.need(drawn.height * scale + 1)
        for shape in drawn.shapes:
            self._shape(shape, MARGIN, self.y, scale)
        self.y += drawn.height * scale + 1

    def _shape(self, shape: Shape, left: float, top: float, scale: float) -> None:
        x, y = left + shape.x * scale, top + shape.y * scale
        color = _SOFT if isinstance(shape, Stroke | LineText) and shape.tone == "soft" else _INK
        self._pdf.set_draw_color(*color)
        self._pdf.set_fill_color(*color)
        thick = (shape.width if isinstance(shape, Stroke) else 1) * scale
        self._pdf.set_line_width(thick)
        if isinstance(shape, Stroke | Bar) and shape.is_dashed:
            self._pdf.set_dash_pattern(dash=0.7, gap=0.7 + thick)
        match shape:
            case Stroke():
                self._pdf.line(x, y, left + shape.to_x * scale, top + shape.to_y * scale)
            case Bar():
                how = "F" if shape.is_filled else "D"
                self._pdf.rect(x, y, shape.width * scale, shape.height * scale, style=how)
            case Dot():
                self._pdf.circle(x, y, shape.radius * scale, style="F")
            case LineText():
                size = shape.size * scale / _POINT
                line = Line(shape.says, bold=shape.is_bold, soft=shape.tone == "soft", size=size)
                self.say(x - self.wide(line) if shape.ends else x, y, line)
        self._pdf.set_dash_pattern()

    def _line(self, left: float, line: Line) -> None:
        self._put(left, line, None, self.y)
        self.y += _height(line)

    def _say(self, left: float, baseline: float, line: Line) -> None:
        from fpdf.enums import TextMode

        self._another_clock = self._another_clock or shows_another(line.words)
        self._set(line)
        self._pdf.set_text_color(*(_SOFT if line.soft else _INK))
        self._pdf.set_draw_color(*(_SOFT if line.soft else _INK))
        self._pdf.set_line_width(line.size * _STROKE)
        with self._pdf.local_context(text_mode=TextMode.FILL_STROKE if line.bold else TextMode.FILL):
            self._pdf.text(left, baseline, line.words)
        if line.struck:
            height = baseline - line.size * _POINT * 0.27
            self._pdf.set_line_width(0.2)
            self._pdf.line(left, height, left + self._wide(line), height)

    def _rule(self, thick: float, color: tuple[int, int, int]) -> None:
        self._pdf.set_draw_color(*color)
        self._pdf.set_line_width(thick)
        self._pdf.line(MARGIN, self.y, MARGIN + INNER, self.y)

    def _set(self, line: Line) -> None:
        self._pdf.set_font("Noto", "", line.size)

    def _wide(self, line: Line) -> float:
        self._set(line)
        return float(self._pdf.get_string_width(line.words))

    def _wrapped(self, lines: Sequence[Line], width: float) -> Iterator[Line]:
        """Lines filled to a width; where a word is wider than that, in the largest type in which it fits."""
        for line in lines:
            words = self._loosened(tied(self._printable(line.words)).split(" "), width)
            fitting = replace(line, size=self._fitting(words, line.size, width))
            self._set(fitting)
            for filled in self._folded(words, width):
                yield replace(fitting, words=filled.replace(TIE, " "))

    def _loosened(self, words: Sequence[str], width: float) -> list[str]:
        """The same, with what was tied set apart where it is too wide in the smallest type."""
        self._pdf.set_font("Noto", "", SMALLEST)
        apart = (
            word.split(TIE) if TIE in word and sum(map(self._advance, word)) > width else [word]
            for word in words
        )
        return [each for parts in apart for each in parts]

    def _fitting(self, words: Sequence[str], size: float, width: float) -> float:
        """The type size for words of which none is to be broken; one too wide in the smallest is broken."""
        self._pdf.set_font("Noto", "", SMALLEST)
        wide = [sum(map(self._advance, word)) for word in words]
        widest = max((each for each in wide if each <= width), default=0.0)
        # A hair less, or rounding makes of what just fits what just does not.
        return max(SMALLEST, min(size, SMALLEST * width / widest * 0.9999 if widest else size))

    def _folded(self, words: Sequence[str], width: float) -> Iterator[str]:
        """Words filled into lines; a word wider than a line is broken where it must be.

        Every character is measured once.
        """
        blank = self._advance(" ")
        current, filled = "", 0.0
        for word in words:
            wide = sum(map(self._advance, word))
            if current and filled + blank + wide <= width:
                current, filled = f"{current} {word}", filled + blank + wide
                continue
            if current:
                yield current
            if wide <= width:
                current, filled = word, wide
                continue
            *broken, (current, filled) = self._broken(word, width)
            yield from (piece for piece, _ in broken)
        yield current

    def _broken(self, word: str, width: float) -> Iterator[tuple[str, float]]:
        """A word in pieces that fill a line each, with how wide they are.

        A piece has one character at least.
        """
        begin, filled = 0, 0.0
        for end, sign in enumerate(word):
            wide = self._advance(sign)
            if end > begin and filled + wide > width:
                yield word[begin:end], filled
                begin, filled = end, 0.0
            filled += wide
        yield word[begin:], filled

    def _advance(self, sign: str) -> float:
        """How far one character of the font in hand moves the pen: nothing is kerned, so a line is as wide as
        its characters.
        """
        return float(self._font.cw[ord(sign)]) * self._pdf.font_size / 1000

    def _printable(self, words: str) -> str:
        tidy = " ".join(words.split()) if any(c in words for c in "\n\r\t") else words
        tidy = on_the_clock_of(self._zone, tidy) if self._zone else tidy
        return "".join(
            c if ord(c) in self._glyphs and category(c) not in _STEERING else f"[U+{ord(c):04X}]"
            for c in tidy
        )


def _height(line: Line) -> float:
    return line.size * _POINT * _LEADING


def _tall(cells: Sequence[Sequence[Line]]) -> float:
    """Millimeters of a row: levels of lines, each as high as its highest."""
    return sum(max(_height(line) for line in level if line) for level in zip_longest(*cells))
