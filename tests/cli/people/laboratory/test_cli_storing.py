"""The laboratory's stores at the terminal: typed, scanned, asked for; and a disposal too early asked back."""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from terminal import Terminal, served
from town import INTACT, Town, dock, last


@pytest.fixture
def received(shipped: tuple[Town, list[str]]) -> tuple[Town, list[str]]:
    """An envelope opened whole."""
    town, samples = shipped
    dock(town, *INTACT, "--counted", str(len(samples[:3])), *samples[:3])
    return town, samples[:3]


def test_put_away_taken_out_and_put_back(received: tuple[Town, list[str]]) -> None:
    """The record would have the custodian hold the glass in their hands for three weeks."""
    town, samples = received
    worker = town.person("dock")
    lock = ("--store", "FR-1", "--how", "locked")
    scans = "".join(f"{each}\n" for each in samples) + "\n"
    assert "Recorded: stored" in worker.run(
        "store", *lock, "--keep-until", "2027-03-01", "--low-c", "36 F", "--high-c", "8", typed=scans
    )
    said = last(town, "dock")
    assert (said["samples"], said["store"], said["low_c"], said["high_c"]) == (samples, "FR-1", "2.2", "8")
    form = worker.answer("show")["forms"][0]["form"]
    told = {each["sample"]: each for each in worker.answer("show", form)["samples"]}
    assert {(told[each]["holder"], told[each]["store"], told[each]["keep_until"]) for each in samples} == {
        ("store FR-1", "FR-1", "2027-03-01")
    }
    assert "store FR-1" in worker.run("show", samples[0])
    assert "Recorded: withdrawn" in worker.run(
        "withdraw", samples[0], "--store", "FR-1", "--purpose", "analysis"
    )
    assert "Recorded: stored" in worker.run("store", samples[0], *lock)
    assert "CU-2" not in worker.run("show", form)
    assert "Nothing was scanned" in worker.run("store", *lock, typed="\n", code=2)


def test_the_store_is_asked_for(received: tuple[Town, list[str]]) -> None:
    """Who types the verb alone would sign a store without a lock, or none."""
    town, samples = received
    worker = town.person("dock")
    with served(town), Terminal(worker, "store", samples[0]) as screen:
        for question, answer in (
            ("Which store", "FR-2"),
            ("How it is secured", "1"),
            ("Keep until", "2027-03-01"),
        ):
            screen.sees(question)
            screen.sees(": ")
            screen.types(f"{answer}\n")
        screen.sees("Sign: stored?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(town, "dock")
    assert (said["store"], said["secured"], said["keep_until"]) == ("FR-2", "locked", "2027-03-01")


def test_a_disposal_before_its_day_is_asked_back(received: tuple[Town, list[str]]) -> None:
    """What is destroyed comes back for nobody, and the day stood on the same screen."""
    town, samples = received
    worker = town.person("dock")
    worker.run("accept", *samples)
    worker.run("store", *samples, "--store", "FR-1", "--how", "locked", "--keep-until", "2027-03-01")
    said = " ".join(worker.run("dispose", samples[0], "--how", "destroyed", code=2).split())
    assert f"{numbers.grouped(samples[0])}: to be kept until 2027-03-01, and this is 2026-12-0" in said
    assert "Recorded: disposed" in worker.run("dispose", samples[0], "--how", "destroyed", "--anyway")
    assert "Recorded: disposed" in worker.run("dispose", samples[1], "--how", "archived")
    assert "RC-23" in worker.run("show", samples[0])


def test_a_sample_is_no_store(received: tuple[Town, list[str]]) -> None:
    """The label at hand is scanned for the store, and the glass lies in a glass for ever."""
    town, samples = received
    worker = town.person("dock")
    lock = ("--store", samples[1], "--how", "locked")
    said = " ".join(worker.run("store", samples[0], *lock, code=2).split())
    assert f"{numbers.grouped(samples[1])} is the number of a cassette label, not of a store" in said
    assert "Recorded: stored" in worker.run("store", samples[0], *lock, "--anyway")


def test_nothing_is_withdrawn_from_where_nothing_was_put(received: tuple[Town, list[str]]) -> None:
    """A store mistyped at the bench leaves a gap in the custody of glass that never lay there."""
    town, samples = received
    worker = town.person("dock")
    out = ("withdraw", samples[0], "--purpose", "analysis", "--store")
    assert "None of what is withdrawn was put into store FR-9." in " ".join(
        worker.run(*out, "FR-9", code=2).split()
    )
    worker.run("store", samples[0], "--store", "FR-1", "--how", "locked")
    assert "On record they lie in FR-1." in " ".join(worker.run(*out, "FR-9", code=2).split())
    assert "Recorded: withdrawn" in worker.run(*out, "FR-9", "--anyway")
    assert "--store" in worker.run(*out[:-1], code=2)


def test_the_store_that_holds_them_is_offered(received: tuple[Town, list[str]]) -> None:
    """Who has to type where it lies from memory withdraws it from another freezer."""
    town, samples = received
    worker = town.person("dock")
    worker.run("store", samples[0], "--store", "FR-1", "--how", "locked")
    worker.run("store", samples[1], "--store", "FR-2", "--how", "locked")
    with served(town):
        with Terminal(worker, "withdraw", *samples[:2], "--purpose", "analysis") as screen:
            screen.sees("Which store (1 FR-1, 2 FR-2): ")
            screen.types("\n")
            screen.sees("Enter an answer: there is no usual one.")
        with Terminal(worker, "withdraw", samples[1], "--purpose", "analysis") as screen:
            seen = screen.sees("Sign: withdrawn?")
            assert "Which store" not in seen, "all of it lies in one"
            assert "FR-2" in seen
            screen.types("y\n")
            code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "dock")["store"] == "FR-2"
