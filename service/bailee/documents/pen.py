"""What is written on a paper by hand, in ink: lines, boxes to tick, and rows for those who hand it on."""

from __future__ import annotations

from typing import Final

from bailee.documents.letter import INNER, MARGIN, SMALL, TICK, Letter, Line
from bailee.domain.moments import Moment
from bailee.frozen import frozen
from bailee.presentation import words
from bailee.presentation.signature_words import when
from bailee.presentation.words import Heading

HANDS: Final = "Relinquished and received, in ink"
WHEN: Final = "date, time (local)"
ROWS: Final = 3
"""How often it changes hands on the way, on paper: to whoever carries it, from them, and once more."""
_CELLS: Final = (("name", 36.0), ("company", 45.5), ("signature", 40.5), (WHEN, 45.5))
_HEAD, _ROW, _LEAST_ROW = 4.4, 10.0, 8.0
_BELOW: Final = 1.8
"""From a line to write on to the end of its row."""


@frozen
class Blank:
    """Words with a line after them to write on, over `width` millimeters; or with boxes to tick."""

    words: str
    width: float
    ticks: tuple[str, ...] = ()
    size: float = SMALL


def row(letter: Letter, height: float, *blanks: Blank, indent: float = 0) -> None:
    """Blanks side by side."""
    letter.need(height)
    line, left = letter.y + height - _BELOW, MARGIN + indent
    for blank in blanks:
        end, at = left + blank.width, left
        if blank.words:
            at = _say(letter, left, line, blank.words, blank.size) + 1.2
        for each in blank.ticks:
            at = _say(letter, at, line, each) + 0.9
            letter.frame(at, line - TICK + 0.6, TICK, TICK)
            at += TICK + 2.2
        if not blank.ticks:
            letter.stroke(at, line + 0.6, end - 1.5 - at)
        left = end
    letter.y += height


def hands(letter: Letter, rows: int = ROWS, high: float = _ROW) -> None:
    """Rows in which whoever gives the paper on, and whoever gets it, sign in ink: one below the other."""
    letter.need(hands_tall(rows, high))
    beside = INNER - sum(width for _, width in _CELLS)
    at, top = MARGIN + beside, letter.y + _HEAD
    for title, width in _CELLS:
        letter.say(at + 0.6, top - 1.2, Line(title, size=SMALL))
        for n in range(2 * rows):
            letter.frame(at, top + n * high, width, high)
        at += width
    for n in range(2 * rows):
        side = Heading.RECEIVED_BY if n % 2 else Heading.RELINQUISHED
        letter.say(MARGIN, top + n * high + high / 2 + 1, Line(side, size=SMALL))
    letter.y = top + 2 * rows * high + 1


def hands_tall(rows: int, high: float) -> float:
    """Millimeters of such rows with their heading."""
    return _HEAD + 2 * rows * high + 1


def mark_reprint(letter: Letter, nth: int, at: Moment) -> None:
    """A paper printed again says so in a frame, where nobody overlooks it: two with ink on them exist."""
    if said := words.reprint(nth, when(at)):
        letter.box(Line(said, bold=True), Line(words.INK_ON_ANOTHER))


def section_of_hands(letter: Letter, beside: str) -> None:
    """The same under a heading, on one page with it; lower where that keeps it on the page begun."""
    least = hands_tall(ROWS, _LEAST_ROW)
    letter.heading(HANDS, beside, keep=least)
    hands(letter, high=_ROW if letter.room >= hands_tall(ROWS, _ROW) else _LEAST_ROW)


def _say(letter: Letter, left: float, line: float, told: str, size: float = SMALL) -> float:
    """Words on a line to write on; where they end."""
    said = Line(told, size=size)
    letter.say(left, line, said)
    return left + letter.wide(said)
