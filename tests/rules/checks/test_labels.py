"""Cassettes and their numbers."""

from __future__ import annotations

import importlib
from typing import Any

import pytest

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import BadNumber
from bailee.rules.case import Elsewhere
from bailee.rules.registry import REFUSALS
from builders import CLERK, INSPECTOR, QUALITY, SECOND_INSPECTOR, Story, findings, visit


def test_one_number_collected_twice_stops_the_envelope_and_is_never_excepted() -> None:
    """Two cassettes under one number: every result of it may belong to the other room."""
    story = visit("collected")
    again = story.collected(0, by=SECOND_INSPECTOR, room="kitchen")
    story.excepted("CL-01", story.samples[0])
    (found,) = findings(story.case(), "CL-01")
    assert (found.severity, found.about, found.excepted) == ("block", story.samples[0], "")
    assert found.entries == (2, again.n)
    for words in (grouped(story.samples[0]), "2 times", INSPECTOR.name, SECOND_INSPECTOR.name):
        assert words in found.sentence


def test_a_doubled_number_found_after_shipping_is_a_flag() -> None:
    """The late upload of a second phone must be shown, not lost."""
    story = visit("shipped")
    story.collected(0, by=SECOND_INSPECTOR, after=None)
    (found,) = findings(story.case(), "CL-01")
    assert (found.severity, found.about) == ("flag", story.samples[0])


def test_a_number_is_unique_across_forms_known_and_unknown() -> None:
    """The same label on two sites is only seen by somebody who looks at both."""
    story = visit("collected")
    first = story.form
    story.opened()
    story.collected(0, by=SECOND_INSPECTOR)
    assert len(findings(story.case(), "CL-01")) == 2
    story.voided(0)  # entered on the wrong form, and taken back there
    assert findings(story.case(), "CL-01") == []
    beyond = story.number("form")
    claimed = Elsewhere(claims={story.samples[1]: (beyond, first)})
    (found,) = findings(story.case(elsewhere=claimed), "CL-01")
    assert found.about == story.samples[1]
    assert grouped(beyond) in found.sentence
    assert findings(story.case(elsewhere=None), "CL-01") == []


def test_a_corrected_number_settles_the_conflict() -> None:
    """People who found out which glass is which must be able to say so."""
    story = visit("collected")
    wrong = story.collected(0, by=SECOND_INSPECTOR)
    story.corrected(wrong, "sample", story.number("sample"), reason="misread")
    assert findings(story.case(), "CL-01") == []


@pytest.mark.parametrize("counted", [None, 2, 3, 4])
def test_a_count_that_differs_is_not_said_a_second_time(counted: int | None) -> None:
    """SE-02 says that more were counted than scanned.

    A clerk who reads one fault under two rules looks for two cassettes.
    """
    story = visit("kept")
    asked = story.case(sealing=story.sealing(total=counted))
    assert findings(asked, "CL-02") == []
    assert len(findings(asked, "SE-02")) == (counted != 3)


@pytest.mark.parametrize(
    ("upto", "act", "severity"), [("relinquished", "received", "block"), ("shipped", "docked", "flag")]
)
def test_a_label_missed_at_a_receipt_is_shown_before_and_after(upto: Any, act: str, severity: str) -> None:
    """The receiver saw that the label was gone, and nobody downstream would learn it."""
    story = visit(upto)
    items = [{**item, "condition": ["label_missing"]} for item in story.items(story.samples[:1])]
    items += story.items(story.samples[1:])
    entry = getattr(story, act)(items=items)
    (found,) = findings(story.case(), "CL-02")
    assert (found.severity, found.about, found.entries) == (severity, story.samples[0], (entry.n,))
    assert grouped(story.samples[0]) in found.sentence


def test_a_wrong_check_character_is_refused_where_numbers_are_read() -> None:
    """A mistyped number would be recorded and name another cassette (ISO/IEC 7064 MOD 37-2)."""
    module, _, name = REFUSALS["CL-05"].by.rpartition(".")
    decide = getattr(importlib.import_module(module), name)
    good = visit("opened").samples[0]
    assert decide(good) == good
    wrong = good[:-1] + ("2" if good[-1] != "2" else "3")
    with pytest.raises(BadNumber) as raised:
        decide(wrong)
    assert raised.value.code == "wrong-check-character"


def test_every_refusal_names_a_function_that_exists() -> None:
    """The rule table would send a reader to code that is not there."""
    assert REFUSALS
    for refusal in REFUSALS.values():
        module, _, name = refusal.by.rpartition(".")
        assert callable(getattr(importlib.import_module(module), name)), refusal


def test_a_cassette_collected_but_never_issued_is_a_warning() -> None:
    """A cassette from somebody's glove box has no history (common practice, no source)."""
    story = visit("collected")
    stray = story.number("sample")
    story.collected(stray)
    (found,) = findings(story.case(), "CL-11")
    assert (found.severity, found.about) == ("warn", stray)
    assert grouped(stray) in found.sentence
    assert "it was issued from" not in found.sentence


def test_a_cassette_issued_from_another_lot_says_which() -> None:
    """The wrong lot was scanned, so the wrong expiry was checked."""
    story = Story()
    first, second = story.lot(), story.lot()
    story.opened()
    story.collected(0, lot=second)
    (found,) = findings(story.case(), "CL-11")
    assert f"it was issued from lot {grouped(first)}" in found.sentence


@pytest.mark.parametrize(
    ("to", "by", "fires"),
    [(INSPECTOR, INSPECTOR, False), (INSPECTOR, SECOND_INSPECTOR, True), (None, SECOND_INSPECTOR, False)],
)
def test_issued_to_one_and_collected_by_another_is_a_warning(to: Any, by: Any, fires: bool) -> None:
    """A link is missing between the shelf and the site (United States v. Rawlins, read in a summary)."""
    story = Story()
    story.lot(to=to)
    story.opened(by=by)
    entry = story.collected(0, by=by)
    story.collected(story.number("sample"), lot=story.number("lot"))
    found = findings(story.case(), "CL-12")
    assert [(each.severity, each.about, each.entries) for each in found] == [
        ("warn", story.samples[0], (entry.n,))
    ] * fires
    assert all(INSPECTOR.name in each.sentence and SECOND_INSPECTOR.name in each.sentence for each in found)


@pytest.mark.parametrize(
    ("asked", "sealing", "severity"),
    [
        ("2026-12-01T12:00:00-05:00", None, None),  # still in the field
        ("2026-12-01T23:59:00-05:00", None, None),
        ("2026-12-02T00:00:00-05:00", None, "block"),  # the visit day is over
        ("2026-12-01T14:00:00-05:00", "2026-12-01T14:00:00-05:00", "warn"),
        ("2026-12-02T09:00:00-05:00", "2026-12-02T09:00:00-05:00", "block"),
        ("2026-12-02T04:59:00+00:00", "2026-12-02T04:59:00+00:00", "warn"),  # 23:59 on site
    ],
)
def test_issued_cassettes_must_be_accounted_for_when_the_visit_closes(
    asked: str, sealing: str | None, severity: str | None
) -> None:
    """The cassette left on the bookshelf is missed only when somebody counts (common practice, no source)."""
    story = visit("kept", lot={"samples": 5})
    about_to = None
    if sealing:
        about_to = story.sealing(at=Moment.parse(sealing))
    found = findings(story.case(asked, sealing=about_to), "CL-13")
    assert [(each.severity, each.about) for each in found] == ([(severity, story.form)] if severity else [])
    for each in found:
        assert "2 of the cassettes issued for 2026-12-01 have no collection" in each.sentence
        assert grouped(story.samples[3]) in each.sentence
        assert grouped(story.samples[4]) in each.sentence


def test_a_missing_cassette_is_found_voided_excepted_or_flagged() -> None:
    """A clerk who cannot clear the block by telling what happened will invent something."""
    late = "2026-12-03T09:00:00-05:00"
    story = visit("kept", lot={"samples": 5})
    story.voided(3, reason="lost")
    (found,) = findings(story.case(late), "CL-13")
    assert "1 of the cassettes issued for 2026-12-01 has no collection" in found.sentence
    elsewhere = Elsewhere(accounted=frozenset({story.samples[4]}))
    assert findings(story.case(late, elsewhere=elsewhere), "CL-13") == []
    assert findings(story.case(late, elsewhere=None), "CL-13") == []
    story.excepted("CL-13", story.form)
    (found,) = findings(story.case(late), "CL-13")
    assert (found.severity, QUALITY.name in found.excepted) == ("warn", True)
    assert [each.severity for each in findings(visit("shipped", lot={"samples": 5}).case(late), "CL-13")] == [
        "flag"
    ]


def test_a_number_that_was_only_named_is_not_accounted_for() -> None:
    """Giving away a cassette that nobody collected says where the paper is, not where the cassette is."""
    story = visit("collected", lot={"samples": 4})
    story.relinquished(story.samples)
    (found,) = findings(story.case("2026-12-03T09:00:00-05:00"), "CL-13")
    assert grouped(story.samples[3]) in found.sentence


def test_spares_and_other_people_s_kits_are_not_asked_for() -> None:
    """Every visit takes a spare; a rule that asks for it each time is switched off."""
    story = visit("kept")
    spare, others, tomorrow = (story.number("sample") for _ in range(3))
    at = "2026-11-30T17:00:00-05:00"
    story.on_lot("issued", samples=[spare], to=INSPECTOR.kid, said=at)
    story.on_lot("issued", samples=[others], to=CLERK.kid, visit="2026-12-01", said=at)
    story.on_lot("issued", samples=[tomorrow], to=INSPECTOR.kid, visit="2026-12-02", said=at)
    assert findings(story.case("2026-12-03T09:00:00-05:00"), "CL-13") == []


def test_voiding_an_unused_cassette_is_nothing_odd() -> None:
    """Telling that a cassette was dropped before its run would itself be flagged."""
    story = visit("collected", lot={"samples": 4})
    story.voided(3)
    assert story.state().oddities == []
    assert story.samples[3] not in [sample.number for sample in story.state().live]
