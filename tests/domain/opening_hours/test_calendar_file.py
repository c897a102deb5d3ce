"""Calendars as people write them, and the federal holidays that they name.

Oracle of the format: Python's own TOML reader (TOML 1.0); of the days: `holidays`.
"""

from __future__ import annotations

import tomllib
from datetime import date
from typing import Any

import holidays
import pytest

from bailee.domain.acts.organization import CalendarSet
from bailee.domain.opening_hours import calendar_file
from bailee.domain.opening_hours.calendar_file import Which
from bailee.domain.opening_hours.calendars import MOST_FAULTS, Calendar
from bailee.domain.opening_hours.federal_holidays import observed
from bailee.errors import BadMoment, Malformed

WHICH: tuple[Which, ...] = ("lab", "office", "carrier")


@pytest.mark.slow
@pytest.mark.parametrize("which", WHICH)
def test_the_example_can_be_signed_as_it_stands(which: Which) -> None:
    """If this fails, an administrator begins with a file that the program itself refuses."""
    text = calendar_file.example(which, 2026)
    data = calendar_file.read(which, text)
    body = CalendarSet.read(data)
    calendar = Calendar.from_data(body.calendar)
    federal = holidays.country_holidays("US", years=[2026, 2027], observed=True)
    assert {day for day in calendar.closed if day.weekday() < 5} <= set(federal)
    assert date(2026, 7, 3) in calendar.closed  # kept on the Friday: 5 U.S.C. 6103(b)
    assert calendar.known_years == {2026, 2027}
    assert ("cutoff" in tomllib.loads(text)) is (which == "carrier")
    assert (body.cutoff is not None, body.delivery is not None) == (which == "carrier",) * 2


@pytest.mark.parametrize("which", WHICH)
def test_what_is_in_force_can_be_saved_and_set_again(which: Which) -> None:
    """If this fails, saving the opening hours, adding one day and setting them again changes
    other days too.
    """
    week = {"mon": ["08:00-12:00", "13:00-17:00"], "sat": ["22:00-24:00"]}
    said = {"zone": "America/Phoenix", "hours": week, "closed": ["2026-11-27"], "years": [2026]}
    times = {"carrier": "acorn-freight", "cutoff": "16:45", "delivery": None} if which == "carrier" else None
    text = calendar_file.write(which, Calendar.from_data(said).to_data(), times)
    data = calendar_file.read(which, text)
    assert data["calendar"] == said
    assert {name: data.get(name) for name in times or {}} == (times or {})


def test_days_and_times_may_be_written_as_toml_knows_them() -> None:
    """If this fails, a closed day without quotation marks is refused, and nobody sees why."""
    text = (
        'carrier = "acorn"\ncutoff = 17:30:00\ndelivery = "09:15"\nzone = "UTC"\nyears = [2026]\n'
        'closed = [2026-11-27, "us-federal"]\n[hours]\n'
    )  # fmt: skip
    data = calendar_file.read("carrier", text)
    assert (data["cutoff"], data["delivery"], data["carrier"]) == ("17:30", "09:15", "acorn")
    assert data["calendar"]["closed"] == ["2026-11-27", "us-federal"]


@pytest.mark.parametrize(
    ("which", "text", "places"),
    [
        (
            "lab",
            (
                'zone = "America/Chicgo"\nyears = [2026, "x"]\nclosed = ["us-federal",\n '
                ' "Friday"]\n[hours]\nmon = ["8-17"]\nmonday = []\n'
            ),
            [
                "line 1, zone",
                "line 2, years, item 2",
                "line 3, closed, item 2",
                "line 6, mon, item 1",
                "line 7, monday",
            ],
        ),
        ("office", 'cutoff = "17:00"\nzone = "UTC"\nyears = []\nclosed = []\n[hours]\n', ["line 1, cutoff"]),
        (
            "carrier",
            'cutoff = "5pm"\ndelivery = 1030\ncarrier = 7\nzone = "UTC"\nyears = []\nclosed = []\n[hours]\n',
            ["line 1, cutoff", "line 2, delivery", "line 3, carrier"],
        ),
        ("lab", 'zone = "UTC"\nopen = true\n', ["hours", "closed", "years", "line 2, open"]),
    ],
)
def test_every_fault_is_told_at_once_with_its_line(which: Which, text: str, places: list[str]) -> None:
    """If this fails, holidays with a typing error are signed, or corrected one attempt at a time."""
    with pytest.raises(Malformed) as refused:
        calendar_file.read(which, text)
    assert sorted(fault["at"] for fault in refused.value.facts["errors"]) == sorted(places)
    assert all(place in refused.value.sentence for place in places)


def test_a_file_that_is_none_is_refused_with_its_reason() -> None:
    """If this fails, a missing bracket ends in a message for programmers."""
    with pytest.raises(Malformed) as refused:
        calendar_file.read("lab", "zone = [\n")
    assert "not TOML" in refused.value.sentence
    assert refused.value.code == "bad-calendar"


@pytest.mark.parametrize(
    ("years", "left"), [([2026, 2027], []), ([2026], [2027]), ([2025], [2026, 2027]), ([], [2026, 2027])]
)
def test_years_that_are_missing_are_known_when_it_is_set(years: list[int], left: list[int]) -> None:
    """If this fails, the first envelope over New Year finds out that nobody entered the
    new year's holidays.
    """
    calendar: dict[str, Any] = {"zone": "UTC", "hours": {}, "closed": [], "years": years}
    assert calendar_file.unlisted(calendar, 2026) == left


@pytest.mark.parametrize(
    "text",
    [
        f'zone = "UTC"\nyears = [{"1, " * 3000}]\nclosed = []\n[hours]\nmon = ["08:00-17:00"]\n',
        f'zone = "UTC"\nyears = [{"1, " * 900}]\nclosed = []\n[hours]\nmon = ["08:00-17:00"]\n',
        "".join(f"name{number} = 1\n" for number in range(900)),
        f'zone = "UTC"\nyears = []\nclosed = []\n[hours]\nmon = [{"8, " * 900}]\n',
    ],
    ids=["longer than any", "all wrong", "all unknown", "hours"],
)
def test_a_file_with_thousands_of_faults_tells_the_first_and_that_there_are_more(text: str) -> None:
    """Somebody who brings the wrong file would wait for a minute and lose every fault that matters among a
    hundred thousand.
    """
    with pytest.raises(Malformed) as caught:
        calendar_file.read("lab", text)
    told = [fault["says"] for fault in caught.value.facts["errors"]]
    assert 1 <= len(told) <= MOST_FAULTS
    assert any("List at most" in says or "perhaps more" in says for says in told)


# Federal holidays: for every year from 1990 to 2099


@pytest.mark.parametrize("decade", range(1990, 2100, 10))
def test_federal_holidays_against_another_implementation(decade: int) -> None:
    """A federal dock would be thought open on a day it is shut.

    Oracle: the `holidays` library, its working-week days.
    """
    for year in range(decade, decade + 10):
        other = holidays.country_holidays("US", years=year, observed=True)
        # That list holds the day itself and the observed one; only observed days fall on Monday to Friday.
        assert sorted(observed(year)) == sorted(
            day for day in other if day.year == year and day.weekday() < 5
        ), year


@pytest.mark.parametrize(
    ("day", "name"),
    # 5 U.S.C. 6103 with a printed calendar: 4 July 2026 and 19 June 2027 are Saturdays, 1 January 2028 too.
    [
        (date(2026, 7, 3), "Independence Day (observed)"),
        (date(2027, 6, 18), "Juneteenth National Independence Day (observed)"),
        (date(2027, 12, 31), "New Year's Day (observed)"),
        (date(2023, 1, 2), "New Year's Day (observed)"),
        (date(2026, 11, 26), "Thanksgiving Day"),
        (date(2026, 11, 11), "Veterans Day"),
        (date(2026, 5, 25), "Memorial Day"),
    ],
)
def test_observed_days(day: date, name: str) -> None:
    """An envelope shipped before a moved holiday would wait at a shut dock."""
    assert observed(day.year)[day] == name


def test_new_year_2028_is_kept_in_2027() -> None:
    """Looking only at the year of the holiday would miss the last working day of the year before."""
    assert date(2027, 12, 31) in observed(2027)
    assert not any(day.month == 1 and day.day == 1 for day in observed(2028))
    assert len(observed(2027)) == 12
    assert len(observed(2028)) == 10


def test_holidays_begin_with_their_statutes() -> None:
    """An old record would be judged by holidays that did not exist yet.

    Public Law 98-144, kept from 1986; Public Law 117-17 of 2021.
    """
    assert (len(observed(1985)), len(observed(1987)), len(observed(2020)), len(observed(2024))) == (
        9,
        10,
        10,
        11,
    )


@pytest.mark.parametrize("year", [1977, 3000])
def test_years_outside_the_statute(year: int) -> None:
    """A mistyped year would be given holidays that nobody kept (Veterans Day moved in October until 1977)."""
    with pytest.raises(BadMoment):
        observed(year)
