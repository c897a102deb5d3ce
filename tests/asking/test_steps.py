"""Which questions a cassette needs, and how an answer is read: an answer to one is asked nowhere else.

What is observed has no default: ISO/IEC 17025:2017 7.4.3 by analogy; the rest is our own promise.
"""

from __future__ import annotations

from typing import get_args

import pytest

from bailee.asking import cassette_steps, hand_over_steps, question, surface_steps, visit_steps
from bailee.domain.acts.surface import Medium
from bailee.errors import Malformed

ALWAYS = {"serial", "covers_on"}
RUN = {"pump", "meter", "height_m", "flow_before", "run_s", "flow_after"}


def asked(where: str, **said: str) -> set[str]:
    """The members that are asked about once the place is known."""
    return {ask.member for ask in cassette_steps.cassette({"where": where, **said})} - {"where"}


@pytest.mark.parametrize(
    ("where", "wanted"),
    [
        ("bedroom", ALWAYS | RUN | {"area"}),
        ("outdoors", ALWAYS | RUN | {"distance_m", "near", "sky", "wind"}),
        ("blank", ALWAYS),
        ("other", ALWAYS | RUN | {"area", "point"}),
        ("other/P3", ALWAYS | RUN | {"area"}),
    ],
)
def test_a_place_decides_what_is_asked(where: str, wanted: set[str]) -> None:
    """A field blank would be asked for its flow, or an outdoor control for nobody's complaint."""
    assert asked(where) == wanted


@pytest.mark.parametrize(
    ("said", "meant", "facts"),
    [
        ("2", "bedroom", {"kind": "indoor", "room": "bedroom"}),
        ("2 P3", "bedroom/P3", {"kind": "indoor", "room": "bedroom", "point": "P3"}),
        ("crawl space", "crawl_space", {"kind": "indoor", "room": "crawl_space"}),
        ("o P9", "outdoors/P9", {"kind": "outdoor", "room": "outdoors", "point": "P9"}),
        ("b", "blank", {"kind": "blank"}),
    ],
)
def test_room_kind_and_point_are_one_answer(said: str, meant: str, facts: dict[str, str]) -> None:
    """Three questions would be asked where the inspector says `bedroom, point 3`."""
    assert cassette_steps.WHERE.read(said) == meant
    assert cassette_steps.placed(meant) == facts


def test_enter_answers_nothing_that_has_no_default() -> None:
    """Whoever leans on Enter would have seen the seal, the package and the cassette."""
    for ask in (
        hand_over_steps.PACKAGE,
        hand_over_steps.SEAL_READ,
        hand_over_steps.SEAL_STATE,
        hand_over_steps.COUNTED,
        hand_over_steps.condition("S1"),
    ):
        assert not ask.keeps
        with pytest.raises(Malformed):
            ask.read(" ")
    kept = {ask.member for ask in cassette_steps.cassette({"where": "bedroom"}) if ask.keeps}
    assert kept == {"area", "pump", "meter", "height_m", "flow_before"}


def test_several_are_said_with_commas_by_number_or_word() -> None:
    """A wet and torn package would be recorded as one of the two."""
    assert hand_over_steps.PACKAGE.read("2, torn") == ["wet", "torn"]
    with pytest.raises(Malformed, match="none of"):
        hand_over_steps.PACKAGE.read("2, gone")


@pytest.mark.parametrize(
    ("needing", "where", "asked"),
    [
        ([], None, []),
        (["US-NY"], None, ["jurisdiction"]),
        (["US-NY"], "US-VT", ["jurisdiction"]),
        (["US-NY"], "us-ny", ["jurisdiction", "license", "license_valid_to"]),
    ],
)
def test_a_license_is_asked_for_where_the_firm_says_one_is_needed(
    needing: list[str], where: str | None, asked: list[str]
) -> None:
    """VP-06 would stop the envelope for a license that the inspector has, or be asked about everywhere."""
    told = visit_steps.license_of({"jurisdiction": where}, needing)
    assert [each.member for each in told] == asked
    assert all(each.read("") is None for each in told), "none held, and not known, can be said"
    assert visit_steps.as_listed(where, needing) == ("US-NY" if where == "us-ny" else where)


def test_enter_is_shown_in_the_words_of_the_question() -> None:
    """If this fails, who said that there is no serial reads that it was not recorded, and types it again."""
    assert hand_over_steps.TEMPERATURE.shown(None) == "not measured"
    assert hand_over_steps.PURPOSE_RECEIVED.shown(None) == "as the other person entered it"
    assert hand_over_steps.CLASSIFIED.shown(None) == "not recorded"


@pytest.mark.parametrize(
    ("ask", "text"),
    [
        *(
            (ask, "-3")
            for ask in visit_steps.visit({"fresh_air": "off"})
            if ask.member in ("windows_closed_h", "purifiers_off_h", "cleaned_h_ago", "fresh_air_off_h")
        ),
        *(
            (ask, "-1")
            for ask in cassette_steps.cassette({"where": "bedroom"})
            if ask.member.startswith("flow_")
        ),
        *((ask, "P" * 1000) for ask in cassette_steps.cassette({"where": "bedroom"}) if ask.member == "pump"),
        *((ask, "200") for ask in visit_steps.conditions("outdoors") if ask.member == "humidity_pct"),
        (hand_over_steps.TEMPERATURE, "95 C"),
        (hand_over_steps.TRACKING, "T" * 1000),
    ],
    ids=lambda each: each.member if isinstance(each, question.Ask) else "",
)
def test_what_the_act_would_refuse_is_refused_where_it_is_typed(ask: question.Ask, text: str) -> None:
    """It would end the command after the last question, and every other answer would be lost."""
    with pytest.raises(Malformed, match="will not do"):
        ask.read(text)
    assert ask.read("20") in ("20", 20)


@pytest.mark.parametrize(
    ("where", "has_points", "is_asked"),
    [
        ("outdoors", True, True),
        ("outdoors", False, False),
        ("outdoors/P9", True, False),
        ("bedroom", True, False),
    ],
)
def test_an_outdoor_control_has_a_point_where_others_have(
    where: str, has_points: bool, is_asked: bool
) -> None:
    """SL-09 would find after the signature that nobody can tell on the sketch where the control stood."""
    found = {ask.member for ask in cassette_steps.cassette({"where": where}, has_points=has_points)}
    assert ("point" in found) == is_asked


def test_a_point_that_was_answered_stays_an_answer() -> None:
    """A point typed at its own question would be dropped before it is signed."""
    said = {"where": "outdoors", "point": "P9"}
    assert "point" in {ask.member for ask in cassette_steps.cassette(said, has_points=True)}
    assert "point" in {ask.member for ask in cassette_steps.cassette({"where": "other", "point": "P9"})}


def test_what_has_no_usual_answer_is_said_in_one_sentence() -> None:
    """`line L, date: date: this has no default` would be read to somebody with a pen in the hand."""
    with pytest.raises(Malformed) as error:
        hand_over_steps.condition("S1").read("")
    assert error.value.sentence == "Enter an answer: there is no usual one."


def test_a_pressure_is_shown_as_it_is_recorded() -> None:
    """Whoever typed inches of mercury would sign a number that the screen did not show."""
    ask = next(each for each in visit_steps.CONDITIONS if each.member == "pressure_hpa")
    value = ask.read("29.9 inHg")
    assert ask.tells(value)
    assert ask.shown(value) == "1012.5 hPa"


def test_a_tape_is_not_asked_what_only_a_body_can_be() -> None:
    """The dock signs a cracked cover of what has none, and a tape is sent to be grown."""
    body, tape = hand_over_steps.condition("S"), hand_over_steps.condition("S", "tape")
    assert {each[1] for each in body.choices} - {each[1] for each in tape.choices} == {"cracked", "cover_off"}
    assert set(tape.choices) < set(body.choices)
    asked_if_grown = {
        medium
        for medium in get_args(Medium)
        if "culture" in {each.member for each in surface_steps.surface(medium)}
    }
    assert asked_if_grown == {"swab", "bulk", "contact_plate", "dust"}
