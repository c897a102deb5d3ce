"""What is known about one box of cassettes."""

import ast
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import bailee_cli
from bailee.domain import lots
from bailee.domain.lots import Lot, freshness
from bailee.domain.policy import Policy
from builders import DAY, FIRM, INSPECTOR, MEDIA_KEEPER, SECOND_INSPECTOR, Story

AT = "2026-12-03T09:00:00-05:00"


def state(story: Story) -> Lot:
    """The lot received last."""
    return lots.fold(story.chains[f"lot/{story.lots[-1]}"])


def test_a_lot_as_it_arrived() -> None:
    """Flow, run time or expiry of the cassettes would be taken from another box."""
    story = Story()
    number = story.lot(issue=False, expiry="2027-11", nominal_flow="15.0", count=50)
    lot = state(story)
    assert (lot.number, lot.org, lot.maker_lot, lot.cassette) == (number, FIRM, "ML-0001", "slit")
    assert (lot.nominal_flow, lot.run_s, lot.count, lot.length) == (Decimal("15.0"), 300, 50, 1)
    assert (lot.recalled, lot.counted, lot.issued) == (None, None, {})


@pytest.mark.parametrize("sizes", [(), (3,), (3, 2), (200, 2), (3, 200, 200, 1)])
def test_the_numbers_issued_last_are_one_issue_over_several_statements(sizes: tuple[int, ...]) -> None:
    """Of 201 labels the sheet would hold one, or it would print all older ones again."""
    story = Story()
    story.lot(issue=False, count=1000)
    issued = [[story.number("sample") for _ in range(size)] for size in sizes]
    for each in issued:
        story.on_lot("issued", samples=each, said=AT)
    whole = [each for each in issued if issued.index(each) or len(each) == 200 or len(issued) == 1]
    assert list(state(story).newest_issue) == [number for each in whole for number in each]


@pytest.mark.parametrize(
    ("printed", "last"),
    [
        ("2027-11", date(2027, 11, 30)),
        ("2028-02", date(2028, 2, 29)),
        ("2027-11-15", date(2027, 11, 15)),
        (None, None),
    ],
)
def test_the_last_good_day_is_inclusive(printed: str | None, last: date | None) -> None:
    """A good box would be thrown away a month early (a month means its last day: common
    practice, no source).
    """
    story = Story()
    story.lot(issue=False, expiry=printed)
    assert state(story).expires == last


def test_a_number_belongs_to_the_first_visit_it_was_issued_for() -> None:
    """Somebody could re-issue used numbers and change whose cassettes they were."""
    story = Story()
    story.lot(samples=2, to=INSPECTOR)
    first, second = story.samples
    fresh = story.number("sample")
    again = story.on_lot("issued", samples=[second, fresh], to=SECOND_INSPECTOR.kid, said=AT)
    lot = state(story)
    assert lot.issued[first].to == lot.issued[second].to == INSPECTOR.kid
    assert lot.issued[second].visit == date.fromisoformat(DAY)
    assert (lot.issued[fresh].to, lot.issued[fresh].visit, lot.issued[fresh].n) == (
        SECOND_INSPECTOR.kid,
        None,
        again.n,
    )
    assert list(lot.issued) == [first, second, fresh]


def test_a_recall_stands_until_it_is_lifted_and_is_never_forgotten() -> None:
    """A sample taken from a recalled box would look sound, or a lifted recall condemn later ones."""
    story = Story()
    story.lot()
    assert state(story).recalled is None
    recalled = story.on_lot("recalled", reason="maker", said=AT)
    in_force = state(story).recalled
    assert in_force is not None
    assert (in_force.since, in_force.reason, in_force.until) == (recalled.rec, "maker", None)
    story.on_lot("recalled", reason="quality", said="2026-12-04T09:00:00-05:00")
    assert state(story).recalled == in_force
    released = story.on_lot("released", reason="maker", said="2026-12-05T09:00:00-05:00")
    lot = state(story)
    assert lot.recalled is None
    assert [(r.since, r.until) for r in lot.recalls] == [(recalled.rec, released.rec)]
    again = story.on_lot("recalled", reason="storage", said="2026-12-06T09:00:00-05:00")
    lot = state(story)
    assert len(lot.recalls) == 2
    assert lot.recalled is not None
    assert (lot.recalled.since, lot.recalled.reason) == (again.rec, "storage")


def test_a_release_without_a_recall_changes_nothing() -> None:
    """A stray release would crash the reading of the box, or invent a recall."""
    story = Story()
    story.lot()
    story.on_lot("released", reason="checked", said=AT)
    lot = state(story)
    assert (lot.recalls, lot.recalled, lot.length) == ((), None, 3)


def test_the_last_count_stands() -> None:
    """The shelf would be judged by an old count."""
    story = Story()
    story.lot()
    for remaining in (40, 38):
        story.on_lot("counted", remaining=remaining, voided=1, said=AT)
    counted = state(story).counted
    assert counted is not None
    assert (counted.remaining, counted.voided) == (38, 1)


def test_a_second_arrival_changes_nothing() -> None:
    """A box could be given a later expiry by receiving it again."""
    story = Story()
    number = story.lot(issue=False, expiry="2026-01")
    data = dict(story.chains[f"lot/{number}"][0].data) | {"expiry": "2030-01"}
    story.on_lot("lot_received", said=AT, **data)
    assert state(story).expires == date(2026, 1, 31)


def test_state_can_be_continued_entry_by_entry() -> None:
    """The ledger that reads only what is new would come to another answer than one that reads all."""
    story = Story()
    story.lot()
    for act in ("recalled", "released", "recalled"):
        story.on_lot(act, reason="maker", said=AT)
    story.on_lot("counted", remaining=3, said=AT)
    chain = story.chains[f"lot/{story.lots[-1]}"]
    for cut in range(1, len(chain)):
        continued = lots.fold(chain[:cut])
        for entry in chain[cut:]:
            continued = lots.apply(continued, entry)
        assert continued == lots.fold(chain)


def test_a_corrected_expiry_is_followed_and_both_stay_known() -> None:
    """A year mistyped on arrival would condemn a good box, or keep an old one in use, for ever."""
    story = Story()
    story.lot(issue=False, expiry="2026-11")
    made = story.on_lot("expiry_corrected", old="2026-11", new="2027-11", reason="typing", said=AT)
    lot = state(story)
    assert (lot.expiry, lot.expires) == ("2027-11", date(2027, 11, 30))
    (kept,) = lot.other_expiries
    assert (kept.n, kept.kid, kept.old, kept.new, kept.reason) == (
        made.n,
        MEDIA_KEEPER.kid,
        "2026-11",
        "2027-11",
        "typing",
    )


def test_a_correction_of_an_expiry_that_never_stood_there_changes_nothing() -> None:
    """Somebody who looks at another box would move the expiry of this one."""
    story = Story()
    story.lot(issue=False, expiry="2026-11")
    story.on_lot("expiry_corrected", old="2026-10", new="2027-11", reason="typing", said=AT)
    assert (state(story).expiry, state(story).other_expiries) == ("2026-11", ())


def test_storage_and_what_was_issued_when_somebody_counted_are_kept() -> None:
    """A hot summer on the shelf would be forgotten, and numbers issued later be held against an old count."""
    story = Story()
    story.lot(samples=2, coldest_c="12", warmest_c="24")
    story.on_lot("counted", remaining=48, warmest_c="41.5", said=AT)
    story.on_lot("issued", samples=[story.number("sample")], said=AT)
    lot = state(story)
    assert lot.issued_when_counted == 2
    assert [(each.n, each.coldest_c, each.warmest_c) for each in lot.storage] == [
        (1, Decimal(12), Decimal(24)),
        (3, None, Decimal("41.5")),
    ]


@pytest.mark.parametrize(
    ("printed", "day", "grace", "in_date", "may_be_used", "is_near"),
    [
        # 49 CFR 40.199(b)(8) by analogy: the printed day is a good day, the next is none.
        ("2026-11-30", date(2026, 11, 30), 0, True, True, True),
        ("2026-11-30", date(2026, 12, 1), 0, False, False, False),
        # A month means its last day (common practice, no source), leap years by the calendar.
        ("2026-11", date(2026, 11, 30), 0, True, True, True),
        ("2026-11", date(2026, 12, 1), 0, False, False, False),
        ("2028-02", date(2028, 2, 29), 0, True, True, True),
        ("2028-02", date(2028, 3, 1), 0, False, False, False),
        # Grace and warning: common practice, no source.
        ("2026-11-30", date(2026, 12, 2), 2, False, True, False),
        ("2026-11-30", date(2026, 12, 3), 2, False, False, False),
        ("2026-11-30", date(2026, 10, 31), 0, True, True, True),
        ("2026-11-30", date(2026, 10, 30), 0, True, True, False),
    ],
)
def test_both_sides_of_every_edge_of_an_expiry(
    printed: str, day: date, grace: int, in_date: bool, may_be_used: bool, is_near: bool
) -> None:
    """A good cassette would be thrown away, or one out of date used, by whichever part of the program counts
    otherwise.
    """
    story = Story()
    story.lot(issue=False, expiry=printed)
    found = state(story).on(day, Policy(expiry_grace_days=grace, expiry_near_days=30))
    assert found is not None
    assert (found.in_date, found.may_be_used, found.is_near) == (in_date, may_be_used, is_near)


@given(
    st.dates(date(2020, 1, 1), date(2050, 1, 1)),
    st.integers(-800, 800),
    st.integers(0, 60),
    st.integers(0, 90),
)
def test_a_lot_never_gets_better_with_time(last: date, away: int, grace: int, near: int) -> None:
    """A cassette refused on one day would be good again on the next."""
    policy = Policy(expiry_grace_days=grace, expiry_near_days=near)
    today, tomorrow = (freshness(last, last + timedelta(days=away + more), policy) for more in (0, 1))
    assert today is not None
    assert tomorrow is not None
    assert tomorrow.in_date <= today.in_date
    assert tomorrow.may_be_used <= today.may_be_used
    assert tomorrow.past - today.past in (0, 1)
    assert today.in_date == (away <= 0)
    assert today.may_be_used == (away <= grace)
    assert today.is_near == (-near <= away <= 0)


def test_a_lot_without_a_date_is_neither_good_nor_bad() -> None:
    """A box whose date nobody entered would pass for one in date (49 CFR 40.199(b)(9) by analogy)."""
    assert freshness(None, date(2026, 12, 1), Policy()) is None


def test_what_was_issued_since_the_count_is_no_longer_on_the_shelf() -> None:
    """The media keeper would be told of cassettes that are in somebody's kit (common practice, no source)."""
    story = Story()
    story.lot(issue=False, count=50)
    story.on_lot("counted", remaining=40, voided=10, said=AT)
    story.on_lot("issued", samples=[story.number("sample") for _ in range(3)], said=AT)
    assert state(story).left == 37


@pytest.mark.slow
def test_nothing_but_the_lot_itself_compares_its_last_good_day() -> None:
    """Two parts of the program would disagree whether a cassette may be used, and nobody knew which to
    believe.
    """
    here = Path(lots.__file__)
    files = [*here.parents[1].rglob("*.py"), *Path(bailee_cli.__file__).parent.rglob("*.py")]
    found = [
        f"{file.name}:{node.lineno}"
        for file in files
        for node in ast.walk(ast.parse(file.read_text("utf-8")))
        if isinstance(node, ast.BinOp | ast.Compare) and file != here
        for operand in _operands(node)
        if isinstance(operand, ast.Attribute | ast.Name)
        and getattr(operand, "attr", getattr(operand, "id", "")) == "expires"
    ]
    assert found == []


def _operands(node: ast.BinOp | ast.Compare) -> list[ast.expr]:
    if isinstance(node, ast.BinOp):
        return [node.left, node.right]
    return [] if isinstance(node.ops[0], ast.Is | ast.IsNot) else [node.left, *node.comparators]
