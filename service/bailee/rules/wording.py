"""How findings name things: numbers as printed, times as a clock on a wall shows them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from itertools import islice
from typing import Final

from bailee.domain import numbers
from bailee.domain.acts.form import FORMERLY, BuildingChanged
from bailee.domain.moments import Moment

QUALIFIED_RESULT: Final = "Qualified result."
"""How it begins, where there is a result, what that is to be read with."""
_BUILDING: Final = {
    "ventilation": "ventilation",
    "windows": "windows and outside doors",
    "fresh_air": "fresh air",
    "cleaner": "air cleaners",
    "people": "people in the building",
    "renovation": "painting, demolition or construction",
}
_DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def day(when: date) -> str:
    """`2026-11-27`."""
    return f"{when:%Y-%m-%d}"


def clock(moment: Moment) -> str:
    """`2026-11-27 10:30 (-06:00)`: local time with its offset; seconds only where they are not zero."""
    return moment.clock


def changed(body: BuildingChanged) -> str:
    """What changed in a building, and how: `ventilation went from normal to off`."""
    what, now = _BUILDING[FORMERLY.get(body.what, body.what)], body.now.replace("_", " ")
    if body.was is None:
        return f"{what}: {now}"
    return f"{what} went from {body.was.replace('_', ' ')} to {now}"


def weekday(when: date) -> str:
    """`Fri 2026-11-27`, where the day of the week decides."""
    return f"{_DAYS[when.weekday()]} {day(when)}"


def weekday_clock(moment: Moment) -> str:
    """`Fri 2026-11-27 10:30 (-06:00)`, where the day of the week decides."""
    return f"{_DAYS[moment.local.weekday()]} {clock(moment)}"


def clock_at(instant: datetime, beside: Moment) -> str:
    """An instant as a clock beside that moment would show it, so that the two can be compared by eye."""
    return clock(Moment(instant.replace(microsecond=0), beside.offset_minutes))


NAMED: Final = 100
"""So many things one sentence names: more than an envelope holds, and more than anybody reads."""


def printed(found: Iterable[str]) -> str:
    """Numbers in printed groups: `A`, `A and B`, `A, B and C`; of more than `NAMED` the first, `and more`."""
    return listed([numbers.grouped(number) for number in islice(found, NAMED + 1)])


def listed(words: Sequence[str]) -> str:
    """Words as a sentence lists them; of more than `NAMED` the first, `and more`."""
    if len(words) > NAMED:
        words = [*words[:NAMED], "more"]
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]])) if words else ""


def counted(number: int, what: str, many: str = "") -> str:
    """`1 place`, `2 places`; `many` where an s is not enough."""
    return f"{number} {what if number == 1 else many or what + 's'}"


def samples(found: Sequence[str]) -> str:
    """`sample A` or `samples A and B`."""
    return f"{'sample' if len(found) == 1 else 'samples'} {printed(found)}"


def were(found: Sequence[object]) -> str:
    """`was` of one, `were` of several."""
    return "was" if len(found) == 1 else "were"


def start(sentence: str) -> str:
    """The sentence with its first letter raised."""
    return sentence[:1].upper() + sentence[1:]
