"""The laboratory's answer: called, numbered, qualified, sampled again."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from bailee.domain.acts.form import Decision
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.statements import Draft
from bailee.planning.due_list import chase
from bailee.presentation.act_words import says
from bailee.rules import qualified
from bailee.rules.case import Elsewhere
from bailee.rules.registry import Finding, evaluate
from builders import CUSTODIAN, LAB, QUALITY, Story, findings, visit

BROKEN = {"dock": {"seal_state": "broken"}}


def found(story: Story, rule: str, at: str | None = None) -> list[Finding]:
    """What one rule says of the story, asked at some time."""
    return findings(story.case(at=at), rule)


def damaged(place: int = 0) -> Story:
    """One cassette of three arrives cracked."""
    story = visit("shipped")
    items = story.items(story.samples)
    items[place]["condition"] = ["cracked"]
    story.docked(items=items)
    return story


def words(story: Story, place: int = 0) -> str:
    """The qualification of one sample's result."""
    case = story.case()
    form = case.forms[story.form]
    return qualified.wording(form, form.samples[story.samples[place]], evaluate(case))


# RC-10


@pytest.mark.parametrize(
    ("at", "severity"), [("2026-12-03T17:00:00-06:00", "warn"), ("2026-12-03T17:00:01-06:00", "flag")]
)
def test_a_difference_is_called_within_a_working_day(at: str, severity: str) -> None:
    """Received Wednesday: until the dock shuts on Thursday it is a task, then the client learns of it in a
    footnote.
    """
    story = visit("docked", docked=BROKEN)
    (hit,) = found(story, "RC-10", at)
    assert (hit.severity, hit.about) == (severity, story.envelope)
    assert "RC-01" in hit.sentence
    assert "2026-12-03 17:00 (-06:00)" in hit.sentence


def test_friday_s_difference_is_called_on_monday() -> None:
    """The laboratory's own calendar counts: Saturday and Sunday are no working days."""
    story = visit("shipped")
    story.docked(
        at="2026-12-04T10:40:00-06:00",
        dock={"seal_state": "broken", "delivered": "2026-12-04T10:30:00-06:00"},
    )
    assert found(story, "RC-10", "2026-12-07T17:00:00-06:00")[0].severity == "warn"
    assert found(story, "RC-10", "2026-12-07T17:00:01-06:00")[0].severity == "flag"


@pytest.mark.parametrize(
    ("called", "severity"),
    [
        ("2026-12-02T11:00:00-06:00", []),
        ("2026-12-03T17:00:00-06:00", []),
        ("2026-12-03T17:00:01-06:00", ["warn"]),
        ("2026-12-02T10:39:59-06:00", ["flag"]),  # before the box was open: another call
    ],
)
def test_called_in_time_called_late_and_called_about_something_else(called: str, severity: list[str]) -> None:
    """Late is late, and stays visible; a call before the opening was not about what was found in it."""
    story = visit("docked", docked=BROKEN)
    story.on_hold(called=called)
    assert [each.severity for each in found(story, "RC-10", "2026-12-04T09:00:00-06:00")] == severity


@pytest.mark.parametrize(
    ("called", "counts"),
    [
        ("2026-12-02T10:38:00-06:00", True),  # typed to the minute
        ("2026-12-02T10:37:00-06:00", False),
        ("2026-12-02T10:38:39-06:00", False),  # typed to the second
        ("2026-12-02T10:38:40-06:00", True),
    ],
)
def test_a_call_in_the_minute_of_the_opening_counts(called: str, counts: bool) -> None:
    """The dock calls at once, types the time as people do, and is accused of never having called."""
    story = visit("shipped")
    story.docked(
        at="2026-12-02T10:38:40-06:00",
        dock={"seal_state": "broken", "delivered": "2026-12-02T10:30:00-06:00"},
    )
    story.on_hold(called=called)
    assert bool(found(story, "RC-10", "2026-12-07T17:00:01-06:00")) is not counts


def test_a_call_whose_time_lies_before_the_opening_is_named() -> None:
    """A dock that telephoned and typed yesterday's hour reads that nobody called, and calls twice."""
    story = visit("docked", docked=BROKEN)
    story.on_hold(called="2026-12-02T09:10:00-06:00")
    (hit,) = found(story, "RC-10", "2026-12-02T12:00:00-06:00")
    assert "The call on record, 2026-12-02 09:10 (-06:00), is before the opening" in hit.sentence
    assert "nobody" not in hit.sentence
    assert "correct its time" in hit.remedy
    (due,) = (each for each in chase(story.case(at="2026-12-02T12:00:00-06:00"), (), ()))
    assert due.sentence.endswith("the call on record, 2026-12-02 09:10 (-06:00), is before that.")


def test_accepted_before_the_call_it_is_grave_at_once() -> None:
    """The trace is stained within the hour; calling tomorrow decides nothing any more."""
    story = damaged()
    assert [each.severity for each in found(story, "RC-10")] == ["warn"]
    story.accepted(story.samples[1:])
    assert [each.severity for each in found(story, "RC-10")] == ["warn"]  # the good ones may go on
    story.accepted(story.samples[:1], qualified=True)
    (hit,) = found(story, "RC-10")
    assert hit.severity == "flag"
    assert f"Already accepted: {grouped(story.samples[0])}" in hit.sentence


def test_nothing_differed_nobody_is_called() -> None:
    """A call about nothing teaches people to ignore calls."""
    assert found(visit("accepted"), "RC-10", "2026-12-09T09:00:00-06:00") == []


def test_a_dock_without_hours_is_held_to_ordinary_ones() -> None:
    """A laboratory that entered no calendar would otherwise never have to call."""
    story = visit("docked", docked=BROKEN)
    case = story.case(at="2026-12-04T09:00:00-06:00")
    bare = replace(case, organizations={name: org for name, org in case.organizations.items() if name != LAB})
    assert [each.severity for each in findings(bare, "RC-10")] == ["flag"]


# RC-15


def test_one_laboratory_number_on_two_samples() -> None:
    """The report of the bedroom is filed under the kitchen."""
    story = visit("docked")
    first, second, third = story.samples
    story.accepted(lab_numbers={first: "Q-1", second: "Q-1", third: "Q-2"})
    (hit,) = found(story, "RC-15")
    assert (set(hit.samples), hit.severity) == ({first, second}, "flag")
    assert grouped(first) in hit.sentence
    assert grouped(second) in hit.sentence
    story.accepted([second], lab_numbers={second: "Q-3"}, at="2026-12-02T11:30:00-06:00")
    assert found(story, "RC-15") == []
    assert found(visit("accepted"), "RC-15") == []


def test_a_laboratory_number_given_on_another_form() -> None:
    """The ledger knows it; each laboratory counts for itself."""
    story = visit("docked")
    other = story.number("sample")
    story.accepted(lab_numbers={story.samples[0]: "Q-1"})
    mine = Elsewhere(lab_numbers={f"{LAB}/Q-1": (story.samples[0], other)})
    (hit,) = findings(story.case(elsewhere=mine), "RC-15")
    assert grouped(other) in hit.sentence
    theirs = Elsewhere(lab_numbers={"third-lab/Q-1": (other,)})
    assert findings(story.case(elsewhere=theirs), "RC-15") == []


# RC-16


@pytest.mark.parametrize(("said", "count"), [(False, 1), (True, 0)])
def test_accepted_with_a_difference_it_is_qualified(said: bool, count: int) -> None:
    """The report reads as if the cassette had arrived whole."""
    story = damaged()
    assert found(story, "RC-16") == []  # nothing is accepted yet
    story.accepted(qualified=said, called="2026-12-02T10:50:00-06:00")
    hits = found(story, "RC-16")
    assert [(each.about, each.severity) for each in hits] == [(story.samples[0], "flag")] * count


def test_a_broken_seal_bears_on_every_sample_inside() -> None:
    """Whoever opened the envelope could have been at any of them."""
    story = visit("docked", docked=BROKEN)
    story.accepted()
    (hit,) = found(story, "RC-16")
    assert hit.samples == tuple(story.samples)


def test_four_good_samples_beside_a_missing_fifth_stay_good() -> None:
    """Scenario 10: a wrong count is a fault of what is missing, not of what is there."""
    story = visit("shipped")
    story.docked(story.samples[:2], dock={"total": 2})
    story.accepted(story.samples[:2])
    assert found(story, "RC-16") == []


# The wording


def test_the_wording_says_what_was_found_and_who_was_called() -> None:
    """A result that is qualified by one word only tells its reader nothing."""
    story = damaged()
    story.accepted(
        story.samples[:1], qualified=True, called="2026-12-02T10:50:00-06:00", reasons=["condition"]
    )
    story.accepted(story.samples[1:])
    said = words(story)
    assert said.startswith("Qualified result. Sample ")
    assert "was received cracked" in said
    assert "Sampling firm called on 2026-12-02 10:50 (-06:00)." in said
    assert said.endswith("Read the result with this.")
    assert words(story, 1) == ""


def test_what_nobody_analyzed_is_not_said_to_be_analyzed() -> None:
    """The paper would report an analysis of samples on hold, and of one that never came out
    of the envelope.
    """
    story = visit("shipped")
    story.docked(story.samples[:2], dock={"total": 2, "seal_state": "broken"})
    assert "Qualified result" not in words(story)
    assert words(story).endswith("To be printed with its result.")
    assert words(story, 2) == ""
    story.copied(1, of="result")
    assert words(story).startswith("Qualified result. ")
    assert words(story).endswith("Read the result with this.")


@pytest.mark.parametrize("decided", [False, True])
def test_what_never_reached_a_laboratory_has_no_qualified_result(decided: bool) -> None:
    """Air sampled with an expired cassette still lies in the vehicle, and the record says how it was
    analyzed; nor does whoever accepts it from afar make it arrive.
    """
    story = visit("collected", lot={"expiry": "2026-11-30"})
    if decided:
        story.accepted(story.samples, qualified=True)
    assert "expired after" in words(story)
    assert "Qualified result" not in words(story)
    assert words(story).endswith("If it is analyzed, print this with its result.")


def test_a_sample_without_a_fault_has_no_qualification() -> None:
    """A qualification on every line is none."""
    story = visit("accepted")
    assert [words(story, place) for place in range(3)] == ["", "", ""]


def test_qualified_by_the_laboratory_alone() -> None:
    """The analyst knows something the ledger does not; the reasons are named all the same."""
    story = visit("docked")
    story.accepted(qualified=True, reasons=["late", "other"])
    assert "The laboratory qualified it: late and other." in words(story)
    bare = visit("docked")
    bare.accepted(qualified=True)
    assert "no reason is on record" in words(bare)


def test_what_no_dock_can_cure_is_in_the_wording_too() -> None:
    """Expired media and a missing outdoor control bear on the result as much as a broken seal."""
    story = visit("docked", lot={"expiry": "2026-11-30"}, docked=BROKEN)
    story.accepted(qualified=True)
    said = words(story)
    assert "expired after" in said
    assert "broken at opening" in said
    bare = visit("opened")
    bare.collected(0)
    bare.docked(bare.samples[:1])
    bare.accepted(bare.samples[:1])
    assert "no outdoor control" in words(bare)


# RC-17


@pytest.mark.parametrize(("said", "count"), [(None, 1), ("possible", 0), ("not_possible", 0), ("asked", 0)])
def test_rejected_and_a_new_sample_not_spoken_of(said: Any, count: int) -> None:
    """The client waits for a report that will never come."""
    story = damaged()
    assert found(story, "RC-17") == []
    story.rejected(story.samples[:1], resample=said)
    assert [(each.about, each.severity) for each in found(story, "RC-17")] == [
        (story.samples[0], "note")
    ] * count


# RC-21


@pytest.mark.parametrize("upto", ["collected", "shipped"])
def test_what_was_accepted_and_never_received_is_flagged(upto: str) -> None:
    """The laboratory accepts three cassettes that lie in a vehicle, and the record calls them accepted."""
    story = visit(upto)
    story.accepted(story.samples)
    (hit,) = found(story, "RC-21")
    assert (hit.severity, hit.about) == ("flag", story.form)
    assert "were accepted on 2026-12-02" in hit.sentence
    assert "no entry shows that a laboratory received them." in hit.sentence
    assert all(grouped(each) in hit.sentence for each in story.samples)


def deciding(story: Story, act: str, at: str = "2026-12-02T11:00:00-06:00") -> list[Finding]:
    """What is said before the laboratory signs a decision on all samples."""
    body = Decision.so_far(samples=story.samples, at=Moment.parse(at))
    case = replace(story.case(), drafts=(Draft(act, body, CUSTODIAN.org, CUSTODIAN.kid),))
    return [each for each in evaluate(case) if each.is_proposed]


@pytest.mark.parametrize(("act", "stops"), [("accepted", True), ("on_hold", True), ("rejected", False)])
def test_what_was_not_received_is_stopped_before_it_is_decided(act: str, stops: bool) -> None:
    """Once it is signed only a flag can say that three cassettes were accepted which nobody has."""
    found = deciding(visit("shipped"), act)
    assert [(each.rule, each.severity) for each in found] == [("RC-21", "block")] * stops
    for each in found:
        assert "no entry shows that a laboratory received them" in each.sentence
        assert [told["act"] for told in each.acts] == ["received"]
    assert deciding(visit("docked"), act) == []


def test_a_decision_dated_before_the_receipt_is_stopped() -> None:
    """A slip of the hour would be flagged for good."""
    (found,) = deciding(visit("docked"), "accepted", "2026-12-02T09:00:00-06:00")
    assert "received on 2026-12-02 10:40" in found.sentence


def test_what_is_told_late_and_done_in_order_is_in_order() -> None:
    """The dock's tablet was offline: its receipt reaches the ledger after the decision, and is no fault."""
    story = visit("shipped")
    story.accepted(story.samples, at="2026-12-02T11:00:00-06:00")
    story.docked(at="2026-12-02T10:40:00-06:00")
    assert found(story, "RC-21") == []


@pytest.mark.parametrize(("at", "count"), [("10:38:00", 0), ("10:37:59", 1)])
def test_a_decision_before_the_receipt_by_its_own_time_is_flagged(at: str, count: int) -> None:
    """One of two clocks is wrong, or it was decided unseen. 120 s between two clocks: common practice."""
    story = visit("docked")
    story.accepted(at=f"2026-12-02T{at}-06:00")
    hits = found(story, "RC-21")
    assert len(hits) == count
    assert all("before they were received on 2026-12-02 10:40" in each.sentence for each in hits)


def test_what_is_rejected_because_it_never_came_is_no_fault() -> None:
    """*Never arrived* is an answer, and the only one there is."""
    story = visit("shipped")
    story.rejected(story.samples)
    assert found(story, "RC-21") == []


def test_what_was_missing_may_wait_for_an_answer() -> None:
    """RC-06 says that it is missing; whoever puts the whole visit on hold is not accused for it."""
    story = visit("shipped")
    story.docked(story.samples[:2], dock={"total": 2})
    story.on_hold(story.samples)
    assert found(story, "RC-21") == []
    story.accepted(story.samples)
    (hit,) = found(story, "RC-21")
    assert hit.sentence.startswith(f"Sample {grouped(story.samples[2])} was accepted on")


def doubly(story: Story) -> set[str]:
    """Samples that bear the laboratory number of another."""
    return {each for hit in found(story, "RC-15") for each in hit.samples or (hit.about,)}


def test_numbers_given_without_a_decision_count_as_those_of_one() -> None:
    """If this fails, two cassettes on one tray bear one number, since it was written before they were
    accepted; or the number that replaced it is not found on the report.
    """
    story = visit("docked")
    first, second, outdoor = story.samples[:3]
    story.lab_numbered({first: "26-10412", second: "26-10412"})
    assert doubly(story) == {first, second}
    story.lab_numbered({second: "26-10413"})
    story.accepted([outdoor], lab_numbers={outdoor: "26-10413"})
    assert doubly(story) == {second, outdoor}
    story.lab_numbered({outdoor: "26-10414"}, at="2026-12-02T11:05:00-06:00")
    assert doubly(story) == set()
    state = story.state()
    assert [state.samples[each].lab_number for each in (first, second, outdoor)] == [
        "26-10412", "26-10413", "26-10414",
    ]  # fmt: skip
    printed = [line for entry in state.ordered[-4:] for line in says(entry, state)]
    assert f"{grouped(second)} = 26-10413" in printed
    assert f"{grouped(outdoor)} = 26-10413" in printed
    assert f"{grouped(outdoor)} = 26-10414" in printed


def test_the_firm_gives_no_laboratory_numbers() -> None:
    """Whoever sends a sample would name it on the laboratory's shelf."""
    story = visit("docked")
    story.lab_numbered({story.samples[0]: "Q-1"}, by=QUALITY)
    assert story.state().samples[story.samples[0]].lab_number is None
    told = [each.sentence for each in evaluate(story.case()) if "given laboratory numbers" in each.sentence]
    assert len(told) == 1
    assert told[0].endswith("quill-lab decides. This entry counts for nothing.")
