"""`--json` before a command and after it: one answer, whatever is typed between them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from bailee_cli import main
from bailee_cli.device.session import Session
from field import FIRM
from town import ADDRESS, Town

IN_LINES = {
    "completion", "cosign follow", "cosign new", "cosign once", "cosign serve", "cosign show", "monitor",
    "init", "serve", "admit", "timestamp", "migrate", "rebuild", "repair", "backup", "restore",
    "erase-again",
}  # fmt: skip
"""Commands that answer people: the guide for programs names them by kind."""
ONCE = {"key new"}
"""Commands that answer otherwise when they are typed again."""


def commands(
    group: click.Group, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command, those of groups too."""
    context = click.Context(group)
    for name in group.list_commands(context):
        found = group.get_command(context, name)
        assert found
        if isinstance(found, click.Group):
            yield from commands(found, (*path, name))
        else:
            yield (*path, name), found


EVERY = {" ".join(path): command for path, command in commands(main.bailee)}


def answer(home: Path, *words: str) -> tuple[int, object]:
    """How a device without a key answers, and with what."""
    done = CliRunner().invoke(main.bailee, list(words), obj=Session(home=home))
    return done.exit_code, json.loads(done.stdout)


def test_what_answers_in_json_takes_it_after_the_command_too() -> None:
    """Whoever writes it where it stood for the last command is told that there is no such option."""
    without = {
        name for name, command in EVERY.items() if not any("--json" in each.opts for each in command.params)
    }
    assert without == IN_LINES


@pytest.mark.parametrize("more", [(), ("--nonsense",), ("x",)])
def test_both_places_have_one_answer(tmp_path: Path, more: tuple[str, ...]) -> None:
    """A program that writes it behind reads nothing where it was typed wrongly, and sentences for people."""
    for name in EVERY.keys() - IN_LINES - ONCE:
        words = [*name.split(), *more]
        before = answer(tmp_path, "--json", *words)
        assert answer(tmp_path, *words, "--json") == before, name


def test_errors_are_in_json_whatever_the_command(tmp_path: Path) -> None:
    """A program that asks for JSON would read nothing from a command that it mistypes."""
    for name in (*IN_LINES, "nonsense"):
        code, told = answer(tmp_path, "--json", *name.split(), "--nonsense")
        assert code == 2, name
        assert isinstance(told, dict)
        assert told["code"] == "usage", name


def test_a_device_is_set_up_by_a_program(settled: Town, tmp_path: Path) -> None:
    """Who sets up twenty phones would read the key IDs out of sentences, which change."""
    person, service, lab = settled.person("phone"), ("--service", ADDRESS), settled.person("keeper")
    made = person.answer("key", "new")
    assert made == {"kid": person.answer("key", "show")["kid"], "folder": str(person.folder)}
    request = tmp_path / "request.json"
    joined = person.answer("join", *service, "--org", FIRM, "--request", str(request))
    assert joined["kid"] == made["kid"]
    assert joined.items() >= {"organization": FIRM, "made_key": False, "written": [str(request)]}.items()
    assert settled.person("tablet").answer("join", *service, "--org", FIRM)["made_key"] is True
    again = person.answer("key", "request", "-o", str(request))
    assert again == {"kid": made["kid"], "written": [str(request)]}
    assert lab.answer("pages")["link"].startswith(f"{ADDRESS}/enter#")


def test_papers_and_labels_are_named_to_a_program(collected: tuple[Town, list[str]], tmp_path: Path) -> None:
    """A program would have to believe that the file is there, or parse "Written to"."""
    town, samples = collected
    inspector, keeper, file = town.person("inspector"), town.person("keeper"), str(tmp_path / "out")
    form = inspector.outbox()[-1]["chain"].removeprefix("form/")
    assert inspector.answer("record", samples[0], "-o", file) == {"form": form, "written": [file]}
    assert keeper.answer("label", "sample", samples[0], "--png", file) == {"written": [file]}
    told = keeper.answer("label", "sheet", "--pdf", file)
    assert (told["labels"], told["left_out"], told["written"]) == (4, 0, [file])
