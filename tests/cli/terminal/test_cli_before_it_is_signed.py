"""At a real terminal, before anything is signed: whether this key may say it, whether this clock is right,
where the key was looked for. The same from a script: tests/cli/people/test_cli_permission.py,
tests/cli/device/test_cli_clock.py and tests/cli/device/test_cli_device_failures.py.

Our own promise (README, guides/typing.md); common practice, no source.
"""

from __future__ import annotations

import pytest

from terminal import CTRL_C, Terminal, served
from town import INDOOR, OPEN, Town, collect

pytestmark = pytest.mark.slow


def test_who_may_not_say_it_is_told_before_they_are_asked_to_sign(settled: Town) -> None:
    """If this fails, an inspector answers every question, signs, is refused, and a number is lost."""
    inspector = settled.person("inspector")
    with served(settled), Terminal(inspector, "train", columns=80) as screen:
        screen.sees(": ")
        screen.types("Inspector Person\n")
        code, rest = screen.ends()
    assert (code, "Nothing was signed." in " ".join(rest.split()), "Sign:" in rest) == (1, True, False), rest
    assert inspector.outbox() == []


def test_a_clock_that_is_two_hours_behind_is_said_before_the_signature(settled: Town) -> None:
    """If this fails, how the cassettes were kept is on record two hours before they were collected."""
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    collect(settled, samples[0], INDOOR)
    with served(settled), Terminal(settled.person("inspector"), "secure", columns=80) as screen:
        screen.sees("How the samples are secured")
        screen.sees("): ")
        settled.clock.advance(hours=2)
        screen.types("3\n")
        screen.sees("Where (")
        screen.sees("): ")
        screen.types("2\n")
        shown = " ".join(screen.sees("Sign: held?").split())
        assert "The clock of this device" in shown
        assert "2 h behind" in shown
        screen.sees(": ")
        told = shown.split()
        screen.types(f"{told[told.index('since') - 1]}\n")
        asked = screen.sees("]: ")
        assert "When it happened" in asked
        assert max(map(len, asked.split("\n"))) <= 80, asked
        screen.types("\n")
        screen.sees("Sign: held?")
        screen.sees(": ")
        screen.types("n\n")
        code, rest = screen.ends()
    assert (code, "Nothing was signed." in rest) == (1, True)


def test_a_second_window_says_where_it_looked_and_who_is_there(settled: Town) -> None:
    """If this fails, somebody without BAILEE_HOME makes a second key and speaks with two."""
    with Terminal(settled.person("nobody"), "key", "show", columns=80) as screen:
        code, rest = screen.ends()
    assert code == 3, rest
    assert "BAILEE_HOME names another folder" in " ".join(rest.split())


def test_a_full_device_leaves_no_half_key_and_says_which_folder(settled: Town) -> None:
    """If this fails, half a key is there for ever, or a person reads a page of Python."""
    newcomer = settled.person("newcomer")
    with Terminal(newcomer, "key", "new", columns=80, full=True) as screen:
        code, rest = screen.ends()
    said = "".join(rest.split())
    assert (code, "Traceback" in rest, str(newcomer.folder) in said) == (3, False, True), rest
    assert not newcomer.folder.exists() or list(newcomer.folder.iterdir()) == []


def test_a_day_that_may_be_two_is_asked_back(settled: Town) -> None:
    """If this fails, a visit of the eleventh of December stands on record as one of November."""
    inspector = settled.person("inspector")
    with served(settled), Terminal(inspector, *OPEN, "--visit", "11/12/2026", columns=80) as screen:
        assert "which is the month? Write 2026-11-12 or 2026-12-11." in screen.sees("Type it again; or n: ")
        screen.types(CTRL_C)
        code, rest = screen.ends()
    assert code == 1, rest
    assert inspector.outbox() == []


def test_ctrl_c_at_the_last_question_says_that_nothing_was_signed(settled: Town) -> None:
    """If this fails, whoever breaks off does not know whether it stands on record."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    before = len(inspector.outbox())
    with served(settled), Terminal(inspector, "secure", "--where", "vehicle", columns=80) as screen:
        screen.sees("How the samples are secured")
        screen.sees("): ")
        screen.types("3\n")
        screen.sees("Sign: held?")
        screen.sees(": ")
        screen.types(CTRL_C)
        code, rest = screen.ends()
    told = "Aborted: nothing was signed. What you answered is not kept."
    assert (code, told in rest) == (1, True), rest
    assert len(inspector.outbox()) == before
