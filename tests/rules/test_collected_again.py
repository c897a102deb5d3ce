"""A sample collected again: which one it replaces, and whether it came when the laboratory asked.

That another sample is obtained where one is not analyzed: 15A NCAC 02H .0805. Five working days: common
practice, no source. In the builders the decisions are of Wednesday 2 December 2026; the dock is open Monday
to Friday until 17:00, and no holiday is near.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.errors import BadStatement
from bailee.planning.due_list import Due, chase
from bailee.rules.case import Elsewhere
from bailee.rules.registry import Finding
from builders import CUSTODIAN, FIRM, INSPECTOR, LAB, Story, findings, visit

LATE = "2026-12-09T17:00:01-06:00"  # five working days after Wednesday: the next Wednesday (arithmetic)


def asked(**changes: Any) -> Story:
    """The laboratory rejected the first sample and asked for a new one."""
    story = visit("docked")
    story.rejected(story.samples[:1], resample="asked", **changes)
    return story


def again(story: Story, **changes: Any) -> str:
    """The inspector is back on site with one more cassette, on a form of its own."""
    story.lot(samples=1)
    old = story.form
    story.opened(visit="2026-12-04")
    facts = {"started": "2026-12-04T09:12:00-05:00", "replaces": story.samples[0], "replaces_form": old}
    return str(story.collected(3, **facts | changes).data["sample"])


def found(story: Story, **case: Any) -> list[Finding]:
    """What the two rules say."""
    return findings(story.case(**case), "CL-15", "RC-24")


def due(story: Story, at: str) -> list[Due]:
    """New samples that are chased at some time."""
    return [each for each in chase(story.case(at=at), (), ()) if each.kind == "not collected again"]


# RC-24 and the chase list


@pytest.mark.parametrize(("at", "late"), [("2026-12-09T17:00:00-06:00", False), (LATE, True)])
def test_a_new_sample_is_waited_for_five_working_days(at: str, late: bool) -> None:
    """The client pays for a visit of which one room was never counted, and nobody goes back."""
    story = asked()
    (each,) = due(story, at)
    assert (each.overdue, each.due, each.concerns) == (late, "2026-12-09T17:00:00-06:00", (FIRM, LAB))
    assert each.about == story.samples[0]
    assert each.sentence == (
        f"A new sample was asked for on 2026-12-02 11:00 (-06:00) in the place of sample"
        f" {grouped(story.samples[0])}, form {grouped(story.form)}; none is on record."
    )
    assert [(act["act"], act.get("resample")) for act in each.acts] == [
        ("collected", None),
        ("rejected", "not_possible"),
    ]
    hits = found(story, at=at)
    assert [(hit.rule, hit.severity, hit.samples) for hit in hits] == [
        ("RC-24", "warn", (story.samples[0],))
    ] * late


@pytest.mark.parametrize("resample", ["possible", "not_possible", None])
def test_only_what_is_asked_for_is_waited_for(resample: str | None) -> None:
    """A firm would drive out for what the laboratory only called possible."""
    story = visit("docked")
    story.rejected(story.samples[:1], resample=resample)
    assert due(story, LATE) == []
    assert found(story, at=LATE) == []


def test_of_what_is_on_hold_a_new_one_is_asked_for_too() -> None:
    """The box was wet, the sample waits, and so does everybody else."""
    story = visit("docked")
    story.on_hold(story.samples[:2], resample="asked", called="2026-12-02T11:20:00-06:00")
    assert len(due(story, LATE)[0].sentence.split(" and ")) == 2
    story.rejected(story.samples[:2], resample="not_possible")
    assert due(story, LATE) == []


def test_the_new_one_answers_it() -> None:
    """Both houses would chase what lies on the bench already."""
    story = asked()
    again(story)
    assert due(story, LATE) == []
    assert found(story, at=LATE) == []


def test_one_on_the_same_form_answers_it_too() -> None:
    """The inspector was still on site when the call came."""
    story = asked()
    story.lot(samples=1)
    story.collected(3, replaces=story.samples[0])
    assert found(story, at=LATE) == []


def test_one_on_a_form_that_only_the_ledger_knows_answers_it() -> None:
    """Every visit is judged alone, and each would warn of the other for ever."""
    story = asked()
    known = Elsewhere(again=frozenset(story.samples[:1]))
    assert found(story, at=LATE, elsewhere=known) == []


def test_a_stranger_s_new_sample_answers_nothing() -> None:
    """Anybody with a form could take a number off the laboratory's list."""
    story = asked()
    again(story, by=CUSTODIAN)
    assert [hit.rule for hit in found(story, at=LATE)] == ["RC-24"]
    assert len(due(story, LATE)) == 1


# CL-15


def test_both_are_reported_where_the_earlier_one_stands() -> None:
    """Two results of one room go to the client, and the better one is chosen."""
    story = visit("accepted")
    new = again(story)
    (hit,) = found(story)
    assert (hit.rule, hit.severity, hit.about) == ("CL-15", "warn", new)
    assert hit.sentence == (
        f"Sample {grouped(new)} replaces {grouped(story.samples[0])}, which is neither void nor rejected."
    )


def test_a_void_or_rejected_one_is_replaced() -> None:
    """Who does everything right would be warned of it."""
    for act in ("voided", "rejected"):
        story = visit("docked")
        if act == "voided":
            story.voided(0, by=INSPECTOR)
        else:
            story.rejected(story.samples[:1], resample="possible")
        again(story)
        assert found(story, at="2026-12-04T12:00:00-06:00") == []


def test_on_another_form_the_ledger_s_word_counts() -> None:
    """The earlier sample is on a visit of last week, and nobody looks there."""
    story = visit("opened")
    earlier, where = story.number("sample"), story.number("form")
    story.collected(0, replaces=earlier, replaces_form=where)
    assert found(story) == []
    (hit,) = found(story, elsewhere=Elsewhere(stands=frozenset({earlier})))
    assert hit.sentence.endswith(f"which is neither void nor rejected on form {grouped(where)}.")


def test_a_number_that_nobody_collected_replaces_nothing() -> None:
    """A slip of one character, and the sample that was meant is waited for all the same."""
    story = visit("opened")
    story.collected(0, replaces=story.samples[1])
    (hit,) = found(story)
    assert hit.sentence.endswith(f"which has no collection entry on form {grouped(story.form)}.")


@pytest.mark.parametrize(
    ("facts", "fault"),
    [
        (lambda story: {"replaces": story.samples[0]}, "replaces is the earlier sample"),
        (lambda story: {"replaces_form": story.form}, "write both"),
    ],
)
def test_what_replaces_itself_or_nothing_is_refused(facts: Any, fault: str) -> None:
    """It would stand on the record as a sample that was collected twice."""
    story = visit("opened")
    with pytest.raises(BadStatement, match=fault):
        story.collected(0, **facts(story))
