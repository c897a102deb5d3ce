"""What turned up after the first opening, and an envelope that the dock shut again."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.acts.form import Received
from bailee.domain.numbers import grouped
from bailee.rules import qualified
from bailee.rules.registry import Finding, evaluate
from bailee.rules.verdicts import verdicts
from builders import CUSTODIAN, INSPECTOR, Story, findings, visit

OWN_SEAL = "C-4711"
CLOSED = {"closed_again": {"seal": OWN_SEAL, "at": "2026-12-02T10:50:00-06:00"}}
WHOLE = {"seal": OWN_SEAL, "seal_state": "intact"}
NEXT_DAY = "2026-12-03T09:00:00-06:00"


def found_next_day(first: dict[str, Any], second: dict[str, Any], **changes: Any) -> Story:
    """Two of three cassettes come out on 2 December at 10:40, and the third is received the next day at 9."""
    story = visit("shipped")
    story.docked([story.samples[0], story.samples[2]], dock={"total": 2, **first})
    story.docked([story.samples[1]], dock={"total": 1, **second}, at=NEXT_DAY, **changes)
    return story


def told(story: Story, *rules: str) -> list[Finding]:
    """What some rules say of the story."""
    return findings(story.case(), *rules)


def test_what_is_found_after_the_first_opening_was_not_kept_by_the_seal() -> None:
    """A cassette lay in the waste paper of the dock over night, and the record shows it under seal."""
    story = found_next_day({}, {"seal": None, "seal_state": "missing"}, found={"where": "packing"})
    (hit,) = told(story, "RC-19")
    lost = story.state().samples[story.samples[1]]
    assert (hit.severity, hit.about, hit.area) == ("flag", lost.number, "custody")
    assert f"Sample {grouped(lost.number)} was not in envelope" in hit.sentence
    assert "for 22 h 20 min no entry shows where it was (found: packing)" in hit.sentence
    carried, opened = lost.links[-2], story.state().envelopes[story.envelope].arrivals[0].said.of(Received).at
    assert carried.by_carrier
    assert [carried.until, *(each.until for each in carried.keeping)] == [opened, opened]
    (custody,) = (each for each in verdicts(story.case(), evaluate(story.case()), records_state="complete")
                  if each.area == "custody")  # fmt: skip
    assert custody.state == "broken"


def test_what_nobody_holds_has_no_holder() -> None:
    """The record would name the carrier for a cassette that nobody has seen since the opening."""
    story = visit("shipped")
    story.docked([story.samples[0], story.samples[2]], dock={"total": 2})
    last = story.state().samples[story.samples[1]].links[-1]
    assert last.by_carrier
    assert last.until is not None
    assert [each.until for each in last.keeping] == [last.until]


@pytest.mark.parametrize(
    ("second", "severity", "words"),
    [
        (WHOLE, "warn", "for 10 min no entry shows where it was"),
        (WHOLE | {"seal_state": "broken"}, "flag", "for 22 h 20 min no entry shows"),
        (WHOLE | {"seal": "C-4712"}, "flag", "for 22 h 20 min no entry shows"),
    ],
)
def test_the_docks_own_whole_seal_speaks_for_the_time(
    second: dict[str, Any], severity: str, words: str
) -> None:
    """The custodian shut the envelope ten minutes after the opening; that care would count for nothing."""
    story = found_next_day(CLOSED, second, found={"where": "package"})
    (hit,) = told(story, "RC-19")
    assert (hit.severity, words in hit.sentence) == (severity, True), hit.sentence
    assert [each.severity for each in told(story, "RC-20")] == ["flag"] * (severity == "flag")


def test_whoever_found_it_can_say_how_it_was_kept() -> None:
    """It lay locked in the dock's cabinet all the time, and late is better than never."""
    story = found_next_day({}, {})
    kept = {"secured": "locked", "where": "laboratory", "since": "2026-12-02T10:45:00-06:00"}
    assert [each.severity for each in told(story, "RC-19")] == ["flag"]
    story.held(by=CUSTODIAN, samples=[story.samples[1]], until=NEXT_DAY, said=NEXT_DAY, **kept)
    (hit,) = told(story, "RC-19")
    assert (hit.severity, "for 5 min no entry" in hit.sentence) == ("warn", True)


def test_a_seal_that_nobody_numbered_is_not_asked_about() -> None:
    """A dock that closes with tape would be accused of a seal that it never had."""
    tape = {"closed_again": {"seal": None, "at": "2026-12-02T10:50:00-06:00"}}
    story = found_next_day(tape, {"seal": None, "seal_state": "missing"})
    assert told(story, "RC-20") == []
    assert [each.severity for each in told(story, "RC-19")] == ["flag"]


def test_a_result_of_what_was_found_later_is_qualified_and_the_sender_called() -> None:
    """The report would read as if the cassette had come out of a sealed envelope."""
    story = found_next_day({}, {})
    story.accepted()
    case = story.case()
    form, number = story.state(), story.samples[1]
    assert "was not in envelope" in qualified.wording(form, form.samples[number], evaluate(case))
    assert number in {each.about for each in told(story, "RC-16")}
    (call,) = told(story, "RC-10")
    assert "RC-19" in call.sentence


def test_what_turns_up_in_the_firms_own_vehicle_has_not_arrived() -> None:
    """It was never put in; sent on in another envelope it would be taken for received already."""
    story = visit("shipped")
    story.docked([story.samples[0], story.samples[2]], dock={"total": 2})
    lost = story.samples[1]
    story.received([lost], by=INSPECTOR, at=NEXT_DAY, found={"where": "vehicle"})
    sample = story.state().samples[lost]
    assert (sample.status, sample.envelope) == ("collected", None)
    (hit,) = told(story, "RC-19")
    assert "(found: vehicle)" in hit.sentence
    assert told(story, "RC-06") == []


def test_an_envelope_told_as_shipped_after_the_opening_changes_nothing_of_what_was_missed() -> None:
    """The clerk's phone was offline: the carrier's link is told late, and would run on past the opening."""
    early = found_next_day({}, {})
    late = visit("sealed")
    late.docked([late.samples[0], late.samples[2]], dock={"total": 2})
    late.docked([late.samples[1]], dock={"total": 1}, at=NEXT_DAY)
    late.shipped(said="2026-12-03T12:00:00-05:00")
    for story in (early, late):
        links = story.state().samples[story.samples[1]].links
        assert [(each.by_carrier, each.until is not None) for each in links[-2:]] == [
            (True, True),
            (False, False),
        ]
        assert [each.severity for each in told(story, "RC-19")] == ["flag"]
