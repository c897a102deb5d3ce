"""On the screen before the signature every line that somebody said has a number, whether it was asked or
typed as an option, and can be said again.

Our own promise (the guide on typing); common practice, no source.
"""

from __future__ import annotations

import re

import pytest

from field import FIRM, LAB
from terminal import Terminal, served
from town import ENVELOPE, INDOOR, INTACT, OPEN, SEAL, Town, last

pytestmark = pytest.mark.slow


def change(screen: Terminal, what: str, asked: str, answer: str) -> str:
    """Choose the line of this label on the screen, and answer its question; the screen as it was."""
    seen = screen.sees("a number changes that line: ")
    lines = [line.split(maxsplit=1) for line in seen.splitlines()]
    number = next(
        first for first, *rest in filter(None, lines) if rest and f"{rest[0]} ".startswith(f"{what} ")
    )
    screen.types(f"{number}\n")
    screen.sees(asked)
    screen.sees("]: ")
    screen.types(f"{answer}\n")
    return seen


def test_the_start_of_a_run_is_said_again(settled: Town) -> None:
    """A start that is ten minutes off would cost all the answers that came before it."""
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    words = INDOOR[: INDOOR.index("--flow-after")] + INDOOR[INDOOR.index("--flow-after") + 2 :]
    typed = ("--serial", "K-1", "--started", "08:30", "--temperature-c", "68 F")
    with (
        served(settled),
        Terminal(settled.person("inspector"), "collect", samples[0], *words, *typed) as screen,
    ):
        screen.sees("Flow after the run")
        screen.types("14.9\n")
        assert "08:30" in change(screen, "started", "Start of the run", "tomorrow")
        screen.sees("is not a time: ")
        screen.sees("Type it again; or n: ")
        screen.types("08:40\n")
        assert "08:40" in change(screen, "temperature", "[20.0", "71.6 F")
        change(screen, "place", "in words", "at the door")
        change(screen, "planned", "Planned run time", "")
        seen = screen.sees("a number changes that line: ")
        assert "22.0 °C" in seen
        assert "at the door" in seen
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(settled, "inspector")
    assert said["started"].startswith("2026-12-01T08:40:00")
    assert (said["temperature_c"], said["planned_s"]) == ("22.0", 300)


def test_the_time_of_a_hand_over_is_said_again(collected: tuple[Town, list[str]]) -> None:
    """Whoever typed the wrong hour as an option would answer everything again, or sign it."""
    town, samples = collected
    words = ("give", *samples[:3], "--to", FIRM, "--purpose", "shipping", "--at", "09:28")
    with served(town), Terminal(town.person("inspector"), *words) as screen:
        screen.sees("counted (Enter: not counted): ")
        screen.types("3\n")
        change(screen, "at", "When it happened", "09:30")
        change(screen, "to", "organization", LAB)
        change(screen, "purpose", "Purpose", "")
        screen.sees("a number changes that line: ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(town, "inspector")
    assert (said["at"][:16], said["to"], said["purpose"], said["count"]) == (
        "2026-12-01T09:30", LAB, "shipping", 3,
    )  # fmt: skip


def test_the_expiration_date_of_a_box_is_said_again(settled: Town) -> None:
    """A year typed wrongly would be signed, since the rest of the box would have to be typed anew."""
    words = (
        "lot", "receive", "--maker-lot", "41-0093", "--cassette", "slit", "--expiry", "2027-03",
        "--count", "4",
    )  # fmt: skip
    with served(settled), Terminal(settled.person("keeper"), *words) as screen:
        screen.sees(": ")
        screen.types("15\n")
        change(screen, "expiry", "As printed", "2028-03")
        seen = screen.sees("a number changes that line: ")
        assert "2028-03" in seen
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled, "keeper")["expiry"] == "2028-03"


def test_the_number_of_an_envelope_is_said_again(visited: tuple[Town, list[str]]) -> None:
    """The label on the envelope is another one: the clerk would scan all of it again, and one cassette would
    lie in two envelopes that were begun.
    """
    town, samples = visited
    clerk = town.person("clerk")
    words = ("seal", *samples[:3], "--counted", "3", "--seal", "C-4711", "--across-opening")
    with served(town), Terminal(clerk, *words) as screen:
        screen.sees("Is the custody record in the envelope?")
        screen.types("y\n")
        screen.sees("Bags or boxes, from outside")
        screen.types("2\n")
        change(screen, "envelope", "Number of the envelope", ENVELOPE)
        seen = change(screen, "containers", "Bags or boxes", "1")
        assert re.search("containers +2", seen), seen
        change(screen, "at", "When it happened", "09:29")
        change(screen, "across opening", "across the opening", "n")
        seen = change(screen, "across opening", "across the opening", "y")
        assert re.search("across opening +no", seen), seen
        screen.sees("a number changes that line: ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert (last(town, "clerk")["envelope"], last(town, "clerk")["containers"]) == (ENVELOPE, 1)
    assert "Begun at" not in clerk.run("seal", "--counted", "1", *SEAL, code=2)


def test_a_visit_shows_what_was_typed_and_lets_it_be_changed(settled: Town) -> None:
    """A contact or a method typed as an option would be signed unseen."""
    words = OPEN[: OPEN.index("--zone")] + OPEN[OPEN.index("--zone") + 2 :]
    with served(settled), Terminal(settled.person("inspector"), *words, "--quiet") as screen:
        screen.sees("Time zone of the site")
        screen.sees(": ")
        screen.types("America/New_York\n")
        change(screen, "method", "ethod", "ASTM D7391")
        screen.sees("a number changes that line: ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled, "inspector")["method"] == "ASTM D7391"


def test_what_the_ledger_reckons_has_no_number(visited: tuple[Town, list[str]]) -> None:
    """A new delivery time typed into the ledger's own would make a hand-carried envelope of one that a
    carrier takes.
    """
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--counted", "3", "--envelope", ENVELOPE, *SEAL)
    words = ("ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "next day", "--service-days", "1")
    with served(town), Terminal(clerk, *words, "--tracking", "AF-1") as screen:
        screen.sees("Transport class")
        screen.sees(": ")
        screen.types("1\n")
        seen = change(screen, "service", "service", "two days")
        (line,) = [each.split() for each in seen.splitlines() if " expected delivery " in each]
        assert line[0] == "expected"
        change(screen, "handed over", "When it happened", "09:29")
        change(screen, "tracking", "airbill", "AF-2")
        screen.sees("a number changes that line: ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(town, "clerk")
    assert (said["service"], said["tracking"], said["handed_over"][:16]) == (
        "two days", "AF-2", "2026-12-01T09:29",
    )  # fmt: skip


def test_what_the_dock_typed_is_said_again(shipped: tuple[Town, list[str]]) -> None:
    """A worker who typed "sound", and sees the wet corner while they read the screen, would sign it so."""
    town, samples = shipped
    words = ("receive", ENVELOPE, *samples[:3], *INTACT, "--package", "sound", "--record-enclosed")
    with served(town), Terminal(town.person("dock"), *words, "--temperature", "20") as screen:
        screen.sees("Samples counted by hand: ")
        screen.types("3\n")
        change(screen, "package", "Package", "wet, torn")
        change(screen, "seal state", "Seal state", "broken")
        change(screen, "record enclosed", "Is the custody record enclosed", "n")
        change(screen, "temperature", "Inside on opening", "68 F")
        change(screen, "seal ", "Number read on the seal", "C-4712")
        seen = change(screen, "package", "Package", "")
        assert "wet, torn" in seen
        screen.sees("a number changes that line: ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(town, "dock")["dock"]
    assert (said["package"], said["seal_state"], said["seal"]) == (["wet", "torn"], "broken", "C-4712")
    assert (said["record_enclosed"], said["temperature_c"]) == (False, "20.0")
