"""Order and time, as people's clocks, their devices' counters and the ledger tell them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from bailee.domain import forms
from bailee.domain.moments import Moment
from bailee.domain.statements import Recorded
from bailee.rules.case import Case, Elsewhere, Gap
from bailee.rules.registry import Finding
from builders import CLERK, CUSTODIAN, DAY, INSPECTOR, SECOND_INSPECTOR, Step, Story, findings, visit


def found(story: Story, rule: str) -> list[Finding]:
    """What one rule says of the story."""
    return findings(story.case(), rule)


# CU-07


@pytest.mark.parametrize(("sealed_at", "count"), [("15:32:00", 0), ("15:32:01", 1)])
def test_shipped_before_it_was_sealed_beyond_what_two_clocks_may_differ(sealed_at: str, count: int) -> None:
    """A seal dated after the pick-up sealed nothing.

    Two phones may differ by 120 s: common practice, no source.
    """
    story = visit("kept")
    story.sealed(at=f"{DAY}T{sealed_at}-05:00", by=INSPECTOR, said=f"{DAY}T15:29:00-05:00")
    story.shipped(said=f"{DAY}T15:33:00-05:00")
    hits = found(story, "CU-07")
    assert len(hits) == count
    for each in hits:
        assert "the time of shipping is" in each.sentence
        assert "before that of sealing" in each.sentence


@pytest.mark.parametrize(("handed_over", "count"), [("14:00:00", 0), ("13:59:59", 1)])
def test_one_persons_own_clock_has_no_such_excuse(handed_over: str, count: int) -> None:
    """The clerk sealed and shipped with one phone: its seconds must run forward."""
    story = visit("sealed")
    story.shipped(handed_over=f"{DAY}T{handed_over}-05:00", said=f"{DAY}T14:01:00-05:00")
    assert len(found(story, "CU-07")) == count


def test_what_two_other_rules_say_of_order_is_not_said_twice() -> None:
    """SE-12 and RC-09 name the envelope: the same pair of times twice on one screen looks like two faults."""
    early = visit("shipped")
    early.docked(at=f"{DAY}T13:00:00-06:00", said="2026-12-02T10:40:00-06:00", dock={"delivered": None})
    assert found(early, "CU-07") == []
    assert len(found(early, "RC-09")) == 1
    running = visit("collected")
    running.sealed(by=INSPECTOR, at=f"{DAY}T09:40:00-05:00", said=f"{DAY}T09:50:00-05:00")
    assert found(running, "CU-07") == []
    assert len(found(running, "SE-12")) == 1


def test_decided_before_it_was_received() -> None:
    """Accepted by default, a day before the box came."""
    story = visit("docked")
    story.accepted(at="2026-12-02T10:00:00-06:00", said="2026-12-02T11:00:00-06:00")
    assert "the time of the decision is" in found(story, "CU-07")[0].sentence


def test_opened_by_the_sender_after_the_pick_up() -> None:
    """What the carrier holds, the clerk cannot open: one of the two times is wrong."""
    story = visit("shipped")
    story.unsealed(at=f"{DAY}T16:00:00-05:00")
    assert "after it was shipped" in found(story, "CU-07")[0].sentence


def test_a_wrong_time_corrected_settles_the_order() -> None:
    """The old time stays in the log; the rule reads the corrected one."""
    story = visit("kept")
    entry = story.sealed(at=f"{DAY}T16:00:00-05:00", said=f"{DAY}T14:00:00-05:00")
    story.shipped()
    assert len(found(story, "CU-07")) == 1
    story.corrected(entry, "at", f"{DAY}T14:00:00-05:00", said=f"{DAY}T16:10:00-05:00")
    assert found(story, "CU-07") == []


# CU-08


@pytest.mark.parametrize(
    ("recorded", "severity"),
    [
        ("11:28:00", None),
        ("11:27:59", "warn"),
        ("11:15:00", "warn"),
        ("11:14:59", "flag"),
        ("19:05:00", None),
    ],
)
def test_a_clock_ahead_of_the_ledger(recorded: str, severity: str | None) -> None:
    """Signed at 11:30: recorded before that means the phone is fast.

    Recorded in the evening is only a late upload.
    """
    story = visit("held")
    story.relinquished(rec=f"{DAY}T{recorded}-05:00")
    hits = found(story, "CU-08")
    assert [each.severity for each in hits] == ([severity] if severity else [])
    for each in hits:
        assert INSPECTOR.name in each.sentence
        assert each.about == story.form


def test_only_the_worst_of_a_device_is_said() -> None:
    """Twenty warnings about one phone hide the other phone."""
    story = visit("opened")
    story.collected(0, rec=f"{DAY}T09:10:00-05:00")
    worst = story.collected(1, rec=f"{DAY}T09:10:30-05:00")
    (hit,) = found(story, "CU-08")
    assert hit.entries == (worst.n,)


# CU-09: domain catalog 4.8


def test_a_clock_wrong_by_a_day_is_bounded_and_never_redated() -> None:
    """Domain catalog 4.8: phone at 24 Nov 14:02, had seen 25 Nov 13:40, uploaded 25 Nov
    19:05 (all -05:00).
    """
    story = visit(
        "opened",
        opened={
            "visit": "2026-11-25",
            "said": "2026-11-25T13:35:00-05:00",
            "rec": "2026-11-25T13:40:00-05:00",
        },
    )
    entry = story.collected(
        0,
        started="2026-11-24T13:56:00-05:00",
        said="2026-11-24T14:02:00-05:00",
        rec="2026-11-25T19:05:00-05:00",
        by=CLERK,
    )
    (hit,) = found(story, "CU-09")
    assert (hit.severity, hit.about, hit.entries) == ("flag", story.form, (entry.n, 1))
    for words in (
        "with the time 2026-11-24 14:02 (-05:00)",
        "recorded on 2026-11-25 13:40 (-05:00)",
        "true time lies between that and 2026-11-25 19:05 (-05:00)",
    ):
        assert words in hit.sentence
    collected = story.state().samples[story.samples[0]].collected
    assert collected is not None
    assert collected.started.text() == "2026-11-24T13:56:00-05:00"


@pytest.mark.parametrize(("said", "count"), [("08:35:00", 0), ("08:34:59", 1)])
def test_five_minutes_before_what_was_seen_are_believed(said: str, count: int) -> None:
    """Clocks of a phone and a server are never equal.

    Half a day is another matter. 5 min: common practice, no source.
    """
    story = visit("opened", opened={"said": f"{DAY}T08:30:00-05:00", "rec": f"{DAY}T08:40:00-05:00"})
    story.collected(
        0, by=CLERK, started=f"{DAY}T08:20:00-05:00", said=f"{DAY}T{said}-05:00", rec=f"{DAY}T12:00:00-05:00"
    )
    assert len(found(story, "CU-09")) == count


@pytest.mark.parametrize(("at", "count"), [("11:36:05", 0), ("11:41:05", 0), ("11:41:06", 1)])
def test_an_act_later_than_its_own_recording(at: str, count: int) -> None:
    """Signed now for what will be done in an hour: convenient, and untrue."""
    story = visit("relinquished")
    story.received(at=f"{DAY}T{at}-05:00", said=f"{DAY}T11:36:00-05:00")
    hits = found(story, "CU-09")
    assert len(hits) == count
    for each in hits:
        assert "after it was recorded on" in each.sentence


@pytest.mark.parametrize(("said", "count"), [("09:13:00", 0), ("09:12:59", 1)])
def test_a_device_clock_that_runs_backwards(said: str, count: int) -> None:
    """Somebody set the phone's clock between two cassettes; one of the two times is not what it says."""
    story = visit("opened")
    story.collected(0)  # signed 09:18:00
    story.collected(1, said=f"{DAY}T{said}-05:00", started=f"{DAY}T09:06:00-05:00", after=None)
    hits = found(story, "CU-09")
    assert len(hits) == count
    for each in hits:
        assert "ran backwards" in each.sentence


# CU-10, CU-14


def test_counters_missing_in_the_ledger_are_named() -> None:
    """A phone that still holds statement 17 may hold the hand-over everybody looks for."""
    story = visit("collected")
    shown = Moment.parse(f"{DAY}T18:00:00-05:00").instant
    gaps = Gap(17, 18, None, shown), Gap(20, 20, None, shown)
    (hit,) = findings(story.case(elsewhere=Elsewhere(gaps={INSPECTOR.kid: gaps})), "CU-10")
    assert (hit.severity, hit.area, hit.about) == ("flag", "records", story.form)
    assert hit.sentence == "Numbers 17 to 18 and 20 of a key of Inspector One are not in the ledger."
    assert findings(story.case(elsewhere=Elsewhere(gaps={CLERK.kid: gaps})), "CU-10") == []


@pytest.mark.parametrize(
    ("step", "after", "shown", "severity"),
    [
        ("accepted", "2026-12-04T09:00:00-05:00", "2026-12-04T10:00:00-05:00", []),  # long over by then
        ("accepted", f"{DAY}T18:00:00-05:00", "2026-12-04T10:00:00-05:00", ["note"]),  # open when it was used
        ("accepted", f"{DAY}T18:00:00-05:00", f"{DAY}T19:00:00-05:00", ["flag"]),  # open when it was missed
        ("docked", f"{DAY}T18:00:00-05:00", "2026-12-04T10:00:00-05:00", ["flag"]),  # and still is
    ],
)
def test_a_number_lost_after_a_form_was_finished_does_not_flag_it(
    step: Step, after: str, shown: str, severity: list[str]
) -> None:
    """Two years of decided samples turned doubtful whenever a phone lost one statement of another visit."""
    story = visit(step)
    gap = Gap(99, 99, Moment.parse(after).instant, Moment.parse(shown).instant)
    hits = findings(story.case(elsewhere=Elsewhere(gaps={INSPECTOR.kid: (gap,)})), "CU-10")
    assert [each.severity for each in hits] == severity


def test_two_statements_under_one_counter() -> None:
    """A copied key: two phones speak as one person."""
    story = visit("held")
    first = story.state().entries[-1]
    twin = story.relinquished(seq=first.seq)
    assert (first.n, twin.n) in [each.entries for each in found(story, "CU-10")]


def test_a_statement_that_follows_another_one_than_the_one_here() -> None:
    """The device remembers a statement that this ledger never got, under a counter that is taken."""
    story = visit("held")
    case = story.case()
    entries = list(story.state().entries)
    entries[-1] = replace(entries[-1], prev="A" * 43)
    forked = Case(case.at, {story.form: forms.fold(story.form, entries)}, case.lots, case.organizations)
    (hit,) = findings(forked, "CU-10")
    assert "does not continue" in hit.sentence
    assert findings(case, "CU-10") == []


def test_an_entry_somebody_had_seen_is_gone() -> None:
    """Scenario 12, seen from a phone: a removed entry leaves a name behind that nothing answers to."""
    story = visit("held")
    case = story.case()
    entries = [entry for entry in story.state().entries if entry.n != 3]
    cut = Case(case.at, {story.form: forms.fold(story.form, entries)}, case.lots, case.organizations)
    (hit,) = findings(cut, "CU-14")
    assert (hit.severity, hit.area, hit.entries) == ("flag", "records", (4,))
    assert findings(case, "CU-14") == []


# CU-15


@pytest.mark.parametrize(
    ("said", "severity"),
    [
        (f"{DAY}T12:06:00-05:00", None),
        (f"{DAY}T12:06:01-05:00", "note"),
        ("2026-12-02T11:36:00-05:00", "note"),
        ("2026-12-02T11:36:01-05:00", "warn"),
    ],
)
def test_signed_long_after_the_act(said: str, severity: str | None) -> None:
    """Received signed the next morning. 30 min and 24 h: common practice, no source."""
    story = visit("relinquished")
    story.received(said=said)
    assert [each.severity for each in found(story, "CU-15")] == ([severity] if severity else [])


def test_uploaded_late_is_not_signed_late() -> None:
    """A basement without a network makes nobody careless."""
    story = visit("relinquished")
    story.received(rec="2026-12-05T09:00:00-05:00")
    assert found(story, "CU-15") == []


def test_late_entries_of_one_person_are_counted_together() -> None:
    """A day re-entered from paper is one story, not forty notes."""
    story = visit("opened")
    entries = [
        story.collected(place, kind, said=f"{DAY}T20:0{place}:00-05:00")
        for place, kind in enumerate(("indoor", "indoor", "outdoor"))
    ]
    (hit,) = found(story, "CU-15")
    assert hit.entries == tuple(entry.n for entry in entries)
    assert "longest of 3 late entries" in hit.sentence
    assert CUSTODIAN.name not in hit.sentence


NEXT_DAY = "2026-12-02T10:00:00-05:00"


def pen_line(story: Story, line: str, at: str = "09:18") -> dict[str, Any]:
    """A line of the pen form of the visit."""
    return {"sheet": f"{story.form}-1", "line": line, "written_at": f"{DAY}T{at}:00-05:00"}


def typed_from_paper(story: Story) -> list[Recorded]:
    """Two indoor cassettes and the outdoor control, entered the next day from one sheet."""
    return [
        story.collected(n, kind, said=NEXT_DAY, entered="typed", paper=pen_line(story, str(n + 1), at))
        for n, (kind, at) in enumerate((("indoor", "09:18"), ("indoor", "09:33"), ("outdoor", "09:48")))
    ]


def test_a_late_entry_says_when_it_was_written_by_pen() -> None:
    """What was written on the spot would look like what somebody remembered a day later."""
    story = visit("opened")
    entries = typed_from_paper(story)
    (hit,) = found(story, "CU-15")
    assert hit.severity == "warn"
    assert hit.entries == tuple(each.n for each in entries)
    assert hit.sentence == (
        "Collected on 2026-12-01 09:17 (-05:00): written by pen at 2026-12-01 09:18 (-05:00) (sheet"
        f" {story.form}-1, line 1), entered at 2026-12-02 10:00 (-05:00) by Inspector One, 24 h 43 min later."
        " This is the longest of 3 late entries."
    )


def test_what_was_remembered_is_told_apart_from_what_was_written() -> None:
    """One sheet would lend its ink to whatever else was entered late that day."""
    story = visit("opened")
    by_pen = story.collected(0, said=NEXT_DAY, paper=pen_line(story, "1"))
    remembered = story.collected(1, said=NEXT_DAY)
    assert {hit.entries: "by pen" in hit.sentence for hit in found(story, "CU-15")} == {
        (by_pen.n,): True,
        (remembered.n,): False,
    }


def test_what_was_entered_from_paper_wants_a_second_person() -> None:
    """One person could write the sheet and enter it, and nobody else would ever have seen a cassette."""
    story = visit("opened")
    entries = typed_from_paper(story)
    (hit,) = found(story, "CU-22")
    assert (hit.severity, hit.area, hit.entries) == ("warn", "custody", tuple(each.n for each in entries))
    assert f"3 lines of sheet {story.form}-1 (1, 2 and 3)" in hit.sentence
    own = {"statements": [each.digest for each in entries]}
    story.say("witnessed", own, {}, by=INSPECTOR, at=NEXT_DAY)
    assert found(story, "CU-22") == [hit]


def test_a_second_person_ends_the_warning_line_by_line() -> None:
    """Whoever watched one run would stand for all of the sheet."""
    story = visit("opened")
    first, second, third = typed_from_paper(story)
    story.say("witnessed", {"statements": [first.digest]}, {}, by=CLERK, at=NEXT_DAY)
    (hit,) = found(story, "CU-22")
    assert hit.entries == (second.n, third.n)
    rest = {"statements": [second.digest, third.digest], "samples": [story.samples[1]]}
    story.say("witnessed", rest, {}, by=SECOND_INSPECTOR, at=NEXT_DAY)
    (hit,) = found(story, "CU-22")
    assert hit.entries == (third.n,)
    story.say("witnessed", {"statements": [third.digest]}, {}, by=SECOND_INSPECTOR, at=NEXT_DAY)
    assert found(story, "CU-22") == []


def test_what_is_typed_on_site_needs_no_witness() -> None:
    """A torn label would want two people for every cassette."""
    story = visit("opened")
    story.collected(0, entered="typed")
    assert found(story, "CU-22") == []
