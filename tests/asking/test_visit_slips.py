"""What in one cassette cannot well be, by the others of its visit: on both sides of each edge. The edges are
our own (common practice, no source).
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from bailee.asking import visit_slips

FIRST: dict[str, Any] = {
    "sample": "S1",
    "form": "F",
    "started": "2026-12-01T14:10:00-05:00",
    "pump": "P-5",
    "meter": "M-3",
    "serial": "K-1",
}
USUAL: dict[str, Any] = {**FIRST, "sample": "S2", "started": "2026-12-01T14:39:00-05:00", "serial": "K-2"}


def found(*known: dict[str, Any], **said: Any) -> list[tuple[str, str, str]]:
    """The slips of a second cassette that is usual but for this."""
    there = visit_slips.among(USUAL | said, "F", known or (FIRST,))
    return [(each.code, each.field, each.meant) for each in there]


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ({}, []),
        ({"meter": "p-5 ", "pump": "P-6"}, [("pump-as-meter", "meter", "")]),
        ({"meter": "M-4", "pump": "M-3"}, [("meter-as-pump", "pump", "")]),
        ({"meter": "M-3", "pump": "M-3"}, []),  # told as one number for both
        ({"meter": "P-6", "pump": "P-9"}, []),
        ({"serial": "P-5"}, [("equipment-as-serial", "serial", "")]),
        ({"serial": "m-3"}, [("equipment-as-serial", "serial", "")]),
        ({"serial": None, "pump": None, "meter": None}, []),
    ],
)
def test_an_instrument_is_no_other_and_no_cassette(
    said: dict[str, Any], wanted: list[tuple[str, str, str]]
) -> None:
    """The flow would rest on an instrument that reads none, and the cassette be known by a pump."""
    assert found(**said) == wanted


@pytest.mark.parametrize(("pump", "also"), [("P-5", ()), ("P-6", ("pump",))])
def test_only_an_instrument_that_is_new_may_be_the_wrong_one(pump: str, also: tuple[str, ...]) -> None:
    """Who read the wrong number for the serial would be asked whether the pump of all morning is wrong."""
    (slip,) = visit_slips.among(USUAL | {"pump": pump, "serial": pump}, "F", [FIRST])
    assert slip.also == also


def test_an_instrument_of_another_visit_may_be_numbered_so() -> None:
    """Two firms number as they like, and each visit with rented pumps would be asked about."""
    assert found({**FIRST, "form": "G"}, meter="P-5", pump="P-6") == []


@pytest.mark.parametrize(
    ("started", "meant"),
    [
        ("2026-12-01T02:39:00-05:00", "2026-12-01 14:39"),
        ("2026-12-01T00:10:00-05:00", "2026-12-01 12:10"),
        ("2026-12-01T00:09:00-05:00", None),
        ("2026-12-02T04:10:00-05:00", "2026-12-01 16:10"),
        ("2026-12-01T08:10:01-05:00", None),
        ("2026-12-01T19:00:00-05:00", None),
        ("no time at all", None),
    ],
)
def test_half_a_day_from_all_others_is_asked_back(started: str, meant: str | None) -> None:
    """2:39 typed for 14:39 would set the outdoor control twelve hours from what it is compared with."""
    assert found(started=started) == ([("half-a-day-off", "started", meant)] if meant else [])


def test_a_start_near_one_of_two_far_ones_stands() -> None:
    """Baseline in the morning and a second round at night would be asked about at each cassette."""
    night = {**FIRST, "started": "2026-12-01T02:30:00-05:00"}
    assert found(FIRST, {**night, "sample": "S3"}, started="2026-12-01T02:39:00-05:00") == []


def by_opening(started: str, now: str, *known: dict[str, Any]) -> list[tuple[str, str]]:
    """The slips of a cassette on a form opened at 17:53, with what each may have been."""
    opened, entered = (datetime.fromisoformat(f"2026-12-01T{each}-05:00") for each in ("17:53", now))
    said = USUAL | {"started": started}
    return [(each.remedy, each.meant) for each in visit_slips.among(said, "F", known, opened, entered)]


@pytest.mark.parametrize(
    ("started", "now", "meant"),
    [
        ("2026-12-01T05:48:00-05:00", "18:05", "2026-12-01 17:48"),
        ("2026-12-01T06:05:00-05:00", "18:05", "2026-12-01 18:05"),
        ("2026-12-01T06:06:00-05:00", "18:05", None),
        ("2026-12-01T09:30:00-05:00", "23:00", "2026-12-01 21:30"),
        ("2026-12-01T12:10:00-05:00", "18:05", None),
        ("2026-12-01T17:55:00-05:00", "18:05", None),
        ("2026-11-30T05:48:00-05:00", "18:05", None),
    ],
)
def test_the_first_start_is_looked_at_by_when_the_form_was_opened(
    started: str, now: str, meant: str | None
) -> None:
    """5:48 typed for 17:48 on the first cassette would be signed, and the second one be asked about."""
    assert [each for _, each in by_opening(started, now)] == ([meant] if meant else [])


def test_a_right_start_among_wrong_ones_is_not_to_be_changed() -> None:
    """Whoever believed the question would put the second cassette on the wrong half of the day as well."""
    first = {**FIRST, "started": "2026-12-01T05:48:00-05:00"}
    assert by_opening("2026-12-01T17:49:00-05:00", "17:56", first) == [
        (
            "By when the form was opened, 17:49 is right: correct the others.",
            "",
        )
    ]
    assert by_opening("2026-12-01T05:55:00-05:00", "18:05", first) == []
