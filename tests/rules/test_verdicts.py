"""Four verdicts, never one."""

from __future__ import annotations

import re
from typing import get_args

import pytest

from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.rules.case import Case, Elsewhere
from bailee.rules.registry import evaluate
from bailee.rules.verdicts import RecordsState, State, Verdict, verdicts
from builders import CLERK, INSPECTOR, LAB, NOTHING_ELSEWHERE, Story, visit

AREAS = ("records", "custody", "media", "comparison")


def judged(
    story: Story, state: RecordsState = "complete", elsewhere: Elsewhere | None = NOTHING_ELSEWHERE
) -> dict[str, Verdict]:
    """The four verdicts by area."""
    case = story.case(elsewhere=elsewhere)
    return {each.area: each for each in verdicts(case, evaluate(case), records_state=state)}


def states(story: Story) -> tuple[str, ...]:
    """The four states."""
    return tuple(each.state for each in judged(story).values())


def test_a_visit_in_order_is_never_called_passed() -> None:
    """A green tick is what people quote; what was looked for and not found is what is true."""
    found = judged(visit("accepted"))
    assert tuple(found) == AREAS
    assert [each.state for each in found.values()] == [
        "complete",
        "no fault found",
        "no fault found",
        "no fault found",
    ]
    for each in found.values():
        words = " ".join((each.sentence, *each.not_checked)).lower()
        assert not re.search(r"passed|tamper|admissible|certif|valid", words)
        assert each.not_checked


@pytest.mark.parametrize("state", get_args(RecordsState))
def test_the_state_of_the_records_is_the_callers(state: RecordsState) -> None:
    """The service cannot vouch for its own log, and a verifier without an outside checkpoint cannot see a
    missing tail.
    """
    found = judged(visit("accepted"), state)["records"]
    assert found.state == state
    assert "14 entries of form" in found.sentence
    open_questions = " ".join(found.not_checked)
    assert ("needs a checkpoint held by another organization" in open_questions) == (state == "own log")
    assert ("Newest entries" in open_questions) == (state in ("intact", "not judged"))
    assert state in get_args(State)


def test_nothing_collected_is_nothing_to_judge() -> None:
    """An empty form has no faults, and that must not read like a sound one."""
    assert states(visit("opened")) == ("complete", "none", "none", "none")


def test_that_every_sample_is_void_is_said_so() -> None:
    """Three samples were collected, and the custody record says that none was."""
    story = visit("collected")
    for number in story.samples[:3]:
        story.voided(number)
    found = judged(story)
    for area in ("custody", "media"):
        assert (found[area].state, found[area].sentence) == ("none", "Every sample collected here is void.")


def test_a_comparison_needs_an_outdoor_control_that_is_seen() -> None:
    """Without one, silence about outdoor faults would look like a sound comparison."""
    story = visit("opened")
    story.collected(0)
    story.collected(1)
    found = judged(story)["comparison"]
    assert found.state == "none"
    assert grouped(story.form) in found.sentence
    assert "No outdoor control" in found.sentence


def test_a_voided_outdoor_control_is_not_seen() -> None:
    """Dropped on the way to the car: it was there once, and there is nothing to compare with now."""
    story = visit("collected")
    story.voided(2)
    assert judged(story)["comparison"].state == "none"


def test_every_form_needs_its_own_outdoor_control() -> None:
    """One visit's control must not stand in for the neighbor's."""
    story = visit("collected")
    story.opened()
    story.lot()
    story.collected(3)
    story.collected(4)
    found = judged(story)["comparison"]
    assert found.state == "none"
    assert grouped(story.forms[1]) in found.sentence
    assert grouped(story.forms[0]) not in found.sentence


def test_an_outdoor_control_alone_compares_nothing() -> None:
    """Nothing indoors, nothing to compare."""
    story = visit("opened")
    story.collected(2, "outdoor")
    assert judged(story)["comparison"].state == "none"


def test_a_missing_link_breaks_custody_and_nothing_else() -> None:
    """Four questions, four answers: a lost signature does not make the media bad or the records altered."""
    story = visit("held")
    story.received(story.samples)
    found = judged(story)
    assert [each.state for each in found.values()] == [
        "complete",
        "broken",
        "no fault found",
        "no fault found",
    ]
    assert "CU-01" in found["custody"].sentence
    assert {each.rule for each in found["custody"].findings} == {"CU-01"}


def test_a_doubtful_link_is_flagged_and_a_remark_is_noted() -> None:
    """Broken, flagged and noted are three different things to say to a client."""
    silent = visit("collected")
    silent.sealed(by=INSPECTOR, at="2026-12-01T23:00:00-05:00")
    assert judged(silent)["custody"].state == "flagged"
    late = visit("relinquished")
    late.received(said="2026-12-01T13:00:00-05:00")
    found = judged(late)["custody"]
    assert found.state == "noted"
    assert found.sentence.endswith("1 note.")


def test_the_proposed_envelope_is_no_verdict_of_its_own() -> None:
    """SE-01 repeats other blocks; counted as a custody fault it would blame the clerk for an expired lot."""
    story = visit("kept", lot={"expiry": "2026-11"})
    case = story.case(sealing=story.sealing())
    findings = evaluate(case)
    assert any(each.rule == "SE-01" for each in findings)
    found = {each.area: each for each in verdicts(case, findings, records_state="own log")}
    assert found["custody"].state == "no fault found"
    assert found["media"].state == "flagged"


def test_what_only_the_whole_ledger_knows_is_said_to_be_unchecked() -> None:
    """An auditor with one file must not believe that no other envelope bears the same seal."""
    story = visit("accepted")
    alone = judged(story, elsewhere=None)
    assert (
        "Other forms: only the forms here were compared for sample numbers, serials and seals."
        in alone["custody"].not_checked
    )
    assert not any("Other forms" in each for each in judged(story)["custody"].not_checked)


def test_a_sample_without_a_bound_serial_rests_on_its_label() -> None:
    """Scenario 2: if the glass was never bound, a swap cannot be seen, and the verdict must say so."""
    story = visit("accepted", first={"serial": None})
    said = " ".join(judged(story)["custody"].not_checked)
    assert f"Sample {grouped(story.samples[0])}: no serial on record" in said
    assert "only the label (and photo, if any)" in said
    assert "no serial" not in " ".join(judged(visit("accepted"))["custody"].not_checked)
    assert "exchanged by hand" in said


def test_chains_that_are_not_here_are_named() -> None:
    """A file without the laboratory's chain cannot say whose key signed the receipt."""
    story = visit("accepted")
    case = story.case()
    bare = Case(
        case.at, case.forms, {}, {name: org for name, org in case.organizations.items() if name != LAB}
    )
    found = {each.area: each for each in verdicts(bare, evaluate(bare), records_state="intact")}
    assert any(LAB in each for each in found["records"].not_checked)
    assert any(grouped(story.lots[0]) in each for each in found["media"].not_checked)


@pytest.mark.parametrize("stage", ["collected", "held", "relinquished"])
def test_a_verdict_does_not_say_its_state_twice(stage: str) -> None:
    """On screen and on paper the state stands before the sentence: "needs a decision. Custody: needs a
    decision".
    """
    story = visit(stage)
    story.relinquished(story.samples, by=CLERK)
    found = judged(story)["custody"]
    assert found.state in ("flagged", "broken")
    assert words.verdict(found.area, found.state) not in found.sentence.lower()
