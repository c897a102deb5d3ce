"""The pump, and its runs beside each other.

5 % and 10 % are from county-filed air sampling plans (read); ±5 % of the nominal flow, and all other limits,
are common practice, no source, unless a check says otherwise.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from bailee.domain.numbers import grouped
from builders import DAY, QUALITY, SECOND_INSPECTOR, Story, findings, visit
from published import rows

# Domain catalog 4.3: flow before, after, drift as printed, mean, and the severities that follow.
WORKED = [
    ("15.0", "14.4", None, "14.7", {}),
    ("15.0", "14.25", None, "14.625", {}),  # the limit is "more than"
    ("15.0", "14.2", "-5.33", "14.6", {"PV-03": "warn", "PV-04": "warn"}),
    ("15.0", "15.8", "+5.33", "15.4", {"PV-03": "warn", "PV-04": "warn"}),
    ("14.6", "15.3", None, "14.95", {}),
    ("14.2", "14.2", None, "14.2", {"PV-03": "warn"}),
    ("15.0", "13.4", "-10.67", "14.2", {"PV-03": "warn", "PV-05": "block"}),
]


@pytest.mark.parametrize(("before", "after", "drift", "mean", "expected"), WORKED)
def test_worked_flows(
    before: str, after: str, drift: str | None, mean: str, expected: dict[str, str]
) -> None:
    """A volume computed from a pump that lost its flow gives a wrong concentration with two decimals."""
    story = visit("collected", first={"flow_before": before, "flow_after": after})
    found = findings(story.case(), "PV-03", "PV-04", "PV-05")
    assert {each.rule: each.severity for each in found} == expected
    for each in found:
        assert each.about == story.samples[0]
        assert grouped(story.samples[0]) in each.sentence
        if each.rule != "PV-03":
            assert f"{drift} %" in each.sentence
            assert f"{Decimal(mean):f}".rstrip("0").rstrip(".") in each.sentence


def test_drift_of_the_trade() -> None:
    """The verdict must be the one of the sampling plans, whoever computes it."""
    for before, after, *_, expected in rows("trade", "drift"):
        story = visit("collected", first={"flow_before": before, "flow_after": after})
        severities = {found.severity for found in findings(story.case(), "PV-03", "PV-04", "PV-05")}
        worst = next((level for level in ("block", "warn") if level in severities), "ok")
        assert worst == expected, (before, after)


@pytest.mark.parametrize(
    ("before", "after", "rule"),
    [
        ("14.00", "14.70", None),  # exactly 5 %
        ("14.00", "14.71", "PV-04"),
        ("15.00", "16.50", "PV-04"),  # exactly 10 %
        ("15.00", "16.51", "PV-05"),
        ("15.00", "13.50", "PV-04"),
        ("15.00", "13.49", "PV-05"),
        ("0", "0", None),
        ("0", "0.1", "PV-05"),  # no flow before: any change is too much
        ("15.0", None, None),
        (None, "15.0", None),
    ],
)
def test_drift_must_be_strictly_more_than_the_limit(
    before: str | None, after: str | None, rule: str | None
) -> None:
    """A pump exactly at the limit would be refused, or one beyond it let through."""
    story = visit("collected", first={"flow_before": before, "flow_after": after})
    assert [each.rule for each in findings(story.case(), "PV-04", "PV-05")] == ([rule] if rule else [])


@pytest.mark.parametrize(
    ("before", "after", "rule", "offered"),
    [
        ("1.50", "15.0", "PV-03", ["flow_before"]),
        ("15.0", "1.49", "PV-03", ["flow_after"]),
        ("1.50", "1.49", "PV-03", ["flow_before", "flow_after"]),
        ("15.0", "12.0", "PV-05", ["flow_before", "flow_after"]),
    ],
)
def test_the_reading_that_is_out_is_the_one_to_correct(
    before: str, after: str, rule: str, offered: list[str]
) -> None:
    """A slip in the reading before the run would be "put right" in the one after it."""
    story = visit("collected", first={"flow_before": before, "flow_after": after})
    (hit,) = findings(story.case(), rule)
    assert [each["field"] for each in hit.acts if each["act"] == "corrected"] == offered


@pytest.mark.parametrize(
    ("nominal", "flow", "fires"),
    [
        ("15.0", "14.25", False),
        ("15.0", "14.24", True),
        ("15.0", "15.75", False),
        ("15.0", "15.76", True),
        ("5.0", "5.25", False),  # another cassette, another range
        ("5.0", "15.0", True),
    ],
)
def test_readings_are_compared_with_the_flow_of_the_cassette(nominal: str, flow: str, fires: bool) -> None:
    """The trace of a cassette run at the wrong flow does not catch what it should (NIOSH
    Method 0800, read).
    """
    same = {"flow_before": flow, "flow_after": flow}
    story = visit("collected", lot={"nominal_flow": nominal}, first=same, second=same, outdoor=same)
    found = findings(story.case(), "PV-03")
    assert [each.severity for each in found] == ["warn"] * fires
    assert all(f"{flow} L/min before and {flow} L/min after" in each.sentence for each in found)
    if nominal == "15.0":
        assert all("14.25 to 15.75 L/min" in each.sentence for each in found)


def test_a_blank_or_an_unknown_lot_has_no_flow_to_compare() -> None:
    """A field blank would be warned about for drawing no air."""
    story = visit("collected")
    story.samples.append(story.number("sample"))
    story.collected(3, "blank", planned_s=None)
    story.samples.append(story.number("sample"))
    story.collected(4, lot=story.number("lot"), flow_before="9.0", flow_after="9.0")
    assert findings(story.case(), "PV-03", "PV-04", "PV-05", "PV-08") == []


def test_great_drift_is_a_flag_after_shipping_and_a_warning_once_excepted() -> None:
    """The clerk must stop before the envelope closes; afterwards the fact must stay visible."""
    bad = {"flow_before": "15.0", "flow_after": "13.4"}
    assert [each.severity for each in findings(visit("shipped", first=bad).case(), "PV-05")] == ["flag"]
    story = visit("kept", first=bad)
    story.excepted("PV-05", story.samples[0])
    (found,) = findings(story.case(sealing=story.sealing()), "PV-05")
    assert (found.severity, QUALITY.name in found.excepted) == ("warn", True)


@pytest.mark.parametrize(
    ("planned", "run", "severity"),
    [
        (300, 305, None),
        (300, 306, "note"),
        (300, 295, None),
        (300, 294, "note"),
        (300, 330, "note"),  # exactly 10 %
        (300, 331, "warn"),
        (300, 270, "note"),
        (300, 200, "warn"),  # domain catalog 8, scenario 13: the battery died at 3 min 20 s
        (None, 200, "warn"),  # no plan said: the lot's usual 300 s
        (None, 303, None),
        (0, 60, "warn"),
    ],
)
def test_the_seconds_really_run_are_compared_with_the_plan(
    planned: int | None, run: int, severity: str | None
) -> None:
    """Five minutes would be written for a pump that stopped early, and the volume be wrong by a third."""
    story = visit("collected", first={"planned_s": planned, "run_s": run})
    found = findings(story.case(), "PV-08")
    assert [each.severity for each in found] == ([severity] if severity else [])
    assert all(f"{run} s" in each.sentence and grouped(story.samples[0]) in each.sentence for each in found)


def test_without_plan_and_lot_the_run_stands_for_itself() -> None:
    """An unknown lot is one fault, not two."""
    story = Story()
    story.lot()
    story.opened()
    story.collected(0, lot=story.number("lot"), planned_s=None, run_s=200)
    assert findings(story.case(), "PV-08") == []


@pytest.mark.parametrize(
    ("second", "overlap"),
    [
        ({"started": "2026-12-01T09:17:00-05:00"}, False),  # begins as the first ends
        ({"started": "2026-12-01T09:16:59-05:00"}, True),
        ({"started": "2026-12-01T09:07:00-05:00"}, False),  # ends as the first begins
        ({"started": "2026-12-01T09:07:01-05:00"}, True),
        ({"started": "2026-12-01T08:13:00-06:00"}, True),  # the same instant minutes, read from another clock
        ({"started": "2026-12-01T09:13:00-05:00", "pump": "PUMP-2"}, False),
        ({"started": "2026-12-01T09:13:00-05:00", "pump": None}, False),
    ],
)
def test_one_pump_cannot_run_in_two_places(second: dict[str, Any], overlap: bool) -> None:
    """One of two times is wrong, and nobody would know which sample it spoils (domain catalog
    8, scenario 1).
    """
    story = visit("collected", second=second)
    found = findings(story.case(), "PV-10")
    assert [(each.severity, each.about) for each in found] == [
        ("block", number) for number in sorted(story.samples[:2])
    ] * overlap
    for each in found:
        assert grouped(story.samples[0]) in each.sentence
        assert grouped(story.samples[1]) in each.sentence
        assert "PUMP-1" in each.sentence


def test_no_pump_named_and_no_air_drawn_overlap_nothing() -> None:
    """Two samples whose pump nobody wrote down, or a blank beside a running pump, would stop the envelope."""
    nameless = {"started": "2026-12-01T09:13:00-05:00", "pump": None}
    story = visit("collected", first=nameless, second=nameless)
    story.samples.append(story.number("sample"))
    story.collected(3, "blank", pump="PUMP-1", started="2026-12-01T09:43:00-05:00")
    assert findings(story.case(), "PV-10") == []


def test_one_pump_on_two_visits_at_once_stops_whichever_is_sealed() -> None:
    """Two inspectors type the same pump; each form alone looks clean."""
    story = Story()
    story.lot(samples=6)
    story.opened()
    story.collected(0)
    story.opened(by=SECOND_INSPECTOR)
    story.collected(1, by=SECOND_INSPECTOR, started="2026-12-01T09:14:00-05:00")
    (found,) = findings(story.case(sealing=story.sealing([story.samples[0]])), "PV-10")
    assert (found.severity, found.about) == ("block", story.samples[0])
    story.opened(parties={"firm": "other-firm", "lab": "quill-lab"})
    story.collected(2, started="2026-12-01T09:14:00-05:00")
    assert {each.about for each in findings(story.case(), "PV-10")} == set(story.samples[:2])


def test_an_overlap_found_after_shipping_is_a_flag_that_nobody_excepts() -> None:
    """A question of fact is settled by a correction, not by a signature over it."""
    story = visit("shipped", second={"started": "2026-12-01T09:13:00-05:00"})
    story.excepted("PV-10", story.samples[0])
    assert [each.severity for each in findings(story.case(), "PV-10")] == ["flag", "flag"]


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
            assert "at least 60 s" in each.sentence


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
        (60, "14.95", "14.95 L"),  # 15.0 L would be enough
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
        ("13.4995", "10", "10.003 %"),  # 10.0 % would not be too much
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
