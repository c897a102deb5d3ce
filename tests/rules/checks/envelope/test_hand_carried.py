"""Envelopes that a person carries: who it is, when they expect to be at the dock, and what stands for them.

That giver and receiver sign: county-filed sampling plans that follow EPA; that each possessor gets a copy:
EPA guidance of November 1992, citing SW-846 chapter 1. The hours are common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain import statements
from bailee.domain.acts.form import Courier
from bailee.domain.moments import Moment
from bailee.errors import BadStatement
from bailee.presentation.hand_overs import hand_overs, holders
from bailee.rules.case import Case
from builders import (
    CLERK,
    CUSTODIAN,
    DAY,
    FIRM,
    LAB,
    QUALITY,
    SECOND_INSPECTOR,
    Story,
    findings,
    visit,
)

OF_THE_WAY = ("SH-01", "SH-02", "SH-03", "SH-04", "SH-05", "SH-12", "SH-16")
ANN: dict[str, Any] = {"relation": "employee", "named": True, "slip": "R-7"}


def asked(expected: str | None, **changes: Any) -> Case:
    """The clerk is about to give the sealed envelope to somebody at 15:30, who has a dock open 08 to 17."""
    story = visit("sealed")
    said = {"by_hand": True, "tracking": None, "service_days": 0, "courier": Courier.read(ANN)}
    said |= {"expected_delivery": Moment.parse(expected) if expected else None, **changes}
    return story.case(shipping=story.shipping(**said))


def carried(**changes: Any) -> Story:
    """The same, done."""
    by_hand = {"by_hand": True, "tracking": None, "service_days": 0, "courier": dict(ANN)}
    at = {"expected_delivery": f"{DAY}T16:40:00-06:00", "expected_receipt": f"{DAY}T16:40:00-06:00"}
    return visit("shipped", shipped=by_hand | at | changes)


@pytest.mark.parametrize(
    ("expected", "rules", "words"),
    [
        (f"{DAY}T16:40:00-06:00", [], ""),
        (f"{DAY}T17:01:00-06:00", ["SH-01"], "expected receipt Wed 2026-12-02 08:00"),
        (f"{DAY}T18:10:00-06:00", ["SH-01"], "expected receipt Wed 2026-12-02 08:00"),
        (None, ["SH-16"], "was not stated"),
    ],
)
def test_the_window_is_the_travelers_own_time(expected: str | None, rules: list[str], words: str) -> None:
    """The clerk reads that what is driven over is delivered at midnight to a shut dock, or by whose word it
    is there nobody knows.
    """
    found = findings(asked(expected), *OF_THE_WAY)
    assert [each.rule for each in found] == rules
    assert all(words in each.sentence and "00:00" not in each.sentence for each in found)


def test_no_carriers_calendar_and_no_cut_off_is_asked() -> None:
    """Driven over on Thanksgiving evening, the van of a carrier that rests would be waited for."""
    late = Moment.parse("2026-11-26T19:00:00-05:00")
    found = findings(asked("2026-11-27T09:00:00-06:00", handed_over=late), *OF_THE_WAY)
    assert found == []


@pytest.mark.parametrize(
    ("courier", "count"),
    [
        (None, 1),
        ({"relation": "hired"}, 1),
        ({"relation": "hired", "slip": "R-7"}, 1),
        ({"relation": "hired", "named": True}, 0),
        ({"relation": "lab_driver", "org": LAB, "kid": CUSTODIAN.kid}, 0),
    ],
)
def test_who_carries_it_is_named(courier: dict[str, Any] | None, count: int) -> None:
    """A stranger drives off with the envelope, and in court nobody can say who that was."""
    read = Courier.read(courier) if courier else None
    before = findings(asked(f"{DAY}T16:40:00-06:00", courier=read), "SH-15")
    after = findings(carried(courier=courier).case(), "SH-15")
    for found in (before, after):
        assert [each.severity for each in found] == ["warn"] * count
        assert all("does not name who carries it" in each.sentence for each in found)


def test_a_name_can_be_added_afterwards() -> None:
    """A clerk in a hurry would stand accused for ever of what a note has cured."""
    story = carried(courier={"relation": "hired"})
    (hit,) = findings(story.case(), "SH-15")
    assert {each["field"] for each in hit.acts} == {"courier.relation", "courier.named", "courier.slip"}
    shipped = story.state().envelopes[story.envelope].shipped
    assert shipped
    story.corrected(shipped.entry, "courier", {"relation": "hired", "named": True}, by=CLERK)
    assert findings(story.case(), "SH-15") == []


def test_a_carrier_has_no_courier() -> None:
    """The record would name a person and a carrier for one stretch, and nobody knows who had it."""
    body = {"carrier": "acorn-freight", "service": "next-day", "service_days": 1}
    body |= {"handed_over": f"{DAY}T15:30:00-05:00"}
    story = visit("sealed")
    with pytest.raises(BadStatement, match="by_hand"):
        statements.parse(
            f"form/{story.form}", "shipped", body | {"envelope": story.envelope, "courier": dict(ANN)}
        )


def test_what_does_not_arrive_is_missed_from_the_time_expected() -> None:
    """Nobody would look for the driver, or the tracking number of a car would be asked for."""
    story = carried()
    at = "2026-12-03T12:00:00-06:00"
    (hit,) = findings(story.case(at=at), "SH-10")
    assert "expected receipt at quill-lab 2026-12-01 16:40 (-06:00) (hand-carried)" in hit.sentence
    assert "Call the person who carries it" in hit.remedy
    unsaid = carried(expected_delivery=None, expected_receipt=None)
    assert findings(unsaid.case(at=at), "SH-10") == []


@pytest.mark.parametrize(
    ("disclosed", "private", "who"),
    [
        ({"courier_name": "Ann Porter"}, 1, "Ann Porter, employee"),
        ({}, 1, "name withheld, employee"),
    ],
)
def test_the_row_says_who_carried_it_and_by_which_slip(
    disclosed: dict[str, str], private: int, who: str
) -> None:
    """The record says "by hand, by hand" where a person stood, and that a carrier signs nothing."""
    story = carried(disclosed=disclosed, private=private)
    story.docked()
    case, form = story.case(), story.state()
    rows = {row.step: row for row in hand_overs(form, case)}
    assert rows["shipped"].taken == (
        f"Hand-carried by {who}; received it on 2026-12-01 15:30 (-05:00), slip R-7 signed in ink. Seal and"
        " receipt slip are the record of this stretch."
    )
    assert rows["received"].given == (
        "No signature of the person who carried it on record; seal only for this stretch"
    )
    assert "carrier" not in str(getattr(rows["shipped"].given, "meaning", ""))
    links = list(holders(case, form.samples[story.samples[0]]))
    told = [each.name for each in links] + [each.received for each in links]
    assert f"{who}, hand-carried" in told
    assert not any("carrier" in each or "by hand" in each for each in told)


def test_nobody_named_and_no_slip_is_said() -> None:
    """Silence on the paper would read as if everything had been in order."""
    story = carried(courier=None)
    row = next(each for each in hand_overs(story.state(), story.case()) if each.step == "shipped")
    assert "Hand-carried by name not recorded; received it on" in str(row.taken)
    assert "no receipt slip on record" in str(row.taken)


def test_whoever_has_a_key_signs_for_the_sealed_envelope() -> None:
    """Two signatures would be thought less of than a slip, or the seal's stretch be cut in two."""
    story = visit("sealed")
    story.relinquished(
        story.samples, by=CLERK, to=FIRM, to_kid=SECOND_INSPECTOR.kid, purpose="transport",
        expected=f"{DAY}T16:40:00-06:00", at=f"{DAY}T15:30:00-05:00",
    )  # fmt: skip
    story.received(story.samples, by=SECOND_INSPECTOR, purpose="transport", at=f"{DAY}T15:31:00-05:00")
    story.relinquished(
        story.samples, by=SECOND_INSPECTOR, to=LAB, to_kid=CUSTODIAN.kid, at=f"{DAY}T16:38:00-06:00"
    )
    story.docked(dock={"delivered": ...}, at=f"{DAY}T16:40:00-06:00")
    gaps = ("CU-01", "CU-02", "CU-03", "CU-04", "CU-05", "SH-06", "SH-09", "SH-15", "SH-16", "RC-09")
    assert findings(story.case(), *gaps) == []
    links = story.state().samples[story.samples[0]].links
    assert [each.kid for each in links[-3:]] == [CLERK.kid, SECOND_INSPECTOR.kid, CUSTODIAN.kid]


def test_when_it_is_expected_stands_on_the_record_until_it_is_taken() -> None:
    """The office would not know when to begin to worry."""
    story = visit("held")
    story.relinquished(to=LAB, to_kid=None, expected=f"{DAY}T16:40:00-06:00")
    row = next(each for each in hand_overs(story.state(), story.case()) if each.step == "pending")
    assert row.taken == "Not yet received; expected 2026-12-01 16:40 (-06:00)"


def test_whoever_carries_it_is_not_called_the_carrier() -> None:
    """A finding would send the clerk to a company that never saw the envelope."""
    story = carried()
    case = story.case()
    holder = story.state().samples[story.samples[0]].holder
    assert holder
    assert case.person(holder.org, holder.kid) == "the person who carries it"
    story = visit("sealed")
    story.shipped(by_hand=True, tracking=None, courier=dict(ANN), by=QUALITY)
    assert not any("the carrier" in each.sentence for each in findings(story.case(), "CU-02", "SE-07"))
