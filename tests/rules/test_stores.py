"""The stores of the laboratory: what is out overnight, taken from where it was not, disposed of too early.

That a sample is signed out of storage and its return noted: a laboratory handbook for water samples; that
test items are kept and disposed of by a rule: ISO/IEC 17025:2017 7.4.1. One night: common practice, no
source. Tuesday is 2026-12-08; the builders' envelope was opened on 2 December.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain import statements
from bailee.domain.numbers import grouped
from bailee.errors import BadStatement
from bailee.rules.registry import Finding, evaluate
from builders import ANALYST, CLERK, CUSTODIAN, LAB_QUALITY, Story, findings, visit

TUESDAY, WEDNESDAY = "2026-12-08", "2026-12-09"
STORES = ("CU-23", "CU-24", "RC-23")


def stored(**changes: Any) -> Story:
    """All samples accepted, and locked away on the day of their receipt."""
    story = visit("accepted")
    story.stored(**changes)
    return story


def out(story: Story, at: str = f"{TUESDAY}T16:30:00-06:00", **changes: Any) -> None:
    """The analyst takes all of them out on Tuesday afternoon."""
    story.withdrawn(story.samples[:3], at=at, said=at, **changes)


def back(story: Story, at: str, **changes: Any) -> None:
    """And puts them back."""
    story.stored(story.samples[:3], at=at, said=at, **{"by": ANALYST, **changes})


def found(story: Story, *rules: str, **case: Any) -> list[Finding]:
    """What the rules of stores say, or those named."""
    return findings(story.case(**case), *(rules or STORES))


def test_a_week_in_order_is_silent() -> None:
    """A laboratory that signs everything would be warned every day, and stop signing."""
    story = stored(keep_until="2026-12-20")
    out(story)
    back(story, f"{TUESDAY}T17:10:00-06:00")
    told = {each.rule for each in evaluate(story.case(at="2026-12-18T12:00:00-06:00"))}
    assert told.isdisjoint({"CU-01", "CU-02", "CU-03", "CU-04", "CU-06", "CU-17", "CU-18", *STORES}), told


def test_fifteen_hours_out_overnight_are_told() -> None:
    """Glass lies on a bench overnight where the cleaners come, and the record has it in the store."""
    story = stored()
    out(story)
    back(story, f"{WEDNESDAY}T08:05:00-06:00")
    (hit,) = found(story)
    first, second, outdoor = map(grouped, story.samples[:3])
    assert (hit.rule, hit.severity, hit.about, set(hit.samples)) == (
        "CU-23", "warn", story.form, set(story.samples[:3]),
    )  # fmt: skip
    # 16:30 to 08:05 of the next day (arithmetic)
    assert hit.sentence == (
        f"Samples {first}, {second} and {outdoor} were withdrawn from store FR-1 by Analyst One on"
        f" {TUESDAY} 16:30 (-06:00), overnight until {WEDNESDAY} 08:05 (-06:00), for 15 h 35 min; no entry"
        " shows how they were secured."
    )


@pytest.mark.parametrize(
    ("at", "told"), [("2026-12-08T23:59:59-06:00", False), ("2026-12-09T00:00:00-06:00", True)]
)
def test_what_is_not_back_is_told_from_midnight_on(at: str, told: bool) -> None:
    """What nobody ever puts back would never be told at all."""
    story = stored()
    out(story)
    hits = found(story, at=at)
    assert [each.rule for each in hits] == ["CU-23"] * told
    assert all("overnight and no return is on record; no entry" in each.sentence for each in hits)


def test_midnight_is_that_of_the_laboratory() -> None:
    """Half past five in the afternoon is tomorrow in universal time, and every day would be a night."""
    story = stored()
    out(story, f"{TUESDAY}T17:00:00-06:00")
    back(story, f"{TUESDAY}T18:30:00-06:00")  # 2026-12-09T00:30Z
    assert found(story) == []


def test_locked_on_the_bench_is_no_night_without_a_lock() -> None:
    """Who locks the bench and signs it would be warned like the one who went home."""
    story = stored()
    out(story)
    night = {"since": f"{TUESDAY}T16:50:00-06:00", "until": f"{WEDNESDAY}T07:55:00-06:00"}
    story.held(samples=story.samples[:3], secured="locked", where="laboratory", by=ANALYST, **night)
    back(story, f"{WEDNESDAY}T08:05:00-06:00")
    assert found(story) == []


def test_a_night_ends_with_the_colleague_who_puts_it_back() -> None:
    """Handed to a colleague, the sample would be out for ever, or never."""
    story = stored()
    out(story)
    for act, by in (("relinquished", ANALYST), ("received", CUSTODIAN)):
        at = f"{TUESDAY}T16:45:00-06:00"
        to = {"to": "quill-lab", "to_kid": CUSTODIAN.kid} if act == "relinquished" else {}
        getattr(story, act)(story.samples[:3], by=by, at=at, said=at, purpose="analysis", **to)
    back(story, f"{WEDNESDAY}T08:05:00-06:00", by=CUSTODIAN)
    assert [each.rule for each in found(story)] == ["CU-23"]
    assert findings(story.case(), "CU-01", "CU-02") == []


def test_disposed_of_out_of_the_store_is_over() -> None:
    """What is destroyed would be searched for on the bench every night."""
    story = stored()
    out(story, purpose="disposal")
    at = f"{TUESDAY}T16:40:00-06:00"
    story.disposed(story.samples[:3], at=at, said=at, by=ANALYST)
    assert found(story, at="2026-12-20T12:00:00-06:00") == []


# CU-24


def test_withdrawn_by_one_while_another_has_it_is_told() -> None:
    """Two analysts each sign for the same glass, and a court asks which one had it."""
    story = stored()
    out(story)
    again = f"{TUESDAY}T16:50:00-06:00"
    story.withdrawn([story.samples[0]], at=again, said=again, by=LAB_QUALITY)
    (hit,) = found(story, at=f"{TUESDAY}T17:00:00-06:00")
    assert (hit.rule, hit.severity) == ("CU-24", "warn")
    assert hit.sentence == (
        f"Quality Two withdrew sample {grouped(story.samples[0])} from store FR-1 on {TUESDAY} 16:50"
        f" (-06:00); on record Analyst One had what was withdrawn since {TUESDAY} 16:30 (-06:00)."
    )


def test_another_store_than_that_on_record_is_told() -> None:
    """The temperature log that is read for the report is that of the wrong refrigerator."""
    story = stored()
    out(story, store="FR-2")
    (hit,) = found(story, at=f"{TUESDAY}T17:00:00-06:00")
    assert (hit.rule, hit.sentence.partition("; ")[2]) == (
        "CU-24", "on record what was withdrawn was in store FR-1 since 2026-12-02 11:00 (-06:00).",
    )  # fmt: skip


# RC-23


@pytest.mark.parametrize(
    ("how", "day", "told"),
    [
        ("destroyed", "2027-02-28", True),
        ("returned", "2027-02-28", True),
        ("archived", "2027-02-28", False),
        ("destroyed", "2027-03-01", False),
    ],
)
def test_disposed_of_before_its_day_is_flagged(how: str, day: str, told: bool) -> None:
    """The dispute begins in February, and the glass was destroyed a day before it might be."""
    story = stored(keep_until="2027-01-15")
    story.stored(story.samples[:1], keep_until="2027-03-01", at="2026-12-03T09:00:00-06:00")
    at = f"{day}T10:00:00-06:00"
    story.disposed(story.samples[:3], how=how, at=at, said=at)
    hits = found(story)
    assert [(each.rule, each.severity) for each in hits] == [("RC-23", "flag")] * told
    if told:
        assert hits[0].sentence == (
            f"Sample {grouped(story.samples[0])} was disposed of ({how}) on {day} 10:00 (-06:00), to be kept"
            " until 2027-03-01."
        )


# Who may


def test_no_store_makes_what_is_under_way_arrive() -> None:
    """A laboratory would have received what lies in a truck, by a word about its refrigerator."""
    story = visit("shipped")
    before = [sample.holder for sample in story.state().samples.values()]
    story.stored(story.samples[:3])
    after = [sample.holder for sample in story.state().samples.values()]
    assert before == after
    assert "CU-02" in {each.rule for each in evaluate(story.case())}


def test_the_firm_puts_nothing_into_the_laboratory_s_store() -> None:
    """Custody at the laboratory would be moved from outside, and the custodian would not have it."""
    story = visit("accepted")
    story.stored(story.samples[:3], by=CLERK)
    state = story.state()
    assert all(state.samples[each].holder.kid == CUSTODIAN.kid for each in story.samples[:3])
    (told,) = (each.sentence for each in evaluate(story.case()) if "put into a store" in each.sentence)
    assert told.endswith("quill-lab decides. This entry counts for nothing.")


def test_put_away_by_a_colleague_who_did_not_have_it_is_flagged() -> None:
    """The custodian has it on record, and the analyst whose hands it went through stands nowhere."""
    story = visit("accepted")
    story.stored(story.samples[:3], by=ANALYST)
    (flag,) = findings(story.case(), "CU-02")
    assert "Analyst One stores samples" in flag.sentence
    assert {story.state().samples[each].holder.store for each in story.samples[:3]} == {"FR-1"}


def test_a_range_upside_down_is_no_range() -> None:
    """A freezer would be written down as warmer than it is cold."""
    data = {"samples": ["S"], "store": "FR-1", "secured": "locked", "at": f"{TUESDAY}T10:00:00-06:00"}
    data["samples"] = [visit("accepted").samples[0]]
    with pytest.raises(BadStatement, match="low_c 8 is above high_c 2"):
        statements.draft("form", "stored", {**data, "low_c": "8", "high_c": "2"}, "quill-lab", "A" * 43)
