"""Where the samples were taken. Limits: common practice, no source, unless a check says otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from builders import QUALITY, Story, findings, visit


@pytest.mark.parametrize(
    ("second", "places"),
    [
        ({}, None),
        ({"room": "bedroom"}, None),  # another point of the same room
        ({"room": "bedroom", "point": "Point 1"}, 1),
        ({"kind": "blank"}, 1),
        (None, None),
    ],
)
def test_indoor_places_are_counted_by_room_and_point(
    second: dict[str, Any] | None, places: int | None
) -> None:
    """One room says nothing about a house, and an empty form nothing about its rooms."""
    story = Story()
    story.lot()
    story.opened()
    if second is not None:
        story.collected(0)
        story.collected(1, **second)
    found = findings(story.case(), "SL-01")
    assert [(each.severity, each.about) for each in found] == ([("warn", story.form)] if places else [])
    assert all(f"{places} location;" in each.sentence and "at least 2" in each.sentence for each in found)


def test_a_duplicate_adds_no_place_and_a_voided_sample_none_either() -> None:
    """Two cassettes side by side would pass for two rooms."""
    story = visit("collected")
    assert findings(story.case(), "SL-01") == []
    story.voided(1)
    assert len(findings(story.case(), "SL-01")) == 1
    other = Story()
    other.lot()
    other.opened()
    other.collected(0)
    other.collected(1, duplicate_of=other.samples[0])
    assert len(findings(other.case(), "SL-01")) == 1


@pytest.mark.parametrize(
    ("kinds", "count"),
    [
        (("indoor", "indoor", "outdoor"), None),
        (("indoor", "outdoor", "blank"), "2 air samples"),
        (("indoor",), "1 air sample;"),
        ((), None),
    ],
)
def test_cassettes_of_a_visit_are_counted_without_blanks(kinds: tuple[str, ...], count: str | None) -> None:
    """Two indoors and one outdoor is the least that can be compared (three sites: NIOSH
    Method 0800, read).
    """
    story = Story()
    story.lot()
    story.opened()
    for index, kind in enumerate(kinds):
        story.collected(index, kind)
    found = findings(story.case(), "SL-02")
    assert [(each.severity, each.about) for each in found] == ([("warn", story.form)] if count else [])
    assert all(str(count) in each.sentence and "at least 3" in each.sentence for each in found)


@pytest.mark.parametrize(
    ("height", "fires"),
    [
        # 3 ft = 0.9144 m and 6 ft = 1.8288 m exactly; tolerance 0.01 m. Domain catalog 4.4: 3 ft stored as
        # 0.91 m is 3 ft.
        ("0.9144", False),
        ("0.91", False),
        ("0.9044", False),
        ("0.9043", True),
        ("1.8288", False),
        ("1.8388", False),
        ("1.8389", True),
        (None, False),
    ],
)
@pytest.mark.parametrize(("thing", "rule"), [("first", "SL-04"), ("outdoor", "OC-06")])
def test_inlet_heights_are_compared_with_a_tolerance(
    height: str | None, fires: bool, thing: str, rule: str
) -> None:
    """Three feet written in meters would be called too low, and real mistakes drown in false ones."""
    story = visit("collected", **{thing: {"height_m": height}})
    number = story.samples[0 if thing == "first" else 2]
    found = findings(story.case(), "SL-04", "OC-06")
    assert [(each.rule, each.severity, each.about) for each in found] == [(rule, "warn", number)] * fires
    for each in found:
        assert grouped(number) in each.sentence
        assert f"{height} m" in each.sentence
        assert "0.9144 m (3 ft) to 1.8288 m (6 ft)" in each.sentence


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"space": "conditioned"}, ""),
        ({"space": "attic"}, "the attic"),
        ({"space": "crawl_space"}, "the crawl space"),
        ({"space": "garage"}, "the garage"),
        ({"space": "wall_cavity"}, "the wall cavity"),
        ({"space": "other"}, "another unconditioned space"),
        ({"space": "attic", "space_reason": "complaint_there"}, ""),
        ({"space": "conditioned", "room": "attic"}, ""),  # a finished attic
        ({"space": None, "room": "attic"}, "the attic"),
        ({"space": None, "room": "other"}, ""),
        ({"space": None, "room": "bedroom"}, ""),
    ],
)
def test_a_space_nobody_lives_in_needs_a_reason(changes: dict[str, Any], words: str) -> None:
    """An attic would be read as the air of a bedroom."""
    story = visit("collected", first=changes)
    found = findings(story.case(), "SL-05")
    assert [(each.severity, each.about) for each in found] == ([("warn", story.samples[0])] if words else [])
    assert all(words in each.sentence and grouped(story.samples[0]) in each.sentence for each in found)


def test_an_outdoor_control_is_in_no_space_of_the_house() -> None:
    """A balcony marked with a space code would be asked for a reason that no outdoor control has."""
    story = visit("collected", outdoor={"space": "other"})
    assert findings(story.case(), "SL-05") == []


@pytest.mark.parametrize(
    ("changes", "fires"),
    [
        ({"room": None, "point": None}, True),
        ({"room": "other", "point": None}, True),
        ({"room": "other", "point": "P7"}, False),
        ({"room": "bedroom", "point": None}, False),
        ({"room": None, "point": "P7"}, False),
    ],
)
def test_a_sample_without_a_place_stops_the_envelope(changes: dict[str, Any], fires: bool) -> None:
    """A result that belongs to no room helps nobody (ISO/IEC 17025:2017 7.3.3(g), read)."""
    story = visit("kept", first=changes)
    found = findings(story.case(sealing=story.sealing()), "SL-07")
    assert [(each.severity, each.about) for each in found] == [("block", story.samples[0])] * fires
    assert all(grouped(story.samples[0]) in each.sentence for each in found)


def test_a_missing_place_is_cured_excepted_or_shown_afterwards() -> None:
    """The clerk must be able to go on when the truth is told, and nothing may be hidden after shipping."""
    nowhere = {"room": None, "point": None}
    gone = visit("shipped", first=nowhere)
    assert [each.severity for each in findings(gone.case(), "SL-07")] == ["flag"]
    excepted = visit("kept", first=nowhere)
    excepted.excepted("SL-07", excepted.samples[0], reason="documented_elsewhere")
    (found,) = findings(excepted.case(), "SL-07")
    assert (found.severity, QUALITY.name in found.excepted) == ("warn", True)
    cured = visit("kept", first=nowhere)
    cured.corrected(
        cured.state().samples[cured.samples[0]].claims[0].entry, "room", "bedroom", reason="left_out"
    )
    assert findings(cured.case(), "SL-07") == []


def test_a_blank_has_no_place() -> None:
    """A field blank would be held back for lack of a room it was never meant to describe."""
    story = visit("collected")
    story.samples.append(story.number("sample"))
    story.collected(3, "blank", point=None)
    assert findings(story.case(), "SL-07") == []
