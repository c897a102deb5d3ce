"""What was said already: nobody signs one thing twice because a command was typed again.

The ledger would record both, as it must: they are two true statements, and which one was meant nobody could
tell later. So the newest statement of a device about the same thing is looked at before signing:

    waits, says the same             it is taken instead of a new one, and sent
    waits, says something else       the person is shown what differs, and asked
    recorded, of what happens once   the same two answers, and nothing is signed
    recorded, given to the same again   nothing is signed

The same means the same facts. A time that was not typed moves on with the clock and makes no difference; a
time that was typed does. What is said often, and may be said again, is in the rows of the acts.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any, Final, Literal

from bailee.domain.acts.row import Row
from bailee.domain.acts.table import ROWS
from bailee.domain.moments import Moment
from bailee.errors import BadMoment
from bailee.frozen import field, frozen

_SOON: Final = timedelta(minutes=10)
"""Of what is said often, the same said later is said of a later time (common practice, no source)."""
_SLACK: Final = timedelta(minutes=1)
"""Times are typed to the minute."""

Outcome = Literal["waits", "recorded", "otherwise"]


@frozen
class Words:
    """An act about to be signed: its public facts, and its private ones by name, none of them empty.

    `begins`: the number of its chain was made for it, so that typing it again would make another.
    """

    act: str
    data: Mapping[str, Any]
    private: Mapping[str, str] = field(default_factory=dict)
    begins: bool = False


@frozen
class SaidBefore:
    """A statement of the same device that waits to be sent or is recorded; `at` is when it was signed."""

    seq: int
    act: str
    data: Mapping[str, Any]
    at: Moment
    is_recorded: bool
    private: Mapping[str, str] = field(default_factory=dict)


@frozen
class Difference:
    """A fact that was said otherwise before."""

    name: str
    before: Any
    now: Any


@frozen
class SaidAlready:
    """The earlier statement, and what the new one says otherwise."""

    earlier: SaidBefore
    differs: tuple[Difference, ...]

    @property
    def outcome(self) -> Outcome:
        """Whether the person is to be asked, or the earlier one stands: recorded, or waiting to be sent."""
        return "otherwise" if self.differs else "recorded" if self.earlier.is_recorded else "waits"


def bearing(act: str) -> frozenset[str]:
    """The acts that decide whether this one was said already: itself, and those that undo it."""
    return frozenset({act, *ROWS[act].undone_by})


def said_already(new: Words, earlier: Iterable[SaidBefore], now: datetime) -> SaidAlready | None:
    """What says this already, or says otherwise; None when it is simply to be signed.

    `earlier` are the statements on the same chain, the newest first; of an act that begins a chain those that
    begin one on which nothing else was said. Refused ones and those given up are not among them.
    """
    row = ROWS[new.act]
    found = _newest(row, new, earlier)
    if found is None or (found.is_recorded and row.again not in ("once", "answered")):
        return None
    elapsed = now - found.at.instant
    differs = _differences(row, found, new, elapsed)
    if found.is_recorded and row.again == "answered" and differs:
        return None  # another try: the first was not taken
    if row.again == "newest" and (differs or elapsed >= _SOON):
        return None
    return SaidAlready(found, differs)


def waiting(
    act: str, about: Iterable[str], same: Callable[[Mapping[str, Any]], bool], unsent: Iterable[SaidBefore]
) -> list[SaidBefore]:
    """The unsent statements of this act, if they are about all of these things and all the `same`."""
    things, told, found = frozenset(about), frozenset[str](), []
    for each in unsent:
        if each.act == act and (named := things_of(act, each.data)) & things:
            if not same(each.data):
                return []
            told |= named
            found.append(each)
    return found if things <= told else []


def things_of(act: str, data: Mapping[str, Any]) -> frozenset[str]:
    """What an act is about: samples, an envelope; otherwise its chain, which is the same for two of them."""
    return frozenset(ROWS[act].things(data)) or frozenset({""})


def held_by(kid: str, last: Mapping[str, tuple[str | None, object]], samples: Iterable[str]) -> list[str]:
    """Of these samples those that this key holds already. `last`: by sample, who had it last, until when."""
    return [each for each in samples if last.get(each) == (kid, None)]


def is_on_its_way(inside: Collection[str]) -> bool:
    """Whether an envelope left and is not opened yet, by the states of its samples."""
    return "shipped" in inside or "taken_in" in inside


def is_received(inside: Mapping[str, str], named: Collection[str]) -> bool:
    """Whether an envelope that a dock has opened is not to be received again, by the samples' states.

    A cassette that was missing then and is found now is received by a second statement: only such are
    `named`, or none yet.
    """
    missing = {sample for sample, status in inside.items() if status == "missing"}
    return not (is_on_its_way(inside.values()) or (missing and set(named) <= missing))


def _newest(row: Row, new: Words, earlier: Iterable[SaidBefore]) -> SaidBefore | None:
    """The newest statement of the same act about the same thing that nothing said since has undone."""
    about = things_of(new.act, new.data)
    for each in earlier:
        if new.begins:
            if not _differences(row, each, new, None):
                return each
        elif each.act in bearing(new.act) and about & things_of(each.act, each.data):
            return each if each.act == new.act else None
    return None


def _differences(
    row: Row, earlier: SaidBefore, new: Words, elapsed: timedelta | None
) -> tuple[Difference, ...]:
    """Facts that are other ones now, by name. Of `elapsed` None, times are left out."""
    before, now = {**earlier.data, **earlier.private}, {**new.data, **new.private}
    for name in row.drawn:
        before[name], now[name] = len(before[name]), len(now[name])
    times = {row.time, *row.other_times}
    return tuple(
        Difference(name, before.get(name), now.get(name))
        for name in sorted((before.keys() | now.keys()) - {*row.computed, *row.grows})
        if before.get(name) != now.get(name)
        and not (name in times and (elapsed is None or _moved(before.get(name), now.get(name), elapsed)))
    )


def _moved(before: Any, now: Any, elapsed: timedelta) -> bool:
    """Whether two times are apart as the commands are, so that neither was typed, or are the same minute."""
    try:
        apart = Moment.parse(before).instant - Moment.parse(now).instant
    except (BadMoment, TypeError):
        return False
    return abs(apart) < _SLACK or abs(apart + elapsed) < _SLACK
