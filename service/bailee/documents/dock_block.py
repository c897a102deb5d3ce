"""What a dock writes in ink as it receives: on the sheet outside an envelope, and on the record inside."""

from __future__ import annotations

from typing import Final, get_args

from bailee.documents import pen
from bailee.documents.letter import INNER, Letter
from bailee.domain.acts.form import Condition, Package
from bailee.domain.acts.table import ACCEPTED, ON_HOLD, REJECTED
from bailee.presentation import words
from bailee.presentation.words import Heading

AT_THE_DOCK: Final = "At the dock, in ink"
_READ_FIRST: Final = "read the seal first; each time with its date, local"
_LOOKED_AT: Final = "not_looked_at"
_SEAL: Final = tuple(says for code, says in words.SEAL_STATES.items() if code != _LOOKED_AT)
_PACKAGE: Final = tuple(words.plain(each) for each in get_args(Package) if each != _LOOKED_AT)
CONDITIONS: Final = (
    *(words.plain(each) for each in get_args(Condition) if each != _LOOKED_AT),
    "not received",
)
"""What may be said of a sample, in the same order on the sheet outside and on the record inside."""
_SEAL_READ: Final = (pen.Blank("Seal read", 92), pen.Blank("", 98.5, _SEAL))
_PACKED: Final = (pen.Blank(Heading.PACKAGE, 115, _PACKAGE), pen.Blank(Heading.CONTAINERS.lower(), 75.5))
_TIMES: Final = tuple(
    pen.Blank(each, INNER / 3)
    for each in ("Delivered (by the carrier)", "received (still sealed here)", "opened (seal was cut)")
)
_INSIDE: Final = pen.Blank("temperature inside, circle C or F", 72.5)
DECISIONS: Final = tuple(map(words.plain, (ACCEPTED, ON_HOLD, REJECTED)))
_DECIDED: Final = (
    pen.Blank("", 70, DECISIONS),
    pen.Blank("reason", 60),
    pen.Blank("laboratory's numbers", 60.5),
)
_CALLED: Final = (
    pen.Blank("Firm called: who", 62),
    pen.Blank("when", 40),
    pen.Blank("decided by", 50),
    pen.Blank("date, time", 38.5),
)


def on_the_sheet(letter: Letter, high: float, *, surfaces: bool) -> None:
    """For the sheet outside, on which a row of boxes stands for each sample: what is read, counted and
    measured, in the order in which a dock does, and what is decided.
    """
    listed = (pen.Blank("Not listed here: how many", 56), pen.Blank("which", 73), pen.Blank("remarks", 61.5))
    _block(
        letter,
        high,
        _SEAL_READ,
        _PACKED,
        _TIMES,
        (_counted(surfaces=surfaces), pen.Blank("record inside", 58, ("yes", "no")), _INSIDE),
        listed,
        _signed("Opened and counted by: name"),
        _DECIDED,
        _CALLED,
    )


def on_the_record(letter: Letter, high: float, *, surfaces: bool) -> None:
    """For the record inside: the same, with the condition of what lay beside it."""
    _block(
        letter,
        high,
        _SEAL_READ,
        _PACKED,
        (pen.Blank("Samples" if surfaces else "Cassettes", INNER, CONDITIONS),),
        (pen.Blank("Damaged: which, remarks", 118), _INSIDE),
        _TIMES,
        (_counted(surfaces=surfaces), pen.Blank("not listed here: how many", 55), pen.Blank("which", 75.5)),
        _signed(f"{Heading.RECEIVED_BY}: name"),
        _DECIDED,
        _CALLED,
    )


def _block(letter: Letter, high: float, *rows: tuple[pen.Blank, ...]) -> None:
    letter.heading(AT_THE_DOCK, _READ_FIRST, keep=len(rows) * high)
    for row in rows:
        pen.row(letter, high, *row)
    letter.space(1)


def _counted(*, surfaces: bool) -> pen.Blank:
    return pen.Blank(f"{'Samples' if surfaces else 'Cassettes'} counted", 60)


def _signed(by: str) -> tuple[pen.Blank, ...]:
    return pen.Blank(by, 105), pen.Blank("signature", 85.5)
