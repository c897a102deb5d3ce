"""What is worth saying of an envelope that waits, travels, or never came.

Hours and limits: common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from bailee.domain.moments import Moment
from bailee.rules.case import Case
from bailee.rules.registry import Finding
from builders import DAY, LAB, Story, findings, visit


def found(story: Story, rule: str, at: str | None = None) -> list[Finding]:
    """What one rule says of the story, asked at some time."""
    return findings(story.case(at=at), rule)


def asked(story: Story, **changes: Any) -> Case:
    """The clerk's question before the hand-over."""
    return story.case(shipping=story.shipping(**changes))


# SH-07


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        ("-10", "40", []),
        ("-10.1", "40", ["-10.1"]),
        ("-10", "40.1", ["40.1"]),
        ("-30", "50", ["50", "-30"]),
        (None, None, []),
    ],
)
def test_heat_or_frost_forecast_for_the_way(low: str | None, high: str | None, words: list[str]) -> None:
    """An envelope in a van at 50 degrees is no secret to whoever read the forecast. Limits: a guess."""
    story = visit("shipped", shipped={"forecast_low_c": low, "forecast_high_c": high})
    hits = found(story, "SH-07")
    assert [each.severity for each in hits] == ["note"] * len(words)
    said = " ".join(each.sentence for each in hits)
    assert all(f"{word} °C (" in said for word in words)
    story.docked()
    assert len(found(story, "SH-07")) == len(words)


def test_the_forecast_is_judged_before_the_hand_over() -> None:
    """Afterwards nobody can choose another day."""
    story = visit("sealed")
    assert findings(asked(story), "SH-07") == []
    (hit,) = findings(asked(story, forecast_high_c=Decimal(41)), "SH-07")
    assert hit.about == story.envelope


# SH-08


@pytest.mark.parametrize(("at", "count"), [("08:30:05", 0), ("08:30:06", 1)])
def test_opening_hours_entered_long_ago(at: str, count: int) -> None:
    """The laboratory moved in summer.

    The ledger heard of its hours on 2 November at 08:30:05; the limit here is 29 days.
    """
    story = visit("sealed", policy={"hours_age_days": 29})
    hits = findings(asked(story, handed_over=Moment.parse(f"{DAY}T{at}-05:00")), "SH-08")
    assert [each.severity for each in hits] == ["note"] * count
    for each in hits:
        assert "on 2026-11-02, 29 days before" in each.sentence


def test_old_hours_of_a_journey_that_is_over_bother_nobody() -> None:
    """The box is there: whether the hours were stale is idle."""
    story = visit("shipped", policy={"hours_age_days": 1})
    assert len(found(story, "SH-08")) == 1
    story.docked()
    assert found(story, "SH-08") == []


# SH-09


@pytest.mark.parametrize(
    ("at", "count"), [("2026-12-02T14:00:00-05:00", 0), ("2026-12-02T14:00:01-05:00", 1)]
)
def test_an_envelope_that_lies_on_the_desk(at: str, count: int) -> None:
    """Sealed on Tuesday, found behind the printer on Friday. 24 h after 14:00."""
    story = visit("sealed")
    hits = found(story, "SH-09", at)
    assert [each.severity for each in hits] == ["warn"] * count
    story.shipped()
    assert found(story, "SH-09", at) == []


def test_an_envelope_opened_again_or_handed_over_now_does_not_wait() -> None:
    """The clerk is just doing what the warning asks for."""
    story = visit("sealed")
    late = story.shipping(handed_over=Moment.parse("2026-12-03T15:00:00-05:00"))
    assert findings(story.case(at="2026-12-03T15:00:00-05:00", shipping=late), "SH-09") == []
    story.unsealed()
    assert found(story, "SH-09", "2026-12-03T15:00:00-05:00") == []


# SH-10


@pytest.mark.parametrize(
    ("at", "count"),
    [
        ("2026-12-02T10:30:00-06:00", 0),
        ("2026-12-02T14:30:00-06:00", 0),
        ("2026-12-02T14:30:01-06:00", 1),
        ("2026-12-02T22:00:00-06:00", 1),
    ],
)
def test_expected_and_not_received(at: str, count: int) -> None:
    """The carrier lost it on Wednesday.

    The client hears of it when the report is due. 4 h of an open dock.
    """
    story = visit("shipped")
    hits = found(story, "SH-10", at)
    assert [each.severity for each in hits] == ["warn"] * count
    for each in hits:
        assert "TRACK-0001" in each.sentence
        assert LAB in each.sentence


def test_hours_at_night_do_not_count() -> None:
    """Expected at 16:00, the dock shuts at 17:00: by 8 next morning one hour has gone by, at 11
    four of them.
    """
    there = "2026-12-02T16:00:00-06:00"
    by_hand = {"by_hand": True, "tracking": None, "service_days": 0, "expected_delivery": there}
    story = visit("shipped", shipped=by_hand | {"expected_receipt": there})
    assert found(story, "SH-10", "2026-12-03T11:00:00-06:00") == []
    assert len(found(story, "SH-10", "2026-12-03T11:00:01-06:00")) == 1


def test_received_it_is_not_missed_any_more() -> None:
    """A chase list that names what came yesterday is not read tomorrow."""
    story = visit("shipped")
    story.docked(at="2026-12-03T16:00:00-06:00")
    assert found(story, "SH-10", "2026-12-04T16:00:00-06:00") == []


# SH-11


def by_hand() -> Story:
    """A courier of the firm drives it to the laboratory."""
    return visit("shipped", shipped={"by_hand": True, "tracking": None, "service_days": 0})


def test_carried_by_hand_and_nobody_signed_for_it() -> None:
    """Left on the counter: the laboratory counted it, and nobody ever took it over."""
    story = by_hand()
    assert found(story, "SH-11") == []
    story.accepted(story.samples)
    (hit,) = found(story, "SH-11")
    assert (hit.severity, hit.about) == ("flag", story.envelope)
    signed = by_hand()
    signed.docked()
    signed.accepted()
    assert found(signed, "SH-11") == []


def test_a_carrier_s_envelope_is_another_matter() -> None:
    """A carrier signs nothing (SI-13): the seal and the tracking number speak for it."""
    story = visit("shipped")
    story.accepted(story.samples)
    assert found(story, "SH-11") == []


# SH-14


@pytest.mark.parametrize(
    ("said", "by_hand", "count"),
    [
        (None, False, 1),
        ("not_regulated", False, 0),
        ("excepted", False, 0),
        ("regulated", False, 0),
        (None, True, 0),
    ],
)
def test_the_shipper_decides_the_transport_class(said: str | None, by_hand: bool, count: int) -> None:
    """The carrier asks at the counter, and nobody has thought about it.

    Before the hand-over and under way; not afterwards.
    """
    before = findings(asked(visit("sealed"), classified=said, by_hand=by_hand), "SH-14")
    assert [each.severity for each in before] == ["note"] * count
    story = visit("shipped", shipped={"classified": said, "by_hand": by_hand})
    assert len(found(story, "SH-14")) == count
    story.docked()
    assert found(story, "SH-14") == []
