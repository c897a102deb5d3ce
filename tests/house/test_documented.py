"""README and the help pages say what the program does: versions, installs, exit codes, commands, settings."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterator
from dataclasses import MISSING, fields
from pathlib import Path

import click
from click.testing import CliRunner

from bailee import __version__, config
from bailee.errors import BaileeError, Malformed, Unavailable
from bailee_cli import main

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "README.md").read_text("utf-8")
MACHINES = (ROOT / "service/bailee/guides/machines.md").read_text("utf-8")


def section(title: str, text: str = TEXT) -> str:
    """The text under a heading of the second level."""
    return text.partition(f"\n## {title}\n")[2].partition("\n## ")[0]


def shown(*words: str) -> str:
    """A help page, its lines joined."""
    return " ".join(CliRunner().invoke(main.bailee, [*words, "--help"]).output.split())


def groups() -> Iterator[tuple[str, click.Group]]:
    """The verbs that have commands of their own."""
    for name in main.bailee.list_commands(click.Context(main.bailee)):
        command = main.bailee.get_command(click.Context(main.bailee), name)
        if isinstance(command, click.Group):
            yield name, command


def test_every_verb_stands_on_the_help_page_with_what_it_does() -> None:
    """If this fails, a command exists that no newcomer can find."""
    page = shown()
    for person, verbs in main.VERBS.items():
        assert f"{person}: " in page
        for name, (_, says) in verbs.items():
            assert f" {name} {says}" in page


def test_every_command_of_a_group_stands_on_its_help_page_and_explains_itself() -> None:
    """If this fails, a command of a group exists that no newcomer can find, or one says nothing."""
    found = dict(groups())
    assert {"key", "lot", "label", "cosign"} <= found.keys()
    for name, group in found.items():
        page = shown(name)
        for inner, command in group.commands.items():
            assert f" {inner} " in page
            assert " ".join(command.get_short_help_str(200).split()) in shown(name, inner)


def test_the_settings_file_explains_every_setting_and_says_its_default() -> None:
    """If this fails, an operator who has changed a setting cannot find back, or reads another default."""
    given = {"origin": "o.example/log", "address": "http://127.0.0.1:8765", "database": "sqlite:///x"}
    text = config.Settings(home=Path(), **given).text()
    found = re.findall(r"^# ([A-Z].{20,}?)(?: Default: (.+)\.)?\n(\w+) = (.+)$", text, re.MULTILINE)
    known = [each for each in fields(config.Settings) if each.name != "home"]
    assert [name for *_, name, _ in found] == [each.name for each in known]
    values = tomllib.loads(text)
    for each, (_, told, _, written) in zip(known, found, strict=True):
        is_needed = each.default is MISSING
        default = given[each.name] if is_needed else each.default
        assert values[each.name] == (list(default) if isinstance(default, tuple) else default)
        assert told == ("" if is_needed else written), each.name


def test_exit_codes_are_those_of_the_program() -> None:
    """If this fails, a script that follows README takes "not ready" for "no network"."""
    told = {str(code): says for code, says in main.EXIT_CODES.items()}
    for text in (TEXT, MACHINES):
        codes = dict(re.findall(r"^\| ([0-9]) \| (.+?) \|$", section("Exit codes", text), re.MULTILINE))
        assert codes == told
    assert all(f" {code} {says}" in shown() for code, says in told.items())
    assert main.exit_code(BaileeError("said", code="x")) == 1
    assert "not ready" in told["1"]
    assert main.exit_code(Malformed("said", code="x")) == 2
    assert "typed" in told["2"]
    assert main.exit_code(Unavailable("said", code="x")) == 3
    assert "could not check" in told["3"]


def test_the_newest_change_is_this_version() -> None:
    """If this fails, nobody can tell which changes the installed program has."""
    changes = (ROOT / "service/bailee/guides/changes.md").read_text("utf-8")
    for text in (section("Changes"), changes):
        newest = re.search(r"^##+ \[(.+?)\]", text, re.MULTILINE)
        assert newest
        assert newest[1] == __version__
    assert tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["version"] == __version__


def test_installs_named_in_readme_exist() -> None:
    """If this fails, the first command of a newcomer ends with a warning about an unknown extra."""
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["optional-dependencies"]
    assert set(re.findall(r"'\.\[(\w+)\]'", section("Install"))) == set(extras)


def test_no_verdict_is_called_passed() -> None:
    """If this fails, an envelope looks approved where only nothing was found."""
    assert not re.search(r"\bpassed\b", TEXT, re.IGNORECASE)


def test_the_demonstration_and_the_tests_are_where_readme_says() -> None:
    """If this fails, the two commands at the top of README do nothing."""
    named = re.findall(r"^sh (\S+)", section("See it, test it"), re.MULTILINE)
    assert len(named) == 2
    for command in named:
        assert os.access(ROOT / command, os.X_OK), command
