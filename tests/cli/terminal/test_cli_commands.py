"""Acts that rules, lists and errors offer, as commands: each can be typed as it is printed, with the numbers
that are known.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import click
import pytest

from bailee.domain import numbers
from bailee.domain.acts.table import ROWS
from bailee.errors import BaileeError
from bailee.rules.readers import ON_A_DEVICE
from bailee.rules.remedies import advice
from bailee_cli import main
from bailee_cli.terminal.commands import _VERBS, OPEN, argv, command, commands, open_words
from offered import spoilt, written

KINDS = ("sample", "form", "envelope", "lot")


def number(kind: str) -> str:
    """A valid number of a kind."""
    return numbers.issue(kind, lambda choices: choices[0])  # type: ignore[arg-type]


KNOWN = {kind: number(kind) for kind in KINDS} | {"about": number("sample")}


def typed(words: list[str]) -> None:
    """Read the words as the command line reads them.

    Raises what click raises: no such command, no such option, no such choice.
    """
    found: click.Command | None = main.bailee
    context, rest = click.Context(main.bailee, info_name="bailee"), list(words)
    while isinstance(found, click.Group):
        name, *rest = rest
        inner = found.get_command(context, name)
        if inner is None:
            raise click.UsageError(f"no command {name!r}")
        found, context = inner, click.Context(inner, parent=context, info_name=name)
    assert found
    values, left, _ = found.make_parser(context).parse_args(rest)
    assert not [each for each in left if each != OPEN], (words, left)
    for parameter in found.params:
        given = values.get(parameter.name or "")
        for each in given if isinstance(given, list | tuple) else [given]:
            if isinstance(each, str) and each not in (OPEN, ""):
                parameter.type.convert(each, parameter, context)


def offered() -> dict[str, Mapping[str, Any]]:
    """Every act in the source with no number known and with all of them, and those of findings.

    By its command.
    """
    steps = list(written())
    told = [act for step in steps for known in ({}, KNOWN) for act in advice("Do it.", step).acts(known)]
    told += [act for _, found in spoilt() for each in found for act in each.acts]
    return {command(act): act for act in told}


def test_every_act_that_is_offered_can_be_typed() -> None:
    """If this fails, somebody with an envelope in hand types what the screen says and is told "No such
    option".
    """
    found = offered()
    assert len(found) > 150
    for line, act in found.items():
        try:
            typed(argv(act))
        except (click.ClickException, BaileeError) as error:
            pytest.fail(f"{line}: {error}")


def test_the_words_for_an_open_option_are_those_that_it_takes() -> None:
    """If this fails, the screen asks for a reason and not for which, or names one that is refused."""
    told = 0
    for line, act in offered().items():
        found = open_words(line)
        assert " --reason …" not in line or any(each.startswith("--reason: ") for each in found), line
        for option, words in (each.split(": ") for each in found):
            for word in words.split(", "):
                at = argv(act).index(option)
                typed([*argv(act)[: at + 1], word, *argv(act)[at + 2 :]])
                told += 1
    assert told > 100


@pytest.mark.parametrize(
    "act",
    [
        {"act": "voided", "sample": KNOWN["sample"], "because": "lost"},
        {"act": "voided", "sample": KNOWN["sample"], "reason": "tired"},
        {"act": "voided", "sample": KNOWN["form"], "reason": "lost"},
        {"act": "sealed", "counted_twice": True},
    ],
)
def test_a_command_that_does_not_exist_is_seen(act: Mapping[str, Any]) -> None:
    """If this fails, the test above lets everything pass."""
    with pytest.raises((click.ClickException, BaileeError)):
        typed(argv(act))


def test_no_verb_is_kept_for_an_act_that_does_not_exist() -> None:
    """If this fails, an act got another name, and the terminal offers nothing for it any more."""
    assert {line.partition(" ")[0] for line in _VERBS} <= {*ROWS, *ON_A_DEVICE}


def test_a_command_reads_as_it_is_typed() -> None:
    """If this fails, what is known is not in the command, or what only the person knows is invented."""
    serial = {"act": "corrected", "sample": "S1", "field": "serial", "new": None, "reason": "left_out"}
    assert command(serial) == "bailee correct S1 serial=… --reason left_out"
    sealing = {"act": "sealed", "envelope": "E1", "total": None, "across_opening": True}
    assert command(sealing) == "bailee seal … --envelope E1 --counted … --across-opening"
    at_the_dock = {"act": "received", "envelope": "E1", "sample": None, "dock": True}
    assert command(at_the_dock) == "bailee receive E1 …"
    assert command({"act": "received", "sample": "S1", "condition": None}) == "bailee take S1 --condition …"


def test_what_must_be_said_together_is_one_command() -> None:
    """If this fails, each half of the weather is offered by itself, and refused without the other."""
    sky, wind = (
        {"act": "corrected", "sample": "S1", "field": f"weather.{name}", "new": None, "reason": "left_out"}
        for name in ("sky", "wind")
    )
    assert commands([sky, wind]) == ["bailee correct S1 weather.sky=… weather.wind=… --reason left_out"]
    assert len(commands([sky, {**wind, "sample": "S2"}])) == 2
    assert len(commands([{**sky, "field": "flow_before"}, {**sky, "field": "flow_after"}])) == 2


def test_what_this_program_does_not_know_is_left_out() -> None:
    """If this fails, a newer service stops an older command line, or somebody is offered an empty command."""
    assert commands([{"act": "teleported", "sample": "S1"}, "void", {}, {"act": "send_waiting"}]) == [
        "bailee send"
    ]


def test_a_value_with_spaces_is_one_word() -> None:
    """If this fails, a number of a flow meter with a space in it becomes two arguments."""
    told = {"act": "equipment_set", "kind": "meter", "id": "M 3; ls", "certified": None}
    assert command(told) == "bailee equipment meter 'M 3; ls' --certified …"
