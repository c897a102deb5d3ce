"""ML-13, and RC-18 after a recall: the result has gone out, and then the lot is recalled.

Document and notify: 15A NCAC 02H .0805, by analogy. The working day: common practice, no source.
"""

from __future__ import annotations

import pytest

from bailee.domain.numbers import grouped
from bailee.planning.due_list import chase
from bailee.rules.registry import Finding
from builders import FIRM, LAB, QUALITY, Story, findings, visit

RECALLED = "2026-12-10T09:00:00-05:00"
BY_THEN = "2026-12-11T17:00:00-06:00"


def reported(*, recalled: bool = True, said: str = "2026-12-02T11:30:00-06:00") -> Story:
    """A result of three samples goes out on Wednesday, and on Thursday of the week after the lot is
    recalled.
    """
    story = visit("accepted")
    story.copied(1, of="result", reference="R-1", said=said)
    if recalled:
        story.on_lot("recalled", reason="quality", said=RECALLED)
    return story


def found(story: Story, rule: str, at: str = "2026-12-10T12:00:00-06:00") -> list[Finding]:
    """What one rule says at some time."""
    return findings(story.case(at=at), rule)


@pytest.mark.parametrize(("at", "severity"), [(BY_THEN, "warn"), ("2026-12-11T17:00:01-06:00", "flag")])
def test_whoever_has_the_result_is_told_of_a_recall_within_a_working_day(at: str, severity: str) -> None:
    """The client has acted on a result whose cassettes were called back, and nobody knows."""
    story = reported()
    (hit,) = found(story, "ML-13", at)
    assert (hit.severity, hit.about) == (severity, story.form)
    assert "was recalled on 2026-12-10 08:00" in hit.sentence
    assert "(due by 2026-12-11 17:00 (-06:00))." in hit.sentence
    assert hit.acts[0] == {
        "act": "notified", "form": story.form, "lot": story.lots[0], "of": "recall", "to": None, "how": None,
        "at": None,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("told", "severity"),
    [("2026-12-11T16:00:00-06:00", []), ("2026-12-11T17:00:01-06:00", ["warn"])],
)
def test_told_in_time_it_is_over_and_told_late_it_stays_visible(told: str, severity: list[str]) -> None:
    """Whoever did it on Friday afternoon is not chased on Monday."""
    story = reported()
    story.notified(story.lots[0], at=told)
    assert [each.severity for each in found(story, "ML-13", "2026-12-14T09:00:00-06:00")] == severity


@pytest.mark.parametrize(
    "changes", [{"of": "lost"}, {"about": "another"}, {"at": "2026-12-09T16:00:00-06:00"}]
)
def test_a_word_about_something_else_tells_nobody_of_the_recall(changes: dict[str, str]) -> None:
    """A call of last week about a lost cassette would settle it."""
    story = reported()
    story.notified(**{"about": story.lots[0], **changes})
    assert [each.severity for each in found(story, "ML-13")] == ["warn"]


def test_nobody_has_a_copy_and_nobody_need_be_told() -> None:
    """What was recalled before anything went out, or never, is ML-06 and ML-07."""
    assert found(reported(recalled=False), "ML-13") == []
    early = visit("accepted")
    early.on_lot("recalled", reason="quality", said="2026-12-02T11:20:00-06:00")
    early.copied(1)
    assert found(early, "ML-13") == []
    assert found(early, "RC-18") == []


def test_the_result_that_came_before_the_recall_is_out_of_date_until_the_next_version() -> None:
    """Version 1 lies in the client's file and says nothing of the recall."""
    story = reported()
    story.notified(story.lots[0])
    (hit,) = found(story, "RC-18")
    named = f"{grouped(story.samples[0])}, {grouped(story.samples[1])} and {grouped(story.samples[2])}"
    lot = grouped(story.lots[0])
    assert hit.sentence.startswith("Version 1 of the result R-1 of quill-lab (entry ")
    assert f"after them came the recall of lot {lot} on 2026-12-10" in hit.sentence
    assert f"of which are {named}" in hit.sentence
    story.copied(2, of="result", reference="R-1", reason="other", said="2026-12-14T09:00:00-06:00")
    assert [each.severity for each in found(story, "RC-18")] == ["note"]  # it replaced version 1


def test_a_release_a_hold_and_a_find_after_it_make_a_copy_out_of_date_too() -> None:
    """What the paper says of a sample is not so any more."""
    released = visit("accepted")
    released.on_lot("recalled", reason="quality", said="2026-12-02T11:20:00-06:00")
    released.copied(1)
    assert found(released, "RC-18") == []
    released.on_lot("released", by=QUALITY, reason="checked", said=RECALLED)
    (hit,) = found(released, "RC-18")
    assert "the release of lot" in hit.sentence
    held = reported(recalled=False)
    held.on_hold([held.samples[0]], said="2026-12-03T09:00:00-06:00", at="2026-12-03T09:00:00-06:00")
    (hit,) = found(held, "RC-18")
    assert f"the hold of sample {grouped(held.samples[0])}" in hit.sentence


def test_the_chase_list_names_it_to_firm_and_laboratory_until_it_is_done() -> None:
    """The list was empty while the client read an answer that rests on recalled cassettes."""
    story = reported()
    (due,) = chase(story.case(at="2026-12-10T12:00:00-06:00"), (), ())
    assert (due.kind, due.about, due.overdue, due.due) == ("not notified", story.form, False, BY_THEN)
    assert set(due.concerns) == {FIRM, LAB}
    assert due.acts[0]["act"] == "notified"
    story.notified(story.lots[0])
    assert chase(story.case(at="2026-12-14T12:00:00-06:00"), (), ()) == []
