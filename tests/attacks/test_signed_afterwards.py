"""What is signed afterwards puts nothing right and nobody in the wrong: a minute in a store, a day corrected
after the disposal, a day requested when it was over, a new sample that is void.

That each party accounts for its own custody, and that a record shows what stood when it was acted upon:
common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.ledger import entry as entries
from bailee.operations import maintenance
from bailee.planning.due_list import Due, chase
from bailee.signing import signed_statement
from builders import (
    ANALYST,
    CLERK,
    CUSTODIAN,
    INSPECTOR,
    QUALITY,
    SECOND_CUSTODIAN,
    Person,
    Story,
    findings,
    visit,
)
from field import LAB, Field


def given(story: Story, by: Person, to: Person, at: str, until: str, purpose: str = "analysis") -> None:
    """All samples from one person to another, in person."""
    samples = story.samples[:3]
    story.relinquished(samples, by=by, to=to.org, to_kid=to.kid, at=at, said=at, purpose=purpose)
    story.received(samples, by=to, at=until, said=until, purpose=purpose)


# A minute in a store


def brought(store: str | None) -> Story:
    """The clerk says nothing for 20 hours, brings the samples to the dock, and the laboratory returns them
    half an hour later; the clerk says nothing for five days and brings them again.
    """
    story = visit("handed_over")
    given(story, CLERK, CUSTODIAN, "2026-12-02T06:36:00-06:00", "2026-12-02T06:40:00-06:00")
    if store:
        story.stored(story.samples[:3], at=store, said="2026-12-02T07:00:00-06:00")
        at = "2026-12-02T07:01:00-06:00"
        story.withdrawn(story.samples[:3], at=at, said=at, by=CUSTODIAN)
    given(story, CUSTODIAN, CLERK, "2026-12-02T07:10:00-06:00", "2026-12-02T07:12:00-06:00", "return")
    given(story, CLERK, CUSTODIAN, "2026-12-07T07:12:00-06:00", "2026-12-07T07:14:00-06:00")
    story.accepted(story.samples[:3], at="2026-12-07T07:30:00-06:00", said="2026-12-07T07:30:00-06:00")
    return story


@pytest.mark.parametrize("store", [None, "2026-12-02T07:00:00-06:00", "2026-11-30T07:00:00-06:00"])
def test_a_minute_in_a_store_silences_nobody_else(store: str | None) -> None:
    """The laboratory locks the samples away for a minute, or signs that it had before they came, and what
    the firm did with them for a night and for five days afterwards is asked by no rule.
    """
    told = findings(brought(store).case(), "CU-04")
    words = [hit.sentence.partition(" secured for ")[2].partition(",")[0] for hit in told]
    assert sorted(words) == ["120 h", "20 h"]
    assert all(hit.sentence.endswith(f"{CLERK.name}.") for hit in told)


def test_what_the_laboratory_says_nothing_about_before_its_store_is_told() -> None:
    """The dock leaves the samples on a ramp for two days, and the store they go to then is the excuse."""
    story = visit("docked")
    late = "2026-12-04T09:00:00-06:00"
    story.stored(at=late, said=late)
    (hit,) = findings(story.case(), "CU-04")
    assert hit.sentence.endswith(f"{CUSTODIAN.name}.")


# A day corrected after the disposal


@pytest.mark.parametrize("when", ["before", "after"])
def test_the_day_that_stood_when_it_was_disposed_of_counts(when: str) -> None:
    """The glass is gone half a year too early, and one line signed the next day makes it lawful."""
    story = visit("accepted")
    kept = story.stored(keep_until="2027-06-01")
    at = "2026-12-05T09:00:00-06:00"
    if when == "before":
        story.corrected(kept, "keep_until", "2026-12-04", by=CUSTODIAN)
    story.disposed(story.samples[:3], how="destroyed", at=at, said=at)
    if when == "after":
        story.corrected(kept, "keep_until", "2026-12-20", by=CUSTODIAN)
        story.corrected(kept, "keep_until", "2026-12-04", by=CUSTODIAN, old="2026-12-20")
    assert [each.why_not for each in story.state().corrections] == [""] * (1 if when == "before" else 2)
    told = [hit.sentence.rpartition(", ")[2] for hit in findings(story.case(), "RC-23")]
    assert told == ([] if when == "before" else ["to be kept until 2027-06-01."])


def test_a_day_first_said_after_the_disposal_makes_no_fault() -> None:
    """Whoever disposed of it as the record said would be at fault by a word of next week."""
    story = visit("accepted")
    kept = story.stored()
    at = "2026-12-05T09:00:00-06:00"
    story.disposed(story.samples[:3], how="destroyed", at=at, said=at)
    story.corrected(kept, "keep_until", "2027-06-01", by=CUSTODIAN)
    assert story.state().corrections[0].why_not == ""
    assert findings(story.case(), "RC-23") == []


def test_no_correction_takes_a_sample_out_of_its_storing_after_the_disposal() -> None:
    """The glass is gone, and the next day it had never been in the store that was to keep it."""
    story = visit("accepted")
    kept = story.stored(keep_until="2027-06-01")
    at = "2026-12-05T09:00:00-06:00"
    story.disposed(story.samples[:1], how="destroyed", at=at, said=at)
    before = [(hit.severity, hit.sentence) for hit in findings(story.case(), "RC-23")]
    story.corrected(kept, "samples", story.samples[1:3], by=CUSTODIAN)
    assert story.state().corrections[0].why_not == ""
    assert [(hit.severity, hit.sentence) for hit in findings(story.case(), "RC-23")] == before != []


def test_a_sample_taken_out_of_its_storing_before_the_disposal_was_not_to_be_kept() -> None:
    """The wrong number was scanned at the store and corrected that day; its disposal would be a fault."""
    story = visit("accepted")
    kept = story.stored(keep_until="2027-06-01")
    story.corrected(kept, "samples", story.samples[1:3], by=CUSTODIAN)
    at = "2026-12-05T09:00:00-06:00"
    story.disposed(story.samples[:1], how="destroyed", at=at, said=at)
    assert findings(story.case(), "RC-23") == []


@pytest.mark.parametrize(
    ("fact", "new"), [("how", "archived"), ("samples", 1), ("at", "2027-07-01T09:00:00-06:00")]
)
def test_no_correction_of_a_disposal_silences_it(fact: str, new: Any) -> None:
    """Destroyed in December, and since January it was archived, another one, or not done yet."""
    story = visit("accepted")
    story.stored(keep_until="2027-06-01")
    at = "2026-12-05T09:00:00-06:00"
    gone = story.disposed(story.samples[:1], how="destroyed", at=at, said=at)
    story.corrected(
        gone, fact, story.samples[1:2] if new == 1 else new, by=ANALYST, said="2027-07-02T09:00:00-06:00"
    )
    assert story.state().corrections[0].why_not == ""
    told = {
        (hit.severity, grouped(story.samples[0]) in hit.sentence) for hit in findings(story.case(), "RC-23")
    }
    assert told == {("flag", True)} if fact == "at" else ("warn", True) in told


def test_who_voids_what_was_disposed_of_too_early_silences_nothing() -> None:
    """A void is no reason for having destroyed it before its day."""
    story = visit("accepted")
    story.stored(keep_until="2027-06-01")
    at = "2026-12-05T09:00:00-06:00"
    story.disposed(story.samples[:1], how="destroyed", at=at, said=at)
    story.voided(0, by=CUSTODIAN, said="2026-12-06T09:00:00-06:00")
    assert [hit.severity for hit in findings(story.case(), "RC-23")] == ["flag"]


def test_a_laboratory_that_voids_before_it_destroys_too_early_silences_nothing() -> None:
    """Ten minutes before the glass goes it is void, and no rule asks for the day. What its firm voided is to
    be kept for nobody.
    """
    at = "2026-12-05T09:00:00-06:00"
    for by, told in ((CUSTODIAN, ["flag"]), (INSPECTOR, [])):
        story = visit("accepted")
        story.stored(keep_until="2027-06-01")
        story.voided(0, by=by, said="2026-12-05T08:50:00-06:00")
        story.disposed(story.samples[:1], how="destroyed", at=at, said=at)
        assert [hit.severity for hit in findings(story.case(), "RC-23")] == told


# A day requested when it was over


def due(story: Story, at: str) -> Due:
    """The result that is chased at some time."""
    (each,) = [each for each in chase(story.case(at=at), (), ()) if each.kind == "result due"]
    return each


@pytest.mark.parametrize("dated", ["2026-12-13T09:00:00-05:00", "2026-12-01T09:00:00-05:00"])
def test_a_day_that_was_over_when_it_was_requested_makes_nobody_late(dated: str) -> None:
    """Twelve days later the firm wants the result by last week, dates that back, and the laboratory stands
    as overdue on its own list.
    """
    story = visit("accepted")
    story.requested(due="2026-12-03", said=dated, rec="2026-12-13T09:00:05-05:00")
    each = due(story, "2026-12-20T09:00:00-06:00")
    assert not each.overdue
    assert each.sentence.endswith(
        "was requested on 2026-12-13 09:00 (-05:00) for a day already past, 2026-12-03; no result of"
        " quill-lab is on record."
    )


def test_a_day_corrected_into_one_that_was_over_makes_nobody_late() -> None:
    """The day agreed on is the twentieth, and one line signed on the thirteenth makes it the third."""
    story = visit("accepted")
    request = story.requested(due="2026-12-20")
    story.corrected(request, "due", "2026-12-03", by=QUALITY, said="2026-12-13T09:00:00-05:00")
    each = due(story, "2026-12-20T09:00:00-06:00")
    assert (each.due, each.overdue) == ("2026-12-03", False)
    assert "was requested on 2026-12-13 09:00 (-05:00) for a day already past, 2026-12-03" in each.sentence


def test_a_day_requested_on_it_is_owed_by_its_end() -> None:
    """Whoever calls in the morning and asks for the evening would wait for ever."""
    story = visit("accepted")
    story.requested(due="2026-12-03", said="2026-12-03T09:00:00-05:00")
    assert not due(story, "2026-12-03T23:59:59-06:00").overdue
    assert due(story, "2026-12-04T00:00:00-06:00").overdue


@pytest.mark.parametrize("how", ["again", "another", "all", "corrected", "samples"])
def test_no_day_already_past_clears_who_was_late(how: str) -> None:
    """The laboratory owes it since the third, and a clerk who asks once more by the same day takes it off
    the list of what is late.
    """
    story = visit("accepted")
    first = story.samples[0]
    request = story.requested([first], due="2026-12-03")
    before = due(story, "2026-12-20T09:00:00-06:00")
    assert before.overdue
    late = "2026-12-13T09:00:00-05:00"
    match how:
        case "again" | "another":
            story.requested([first], due="2026-12-03" if how == "again" else "2026-12-05", said=late)
        case "all":
            story.requested([first], due="2026-12-03", said=late)
            story.requested(samples=story.samples[1:3], due="2026-12-03", said=late)
        case "corrected":
            story.corrected(request, "due", "2026-12-04", by=QUALITY, said=late)
        case _:
            story.corrected(request, "samples", story.samples[:2], by=QUALITY, said=late)
    told = [
        each
        for each in chase(story.case(at="2026-12-20T09:00:00-06:00"), (), ())
        if each.kind == "result due"
    ]
    assert [each for each in told if each.overdue] == [before]
    assert all("for a day already past" in each.sentence for each in told if not each.overdue)


def test_a_new_day_that_can_be_kept_is_the_one_that_is_owed() -> None:
    """The two houses agree on another day, and the laboratory stands as late for ever."""
    story = visit("accepted")
    story.requested(due="2026-12-03")
    story.requested(due="2026-12-22", said="2026-12-13T09:00:00-05:00")
    each = due(story, "2026-12-20T09:00:00-06:00")
    assert (each.due, each.overdue) == ("2026-12-22", False)
    story.requested(due="2026-12-10", said="2026-12-14T09:00:00-05:00")  # over, when another one stood
    each = due(story, "2026-12-20T09:00:00-06:00")
    assert (each.due, each.overdue) == ("2026-12-10", False)


def test_a_second_laboratory_issues_no_result_of_the_first() -> None:
    """One sample was sent on and reported, and with that the first laboratory owes nothing any more."""
    story = visit("accepted")
    story.second_laboratory()
    story.requested(due="2026-12-07", said="2026-12-03T09:00:00-05:00")
    story.forwarded(0)
    story.copied(1, of="result", by=SECOND_CUSTODIAN, said="2026-12-04T09:00:00-06:00")
    sentence = due(story, "2026-12-20T09:00:00-06:00").sentence
    assert [grouped(each) in sentence for each in story.samples[:3]] == [False, True, True]


def test_a_laboratory_disposes_of_nothing_that_the_firm_still_has() -> None:
    """A number is mistyped at the bench, and a cassette in the inspector's hands is gone for good."""
    story = visit("collected")
    story.disposed(story.samples[:1], by=ANALYST)
    assert {each.status for each in story.state().live} == {"collected"}
    (hit,) = findings(story.case(), "RC-21")
    assert hit.sentence.endswith("; it was not with quill-lab. This entry counts for nothing.")


# A new sample that is void


def chased(field: Field) -> set[tuple[str, str]]:
    """What the inspector's list says, by kind and sample; the same after the index was made anew."""
    told = []
    for _ in range(2):
        items = field.get("inspector", "/chase").get_json()["items"]
        told.append({(each["kind"], each["about"]) for each in items})
        field.ledger.database.write(maintenance.rebuild)
    assert told[0] == told[1]
    return told[0]


def asked_again(field: Field, form: str, samples: list[str]) -> None:
    """The laboratory rejects what it received and asks for a new one."""
    at = Moment(field.clock(), -300).text()
    said = {"samples": samples, "count": len(samples), "to": LAB, "purpose": "analysis", "at": at}
    field.act("inspector", f"form/{form}", "relinquished", said)
    items = [{"sample": each, "condition": ["intact"]} for each in samples]
    said = {"items": items, "count": len(items), "purpose": "analysis", "at": at}
    field.act("dock", f"form/{form}", "received", said)
    said = {"samples": samples, "at": at, "reasons": ["condition"], "resample": "asked"}
    field.act("dock", f"form/{form}", "rejected", said)


@pytest.mark.parametrize("how", ["stands", "void", "corrected"])
def test_a_new_sample_that_does_not_stand_answers_nothing(field: Field, how: str) -> None:
    """The firm names the sample asked for on any cassette, voids that or names another one, and the room is
    never counted, while both lists are empty.
    """
    lot, samples = field.lot(3)
    form = field.open_form()
    field.collect(form, lot, samples[0])
    asked_again(field, form, samples[:1])
    waits = {("not collected again", samples[0])}
    assert chased(field) == waits
    later = field.open_form()
    told = field.collect(later, lot, samples[1], replaces=samples[0], replaces_form=form)
    assert not chased(field) & waits
    if how == "void":
        field.act("inspector", f"form/{later}", "voided", {"sample": samples[1], "reason": "lost"})
    if how == "corrected":
        statement = signed_statement.digest(entries.read(told["entry"]).stmt)
        said = {"statement": statement, "field": "replaces", "old": samples[0], "new": samples[2]}
        field.act("inspector", f"form/{later}", "corrected", {**said, "reason": "wrong_item"})
    assert chased(field) & waits == (set() if how == "stands" else waits)


def test_a_lost_sample_that_nobody_asked_for_again_stays_on_the_list(field: Field) -> None:
    """One word on the next cassette, and nobody looks for the one that is nowhere."""
    lot, samples = field.lot(2)
    form = field.open_form()
    field.collect(form, lot, samples[0])
    before = chased(field)
    assert {about for _, about in before} == {samples[0]}
    field.collect(field.open_form(), lot, samples[1], replaces=samples[0], replaces_form=form)
    assert before <= chased(field)
