"""One meaning for each exit code, over all commands: README "Exit codes"."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from bailee_cli.main import bailee
from town import ENVELOPE, OPEN, SEAL, Town

WRITTEN = {
    "output",
    "parts",
    "mirror",
    "epcis",
    "csv",
    "pdf",
    "png",
    "svg",
    "html",
    "tokens",
    "statements",
    "request_file",
    "numbers_file",
}
"""Files and folders that a command makes."""
SET_UP = {"home", "folder"}
"""Folders of a ledger or a cosigner: whether they are set up is found out, and is no slip of the keyboard:
exit code 3."""


def commands(
    command: click.Command = bailee, words: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command with the words that call it."""
    if isinstance(command, click.Group):
        for name in command.list_commands(click.Context(command)):
            inner = command.get_command(click.Context(command), name)
            assert inner is not None, name
            yield from commands(inner, (*words, name))
    else:
        yield words, command


def files_read() -> Iterator[tuple[tuple[str, ...], str]]:
    """Every parameter that names a file or folder to be read: the words of its command, its name."""
    for words, command in commands():
        for each in command.params:
            is_made = {each.name, *(option.lstrip("-") for option in each.opts)} & (WRITTEN | SET_UP)
            if isinstance(each.type, click.Path) and not is_made:
                assert each.name
                yield words, each.name


def before(command: click.Command, parameter: click.Parameter) -> Iterator[str]:
    """Words for the arguments that stand before this one."""
    for each in command.params:
        if each is parameter:
            return
        if isinstance(each, click.Argument):
            yield str(each.type.choices[0]) if isinstance(each.type, click.Choice) else "x"


@pytest.mark.parametrize(
    ("words", "parameter"), [pytest.param(*each, id=" ".join([*each[0], each[1]])) for each in files_read()]
)
@pytest.mark.parametrize("what", ["missing", "folder"])
def test_a_file_that_is_not_there_was_typed_wrongly(
    tmp_path: Path, words: tuple[str, ...], parameter: str, what: str
) -> None:
    """If this fails, a script takes a mistyped file name for a network that is down, and tries again for
    ever.
    """
    command = dict(commands())[words]
    asked = next(each for each in command.params if each.name == parameter)
    assert isinstance(asked.type, click.Path)
    if what == "folder" and asked.type.dir_okay:
        name = tmp_path / "a-file"
        name.write_text("no folder")
    else:
        name = tmp_path / "nothing-here" if what == "missing" else tmp_path
    option = before(command, asked) if isinstance(asked, click.Argument) else [asked.opts[0]]
    result = CliRunner().invoke(bailee, [*words, *option, str(name)], env={"BAILEE_HOME": str(tmp_path)})
    assert result.exit_code == 2, result.output
    assert name.name in result.output


def test_what_could_not_be_checked_ends_with_3(tmp_path: Path, settled: Town) -> None:
    """If this fails, a network that is down looks like an envelope that is not ready."""
    clerk = settled.person("clerk")
    settled.line.weather = "down"
    for command in (
        ("ship", ENVELOPE),
        ("seal", "--envelope", ENVELOPE),
        ("receive", ENVELOPE),
        ("show", ENVELOPE),
    ):
        assert "did not answer" in clerk.run(*command, code=3)
    assert "belongs to no service yet" in settled.person("stranger").run("show", ENVELOPE, code=3)
    scrap = tmp_path / "scrap.json"
    scrap.write_text("scrap")
    root = "harrow-field=" + "A" * 43
    clerk.run("verify", str(scrap), "--root", root, "--log-key", settled.ledger.vkey, code=3)


def test_what_was_found_wanting_ends_with_1(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a script ships an envelope that is not ready, or takes a slip of the
    keyboard for one.
    """
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", samples[0], "--counted", "1", *SEAL, code=1)
    clerk.run("take", samples[0], "--condition", "intact", code=1)
    clerk.run("take", samples[0], "--condition", "melted", code=2)
    clerk.run("take", samples[0][:-1], "--condition", "intact", code=2)
    clerk.run("show", ENVELOPE, code=1)


def test_what_is_signed_and_waits_is_fine_and_sending_it_in_vain_is_not(settled: Town) -> None:
    """If this fails, an inspector without a network is told of a fault, or `send` in a script looks done when
    it is not.
    """
    inspector = settled.person("inspector")
    settled.line.weather = "down"
    inspector.run(*OPEN)
    inspector.run(*OPEN)
    inspector.run("send", code=3)
