"""A time earlier than what must come before it: the edge is our own (five minutes between two clocks; common
practice, no source).
"""

from __future__ import annotations

import pytest

from bailee.asking import order_slips
from bailee.asking.order_slips import MustPrecede
from bailee.domain.moments import Moment

KNOWN = [
    MustPrecede("the run ended", Moment.parse("2026-12-01T09:10:00-05:00")),
    MustPrecede("the envelope was sealed", Moment.parse("2026-12-01T15:30:00+00:00")),
]


@pytest.mark.parametrize(
    ("at", "is_slip"),
    [
        ("2026-12-01T10:24:59-05:00", True),
        ("2026-12-01T10:25:00-05:00", False),
        ("2026-12-01T11:00:00-05:00", False),
        ("2026-11-28T11:00:00-05:00", True),
    ],
)
def test_a_time_before_what_comes_first_is_asked_back(at: str, is_slip: bool) -> None:
    """An envelope handed over before it was sealed would stand in the record for ever."""
    found = list(order_slips.too_early("shipped", Moment.parse(at), KNOWN))
    assert [each.code for each in found] == ["earlier-than-before"] * is_slip


def test_both_times_are_named_on_one_clock() -> None:
    """Two times on two clocks cannot be compared by eye."""
    (found,) = order_slips.too_early("shipped", Moment.parse("2026-12-01T09:00:00-05:00"), KNOWN)
    assert found.sentence == (
        "Shipped at 2026-12-01 09:00 (-05:00) is earlier than what must come before it: the envelope was"
        " sealed at 2026-12-01 10:30 (-05:00)."
    )


def test_where_nothing_is_known_nothing_is_asked() -> None:
    """A basement without a network would ask about every time."""
    assert not list(order_slips.too_early("shipped", Moment.parse("2026-12-01T09:00:00-05:00"), []))
