"""A command typed wrongly: what is said must tell what to write, in lines that fit the screen.

The wording is our own; that a command line answers such things with 2 and on standard error is common
practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bailee.domain import numbers
from town import Town

SAMPLE = numbers.issue("sample", lambda _: "4")
DEVELOPERS = (
    "integer",
    "x>=",
    "<=x",
    "Invalid value",
    "Missing option",
    "Missing argument",
    "requires an argument",
)
"""Words of whoever wrote the parser."""

WRONG = {
    "a count below nothing": (
        ("seal", "--counted", "-1"),
        "--counted: '-1' will not do: write a whole number of at least 0.",
    ),
    "a count in words": (("seal", "--counted", "three"), "write a whole number of at least 0."),
    "a count with a point": (("seal", "--counted", "3.0"), "write a whole number of at least 0."),
    "more than there can be": (
        ("lot", "issue", "x", "--count", "10001"),
        "write a whole number from 1 to 10000.",
    ),
    "no statement": (("outbox", "--show", "last"), "write a whole number of at least 1."),
    "another word": (
        ("void", SAMPLE, "--reason", "broken"),
        "'broken' is none of its words. Write one of: dropped, pump_fault,",
    ),
    "a word left out": (
        ("secure",),
        "--how is missing. Write one of: possession, view, locked, restricted, sealed.",
    ),
    "an option left out": (("give",), "--to is missing: short name of the organization that receives them."),
    "an option without its default": (
        ("collect", SAMPLE, "--kind", "indoor"),
        "--covers is missing: are the covers back on? `",
    ),
    "a number left out": (("void", "--reason", "lost"), "SAMPLE is missing: write it after the command."),
    "a laboratory left out": (("open",), "--lab is missing: short name of the laboratory. `"),
    "an entry left out": (("erase",), "ENTRY_ID_OR_FORM is missing: write it after the command."),
    "a kind left out": (("calendar",), "One word is missing. Write one of: lab, office, carrier."),
    "a value left out": (("give", "--to"), "--to wants a value after it."),
    "a value too many": (("seal", "--yes=3"), "--yes takes no value: write it alone."),
    "a word too many": (
        ("void", SAMPLE, "dropped", "--reason", "lost"),
        "Too many words: nothing is known to do with dropped.",
    ),
    "no such file": (
        ("policy", "none.toml"),
        "FILE: there is no 'none.toml': check its name, and the folder you are in.",
    ),
    "a folder": (("policy", "."), "FILE: '.' is a folder, and a file is needed."),
    "an option nearly right": (("seal", "--count", "3"), "'--counted'"),
    "a number torn apart": (
        ("void", *numbers.grouped(SAMPLE).split(), "--reason", "lost"),
        "Typed with its spaces a number goes in quotes.",
    ),
}


@pytest.mark.parametrize("what", WRONG)
def test_it_is_said_what_to_write(
    settled: Town, what: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """If this fails, a clerk reads "-1 is not in the range x>=0" and calls whoever wrote it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    words, says = WRONG[what]
    result = settled.person("clerk").type(*words)
    assert result.exit_code == 2
    assert says in " ".join(result.stderr.split())
    assert result.stdout == ""
    assert not [each for each in DEVELOPERS if each in result.stderr]
    assert max(map(len, result.stderr.splitlines())) <= 80


@pytest.mark.parametrize(
    ("counted", "fits"), [("0", True), ("1", True), ("+1", False), ("\u0661", False), ("1_0", False)]
)
def test_a_whole_number_is_written_in_figures(settled: Town, counted: str, fits: bool) -> None:
    """If this fails, a keyboard of another country or a slip signs a count that nobody counted."""
    result = settled.person("clerk").type("seal", SAMPLE, "--counted", counted, "--seal", "C-4711")
    assert ("whole number" in result.stderr) != fits


def test_a_program_is_told_as_well(settled: Town) -> None:
    """If this fails, a program that calls the command line has to read sentences meant for people."""
    told = settled.person("clerk").answer("void", "--reason", "lost", code=2)
    assert told == {"code": "usage", "detail": "SAMPLE is missing: write it after the command."}


def test_a_group_of_verbs_alone_shows_them(settled: Town) -> None:
    """If this fails, `bailee lot` answers with a riddle and not with what it can do."""
    said = settled.person("clerk").run("lot", code=2)
    assert "recall" in said
    assert "shows what can be typed" not in said


def test_a_number_behind_a_group_is_answered_with_its_verbs(settled: Town) -> None:
    """If this fails, whoever types `bailee label S…` is told that a number is no command, and no more."""
    said = settled.person("clerk").run("label", SAMPLE, code=2)
    assert "Write one of: envelope, sample, sheet, test." in said
    assert "Did you mean 'sample'?" in settled.person("clerk").run("label", "sampel", code=2)
