"""Runs of the pump beside each other.

Limits are common practice, no source, unless a check says otherwise.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from builders import DAY, Story, findings, visit

# The first run lasts from 09:12:00 to 09:17:00.


@pytest.mark.parametrize(
    ("second", "seconds"),
    [
        ({"started": f"{DAY}T09:17:00-05:00"}, 0),
        ({"started": f"{DAY}T09:17:59-05:00"}, 59),
        ({"started": f"{DAY}T09:18:00-05:00"}, None),
        ({"started": f"{DAY}T08:17:30-06:00"}, 30),
        ({"started": f"{DAY}T09:16:59-05:00"}, None),  # an overlap is PV-10
        ({"started": f"{DAY}T09:17:00-05:00", "pump": "PUMP-2"}, None),
        ({"started": f"{DAY}T09:17:00-05:00", "room": "bedroom", "point": "Point 1"}, None),
        ({"started": f"{DAY}T09:17:00-05:00", "pump": None}, None),
    ],
)
def test_a_pump_needs_time_to_be_carried(second: dict[str, Any], seconds: int | None) -> None:
    """Times were written at the kitchen table, or two pumps bear one number."""
    for upto in ("collected", "accepted"):
        story = visit(upto, second=second)
        found = findings(story.case(), "PV-11")
        assert [(each.severity, each.about) for each in found] == (
            [("warn", story.samples[1])] if seconds is not None else []
        )
        for each in found:
            assert f"{seconds} s after" in each.sentence
            assert "PUMP-1" in each.sentence
            assert grouped(story.samples[0]) in each.sentence
            assert "60 s are wanted" in each.sentence


def test_time_to_walk_is_looked_at_across_visits_of_one_firm() -> None:
    """The same pump would be in two houses within a minute, each form clean by itself."""
    story = Story()
    story.lot(samples=6)
    story.opened()
    story.collected(0)
    story.opened()
    story.collected(1, started=f"{DAY}T09:17:30-05:00")
    assert [each.about for each in findings(story.case(), "PV-11")] == [story.samples[1]]
    assert findings(story.case(sealing=story.sealing([story.samples[0]])), "PV-11") != []
    story.opened(parties={"firm": "other-firm", "lab": "quill-lab"})
    story.collected(2, started=f"{DAY}T09:23:00-05:00")
    assert len(findings(story.case(), "PV-11")) == 1


@pytest.mark.parametrize(
    ("run_s", "flow", "words"),
    [
        # Volume = flow x time (arithmetic; domain catalog 4.1): 15 L/min for 60 s are 15 L, for 600 s 150 L.
        (60, "15.0", ""),
        (59, "15.0", "14.8 L"),  # 14.75
        (600, "15.0", ""),
        (601, "15.0", "150.3 L"),  # 150.25
        (0, "15.0", ""),  # no air at all is BD-04
        (300, None, ""),
    ],
)
def test_a_volume_outside_the_method_is_a_warning(run_s: int, flow: str | None, words: str) -> None:
    """The laboratory cannot read what is too little or too much (ASTM D7391-20, scope, read: the range
    depends on it).
    """
    for upto in ("collected", "accepted"):
        story = visit(upto, first={"run_s": run_s, "flow_before": flow, "flow_after": flow})
        found = findings(story.case(), "PV-12")
        assert [(each.severity, each.about) for each in found] == (
            [("warn", story.samples[0])] if words else []
        )
        assert all(words in each.sentence and "15 to 150 L" in each.sentence for each in found)


@pytest.mark.parametrize(
    ("outside", "limit", "words"),
    [
        # Domain catalog 4.3: 75.0 L in and 71.0 L out are 5.3 % apart, no note at 10 %.
        ("14.2", "10", ""),
        ("13.5", "10", ""),  # exactly 10 %
        ("13.4", "10", "10.7 %"),
        ("16.6", "10", "10.7 %"),
        ("14.2", "5", "5.3 %"),
        (None, "10", ""),
    ],
)
def test_volumes_that_differ_are_noted(outside: str | None, limit: str, words: str) -> None:
    """Nothing found in little air would be compared with something found in much."""
    same = {"flow_before": "15.0", "flow_after": "15.0"}
    spoilt: dict[str, Any] = {
        "first": same,
        "second": same,
        "outdoor": {"flow_before": outside, "flow_after": outside},
    }
    for upto in ("collected", "accepted"):
        story = visit(upto, policy={"volume_gap_pct": limit}, **spoilt)
        found = findings(story.case(), "PV-13")
        assert [(each.severity, each.about, each.area) for each in found] == [
            ("note", number, "comparison") for number in sorted(story.samples[:2])
        ] * bool(words)
        assert all(words in each.sentence and "75.0 L" in each.sentence for each in found)


@pytest.mark.parametrize(("why", "fires"), [("battery", True), ("blocked", True), (None, False)])
def test_a_pump_that_stopped_by_itself_is_a_warning(why: str | None, fires: bool) -> None:
    """The battery died at 3 min 20 s, and the next visit begins with the same battery (domain catalog 8,
    scenario 13).
    """
    for upto in ("collected", "accepted"):
        story = visit(upto, first={"pump_stop": why, "run_s": 200})
        found = findings(story.case(), "PV-14")
        assert [(each.severity, each.about) for each in found] == [("warn", story.samples[0])] * fires
        assert all(f"({why})" in each.sentence and "PUMP-1" in each.sentence for each in found)
