"""What is signed afterwards puts nothing right and nobody in the wrong: a minute in a store, a day corrected
after the disposal, a day requested when it was over.

That each party accounts for its own custody, and that a record shows what stood when it was acted upon:
common practice, no source.
"""

from __future__ import annotations

import pytest

from bailee.planning.due_list import Due, chase
from builders import CLERK, CUSTODIAN, QUALITY, Person, Story, findings, visit


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
