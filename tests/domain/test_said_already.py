"""Whether something was said already, decided without a device, a ledger or a person."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import pytest

from bailee.domain.moments import Moment
from bailee.domain.said_already import (
    SaidBefore,
    Words,
    held_by,
    is_on_its_way,
    is_received,
    said_already,
    waiting,
)

AT = Moment.parse("2026-12-01T09:00:00-05:00")
ROOM = {"sample": "S1", "lot": "L1", "started": "2026-12-01T09:00:00-05:00", "run_s": 300}
GIVEN = {"samples": ["S1", "S2"], "count": 2, "to": "harrow-field", "at": "2026-12-01T09:00:00-05:00"}
TAKEN = {"items": [{"sample": "S1", "condition": ["intact"]}], "count": 1, "at": "2026-12-01T09:01:00-05:00"}


def earlier(
    act: str, data: Mapping[str, Any], seq: int = 1, *, recorded: bool = False, **private: str
) -> SaidBefore:
    """Signed at nine."""
    return SaidBefore(seq, act, data, AT, recorded, private)


def outcome(new: Words, *before: SaidBefore, minutes: float = 0) -> str | None:
    """What is decided so long after nine; `before` are the newest first."""
    found = said_already(new, before, AT.instant + timedelta(minutes=minutes))
    return found and found.outcome


def test_a_time_that_nobody_typed_moves_with_the_clock() -> None:
    """If this fails, a command typed again a minute later is another run of the same cassette."""
    later = {**ROOM, "started": "2026-12-01T09:07:00-05:00"}
    typed = {**ROOM, "started": "2026-12-01T09:03:00-05:00"}
    assert outcome(Words("collected", later), earlier("collected", ROOM), minutes=7) == "waits"
    assert outcome(Words("collected", typed), earlier("collected", ROOM), minutes=7) == "otherwise"


def test_what_happens_once_is_recorded_or_said_otherwise() -> None:
    """If this fails, one cassette is collected twice, and only the laboratory notices."""
    recorded = earlier("collected", ROOM, recorded=True)
    assert outcome(Words("collected", ROOM), recorded) == "recorded"
    assert outcome(Words("collected", ROOM, {"note": "damp"}), recorded) == "otherwise"
    assert outcome(Words("collected", {**ROOM, "sample": "S9"}), recorded) is None


def test_given_again_counts_once_something_came_back() -> None:
    """If this fails, a box is handed over twice, or cannot be handed over a second time at all."""
    given = earlier("relinquished", GIVEN, recorded=True)
    back = earlier("received", TAKEN, 2, recorded=True)
    assert outcome(Words("relinquished", GIVEN), given) == "recorded"
    assert outcome(Words("relinquished", {**GIVEN, "to": "quill-lab"}), given) is None
    assert outcome(Words("relinquished", GIVEN), back, given) is None


@pytest.mark.parametrize(("minutes", "expected"), [(9, "waits"), (10, None)])
def test_what_is_said_often_is_said_of_a_later_time(minutes: int, expected: str | None) -> None:
    """If this fails, nobody can say twice where samples are kept, or a tap too many says it twice."""
    kept = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:00:00-05:00"}
    now = {**kept, "since": f"2026-12-01T09:{minutes:02}:00-05:00"}
    assert outcome(Words("held", now), earlier("held", kept), minutes=minutes) == expected


def test_numbers_that_were_drawn_anew_are_compared_by_how_many_there_are() -> None:
    """If this fails, labels printed again without a network use up a second set of numbers."""
    before = earlier("issued", {"samples": ["S1", "S2"]})
    assert outcome(Words("issued", {"samples": ["S3", "S4"]}), before) == "waits"
    assert outcome(Words("issued", {"samples": ["S3"]}), before) is None


def test_what_the_service_adds_makes_no_difference_and_what_a_person_sets_does() -> None:
    """If this fails, an envelope is sealed twice, or a policy set right after a wrong one is dropped."""
    sealed = {"envelope": "E1", "samples": ["S1"], "seal": "A-1", "policy": "digest one", "findings": []}
    again = {**sealed, "policy": "digest two", "findings": [{"rule": "CU-01", "about": "S1"}]}
    assert outcome(Words("sealed", again), earlier("sealed", sealed)) == "waits"
    wrong = earlier("policy_set", {"policy": {"edition": 1, "hold_warn_h": 24}})
    assert outcome(Words("policy_set", {"policy": {"edition": 1, "hold_warn_h": 48}}), wrong) is None


def test_a_chain_that_was_begun_is_gone_on_with() -> None:
    """If this fails, every try without a network leaves an empty form behind."""
    opened = {"visit": "2026-12-01", "zone": "America/New_York"}
    begun = earlier("opened", opened, client="A. Client")
    same = Words("opened", opened, {"client": "A. Client"}, begins=True)
    assert outcome(same, begun) == "waits"
    assert outcome(Words("opened", opened, {"client": "B. Client"}, begins=True), begun) is None


def test_waiting_statements_are_sent_when_they_cover_all_that_is_meant() -> None:
    """If this fails, a second cassette scanned with the first is never signed, or the first one twice."""
    taken = earlier("received", TAKEN)
    assert waiting("received", ["S1"], lambda _: True, [taken]) == [taken]
    assert waiting("received", ["S1", "S2"], lambda _: True, [taken]) == []
    assert waiting("received", ["S1"], lambda _: False, [taken]) == []


def test_what_the_ledger_told_is_enough_to_refuse() -> None:
    """If this fails, somebody takes what they hold, or an envelope is handed over or opened a second time."""
    assert held_by(
        "me", {"S1": ("me", None), "S2": ("me", "09:00"), "S3": (None, None)}, ["S1", "S2", "S3", "S4"]
    ) == ["S1"]
    assert is_on_its_way({"shipped"})
    assert not is_on_its_way({"received"})
    inside = {"S1": "received", "S2": "missing"}
    assert not is_received(inside, ["S2"])
    assert is_received(inside, ["S1", "S2"])
    assert not is_received({"S1": "shipped"}, ["S1"])
