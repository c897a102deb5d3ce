"""The guides as texts: short, true to the program, and the same wherever they are shown."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import click
import pytest
from click.testing import CliRunner
from journey import FOLDER

from bailee import guides
from bailee_cli import main
from bailee_cli.people.operating import running
from terminal import Terminal

EVERY = {each.name: each for each in guides.every()}
CODE = re.compile(r"^```sh.*?\n(.*?)^```$|(?<!`)`(bailee [^`]+)`", re.MULTILINE | re.DOTALL)
GROUPS = {"lot", "label", "key", "cosign"}


def commands(name: str) -> Iterator[str]:
    """Every command of ours in a guide, in a block or a sentence, up to what the shell does with it."""
    for found in CODE.finditer(EVERY[name].text):
        for line in re.sub(r"\\\n", " ", found[1] or found[2]).splitlines():
            if "bailee " in line:
                yield "bailee " + re.split(r"[|>]", line.partition("bailee ")[2])[0].strip()


@pytest.mark.parametrize("name", guides.PEOPLE)
def test_a_guide_is_read_in_a_few_minutes(name: str) -> None:
    """If this fails, nobody reads it on the day, or it is too short to work by."""
    lines = EVERY[name].text.splitlines()
    assert 60 <= len(lines) <= 120
    assert [each for each in lines if len(each) > 150] == []


@pytest.mark.parametrize("name", guides.PEOPLE)
def test_every_command_and_option_exists(name: str) -> None:
    """If this fails, a guide tells people to type what is answered with "No such option"."""
    verbs = {verb for table in main.VERBS.values() for verb in table}
    for line in commands(name):
        words = line.split()[1:]
        assert words[0] in verbs, line
        path = words[:2] if words[0] in GROUPS else words[:1]
        answer = CliRunner().invoke(main.bailee, [*path, "--help"])
        assert answer.exit_code == 0, line
        known = set(re.findall(r"(?<![\w-])(--?[a-z][a-z-]*)", answer.output))
        typed = {
            each.partition("=")[0]
            for each in re.findall(r"(?<=\s)(--?[a-z][a-z-]*)", re.sub(r'"[^"]*"', '""', line))
        }
        assert typed <= known, line


@pytest.mark.parametrize("name", EVERY)
def test_links_lead_to_guides_on_the_page_too(name: str) -> None:
    """If this fails, a link that works in the checkout ends on the service's pages at nothing."""
    prose = re.sub(r"`[^`\n]*`", "", EVERY[name].text)
    for target in re.findall(r"\]\(([^)]+)\)", prose):
        assert target.startswith(("https://", "#")) or guides.linked(target) in EVERY, target


@pytest.mark.parametrize("name", guides.PEOPLE)
def test_everybody_reads_what_cannot_be_undone(name: str) -> None:
    """If this fails, somebody learns it by having done it."""
    assert "\n## What cannot be undone\n" in EVERY[name].text


def test_cautions_stand_before_the_visit() -> None:
    """An inspector would read about live wires in the water (source: common practice, no source)."""
    text = EVERY["inspector"].text
    assert text.index("## Before you go in") < text.index("bailee open ")
    assert "Local codes, your employer's safety program and your license come first" in text
    for danger in ("live wires", "gas", "N-95", "confined spaces", "Ladders", "lightning", "asbestos"):
        assert danger in text


def test_the_list_is_made_of_what_each_guide_begins_with() -> None:
    """If this fails, the list promises another guide than the one that is shown."""
    told = CliRunner().invoke(main.bailee, ["guide", "--json"], obj=None)
    listed = json.loads(told.output)["guides"]
    assert [each["guide"] for each in listed] == list(EVERY)
    assert {
        f"{each.name.removesuffix('.md')}" for each in FOLDER.iterdir() if each.name.endswith(".md")
    } == set(EVERY)
    said = " ".join(CliRunner().invoke(main.bailee, ["guide"]).output.split())
    for each in EVERY.values():
        assert each.text.startswith(f"# {each.title}\n")
        assert f"{each.name} {each.title}. {each.sentence}" in said


@pytest.mark.parametrize("name", EVERY)
def test_a_guide_that_goes_into_a_file_is_the_markdown_itself(name: str) -> None:
    """If this fails, whoever prints or mails a guide has another one than the checkout."""
    assert CliRunner().invoke(main.bailee, ["guide", name]).output == EVERY[name].text


@pytest.mark.parametrize("name", EVERY)
def test_a_terminal_shows_commands_as_typed_and_text_as_wide_as_it_is(name: str, tmp_path: Path) -> None:
    """If this fails, a command copied from the screen is another one, or a sentence lacks a word."""
    clock = SimpleNamespace(now=datetime(2026, 11, 27, tzinfo=UTC))
    somebody: Any = SimpleNamespace(name="me", town=SimpleNamespace(folder=tmp_path, clock=clock))
    with Terminal(somebody, "guide", name) as screen:
        code, colored = screen.ends()
    assert code == 0
    said = click.unstyle(colored)
    typed = re.findall(r"^```sh.*?\n(.*?)^```$", EVERY[name].text, re.MULTILINE | re.DOTALL)
    assert typed or name not in guides.PEOPLE
    assert [block for block in typed if f"\n{block}" not in said] == []
    for block in typed:
        said = said.replace(f"\n{block}", "\n", 1)
    assert [each for each in said.splitlines() if len(each) > 100] == [], "the terminal has 100 columns"
    words = re.sub(
        r"^```sh.*?^```$|^\|[-|]+\|$|\]\(.*?\)|[*|#\[\]`]",
        " ",
        EVERY[name].text,
        flags=re.MULTILINE | re.DOTALL,
    )
    missing = {each for each in words.split() if each not in said.replace("`", " ")}
    assert missing == set(), "words of the guide that the screen leaves out"
    flat = " ".join(said.split())
    for row in re.findall(r"^\|(.+)\|\n\|[-|]+\|$", EVERY[name].text, re.MULTILINE):
        assert [head for head in map(str.strip, row.split("|")) if head not in flat] == []


def test_a_name_that_no_guide_has_is_answered_with_those_like_it() -> None:
    """If this fails, somebody who types the name of their work as they spell it gives up."""
    answer = CliRunner().invoke(main.bailee, ["guide", "inspekter"])
    assert answer.exit_code == 2
    assert "Names like it: inspector." in answer.output
    assert "`bailee guide` lists them all" in answer.output
    assert CliRunner().invoke(main.bailee, ["guide", "Media Keeper"]).output == EVERY["media-keeper"].text


def test_names_are_completed_by_the_shell() -> None:
    """If this fails, the tabulator key offers files where a guide is wanted."""
    command = main.bailee.get_command(click.Context(main.bailee), "guide")
    assert command is not None
    found = command.params[0].type.shell_complete(click.Context(command), command.params[0], "a")
    assert {each.value for each in found} == {name for name in EVERY if name.startswith("a")}


def test_the_list_of_guides_shows_no_marks_of_markdown() -> None:
    """A list that shows how it was written looks broken."""
    assert not [each.name for each in guides.every() if "`" in each.title + each.sentence]


def test_the_guide_of_the_phone_says_what_its_screens_say() -> None:
    """If this fails, somebody on site looks for a button that has another name."""
    app = Path(str(resources.files("bailee") / "web/sign"))
    shown = "".join(each.read_text("utf-8") for each in app.rglob("words.js"))
    elsewhere = {"Sign:", "Edition of the app at /sign/"}
    text = " ".join(EVERY["phone"].text.split())
    named = set(re.findall(r"(?<!\*)\*([^*]+)\*(?!\*)", text)) - elsewhere
    assert len(named) > 25
    assert {each for each in named if f'"{each}' not in shown} == set()
    assert "Edition of the app at /sign/: " in Path(running.__file__).read_text("utf-8")
