"""Pumps that were checked once for several runs. Figures: domain catalog 4.3 and common practice, no source;
check after sampling: OSHA Technical Manual II:1, contents.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from bailee.domain import measures
from bailee.presentation.sample_view import sample_views
from bailee.rules.registry import Finding
from builders import DAY, MEDIA_KEEPER, Story, findings, visit

UNREAD = {"flow_before": None, "flow_after": None}


def checked(*checks: dict[str, Any], policy: dict[str, Any] | None = None, **run: Any) -> Story:
    """A visit whose runs have no readings of their own, and checks of its pump."""
    spoilt = dict.fromkeys(("first", "second", "outdoor"), UNREAD | run)
    story = visit("collected", **spoilt, **({"policy": policy} if policy else {}))
    for check in checks:
        story.pump_checked(**check)
    return story


def before(flow: str = "15.0", at: str = "08:05", **more: Any) -> dict[str, Any]:
    """A check before the runs."""
    return {"flow": flow, "at": f"{DAY}T{at}:00-05:00", "when": "before"} | more


def after(flow: str = "14.6", at: str = "16:30", **more: Any) -> dict[str, Any]:
    """A check after them."""
    return {"flow": flow, "at": f"{DAY}T{at}:00-05:00", "when": "after"} | more


def flows(story: Story) -> list[Finding]:
    """What is said of flow and its checks."""
    return findings(story.case(), "PV-02", "PV-03", "PV-04", "PV-05", "PV-12", "PV-18")


def test_a_pump_checked_before_and_after_the_day_speaks_for_each_run() -> None:
    """Three samples with a good pump are stopped because the day's check could not be said."""
    story = checked(before(), after())
    assert flows(story) == []
    taken = story.state().samples[story.samples[0]].taken
    assert taken.mean_flow == Decimal("14.80")
    assert taken.volume_l == Decimal("74.00")
    assert taken.flow_before is not None
    assert taken.flow_after is not None
    drift = measures.drift_percent(taken.flow_before, taken.flow_after)
    assert measures.rounded(drift, 2) == Decimal("-2.67")
    view, *_ = sample_views(story.state(), story.case()).values()
    assert view.drawn == "74.00 L at 14.80 L/min (15.00 / 14.60, day check)"


@pytest.mark.parametrize(("wanted", "severity"), [(True, "warn"), (False, "note")])
def test_a_pump_checked_before_alone_is_used_and_told_once(wanted: bool, severity: str) -> None:
    """The volume is not known although it was read, and three warnings say one thing."""
    story = checked(before("14.9"), policy={"day_check_after": wanted})
    (found,) = flows(story)
    assert (found.rule, found.severity, found.about) == ("PV-02", severity, story.form)
    assert all(number[:4] in found.sentence for number in story.samples)
    assert story.state().samples[story.samples[0]].taken.volume_l == Decimal("74.50")


def test_a_pump_that_lost_its_flow_spoils_every_run_of_the_day() -> None:
    """15.0 to 13.4 is -10.67 %: the runs in between pass, since nobody read them one by one."""
    story = checked(before(), after("13.4"))
    found = flows(story)
    assert sorted((each.rule, each.severity) for each in found) == [("PV-03", "warn"), ("PV-05", "block")]
    assert all(each.samples == tuple(story.samples) for each in found)
    assert all("by checks of PUMP-1" in each.sentence for each in found)


@pytest.mark.parametrize(
    "checks",
    [(), (after(),), (before() | {"pump": "PUMP-2"},), (before() | {"at": "2026-11-30T08:05:00-05:00"},)],
)
def test_without_a_check_of_this_pump_before_the_run_that_day_it_stops_as_before(checks: Any) -> None:
    """Another pump's check, or that of the day before, would make up a volume."""
    story = checked(*checks)
    stops = [each for each in flows(story) if each.rule == "PV-02"]
    assert [(each.severity, each.samples) for each in stops] == [("block", tuple(story.samples))]


def test_own_readings_count_more_than_the_day_s() -> None:
    """The flow read at the cassette would be replaced by one from the morning."""
    story = visit("collected")
    story.pump_checked(**before("10.0"))
    assert story.state().samples[story.samples[0]].taken.mean_flow != Decimal("10.0")
    assert flows(story) == []


def test_a_pump_adjusted_before_the_next_reading_tells_nothing_of_the_runs_before() -> None:
    """Whoever sets the pump and then reads 15.0 would hide that it had fallen to 12."""
    story = checked(before(), after("15.0", "12:00", adjusted=True, when="between"), after(at="16:30"))
    found = flows(story)
    assert [(each.rule, each.severity) for each in found] == [("PV-18", "block")]
    assert found[0].samples == tuple(story.samples)
    as_found = checked(
        before(),
        after("14.8", "11:58", when="between"),
        after("15.0", "12:00", adjusted=True, when="between"),
    )
    assert flows(as_found) == []


@pytest.mark.parametrize(("timer", "fires"), [("303", False), ("304", True), ("296", True), ("297", False)])
def test_a_timer_that_disagrees_with_a_watch_is_warned_of(timer: str, fires: bool) -> None:
    """Each run of the day is a little longer or shorter than it says. 1 % of 300 s: common practice."""
    story = checked(before(timer_s=int(timer), watch_s=300), after(), timer_stop=True)
    assert [(each.rule, each.severity) for each in flows(story)] == [("PV-18", "warn")] * fires
    by_watch = checked(before(timer_s=int(timer), watch_s=300), after(), timer_stop=False)
    assert flows(by_watch) == []


def test_checks_more_than_a_day_apart_are_warned_of() -> None:
    """What the pump did in two days nobody can say from two readings."""
    near = checked(before(), after() | {"at": "2026-12-02T08:05:00-05:00"})
    far = checked(before(), after() | {"at": "2026-12-02T08:05:01-05:00"})
    assert flows(near) == []
    assert [(each.rule, each.severity) for each in flows(far)] == [("PV-18", "warn")]


def test_the_meter_of_the_check_needs_its_certificate() -> None:
    """A meter out of certificate passes because it was read once a day and not at each cassette."""
    story = checked(before(meter="METER-9"), after(meter="METER-9"), meter=None)
    story.equipment("METER-9", certified="2024-01-01")
    assert [each.samples for each in findings(story.case(), "PV-06")] == [tuple(story.samples)]


def test_each_of_two_meters_needs_its_certificate() -> None:
    """The evening's check is read with a meter that nobody has calibrated, and the morning's
    speaks for both.
    """
    story = checked(before(), after(meter="METER-9"))
    story.equipment("METER-9", certified="2024-01-01")
    (found,) = findings(story.case(), "PV-06")
    assert found.samples == tuple(story.samples)
    assert "METER-9" in found.sentence


def test_a_check_by_the_media_keeper_of_the_firm_is_in_order() -> None:
    """Whoever charges and checks the pumps in the evening would be warned of."""
    story = checked(before())
    story.say(
        "pump_checked",
        {
            "pump": "PUMP-1",
            "meter": "METER-1",
            "at": f"{DAY}T16:30:00-05:00",
            "flow": "14.6",
            "when": "after",
            "through_cassette": True,
        },
        {},
        by=MEDIA_KEEPER,
        at=f"{DAY}T16:31:00-05:00",
    )
    assert flows(story) == []
    assert findings(story.case(), "SI-03") == []
