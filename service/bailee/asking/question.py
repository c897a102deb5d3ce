"""One question to a person before something is signed: its words, what may be answered, how that is read.

One question, one answer. An answer of the last time stays only where the question says so (`keeps`); what was
seen or counted is asked each time and has no default (RC-12 and ISO/IEC 17025:2017 7.4.3 by analogy: a
condition is recorded as found).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from bailee.asking import reading, written
from bailee.domain import corrections, measures
from bailee.domain.acts.table import name_of
from bailee.domain.facts import Facts
from bailee.domain.fields import TAG
from bailee.errors import BaileeError, Malformed
from bailee.frozen import frozen
from bailee.presentation import words

MINUTES_TO: Final = 30
"""A bare number up to here answers in minutes; no run of a spore trap is so many seconds."""

AND_POINT: Final = "/"
_ENTER: Final = re.compile(r"\(Enter: ([^)]*)\)")


@frozen
class Ask:
    """One question about a member of an act.

    `choices` are key, code and words of what may be said; without them it is free text, read by `reader` (a
    name in `reading`, or none). `several`: several choices, with commas. `optional`: Enter says nothing.
    `keeps`: it stays from one time to the next. `pointed`: a point on the sketch may follow the choice after
    a blank. `unknown`: that nobody knows it is an answer. `act`: whose fact of this name refuses what it
    cannot be.
    """

    member: str
    question: str
    label: str
    choices: tuple[tuple[str, str, str], ...] = ()
    reader: str = ""
    several: bool = False
    optional: bool = False
    keeps: bool = False
    pointed: bool = False
    unknown: bool = False
    act: str = ""

    @property
    def is_yes_no(self) -> bool:
        """Whether a yes or a no is all that is asked for."""
        return [code for _, code, _ in self.choices] == ["yes", "no"]

    @property
    def may(self) -> list[str]:
        """What may be chosen, each with its key."""
        told = [f"{key} {says}" for key, _, says in self.choices]
        return [*told, OR_UNKNOWN] if self.unknown else told

    def kept(self, last: Mapping[str, Any]) -> Any:
        """What stays of the `last` answers; None when it is to be asked."""
        return last.get(self.member) if self.keeps else None

    def read(self, text: str) -> Any:
        """What an answer means. Raises `Malformed` with what may be said."""
        said = text.strip()
        if not said:
            if self.optional:
                return None
            raise Malformed("Enter an answer: there is no usual one.", code="no-answer")
        if self.unknown and said.lower() in _UNKNOWN:
            return None
        if self.choices:
            if self.pointed:
                return self._place(said)
            chosen = [self._choice(each) for each in (said.split(",") if self.several else [said])]
            return chosen if self.several else chosen[0]
        if self.reader == "run":
            value: Any = written.run(said, bare_minutes_to=MINUTES_TO)
        else:
            value = reading.by_name(self.reader)(said) if self.reader else said
        if self.act:
            require_fact(self.act, self.member, said, value)
        return value

    def tells(self, value: Any) -> bool:
        """Whether an answer is shown in other words or with its unit."""
        return isinstance(value, str | list) and bool(self.choices or self.reader in _CONVERTED)

    def shown(self, value: Any) -> str:
        """An answer in words; of Enter the words that stood in the question."""
        if value is None:
            enter = _ENTER.search(self.question)
            return _UNKNOWN[-1] if self.unknown else enter[1] if enter else words.NOT_RECORDED
        told = {code: says for _, code, says in self.choices}
        if self.pointed:
            room, _, point = str(value).partition(AND_POINT)
            return f"{told[room]}{f', point {point}' if point else ''}"
        if self.choices:
            return ", ".join(told.get(each, str(each)) for each in (value if self.several else [value]))
        if self.reader == "run":
            return f"{int(value) // 60}:{int(value) % 60:02d} ({value} s)"
        if self.reader == "length":
            return measures.length_text(measures.parse_length(f"{value} m"))
        return f"{value}{_UNITS.get(self.reader, '')}"

    def _place(self, said: str) -> str:
        """A room, and after a blank its point on the sketch: `2 P3`."""
        try:
            return self._choice(said)
        except Malformed:
            room, _, point = said.partition(" ")
            if not re.fullmatch(TAG, point.strip()):
                raise
            return f"{self._choice(room)}{AND_POINT}{point.strip()}"

    def _choice(self, said: str) -> str:
        word = " ".join(said.strip().lower().replace("_", " ").split())
        for key, code, says in self.choices:
            if word in (key.lower(), code.replace("_", " "), says.lower()):
                return code
        listed = ", ".join(f"{key} {says}" for key, _, says in self.choices)
        raise Malformed(f"{said.strip()!r} is none of: {listed}.", code="no-such-choice")


_UNKNOWN: Final = ("u", "unknown", "not known")
"""What is typed where nobody knows."""
OR_UNKNOWN: Final = f"{_UNKNOWN[0]} {_UNKNOWN[-1]}"
_UNITS: Final = {
    "flow": " L/min",
    "degrees_celsius": " \N{DEGREE SIGN}C",
    "degrees_by_unit": " \N{DEGREE SIGN}C",
    "hectopascals": " hPa",
}
_CONVERTED: Final = ("degrees_celsius", "degrees_by_unit", "hectopascals")
"""Readers that take another unit: what was made of it is shown."""


def numbered(codes: tuple[str, ...]) -> tuple[tuple[str, str, str], ...]:
    """These codes as choices, counted from 1."""
    return tuple((str(n), code, words.plain(code)) for n, code in enumerate(codes, 1))


def require_fact(act: str, member: str, said: str, value: Any) -> None:
    """Refuse what the act itself would refuse, while the other answers still wait for it: `value` is what was
    `said`. Raises `Malformed`.
    """
    for name in corrections.names(act):
        if name.rpartition(".")[2] == member:
            try:
                corrections.reader(act, name)(int(value) if isinstance(value, written.BareRun) else value)
            except BaileeError as error:
                why = error.sentence.removesuffix(".")
                raise Malformed(f"{said!r} will not do: {why}.", code="bad-answer") from None


def of_act(act: type[Facts], asks: Iterable[Ask]) -> tuple[Ask, ...]:
    """Questions whose answers are facts of this act; a choice can be no other."""
    return tuple(ask if ask.choices else replace(ask, act=name_of(act)) for ask in asks)


YES_NO: Final = (("y", "yes", "yes"), ("n", "no", "no"))
