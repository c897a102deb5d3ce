"""Rows of the chain of custody, as a paper form has them (layout: common practice, no source)."""

import pytest

from bailee.presentation import hand_overs
from bailee.presentation.hand_overs import HandOver
from bailee.presentation.signature_words import Signature, entry_numbers
from bailee.presentation.words import FROM_THE_AIR, NO_CARRIER_SIGNATURE, NOT_SIGNED, PENDING
from builders import CLERK, DAY, INSPECTOR, LAB, visit


def rows(story) -> list[HandOver]:
    """The rows of the current form."""
    case = story.case()
    return hand_overs.hand_overs(case.forms[story.form], case)


def name(side: Signature | str) -> str:
    """Who signed, or the words in place of a signature."""
    return side.name if isinstance(side, Signature) else side


def test_samples_that_move_together_are_one_row() -> None:
    """Twelve rows for twelve cassettes handed over at once hide the one that went another way."""
    found = rows(visit("docked"))
    assert [row.step for row in found] == ["collected", "transferred", "shipped", "received"]
    assert {len(row.samples) for row in found} == {3}
    assert [name(row.given) for row in found] == [
        FROM_THE_AIR,
        "Inspector One",
        "Clerk One",
        NO_CARRIER_SIGNATURE,
    ]
    assert name(found[1].taken) == "Clerk One"
    assert name(found[3].taken) == "Custodian One"
    assert found[1].gap is not None
    assert found[1].gap.total_seconds() == 360


def test_a_sample_that_stays_behind_has_rows_of_its_own() -> None:
    """A cassette left in the van would otherwise be shown as handed over with the rest."""
    story = visit("held")
    story.relinquished(story.samples[:2])
    story.received(story.samples[:2])
    found = rows(story)
    assert [row.samples for row in found if row.step == "transferred"] == [tuple(story.samples[:2])]


def test_a_cassette_missing_at_the_dock_left_with_the_others() -> None:
    """That it is missing says nothing about who held it before."""
    story = visit("shipped")
    story.docked(story.samples[:2])
    found = rows(story)
    assert [len(row.samples) for row in found] == [3, 3, 3, 2]
    opened = "to 2026-12-02 10:40 (-06:00)"
    assert found[2].kept == (f"sealed, from {DAY} 15:30 (-05:00) {opened} (entry 12)",), (
        "no seal kept it after"
    )


def test_nothing_is_secured_before_it_was_collected_or_after_it_was_handed_on() -> None:
    """A record that says so is read as one that was made up."""
    story = visit("collected")
    story.held(since=f"{DAY}T09:00:00-05:00", said=f"{DAY}T10:30:00-05:00")
    (collected,) = rows(story)
    assert [said.partition(" (entry")[0] for said in collected.kept] == [
        "locked, vehicle, from the collection of each"
    ]
    late = visit("sealed")
    late.shipped(handed_over=f"{DAY}T13:50:00-05:00")
    (clerk,) = (row for row in rows(late) if name(row.taken) == "Clerk One")
    assert any(said.startswith("sealed") for said in clerk.kept), "or nothing was asked"
    assert all(f"to {DAY} 13:50 (-05:00)" in said or f"to {DAY} 14:00" in said for said in clerk.kept)


def test_an_unsigned_side_says_why() -> None:
    """An empty box reads as an oversight of the printer."""
    story = visit("held")
    story.received(story.samples[:])
    assert name(rows(story)[1].given) == NOT_SIGNED
    pending = rows(visit("relinquished"))[-1]
    assert pending.step == "pending"
    assert name(pending.taken) == PENDING
    assert pending.purpose == "shipping"


def test_a_hand_over_at_the_dock_without_a_carrier() -> None:
    """Samples carried to the laboratory by the inspector have two signatures, and no carrier
    to hide behind.
    """
    story = visit("sealed")
    story.relinquished(by=CLERK, to=LAB, to_kid=None, at=f"{DAY}T15:00:00-05:00")
    story.docked(at=f"{DAY}T15:10:00-05:00")
    last = rows(story)[-1]
    assert last.step == "received"
    assert name(last.given) == "Clerk One"


def test_how_it_was_kept_is_told_with_place_and_entry() -> None:
    """A van said to be locked means nothing without where it stood, and from when to when."""
    story = visit("collected")
    story.held(disclosed={"place": "blue van"})
    story.relinquished()
    story.received()
    told = f"locked, vehicle (blue van), from {DAY} 09:50 (-05:00) to {DAY} 11:30 (-05:00) (entry 7)"
    assert rows(story)[0].kept == (told,)


def test_a_corrected_time_orders_the_rows() -> None:
    """A hand-over typed for the wrong hour must stand where it belongs once it is corrected."""
    story = visit("held")
    given = story.relinquished()
    taken = story.received()
    story.corrected(given, "at", f"{DAY}T12:30:00-05:00", by=INSPECTOR)
    story.corrected(taken, "at", f"{DAY}T12:31:00-05:00", by=CLERK)
    assert rows(story)[1].at.text() == f"{DAY}T12:31:00-05:00"


def test_entry_numbers_are_drawn_together() -> None:
    """A list of thirteen numbers is not read."""
    assert entry_numbers([4]) == "entry 4"
    assert entry_numbers([2, 3, 4, 7]) == "entries 2-4, 7"
    assert entry_numbers([3, 1, 1]) == "entries 1, 3"


def test_a_hand_over_that_nobody_counted_says_so() -> None:
    """A row without a word about the count is read as counted."""
    story = visit("held")
    story.relinquished(count=None)
    assert rows(story)[-1].counted == "not counted by the relinquishing person"
    story.received(count=None)
    assert [row.counted for row in rows(story)] == ["", "not counted by either"]
    case = story.case()
    assert not [each for each in case.forms[story.form].oddities if each.code == "count"]


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        ({"high_c": "8"}, "locked, at most 8 "),
        ({"low_c": "2"}, "locked, at least 2 "),
        ({}, "locked. A store "),
    ],
)
def test_one_limit_of_a_store_is_told_with_its_side(limits: dict[str, str], said: str) -> None:
    """8 degrees alone would be read as how warm the store was, not as what it never exceeds."""
    story = visit()
    story.stored(**limits)
    assert name(rows(story)[-1].taken).startswith(f"Store FR-1, {said}")


def test_a_store_has_rows_on_whose_side_nobody_signs() -> None:
    """An empty box beside the refrigerator reads as a person who forgot to sign."""
    story = visit()
    story.stored(low_c="2", high_c="8", keep_until="2027-03-01")
    story.withdrawn()
    put, taken = rows(story)[-2:]
    warmth = "2 \N{DEGREE SIGN}C (36 \N{DEGREE SIGN}F) to 8 \N{DEGREE SIGN}C (46 \N{DEGREE SIGN}F)"
    silent = "A store signs nothing; its lock is the record of this stretch."
    assert (put.words, name(put.given), name(put.taken), put.purpose) == (
        "put into a store",
        "Custodian One",
        f"Store FR-1, locked, {warmth}, keep until 2027-03-01. {silent}",
        "storage",
    )
    assert (taken.words, name(taken.given), name(taken.taken), taken.purpose) == (
        "taken out of a store",
        f"Store FR-1. {silent}",
        "Analyst One",
        "analysis",
    )
    assert put.kept == (
        "locked, FR-1, from 2026-12-02 11:00 (-06:00) to 2026-12-02 13:00 (-06:00) (entry 15)",
    )
