"""What is said at the keyboard before anything is signed."""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from bailee_cli.signing import visits
from field import FIRM
from terminal import Terminal, served
from town import INTACT, Town, flat
from town import dock as at_the_dock

SEAL = ("--seal", "C-4711", "--across-opening", "--record-enclosed", "--yes")
ENVELOPE = numbers.issue("envelope", lambda _: "2")


def test_a_clerk_is_told_before_voiding_and_an_inspector_is_not(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the clerk learns from the record that a clerk may not void."""
    town, samples = visited
    said = flat(town.person("clerk").run("void", samples[0], "--reason", "dropped", "--yes"))
    assert "SI-03" in said
    assert said.index("which that role does not include") < said.index("Recorded: voided")
    assert "SI-03" not in town.person("inspector").run("void", samples[1], "--reason", "dropped")


def test_a_void_that_is_warned_of_is_not_signed_where_nobody_can_be_asked(
    visited: tuple[Town, list[str]],
) -> None:
    """If this fails, a script at the clerk's desk voids what a clerk may not void, and ends with 0."""
    town, samples = visited
    clerk = town.person("clerk")
    before = len(clerk.outbox())
    void = ("void", samples[0], "--reason", "dropped")
    said = flat(clerk.run(*void, code=1))
    assert "would be voided with 1 remark. Nothing was signed: --yes signs it all the same." in said
    told = clerk.answer(*void, code=1)
    assert (told["code"], [each["rule"] for each in told["findings"]]) == ("warned", ["SI-03"])
    assert len(clerk.outbox()) == before


def test_a_cassette_is_voided_once(visited: tuple[Town, list[str]]) -> None:
    """If this fails, two people each void the dropped cassette, with two reasons, and nobody can say later
    which one counts.
    """
    town, samples = visited
    inspector, second = town.person("inspector"), town.person("second")
    inspector.run("void", samples[0], "--reason", "dropped")
    again = ("void", samples[0], "--reason", "pump_fault")
    for person in (second, inspector):
        said = flat(person.run(*again, code=1))
        assert f"{numbers.grouped(samples[0])} is void already: dropped. Nothing was signed." in said
    assert second.outbox() == []
    assert "what can be corrected" in flat(second.run(*again, code=1))
    assert "dropped" in second.run("correct", samples[0], "--act", "voided")
    assert "Recorded: voided" in second.run(*again, "--both")


def test_a_void_whose_answer_was_lost_is_not_taken_for_somebody_elses(
    visited: tuple[Town, list[str]],
) -> None:
    """If this fails, the inspector is told that the cassette is void already, and the statement waits on the
    phone for ever.
    """
    town, samples = visited
    void = ("void", samples[0], "--reason", "dropped")
    town.line.weather = "answer lost"
    town.person("inspector").run(*void)
    town.line.weather = "fine"
    said = town.person("inspector").run(*void)
    assert "Signed already" in said
    assert "Recorded: voided" in said


def test_voiding_waits_for_no_network(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a cassette dropped in the basement cannot be voided there."""
    town, samples = visited
    said = town.person("inspector").run("void", samples[0], "--reason", "dropped", "--offline")
    assert "Signed and saved on this device" in said


def test_a_spare_scanned_in_is_told_to_stay_out_and_nothing_is_signed(
    visited: tuple[Town, list[str]],
) -> None:
    """If this fails, an unused cassette travels as a sample, or the clerk reads three rules about it."""
    town, samples = visited
    clerk = town.person("clerk")
    before = len(clerk.outbox())
    said = flat(clerk.run("seal", *samples, "--envelope", ENVELOPE, "--counted", "4", *SEAL, code=1))
    assert "leave it out" in said
    assert f"`bailee seal --envelope {ENVELOPE} --leave-out {samples[3]}`" in said
    assert "SE-01" not in said
    assert len(clerk.outbox()) == before
    assert "Recorded: sealed" in clerk.run(
        "seal", "--leave-out", samples[3], "--envelope", ENVELOPE, "--counted", "3", *SEAL
    )


def test_what_lies_on_the_desk_is_named_with_who_voids_it(
    visited: tuple[Town, list[str]],
) -> None:
    """If this fails, one cassette of the visit stays on the desk until the laboratory asks for it."""
    town, samples = visited
    said = flat(
        town.person("clerk").run(
            "seal", *samples[1:3], "--envelope", ENVELOPE, "--counted", "2", *SEAL, code=None
        )
    )
    assert "SE-13" in said
    assert numbers.grouped(samples[0]) in said
    assert "Ask the inspector: if it will not be analyzed, void it." in said
    assert "bailee void" not in said  # that is no clerk's


def test_what_was_not_received_is_not_accepted(shipped: tuple[Town, list[str]]) -> None:
    """The custodian's accept of an envelope that lies unopened is signed, and only a flag tells it
    afterwards.
    """
    town, samples = shipped
    dock = town.person("dock")
    before = len(dock.outbox())
    said = flat(dock.run("accept", *samples[:3], code=1))
    assert "no entry shows that a laboratory received them" in said
    assert "Nothing was signed." in said
    assert "bailee receive" in said
    told = dock.answer("accept", samples[0], code=1)
    assert (told["code"], [each["rule"] for each in told["findings"]]) == ("blocked", ["RC-21"])
    assert len(dock.outbox()) == before


def test_a_receipt_that_waits_is_sent_before_a_decision_is_asked_about(
    shipped: tuple[Town, list[str]],
) -> None:
    """The dock's receipt lies in the outbox since the network went away: the decision is refused for its
    sake.
    """
    town, samples = shipped
    town.line.weather = "answer lost"
    at_the_dock(town, *INTACT, "--counted", "3", *samples[:3])
    town.line.weather = "fine"
    town.clock.advance(minutes=5)
    assert "Recorded: accepted" in town.person("dock").run("accept", *samples[:3])


@pytest.mark.slow
def test_every_answer_names_what_it_is_about(collected: tuple[Town, list[str]]) -> None:
    """Who corrects one of four cassettes, secures or relinquishes them would read that something was
    recorded, and not of which, how, or to whom.
    """
    town, samples = collected
    sample = numbers.grouped(samples[0])
    with served(town):
        for words, about in (
            (
                ("correct", samples[0], "covers_on=false", "--reason", "typing"),
                f"covers on of 1 sample: {sample}",
            ),
            (
                ("secure", "--how", "locked", "--where", "vehicle"),
                "all samples of it that you hold: locked, vehicle",
            ),
            (("give", samples[0], "--to", FIRM, "--count", "1"), f"1 sample: {sample}; to {FIRM}"),
        ):
            with Terminal(town.person("inspector"), *words) as screen:
                if words[0] == "correct":
                    assert "covers_on  yes becomes no" in screen.sees("Sign: corrected?")
                    screen.types("y\n")
                if words[0] == "give":
                    screen.sees("Purpose: ")
                    screen.types("2\n")
                    screen.sees("Sign: relinquished?")
                    screen.types("y\n")
                code, rest = screen.ends()
            assert code == 0, rest
            assert f"  about {about}\n" in rest


@pytest.mark.slow
def test_what_follows_on_a_lot_names_the_lot(settled: Town) -> None:
    """The media keeper would be offered a command without the number that was just given to the box."""
    words = ("--maker-lot", "41-0093", "--cassette", "slit", "--count", "4", "--expiry", "2039-06")
    with served(settled), Terminal(settled.person("keeper"), "lot", "receive", *words) as screen:
        screen.sees("Flow the maker states")
        screen.types("15\n")
        shown = screen.sees("Sign: lot received?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    lot = rest.split("\nLot ")[1].split("\n")[0]
    assert f"`bailee lot issue {lot.replace(' ', '')}" in rest
    assert f"Lot {lot}" in shown
    assert "300 s" in shown


def test_what_was_not_entered_is_shown_in_words() -> None:
    """A program's own word for nothing would stand where a person agrees to what they sign."""
    shown = visits.shown({"cleaned_h_ago": "48", "works_h_ago": None})
    assert shown == "cleaned h ago 48; works h ago not recorded"
