"""Before the first cassette: the building on arrival, a license, a plan, people told in time.

Hours and counts are common practice, no source, unless a check says otherwise.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.errors import BadStatement
from bailee.presentation.form_view import form_view
from bailee.rules.registry import evaluate
from bailee.rules.verdicts import verdicts
from builders import DAY, INSPECTOR, PREPARED, QUALITY, SECOND_INSPECTOR, Story, findings, visit


@pytest.mark.parametrize(
    ("rule", "member", "hours", "limit", "fires"),
    [
        ("VP-01", "windows_closed_h", "24", "24", False),
        ("VP-01", "windows_closed_h", "23.9", "24", True),
        ("VP-01", "windows_closed_h", "0", "24", True),
        ("VP-01", "windows_closed_h", None, "24", False),
        ("VP-01", "windows_closed_h", "12", "12", False),
        ("VP-02", "purifiers_off_h", "24", "24", False),
        ("VP-02", "purifiers_off_h", "23.9", "24", True),
        ("VP-02", "purifiers_off_h", None, "24", False),
    ],
)
def test_hours_of_preparation_are_compared_with_the_firm_s_limit(
    rule: str, member: str, hours: str | None, limit: str, fires: bool
) -> None:
    """A house aired that morning would be compared with outdoor air it had just let in."""
    opened = {"preparation": PREPARED | {member: hours}}
    story = visit("collected", policy={"preparation_h": limit}, opened=opened)
    found = findings(story.case(), "VP-01", "VP-02", "VP-03", "VP-05")
    assert [(each.rule, each.severity, each.about) for each in found] == [(rule, "warn", story.form)] * fires
    assert all(f"{hours} h" in each.sentence and f"{limit} h" in each.sentence for each in found)


@pytest.mark.parametrize(
    ("mode", "words"),
    [("normal", ""), ("none", ""), ("off", "off"), ("fan_only", "fan only"), ("other", "normal mode")],
)
def test_ventilation_in_an_unusual_mode_is_a_warning(mode: str, words: str) -> None:
    """Samples should show the air people breathe (Health Canada: ventilation in operation, read in an
    excerpt).
    """
    story = visit("collected", opened={"preparation": PREPARED | {"ventilation": mode}})
    found = findings(story.case(), "VP-03")
    assert [(each.severity, each.about) for each in found] == ([("warn", story.form)] if words else [])
    assert all(words in each.sentence for each in found)


@pytest.mark.parametrize("left_out", [None, ...])
def test_preparation_that_was_never_asked_is_a_warning(left_out: Any) -> None:
    """A visit without answers would look like one that was well prepared (ISO/IEC 17025:2017 7.3.3(f))."""
    story = visit("opened", opened={"preparation": left_out})
    (found,) = findings(story.case(), "VP-01", "VP-02", "VP-03", "VP-05")
    assert (found.rule, found.severity, found.about, found.entries) == ("VP-05", "warn", story.form, (1,))


def test_only_visits_in_the_envelope_are_asked_about_at_sealing() -> None:
    """The clerk would be warned about a visit whose samples are not on the table."""
    story = Story()
    story.lot(samples=6)
    story.opened(preparation=None)
    story.collected(0)
    story.opened()
    story.collected(1)
    assert findings(story.case(sealing=story.sealing([story.samples[1]])), "VP-05") == []
    assert len(findings(story.case(sealing=story.sealing()), "VP-05")) == 1


def test_a_correction_answers_the_question() -> None:
    """A warning that cannot be cured by telling the truth is ignored the next time."""
    story = visit("collected", opened={"preparation": None})
    story.corrected(story.state().opened.entry, "preparation", PREPARED, reason="left_out")
    assert findings(story.case(), "VP-05") == []


@pytest.mark.parametrize(
    ("member", "hours", "limit", "words"),
    [
        ("cleaned_h_ago", "24", "24", ""),
        ("cleaned_h_ago", "23.9", "24", "cleaned 23.9 h"),
        ("cleaned_h_ago", "0", "24", "cleaned 0 h"),
        ("cleaned_h_ago", None, "24", ""),
        ("cleaned_h_ago", "47", "48", "cleaned 47 h"),
        ("works_h_ago", "24", "24", ""),
        ("works_h_ago", "2.5", "24", "painted or under construction 2.5 h"),
    ],
)
def test_cleaning_or_works_shortly_before_are_a_warning(
    member: str, hours: str | None, limit: str, words: str
) -> None:
    """A house vacuumed that morning shows the vacuum cleaner and not the house."""
    opened = {"preparation": {**PREPARED, member: hours}}
    for upto in ("opened", "accepted"):
        story = visit(upto, policy={"undisturbed_h": limit}, opened=opened)
        found = findings(story.case(), "VP-04")
        assert [(each.severity, each.about) for each in found] == ([("warn", story.form)] if words else [])
        assert all(words in each.sentence and f"{limit} h" in each.sentence for each in found)


def test_an_answer_left_empty_is_not_printed_as_none() -> None:
    """The custody record would show a house without air cleaners, where the inspector did not know."""
    empty = dict.fromkeys(("windows_closed_h", "purifiers_off_h", "cleaned_h_ago"))
    story = visit("opened", opened={"preparation": {**PREPARED, **empty}})
    assert form_view(story.state(), story.case(), ()).building.startswith(
        "windows closed: no hours entered, air cleaners: no hours entered, ventilation normal"
    )


@pytest.mark.parametrize(
    ("member", "words"),
    [
        ("windows_closed_h", "windows and doors closed"),
        ("purifiers_off_h", "air cleaners off"),
        ("cleaned_h_ago", "cleaning"),
        ("works_h_ago", "painting, demolition or construction"),
    ],
)
def test_hours_that_nobody_stated_stand_under_not_checked(member: str, words: str) -> None:
    """Not known and none look alike, no rule compares them, and "no fault found" would speak for both."""
    hours = dict.fromkeys(("windows_closed_h", "purifiers_off_h", "cleaned_h_ago", "works_h_ago"), "48")
    for answers, count in ((hours, 0), ({**hours, member: None}, 1)):
        case = visit("accepted", opened={"preparation": {**PREPARED, **answers}}).case()
        judged = {each.area: each for each in verdicts(case, evaluate(case), records_state="own log")}
        told = [each for each in judged["media"].not_checked if each.startswith("Preparation: ")]
        assert len(told) == count
        assert all(each.endswith(f"no hours on record for {words} (none, or not known).") for each in told)


HELD = {"jurisdiction": "US-NY", "number": "L-0001", "valid_to": DAY}


@pytest.mark.parametrize(
    ("license", "severity", "words"),
    [
        (HELD, None, ""),  # good until the day of the visit, that day included
        (HELD | {"valid_to": "2026-11-30"}, "block", "1 day before"),  # domain catalog 8, scenario 14
        (HELD | {"number": None}, "block", "US-NY"),
        (HELD | {"valid_to": None}, "warn", "L-0001"),
        (HELD | {"jurisdiction": "US-VT", "number": None}, None, ""),  # none is needed there
        (HELD | {"jurisdiction": "US-VT", "valid_to": None}, None, ""),
        (HELD | {"jurisdiction": "US-VT", "valid_to": "2026-11-30"}, "block", "1 day before"),
        (None, "warn", "jurisdiction"),
    ],
)
def test_a_license_is_judged_by_the_firm_s_table_and_the_day_of_the_visit(
    license: dict[str, Any] | None, severity: str | None, words: str
) -> None:
    """A report signed without the license the law asks for is worth nothing, and the firm is fined."""
    for upto in ("opened", "kept"):
        story = visit(upto, opened={"license": license})
        found = findings(story.case(), "VP-06")
        assert [(each.severity, each.about) for each in found] == (
            [(severity, story.form)] if severity else []
        )
        assert all(words in each.sentence for each in found)


@pytest.mark.parametrize(
    ("license", "severity"),
    [
        (None, None),
        (HELD | {"number": None}, "warn"),
        (HELD, None),
        (HELD | {"valid_to": "2026-11-30"}, "block"),
    ],
)
def test_a_firm_without_a_table_is_asked_only_about_what_it_said(
    license: dict[str, Any] | None, severity: str | None
) -> None:
    """A firm where no license exists would be stopped on every visit."""
    story = Story()
    story.chains["org/harrow-field"] = [
        entry for entry in story.chains["org/harrow-field"] if entry.act != "licensing_set"
    ]
    story.opened(license=license)
    assert [each.severity for each in findings(story.case(), "VP-06")] == ([severity] if severity else [])


def test_an_empty_table_means_that_no_license_is_needed_anywhere() -> None:
    """A firm could not say that its state asks for none."""
    story = Story()
    story.licensing()
    for license in (None, HELD | {"number": None}, HELD | {"valid_to": None}):
        story.opened(license=license)
    assert findings(story.case(), "VP-06") == []


def test_a_lapsed_license_is_a_flag_afterwards_and_excepted_only_by_somebody_else() -> None:
    """Domain catalog 8, scenario 14: records and custody stay clean.

    The fact stays visible, nobody wipes it.
    """
    lapsed = {"opened": {"license": HELD | {"valid_to": "2026-11-30"}}}
    assert [each.severity for each in findings(visit("shipped", **lapsed).case(), "VP-06")] == ["flag"]
    story = visit("kept", **lapsed)
    story.excepted("VP-06", story.form, by=INSPECTOR)
    assert [each.severity for each in findings(story.case(), "VP-06")] == ["block"]
    story.excepted("VP-06", story.form, reason="documented_elsewhere")
    (found,) = findings(story.case(), "VP-06")
    assert (found.severity, QUALITY.name in found.excepted) == ("warn", True)
    loose = visit("kept", policy={"license_block": False}, **lapsed)
    assert [each.severity for each in findings(loose.case(), "VP-06")] == ["warn"]


@pytest.mark.parametrize(("declared", "fires"), [(True, True), (False, False), (None, False)])
def test_a_firm_that_also_clears_up_is_a_warning(declared: bool | None, fires: bool) -> None:
    """Who is paid for the clearing-up decides whether it is needed (Texas Occ. Code 1958, by summary)."""
    for upto in ("opened", "accepted"):
        story = visit(upto, opened={"remediator": declared})
        found = findings(story.case(), "VP-07")
        assert [(each.severity, each.about) for each in found] == [("warn", story.form)] * fires
        assert all("harrow-field" in each.sentence for each in found)


@pytest.mark.parametrize(
    ("training", "words"),
    [
        ({"on": DAY}, ""),
        ({"on": "2026-12-02"}, "first trained on 2026-12-02"),
        ({"on": "2024-12-01", "valid_to": DAY}, ""),
        ({"on": "2024-12-01", "valid_to": "2026-11-30"}, "valid to 2026-11-30"),
        (None, "not on the training list"),
    ],
)
def test_a_sampler_must_have_been_trained_on_that_day(training: dict[str, Any] | None, words: str) -> None:
    """A person who never learned where to put the inlet collects samples that look like any other (NYC DOHMH
    2008, read).
    """
    for upto in ("collected", "accepted"):
        story = visit(upto)
        chain = story.chains["org/harrow-field"]
        story.chains["org/harrow-field"] = [
            entry for entry in chain if entry.act != "trained" or entry.data["kid"] != INSPECTOR.kid
        ]
        if training:
            story.trained(INSPECTOR, **training)
        found = findings(story.case(), "VP-08")
        assert [(each.severity, each.about) for each in found] == ([("warn", story.form)] if words else [])
        assert all(words in each.sentence and INSPECTOR.name in each.sentence for each in found)


def test_a_refresher_takes_the_place_of_a_lapsed_training_and_each_person_is_told_once() -> None:
    """Twenty cassettes of one untrained sampler would make twenty warnings, and a
    refresher change nothing.
    """
    story = Story()
    story.lot(to=None)
    story.trained(INSPECTOR, on="2025-12-01", valid_to="2026-11-30")
    story.opened()
    story.collected(0)
    story.collected(1)
    story.collected(2, by=SECOND_INSPECTOR)
    assert len(findings(story.case(), "VP-08")) == 1
    story.trained(INSPECTOR, on="2026-11-30", valid_to="2027-11-30")
    assert findings(story.case(), "VP-08") == []


def test_a_firm_that_keeps_no_list_is_not_warned_and_the_verdict_says_so() -> None:
    """Nothing is ever good because it was not looked at. Of three lists one line, or nobody reads it."""
    said = "no such list"
    story = visit("accepted")
    assert not any(
        said in line for line in verdicts(story.case(), [], records_state="own log")[2].not_checked
    )
    chain = story.chains["org/harrow-field"]
    story.chains["org/harrow-field"] = [
        entry for entry in chain if entry.act not in ("trained", "equipment_set", "licensing_set")
    ]
    case = story.case()
    assert findings(case, "VP-06", "VP-08", "PV-06") == []
    unchecked = verdicts(case, evaluate(case), records_state="own log")[2].not_checked
    assert [line for line in unchecked if said in line] == [
        "Training, flow meters and where a license is needed: harrow-field has no such list in the ledger."
    ]


@pytest.mark.parametrize(
    ("kit", "spare", "wanted"),
    [
        ({"cassettes": 4, "indoor": 2, "outdoor": 1}, 1, None),
        ({"cassettes": 3, "indoor": 2, "outdoor": 1}, 1, 4),
        ({"cassettes": 3, "indoor": 2}, 1, 4),  # an outdoor control is always planned
        ({"cassettes": 5, "indoor": 2, "outdoor": 1, "blanks": 1}, 1, None),
        ({"cassettes": 4, "indoor": 2, "outdoor": 1, "blanks": 1}, 1, 5),
        ({"cassettes": 3, "indoor": 2, "outdoor": 1}, 0, None),
        (None, 1, None),
    ],
)
def test_a_kit_without_a_spare_is_noted(kit: dict[str, Any] | None, spare: int, wanted: int | None) -> None:
    """A cassette is dropped, and there is none for the outdoor control."""
    for upto in ("opened", "accepted"):
        story = visit(upto, policy={"spare_cassettes": spare}, opened={"kit": kit})
        found = findings(story.case(), "VP-09")
        assert [(each.severity, each.about) for each in found] == ([("note", story.form)] if wanted else [])
        assert all(f"at least {wanted}" in each.sentence for each in found)


@pytest.mark.parametrize(
    ("opened", "fires"),
    [
        ({"question_given": False}, True),
        ({"question_given": True}, False),
        ({"question_given": False, "plan": "SOP-7 rev. 2"}, False),
        ({"question_given": False, "disclosed": {"question": "musty odor?"}}, False),
        ({"question_given": False, "disclosed": {"site": "12 Invented Lane"}}, True),
    ],
)
def test_samples_that_answer_no_question_are_a_warning(opened: dict[str, Any], fires: bool) -> None:
    """Numbers come back, and nobody knows what they were taken for (NYC DOHMH 2008, read)."""
    for upto in ("opened", "accepted"):
        story = visit(upto, opened=opened)
        found = findings(story.case(), "VP-10")
        assert [(each.severity, each.about) for each in found] == [("warn", story.form)] * fires


@pytest.mark.parametrize(
    ("growth", "reason", "fires"),
    [(True, None, True), (True, "clearance", False), (False, None, False), (None, None, False)],
)
def test_growth_in_plain_sight_needs_a_reason_to_sample_air(
    growth: bool | None, reason: str | None, fires: bool
) -> None:
    """The client pays for a number that tells him what he sees (OSHA, NIOSH and EPA
    statements, by summary).
    """
    for upto in ("opened", "accepted"):
        story = visit(upto, opened={"visible_growth": growth, "growth_reason": reason})
        found = findings(story.case(), "VP-11")
        assert [(each.severity, each.about) for each in found] == [("note", story.form)] * fires


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ("2026-11-30T09:12:00-05:00", ""),  # 24 h before the first run at 09:12
        ("2026-11-30T08:12:00-06:00", ""),
        ("2026-11-30T09:12:01-05:00", "before the first run"),
        ("2026-12-01T10:12:00-05:00", "after the first run"),
        (None, ""),
    ],
)
def test_a_late_notice_is_noted(sent: str | None, words: str) -> None:
    """People are told in the evening to close windows for a day, and the visit is next morning."""
    for upto in ("collected", "accepted"):
        story = visit(upto, opened={"notice_sent": sent})
        found = findings(story.case(), "VP-12")
        assert [(each.severity, each.about) for each in found] == ([("note", story.form)] if words else [])
        assert all(words in each.sentence and "at least 24 h" in each.sentence for each in found)


def test_before_any_run_the_notice_is_compared_with_the_opening() -> None:
    """The coordinator would learn of it only when the first cassette has run."""
    assert (
        findings(visit("opened", opened={"notice_sent": "2026-11-30T08:30:00-05:00"}).case(), "VP-12") == []
    )
    assert (
        len(findings(visit("opened", opened={"notice_sent": "2026-11-30T08:30:01-05:00"}).case(), "VP-12"))
        == 1
    )


@pytest.mark.parametrize(
    ("answers", "rule", "severity", "words"),
    [
        ({"fresh_air": "none"}, "", "", ""),
        ({"fresh_air": "off", "fresh_air_off_h": "24"}, "", "", ""),
        (
            {"fresh_air": "off", "fresh_air_off_h": "23.9"},
            "VP-14",
            "warn",
            "off for 23.9 h; the policy asks for at least 24 h",
        ),
        ({"fresh_air": "off"}, "VP-05", "note", "For how long"),
        ({"fresh_air": "running"}, "VP-14", "warn", "was running"),
        ({"fresh_air": None}, "VP-05", "note", "is not on record"),
    ],
)
def test_fresh_air_drawn_in_before_the_visit_is_told(
    answers: dict[str, Any], rule: str, severity: str, words: str
) -> None:
    """An exchanger that ran all night brought the outdoor air in, and the closed windows say that it was kept
    out. 24 h: common practice, no source.
    """
    opened = {"preparation": PREPARED | answers}
    found = findings(visit("collected", opened=opened).case(), "VP-05", "VP-14")
    assert [(each.rule, each.severity) for each in found] == [(rule, severity)] * bool(rule)
    assert all(words in each.sentence for each in found)
    without = visit("collected", opened=opened, policy={"fresh_air_off": False})
    assert findings(without.case(), "VP-05", "VP-14") == []


def test_hours_off_of_what_was_running_are_no_answer() -> None:
    """Which of the two is true nobody could tell afterwards."""
    with pytest.raises(BadStatement, match="fresh_air_off_h"):
        visit("opened", opened={"preparation": PREPARED | {"fresh_air": "running", "fresh_air_off_h": "3"}})
