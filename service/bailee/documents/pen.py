"""What is written on a paper by hand, in ink: lines, boxes to tick, and rows for those who hand it on."""

from __future__ import annotations

from typing import Final

from bailee.documents.letter import INNER, MARGIN, SMALL, TICK, Letter, Line
from bailee.frozen import frozen
from bailee.presentation.words import Heading

HANDS: Final = "Relinquished and received, in ink"
_CELLS: Final = (("name", 33.0), ("signature", 29.0), ("date, time, UTC offset", 33.25))
_HEAD, _ROW = 4.4, 8.6
_BELOW: Final = 1.8
"""From a line to write on to the end of its row."""


@frozen
class Blank:
    """Words with a line after them to write on, over `width` millimeters; or with boxes to tick."""

    words: str
    width: float
    ticks: tuple[str, ...] = ()


def row(letter: Letter, height: float, *blanks: Blank, indent: float = 0) -> None:
    """Blanks side by side."""
    letter.need(height)
    line, left = letter.y + height - _BELOW, MARGIN + indent
    for blank in blanks:
        end, at = left + blank.width, left
        if blank.words:
            at = _say(letter, left, line, blank.words) + 1.2
        for each in blank.ticks:
            at = _say(letter, at, line, each) + 0.9
            letter.frame(at, line - TICK + 0.6, TICK, TICK)
            at += TICK + 2.2
        if not blank.ticks:
            letter.stroke(at, line + 0.6, end - 1.5 - at)
        left = end
    letter.y += height


def hands(letter: Letter, rows: int = 3, high: float = _ROW) -> None:
    """Rows in which whoever gives the paper on, and whoever gets it, sign in ink."""
    letter.need(_HEAD * 2 + high * rows)
    for side, left in ((Heading.RELINQUISHED, MARGIN), (Heading.RECEIVED_BY, MARGIN + INNER / 2)):
        letter.say(left + 0.6, letter.y + _HEAD - 1.2, Line(side, bold=True, size=SMALL))
        at = left
        for title, width in _CELLS:
            letter.say(at + 0.6, letter.y + 2 * _HEAD - 1.4, Line(title, soft=True, size=SMALL))
            for n in range(rows):
                letter.frame(at, letter.y + 2 * _HEAD + n * high, width, high)
            at += width
    letter.y += _HEAD * 2 + high * rows + 1


def section_of_hands(letter: Letter, beside: str) -> None:
    """The same under a heading, on one page with it."""
    letter.heading(HANDS, beside, keep=2 * _HEAD + 3 * _ROW + 3)
    hands(letter)


def _say(letter: Letter, left: float, line: float, words: str) -> float:
    """Words on a line to write on; where they end."""
    said = Line(words, size=SMALL)
    letter.say(left, line, said)
    return left + letter.wide(said)
