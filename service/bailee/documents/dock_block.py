"""What a dock writes in ink as it receives: on the sheet outside an envelope, and on the record inside."""

from __future__ import annotations

from typing import Final, get_args

from bailee.documents import pen
from bailee.documents.letter import INNER, Letter
from bailee.domain.acts.form import Condition, Package
from bailee.presentation import words
from bailee.presentation.words import Heading

AT_THE_DOCK: Final = "At the dock, in ink"
_READ_FIRST: Final = "read the seal first, and write down what is there"
_LOOKED_AT: Final = "not_looked_at"
_SEAL: Final = tuple(says for code, says in words.SEAL_STATES.items() if code != _LOOKED_AT)
_PACKAGE: Final = tuple(words.plain(each) for each in get_args(Package) if each != _LOOKED_AT)
_FOUND: Final = tuple(words.plain(each) for each in get_args(Condition) if each != _LOOKED_AT)
_HALF: Final = INNER / 2
_SEAL_READ: Final = (pen.Blank("Seal read", 92), pen.Blank("", 98.5, _SEAL))
_PACKED: Final = (pen.Blank(Heading.PACKAGE, 115, _PACKAGE), pen.Blank(Heading.CONTAINERS.lower(), 75.5))
_INSIDE: Final = pen.Blank("temperature inside, \N{DEGREE SIGN}C", 72.5)
_NOT_LISTED: Final = (pen.Blank("Not listed here: how many", 62), pen.Blank("which", 128.5))
_REMARKS: Final = (pen.Blank("Remarks", INNER),)


def on_the_sheet(letter: Letter, high: float, *, surfaces: bool) -> None:
    """For the sheet outside, on which a row of boxes stands for each sample: what is read, counted and
    measured, in the order in which a dock does.
    """
    _block(
        letter,
        high,
        _SEAL_READ,
        _PACKED,
        (_time(Heading.DELIVERED), _time(Heading.RECEIVED.lower())),
        (_time(Heading.TAKEN_IN), _time("opened at")),
        (_counted(surfaces=surfaces), pen.Blank("record inside", 58, ("yes", "no")), _INSIDE),
        _NOT_LISTED,
        _REMARKS,
        _signed("Opened and counted by"),
    )


def on_the_record(letter: Letter, high: float, *, surfaces: bool) -> None:
    """For the record inside: the same, with the condition of what lay beside it."""
    what = "Samples" if surfaces else "Cassettes"
    _block(
        letter,
        high,
        _SEAL_READ,
        _PACKED,
        (pen.Blank(what, INNER, _FOUND),),
        (pen.Blank("Damaged: which", 118), _INSIDE),
        (_time(Heading.DELIVERED), _time("opened at")),
        (_counted(surfaces=surfaces), pen.Blank("not listed here: how many", 55), pen.Blank("which", 75.5)),
        _REMARKS,
        _signed(Heading.RECEIVED_BY),
    )


def _block(letter: Letter, high: float, *rows: tuple[pen.Blank, ...]) -> None:
    letter.heading(AT_THE_DOCK, _READ_FIRST, keep=len(rows) * high)
    for row in rows:
        pen.row(letter, high, *row)
    letter.space(1)


def _time(what: str) -> pen.Blank:
    return pen.Blank(f"{what}, {pen.WHEN}", _HALF)


def _counted(*, surfaces: bool) -> pen.Blank:
    return pen.Blank(f"{'Samples' if surfaces else 'Cassettes'} counted", 60)


def _signed(by: str) -> tuple[pen.Blank, ...]:
    return pen.Blank(by, 61), pen.Blank("signature", 57), pen.Blank(pen.WHEN, 72.5)
