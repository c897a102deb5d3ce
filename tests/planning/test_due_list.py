"""The chase list: on both sides of every due time, and the same text while nothing changes.

Hours and days: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection

import pytest

from bailee.domain import lots
from bailee.planning.due_list import Due, chase
from builders import CLERK, DAY, FIRM, LAB, Story, visit


def chased(story: Story, at: str, used: Collection[str] | None = None) -> list[Due]:
    """The list at some time; cassettes are accounted for unless told otherwise."""
    found = [lots.fold(story.chains[f"lot/{number}"]) for number in story.lots]
    return chase(story.case(at=at), found, story.samples if used is None else used)


def only(story: Story, at: str, used: Collection[str] | None = None) -> Due:
    """The one thing on the list."""
    (each,) = chased(story, at, used)
    return each


@pytest.mark.parametrize(
    ("at", "overdue"), [(f"{DAY}T11:47:00-05:00", False), (f"{DAY}T11:47:01-05:00", True)]
)
def test_collected_and_not_secured(at: str, overdue: bool) -> None:
    """CU-20: three cassettes lie in a vehicle over lunch, and no list in the office knows of them."""
    story = visit("collected")
    found = only(story, at)
    assert (found.kind, found.overdue, found.concerns) == ("not secured", overdue, (FIRM,))
    assert (found.about, found.due) == (story.samples[0], f"{DAY}T11:47:00-05:00")
    assert "are with Inspector One since 2026-12-01 09:47 (-05:00)" in found.sentence


@pytest.mark.parametrize(
    ("at", "overdue"), [("2026-12-02T09:47:00-05:00", False), ("2026-12-02T09:47:01-05:00", True)]
)
def test_secured_and_not_sealed(at: str, overdue: bool) -> None:
    """Locked in the vehicle they are safe, and forgotten there all the same."""
    found = only(visit("held"), at)
    assert (found.kind, found.overdue, found.concerns) == ("not sealed", overdue, (FIRM,))
    assert found.due == "2026-12-02T09:47:00-05:00"
    assert [each["act"] for each in found.acts] == ["sealed", "voided"]


@pytest.mark.parametrize(
    ("at", "overdue"), [("2026-12-02T14:00:00-05:00", False), ("2026-12-02T14:00:01-05:00", True)]
)
def test_sealed_and_not_shipped(at: str, overdue: bool) -> None:
    """SH-09: the envelope behind the printer is the firm's to move, from the moment it is sealed."""
    found = only(visit("sealed"), at)
    assert (found.kind, found.overdue, found.concerns) == ("not shipped", overdue, (FIRM,))
    assert found.due == "2026-12-02T14:00:00-05:00"


@pytest.mark.parametrize(
    ("at", "overdue"), [("2026-12-02T14:30:00-06:00", False), ("2026-12-02T14:30:01-06:00", True)]
)
def test_expected_and_not_received(at: str, overdue: bool) -> None:
    """SH-10: both ends of the journey see it, with the number to ask the carrier by."""
    found = only(visit("shipped"), at)
    assert (found.kind, found.overdue, found.concerns) == ("not received", overdue, (FIRM, LAB))
    assert found.due == "2026-12-02T10:30:00-06:00"
    assert "TRACK-0001" in found.sentence


@pytest.mark.parametrize(
    ("at", "overdue"), [(f"{DAY}T13:00:00-05:00", False), (f"{DAY}T13:00:01-05:00", True)]
)
def test_relinquished_to_somebody_who_was_to_have_it_by_now(at: str, overdue: bool) -> None:
    """A courier with a key drives off with three cassettes; when nobody has them an hour later, no list says
    so. Without a time that was stated it is due when anything is to be secured.
    """
    story = visit("held")
    story.relinquished(expected=f"{DAY}T13:00:00-05:00")
    found = only(story, at)
    assert (found.kind, found.overdue, found.concerns) == ("not received", overdue, (FIRM,))
    assert (found.about, found.due) == (story.samples[0], f"{DAY}T13:00:00-05:00")
    assert "expected there on 2026-12-01 13:00 (-05:00); no receiving entry is on record" in found.sentence
    given = visit("relinquished")
    (waits,) = chased(given, at)
    assert (waits.kind, waits.about, waits.due) == ("not taken", given.samples[0], f"{DAY}T13:30:00-05:00")
    assert waits.to == (FIRM, CLERK.kid)
    story.received()
    assert not {"not received", "not taken"} & {each.kind for each in chased(story, at)}


@pytest.mark.parametrize(
    ("at", "overdue"), [("2026-12-03T17:00:00-06:00", False), ("2026-12-03T17:00:01-06:00", True)]
)
def test_taken_in_and_not_opened(at: str, overdue: bool) -> None:
    """Signed for and put away: the client waits for results, and no list has the envelope any more.

    One working day: common practice, no source.
    """
    story = visit("shipped")
    story.taken_in()
    found = only(story, at)
    assert (found.kind, found.overdue, found.concerns) == ("not opened", overdue, (FIRM, LAB))
    assert (found.about, found.due) == (story.envelope, "2026-12-03T17:00:00-06:00")
    assert "taken in at quill-lab on 2026-12-02 10:32 (-06:00)" in found.sentence
    assert [each["act"] for each in found.acts] == ["received", "held"]
    story.docked(at="2026-12-02T15:00:00-06:00")
    assert chased(story, at) == []


@pytest.mark.parametrize(
    ("at", "overdue"), [("2026-12-03T17:00:00-06:00", False), ("2026-12-03T17:00:01-06:00", True)]
)
def test_a_difference_nobody_called_about(at: str, overdue: bool) -> None:
    """RC-10: the laboratory is asked to call; the firm sees that it has not."""
    story = visit("docked", docked={"dock": {"seal_state": "broken"}})
    found = only(story, at)
    assert (found.kind, found.overdue, found.concerns) == ("not called", overdue, (FIRM, LAB))
    assert "RC-01" in found.sentence
    story.on_hold(called="2026-12-02T11:00:00-06:00")
    assert chased(story, at) == []


@pytest.mark.parametrize(
    ("at", "overdue"), [("2026-12-03T17:00:00-06:00", False), ("2026-12-03T17:00:01-06:00", True)]
)
def test_on_hold_and_nobody_called(at: str, overdue: bool) -> None:
    """Whatever the reason: a sample on hold without a call waits for ever.

    The same working day as for a difference.
    """
    story = visit("docked")
    story.on_hold()
    found = only(story, at)
    assert (found.kind, found.overdue) == ("not called", overdue)
    story.accepted(at="2026-12-03T18:00:00-06:00")
    assert chased(story, "2026-12-04T09:00:00-06:00") == []


@pytest.mark.parametrize(
    ("expiry", "listed", "overdue"),
    [
        ("2026-12-31", True, False),
        ("2027-01-01", False, False),
        ("2026-12-01", True, False),
        ("2026-11-30", True, True),
    ],
)
def test_a_lot_near_its_expiry(expiry: str, listed: bool, overdue: bool) -> None:
    """30 days before its last good day a lot is to be used first.

    After it, 47 cassettes are money thrown away.
    """
    story = visit("opened", lot={"expiry": expiry})
    found = chased(story, f"{DAY}T12:00:00-05:00")
    kind = "expired" if overdue else "expiring"
    assert [(each.kind, each.overdue) for each in found] == [(kind, overdue)] * listed


def test_a_lot_that_is_out_of_date_is_counted_out_and_not_used_first() -> None:
    """The list told the media keeper to use up cassettes that every laboratory turns away."""
    story = visit("opened", lot={"expiry": "2026-11-30"})
    found = only(story, f"{DAY}T12:00:00-05:00")
    assert found.remedy == "Remove it from the shelf and record the count."
    left = story.case().lots[story.lots[0]].left
    assert found.acts == ({"act": "counted", "lot": story.lots[0], "remaining": 0, "voided": left},)


def test_an_empty_box_does_not_expire() -> None:
    """Nobody orders anew because of an empty box on the shelf."""
    story = visit("opened", lot={"expiry": "2026-12-05", "count": 3})
    assert chased(story, f"{DAY}T12:00:00-05:00") == []
    counted = visit("opened", lot={"expiry": "2026-12-05"})
    counted.on_lot("counted", remaining=0, voided=47, said=f"{DAY}T09:00:00-05:00")
    assert chased(counted, f"{DAY}T12:00:00-05:00") == []
    issued = visit("opened", lot={"expiry": "2026-12-05"})
    issued.on_lot("counted", remaining=1, voided=46, said=f"{DAY}T09:00:00-05:00")
    issued.on_lot(
        "issued", samples=[issued.number("sample")], visit="2026-12-03", said=f"{DAY}T10:00:00-05:00"
    )
    assert chased(issued, f"{DAY}T12:00:00-05:00") == []


@pytest.mark.parametrize(("at", "count"), [(f"{DAY}T23:59:59-05:00", 0), ("2026-12-02T00:00:00-05:00", 1)])
def test_a_kit_that_is_not_accounted_for(at: str, count: int) -> None:
    """CL-13: the day of the visit is over on the office's clock, and three cassettes are neither here nor
    there.
    """
    story = visit("opened")
    found = chased(story, at, used=())
    assert [(each.kind, each.about, each.overdue) for each in found] == [
        ("not accounted for", story.lots[0], True)
    ] * count
    assert chased(story, at, used=story.samples) == []


def test_what_is_settled_is_not_on_the_list() -> None:
    """A list that names what is done is not read to its end."""
    assert chased(visit("accepted"), "2027-06-01T12:00:00-05:00", used=visit("accepted").samples) == []


def test_the_list_is_the_same_text_until_something_changes() -> None:
    """A scheduler that polls must not be told every minute that there is news."""
    story = visit("shipped")
    early, late = (chased(story, f"2026-12-02T{clock}:00-06:00") for clock in ("11:00", "14:00"))
    assert early == late


def test_what_is_overdue_comes_first() -> None:
    """Whoever has ten minutes looks at the top."""
    story = visit("sealed", lot={"expiry": "2026-12-20"})
    found = chased(story, "2026-12-03T12:00:00-05:00")
    assert [(each.kind, each.overdue) for each in found] == [("not shipped", True), ("expiring", False)]
    assert all(each.remedy.endswith(".") for each in found)
