"""The blind copy of a form, which a custodian gives to an analyst. It has no code: a scan shows all of it."""

from __future__ import annotations

from typing import Final

from bailee.documents import pen
from bailee.documents.letter import INNER, MARGIN, SMALL, Column, Letter, Line
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.presentation.blind_view import HEADINGS, LEFT_OUT, BlindCopy
from bailee.presentation.signature_words import when

FOOT: Final = "Blind on this paper only. It shows what was signed, and states no result."
_WIDTHS: Final = (24.0, 30.0, 28.0, 30.0, 25.0, 27.0, INNER - 164)
_COLUMNS: Final = tuple(Column(title, width) for title, width in zip(HEADINGS, _WIDTHS, strict=True))


def pdf(copy: BlindCopy, at: Moment, log: str = "") -> bytes:
    """The copy as a PDF on letter paper, printed at `at`; `log` is the log's name.

    The same input gives the same bytes.
    """
    number = grouped(copy.form)
    letter = Letter(f"Blind copy {number}", f"Blind copy {number}, continued", FOOT, at.instant)
    top = letter.y
    letter.say(MARGIN, top + 4.2, Line("BLIND COPY FOR THE ANALYST", soft=True, size=9))
    letter.say(MARGIN, top + 11.5, Line(number, bold=True, size=18))
    letter.say(MARGIN + INNER / 2, top + 11.5, Line(words.demo(log), bold=True))
    letter.y = top + 14
    letter.paragraph(Line(f"{copy.laboratory}. Printed {when(at)}."))
    letter.space(1)
    letter.box(Line(LEFT_OUT))
    letter.paragraph(*map(Line, copy.received))
    letter.space(1.5)
    letter.table(_COLUMNS, [[[Line(said, bold=n == 1)] for n, said in enumerate(row)] for row in copy.rows])
    letter.space(2)
    letter.paragraph(Line("Given to the analyst, in ink", soft=True, size=SMALL))
    pen.row(
        letter,
        9,
        pen.Blank("Given by", 62),
        pen.Blank("analyst", 62),
        pen.Blank("date, time, UTC offset", 66),
    )
    return letter.file()
