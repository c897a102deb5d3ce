"""The eleven holidays of 5 U.S.C. 6103(a) and the days on which federal offices keep them.

They bind federal offices only: a carrier or a laboratory may work, or shut on other days.
"""

from __future__ import annotations

from datetime import date, timedelta

from bailee.errors import BadMoment

# Before 1978 Veterans Day lay on a Monday in October (Pub. L. 94-97); the dates below hold from then on.
_FIRST_YEAR, _LAST_YEAR = 1978, 2999
_KING_SINCE, _JUNETEENTH_SINCE = 1986, 2021
_MONDAY, _THURSDAY, _SATURDAY, _SUNDAY = 0, 3, 5, 6
_DAY = timedelta(days=1)


def observed(year: int) -> dict[date, str]:
    """Return every observed day that falls in this calendar year, in order, with its name.

    A holiday on Saturday is kept on Friday (5 U.S.C. 6103(b)), one on Sunday on Monday (Executive Order
    11582, from memory); New Year's Day 2028 is therefore kept on 31 December 2027 and belongs to 2027. Raises
    `BadMoment` outside 1978 to 2999.
    """
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        raise BadMoment(f"Give a year between {_FIRST_YEAR} and {_LAST_YEAR}.", year=year)
    kept = (_kept(day, name) for day, name in [*_legal(year), (date(year + 1, 1, 1), "New Year's Day")])
    return dict(sorted((day, name) for day, name in kept if day.year == year))


def _kept(day: date, name: str) -> tuple[date, str]:
    if day.weekday() == _SATURDAY:
        return day - _DAY, f"{name} (observed)"
    if day.weekday() == _SUNDAY:
        return day + _DAY, f"{name} (observed)"
    return day, name


def _legal(year: int) -> list[tuple[date, str]]:
    """Return the days named by 5 U.S.C. 6103(a), with the first year of the two that are younger than the
    rest.
    """
    days = [
        (date(year, 1, 1), "New Year's Day"),
        (_nth(year, 2, _MONDAY, 3), "Washington's Birthday"),
        (_nth(year, 6, _MONDAY, 1) - 7 * _DAY, "Memorial Day"),
        (date(year, 7, 4), "Independence Day"),
        (_nth(year, 9, _MONDAY, 1), "Labor Day"),
        (_nth(year, 10, _MONDAY, 2), "Columbus Day"),
        (date(year, 11, 11), "Veterans Day"),
        (_nth(year, 11, _THURSDAY, 4), "Thanksgiving Day"),
        (date(year, 12, 25), "Christmas Day"),
    ]
    if year >= _KING_SINCE:
        days.append((_nth(year, 1, _MONDAY, 3), "Birthday of Martin Luther King, Jr."))
    if year >= _JUNETEENTH_SINCE:
        days.append((date(year, 6, 19), "Juneteenth National Independence Day"))
    return days


def _nth(year: int, month: int, weekday: int, count: int) -> date:
    first = date(year, month, 1)
    return first + ((weekday - first.weekday()) % 7 + 7 * (count - 1)) * _DAY
