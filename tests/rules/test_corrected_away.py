"""What was signed at the moment decides which rules ask: no later correction, and no word of another house,
makes a finding go away.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain import pairing
from bailee.presentation.form_view import form_view
from bailee.rules.unstated import unstated
from builders import (  # fmt: skip
    ANALYST,
    CLERK,
    CUSTODIAN,
    DAY,
    LAB_QUALITY,
    SECOND_INSPECTOR,
    Story,
    findings,
    visit,
)

_ROOM_AIR = ("OC-01", "PV-12", "PV-11", "SL-01", "SL-03", "SL-04")
_LATER = "2026-12-02T10:00:00-05:00"


def told(story: Story, *rules: str) -> list[tuple[str, str]]:
    """What these rules say, and how gravely."""
    return [(each.rule, each.severity) for each in findings(story.case(), *rules)]


@pytest.mark.parametrize(
    ("fact", "new"),
    [("cavity", {"opening": "drilled", "tube": "new"}), ("cavity.opening", "drilled"), ("cavity", {})],
)
def test_no_correction_makes_air_of_a_cavity(fact: str, new: Any) -> None:
    """Who brought no outdoor control home would write `drilled` in the van, and the envelope could close."""
    story = visit("opened", policy={"min_indoor": 2})
    runs = [story.collected(n, run_s=20, height_m="0.10") for n in (0, 1)]
    before = told(story, *_ROOM_AIR)
    assert {"OC-01", "PV-12", "SL-04"} <= {rule for rule, _ in before}
    for run in runs:
        story.corrected(run, fact, new)
    assert told(story, *_ROOM_AIR) == before
    assert len(pairing.pairs(story.state())) == 2
    assert [each.kind for each in story.state().live] == ["indoor", "indoor"]
    hits = findings(story.case(), "CU-16")
    assert [each.severity for each in hits] == ["warn", "warn"]
    assert all(
        "no cavity was signed at collection: it is judged as room air" in each.sentence for each in hits
    )


def test_air_of_a_room_is_shown_and_asked_as_such_whatever_was_corrected() -> None:
    """The record would print the wall beside findings about a bedroom, and nobody ask what stood near."""
    story = visit("opened")
    run = story.collected(0, near=...)
    story.corrected(run, "cavity", {"tube": "new"})
    (shown,) = form_view(story.state(), story.case()).samples
    assert shown.air == "indoor"
    assert any("what was near the inlet" in each for each in unstated(story.case(), "media"))


def test_a_cavity_signed_as_such_may_be_corrected() -> None:
    """An opening that was misread would turn the wall into a room, and want a control of the garden."""
    story = visit("opened")
    run = story.collected(0, cavity={"tube": "new"}, room="wall_cavity", height_m=...)
    story.corrected(run, "cavity.opening", "drilled")
    assert told(story, "OC-01", "CU-16", "SL-16") == [("CU-16", "note")]
    story.corrected(run, "cavity", None, old={"tube": "new", "opening": "drilled"})
    assert ("OC-01", "block") in told(story, "OC-01")


def _from_paper(story: Story) -> Any:
    paper = {"sheet": f"{story.form}-1", "line": "1", "written_at": f"{DAY}T09:18:00-05:00"}
    return story.collected(0, said=_LATER, paper=paper)


def test_paper_is_not_corrected_away() -> None:
    """One person alone wrote the sheet, entered it, and says afterwards that there never was one."""
    story = visit("opened")
    run = _from_paper(story)
    (hit,) = findings(story.case(), "CU-22")
    story.corrected(run, "paper", None)
    assert findings(story.case(), "CU-22") == [hit]


def test_nobody_of_another_house_watched() -> None:
    """The dock of the laboratory, a day away, would have stood beside the inspector with the pen."""
    story = visit("opened")
    run = _from_paper(story)
    for by in (CUSTODIAN, ANALYST, LAB_QUALITY):
        story.say("witnessed", {"statements": [run.digest]}, {}, by=by, at=_LATER)
    assert told(story, "CU-22") == [("CU-22", "warn")]
    story.say("witnessed", {"statements": [run.digest]}, {}, by=SECOND_INSPECTOR, at=_LATER)
    assert told(story, "CU-22") == []


@pytest.mark.parametrize(
    ("act", "by", "rule"),
    [
        ("requested", LAB_QUALITY, None),
        ("stored", CUSTODIAN, "CU-02"),
        ("withdrawn", CUSTODIAN, "CU-02"),
        ("stored", CLERK, "CU-02"),
        ("withdrawn", CLERK, "CU-02"),
        ("lab_numbered", CLERK, "RC-21"),
        ("accepted", CLERK, "RC-21"),
    ],
)
def test_nobody_puts_samples_on_the_form_of_another_house(act: str, by: Any, rule: str | None) -> None:
    """A typing error at the dock would print four thousand samples on the firm's record."""
    story = visit("docked")
    before, number = set(story.state().samples), story.number("sample")
    at = {"at": "2026-12-02T11:00:00-06:00"}
    data: dict[str, dict[str, Any]] = {
        "requested": {"samples": [number], "priority": "rush"},
        "stored": {"samples": [number], "store": "FR-1", "secured": "locked"} | at,
        "withdrawn": {"samples": [number], "store": "FR-1", "purpose": "analysis"} | at,
        "lab_numbered": {"numbers": {number: "Q-17"}} | at,
        "accepted": {"samples": [number]} | at,
    }
    entry = story.say(act, data[act], {}, by=by, at="2026-12-02T12:00:00-06:00")
    assert set(story.state().samples) == before
    assert story.state().requests == []
    named = [each.rule for each in findings(story.case(), "CU-02", "RC-21") if entry.n in each.entries]
    assert named == ([rule] if rule else [])


def test_the_firm_requests_what_is_not_collected_yet() -> None:
    """The office orders before the visit: its own word still stands for what comes."""
    story = visit("opened")
    story.requested([number := story.number("sample")], priority="rush")
    assert number in story.state().samples
