"""Federal holidays. Oracle: the `holidays` library for every year from 1990 to 2099."""

from datetime import date

import holidays
import pytest

from bailee.domain.federal_holidays import observed
from bailee.errors import BadMoment


@pytest.mark.parametrize("decade", range(1990, 2100, 10))
def test_against_another_implementation(decade):
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
def test_observed_days(day, name):
    """An envelope shipped before a moved holiday would wait at a shut dock."""
    assert observed(day.year)[day] == name


def test_new_year_2028_is_kept_in_2027():
    """Looking only at the year of the holiday would miss the last working day of the year before."""
    assert date(2027, 12, 31) in observed(2027)
    assert not any(day.month == 1 and day.day == 1 for day in observed(2028))
    assert len(observed(2027)) == 12
    assert len(observed(2028)) == 10


def test_holidays_begin_with_their_statutes():
    """An old record would be judged by holidays that did not exist yet (Pub.

    L. 98-144 from 1986, Pub. L. 117-17, 2021).
    """
    assert (len(observed(1985)), len(observed(1987)), len(observed(2020)), len(observed(2024))) == (
        9,
        10,
        10,
        11,
    )


@pytest.mark.parametrize("year", [1977, 3000])
def test_years_outside_the_statute(year):
    """A mistyped year would be given holidays that nobody kept (Veterans Day moved in October until 1977)."""
    with pytest.raises(BadMoment):
        observed(year)
