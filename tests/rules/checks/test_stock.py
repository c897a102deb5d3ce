"""The lot on its shelf. Limits are common practice, no source, unless a check says otherwise."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.rules.case import Elsewhere
from builders import INSPECTOR, MEDIA_KEEPER, Story, findings, visit

ISSUED = "2026-11-02T10:00:00-05:00"


@pytest.mark.parametrize(
    ("expiry", "grace", "words"),
    [
        ("2026-11-30", 0, "1 day after"),
        ("2026-11", 0, "1 day after"),
        ("2026-12-01", 0, ""),  # the last good day is the visit
        ("2026-11-30", 1, ""),
        ("2026-11-29", 1, "2 days after"),
        (None, 0, ""),
    ],
)
def test_a_lot_that_ends_before_the_visit_is_a_warning_at_issue(
    expiry: str | None, grace: int, words: str
) -> None:
    """The inspector finds out on site that every cassette in the kit is out of date."""
    story = Story()
    story.policy(expiry_grace_days=grace)
    story.lot(expiry=expiry)
    found = findings(story.case(), "ML-04")
    assert [(each.severity, each.about) for each in found] == ([("warn", story.lots[0])] if words else [])
    for each in found:
        assert words in each.sentence
        assert "3 cassettes" in each.sentence
        assert "2026-12-01" in each.sentence
        assert grouped(story.samples[0]) in each.sentence


def test_once_used_or_voided_the_cassette_itself_speaks_and_not_its_issue() -> None:
    """One fault would be told twice, and a kit that was put right still be asked about."""
    story = visit("shipped", lot={"expiry": "2026-11-30"})
    assert findings(story.case(), "ML-04") == []
    assert {each.severity for each in findings(story.case(), "ML-02")} == {"flag"}
    kept = Story()
    kept.lot(samples=3, expiry="2026-11-30")
    kept.opened()
    kept.voided(0, reason="expired")
    used = Elsewhere(accounted=frozenset({kept.samples[1]}))
    (left,) = findings(kept.case(elsewhere=used), "ML-04")
    assert "1 cassette of" in left.sentence
    assert grouped(kept.samples[2]) in left.sentence
    (all_but_one,) = findings(kept.case(elsewhere=None), "ML-04")
    assert "2 cassettes of" in all_but_one.sentence


def test_a_number_issued_without_a_day_is_for_no_visit() -> None:
    """Spares would be called too old for a visit that nobody planned."""
    story = Story()
    story.lot(issue=False, expiry="2026-11-30")
    story.on_lot("issued", samples=[story.number("sample")], to=INSPECTOR.kid, said=ISSUED)
    assert findings(story.case(), "ML-04") == []


@pytest.mark.parametrize(
    ("remaining", "voided", "sum_"),
    [(47, 0, 50), (46, 1, 50), (46, 0, 49), (48, 0, 51), (47, 1, 51)],
)
def test_a_lot_must_add_up_exactly(remaining: int, voided: int, sum_: int) -> None:
    """Cassettes without a number are handed out, and a recall would not find them."""
    for upto in ("collected", "accepted"):
        story = visit(upto)
        story.on_lot("counted", remaining=remaining, voided=voided, said="2026-12-04T09:00:00-05:00")
        found = findings(story.case(), "ML-09")
        assert [(each.severity, each.about) for each in found] == [("warn", story.lots[0])] * (sum_ != 50)
        for each in found:
            for figure in (
                "50 cassettes",
                "3 issued",
                f"{remaining} on the shelf",
                f"{voided} voided",
                f"add up to {sum_}",
            ):
                assert figure in each.sentence


def test_what_is_issued_after_the_count_is_not_held_against_it() -> None:
    """The shelf was right when it was counted; the next issue would make it wrong for ever."""
    story = Story()
    story.lot(samples=3)
    story.on_lot("counted", remaining=47, said="2026-12-01T08:00:00-05:00")
    story.on_lot("issued", samples=[story.number("sample")], said="2026-12-02T08:00:00-05:00")
    assert findings(story.case(), "ML-09") == []
    story.on_lot("counted", remaining=47, said="2026-12-03T08:00:00-05:00")
    assert len(findings(story.case(), "ML-09")) == 1


def test_a_lot_nobody_counted_is_not_asked_about() -> None:
    """A firm that never counts would be warned on every form."""
    assert findings(visit("accepted").case(), "ML-09") == []


@pytest.mark.parametrize(("old", "words"), [("2025-11", "2025-11"), (None, "entered as none")])
def test_a_corrected_expiry_is_noted_with_both_values(old: str | None, words: str) -> None:
    """An expiry moved after the fact would look as if it had always stood there (49 CFR 40.208 by analogy,
    read).
    """
    for upto in ("collected", "accepted"):
        story = visit(upto, lot={"expiry": old})
        assert findings(story.case(), "ML-10") == []
        story.on_lot(
            "expiry_corrected", old=old, new="2027-11", reason="wrong_field", said="2026-12-04T09:00:00-05:00"
        )
        (found,) = findings(story.case(), "ML-10")
        assert (found.severity, found.about) == ("note", story.lots[0])
        for each in (words, "2027-11", MEDIA_KEEPER.name, "wrong field"):
            assert each in found.sentence
        assert findings(story.case(), "ML-02", "ML-03") == []


@pytest.mark.parametrize(
    ("read", "words"),
    [
        ({"coldest_c": "4", "warmest_c": "30"}, ""),
        ({"coldest_c": "3.9"}, "3.9 °C (39 °F)"),
        ({"warmest_c": "30.1"}, "30.1 °C (86 °F)"),
        ({"coldest_c": "-18", "warmest_c": "41"}, "-18 °C (0 °F) and 41 °C (106 °F)"),
        ({}, ""),
    ],
)
def test_storage_out_of_range_is_noted(read: dict[str, Any], words: str) -> None:
    """Cassettes that lay in a hot van look like any other."""
    for upto in ("collected", "accepted"):
        story = visit(upto, lot=read)
        found = findings(story.case(), "ML-12")
        assert [(each.severity, each.about) for each in found] == ([("note", story.lots[0])] if words else [])
        assert all(
            words in each.sentence and "limits 4 °C (39 °F) to 30 °C (86 °F)" in each.sentence
            for each in found
        )


def test_the_worst_temperature_of_the_whole_time_counts() -> None:
    """A cool winter would hide the summer before it."""
    story = Story()
    story.lot(warmest_c="35")
    story.on_lot("counted", remaining=47, warmest_c="22", coldest_c="2", said=ISSUED)
    (found,) = findings(story.case(), "ML-12")
    assert "2 °C (36 °F) and 35 °C (95 °F)" in found.sentence


def test_a_lot_alone_is_judged_by_its_owner_s_limits() -> None:
    """The media keeper would be told about limits that are not his firm's."""
    story = Story()
    story.policy(media_storage_max_c="25")
    story.lot(warmest_c="28")
    assert len(findings(story.case(), "ML-12")) == 1
    assert findings(replace(story.case(), organizations={}), "ML-12") == []
