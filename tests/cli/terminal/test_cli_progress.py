"""How far long work has come: seen by whoever waits at a terminal, and by no program."""

from __future__ import annotations

import io
import subprocess
import sys
import time

import pytest

from bailee_cli.terminal import progress


class Terminal(io.StringIO):
    """Standard error where somebody looks."""

    def isatty(self) -> bool:
        return True


class Clock:
    """Seconds, as the test says."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def worked(seconds_a_step: float, steps: int = 10) -> None:
    """Ten steps, each of so many seconds."""
    clock = Clock()
    with progress.shown("Checking entries", clock) as told:
        for done in range(1, steps + 1):
            clock.now += seconds_a_step
            told(done, steps)


def test_in_a_pipe_there_are_plain_lines(capsys: pytest.CaptureFixture[str]) -> None:
    """If this fails, a nightly check fills its log with escape codes, or says nothing for an hour."""
    worked(5.0)
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.splitlines() == [
        "Checking entries: 2 of 10, about 40 s to go.",
        "Checking entries: 4 of 10, about 30 s to go.",
        "Checking entries: 6 of 10, about 20 s to go.",
        "Checking entries: 8 of 10, about 10 s to go.",
    ]


def test_what_is_done_at_once_says_nothing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """If this fails, every small check flickers."""
    worked(0.9)
    assert capsys.readouterr() == ("", "")
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    worked(0.1)
    assert terminal.getvalue() == ""


def test_at_a_terminal_there_is_a_bar_on_standard_error(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """If this fails, whoever waits for a repair takes it for dead and stops it."""
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    worked(1.0)
    shown = terminal.getvalue()
    assert "Checking entries" in shown
    assert "2/10" in shown
    assert "9/10" in shown
    assert "\x1b[" in shown
    assert "1/10" not in shown.replace("\x1b", " "), "shown before anybody wondered"
    assert capsys.readouterr().out == ""


def test_a_long_answer_of_the_service_shows_the_time_that_passed(monkeypatch: pytest.MonkeyPatch) -> None:
    """If this fails, whoever prints the labels of a large lot takes the service for dead and asks again."""
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    with progress.waiting("Drawing labels", after_s=0):
        while "0:00:" not in terminal.getvalue():
            time.sleep(0.01)
    assert "Drawing labels" in terminal.getvalue()
    monkeypatch.setattr(sys, "stderr", pipe := io.StringIO())
    with progress.waiting("Drawing labels", after_s=0):
        while not pipe.getvalue():
            time.sleep(0.01)
    assert pipe.getvalue() == "Drawing labels: the service is still at it.\n"
    monkeypatch.setattr(sys, "stderr", quick := Terminal())
    with progress.waiting("Drawing labels", after_s=1000):
        pass
    assert quick.getvalue() == ""


def test_without_the_library_there_are_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    """If this fails, an auditor who installed no more than was needed gets a traceback for a large file."""
    monkeypatch.setitem(sys.modules, "rich.console", None)
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    worked(4.0)
    assert terminal.getvalue().splitlines()[0] == "Checking entries: 1 of 10, about 36 s to go."
    assert "\x1b" not in terminal.getvalue()


def test_nothing_is_read_for_work_that_is_short() -> None:
    """If this fails, every verification waits for a library that draws nothing."""
    code = (
        "import sys; from bailee_cli.terminal import progress\n"
        "with progress.shown('x') as told: told(1, 2)\n"
        "print([name for name in ('rich', 'bailee.domain') if name in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
