"""The air around the samples, rain before the outdoor control, and a building that changed between the two.

That the conditions during sampling are recorded: ISO/IEC 17025:2017 7.3.3(f). Two hours without rain: common
practice, no source. In the builders the samples of a visit start at 09:12 and 09:27, the outdoor control at
09:42, each for 300 s.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain import statements
from bailee.domain.numbers import grouped
from bailee.errors import BadStatement
from bailee.rules.registry import Finding
from builders import CUSTODIAN, DAY, QUALITY, Story, findings, visit

SOON: str = f"{DAY}T09:42:00-05:00"
"""When the outdoor control of an ordinary visit begins: arithmetic of the builders."""


def found(story: Story, rule: str) -> list[Finding]:
    """What one rule says of the story."""
    return findings(story.case(), rule)


def bare(*kinds: str) -> Story:
    """Cassettes of these kinds, and no reading of the air."""
    story = visit("opened")
    for index, kind in enumerate(kinds):
        story.collected(index, kind)
    return story


@pytest.mark.parametrize(
    ("kinds", "read", "lacking"),
    [
        (("indoor", "outdoor"), (), "indoors or outdoors"),
        (("indoor", "outdoor"), ("indoors",), "outdoors"),
        (("indoor", "outdoor"), ("outdoors",), "indoors"),
        (("indoor", "outdoor"), ("indoors", "outdoors"), ""),
        (("indoor",), ("indoors",), ""),
    ],
)
def test_air_that_nobody_read_is_noted_on_the_side_that_was_sampled(
    kinds: tuple[str, ...], read: tuple[str, ...], lacking: str
) -> None:
    """A count is compared with that of another day, and nobody can say whether it was damp."""
    story = bare(*kinds)
    for where in read:
        story.conditions_read(where)
    said = f"No temperature, humidity or pressure {lacking} is on record for the visit."
    assert [(each.severity, each.sentence) for each in found(story, "VP-15")] == (
        [("note", said)] if lacking else []
    )


def test_a_laboratory_reads_no_air_on_site() -> None:
    """An obliging laboratory, a thousand miles away, fills in what the firm forgot."""
    story = bare("indoor", "outdoor")
    for where in ("indoors", "outdoors"):
        story.conditions_read(where, by=CUSTODIAN)
    assert [each.rule for each in found(story, "VP-15")] == ["VP-15"]


@pytest.mark.parametrize(
    ("ended_h", "told"), [("1.9", "1 h 54 min"), ("2.0", ""), ("2", ""), ("0", "under 1 min"), (None, "")]
)
def test_rain_that_ended_just_before_the_outdoor_control(ended_h: str | None, told: str) -> None:
    """Wet air carries other spores than dry air, and the house is compared with the shower."""
    story = bare("indoor", "indoor", "outdoor")
    story.conditions_read("outdoors", at=SOON, said=f"{DAY}T09:50:00-05:00", rain_ended_h=ended_h)
    (hit,) = found(story, "OC-17") or (None,)
    if not told:
        assert hit is None
        return
    assert hit is not None
    control = story.samples[2]
    assert (hit.severity, hit.about) == ("warn", control)
    assert hit.sentence == (
        f"Rain ended {told} before outdoor control {grouped(control)} started; the policy asks for at least"
        " 2 h."
    )


@pytest.mark.parametrize(
    ("at", "hours", "count"),
    [
        ("10:41:59", "3", 0),  # ended 07:41:59, 2 h 0 min 1 s before 09:42
        ("10:42:01", "3", 1),  # 1 h 59 min 59 s
        ("08:42:00", "1", 0),  # 2 h
        ("08:42:00", "0.9", 1),  # 1 h 54 min
        ("10:12:00", "0.4", 0),  # ended 09:48, after it began
    ],
)
def test_rain_is_reckoned_to_the_start_of_the_control(at: str, hours: str, count: int) -> None:
    """Read an hour later, one hour of dry air is two."""
    story = bare("indoor", "indoor", "outdoor")
    moment = f"{DAY}T{at}-05:00"
    story.conditions_read("outdoors", at=moment, said=f"{DAY}T10:50:00-05:00", rain_ended_h=hours)
    assert len(found(story, "OC-17")) == count


def test_the_last_rain_counts() -> None:
    """A reading of the morning would hide the shower that came after it."""
    story = bare("indoor", "indoor", "outdoor")
    for at, hours in (("08:40", "30"), ("09:30", "0.5")):
        story.conditions_read(
            "outdoors", at=f"{DAY}T{at}:00-05:00", said=f"{DAY}T09:50:00-05:00", rain_ended_h=hours
        )
    (hit,) = found(story, "OC-17")
    assert "Rain ended 42 min before" in hit.sentence


def test_who_read_the_air_was_on_site() -> None:
    """Who stood in the storm with a thermometer could not allow that there is no control."""
    story = bare("indoor", "indoor")
    story.excepted("OC-01", story.form, reason="outdoor_impossible")
    assert [each.rule for each in found(story, "OC-16")] == ["OC-16"]
    story.conditions_read("outdoors", by=QUALITY)
    assert found(story, "OC-16") == []


@pytest.mark.parametrize(
    ("facts", "fault"),
    [
        ({"where": "indoors"}, "write what was read"),
        ({"where": "indoors", "rain_ended_h": "3"}, "rain_ended_h belongs outdoors"),
        ({"where": "outdoors", "humidity_pct": "100.1"}, "write per cent from 0 to 100"),
    ],
)
def test_a_reading_of_nothing_is_none(facts: dict[str, Any], fault: str) -> None:
    """An empty line would count as the air that was read."""
    with pytest.raises(BadStatement, match=fault):
        statements.draft("form", "conditions_read", {"at": SOON, **facts}, "harrow-field", "A" * 43)


# OC-18


def test_ventilation_switched_off_between_a_sample_and_its_control_is_told() -> None:
    """The bedroom was sampled with the fan, the comparison rests on a house without it, and nobody knows."""
    story = visit("collected")
    story.building_changed()
    first, second, control = map(grouped, story.samples[:3])
    (hit,) = found(story, "OC-18")
    assert (hit.severity, hit.about) == ("warn", story.form)
    assert hit.sentence == (
        f"Ventilation went from normal to off on {DAY} 09:35 (-05:00), between samples {first} and {second}"
        f" (first started {DAY} 09:12 (-05:00)) and the outdoor control {control} (started {DAY} 09:42"
        " (-05:00))."
    )
    assert set(hit.samples) == set(story.samples[:3])


@pytest.mark.parametrize(
    ("at", "names"),
    [
        ("09:12:00", 0),  # as the first one starts
        ("09:12:01", 1),
        ("09:27:00", 1),
        ("09:27:01", 2),
        ("09:46:59", 2),  # the control still runs
        ("09:47:00", 0),
        ("09:00:00", 0),
    ],
)
def test_only_what_lies_between_the_two_is_told(at: str, names: int) -> None:
    """Windows that were shut before the first cassette was opened change no comparison."""
    story = visit("collected")
    story.building_changed(at=f"{DAY}T{at}-05:00")
    hits = found(story, "OC-18")
    assert [len(each.samples) - 1 for each in hits] == ([names] if names else [])


def test_of_each_kind_the_first_change_is_told() -> None:
    """Somebody who walks in and out would fill the record, and hide the window."""
    story = visit("collected")
    for minute in range(30, 40):
        now = ("present", "none")[minute % 2]
        story.building_changed(at=f"{DAY}T09:{minute}:00-05:00", what="people", was=None, now=now)
    story.building_changed(what="windows", was="closed", now="open")
    told = sorted(each.sentence.partition(" on ")[0] for each in found(story, "OC-18"))
    assert told == ["People in the building: present", "Windows and outside doors went from closed to open"]


def test_a_laboratory_sees_no_change_on_site() -> None:
    """A laboratory would spoil the comparison of a visit that it never saw."""
    story = visit("collected")
    story.building_changed(by=CUSTODIAN)
    assert found(story, "OC-18") == []


def test_who_saw_the_building_change_was_on_site() -> None:
    """The second person in the storm could not allow that no outdoor control is there."""
    story = visit("opened")
    story.collected(0)
    story.excepted("OC-01", story.form, reason="outdoor_impossible")
    assert [each.rule for each in found(story, "OC-16")] == ["OC-16"]
    story.building_changed(by=QUALITY)
    assert found(story, "OC-16") == []


@pytest.mark.parametrize(
    ("facts", "fault"),
    [
        ({"what": "windows", "now": "fan_only"}, "now of windows is one of: open, closed"),
        ({"what": "people", "was": "open", "now": "none"}, "was of people is one of: none, present"),
        ({"what": "windows", "was": "open", "now": "open"}, "was and now are both open"),
    ],
)
def test_a_state_that_cannot_be_is_no_change(facts: dict[str, Any], fault: str) -> None:
    """Windows in operation, or closed windows that were closed, tell nobody anything."""
    at = f"{DAY}T09:35:00-05:00"
    with pytest.raises(BadStatement, match=fault):
        statements.draft("form", "building_changed", {"at": at, **facts}, "harrow-field", "A" * 43)


@pytest.mark.parametrize("code", ["works", "renovation"])
def test_a_former_code_reads_as_the_one_that_is_written_now(code: str) -> None:
    """A form on which somebody signed the old word could not be read any more, or would say another thing."""
    story = bare("indoor", "indoor", "outdoor")
    story.building_changed(what=code, was="none", now="running")
    (hit,) = found(story, "OC-18")
    assert "ainting, demolition or construction went from none to running" in hit.sentence
