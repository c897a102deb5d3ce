"""A time typed that is earlier than what must come before it: asked back at a terminal, signed by a script.

Our own promise (guides/typing.md); common practice, no source.
"""

from __future__ import annotations

import pytest

from field import FIRM
from terminal import Terminal, served
from town import ENVELOPE, INTACT, SEAL, Person, Town

EARLY = "2026-11-28 09:00"
SHIP = (
    "ship",
    ENVELOPE,
    "--carrier",
    "acorn-freight",
    "--service",
    "next day",
    "--service-days",
    "1",
    "--tracking",
    "AF-1",
    "--yes",
)
SECURE = ("secure", "--how", "locked", "--where", "vehicle", "--at", EARLY)
GIVE = ("give", "--to", FIRM, "--purpose", "shipping", "--count", "3", "--at", EARLY)
TAKE = ("take", "--condition", "intact", "--purpose", "shipping", "--count", "3", "--at")


def is_asked_back(person: Person, *words: str) -> str:
    """What is said; a no signs nothing."""
    before = len(person.outbox())
    with Terminal(person, *words) as screen:
        said = " ".join(screen.sees("Time again; or y: it is so; or n: ").split())
        screen.types("no\n")
        code, rest = screen.ends()
    assert (code, len(person.outbox())) == (1, before), rest
    assert "is earlier than what must come before it" in said
    return said


@pytest.mark.slow
def test_what_the_inspector_did_before_the_run_is_asked_back(collected: tuple[Town, list[str]]) -> None:
    """If this fails, samples are locked up on record days before they were collected."""
    town, samples = collected
    with served(town):
        assert "the run of" in is_asked_back(town.person("inspector"), *SECURE)
        assert "the run of" in is_asked_back(town.person("inspector"), *GIVE, *samples[:3])


@pytest.mark.slow
def test_what_is_taken_before_it_was_given_is_asked_back(collected: tuple[Town, list[str]]) -> None:
    """If this fails, the clerk holds samples on record while the inspector still does."""
    town, samples = collected
    town.person("inspector").run("give", *samples[:3], "--to", FIRM)
    town.clock.advance(hours=2)
    with served(town):
        said = is_asked_back(town.person("clerk"), *TAKE, "2026-12-01 09:20", *samples[:3])
        assert "Inspector Person relinquished" in said
        with Terminal(town.person("clerk"), *TAKE, "2026-12-01 09:20", *samples[:3]) as screen:
            screen.sees("Time again; or y: it is so; or n: ")
            screen.types("2026-12-01 09:40\n")
            code, rest = screen.ends()
    assert code == 0, rest
    assert town.person("clerk").answer("outbox", "--show", "1")["data"]["at"] == "2026-12-01T09:40:00-05:00"


@pytest.mark.slow
def test_an_envelope_is_not_sealed_before_its_samples_were_there(visited: tuple[Town, list[str]]) -> None:
    """If this fails, an envelope is closed on record before the last cassette in it was collected."""
    town, samples = visited
    words = ("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL, "--at")
    clerk = town.person("clerk")
    with served(town):
        assert "you received" in is_asked_back(clerk, *words, EARLY)
        assert "was earlier" not in clerk.run(*words, "2026-12-01 09:30")


@pytest.mark.slow
def test_an_envelope_is_not_handed_over_before_its_seal(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the carrier has the envelope on record before anybody closed it."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    with served(town):
        assert "was sealed at" in is_asked_back(clerk, *SHIP, "--classified", "not_regulated", "--at", EARLY)


@pytest.mark.slow
def test_the_dock_does_not_open_what_is_not_shipped_yet(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, the laboratory opened an envelope on record that lay at the firm."""
    town, samples = shipped
    words = ("receive", ENVELOPE, *samples[:3], *INTACT, "--package", "sound", "--record-enclosed")
    typed = ("--temperature", "20", "--counted", "3", "--yes", "--at", "2026-12-01 08:00")
    with served(town):
        assert "was shipped at" in is_asked_back(town.person("dock"), *words, *typed)


def test_a_script_signs_it_and_the_rules_find_it(collected: tuple[Town, list[str]]) -> None:
    """If this fails, a program that uploads old entries stands still at a question nobody hears."""
    town, _ = collected
    assert "Recorded: held" in town.person("inspector").run(*SECURE)
