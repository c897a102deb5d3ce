"""What stands open is shown before somebody accepts or disposes of the samples it is about.

What a decision leaves behind is printed on the custody record (domain rules RC-01 to RC-03). That it is shown
first, and that what a script types is recorded all the same, is our own promise (guides/typing.md, "Mistyped,
not signed"); common practice, no source.
"""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from terminal import Terminal, served
from town import ENVELOPE, INTACT, Town, dock


@pytest.fixture
def flagged(shipped: tuple[Town, list[str]]) -> tuple[Town, list[str]]:
    """Received with another seal than the one on record."""
    town, samples = shipped
    dock(town, *samples[:3], "--seal", "C-4799", "--seal-state", "intact", "--all-intact", "--counted", "3")
    return town, samples[:3]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "act"),
    [(("accept", ENVELOPE), "accepted"), (("accept", ENVELOPE, "--both"), "accepted"),
     (("dispose", ENVELOPE, "--how", "destroyed"), "disposed")],
)  # fmt: skip
@pytest.mark.parametrize(("key", "code", "more"), [("n", 1, 0), ("y", 0, 1)])
def test_at_a_terminal_what_stands_open_is_shown_and_asked_about(
    flagged: tuple[Town, list[str]], words: tuple[str, ...], act: str, key: str, code: int, more: int
) -> None:
    """Who types one line accepts an envelope whose seal was another, and learns of it from the report."""
    town, _ = flagged
    worker = town.person("dock")
    before = len(worker.outbox())
    with served(town), Terminal(worker, *words) as screen:
        shown = screen.sees(f"Sign: {act}?")
        assert "RC-02" in shown
        screen.sees(": ")
        screen.types(f"{key}\n")
        ended, rest = screen.ends()
    assert (ended, len(worker.outbox()) - before) == (code, more), rest


def test_a_script_is_recorded_as_told_and_hears_what_stands_open(flagged: tuple[Town, list[str]]) -> None:
    """A program that accepts whatever came in would do so without a word in anybody's log file."""
    town, samples = flagged
    worker = town.person("dock")
    for words in (
        ("accept", ENVELOPE),
        ("--json", "accept", samples[0], "--both"),
        ("dispose", *samples, "--how", "destroyed"),
    ):
        told = worker.type(*words)
        assert told.exit_code == 0, told.output
        assert "Seal number does not match the record (RC-02)" in told.stderr
        assert "It is recorded as typed." in told.stderr
        assert "It is recorded as typed." not in told.stdout


def test_another_cassette_that_is_missing_is_no_word_on_this_one(shipped: tuple[Town, list[str]]) -> None:
    """Who reads the same warning beside every cassette of a form stops reading it."""
    town, samples = shipped
    dock(town, *samples[:2], "--seal", "C-4711", "--seal-state", "intact", "--counted", "2", typed="1\n2\n")
    worker = town.person("dock")
    form = worker.answer("show")["forms"][0]["form"]
    found = worker.answer("check", form, code=1)["findings"]
    assert (samples[1], "flag") in [(each["about"], each["severity"]) for each in found]
    assert "RC-07" in worker.type("accept", samples[1], "--both").stderr
    assert "RC-07" not in worker.type("accept", samples[0], "--both").stderr


def test_nothing_open_says_nothing(shipped: tuple[Town, list[str]]) -> None:
    """Twelve envelopes in order would be twelve warnings, and the thirteenth is not read."""
    town, samples = shipped
    dock(town, *samples[:3], *INTACT, "--counted", "3")
    told = town.person("dock").type("accept", ENVELOPE)
    assert (told.exit_code, "Open on form" in told.stderr) == (0, False), told.output
    assert numbers.grouped(ENVELOPE) not in told.stderr


ONE_LEFT_OUT = ("--seal", "C-4711", "--seal-state", "intact", "--counted", "2")


@pytest.fixture
def cracked(shipped: tuple[Town, list[str]]) -> tuple[Town, list[str]]:
    """All three came, the second cracked."""
    town, samples = shipped
    dock(
        town, *samples[:3], "--seal", "C-4711", "--seal-state", "intact", "--counted", "3", typed="1\n2\n1\n"
    )
    return town, samples[:3]


@pytest.mark.slow
@pytest.mark.parametrize(("key", "taken"), [("y", (0, 1, 2)), ("o", (0, 2)), ("n", ())])
def test_what_has_a_flag_is_marked_and_can_be_left_out(
    cracked: tuple[Town, list[str]], key: str, taken: tuple[int, ...]
) -> None:
    """One y accepts the cracked cassette with the sound ones, and there is no other answer than none."""
    town, samples = cracked
    worker = town.person("dock")
    before = len(worker.outbox())
    with served(town), Terminal(worker, "accept", ENVELOPE, columns=80) as screen:
        shown = screen.sees("2 in order, 1 with a flag. y: accept all, o: those in order, n: none")
        assert f"{numbers.grouped(samples[0])}  in order" in shown
        assert f"{numbers.grouped(samples[1])}  FLAG RC-07" in shown
        screen.sees(": ")
        screen.types("maybe\n")
        screen.sees("Type y, o, or n.")
        screen.sees("n: none: ")
        screen.types(f"{key}\n")
        code, rest = screen.ends()
    assert (code, len(worker.outbox()) - before) == (0 if taken else 1, 1 if taken else 0), rest
    if taken:
        signed = worker.answer("outbox", "--show", str(worker.outbox()[-1]["seq"]))["data"]
        assert signed["samples"] == [samples[each] for each in taken]


@pytest.mark.slow
def test_what_is_missing_is_shown_before_the_rest_is_accepted(shipped: tuple[Town, list[str]]) -> None:
    """The only outdoor control never came, and whoever accepts the indoor samples beside it is not told."""
    town, samples = shipped
    dock(town, *samples[:2], *ONE_LEFT_OUT, "--all-intact")
    with served(town), Terminal(town.person("dock"), "accept", ENVELOPE, columns=80) as screen:
        shown = screen.sees("Sign: accepted?")
        for rule in ("OC-11", "RC-06", "RC-03", "RC-10"):
            assert f"  {rule}  " in shown, shown
        screen.sees(": ")
        screen.types("n\n")
        assert screen.ends()[0] == 1


@pytest.mark.slow
@pytest.mark.parametrize(("key", "code"), [("n", 1), ("y", 0)])
def test_what_has_no_flag_is_asked_about_at_a_terminal(
    shipped: tuple[Town, list[str]], key: str, code: int
) -> None:
    """A number pasted from the line above is accepted with no word to say no to."""
    town, samples = shipped
    dock(town, *samples[:3], *INTACT, "--counted", "3")
    worker = town.person("dock")
    before = len(worker.outbox())
    with served(town), Terminal(worker, "accept", samples[0]) as screen:
        screen.sees("Sign: accepted?")
        screen.sees(": ")
        screen.types(f"{key}\n")
        assert screen.ends()[0] == code
    assert len(worker.outbox()) - before == 1 - code
