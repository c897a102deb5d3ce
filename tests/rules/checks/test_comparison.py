"""What weakens a comparison. Limits are common practice, no source, unless a check says otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from builders import CUSTODIAN, DAY, INSPECTOR, LAB_QUALITY, QUALITY, Story, findings, visit


@pytest.mark.parametrize(
    ("near", "words"),
    [
        (["none"], ""),
        ([], "No entry shows what was near"),
        (["plants"], "plants"),
        (["compost", "exhaust", "bins"], "compost, exhaust and bins"),
        (["traffic"], "traffic"),
        (["eaves"], "eaves"),
        (["supply_vent"], "supply vent"),
    ],
)
def test_a_source_beside_the_outdoor_control_is_a_warning(near: list[str], words: str) -> None:
    """The hedge and not the air outdoors would be compared with; silence must not pass for an answer."""
    for upto in ("collected", "accepted"):
        story = visit(upto, outdoor={"near": near}, first={"near": ["plants"]})
        found = findings(story.case(), "OC-05")
        assert [(each.severity, each.about) for each in found] == (
            [("warn", story.samples[2])] if words else []
        )
        assert all(words in each.sentence for each in found)


SAME = {"flow_before": "15.0", "flow_after": "15.0"}


@pytest.mark.parametrize(
    ("outdoor", "words"),
    [
        ({}, ""),
        ({"flow_before": "13.5", "flow_after": "13.5"}, ""),  # exactly 10 %
        ({"flow_before": "13.4", "flow_after": "13.4"}, "13.40 L/min against 15.00 L/min"),
        ({"flow_before": "16.6", "flow_after": "16.6"}, "16.60 L/min against 15.00 L/min"),
        ({"run_s": 330}, ""),
        ({"run_s": 331}, "331 s against 300 s"),
        ({"run_s": 269}, "269 s against 300 s"),
        ({"flow_before": None, "flow_after": None}, ""),
    ],
)
def test_an_outdoor_control_taken_otherwise_is_a_warning(outdoor: dict[str, Any], words: str) -> None:
    """A short outdoor run finds less, and the house looks worse than it is."""
    for upto in ("collected", "accepted"):
        story = visit(upto, first=SAME, second=SAME, outdoor=SAME | outdoor)
        found = findings(story.case(), "OC-09")
        assert [(each.severity, each.about) for each in found] == (
            [("warn", story.samples[2])] if words else []
        )
        for each in found:
            assert words in each.sentence
            assert grouped(story.samples[0]) in each.sentence
            assert grouped(story.samples[1]) in each.sentence


@pytest.mark.parametrize(("wanted", "fires"), [(True, True), (False, False)])
def test_an_outdoor_control_of_another_lot_is_a_warning_where_one_lot_is_wanted(
    wanted: bool, fires: bool
) -> None:
    """Two boxes catch differently, and the difference is read as mold."""
    story = Story()
    story.policy(same_lot_wanted=wanted)
    first, second = story.lot(), story.lot()
    story.opened()
    story.collected(0, lot=first)
    story.collected(3, "outdoor", lot=second)
    found = findings(story.case(), "OC-09")
    assert [(each.severity, each.about) for each in found] == [("warn", story.samples[3])] * fires
    assert all(grouped(first) in each.sentence and grouped(second) in each.sentence for each in found)


def arrived(**docked: Any) -> Story:
    """A visit at the dock, the outdoor control found as told."""
    story = visit("shipped")
    if "condition" in docked:
        items = story.items(story.samples)
        items[2]["condition"] = docked["condition"]
        story.docked(items=items)
    else:
        story.docked()
    return story


def test_an_outdoor_control_lost_before_shipping_is_another_rule_s() -> None:
    """Before the envelope closes the cure is another control, and OC-01 says so."""
    story = visit("kept")
    story.voided(2)
    assert findings(story.case(), "OC-11") == []
    assert [each.severity for each in findings(story.case(), "OC-01")] == ["block"]


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        (["intact"], ""),
        (["cracked"], "received cracked"),
        (["cover_off", "wet"], "received cover off"),
        (["wet"], ""),
        (["opened"], "opened"),
    ],
)
def test_an_outdoor_control_broken_on_the_way_flags_the_comparison(condition: list[str], words: str) -> None:
    """The indoor results go out beside a control that cannot be read."""
    story = arrived(condition=condition)
    found = findings(story.case(), "OC-11")
    assert [(each.severity, each.about, each.area) for each in found] == (
        [("flag", story.samples[2], "comparison")] if words else []
    )
    for each in found:
        assert words in each.sentence
        assert "No other remains" in each.sentence
        assert grouped(story.samples[0]) in each.sentence


def test_an_outdoor_control_voided_missing_rejected_or_overloaded_flags_the_comparison() -> None:
    """Release would go on as if the control were there."""
    voided = arrived()
    voided.voided(2, by=CUSTODIAN, said="2026-12-02T11:00:00-06:00", reason="overloaded")
    missing = visit("shipped")
    missing.docked(missing.samples[:2])
    rejected = arrived()
    rejected.rejected([rejected.samples[2]])
    overloaded = arrived()
    overloaded.accepted([overloaded.samples[2]], reasons=["overloaded"], qualified=True)
    for story, words in (
        (voided, "overloaded"),
        (missing, "missing"),
        (rejected, "rejected"),
        (overloaded, "overloaded"),
    ):
        (found,) = findings(story.case(), "OC-11")
        assert (found.severity, words in found.sentence) == ("flag", True)


def test_with_another_control_left_a_lost_one_is_a_warning() -> None:
    """The visit would be called worthless although a good control lies beside it."""
    story = Story()
    story.lot(samples=3)
    story.opened()
    story.collected(0)
    story.collected(1, "outdoor")
    story.collected(2, "outdoor")
    story.relinquished()
    story.received()
    story.sealed()
    story.shipped()
    story.voided(1, said="2026-12-02T11:00:00-06:00")
    (found,) = findings(story.case(), "OC-11")
    assert (found.severity, "1 other remains" in found.sentence) == ("warn", True)
    story.voided(2, said="2026-12-02T11:00:00-06:00")
    assert {each.severity for each in findings(story.case(), "OC-11")} == {"flag"}


def test_only_a_second_person_may_record_that_the_loss_was_accepted() -> None:
    """Whoever took the control would excuse himself."""
    story = arrived(condition=["cracked"])
    story.excepted("OC-11", story.samples[2], by=INSPECTOR, reason="client_accepts")
    assert [each.severity for each in findings(story.case(), "OC-11")] == ["flag"]
    story.excepted("OC-11", story.samples[2], by=LAB_QUALITY, reason="client_accepts")
    (found,) = findings(story.case(), "OC-11")
    assert (found.severity, LAB_QUALITY.name in found.excepted) == ("warn", True)
    assert QUALITY.name not in found.excepted


@pytest.mark.parametrize(
    ("second", "fires"),
    [
        # The first run begins at 09:12; a run of 300 s that starts at 13:07 ends exactly four hours later.
        ({"started": f"{DAY}T13:07:00-05:00"}, False),
        ({"started": f"{DAY}T13:07:01-05:00"}, True),
        ({"started": f"{DAY}T13:30:00-05:00", "kind": "outdoor"}, False),  # a second control was taken
        (
            {
                "started": f"{DAY}T13:30:00-05:00",
                "kind": "blank",
                "run_s": 0,
                "flow_before": None,
                "flow_after": None,
            },
            False,
        ),
    ],
)
def test_a_long_visit_with_one_outdoor_control_is_noted(second: dict[str, Any], fires: bool) -> None:
    """Morning air is compared with an afternoon's (Health Canada, read in an excerpt: spore clouds vary)."""
    for upto in ("collected", "accepted"):
        story = visit(upto, second=second)
        found = findings(story.case(), "OC-13")
        assert [(each.severity, each.about) for each in found] == [("note", story.form)] * fires
        assert all("4 h" in each.sentence for each in found)


@pytest.mark.parametrize(
    ("first", "second", "serves", "words"),
    [
        ("A", "A", [], None),
        (None, "B", [], None),
        ("A", "B", ["A", "B"], "2 units: A and B."),
        ("A", "B", ["A"], "not on record for B"),
        ("A", "B", [], "not on record for A and B"),
    ],
)
def test_one_outdoor_control_for_several_units_is_a_warning(
    first: str | None, second: str | None, serves: list[str], words: str | None
) -> None:
    """The flat at the back is compared with the air of the street."""
    for upto in ("collected", "accepted"):
        story = visit(upto, first={"unit": first}, second={"unit": second}, outdoor={"serves": serves})
        found = findings(story.case(), "OC-14")
        assert [(each.severity, each.about) for each in found] == (
            [("warn", story.samples[2])] if words else []
        )
        assert all(str(words) in each.sentence for each in found)


def test_a_shared_control_far_in_time_says_from_which_unit() -> None:
    """The unit done last would seem as well covered as the first (the limit is that of OC-03)."""
    late = {"unit": "B", "started": f"{DAY}T11:43:00-05:00"}  # the control began at 09:42, 121 min before
    story = visit("collected", first={"unit": "A"}, second=late, outdoor={"serves": ["A", "B"]})
    (found,) = findings(story.case(), "OC-14")
    assert "more than 120 min from B" in found.sentence
    on_time = late | {"started": f"{DAY}T11:42:00-05:00"}
    (near,) = findings(visit("collected", first={"unit": "A"}, second=on_time).case(), "OC-14")
    assert "more than" not in near.sentence
