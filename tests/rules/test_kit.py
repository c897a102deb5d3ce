"""The kit before the visit.

Expiry by analogy to 49 CFR 40.199(b)(8)(9); certificates: AIHA Synergist, October 2018; the rest common
practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from bailee.domain import numbers
from bailee.domain.policy import Policy
from bailee.rules.checks.kit import KIT, Carried, Cassettes, Instrument, KitAnswer, LotSeen, check
from bailee.rules.registry import RULES

VISIT = date(2026, 12, 1)
PLANNED = Cassettes(indoor=2, outdoor=1, blanks=0, duplicates=0, spare=1)
LOT = LotSeen(numbers.issue("lot", lambda _: "7"), date(2027, 3, 31), recalled=False)
NUMBERS = [numbers.issue("sample", lambda _, c=c: c) for c in numbers.ALPHABET[:8]]
GOOD = [Carried(number, LOT, is_mine=True) for number in NUMBERS[:4]]
METER, PUMP = Instrument("meter", "M-3", ""), Instrument("pump", "P-7", "")


def told(
    *carried: Carried, on: date = VISIT, instruments: tuple[Instrument, ...] = (METER, PUMP), **policy: Any
) -> KitAnswer:
    """A kit judged against two indoors, one outdoors, one to spare."""
    return check(carried or GOOD, instruments, on, PLANNED, Policy(**policy))


def said(found: KitAnswer) -> list[tuple[str, str, str]]:
    """Rule, severity and what it is about."""
    return [(each.rule, each.severity, each.about) for each in found.findings]


def test_a_good_kit_has_nothing_to_remark() -> None:
    """An inspector who is warned about everything hears nothing."""
    found = told()

    assert said(found) == []
    assert (found.good, found.unchecked, found.will_not_do) == (4, (), False)


@pytest.mark.parametrize(
    ("expires", "grace", "stops"),
    # The printed day is a good day; a month means its last day (49 CFR 40.199(b)(8) by analogy)
    [("2026-12-01", 0, False), ("2026-11-30", 0, True), ("2026-11-30", 1, False), ("2026-11-29", 1, True)],
)
def test_a_cassette_must_be_good_on_the_day_of_the_visit(expires: str, grace: int, stops: bool) -> None:
    """A cassette in date today is out of date at the house."""
    old = replace(GOOD[0], lot=replace(LOT, expires=date.fromisoformat(expires)))
    found = told(old, *GOOD[1:], expiry_grace_days=grace, expiry_near_days=0, same_lot_wanted=False)

    assert (("ML-02", "block", old.number) in said(found)) is stops
    assert found.will_not_do is stops
    assert found.good == 4 - stops


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"lot": None}, "ML-01"),
        ({"lot": replace(LOT, expires=None)}, "ML-03"),
        ({"lot": replace(LOT, recalled=True)}, "ML-06"),
        ({"is_used": True}, "CL-01"),
        ({"is_used": True, "scans": 2}, "CL-01"),
    ],
)
def test_a_cassette_that_must_not_be_used_stops_the_kit(change: dict[str, Any], rule: str) -> None:
    """A recalled box is driven to the house, used, and flagged by the laboratory a week later."""
    bad = replace(GOOD[0], **change)
    found = told(bad, *GOOD[1:])

    assert (rule, "block", bad.number) in said(found)
    assert found.good == 3
    assert all("Set it aside" in each.remedy for each in found.findings if each.severity == "block")


@pytest.mark.parametrize(
    ("change", "finding"),
    [
        ({"is_mine": False}, ("CL-12", "warn")), ({"is_mine": None}, None), ({"scans": 2}, ("CL-01", "warn")),
        ({"visit": date(2026, 12, 2)}, ("", "note")), ({"visit": VISIT}, None),
    ],
)  # fmt: skip
def test_what_may_be_right_is_only_said(change: dict[str, Any], finding: tuple[str, str] | None) -> None:
    """A double scan at the shelf stops the visit, or two cassettes with one number pass for one."""
    found = told(replace(GOOD[0], **change), *GOOD[1:])

    assert said(found) == ([(*finding, GOOD[0].number)] if finding else [])
    assert (found.good, found.will_not_do) == (4, False)


@pytest.mark.parametrize(
    ("count", "severity", "fetch"),
    [(4, None, ""), (5, None, ""), (3, "note", "1 more"), (2, "block", "2 more"), (0, "block", "4 more")],
)
def test_the_count_is_held_against_the_plan(count: int, severity: str | None, fetch: str) -> None:
    """The outdoor control is missing because the kit held two cassettes."""
    carried = [Carried(number, LOT) for number in NUMBERS[:count]]
    found = check(carried, [METER, PUMP], VISIT, PLANNED, Policy())

    assert said(found) == ([("VP-09", severity, KIT)] if severity else [])
    for each in found.findings:
        assert "3 are planned (2 indoors and 1 outdoors), with 1 to spare" in each.sentence
        assert fetch in each.remedy


def test_a_cassette_set_aside_does_not_count() -> None:
    """Four are in the box, one is expired, one is recalled, and the visit lacks its outdoor control."""
    gone = [
        replace(GOOD[0], lot=replace(LOT, expires=date(2026, 1, 1))),
        replace(GOOD[1], lot=replace(LOT, recalled=True)),
    ]
    found = told(*gone, *GOOD[2:], same_lot_wanted=False)

    assert found.good == 2
    assert ("VP-09", "block", KIT) in said(found)


@pytest.mark.parametrize(("wanted", "rules"), [(True, ["ML-11"]), (False, [])])
def test_mixed_lots_are_a_warning_where_the_firm_wants_one(wanted: bool, rules: list[str]) -> None:
    """Indoor and outdoor are taken with different boxes, and a difference between them means nothing."""
    other = replace(GOOD[0], lot=replace(LOT, number=numbers.issue("lot", lambda _: "3")))
    found = told(other, *GOOD[1:], same_lot_wanted=wanted)

    assert [each.rule for each in found.findings] == rules


@pytest.mark.parametrize(("left", "near"), [(0, True), (30, True), (31, False)])
def test_a_lot_near_its_end_is_noted_once(left: int, near: bool) -> None:
    """The box is put back behind the new ones and thrown away next month (30 days: common practice, no
    source).
    """
    on = date.fromordinal(date(2027, 3, 31).toordinal() - left)

    assert said(told(on=on)) == ([("ML-05", "note", LOT.number)] if near else [])


@pytest.mark.parametrize(
    ("kind", "block", "severity"),
    [("meter", True, "block"), ("meter", False, "warn"), ("pump", True, "warn")],
)
def test_a_lapsed_certificate(kind: Any, block: bool, severity: str) -> None:
    """Every flow of the day is read with a meter nobody can vouch for."""
    lapsed = Instrument(kind, "X-1", "was valid to 2026-11-30")
    found = told(instruments=(lapsed, METER if kind == "pump" else PUMP), meter_certificate_block=block)

    assert said(found) == [("PV-06", severity, "X-1")]
    assert "was valid to 2026-11-30; the visit is on 2026-12-01" in found.findings[0].sentence


def test_what_could_not_be_looked_up_is_said_and_never_called_fine() -> None:
    """Without a network the kit looks perfect."""
    remembered = replace(GOOD[0], is_looked_up=False, is_mine=None)
    unknown = Carried(NUMBERS[1], None, is_looked_up=False)
    found = told(remembered, unknown, *GOOD[2:], instruments=(Instrument("meter", "M-3", None),))

    assert said(found) == []
    assert [words.split(":")[0] for words in found.unchecked] == [
        numbers.grouped(remembered.number), numbers.grouped(unknown.number), "Flow meter M-3", "Pump",
    ]  # fmt: skip
    assert "last read" in found.unchecked[0]
    assert "not on record on this device" in found.unchecked[1]


def test_what_the_memory_knows_still_counts() -> None:
    """Without a network an expired cassette is carried along."""
    old = replace(GOOD[0], is_looked_up=False, lot=replace(LOT, expires=date(2026, 11, 30)))

    assert ("ML-02", "block", old.number) in said(told(old, *GOOD[1:]))


def test_every_rule_named_is_in_the_book() -> None:
    """A finding of the kit names a rule that nobody can look up."""
    bad = [
        replace(GOOD[0], lot=None),
        replace(GOOD[1], lot=replace(LOT, expires=date(2020, 1, 1), recalled=True), is_mine=False),
        replace(GOOD[2], is_used=True),
        replace(GOOD[3], lot=replace(LOT, number=numbers.issue("lot", lambda _: "3"), expires=None)),
    ]
    found = told(*bad, instruments=(Instrument("meter", "M", "is old"), Instrument("pump", "P", "is old")))

    assert {each.rule for each in found.findings} == {
        "ML-01", "ML-02", "ML-03", "ML-06", "ML-11", "CL-01", "CL-12", "VP-09", "PV-06",
    }  # fmt: skip
    assert {each.rule for each in found.findings} <= set(RULES)
    assert [each.severity for each in found.findings] == sorted(
        (each.severity for each in found.findings), key=("block", "warn", "note").index
    )


def test_a_tape_is_no_cassette() -> None:
    """Whoever packed two cassettes and two tapes drives to the house with two cassettes too few."""
    tapes = [replace(each, lot=replace(LOT, number=NUMBERS[7], kind="tape")) for each in GOOD[2:]]
    found = told(*GOOD[:2], *tapes)
    assert said(found) == [("VP-09", "block", KIT)]
    assert found.findings[0].sentence.startswith(
        "2 cassettes in the kit, not counting those set aside or 2 tapes; 3 are planned"
    )
    whole = told(
        *GOOD, *(replace(each, number=number) for each, number in zip(tapes, NUMBERS[4:6], strict=True))
    )
    assert (said(whole), whole.told, whole.media) == ([], "4 cassettes and 2 tapes", {"tape": 2})


def test_a_container_has_no_expiration_date() -> None:
    """A jar for bulk material would stop the kit for a date that no maker prints."""
    jar = replace(GOOD[0], number=NUMBERS[5], lot=replace(LOT, expires=None, kind="container"))
    assert said(told(*GOOD, jar)) == []
    recalled = replace(jar, lot=replace(LOT, expires=None, kind="container", recalled=True))
    assert said(told(*GOOD, recalled)) == [("ML-06", "block", jar.number)]
