"""A slip in a lot, a count or a certificate is asked back before it is signed, and refused where nobody can
be asked. What is a slip: tests/asking/test_office_slips.py.
"""

from __future__ import annotations

from typing import Any

import pytest

from terminal import Terminal, served
from town import ADDRESS, Town

BOX = ("lot", "receive", "--maker-lot", "42-0117", "--cassette", "slit", "--count", "8")
GOOD = (*BOX, "--nominal-flow", "15.0", "--expiry", "2027-03")
METER = ("equipment", "meter", "M-3", "--certified", "2027-06-14", "--valid-to", "2026-06-15")


def signed(town: Town, name: str) -> dict[str, Any]:
    """What somebody signed last."""
    person = town.person(name)
    return dict(person.answer("outbox", "--show", str(person.outbox()[-1]["seq"]))["data"])


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ((*BOX, "--nominal-flow", "150", "--expiry", "2027-03"), "flow-far-off"),
        ((*BOX, "--nominal-flow", "15.0", "--expiry", "2017-03"), "long-expired"),
        ((*GOOD, "--warmest-c", "75"), "fahrenheit"),
    ],
)
def test_a_slip_in_a_box_is_refused_in_a_script(settled: Town, words: tuple[str, ...], code: str) -> None:
    """Each cassette of the box would be flagged on site, weeks later and one by one."""
    keeper = settled.person("keeper")
    told = keeper.answer(*words, code=2)
    assert (told["code"], [each["code"] for each in told["slips"]]) == ("slip", [code])
    assert keeper.outbox() == []
    assert "Signed all the same" in keeper.run(*words, "--anyway")


def test_a_count_that_cannot_be_is_refused_in_a_script_and_the_lot_shows_both(settled: Town) -> None:
    """The shelf would hold more cassettes than ever came, and nobody would miss the box that is not there."""
    keeper = settled.person("keeper")
    lot = keeper.answer(*GOOD)[0]["chain"].removeprefix("lot/")
    assert "left when last counted" not in keeper.run("lot", "show", lot)
    for more, code in (
        (("--remaining", "30"), "more-than-received"),
        (("--remaining", "5", "--coldest-c", "64", "--warmest-c", "20"), "fahrenheit"),
    ):
        told = keeper.answer("lot", "count", lot, *more, code=2)
        assert [each["code"] for each in told["slips"]] == [code]
    assert len(keeper.outbox()) == 1
    keeper.run("lot", "count", lot, "--remaining", "5")
    shown = " ".join(keeper.run("lot", "show", lot).split())
    assert "received 8" in shown
    assert "left when last counted 5" in shown
    assert keeper.answer("lot", "show", lot)["counted"] == 5


def test_an_expiration_date_is_not_corrected_to_another_year(settled: Town) -> None:
    """A box in good order would be out of date by a slip in its own correction."""
    keeper = settled.person("keeper")
    lot = keeper.answer(*GOOD)[0]["chain"].removeprefix("lot/")
    told = keeper.answer("lot", "expiry", lot, "2017-04", "--reason", "misread", code=2)
    assert [(each["code"], each["field"]) for each in told["slips"]] == [("long-expired", "new")]
    keeper.run("lot", "expiry", lot, "2027-04", "--reason", "misread")


def test_days_in_each_others_place_are_refused_in_a_script(settled: Town) -> None:
    """A meter with a certificate would stop every envelope, because two days were typed the wrong way."""
    quality = settled.person("quality")
    kid = settled.person("inspector").answer("key", "show")["kid"]
    for words in (METER, ("train", kid, "--on", "2026-03-03", "--valid-to", "2025-03-02")):
        told = quality.answer(*words, code=2)
        assert [each["code"] for each in told["slips"]] == ["days-swapped"]
    assert quality.outbox() == []
    quality.run(*METER, "--anyway")


@pytest.mark.slow
def test_at_a_terminal_the_box_and_the_meter_are_typed_again(settled: Town) -> None:
    """Who reads 15.0 off the box and types 150 would have to void the lot and print new labels."""
    with served(settled):
        words = (*BOX, "--nominal-flow", "150", "--expiry", "2017-03")
        with Terminal(settled.person("keeper"), *words) as screen:
            assert "made for 150 L/min" in screen.sees("like 15; or y: it is so; or n: ")
            screen.types("15,0\n")
            assert "expired on 2017-03-31" in screen.sees("or n: ")
            screen.types("Mar 2027\n")
            code, rest = screen.ends()
        assert code == 0, rest
        said = signed(settled, "keeper")
        assert (said["nominal_flow"], said["expiry"]) == ("15.0", "2027-03")
        with Terminal(settled.person("quality"), *METER) as screen:
            assert "the two are swapped" in " ".join(screen.sees("or n: ").split())
            screen.types("2028-06-13\n")
            code, rest = screen.ends()
        assert code == 0, rest
    assert signed(settled, "quality")["valid_to"] == "2028-06-13"


def test_a_list_that_is_replaced_names_what_goes(settled: Town) -> None:
    """Who adds one state drops all others, and no envelope of theirs is stopped for a license any more."""
    quality = settled.person("quality")
    quality.run("licensing", "US-NY", "US-TX")
    said = quality.run("licensing", "US-NY", "US-FL")
    assert "Goes: US-TX. Stays: US-NY. New: US-FL." in said
    told = quality.type("--json", "licensing", "--nowhere")
    assert "Goes: US-FL, US-NY. Stays: none. New: none." in told.stderr


@pytest.mark.slow
@pytest.mark.parametrize(("key", "code", "left"), [("n", 1, ["US-NY", "US-TX"]), ("y", 0, ["US-FL"])])
def test_at_a_terminal_what_goes_is_shown_before_it_is_signed(
    settled: Town, key: str, code: int, left: list[str]
) -> None:
    """The list would be gone before anybody saw that it is replaced and not added to."""
    quality = settled.person("quality")
    quality.run("licensing", "US-NY", "US-TX")
    with served(settled), Terminal(quality, "licensing", "US-FL") as screen:
        assert "Goes: US-NY, US-TX. Stays: none. New: US-FL." in screen.sees("Sign: licensing set?")
        screen.sees(": ")
        screen.types(f"{key}\n")
        ended, rest = screen.ends()
    assert ended == code, rest
    assert signed(settled, "quality")["jurisdictions"] == left


def test_a_place_that_is_no_code_does_not_replace_the_list(settled: Town) -> None:
    """Who types Texas would lose US-TX, and no visit there be stopped for a license any more."""
    quality = settled.person("quality")
    quality.run("licensing", "US-NY", "US-TX")
    told = quality.answer("licensing", "US-NY", "Texas", code=2)
    assert [(each["code"], each["said"]) for each in told["slips"]] == [("no-region", "Texas")]
    assert signed(settled, "quality")["jurisdictions"] == ["US-NY", "US-TX"]
    quality.run("licensing", "US-NY", "Texas", "--anyway")
    assert signed(settled, "quality")["jurisdictions"] == ["US-NY", "Texas"]


def test_a_short_name_of_another_form_is_not_joined(settled: Town) -> None:
    """A device would belong to an organization that no ledger can have, and every entry of it be refused."""
    stranger = settled.person("newcomer")
    said = stranger.run("join", "--service", ADDRESS, "--org", "Harrow Field", code=2)
    assert "'Harrow Field' is no short name" in said
    assert "Nothing was joined." in said


def test_a_file_or_rule_that_is_not_there_is_named(settled: Town) -> None:
    """Whoever mistyped a file would look for a fault inside it."""
    inspector = settled.person("inspector")
    assert "There is no file nowhere.toml: check its name" in inspector.run("plan", "nowhere.toml", code=2)
    assert "`bailee rules` lists them all" in " ".join(inspector.run("rules", "XX-99", code=2).split())
