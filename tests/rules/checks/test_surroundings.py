"""What was around the inlet. Limits are common practice, no source, unless a check says otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from builders import Story, findings, visit

PHOTO = {"sha-256": "A" * 43, "size": 204_800, "type": "image/jpeg"}


@pytest.mark.parametrize(
    ("first", "second", "wanted", "fires"),
    [
        ("complaint", "non_complaint", 1, False),
        ("complaint", "reference", 1, False),
        ("complaint", "complaint", 1, True),
        ("complaint", None, 1, True),
        ("non_complaint", "reference", 2, False),
        ("complaint", "reference", 2, True),
        ("complaint", "complaint", 0, False),
    ],
)
def test_a_place_where_nobody_complains_is_wanted(
    first: str, second: str | None, wanted: int, fires: bool
) -> None:
    """A house is called bad by the two rooms that were known to be bad (NIOSH Method 0800, read: three
    sites).
    """
    for upto in ("collected", "accepted"):
        story = visit(upto, policy={"min_reference": wanted}, first={"area": first}, second={"area": second})
        found = findings(story.case(), "SL-03")
        assert [(each.severity, each.about) for each in found] == [("warn", story.form)] * fires
        assert all(f"at least {wanted}" in each.sentence for each in found)


def test_where_no_area_was_stated_nothing_is_said_of_where_it_lay() -> None:
    """*0 places outside the complaint area* reads as if every room had been complained about."""
    story = visit("collected", first={"area": None}, second={"area": None})
    (silent,) = findings(story.case(), "SL-03")
    assert "No entry shows for 2 indoor locations" in silent.sentence
    story = visit("collected", first={"area": None}, second={"area": "complaint"})
    (some,) = findings(story.case(), "SL-03")
    assert (
        "0 indoor locations of 2 are outside the complaint area; the policy asks for at least 1."
        in some.sentence
    )


def test_an_outdoor_control_or_a_duplicate_is_no_reference_room() -> None:
    """The garden would pass for the room next door."""
    story = Story()
    story.lot(samples=4)
    story.opened()
    story.collected(0, area="complaint")
    story.collected(1, "outdoor", area="reference")
    assert len(findings(story.case(), "SL-03")) == 1
    story.collected(2, area="reference", duplicate_of=story.samples[0])
    assert len(findings(story.case(), "SL-03")) == 1
    only_outdoors = Story()
    only_outdoors.lot()
    only_outdoors.opened()
    assert findings(only_outdoors.case(), "SL-03") == []
    only_outdoors.collected(0, "outdoor")
    assert findings(only_outdoors.case(), "SL-03") == []


@pytest.mark.parametrize(
    ("near", "meters", "words"),
    [
        (["none"], None, ""),
        ([], None, ""),
        (["plants", "eaves"], None, ""),
        (["supply_vent"], None, "next to supply vent"),
        (["open_door", "fan"], None, "next to open door and fan"),
        # 3 ft = 0.9144 m exactly; a tape is read to a centimeter.
        (["fan"], "0.9144", ""),
        (["fan"], "0.91", ""),
        (["fan"], "0.9043", "0.9043 m"),
        (["plants"], "0.1", ""),
    ],
)
def test_an_inlet_in_a_draft_is_a_warning(near: list[str], meters: str | None, words: str) -> None:
    """The cassette samples the duct and not the room."""
    for upto in ("collected", "accepted"):
        story = visit(upto, first={"near": near, "near_m": meters}, outdoor={"near": ["fan"]})
        found = findings(story.case(), "SL-06")
        assert [(each.severity, each.about) for each in found] == (
            [("warn", story.samples[0])] if words else []
        )
        assert all(words in each.sentence and "3 ft" in each.sentence for each in found)


@pytest.mark.parametrize(
    ("second", "fires"),
    [
        ({"room": "bedroom", "point": "Point 1"}, True),
        ({"room": "bedroom", "point": "Point 2"}, False),
        ({"room": "living", "point": "Point 1"}, False),
        ({"room": "bedroom", "point": None}, False),
        ({"room": "bedroom", "point": "Point 1", "kind": "outdoor"}, False),
    ],
)
def test_two_samples_at_one_point_are_a_warning_unless_one_is_a_duplicate(
    second: dict[str, Any], fires: bool
) -> None:
    """One room would be counted twice and called two."""
    for upto in ("collected", "accepted"):
        story = visit(upto, second=second)
        found = findings(story.case(), "SL-08")
        assert [(each.severity, each.about) for each in found] == [("warn", story.form)] * fires
        for each in found:
            assert each.sentence.startswith("Samples ")
            assert grouped(story.samples[0]) in each.sentence
            assert grouped(story.samples[1]) in each.sentence
            assert "Point 1 in the bedroom" in each.sentence
        marked = visit(upto, second={**second, "duplicate_of": story.samples[0]})
        assert findings(marked.case(), "SL-08") == []


@pytest.mark.parametrize(
    ("changes", "wanted", "fires"),
    [
        ({}, True, False),
        ({"point": None}, True, True),
        ({"point": None, "photo": PHOTO}, True, False),
        ({"point": None}, False, False),
        ({"kind": "blank", "run_s": 0, "flow_before": None, "flow_after": None, "point": None}, True, False),
    ],
)
def test_a_place_on_no_sketch_and_no_photo_is_noted(
    changes: dict[str, Any], wanted: bool, fires: bool
) -> None:
    """Years later nobody knows where in the room it stood (ISO/IEC 17025:2017 7.3.3(g), read)."""
    for upto in ("collected", "accepted"):
        story = visit(upto, policy={"picture_wanted": wanted}, first=changes)
        found = findings(story.case(), "SL-09")
        assert [(each.severity, each.about) for each in found] == [("note", story.samples[0])] * fires


@pytest.mark.parametrize(
    ("meters", "limit", "fires"),
    [
        ("200", "200", False),
        ("200.1", "200", True),
        ("0", "200", False),
        (None, "200", False),
        ("51", "50", True),
    ],
)
def test_a_device_far_from_the_site_is_a_warning(meters: str | None, limit: str, fires: bool) -> None:
    """The sample was taken next door, or written down at home."""
    for upto in ("collected", "accepted"):
        story = visit(upto, policy={"gps_distance_m": limit}, first={"gps_distance_m": meters})
        found = findings(story.case(), "SL-10")
        assert [(each.severity, each.about) for each in found] == [("warn", story.samples[0])] * fires
        assert all(f"{meters} m" in each.sentence and f"{limit} m" in each.sentence for each in found)


@pytest.mark.parametrize("aggressive", [True, False])
def test_disturbed_surfaces_are_noted(aggressive: bool) -> None:
    """Stirred-up dust would be compared with still air."""
    for upto in ("collected", "accepted"):
        story = visit(upto, first={"aggressive": aggressive})
        found = findings(story.case(), "SL-11")
        assert [(each.severity, each.about) for each in found] == [("note", story.samples[0])] * aggressive


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"dust": "heavy"}, "full 300 s"),
        ({"dust": "heavy", "run_s": 299, "short_run": "dust"}, ""),
        ({"dust": "heavy", "run_s": 299}, "no reason is on record"),
        ({"dust": "moderate"}, ""),
        ({"dust": None}, ""),
        ({"dust": "heavy", "kind": "blank", "run_s": 0, "flow_before": None, "flow_after": None}, ""),
    ],
)
def test_a_full_run_in_heavy_dust_is_noted_and_a_short_one_needs_a_reason(
    changes: dict[str, Any], words: str
) -> None:
    """A trace buried in dust cannot be counted (ASTM D7391-20, scope, read: the range depends
    on the load).
    """
    for upto in ("collected", "accepted"):
        story = visit(upto, first=changes)
        found = findings(story.case(), "SL-12")
        assert [(each.severity, each.about) for each in found] == (
            [("note", story.samples[0])] if words else []
        )
        assert all(words in each.sentence for each in found)
        is_full = "full" in words
        assert all(("why the run was short" in each.remedy) is not is_full for each in found)
        assert all("loaded trace" in each.remedy for each in found)


def test_a_full_run_is_that_of_the_lot() -> None:
    """A cassette made for ten minutes would be called full after five."""
    story = visit("collected", lot={"run_s": 600}, first={"dust": "heavy", "run_s": 300, "short_run": "dust"})
    assert findings(story.case(), "SL-12") == []
    unknown = Story()
    unknown.lot()
    unknown.opened()
    unknown.collected(0, lot=unknown.number("lot"), dust="heavy")
    assert len(findings(unknown.case(), "SL-12")) == 1
