"""Where to sample.

The order is common practice, no source; complaint, non-complaint and outdoor sites: NIOSH Method 0800 (read).
"""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.domain.policy import Policy
from bailee.planning.sampling_plan import (
    THREE_SITES,
    Place,
    Wishes,
    blanks_wanted,
    cassettes,
    plan,
    ranked,
    read,
)

D = Decimal
DEFAULTS, NOTHING = Policy(), Wishes()

PLACES = st.lists(
    st.builds(
        Place,
        name=st.sampled_from(["den", "hall", "attic room", "study", "cellar"]),
        visible_growth=st.booleans(),
        active_leak=st.booleans(),
        past_moisture=st.booleans(),
        complaint=st.booleans(),
        musty_odor=st.booleans(),
        hours_a_day=st.integers(0, 24).map(Decimal),
        space=st.sampled_from(["conditioned", "conditioned", "attic", "crawl_space", "other"]),
        reason=st.sampled_from([None, "complaint_there", "other"]),
    ),
    max_size=8,
)
SIGNS = ("visible_growth", "active_leak", "past_moisture", "complaint", "musty_odor")


def but(place: Place, **changes: Any) -> Place:
    """The same place with something else known of it."""
    return Place(**vars(place) | changes)


def names(places: list[Place]) -> list[str]:
    """Their names, in order."""
    return [place.name for place in places]


def test_the_order_is_that_of_the_trade() -> None:
    """The one free afternoon is spent in the living room while the wet wall is left for another visit."""
    places = [
        Place(name="where people are", hours_a_day=D(20)),
        Place(name="nothing"),
        Place(name="musty", musty_odor=True),
        Place(name="complaint", complaint=True),
        Place(name="was wet", past_moisture=True),
        Place(name="leak", active_leak=True),
    ]

    assert names(ranked(places)) == ["leak", "was wet", "complaint", "musty", "where people are", "nothing"]


def test_growth_and_leak_weigh_the_same() -> None:
    """A dripping pipe is left for last because nothing grows there yet."""
    places = [
        Place(name="growth", visible_growth=True),
        Place(name="leak, lived in", active_leak=True, hours_a_day=D(8)),
    ]

    assert names(ranked(places)) == ["leak, lived in", "growth"]


def test_what_is_graver_outweighs_everything_below_it() -> None:
    """Four small signs together push the wet wall off the list."""
    wet = Place(name="wet", past_moisture=True)
    all_below = Place(name="all below", complaint=True, musty_odor=True, hours_a_day=D(24))

    assert names(ranked([all_below, wet])) == ["wet", "all below"]


@pytest.mark.slow
@given(PLACES)
def test_the_order_is_total_and_stable(places: list[Place]) -> None:
    """Two runs of the same list send two people to different rooms."""
    order = ranked(places)

    assert sorted(map(id, order)) == sorted(map(id, places)), "no place is lost or invented"
    assert ranked(order) == order
    for first, second in combinations(range(len(places)), 2):
        if but(places[first], name="") == but(places[second], name=""):
            assert [id(p) for p in order].index(id(places[first])) < [id(p) for p in order].index(
                id(places[second])
            )


@given(PLACES, st.integers(0, 7), st.sampled_from(SIGNS))
def test_a_sign_found_later_never_lowers_a_place(places: list[Place], at: int, sign: str) -> None:
    """The inspector enters the leak and the room drops off the plan."""
    if at >= len(places):
        return
    place = places[at]
    found = but(place, **{sign: True})
    before = [id(each) for each in ranked(places)].index(id(place))
    after = [id(each) for each in ranked([*places[:at], found, *places[at + 1 :]])].index(id(found))

    assert after <= before


@given(PLACES, st.one_of(st.none(), st.integers(1, 6)))
def test_no_place_in_question_is_passed_over_for_a_lower_one(places: list[Place], indoor: int | None) -> None:
    """The leaking room is struck off as a reference, and a room that only smells is sampled instead."""
    found = plan(places, DEFAULTS, Wishes(indoor=indoor))
    named = {each.number: each.role for each in found.advice}
    questioned = [n for n, p in enumerate(ranked(places), 1) if p.is_open_to_sampling and not p.is_reference]
    roles = [named[n] for n in questioned]

    assert roles == sorted(roles), "in question, then not now"
    assert indoor is not None or "not now" not in roles


@given(PLACES, st.one_of(st.none(), st.integers(1, 6)))
def test_every_place_is_answered_and_left_out_only_for_its_space(
    places: list[Place], indoor: int | None
) -> None:
    """A place named by the client vanishes from the list without a word."""
    found = plan(places, DEFAULTS, Wishes(indoor=indoor))

    assert [each.number for each in found.advice] == list(range(1, len(places) + 1))
    assert all(each.says for each in found.advice if each.role != "not now")
    left_out = [each for each in found.advice if each.role == "left out"]
    assert len(left_out) == sum(p.space != "conditioned" and p.reason is None for p in places)
    assert list(found.advice)[len(places) - len(left_out) :] == left_out, "after everything else"


@given(PLACES, st.one_of(st.none(), st.integers(1, 6)))
def test_a_reference_is_kept_free_for(places: list[Place], indoor: int | None) -> None:
    """Every cassette goes to a room with a complaint and there is nothing to compare them with (NIOSH Method
    0800).
    """
    found = plan(places, DEFAULTS, Wishes(indoor=indoor))
    roles = [each.role for each in found.advice]
    can = any(place.is_reference for place in places)

    assert ("reference" in roles) == can
    assert any("reference area" in each for each in found.lacking) != can
    assert len(found.sampled) <= max(indoor or len(places), 2)
    assert found.cassettes.indoor >= max(2, len(found.sampled))
    assert found.cassettes.outdoor >= 1


@pytest.mark.parametrize("space", ["attic", "crawl_space", "garage", "wall_cavity", "other"])
def test_unconditioned_space_needs_a_reason(space: str) -> None:
    """An attic full of spores is compared with a bedroom, and nobody can say why it was sampled."""
    attic = Place(name="up there", complaint=True, space=space)  # type: ignore[arg-type]
    without = plan([attic], DEFAULTS, NOTHING).advice[0]
    given_one = plan([but(attic, reason="complaint_there")], DEFAULTS, NOTHING).advice[0]

    assert without.role == "left out"
    assert "no reason" in " ".join(without.says)
    assert given_one.role == "in question"
    assert "the complaint is about it" in " ".join(given_one.says)
    assert "not alone" in " ".join(given_one.says)


def test_visible_growth_is_looked_at_before_it_is_sampled() -> None:
    """Growth is stirred up to get a number nobody needed (OSHA, CDC-NIOSH and EPA statements, read in a
    secondary text).
    """
    (advice,) = plan([Place(name="bath", visible_growth=True)], DEFAULTS, NOTHING).advice

    said = " ".join(advice.says)
    assert "often not needed" in said
    assert "must not be disturbed" in said
    assert "write down why" in said


def test_each_line_says_why_and_from_where() -> None:
    """The client asks why the study was sampled, and the inspector says the program wanted it."""
    found = plan(
        [Place(name="bed", complaint=True, hours_a_day=D("7.5")), Place(name="study")], DEFAULTS, NOTHING
    ).advice

    assert found[0].says == ("People complain about it.", "People spend about 7.5 h a day here.")
    assert found[0].source == "common practice, no source"
    assert (found[1].role, found[1].source) == ("reference", THREE_SITES)


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ([], ["0 indoor locations; the policy asks for at least 2", "reference area"]),
        ([Place(name="a", complaint=True)], ["1 indoor location", "reference area"]),
        ([Place(name="a", complaint=True), Place(name="b", musty_odor=True)], ["reference area"]),
        ([Place(name="a", complaint=True), Place(name="b")], []),
        ([Place(name="a"), Place(name="b")], []),
    ],
)
def test_what_the_plan_lacks_is_said(places: list[Place], words: list[str]) -> None:
    """The inspector learns on the way home that two complaint rooms compare with nothing."""
    found = plan(places, DEFAULTS, NOTHING)

    assert len(found.lacking) == len(words)
    assert all(word in sentence for word, sentence in zip(words, found.lacking, strict=True))


def test_no_sign_anywhere_asks_for_the_question() -> None:
    """A house is sampled without anybody knowing what for."""
    assert "what question" in plan([Place(name="a"), Place(name="b")], DEFAULTS, NOTHING).notes[0]
    assert (
        "what question"
        not in plan([Place(name="a", complaint=True), Place(name="b")], DEFAULTS, NOTHING).notes[0]
    )


@pytest.mark.parametrize(("hours", "outdoor"), [(None, 1), ("4", 1), ("4.01", 2), ("9", 2)])
def test_a_visit_over_four_hours_carries_a_second_control(hours: str | None, outdoor: int) -> None:
    """The last room is compared with the air of the morning (4 h: common practice, no source)."""
    wishes = Wishes(visit_h=None if hours is None else D(hours))
    found = plan([Place(name="a", complaint=True), Place(name="b")], DEFAULTS, wishes)

    assert found.cassettes.outdoor == outdoor
    assert any("second outdoor control" in note for note in found.notes) == (outdoor == 2)


@pytest.mark.parametrize(
    ("policy", "wishes", "carried"),
    # indoor, outdoor, blanks, duplicates, spare: a sum of what is planned and one to spare (common practice,
    # no source)
    [
        ({}, Wishes(), (2, 1, 0, 0, 1)),
        ({}, Wishes(blanks=1, duplicates=2, visit_h=D(5)), (2, 2, 1, 2, 1)),
        ({"spare_cassettes": 3, "min_outdoor": 2}, Wishes(), (2, 2, 0, 0, 3)),
        ({"min_blanks": 1}, Wishes(), (2, 1, 1, 0, 1)),
        ({"min_blanks": 1}, Wishes(blanks=4), (2, 1, 4, 0, 1)),
        ({"min_cassettes": 5}, Wishes(), (4, 1, 0, 0, 1)),
        ({"min_indoor": 4}, Wishes(), (4, 1, 0, 0, 1)),
        (
            {"min_indoor": 0, "min_outdoor": 0, "min_cassettes": 0, "spare_cassettes": 0},
            Wishes(),
            (2, 1, 0, 0, 0),
        ),
    ],
)
def test_cassettes_to_carry(policy: dict[str, int], wishes: Wishes, carried: tuple[int, ...]) -> None:
    """The cassette for the outdoor control is used up indoors, and the visit cannot be compared with
    anything.
    """
    found = cassettes(2, Policy(**policy), wishes)

    assert (found.indoor, found.outdoor, found.blanks, found.duplicates, found.spare) == carried
    assert (found.needed, found.total) == (sum(carried) - carried[-1], sum(carried))


@pytest.mark.parametrize(
    ("least", "served", "air", "wanted"),
    [(0, 20, 100, 0), (1, 20, 3, 1), (1, 20, 20, 1), (1, 20, 21, 2), (3, 20, 21, 3), (2, 0, 50, 2)],
)
def test_blanks_that_the_firm_wants(least: int, served: int, air: int, wanted: int) -> None:
    """A batch of forty goes out with the blank of a single room (one in twenty: common
    practice, no source).
    """
    assert blanks_wanted(air, Policy(min_blanks=least, samples_per_blank=served)) == wanted


def test_the_firm_s_own_distances_are_told() -> None:
    """The outdoor control is set up where the firm's own rule will warn about it."""
    strict = Policy(outdoor_distance_m=D("6.096"), outdoor_gap_min=60)
    said, in_a_room = plan([Place(name="a", complaint=True), Place(name="b")], strict, NOTHING).notes

    # 6.096 m / 0.3048 m = 20 ft (international foot of 1959)
    assert "at least 20 ft (6.10 m) from the building" in said
    assert "within 60 min" in said
    assert in_a_room.startswith("In each room: in the middle")


def test_what_the_client_asks_for_is_sampled_however_few_places_were_wanted() -> None:
    """The one room the client asked about comes back without a result."""
    places = [
        Place(name="basement", visible_growth=True), Place(name="kitchen", complaint=True),
        Place(name="nursery", asked_for=True), Place(name="attic", space="attic", asked_for=True),
        Place(name="study"),
    ]  # fmt: skip
    found = plan(places, Policy(), Wishes(indoor=2))
    assert {each.place: each.role for each in found.advice} == {
        "basement": "in question", "kitchen": "not now", "nursery": "in question", "attic": "in question",
        "study": "reference",
    }  # fmt: skip
    said = {each.place: " ".join(each.says) for each in found.advice}
    assert "The client asks for it." in said["nursery"]
    assert "the client asked for it" in said["attic"]


def test_a_plan_says_where_in_a_room_and_carries_one_for_the_day() -> None:
    """A pump against the wall counts the wall; and the stain found on the day has no cassette."""
    notes = plan([], Policy(), Wishes(on_the_day=1)).notes
    assert [each for each in notes if "In each room: in the middle, inlet" in each] != []
    assert [each for each in notes if "1 cassette more to spare" in each] != []
    usual, more = (cassettes(2, Policy(), wishes) for wishes in (Wishes(), Wishes(on_the_day=2)))
    assert (more.spare, more.needed) == (usual.spare + 2, usual.needed)
    assert read("on_the_day = 2")[1].on_the_day == 2
