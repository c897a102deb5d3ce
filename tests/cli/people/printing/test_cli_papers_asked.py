"""Papers at a terminal: what is asked for them, and where they are written (our own promise, no outside
source).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bailee.domain import numbers
from terminal import CTRL_C, Terminal, served
from town import ENVELOPE, OPEN, SEAL, Town

pytestmark = pytest.mark.slow


def test_a_paper_has_the_name_that_was_typed(
    visited: tuple[Town, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sheet would lie in a file named `=sheet.pdf`, and the clerk finds none to print."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    monkeypatch.chdir(town.folder)
    paper = town.folder / "sheet.pdf"
    with served(town), Terminal(clerk, "sealed-sheet", ENVELOPE) as screen:
        screen.sees("Write to this PDF file: ")
        screen.types(f"{paper}\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert paper.read_bytes().startswith(b"%PDF")


def test_a_number_that_cannot_be_is_refused_before_anything_is_asked(settled: Town) -> None:
    """The clerk would be asked for a file name, and hear only then that the number was cut at its spaces."""
    words = numbers.grouped(ENVELOPE).split()
    with served(settled), Terminal(settled.person("clerk"), "sealed-sheet", *words) as screen:
        code, rest = screen.ends()
    assert code == 2
    assert "goes in quotes" in " ".join(rest.split())
    assert "PDF file:" not in rest


def test_pen_forms_are_asked_for(settled: Town, tmp_path: Path) -> None:
    """Typed bare, the verb would name its options, and nobody in a hurry reads on."""
    paper = tmp_path / "blank.pdf"
    with served(settled), Terminal(settled.person("inspector"), "paper") as screen:
        for asked, text in (
            ("Write to this PDF file: ", str(paper)),
            ("Form of the visit", ""),
            ("How many blank sheets", "2"),
        ):
            screen.sees(asked)
            if not asked.endswith(": "):
                screen.sees(": ")
            screen.types(f"{text}\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert paper.read_bytes().startswith(b"%PDF")
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    form = inspector.outbox()[-1]["chain"].removeprefix("form/")
    with served(settled), Terminal(inspector, "paper", "-o", str(paper)) as screen:
        screen.sees(f"(- prints blank sheets, for a visit not opened yet) [{numbers.grouped(form)}]: ")
        screen.types("\n")
        code, rest = screen.ends()
    assert (code, numbers.grouped(form) in rest) == (0, True), rest


def test_which_sheet_is_entered_is_asked(settled: Town) -> None:
    """Typed bare, the verb would end before the sheet on the table was named."""
    with served(settled), Terminal(settled.person("inspector"), "enter-paper") as screen:
        screen.sees("Sheet: ")
        screen.types("nonsense\n")
        code, rest = screen.ends()
    assert code == 2, rest


def test_an_envelope_has_the_number_of_the_record_that_lies_in_it(
    visited: tuple[Town, list[str]], tmp_path: Path
) -> None:
    """The record inside would name an envelope that never was, and the dock open one without a record."""
    town, samples = visited
    clerk = town.person("clerk")
    told = clerk.answer("record", samples[0], "--seal", "C-4711", "-o", str(tmp_path / "record.pdf"))
    words = ("seal", *samples[:3], "--counted", "3", "--across-opening", "--record-enclosed", "--plain-tape")
    with served(town):
        with Terminal(clerk, *words, "--envelope", ENVELOPE, "--seal", "C-4711", columns=80) as screen:
            shown = " ".join(screen.sees("Envelope again, like").split())
            assert f"names envelope {numbers.grouped(told['envelope'])}, not" in shown
            screen.sees("or n: ")
            screen.types("n\n")
            assert screen.ends()[0] == 1
        with Terminal(clerk, *words, "--anew", columns=80) as screen:
            screen.sees("Number on the custody seal: ")
            screen.types("C-4711\n")
            screen.sees("the record printed for this seal names it.")
            screen.types(CTRL_C)
            rest = screen.ends()[1]
    assert told["envelope"] in rest
