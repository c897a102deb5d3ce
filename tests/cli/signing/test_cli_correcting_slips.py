"""A correction is held against the slips of the act that it corrects, and shown before it is signed.

What is a slip: tests/asking/test_slips.py. The rest is our own promise (the guide on typing); no outside
source.
"""

from __future__ import annotations

import pytest

from terminal import Terminal, served
from town import Town, last


@pytest.mark.parametrize(
    ("assignment", "code"),
    [
        ("flow_after=1.49", "flow-far-off"),
        ("run_s=5", "run-of-seconds"),
        ("run_s=55", "run-without-unit"),
        ("run_s=50000", "run-of-hours"),
        ("temperature_c=68", "fahrenheit"),
        ("pressure_hpa=29.9", "pressure-in-another-unit"),
        ("started=2026-11-30 09:05", "another-day"),
        ("started=2026-12-01 17:00", "still-to-come"),
        ("stopped=2026-12-01 17:00", "still-to-come"),
        ("started=2026-12-01 09:28", "run-not-over"),
    ],
)
def test_a_slip_in_a_correction_is_refused_in_a_script(
    collected: tuple[Town, list[str]], assignment: str, code: str
) -> None:
    """A value that was right would be replaced by one ten times off, with a signature beneath it."""
    town, samples = collected
    inspector = town.person("inspector")
    before = len(inspector.outbox())
    words = ("correct", samples[0], assignment, "--reason", "typing")
    told = inspector.answer(*words, code=2)
    found = [each["code"] for each in told["slips"]]
    assert (told["code"], found[0]) == ("slip", code)
    assert set(found[1:]) <= {"pump-in-two-places"}, "it would run into the next"
    assert len(inspector.outbox()) == before
    assert "Signed all the same" in inspector.run(*words, "--anyway")
    assert len(inspector.outbox()) == before + 1


def test_what_stands_is_not_asked_about_in_a_correction_beside_it(collected: tuple[Town, list[str]]) -> None:
    """Who mends the height of a run that was short indeed would be refused for its length."""
    town, samples = collected
    inspector = town.person("inspector")
    inspector.run("correct", samples[0], "run_s=20", "--reason", "typing", "--anyway")
    inspector.run("correct", samples[0], "height_m=1.3", "--reason", "typing")


@pytest.mark.slow
def test_a_correction_is_asked_back_shown_and_signed_for(collected: tuple[Town, list[str]]) -> None:
    """The practitioner would see only afterwards what they had signed, and for what reason."""
    town, samples = collected
    inspector = town.person("inspector")
    before = len(inspector.outbox())
    with served(town):
        for ends, sign in ((1, "n"), (0, "y")):
            with Terminal(inspector, "correct", samples[2], "flow_after=1.48", columns=80) as screen:
                screen.sees("like 14.8; or y: it is so; or n: ")
                screen.types("14.8\n")
                screen.sees("Reason: ")
                screen.types("1\n")
                shown = screen.sees("Sign: corrected?")
                assert "flow_after" in shown
                assert "14.9 L/min becomes 14.8 L/min" in shown
                screen.sees(": ")
                screen.types("1\n")
                screen.sees("flow_after, corrected: ")
                screen.types("14.7\n")
                assert "14.9 L/min becomes 14.7 L/min" in screen.sees("Sign: corrected?")
                screen.types(f"{sign}\n")
                code, rest = screen.ends()
            assert code == ends, rest
            assert len(inspector.outbox()) == before + 1 - ends
    assert last(town)["new"] == "14.7"


def test_a_corrected_pump_is_held_against_its_other_runs(collected: tuple[Town, list[str]]) -> None:
    """A pump would run twice at one time by a correction, which `collect` had asked back (PV-10)."""
    town, samples = collected
    inspector = town.person("inspector")
    inspector.run("correct", samples[1], "pump=P-8", "--reason", "typing")
    start = inspector.answer("show", samples[0])["state"]["started"]
    moved = ("correct", samples[1], f"started={start}", "--reason", "typing")
    inspector.run(*moved)
    words = ("correct", samples[1], "pump=P-7", "--reason", "typing")
    told = inspector.answer(*words, code=2)
    assert [(each["code"], each["field"]) for each in told["slips"]] == [("pump-in-two-places", "pump")]
    inspector.run("correct", samples[1], "pump=P-9", "--reason", "typing")
