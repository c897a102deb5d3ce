"""What is surely a slip in a visit about to be opened: its laboratory, its day."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any, Final

from bailee.asking.slip import Slip

DAYS_AWAY: Final = 60
"""A visit so long ago has most likely another year."""
DAYS_LATE: Final = 2
"""A visit is opened on its day, and over a weekend without a network two days later: where somebody can be
asked, an earlier one is asked back.
"""
DAYS_AHEAD: Final = 1
"""A visit is opened on its day; only where this device shows another day than the site is it tomorrow."""


def opened(said: Mapping[str, Any], today: date, late: int = DAYS_AWAY) -> Iterator[Slip]:
    """Slips of a visit about to be opened; `said` is the data of `opened`, `today` the day at the site, which
    may be so many days `late`.
    """
    parties = said.get("parties") or {}
    yield from laboratory(parties.get("firm"), parties.get("lab"))
    day = _day(said.get("visit"))
    if day and not _is_near(day, today, late):
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


def swapped(
    client: str | None, site: str | None, known_clients: Sequence[str], known_sites: Sequence[str]
) -> Iterator[Slip]:
    """Client and address in each other's place, by those of earlier visits, or by the number of a house."""
    clients, sites = (
        {" ".join(each.casefold().split()) for each in known} for known in (known_clients, known_sites)
    )
    told_client, told_site = (" ".join((each or "").casefold().split()) for each in (client, site))
    is_client = bool(told_site) and told_site in clients - sites
    is_site = bool(told_client) and told_client in sites - clients
    by_number = _HOUSE.match(told_client) and told_site and not _HOUSE.search(told_site)
    if not (is_client or is_site or by_number):
        return
    why = (
        f"{site} was the client of an earlier visit"
        if is_client
        else f"{client} was the address of an earlier visit"
        if is_site
        else f"the client would be {client}, and the address {site}"
    )
    yield Slip(
        "client-as-site",
        "site",
        str(site or client),
        f"Client and address seem to be swapped: {why}.",
        "The client is a name, the address is where the samples are collected.",
        asks="s swaps them; or type the address again; or y: it is so; or n",
    )


_HOUSE: Final = re.compile(r"[0-9]+[a-z]? ")
"""An address begins with the number of a house (common practice, no source)."""


def _same_day_this_year(day: date, today: date) -> str:
    try:
        meant = day.replace(year=today.year)
    except ValueError:
        return ""
    return meant.isoformat() if meant != day and _is_near(meant, today, DAYS_AWAY) else ""


def _is_near(day: date, today: date, late: int) -> bool:
    return timedelta(days=-late) <= day - today <= timedelta(days=DAYS_AHEAD)


def _day(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text))
    except ValueError:
        return None
