"""Names of keys and statements on the command line."""

from __future__ import annotations

import click
import pytest
from click.testing import CliRunner

from bailee_cli.main import VERBS, bailee
from bailee_cli.terminal.command_kinds import NamingCommand

HYPHENED = "-hv" + "A" * 40


@click.command(cls=NamingCommand)
@click.argument("names", nargs=-1)
@click.option("--same-as")
@click.option("-o", "--out")
def echo(names: tuple[str, ...], same_as: str | None, out: str | None) -> None:
    """Say what was understood."""
    click.echo(f"{names} {same_as} {out}")


@pytest.mark.parametrize(
    ("words", "understood"),
    [
        ([HYPHENED], f"('{HYPHENED}',) None None"),
        (["-o", "file", HYPHENED, "B" * 43], f"('{HYPHENED}', '{'B' * 43}') None file"),
        (["--same-as", HYPHENED, "x"], f"('x',) {HYPHENED} None"),
    ],
)
def test_a_name_that_begins_with_a_hyphen_is_a_name(words: list[str], understood: str) -> None:
    """One key in sixty-four could otherwise not be revoked in a hurry."""
    assert CliRunner().invoke(echo, words).output.strip() == understood


def test_what_is_no_name_is_still_an_option() -> None:
    """A mistyped option must be named, not taken for a key."""
    assert CliRunner().invoke(echo, ["--nothing"]).exit_code == 2


def test_every_verb_that_takes_a_name_reads_it_whole() -> None:
    """A verb added later must not bring the fault back."""
    words = {"kid", "thumbprint", "root", "statement_ids", "what", "statement"}
    for name in (each for verbs in VERBS.values() for each in verbs):
        command = bailee.get_command(click.Context(bailee), name)
        assert command is not None
        if words & {parameter.name for parameter in command.params if isinstance(parameter, click.Argument)}:
            assert isinstance(command, NamingCommand), name
