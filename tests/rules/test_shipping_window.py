"""Whether the envelope reaches an open dock in time.

The worked figures are domain catalog 4.6; its rules of counting are common practice, no source. Federal days:
5 U.S.C. 6103.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.moments import Moment
from bailee.rules import transit
from bailee.rules.case import Case
from bailee.rules.registry import Finding
from builders import CARRIER, CLERK, DAY, LAB, QUALITY, Story, findings, visit

LAB_HOURS = {day: ["08:00-17:00"] for day in ("mon", "tue", "wed", "thu", "fri")}


def packed(collected: str) -> Story:
    """One indoor sample, collected and sealed at another date."""
    story = visit("opened")
    story.collected(0, started=collected)
    story.sealed(at=collected)
    return story


def asked(story: Story, handed_over: str, **changes: Any) -> Case:
    """The readiness question of the clerk at the counter."""
    return story.case(shipping=story.shipping(handed_over=Moment.parse(handed_over), **changes))


def one(case: Case, rule: str) -> Finding:
    """The only finding of a rule."""
    (found,) = findings(case, rule)
    return found


# SH-01


@pytest.mark.parametrize(
    ("handed_over", "closed", "opening"),
    [
        ("2026-11-25T16:30:00-05:00", [], None),
        ("2026-11-25T16:30:00-05:00", ["2026-11-27"], "2026-11-30 08:00 (-06:00)"),
        ("2026-11-25T17:01:00-05:00", [], None),
        ("2026-12-04T15:00:00-05:00", [], None),
        ("2026-07-02T15:00:00-04:00", ["2026-07-03"], "2026-07-06 08:00 (-05:00)"),
    ],
)
def test_arrival_at_a_shut_dock_is_said_with_the_next_opening(
    handed_over: str, closed: list[str], opening: str | None
) -> None:
    """A Friday envelope lies outside over the weekend, and everybody could have known it on Wednesday."""
    story = packed(handed_over)
    story.calendar("lab", "America/Chicago", org=LAB, closed=["2026-11-26", *closed])
    if "07-02" in handed_over:  # the carrier works on the observed holiday, the laboratory does not
        story.calendar("carrier", "America/New_York", carrier=CARRIER, closed=[])
    found = findings(asked(story, handed_over), "SH-01")
    assert [each.severity for each in found] == (["warn"] if opening else [])
    for each in found:
        assert each.about == story.envelope
        assert f" {opening}." in each.sentence.partition("; expected receipt")[2]


def test_the_sentence_states_the_computed_delivery() -> None:
    """A clerk believes a date that can be checked against the wall calendar, not a color."""
    story = packed("2026-11-25T14:00:00-05:00")
    story.calendar("lab", "America/Chicago", org=LAB, closed=["2026-11-26", "2026-11-27"])
    said = one(asked(story, "2026-11-25T16:30:00-05:00"), "SH-01").sentence
    assert "expected delivery Fri 2026-11-27 10:30 (-06:00)" in said
    assert "(-05:00)" not in said, "times on two clocks in one sentence: whoever subtracts them is off"


def test_a_recorded_hand_over_is_judged_until_the_dock_has_it() -> None:
    """Between pick-up and receipt the office can still call the laboratory.

    Afterwards what was expected is moot.
    """
    story = visit("sealed")
    story.calendar("lab", "America/Chicago", org=LAB, closed=["2026-12-02"])
    story.shipped()
    assert one(story.case(), "SH-01").severity == "warn"
    story.docked(at="2026-12-03T08:10:00-06:00")
    assert findings(story.case(), "SH-01") == []


def test_a_laboratory_without_hours_is_said_and_not_guessed() -> None:
    """A made-up calendar would promise an open dock that nobody promised."""
    story = visit("sealed")
    case = story.case(shipping=story.shipping())
    bare = {name: org for name, org in case.organizations.items() if name != LAB}
    case = Case(case.at, case.forms, case.lots, bare, drafts=case.drafts)
    found = one(case, "SH-01")
    assert found.severity == "note"
    assert "no opening hours" in found.sentence
    assert findings(case, "SH-02") == []


def test_an_unknown_carrier_is_assumed_to_keep_the_federal_days_and_the_sentence_says_so() -> None:
    """An assumption nobody is told about is a promise."""
    story = packed("2026-11-25T14:00:00-05:00")
    story.calendar("lab", "America/Chicago", org=LAB, closed=["2026-11-27"])
    said = one(asked(story, "2026-11-25T16:30:00-05:00", carrier="unknown-van"), "SH-01").sentence
    assert "expected delivery Fri 2026-11-27" in said  # not Thanksgiving Thursday
    assert "No calendar on record for unknown-van" in said


@pytest.mark.parametrize(
    ("expected", "count"), [("2026-12-04T16:59:00-06:00", 0), ("2026-12-04T17:01:00-06:00", 1)]
)
def test_by_hand_only_the_dock_hours_count(expected: str, count: int) -> None:
    """A person who drives needs no cut-off, but a locked door is a locked door."""
    story = packed("2026-12-04T14:00:00-05:00")
    there = Moment.parse(expected)
    way = {"by_hand": True, "service_days": 0, "tracking": None, "expected_delivery": there}
    case = asked(story, "2026-12-04T15:00:00-05:00", **way)
    assert len(findings(case, "SH-01")) == count
    assert findings(case, "SH-03") == []


# SH-02


@pytest.mark.parametrize(
    ("collected", "severity"),
    [
        ("2026-12-04T11:30:00-05:00", None),  # 72 h to the minute
        ("2026-12-04T11:29:59-05:00", "warn"),
        ("2026-12-04T11:00:00-05:00", "warn"),  # domain catalog 4.6: 72.5 h
        ("2026-11-30T11:30:00-05:00", "warn"),  # 168 h to the minute
        ("2026-11-30T11:29:59-05:00", "block"),
    ],
)
def test_hours_from_collection_to_expected_receipt(collected: str, severity: str | None) -> None:
    """Old samples are what laboratories quarrel about. 72 h and 168 h: common practice.

    No source gives a holding time.
    """
    story = packed(collected)
    found = findings(asked(story, "2026-12-04T15:00:00-05:00"), "SH-02")
    assert [each.severity for each in found] == ([severity] if severity else [])
    if collected == "2026-12-04T11:00:00-05:00":
        assert "72 h 30 min" in found[0].sentence
        assert "2026-12-07 10:30 (-06:00)" in found[0].sentence


@pytest.mark.parametrize(
    ("collected", "severity"),
    [
        ("2026-12-01T13:00:00-05:00", None),
        ("2026-11-29T11:30:00-05:00", None),  # 72 h to the minute at the dock, next-day service
        ("2026-11-28T13:59:59-05:00", "warn"),
        ("2026-11-24T14:00:00-05:00", "warn"),  # 168 h to the minute
        ("2026-11-24T13:59:59-05:00", "block"),
    ],
)
def test_what_is_too_old_already_is_said_before_the_envelope_closes(
    collected: str, severity: str | None
) -> None:
    """The clerk would seal, write the airbill and hear it at the counter.

    Limits: common practice, no source.
    """
    story = visit("opened")
    story.collected(0, started=collected)
    hits = findings(story.case(sealing=story.sealing()), "SH-02")
    assert [each.severity for each in hits] == ([severity] if severity else [])
    assert all("earliest receipt" in each.sentence for each in hits)


@pytest.mark.parametrize(
    ("sealed_at", "collected", "words"),
    [
        ("17:00:00", "2026-11-29T11:30:00-05:00", None),  # the cut-off itself is in time
        ("17:00:01", "2026-11-29T11:30:00-05:00", "by Tue 2026-12-01 17:00 (-05:00)"),
        (
            "14:00:00",
            "2026-11-28T14:00:00-05:00",
            "only hand-carried can it be in time, at the open dock by Tue 2026-12-01 14:00 (-05:00)",
        ),  # 72 h to the minute, carried there at once
        ("14:00:00", "2026-11-28T13:59:59-05:00", "earliest receipt"),
    ],
)
def test_what_no_carrier_brings_in_time_is_said_before_the_envelope_closes(
    sealed_at: str, collected: str, words: str | None
) -> None:
    """Sealed a minute after the last collection of the day it is too old at the dock, and the driver would be
    told tomorrow.
    """
    story = visit("opened")
    story.collected(0, started=collected)
    asked = story.sealing(at=Moment.parse(f"{DAY}T{sealed_at}-05:00"))
    hits = findings(story.case(sealing=asked), "SH-02")
    assert [each.severity for each in hits] == (["warn"] if words else [])
    assert all(words and words in each.sentence for each in hits)


def test_a_firm_without_a_dock_to_reckon_with_is_not_told_a_latest_hand_over() -> None:
    """A made-up dock would make a made-up deadline."""
    story = visit("opened")
    story.collected(0, started="2026-11-29T09:00:00-05:00")
    case = story.case(sealing=story.sealing())
    assert len(findings(case, "SH-02")) == 1
    bare = {name: org for name, org in case.organizations.items() if name != LAB}
    assert findings(Case(case.at, case.forms, case.lots, bare, drafts=case.drafts), "SH-02") == []


def test_the_soonest_receipt_is_at_an_open_dock() -> None:
    """Sealed on a Friday evening it cannot be received before Monday, however it travels."""
    story = visit("opened")
    story.collected(0, started="2026-12-01T09:00:00-05:00")
    friday = Moment.parse("2026-12-04T19:00:00-05:00")
    found = one(story.case(sealing=story.sealing(at=friday)), "SH-02")
    assert "earliest receipt Mon 2026-12-07 08:00 (-06:00)" in found.sentence


def test_the_actual_receipt_replaces_the_expected_one() -> None:
    """A lost week in a depot is a fact, whatever was promised; after the fact it is a flag."""
    story = visit("shipped")
    assert findings(story.case(), "SH-02") == []
    story.docked(at="2026-12-09T10:40:00-06:00")
    found = one(story.case(), "SH-02")
    assert found.severity == "flag"
    assert "received Wed 2026-12-09 10:40 (-06:00)" in found.sentence


def test_the_oldest_sample_counts() -> None:
    """Two visits in one envelope: the younger one must not hide the older."""
    story = visit("opened")
    story.collected(0, started="2026-11-20T09:00:00-05:00")
    story.collected(1)
    story.sealed()
    assert one(asked(story, f"{DAY}T15:30:00-05:00"), "SH-02").severity == "block"


def test_an_exception_by_a_second_person_lowers_the_block() -> None:
    """A laboratory that takes week-old samples may say so."""
    story = packed("2026-11-24T09:00:00-05:00")
    story.excepted("SH-02", story.envelope, by=QUALITY, reason="lab_accepts")
    found = one(asked(story, "2026-12-04T15:00:00-05:00"), "SH-02")
    assert (found.severity, found.excepted[:20]) == ("warn", "allowed by exception")


def test_the_firms_own_hours_are_used() -> None:
    """The limit is the firm's, not ours: it signs its own."""
    story = visit("sealed", policy={"hold_warn_h": "24"})
    assert one(asked(story, f"{DAY}T15:30:00-05:00"), "SH-02").severity == "warn"


FRIDAY_SHUT = ["us-federal", "2026-11-27"]


@pytest.mark.parametrize(
    ("handed_over", "service", "carrier_closed", "lab_closed", "received"),
    [
        ("2026-11-25T16:30:00-05:00", {}, ["us-federal"], ["us-federal"], "2026-11-27 10:30 (-06:00)"),
        ("2026-11-25T16:30:00-05:00", {}, ["us-federal"], FRIDAY_SHUT, "2026-11-30 08:00 (-06:00)"),
        ("2026-11-25T17:01:00-05:00", {}, ["us-federal"], ["us-federal"], "2026-11-30 10:30 (-06:00)"),
        ("2026-11-24T17:00:00-05:00", {}, ["us-federal"], ["us-federal"], "2026-11-25 10:30 (-06:00)"),
        ("2026-12-04T15:00:00-05:00", {}, ["us-federal"], ["us-federal"], "2026-12-07 10:30 (-06:00)"),
        (
            "2026-12-06T12:00:00-05:00",
            {"service_days": 2},
            ["us-federal"],
            ["us-federal"],
            "2026-12-09 10:30 (-06:00)",
        ),
        ("2026-12-24T15:00:00-05:00", {}, ["us-federal"], ["us-federal"], "2026-12-28 10:30 (-06:00)"),
        ("2026-07-02T18:30:00-04:00", {}, ["us-federal"], ["us-federal"], "2026-07-07 10:30 (-05:00)"),
        ("2026-07-02T15:00:00-04:00", {}, [], ["us-federal"], "2026-07-06 08:00 (-05:00)"),
        ("2026-11-10T15:00:00-05:00", {}, [], [], "2026-11-11 10:30 (-06:00)"),
    ],
)
def test_the_expected_receipt_is_the_one_worked_by_hand(
    handed_over: str, service: dict[str, Any], carrier_closed: list[str], lab_closed: list[str], received: str
) -> None:
    """Domain catalog 4.6, row by row: holidays, cut-offs and three calendars, worked by hand before the
    program was.
    """
    story = visit("opened", policy={"hold_warn_h": "0"})
    story.collected(0, started=handed_over)
    story.sealed(at=handed_over)
    story.calendar("lab", "America/Chicago", org=LAB, closed=lab_closed)
    story.calendar("carrier", "America/New_York", carrier=CARRIER, closed=carrier_closed)
    said = one(asked(story, handed_over, **service), "SH-02").sentence
    assert f" {received}: " in said.partition(", expected receipt")[2]


# SH-03


@pytest.mark.parametrize(
    ("handed_over", "late"),
    [
        ("2026-11-24T17:00:00-05:00", False),
        ("2026-11-25T17:00:00-05:00", False),
        ("2026-11-25T17:01:00-05:00", True),
    ],
)
def test_the_cut_off_is_still_in_time_and_a_minute_later_is_not(handed_over: str, late: bool) -> None:
    """One minute at the counter costs a holiday weekend; the sentence says both dates."""
    story = packed("2026-11-24T14:00:00-05:00")
    found = findings(asked(story, handed_over), "SH-03")
    assert [each.severity for each in found] == (["warn"] if late else [])
    for each in found:
        assert "shipped 1 min after the 17:00 cut-off of Wed 2026-11-25 (America/New_York);" in each.sentence
        assert "(-05:00)" not in each.sentence
        assert "the carrier counts from Fri 2026-11-27" in each.sentence
        assert "expected receipt Mon 2026-11-30 10:30 (-06:00)" in each.sentence
        assert "not Fri 2026-11-27 10:30 (-06:00)" in each.sentence


def test_a_sunday_hand_over_misses_no_cut_off() -> None:
    """On a day without collection there is nothing to be late for: Monday is day 0 either way."""
    story = packed("2026-12-05T09:00:00-05:00")
    assert findings(asked(story, "2026-12-06T18:00:00-05:00", service_days=2), "SH-03") == []


# SH-05, SH-06, SH-12


@pytest.mark.parametrize(("open_saturday", "count"), [(True, 0), (False, 1)])
def test_saturday_delivery_needs_an_open_dock(open_saturday: bool, count: int) -> None:
    """Domain catalog 4.6: Fri 4 Dec 15:00 with Saturday delivery is received on Sat 5 Dec only if the
    laboratory is open.
    """
    story = packed("2026-12-04T11:00:00-05:00")
    if open_saturday:
        story.calendar("lab", "America/Chicago", org=LAB, hours={**LAB_HOURS, "sat": ["08:00-12:00"]})
    case = asked(story, "2026-12-04T15:00:00-05:00", saturday=True)
    found = findings(case, "SH-05")
    assert [each.severity for each in found] == ["block"] * count
    assert findings(case, "SH-01") == []
    for each in found:
        assert "2026-12-05 10:30 (-06:00)" in each.sentence
        assert "2026-12-07 08:00 (-06:00)" in each.sentence


def test_an_envelope_without_a_tracking_number_stays() -> None:
    """A parcel nobody can follow is a parcel nobody can find."""
    story = visit("sealed")
    found = one(story.case(shipping=story.shipping(tracking=None)), "SH-06")
    assert (found.severity, found.about) == ("block", story.envelope)
    by_hand = story.shipping(tracking=None, by_hand=True)
    assert findings(story.case(shipping=by_hand), "SH-06") == []


def test_a_tracking_number_missing_in_the_record_is_a_flag_until_corrected() -> None:
    """The sender adds what was left out, and the record keeps both."""
    story = visit("sealed")
    entry = story.shipped(tracking=None)
    assert one(story.case(), "SH-06").severity == "flag"
    story.corrected(
        entry, "tracking", "TRACK-0002", by=CLERK, reason="left_out", said=f"{DAY}T15:40:00-05:00"
    )
    assert findings(story.case(), "SH-06") == []


def test_a_firm_may_do_without_tracking() -> None:
    """Where the policy says so, it is printed and not blocked."""
    story = visit("sealed", policy={"tracking_required": False})
    assert one(story.case(shipping=story.shipping(tracking=None)), "SH-06").severity == "warn"


@pytest.mark.parametrize(("years", "count"), [([2026], 0), ([2025], 1)])
def test_a_year_whose_closed_days_nobody_entered_is_said(years: list[int], count: int) -> None:
    """An empty holiday table is not a year without holidays."""
    story = visit("sealed")
    story.calendar("lab", "America/Chicago", org=LAB, years=years)
    assert len(findings(story.case(shipping=story.shipping()), "SH-12")) == count


# SH-04


def test_days_off_on_the_way_are_told_as_a_note() -> None:
    """The clerk sees a late receipt and not the holiday that explains it (days: 5 U.S.C. 6103; rule: common
    practice, no source).
    """
    story = packed("2026-11-25T14:00:00-05:00")
    found = one(asked(story, "2026-11-25T16:30:00-05:00"), "SH-04")
    assert found.severity == "note"
    assert found.sentence.endswith("the carrier does not work on Thu 2026-11-26.")
    late = one(asked(story, "2026-11-25T17:01:00-05:00"), "SH-04").sentence
    assert "Thu 2026-11-26, Sat 2026-11-28 and Sun 2026-11-29" in late
    assert findings(asked(packed("2026-12-01T14:00:00-05:00"), "2026-12-01T15:00:00-05:00"), "SH-04") == []


@pytest.mark.parametrize(
    ("closed", "handed_over", "opens"),
    [
        (["2026-12-01"], "2026-12-01T15:00:00-05:00", "2026-12-02 08:00 (-05:00)"),
        ([], "2026-12-01T17:00:00-05:00", None),  # closing time itself: somebody is still there
        ([], "2026-12-01T17:00:01-05:00", "2026-12-02 08:00 (-05:00)"),
    ],
)
def test_nobody_hands_over_from_a_shut_office(closed: list[str], handed_over: str, opens: str | None) -> None:
    """A pick-up is booked for a day on which the firm itself is shut, and the driver finds a locked door."""
    story = packed("2026-12-01T14:00:00-05:00")
    story.calendar("office", "America/New_York", closed=closed)
    said = [each.sentence for each in findings(asked(story, handed_over), "SH-04")]
    assert ["Your own office is closed" in each for each in said] == ([True] if opens else [])
    assert all(f" {opens}." in each.partition("It opens on")[2] for each in said)
    story.shipped(handed_over=handed_over)  # done: who was there is moot
    assert not any("office" in each.sentence for each in findings(story.case(), "SH-04"))


def test_three_calendars_are_asked_for_what_is_theirs() -> None:
    """A day off of the firm's office would delay the carrier, or the carrier's day off
    shut the laboratory.
    """
    story = packed("2026-12-01T14:00:00-05:00")
    story.calendar("office", "America/New_York", closed=["2026-12-02"])
    case = asked(story, "2026-12-01T15:00:00-05:00")
    assert findings(case, "SH-01", "SH-04") == []
    window = transit.window(case, story.shipping(handed_over=Moment.parse("2026-12-01T15:00:00-05:00")))
    assert window.plan is not None
    assert window.plan.received.text() == "2026-12-02T10:30:00-06:00"


def test_the_hold_counts_from_the_start_of_the_oldest_run() -> None:
    """The clerk hands over at the latest minute told, and the envelope is five minutes too old by the rule
    that told it.
    """
    # From 09:12 -05:00 to the delivery at 10:30 -06:00 the next day are 26 h 18 min; from the end of the run
    # five minutes less.
    for limit, can in (("26.3", True), ("26.2999", False)):
        story = visit("sealed", policy={"hold_warn_h": limit})
        proposed = story.shipping()
        latest = transit.window(story.case(shipping=proposed), proposed).latest
        assert (latest is not None and latest.text() == "2026-12-01T17:00:00-05:00") is can
        case = story.case(shipping=story.shipping(handed_over=Moment.parse("2026-12-01T17:00:00-05:00")))
        assert (findings(case, "SH-02") == []) is can
