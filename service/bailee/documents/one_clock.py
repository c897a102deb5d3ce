"""All times of a paper on one clock, that of the place visited, so that two of them can be compared by eye.

The clock by which somebody else read a time stands behind it in brackets, where it shows another hour.
"""

from __future__ import annotations

import re
from typing import Final

from bailee.domain.moments import Moment
from bailee.errors import BadMoment
from bailee.presentation import words
from bailee.rules import wording

_TIME: Final = re.compile(
    r"(?P<weekday>\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) )?\b(?P<day>\d{4}-\d\d-\d\d)"
    r" (?P<time>\d\d:\d\d(?P<seconds>:\d\d)?) \((?P<offset>[+-]\d\d:\d\d)\)"
)
"""A time as every sentence shows it."""
_ANOTHER: Final = re.compile(r"\[(?:\d{4}-\d\d-\d\d )?\d\d:\d\d(?::\d\d)? \([+-]\d\d:\d\d\)\]")


def shows_another(line: str) -> bool:
    """Whether a time by another clock stands in a line."""
    return bool(_ANOTHER.search(line))


def on_the_clock_of(zone: str, said: str) -> str:
    """The same words: `2026-12-01 11:18 (-05:00) [16:18 (+00:00)]` for what was read at 16:18 in UTC."""
    return _TIME.sub(lambda found: _shown(found, zone), said)


def _shown(found: re.Match[str], zone: str) -> str:
    try:
        read = Moment.parse(
            f"{found['day']}T{found['time']}{'' if found['seconds'] else ':00'}{found['offset']}"
        )
    except BadMoment:  # words of a person that only look like a time
        return found[0]
    here = Moment.shown_in(read.instant, zone)
    if here.offset_minutes == read.offset_minutes:
        return found[0]
    told = wording.weekday_clock(here) if found["weekday"] else wording.clock(here)
    day = "" if here.local_date == read.local_date else f"{found['day']} "
    return f"{told} [{day}{found['time']} ({found['offset']})]"


def place(zone: str) -> str:
    """The place that names a zone: `New York` of `America/New_York`."""
    return words.plain(zone.rpartition("/")[2])
