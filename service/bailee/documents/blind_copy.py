"""The blind copy of a form, which a custodian gives to an analyst. It has no code: a scan shows all of it."""

from __future__ import annotations

from typing import Final

from bailee.documents import pen
from bailee.documents.letter import INNER, MARGIN, SMALL, Cell, Column, Letter, Line
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.presentation.blind_view import HEADINGS, LEFT_OUT, STATE, BlindCopy
from bailee.presentation.signature_words import when

FOOT: Final = "Blind on this paper only. It shows what was signed, and states no result."
_WIDTHS: Final = (24.0, 26.0, 17.0, 20.0, 20.0, 17.0, 18.0, 15.0, 17.0, INNER - 174)
_ROW: Final = 8.0
"""Millimeters, so that a number of the laboratory can be written in by hand (common practice, no source)."""
_COLUMNS: Final = tuple(Column(title, width) for title, width in zip(HEADINGS, _WIDTHS, strict=True))


def pdf(copy: BlindCopy, at: Moment, log: str = "", *, nth: int = 1) -> bytes:
    """The copy as a PDF on letter paper, printed at `at`, on the clock of the dock; `log` is the log's name.

    `nth`: which print of it this is.

    The same input gives the same bytes.
    """
    number = grouped(copy.form)
    letter = Letter(f"Blind copy {number}", f"Blind copy {number}, continued", FOOT, at.instant)
    top = letter.y
    letter.say(MARGIN, top + 4.2, Line("BLIND COPY FOR THE ANALYST", soft=True, size=9))
    letter.say(MARGIN, top + 11.5, Line(number, bold=True, size=18))
    letter.say(MARGIN + INNER / 2, top + 11.5, Line(words.demo(log), bold=True))
    letter.y = top + 14
    here = Moment(at.instant, copy.arrived.offset_minutes) if copy.arrived else at
    letter.paragraph(Line(f"{copy.laboratory}. Printed {when(here)}."))
    letter.space(1)
    pen.mark_reprint(letter, nth, here)
    letter.box(Line(LEFT_OUT))
    letter.paragraph(*map(Line, copy.received))
    letter.space(1.5)
    letter.table(_COLUMNS, list(map(_row, copy.rows)), least=_ROW)
    letter.space(2)
    letter.paragraph(Line("Given to the analyst, in ink", size=SMALL))
    for who in ("Given by", "Analyst"):
        told = ((f"{who}: name", 72), ("signature", 60), (pen.WHEN, 58.5))
        pen.row(letter, 9, *(pen.Blank(*each) for each in told))
    return letter.file()


def _row(told: tuple[str, ...]) -> list[Cell]:
    """The numbers and a state that stops the work stand out."""
    return [[Line(said, bold=n in (0, 1) or (n == STATE and said.isupper()))] for n, said in enumerate(told)]
