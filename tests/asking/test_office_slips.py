"""What is surely a slip in what the office enters, on both sides of its edge. The edges are our own (common
practice, no source).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from bailee.asking import office_slips
from bailee.domain.moments import Moment

TODAY = date(2026, 12, 1)
BOX: dict[str, Any] = {"nominal_flow": "15.0", "expiry": "2027-03", "count": 8, "cassette": "slit"}


@pytest.mark.parametrize(
    ("said", "code", "meant"),
    [
        ({"nominal_flow": "150"}, "flow-far-off", "15"),
        ({"nominal_flow": "1.5"}, "flow-far-off", "15"),
        ({"nominal_flow": "2.9"}, "flow-far-off", ""),
        ({"expiry": "2025-11-30"}, "long-expired", ""),
        ({"expiry": "2017-03"}, "long-expired", ""),
        ({"warmest_c": "75"}, "fahrenheit", "75 F"),
    ],
)
def test_a_slip_in_a_box_is_known(said: dict[str, Any], code: str, meant: str) -> None:
    """Every cassette of the box would be judged by it: its flow, its last day, its storage."""
    found = list(office_slips.lot_received(BOX | said, TODAY))
    assert [(each.code, each.meant) for each in found] == [(code, meant)]


@pytest.mark.parametrize(
    "said",
    [
        {},
        {"nominal_flow": "3"},
        {"nominal_flow": "75"},
        {"expiry": "2025-12-01"},
        {"expiry": None},
        {"expiry": "no day at all"},
        {"coldest_c": "-2", "warmest_c": "45"},
    ],
)
def test_a_box_that_may_well_be_so_is_no_slip(said: dict[str, Any]) -> None:
    """A box that arrives out of date is a fact, and the keeper would be told that it cannot be."""
    assert list(office_slips.lot_received(BOX | said, TODAY)) == []


def test_more_left_than_came_in_is_asked_back() -> None:
    """Thirty cassettes of a box of eight would lie on a shelf where nobody finds them."""
    (found,) = office_slips.lot_counted({"remaining": 30}, 8)
    assert (found.code, "30 would be left of a lot of which 8 were received" in found.sentence) == (
        "more-than-received", True,
    )  # fmt: skip
    for remaining, received in ((8, 8), (0, 8), (30, None)):
        assert list(office_slips.lot_counted({"remaining": remaining}, received)) == []
    (found,) = office_slips.lot_counted({"remaining": 5, "coldest_c": "64"}, 8)
    assert (found.code, found.field) == ("fahrenheit", "coldest_c")


def test_a_certificate_that_ends_before_it_begins_is_asked_back() -> None:
    """A meter in good order would stand without a certificate on every day of the year."""
    (found,) = office_slips.days_swapped("2027-06-14", "2026-06-15", "valid_to")
    assert (found.code, found.field) == ("days-swapped", "valid_to")
    for first, last in (("2026-06-15", "2027-06-14"), ("2026-06-15", "2026-06-15"), (None, "2026-06-15")):
        assert list(office_slips.days_swapped(first, last, "valid_to")) == []
    assert list(office_slips.days_swapped("2026-06-15", None, "valid_to")) == []


@pytest.mark.parametrize(("minutes", "is_slip"), [(-600, False), (0, False), (15, False), (16, True)])
def test_a_key_is_not_lost_later_than_now(minutes: int, is_slip: bool) -> None:
    """Typed in the morning, "14:00" would let stand all that the finder of the phone signs until then."""
    now = datetime(2026, 12, 1, 9, 0, tzinfo=UTC)
    since = Moment(now + timedelta(minutes=minutes), 0)
    assert [each.code for each in office_slips.not_yet(since, now)] == ["not-yet"] * is_slip


@pytest.mark.parametrize(
    ("due", "asked_back"),
    [("2026-11-30", True), ("2026-12-01", False), ("2027-12-01", False), ("2027-12-02", True), (None, False)],
)
def test_a_last_day_for_a_result_that_is_over_or_years_away_is_asked_back(
    due: str | None, asked_back: bool
) -> None:
    """December is typed for January, and the result is overdue before the glass is sealed."""
    found = [each.code for each in office_slips.request_due(due, TODAY)]
    assert found == ["due-far-off"] * asked_back
