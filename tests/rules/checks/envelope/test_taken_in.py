"""An envelope that the laboratory signs for and does not open: its seal goes on covering what is inside.

That a container may be signed for unopened and inspected later: a national laboratory's guide to receiving
(agg.pnl.gov). Delivered Friday 18:15 and opened Monday 09:00 are 62 h 45 min: arithmetic.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.presentation.hand_overs import hand_overs, holders
from bailee.rules import qualified
from bailee.rules.registry import Finding, evaluate
from bailee.rules.verdicts import verdicts
from builders import ANALYST, CLERK, CUSTODIAN, LAB, LAB_QUALITY, Story, findings, visit

FRIDAY: str = "2026-12-04T18:15:00-06:00"
MONDAY: str = "2026-12-07T09:00:00-06:00"
BROKEN: dict[str, Any] = {"seal_state": "broken"}
OTHER: dict[str, Any] = {"seal": "X-9999"}


def over_the_weekend(taken_in: dict[str, Any], dock: dict[str, Any], **opened: Any) -> Story:
    """Delivered and signed for on Friday evening, opened on Monday morning."""
    story = visit("shipped")
    story.taken_in(**({"delivered": FRIDAY, "at": FRIDAY} | taken_in))
    story.docked(dock={"delivered": ...} | dock, at=MONDAY, **opened)
    return story


def told(story: Story, *rules: str) -> list[Finding]:
    """What some rules say of the story."""
    return findings(story.case(), *rules)


def custody(story: Story) -> str:
    """The verdict on custody."""
    case = story.case()
    found = verdicts(case, evaluate(case), records_state="complete")
    return next(each.state for each in found if each.area == "custody")


def test_signed_for_unopened_and_opened_whole_leaves_no_gap() -> None:
    """A careful laboratory would be told that nobody shows where the envelope was over the weekend."""
    story = over_the_weekend({}, {})
    assert told(story, "RC-01", "RC-02", "RC-03", "RC-06", "RC-08", "CU-01", "CU-02", "CU-03", "CU-05") == []
    assert custody(story) != "broken"
    links = story.state().samples[story.samples[0]].links
    assert [(each.org, each.since.text()) for each in links[-2:]] == [(LAB, FRIDAY), (LAB, MONDAY)]
    assert {(each.secured, each.until and each.until.text()) for each in links[-2].keeping} == {
        ("sealed", MONDAY),
        ("locked", None),
    }


def test_without_it_the_weekend_is_told() -> None:
    """That the act took the finding away, and not something else, is shown by the same visit without it."""
    story = visit("shipped")
    story.docked(dock={"delivered": FRIDAY}, at=MONDAY)
    (found,) = told(story, "RC-08")
    assert "62 h 45 min later" in found.sentence


def test_what_is_taken_in_is_received_though_nobody_opened_it() -> None:
    """The clerk would be told to search for an envelope that lies in the laboratory's cabinet."""
    story = visit("shipped")
    late = "2026-12-07T12:00:00-06:00"
    assert [each.rule for each in findings(story.case(at=late), "SH-10")] == ["SH-10"]
    story.taken_in()
    assert findings(story.case(at=late), "SH-10", "SH-09", "RC-03", "RC-06", "OC-01", "OC-11") == []
    sample = story.state().samples[story.samples[0]]
    assert (sample.status, sample.condition) == ("taken_in", ("intact",))
    assert sample.holder is not None
    assert sample.holder.kid == CUSTODIAN.kid


def test_a_long_wait_before_it_was_taken_in_counts() -> None:
    """It lay outside the door over the weekend, and signing for it on Monday would cover that up."""
    story = visit("shipped")
    story.taken_in(delivered=FRIDAY, at=MONDAY)
    (found,) = told(story, "RC-08")
    assert (found.severity, "62 h 45 min later" in found.sentence) == ("warn", True)
    assert "The seal was intact" in found.sentence
    story.docked(dock={"delivered": FRIDAY}, at="2026-12-07T09:30:00-06:00")
    assert len(told(story, "RC-08")) == 1


def test_a_seal_broken_in_the_laboratory_breaks_custody_from_then_on() -> None:
    """Somebody was inside over the weekend, and the record would call the whole journey unsafe."""
    story = over_the_weekend({}, BROKEN)
    assert [each.rule for each in told(story, "RC-01", "RC-02", "RC-08")] == ["RC-01"]
    (gap,) = told(story, "CU-05")
    assert "(62 h 45 min)" in gap.sentence
    assert "its seal was intact when it was taken in" in gap.sentence
    assert custody(story) == "broken"


@pytest.mark.parametrize(
    ("seen", "rule", "why"),
    [
        (BROKEN, "RC-01", "its seal was broken on opening"),
        (OTHER, "RC-02", "another seal than that on record was on it"),
    ],
)
def test_a_seal_that_was_not_whole_when_taken_in_is_said_once(
    seen: dict[str, Any], rule: str, why: str
) -> None:
    """Who only signed for the box would not be believed, or the same seal would be two faults on Monday."""
    story = visit("shipped")
    story.taken_in(**seen)
    (found,) = told(story, "RC-01", "RC-02")
    assert (found.rule, found.severity, "taken in" in found.sentence) == (rule, "flag", True)
    story.docked(dock=seen, at=MONDAY)
    (found,) = told(story, "RC-01", "RC-02")
    assert (found.rule, "taken in" in found.sentence) == (rule, True)
    (gap,) = told(story, "CU-05")
    assert why in gap.sentence
    number = story.samples[0]
    sample = story.state().samples[number]
    assert found.sentence in qualified.wording(story.state(), sample, evaluate(story.case()))


def test_the_sender_is_called_about_a_seal_before_anybody_opens_it() -> None:
    """The envelope waits over the weekend, and the working day in which the firm is to be told runs out."""
    whole = visit("shipped")
    whole.taken_in()
    assert told(whole, "RC-10") == []
    story = visit("shipped")
    story.taken_in(delivered=FRIDAY, at=FRIDAY, **BROKEN)
    (early,) = told(story, "RC-10")
    assert "Discrepancies on receipt of envelope" in early.sentence
    assert "2026-12-04 18:15" in early.sentence
    story.docked(dock=BROKEN, at=MONDAY)
    (later,) = told(story, "RC-10")
    assert "2026-12-04 18:15" in later.sentence
    opened = over_the_weekend({}, BROKEN)
    (found,) = told(opened, "RC-10")
    assert "2026-12-07 09:00" in found.sentence


def test_a_broken_seal_ends_its_cover_when_it_was_seen() -> None:
    """The chain of custody would print "sealed" for a weekend on which the seal was known to be broken."""
    story = over_the_weekend(BROKEN, BROKEN)
    links = story.state().samples[story.samples[0]].links
    assert [each.secured for each in links[-2].keeping] == ["locked"]
    sealed = [each for link in links for each in link.keeping if each.secured == "sealed"]
    assert {each.until and each.until.text() for each in sealed} == {FRIDAY}


def test_a_seal_that_nobody_looked_at_says_nothing_before_the_opening() -> None:
    """The night porter signed for a box; that would accuse the carrier, or vouch for the seal."""
    unseen = {"seal": None, "seal_state": "not_looked_at", "package": ["not_looked_at"]}
    story = over_the_weekend(unseen, {})
    assert told(story, "RC-01", "RC-02", "RC-08", "CU-05") == []
    broken = over_the_weekend(unseen, BROKEN)
    (gap,) = told(broken, "CU-05")
    assert "its seal was broken on opening" in gap.sentence
    case = story.case()
    told_of = verdicts(case, evaluate(case), records_state="complete")
    assert any(line.startswith("Package of envelope") for each in told_of for line in each.not_checked)


def test_a_cassette_missing_at_the_opening_has_no_holder_from_then_on() -> None:
    """The custodian who took the closed box in would hold a cassette that was not inside, for ever."""
    story = visit("shipped")
    story.taken_in(delivered=FRIDAY, at=FRIDAY)
    story.docked([story.samples[0], story.samples[2]], dock={"total": 2}, at=MONDAY)
    lost = story.state().samples[story.samples[1]]
    assert lost.status == "missing"
    assert [each.until and each.until.text() for each in lost.links[-1:]] == [MONDAY]
    assert [each.about for each in told(story, "RC-06")] == [lost.number]


def test_told_late_it_says_the_same() -> None:
    """The porter's phone was offline, and the order of sending would decide who held the envelope."""
    early = over_the_weekend({}, {})
    late = visit("shipped")
    late.docked(dock={"delivered": ...}, at=MONDAY)
    late.taken_in(delivered=FRIDAY, at=FRIDAY)
    for story in (early, late):
        links = story.state().samples[story.samples[0]].links
        assert [(each.since.text(), each.until and each.until.text()) for each in links[-2:]] == [
            (FRIDAY, MONDAY),
            (MONDAY, None),
        ]
        assert links[-3].by_carrier
        assert links[-3].until is not None
        assert links[-3].until.text() == FRIDAY
        assert told(story, "RC-08", "CU-05", "CU-01") == []
        assert story.state().samples[story.samples[0]].status == "received"


def test_shipped_told_after_taken_in_keeps_the_carrier_before_the_laboratory() -> None:
    """The clerk's phone was offline: the carrier would have got the envelope from the laboratory."""
    story = visit("sealed")
    story.taken_in()
    assert [each.rule for each in told(story, "CU-01")] == ["CU-01"]
    story.shipped(said="2026-12-02T12:00:00-05:00")
    links = story.state().samples[story.samples[0]].links
    assert [each.by_carrier for each in links[-2:]] == [True, False]
    assert links[-2].until == links[-1].since
    assert story.state().samples[story.samples[0]].status == "taken_in"
    assert told(story, "CU-01", "RC-09") == []


def test_a_second_person_does_not_take_it_in_again() -> None:
    """Two people would hold one closed box, and nobody would be asked which."""
    story = visit("shipped")
    story.taken_in()
    story.taken_in(by=LAB_QUALITY, at="2026-12-02T12:00:00-06:00")
    (found,) = told(story, "CU-02")
    assert (found.severity, "the first, of" in found.sentence) == ("warn", True)
    holder = story.state().samples[story.samples[0]].holder
    assert holder is not None
    assert holder.kid == CUSTODIAN.kid


def test_only_the_laboratory_it_goes_to_takes_it_in() -> None:
    """The firm's own clerk would sign that the laboratory has it."""
    story = visit("shipped")
    story.taken_in(by=CLERK)
    (found,) = told(story, "RC-13")
    assert f"took envelope {grouped(story.envelope)} in" in found.sentence
    assert [each.rule for each in told(over_the_weekend({"by": ANALYST}, {}), "RC-13")] == []


def test_the_record_says_that_the_seal_stood_until_another_person_opened_it() -> None:
    """The words "Not signed" would stand where nobody changed places and a lock was opened."""
    story = over_the_weekend({}, {}, by=LAB_QUALITY)
    rows = {row.step: row for row in hand_overs(story.state(), story.case())}
    assert rows["taken_in"].given == words.NO_CARRIER_SIGNATURE
    assert rows["received"].given == words.UNTIL_OPENED
    assert rows["taken_in"].words == "taken in unopened"
    assert any(each.startswith("Secured: locked, laboratory") for each in rows["taken_in"].secured)
    links = list(holders(story.case(), story.state().samples[story.samples[0]]))
    assert links[-2].received.endswith(f"unopened, seal {words.number(story.seal)}, intact")
    assert (links[-2].given or "").startswith("held unopened until Quality Two")


def test_times_that_cannot_be_are_said() -> None:
    """Signed for before it left, or opened before it came: a clock is wrong, and nobody would look."""
    before = visit("shipped")
    before.taken_in(at="2026-12-01T09:00:00-06:00", delivered=None)
    assert ["before it was shipped" in each.sentence for each in told(before, "RC-09")] == [True]
    unbrought = visit("shipped")
    unbrought.taken_in(delivered="2026-12-02T11:30:00-06:00")
    assert ["before it was delivered on" in each.sentence for each in told(unbrought, "RC-09")] == [True]
    swapped = visit("shipped")
    swapped.docked()
    swapped.taken_in(at="2026-12-02T12:00:00-06:00")
    assert any("before it was taken in unopened" in each.sentence for each in told(swapped, "RC-09"))
