"""What is surely a slip in a visit about to be opened: its laboratory, its day."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any, Final

from bailee.asking.slip import Slip

DAYS_AWAY: Final = 60
"""A visit so long ago has most likely another year."""
DAYS_AHEAD: Final = 1
"""A visit is opened on its day; only where this device shows another day than the site is it tomorrow."""


def opened(said: Mapping[str, Any], today: date) -> Iterator[Slip]:
    """Slips of a visit about to be opened; `said` is the data of `opened`, `today` the day at the site."""
    parties = said.get("parties") or {}
    yield from laboratory(parties.get("firm"), parties.get("lab"))
    day = _day(said.get("visit"))
    if day and not _is_near(day, today):
        away = abs((day - today).days)
        yield Slip(
            "far-day",
            "visit",
            day.isoformat(),
            f"The visit would be on {day.isoformat()}, {away} days"
            f" {'from now' if day > today else 'ago'}: today is {today.isoformat()}.",
            "Check the day, and the year.",
            _same_day_this_year(day, today),
        )


def laboratory(firm: str | None, lab: str | None) -> Iterator[Slip]:
    """A firm that would count its own samples."""
    if lab and lab == firm:
        yield Slip(
            "own-firm-as-laboratory",
            "lab",
            lab,
            f"{lab} is the firm that samples, and would be its own laboratory.",
            "Give the short name of the laboratory that counts the samples.",
        )


def unknown_laboratory(name: str, near: Sequence[str]) -> Slip:
    """A laboratory that the ledger does not know."""
    like = f"Known names like it: {', '.join(near)}." if near else "Nothing like it is known."
    return Slip(
        "unknown-organization",
        "lab",
        name,
        f"The ledger knows no organization {name!r}. {like}",
        "Give its short name as it founded itself.",
        near[0] if len(near) == 1 else "",
    )


def _same_day_this_year(day: date, today: date) -> str:
    try:
        meant = day.replace(year=today.year)
    except ValueError:
        return ""
    return meant.isoformat() if _is_near(meant, today) else ""


def _is_near(day: date, today: date) -> bool:
    return timedelta(days=-DAYS_AWAY) <= day - today <= timedelta(days=DAYS_AHEAD)


def _day(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text))
    except ValueError:
        return None
