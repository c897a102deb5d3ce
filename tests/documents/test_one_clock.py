"""Times that people of several offices signed stand on one clock on paper, read off the page."""

import re

import pytest
from test_custody_record import record, text, texts
from test_for_report import page
from test_never_wrapped import divided, printed_lines

from bailee.documents.one_clock import on_the_clock_of, place
from bailee.presentation import words
from builders import CLERK, DAY, visit

pytestmark = pytest.mark.slow

NEW_YORK = "America/New_York"
TIME = re.compile(r"2026-\d\d-\d\d \d\d:\d\d(?::\d\d)? \(([+-]\d\d:\d\d)\)")


def test_both_ends_of_an_interval_stand_on_the_clock_of_the_visit() -> None:
    """From 11:18 (-05:00) to 16:18 (+00:00) is read as five hours, and was none."""
    story = visit("handed_over")
    story.held(by=CLERK, since=f"{DAY}T11:40:42-05:00", until=f"{DAY}T16:50:49+00:00")
    pdf = record(story)
    read = text(pdf)
    assert f"from {DAY} 11:40:42 (-05:00) to {DAY} 11:50:49 (-05:00) [16:50:49 (+00:00)]" in read
    assert divided(printed_lines(pdf), []) == []
    assert "local time, New York" in read


@pytest.mark.parametrize("paper", [record, page], ids=["record", "for the report"])
def test_no_time_stands_on_another_clock_alone(paper) -> None:
    """The laboratory is an hour behind the site: sampling and receipt would be an hour too near."""
    read = text(paper(visit("accepted")))
    assert set(TIME.findall(read)) == {"-05:00"}
    assert "2026-12-02 11:40 (-05:00) [10:40 (-06:00)]" in read


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("2026-12-01 11:18 (-05:00)", "2026-12-01 11:18 (-05:00)"),
        ("2026-07-01 11:18 (-05:00)", "2026-07-01 12:18 (-04:00) [11:18 (-05:00)]"),
        ("Wed 2026-12-02 01:00 (+00:00)", "Tue 2026-12-01 20:00 (-05:00) [2026-12-02 01:00 (+00:00)]"),
        ("2026-13-41 11:18 (+00:00)", "2026-13-41 11:18 (+00:00)"),
        ("2026-12-01, 11:18", "2026-12-01, 11:18"),
    ],
)
def test_a_time_is_told_by_the_clock_on_site_with_the_other_day_where_it_is_one(said: str, told: str) -> None:
    """Summer time, or midnight between two offices, would move a sample to another day."""
    assert on_the_clock_of(NEW_YORK, f"Since {said}.") == f"Since {told}."


@pytest.mark.parametrize("paper", [record, page], ids=["record", "for the report"])
def test_brackets_are_explained_where_some_stand(paper) -> None:
    """A reader looks for a clock in brackets on pages without one, or finds one that is not explained."""
    for each in texts(paper(visit("accepted"))):
        assert ("[10:40 (-06:00)]" in each) == (words.ANOTHER_CLOCK in each)
    assert words.ANOTHER_CLOCK in text(paper(visit("accepted")))
    bare = text(paper(visit("collected")))
    assert "local time, New York" in bare
    assert "[" not in bare


def test_a_zone_is_called_by_its_place() -> None:
    """A client does not know what America/New_York is."""
    assert [place(each) for each in (NEW_YORK, "America/Indiana/Knox", "UTC")] == ["New York", "Knox", "UTC"]
