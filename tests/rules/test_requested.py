"""What the laboratory is asked for: the newest word counts, and a day before the samples come is told.

That the analyses requested belong on a custody record: EPA guidance of November 1992, citing SW-846 chapter
1. That a day before the receipt cannot be kept: common practice, no source. In the builders the envelope is
expected at the dock, and received, on 2 December 2026.
"""

from __future__ import annotations

import sys
from datetime import date, timedelta
from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.domain.requests import Order, asked
from bailee.errors import BadStatement
from bailee.planning.due_list import Due, chase
from bailee.presentation.act_words import says
from bailee.presentation.request_words import requested
from bailee.rules.case import Case
from bailee.rules.checks.laboratory.requested import due_before_receipt
from bailee.rules.registry import Finding
from builders import ANALYST, CUSTODIAN, DAY, FIRM, LAB, QUALITY, Story, findings, visit


def found(story: Story, **case: Any) -> list[Finding]:
    """What VP-16 says."""
    return findings(story.case(**case), "VP-16")


def due(story: Story, at: str) -> list[Due]:
    """Results that are chased at some time."""
    return [each for each in chase(story.case(at=at), (), ()) if each.kind == "result due"]


def test_of_each_member_the_newest_word_on_a_sample_counts() -> None:
    """A rush of one sample would rush all of them, or the order number be lost with the next request."""
    story = visit("collected", opened={"analysis": "spore count", "turnaround": "5 days"})
    first, second = story.samples[:2]
    story.requested(due="2026-12-08", purchase="PO-7")
    story.requested([first], priority="rush", due="2026-12-04")
    story.requested([second], turnaround="1 day")
    story.requested(turnaround="2 days")
    told = asked(story.state())
    everywhere: dict[str, Any] = {"analysis": "spore count", "turnaround": "2 days", "purchase": "PO-7"}
    assert told[first] == Order(**everywhere, due=date(2026, 12, 4), priority="rush")
    assert told[second] == Order(**everywhere, due=date(2026, 12, 8))
    assert requested(story.state())[0] == (
        f"Sample {grouped(first)}: spore count, turnaround 2 days, due 2026-12-04, priority rush,"
        " purchase order PO-7"
    )


def test_what_is_requested_of_all_is_requested_of_what_is_collected_later() -> None:
    """The office orders before the visit, and the cassettes of the afternoon would be counted at leisure."""
    story = visit("opened")
    story.requested(priority="rush")
    assert requested(story.state()) == ("direct-exam, turnaround standard, priority rush",)
    sample = story.collected(0).data["sample"]
    assert asked(story.state())[sample].priority == "rush"


def test_whoever_is_to_deliver_does_not_say_by_when() -> None:
    """A laboratory that is late would move its own day."""
    story = visit("accepted")
    story.requested(due="2026-12-07")
    story.requested(due="2027-01-15", by=QUALITY)
    assert {each.due for each in asked(story.state()).values()} == {date(2027, 1, 15)}
    story.requested(due="2027-06-30", by=CUSTODIAN)
    assert {each.due for each in asked(story.state()).values()} == {date(2027, 1, 15)}


def test_a_sample_sent_on_is_requested_as_it_was() -> None:
    """The second laboratory would get it without an order, and without the day."""
    story = visit("accepted")
    story.requested([story.samples[0]], priority="rush")
    child = story.forwarded(0).data["items"][0]["child"]
    assert asked(story.state())[child].priority == "rush"


# VP-16


@pytest.mark.parametrize(("day", "told"), [("2026-12-01", True), ("2026-12-02", False)])
def test_a_result_before_the_samples_arrive_is_told(day: str, told: bool) -> None:
    """A result promised for Tuesday from glass that comes on Wednesday; who ordered it hears of it on
    Thursday.
    """
    story = visit("shipped")
    story.requested(due=day)
    hits = found(story)
    assert [each.severity for each in hits] == ["warn"] * told
    if told:
        listed = " and ".join([", ".join(map(grouped, story.samples[:2])), grouped(story.samples[2])])
        assert hits[0].sentence == (
            f"The result of samples {listed} is requested by 2026-12-01; envelope {grouped(story.envelope)}"
            " is expected at quill-lab on 2026-12-02 10:30 (-06:00)."
        )
    story.docked()
    assert [each.sentence.partition("; ")[2] for each in found(story)] == [
        "received on 2026-12-02 10:40 (-06:00)."
    ] * told


def test_it_is_told_before_the_envelope_is_shipped() -> None:
    """Whoever ships it can still choose another service, or another day."""
    story = visit("sealed")
    story.requested(due="2026-12-01")
    assert found(story) == []
    assert len(found(story, shipping=story.shipping())) == 1


def test_the_request_that_asked_for_the_day_is_the_one_that_is_named() -> None:
    """Two people requested, and the one whose day can be kept is asked to agree on another."""
    story = visit("shipped")
    first, second = story.samples[:2]
    everywhere, of_one = story.requested(due="2026-12-01").n, story.requested([first], due="2026-11-30").n
    story.requested([second], due="2026-12-09")
    story.requested(priority="rush")
    told = {each.sentence.partition("; ")[0][-10:]: each.entries for each in found(story)}
    assert told == {"2026-12-01": (everywhere,), "2026-11-30": (of_one,)}


@pytest.mark.parametrize("is_at_the_dock", [False, True])
def test_twice_as_many_requests_are_twice_the_work(is_at_the_dock: bool) -> None:
    """A request a day for each cassette of a school, and the form opens in minutes, for everybody."""
    few, many = (_calls(_school(count, is_at_the_dock)) for count in (20, 40))
    assert many < 2.5 * few


def _school(count: int, is_at_the_dock: bool) -> Case:
    """So many cassettes, for each of them a day that cannot be kept; shipped, or received."""
    story = visit("opened")
    story.samples.clear()
    story.lot(samples=count)
    for place in range(count):
        story.collected(place, started=f"{DAY}T09:12:00-05:00")
    story.sealed()
    story.shipped()
    if is_at_the_dock:
        story.docked()
    for place, sample in enumerate(story.samples):
        story.requested([sample], due=(date(2025, 1, 1) + timedelta(days=place)).isoformat())
    return story.case()


def _calls(case: Case) -> int:
    """How often anything is called or goes on while VP-16 looks at this case; it is found of every sample."""
    found: list[str] = []
    sys.setprofile(lambda _frame, what, _arg: found.append(what))
    try:
        hits = list(due_before_receipt(case))
    finally:
        sys.setprofile(None)
    assert len(hits) == sum(1 for form in case.forms.values() for _ in form.live)
    return len(found)


# The chase list


@pytest.mark.parametrize(
    ("at", "overdue"), [("2026-12-07T23:59:59-06:00", False), ("2026-12-08T00:00:00-06:00", True)]
)
def test_a_result_is_chased_until_it_is_issued(at: str, overdue: bool) -> None:
    """The client calls on Tuesday, and nobody in either house has the day on a list."""
    story = visit("accepted")
    assert due(story, at) == []
    story.requested(due="2026-12-07")
    (each,) = due(story, at)
    assert (each.overdue, each.due, each.concerns, each.about) == (
        overdue,
        "2026-12-07",
        (FIRM, LAB),
        story.form,
    )
    assert [act["act"] for act in each.acts] == ["copied", "requested"]
    assert each.sentence.endswith(
        "is requested by 2026-12-07, requested on 2026-12-01 12:10 (-05:00); no result of quill-lab is on"
        " record."
    )
    story.copied(1, of="result")
    assert due(story, at) == []


def test_only_the_laboratory_is_told_to_issue_a_result() -> None:
    """The firm's inspector records a copy of a result that does not exist, and waits for it all the same."""
    story = visit("accepted")
    story.requested(due="2026-12-07")
    (each,) = due(story, "2026-12-08T00:00:00-06:00")
    case = story.case()
    for role in ("inspector", "clerk", "quality"):
        reader = case.read_by(FIRM, role).reader
        assert each.told(reader).words.endswith("Ask the laboratory: issue the result and record that.")
        assert [act["act"] for act in each.offered(reader)] == ["requested"]
    reader = case.read_by(LAB, "custodian").reader
    assert each.told(reader).words.startswith("Issue the result and record that.")
    assert [act["act"] for act in each.offered(reader)] == ["copied"]


def test_a_result_that_covers_nothing_of_a_sample_is_none_of_it() -> None:
    """Two of three were counted, and the third one is forgotten with the first report."""
    story = visit("docked")
    first, second, outdoor = story.samples[:3]
    story.requested(due="2026-12-07")
    story.accepted([first, outdoor])
    story.copied(1, of="result")
    story.accepted([second])
    assert [each.sentence.partition(" of form")[0] for each in due(story, "2026-12-08T09:00:00-06:00")] == [
        f"The result of sample {grouped(second)}"
    ]
    story.rejected([second])
    assert due(story, "2026-12-08T09:00:00-06:00") == []


def test_the_firm_issues_no_result_of_the_laboratory() -> None:
    """Whoever waits for it would strike it off both lists."""
    story = visit("accepted")
    story.requested(due="2026-12-07")
    story.copied(1, of="result", by=QUALITY)
    assert len(due(story, "2026-12-08T09:00:00-06:00")) == 1
    story.copied(2, of="result", by=ANALYST)
    assert due(story, "2026-12-08T09:00:00-06:00") == []


def test_the_record_prints_what_was_asked_and_who_pays() -> None:
    """The bill goes to the wrong office, and the record shows no order."""
    story = visit("collected")
    entry = story.requested(
        [story.samples[0]], analysis="direct exam", cost_center="4711", disclosed={"bill_to": "Office B"}
    )
    assert list(says(entry, story.state())) == [
        grouped(story.samples[0]), "direct exam, cost center 4711", "Bill to: Office B",
    ]  # fmt: skip


def test_a_request_for_nothing_is_none() -> None:
    """An empty entry would look like an order."""
    with pytest.raises(BadStatement, match="write what is requested: analysis, turnaround, due, purchase"):
        visit("collected").requested()
