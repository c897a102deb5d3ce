"""What the dock found, against what was sealed."""

from __future__ import annotations

import importlib
from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.errors import BadStatement
from bailee.presentation import rule_book
from bailee.rules.registry import REFUSALS, Finding
from builders import CUSTODIAN, Story, findings, visit


def found(story: Story, rule: str) -> list[Finding]:
    """What one rule says of the story."""
    return findings(story.case(), rule)


@pytest.mark.parametrize(
    ("state", "words"),
    [("broken", "broken at opening"), ("missing", "missing at opening"), ("void_showing", "VOID showing")],
)
def test_a_seal_that_is_not_whole_is_flagged(state: str, words: str) -> None:
    """The dock notices it, opens the box all the same, and nobody hears of it until the dispute."""
    story = visit("docked", docked={"dock": {"seal_state": state}})
    (one,) = found(story, "RC-01")
    assert (one.severity, one.about) == ("flag", story.envelope)
    assert words in one.sentence
    assert found(visit("docked"), "RC-01") == []


@pytest.mark.parametrize(
    ("read", "count"), [("same", 0), ("spaced", 0), ("OTHER-77", 1), ("smudged ???", 1), (None, 1)]
)
def test_the_seal_number_read_must_be_the_one_recorded(read: str | None, count: int) -> None:
    """A whole seal with another number is the neatest way to open an envelope."""
    seal = visit("opened").seal
    shown = {"same": seal, "spaced": f" {grouped(seal).lower()} "}.get(read or "", read)
    story = visit("docked", docked={"dock": {"seal": shown}})
    hits = found(story, "RC-02")
    assert [each.severity for each in hits] == ["flag"] * count
    for each in hits:
        assert story.seal in each.sentence
        assert ("on receipt not read" if read is None else str(read)) in each.sentence


def test_a_missing_seal_has_no_number_to_differ() -> None:
    """One fault, one finding: the dock calls about a missing seal, not about its number too."""
    story = visit("docked", docked={"dock": {"seal": None, "seal_state": "missing"}})
    assert found(story, "RC-02") == []
    assert len(found(story, "RC-01")) == 1


CALLED = {"reasons": ["seal"], "called": "2026-12-02T11:20:00-06:00"}


@pytest.mark.parametrize(
    ("held", "decision", "is_done"),
    [
        (slice(None), CALLED, True),
        (slice(2), CALLED, False),
        (slice(None), {"reasons": ["seal"]}, False),
        (slice(None), CALLED | {"called": "2026-12-02T09:00:00-06:00"}, False),
    ],
    ids=["all, and called", "not all", "no call", "called before the opening"],
)
def test_what_is_on_hold_is_not_to_be_put_on_hold_again(
    held: slice, decision: dict[str, Any], is_done: bool
) -> None:
    """The dock signs a second hold and calls a second time, because the screen and the paper still ask for
    it.
    """
    story = visit("docked", docked={"dock": {"seal": "OTHER-77", "seal_state": "broken"}})
    story.on_hold(story.samples[held], **decision)
    for rule, left in (("RC-01", "agree on"), ("RC-02", "agree on"), ("CU-05", "with the result")):
        (one,) = found(story, rule)
        assert left in one.remedy
        assert ("hold" not in one.remedy) is is_done
        assert [each["act"] for each in one.acts] == ([] if is_done else ["on_hold"])


def test_sealing_again_at_the_dock_never_hides_the_old_seal() -> None:
    """Scenario 3: the dock closes the box for the shelf, and the broken seal of the journey must stay what it
    was.
    """
    story = visit("docked", docked={"dock": {"seal": "OTHER-77"}})
    before = found(story, "RC-02")
    new = story.number("seal")
    story.sealed(story.samples, by=CUSTODIAN, seal=new, at="2026-12-02T11:30:00-06:00")
    assert found(story, "RC-02") == before
    assert new not in before[0].sentence


def test_fewer_cassettes_than_stated_are_named() -> None:
    """Scenario 10: a count alone sends people searching every room; a number sends them to one kit."""
    story = visit("shipped")
    lost = story.samples[1]
    story.docked([story.samples[0], story.samples[2]], dock={"total": 2})
    (one,) = found(story, "RC-03")
    assert (one.severity, one.about) == ("flag", story.envelope)
    assert "manifest 3" in one.sentence
    assert "counted on receipt 2" in one.sentence
    assert grouped(lost) in one.sentence
    (missing,) = found(story, "RC-06")
    assert (missing.severity, missing.about) == ("flag", lost)


def test_a_cassette_found_later_leaves_the_first_count_as_a_warning() -> None:
    """It lay loose in the packaging: found, but not under the seal list as counted, and both are true."""
    story = visit("shipped")
    story.docked([story.samples[0], story.samples[2]], dock={"total": 2})
    story.docked([story.samples[1]], dock={"total": 1}, at="2026-12-02T15:00:00-06:00")
    (one,) = found(story, "RC-03")
    assert one.severity == "warn"
    assert f"Found later: {grouped(story.samples[1])}" in one.sentence
    assert found(story, "RC-06") == []
    assert [sample.status for sample in story.state().live] == ["received"] * 3


def test_a_lost_cassette_declared_void_stays_flagged_with_its_end() -> None:
    """Closing the search must not erase that a cassette was lost."""
    story = visit("shipped")
    story.docked(story.samples[:2], dock={"total": 2})
    void = story.voided(2, reason="lost", by=CUSTODIAN, said="2026-12-03T09:00:00-06:00")
    (one,) = found(story, "RC-06")
    assert one.severity == "flag"
    assert f"voided (entry {void.n})" in one.sentence


@pytest.mark.parametrize("total", [2, 4])
def test_a_total_that_differs_is_flagged_even_if_all_names_are_there(total: int) -> None:
    """One cassette too many may be somebody else's sample."""
    story = visit("docked", docked={"dock": {"total": total}})
    assert f"counted on receipt {total}" in found(story, "RC-03")[0].sentence
    assert found(visit("docked"), "RC-03") == []


def test_a_count_that_differs_from_the_names_given_is_flagged() -> None:
    """Three scanned and two counted by hand: one was scanned twice, or one was overlooked."""
    story = visit("docked", docked={"count": 2})
    assert "2 counted, 3 scanned" in found(story, "RC-03")[0].sentence


def test_a_serial_that_is_not_the_bound_one_is_flagged_for_both_swapped_cassettes() -> None:
    """Scenario 2: labels right, glass wrong; the kitchen's air is reported for the bedroom."""
    story = visit("shipped")
    items = story.items(story.samples)
    items[0]["serial"], items[1]["serial"] = items[1]["serial"], items[0]["serial"]
    story.docked(items=items)
    hits = found(story, "RC-04")
    assert {each.about for each in hits} == set(story.samples[:2])
    assert {each.severity for each in hits} == {"flag"}
    assert all("G-000001" in each.sentence and "G-000002" in each.sentence for each in hits)


@pytest.mark.parametrize("side", ["collected", "received"])
def test_a_serial_known_on_one_side_only_proves_nothing(side: str) -> None:
    """A dock that does not read serials must not make every sample a suspect."""
    story = visit("shipped", first={"serial": None} if side == "received" else {})
    items = story.items(story.samples)
    items[0]["serial"] = "G-999999" if side == "received" else None
    story.docked(items=items)
    assert found(story, "RC-04") == []


def test_a_cassette_that_is_not_on_the_list_is_named() -> None:
    """It belongs to an envelope that will come one short."""
    story = visit("shipped")
    story.docked(dock={"extra": ["S-UNKNOWN-1"]})
    (extra,) = found(story, "RC-04")
    assert (extra.about, "S-UNKNOWN-1" in extra.sentence) == (story.envelope, True)
    story = visit("kept")
    story.sealed(story.samples[:2], total=2)
    story.shipped()
    story.docked(story.samples, dock={"total": 2})
    (listed,) = found(story, "RC-04")
    assert listed.about == story.samples[2]
    assert "is not on its manifest" in listed.sentence


def test_no_custody_record_in_the_box() -> None:
    """The form that travels in another envelope is the classic fault."""
    story = visit("docked", docked={"dock": {"record_enclosed": False}})
    assert "No custody record was enclosed in" in found(story, "RC-05")[0].sentence
    assert found(visit("docked"), "RC-05") == []


def test_an_envelope_the_ledger_never_saw_closed() -> None:
    """A box from nowhere may hold anything; the samples are held until somebody says who packed it."""
    story = visit("kept")
    story.docked(story.samples, dock={"total": 3})
    (one,) = found(story, "RC-05")
    assert (one.severity, one.about) == ("flag", story.envelope)
    assert "no sealing entry" in one.sentence


@pytest.mark.parametrize(
    ("condition", "severity"),
    [
        (["intact"], None),
        (["wet"], "warn"),
        (["label_unreadable"], "warn"),
        (["cracked"], "flag"),
        (["cover_off", "wet"], "flag"),
        (["opened"], "flag"),
        (["label_missing"], "flag"),
    ],
)
def test_condition_on_receipt(condition: list[str], severity: str | None) -> None:
    """A cracked cassette looks like any other once the slide is stained.

    Grades by code: common practice, no source.
    """
    story = visit("shipped")
    items: list[dict[str, Any]] = story.items(story.samples)
    items[1]["condition"] = condition
    story.docked(items=items)
    hits = found(story, "RC-07")
    assert [each.severity for each in hits] == ([severity] if severity else [])
    assert [each.about for each in hits] == ([story.samples[1]] if severity else [])


def test_a_cassette_cracked_at_the_first_hand_over_is_stopped_before_it_ships() -> None:
    """Broken in the van: a new sample can still be taken today."""
    story = visit("relinquished")
    items = story.items(story.samples)
    items[0]["condition"] = ["cracked"]
    story.received(items=items)
    assert [each.severity for each in found(story, "RC-07")] == ["block"]


@pytest.mark.parametrize(("scanned", "severity"), [("14:30:00", None), ("14:30:01", "warn")])
def test_a_scan_long_after_delivery(scanned: str, severity: str | None) -> None:
    """The box stood in the post room over lunch, or over the weekend. 4 h: common practice, no source."""
    story = visit("shipped")
    story.docked(at=f"2026-12-02T{scanned}-06:00")
    assert [each.severity for each in found(story, "RC-08")] == ([severity] if severity else [])


def test_a_weekend_at_the_dock_is_covered_only_by_a_whole_seal() -> None:
    """Scenario 11: delivered Friday 18:15, scanned Monday 09:00.

    No entry shows how it was secured unless the seal was whole.
    """
    story = visit("shipped")
    dock = {"delivered": "2026-12-04T18:15:00-06:00"}
    story.docked(at="2026-12-07T09:00:00-06:00", dock=dock)
    (covered,) = found(story, "RC-08")
    assert covered.severity == "warn"
    assert "62 h 45 min" in covered.sentence
    assert "secures that time" in covered.sentence
    story = visit("shipped")
    story.docked(at="2026-12-07T09:00:00-06:00", dock=dock | {"seal_state": "broken"})
    (bare,) = found(story, "RC-08")
    assert bare.severity == "flag"
    assert "No entry shows how it was secured" in bare.sentence


@pytest.mark.parametrize("condition", [[], None, ...])
def test_a_condition_that_is_not_stated_is_refused(condition: Any) -> None:
    """RC-12: received OK by default is how damage disappears (ISO/IEC 17025:2017 7.8.2.1)."""
    story = visit("shipped")
    item = {"sample": story.samples[0], "condition": condition}
    items = [{name: value for name, value in item.items() if value is not ...}]
    with pytest.raises(BadStatement) as refused:
        story.docked(items=items)
    assert refused.value.facts["errors"][0]["at"] == "/data/items/0/condition"


def test_the_refusals_name_functions_that_exist() -> None:
    """A rule table that points at nothing documents nothing."""
    for rule in ("RC-12", "SI-01"):
        module, _, name = REFUSALS[rule].by.rpartition(".")
        assert callable(getattr(importlib.import_module(module), name))


def test_the_title_of_a_missing_record_says_all_that_the_rule_finds() -> None:
    """A dock that ticked "no record enclosed" is told that a sealing entry is missing, and it is not."""
    told = rule_book.book()["RC-05"].sentence
    assert "custody record" in told
    assert "sealing entry" in told
