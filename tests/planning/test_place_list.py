"""The list of places as people write it. TOML 1.0 and RFC 8259 are read by the standard library."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.errors import BaileeError, Malformed
from bailee.planning import sampling_plan
from bailee.planning.sampling_plan import Place, Wishes

TOML = """
visit_h = 4.5
indoor = 3
blanks = 1
duplicates = 2

[[places]]
name = "main bedroom"
complaint = true
hours_a_day = 7.5

[[places]]
name = "Dachböden"
space = "attic"
reason = "client_request"
musty_odor = true
"""
READ = (
    [
        Place(name="main bedroom", complaint=True, hours_a_day=Decimal("7.5")),
        Place(name="Dachböden", space="attic", reason="client_request", musty_odor=True),
    ],
    Wishes(3, Decimal("4.5"), 1, 2),
)


def test_toml_and_json_say_the_same() -> None:
    """The office writes one file, the program another, and the plans differ."""
    as_json = {
        "visit_h": 4.5, "indoor": 3, "blanks": 1, "duplicates": 2,
        "places": [
            {"name": "main bedroom", "complaint": True, "hours_a_day": "7.5"},
            {"name": "Dachböden", "space": "attic", "reason": "client_request", "musty_odor": True},
        ],
    }  # fmt: skip

    assert sampling_plan.read(TOML) == READ
    assert sampling_plan.read(json.dumps(as_json)) == READ


def test_an_empty_list_is_a_list() -> None:
    """Somebody who only wants to know what to carry must invent a room."""
    assert sampling_plan.read("") == ([], Wishes())
    assert sampling_plan.read("{}") == ([], Wishes())


def test_all_faults_are_told_at_once_by_the_place_they_are_in() -> None:
    """Six typing slips are found in six attempts."""
    place = 'nam = "x"\nhours_a_day = 25\nspace = "loft"\ncomplaint = 1'
    text = f"indoor = 0\nvisit_hours = 3\n[[places]]\n{place}"
    with pytest.raises(Malformed) as raised:
        sampling_plan.read(text)

    said = {fault["at"]: fault["says"] for fault in raised.value.facts["errors"]}
    assert said == {
        "/indoor": "write a whole number from 1 to 100",
        "/visit_hours": "there is nothing of this name, did you mean visit_h?",
        "/places/0/name": "is missing",
        "/places/0/nam": "there is nothing of this name, did you mean name?",
        "/places/0/hours_a_day": "write hours from 0 to 24",
        "/places/0/space": "write one of conditioned, attic, crawl_space, garage, wall_cavity, other",
        "/places/0/complaint": "write true or false",
    }
    assert "place 1, hours_a_day: write hours from 0 to 24" in raised.value.sentence


@pytest.mark.parametrize(
    ("hours", "fits"),
    [("0", True), ("24", True), ("24.01", False), ("-1", False), ("true", False), ("nan", False)],
)
def test_a_day_has_twenty_four_hours(hours: str, fits: bool) -> None:
    """Minutes typed as hours put a corridor above the bedroom."""
    text = f'[[places]]\nname = "x"\nhours_a_day = {hours}'
    if fits:
        assert sampling_plan.read(text)[0][0].hours_a_day == Decimal(hours)
    else:
        with pytest.raises(Malformed):
            sampling_plan.read(text)


@pytest.mark.parametrize(
    "text", ["[[places]", "{", "[]", '{"places": {}}', '{"places": [1]}', "places = 3", "{" * 100_000]
)
def test_what_is_no_list_is_refused_in_one_sentence(text: str) -> None:
    """A file saved half ends in a traceback at the customer's door."""
    with pytest.raises(Malformed) as raised:
        sampling_plan.read(text)

    assert raised.value.code == "bad-places"


def outcome(text: str) -> str:
    """`read`, or the code of our own refusal; anything else is raised."""
    try:
        sampling_plan.read(text)
    except BaileeError as error:
        return error.code
    return "read"


@given(st.text())
def test_only_our_errors_come_out(text: str) -> None:
    """A file of another program ends in a traceback."""
    assert outcome(text) in ("read", "bad-places")
