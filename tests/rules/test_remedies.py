"""What to do now: every command that a remedy names can be typed, with the options it names, and bears the numbers of its finding."""

from __future__ import annotations

import ast
import re
import shlex
from pathlib import Path

import click
import pytest

import bailee.rules
from bailee.domain import numbers
from bailee.domain.numbers import grouped
from bailee.errors import BaileeError
from bailee.rules.registry import RULES, Finding, evaluate
from bailee_cli import main
from builders import (
    BEFORE_AND_AFTER,
    CLERK,
    DAY,
    FIRM,
    INSPECTOR,
    QUALITY,
    STEPS,
    Step,
    Story,
    findings,
    visit,
)

FOLDER = Path(bailee.rules.__file__).parent
COMMAND = re.compile(r"`bailee ([a-z][^`]*)`")
KINDS = {"SAMPLE": "S", "FORM": "F", "ENVELOPE": "E", "LOT": "M"}


def commands(text: str) -> list[str]:
    """What stands in backticks."""
    return COMMAND.findall(text)


def in_the_source() -> set[str]:
    """Every command in any text of the rules, also those that a situation chooses or fills in."""
    found: set[str] = set()
    for file in sorted(FOLDER.rglob("*.py")):
        tree = ast.parse(file.read_text("utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                found |= set(commands(node.value))
    return found


def typed(words: str) -> None:
    """Read the words as the command line reads them. Raises what click raises: no such command, no such option, no such choice."""
    line = re.sub(r"\{[a-z_.]+\}", "…", words)
    for word, letter in KINDS.items():
        line = re.sub(rf"\b{word}\b", number(letter), line)
    command: click.Command = main.bailee
    context = click.Context(command, info_name="bailee")
    rest = shlex.split(line)
    while isinstance(command, click.Group):
        name, *rest = rest
        found = command.get_command(context, name)
        if found is None:
            raise click.UsageError(f"no command {name!r}")
        command, context = found, click.Context(found, parent=context, info_name=name)
    values, left, _ = command.make_parser(context).parse_args(list(rest))
    assert not [each for each in left if each not in ("…", "ABOUT")], left
    for parameter in command.params:
        given = values.get(parameter.name or "")
        for each in given if isinstance(given, list | tuple) else [given]:
            if isinstance(each, str) and each not in ("…", "ABOUT", ""):
                parameter.type.convert(each, parameter, context)


def number(letter: str) -> str:
    """A valid number of a kind."""
    kind = next(kind for kind, each in numbers.LETTERS.items() if each == letter)
    return numbers.issue(kind, lambda choices: choices[0])


def test_every_command_in_a_remedy_can_be_typed() -> None:
    """If this fails, somebody with an envelope in hand types what the screen says and is told "No such option"."""
    found = in_the_source()
    assert len(found) > 60
    for words in sorted(found):
        try:
            typed(words)
        except click.ClickException as error:
            pytest.fail(f"bailee {words}: {error.format_message()}")


@pytest.mark.parametrize(
    "words",
    [
        "vold SAMPLE",
        "void SAMPLE --because lost",
        "void SAMPLE --reason tired",
        "void FORM --reason lost",
        "lot shew LOT",
    ],
)
def test_a_command_that_does_not_exist_is_seen(words: str) -> None:
    """If this fails, the test above lets everything pass."""
    with pytest.raises((click.ClickException, BaileeError)):
        typed(words)


def spoilt() -> list[tuple[str, list[Finding]]]:
    """Stories with many faults, asked at every step."""
    told: list[tuple[str, list[Finding]]] = []
    for step in STEPS[1:]:
        story = visit(
            step,
            lot={"expiry": "2026-11", "samples": 5},
            first={
                "covers_on": False,
                "flow_after": "12.0",
                "serial": None,
                "room": None,
                "point": None,
                "label_on": "bag",
            },
            second={"height_m": "0.2", "space": "attic", "label_prints": 2, "dust": "heavy"},
            outdoor={"weather": None, "distance_m": "1.0", "near": [], "height_m": "0.2"},
            opened={"preparation": None, "question_given": False, "remediator": True, "license": None},
        )
        story.collected(0, by=CLERK, after=None)
        told.append((step, evaluate(story.case())))
        told.append(
            (
                step,
                evaluate(story.case(sealing=story.sealing(total=9, across_opening=False, plain_tape=True))),
            )
        )
        told.append((step, evaluate(story.case(shipping=story.shipping(tracking=None, kid=INSPECTOR.kid)))))
    return told


def test_every_remedy_that_is_told_can_be_typed() -> None:
    """If this fails, a number put into a command spoils it, or a remedy made of parts names what is not there."""
    seen: set[str] = set()
    for step, found in spoilt():
        for each in found:
            seen.add(each.rule)
            assert each.remedy.endswith("."), (step, each)
            for words in commands(each.remedy):
                typed(words)
    assert len(seen) > 25


@pytest.mark.parametrize("number_of", sorted(RULES))
def test_a_remedy_says_in_words_what_to_do(number_of: str) -> None:
    """If this fails, a person reads a command and not what it is for."""
    each = RULES[number_of]
    for remedy in filter(None, (each.remedy, each.afterwards)):
        assert len(COMMAND.sub("", remedy).split()) >= 4, remedy
        assert remedy.count("`") % 2 == 0
        assert remedy.endswith(".")


def test_a_remedy_bears_the_numbers_of_its_finding() -> None:
    """If this fails, the clerk looks up a number that the screen knew, and mistypes it."""
    story = visit("collected", first={"serial": None})
    (found,) = findings(story.case(), "CL-03")
    assert f"`bailee correct {story.samples[0]} --field serial --new … --reason left_out`" in found.remedy
    assert "SAMPLE" not in found.remedy


def test_a_number_that_is_not_one_stays_a_word() -> None:
    """If this fails, two samples given to two people are cured with the number of the first."""
    story = visit("held")
    (found,) = findings(story.case(sealing=story.sealing()), "SE-07")
    assert "`bailee give SAMPLE … --to …`" in found.remedy
    (one,) = findings(story.case(sealing=story.sealing(story.samples[:1])), "SE-07")
    assert f"`bailee give {story.samples[0]} … --to …`" in one.remedy


def test_what_may_be_allowed_says_how() -> None:
    """If this fails, a storm stops the envelope although a second person may let it go, and nobody knows what to type."""
    story = visit("opened")
    story.collected(0)
    story.collected(1)
    story.sealed(by=INSPECTOR)
    (found,) = findings(story.case(), "OC-01")
    assert found.remedy.endswith(
        f"A second person may allow it: `bailee except OC-01 {story.form} --reason outdoor_impossible`."
    )
    story.excepted("OC-01", story.form, by=QUALITY, reason="outdoor_impossible")
    (found,) = findings(story.case(), "OC-01")
    assert (found.severity, found.remedy) == (
        "warn",
        "Nothing more to do: the exception and its reason are printed beside it.",
    )


def test_an_envelope_nobody_knows_yet_is_allowed_on_its_form() -> None:
    """If this fails, the service is asked for an envelope that is not sealed, and answers that there is none."""
    story = visit("opened")
    story.collected(0, started="2026-11-20T09:00:00-05:00")
    (found,) = findings(story.case(sealing=story.sealing()), "SH-02")
    assert f"`bailee except SH-02 {story.envelope} --form {story.form} --reason …`" in found.remedy


@pytest.mark.parametrize(("step", "severity"), BEFORE_AND_AFTER)
def test_nobody_is_sent_back_to_a_site_that_was_left(step: Step, severity: str) -> None:
    """If this fails, a laboratory reads that it should take an outdoor control."""
    story = visit(step, outdoor={"room": "attic", "weather": None})
    story.voided(2)
    (found,) = findings(story.case(), "OC-01")
    assert found.severity == severity
    assert ("Take an outdoor control" in found.remedy) == (severity == "block")


@pytest.mark.parametrize(
    ("step", "says"),
    [
        ("kept", "Put the seal where opening the envelope must break it"),
        ("sealed", "Open it, and close it again"),
        ("shipped", "Nothing can be cured"),
    ],
)
def test_the_seal_is_put_right_as_long_as_it_can_be(step: Step, says: str) -> None:
    """If this fails, a clerk with an open envelope is told to seal it again."""
    story = visit(step, sealed={"across_opening": False} if step != "kept" else {})
    case = story.case(sealing=story.sealing(across_opening=False)) if step == "kept" else story.case()
    (found,) = findings(case, "SE-05")
    assert found.remedy.startswith(says)


def test_a_wrong_time_is_corrected_where_it_stands() -> None:
    """If this fails, a hand-over dated tomorrow is flagged and nobody can find the member to correct."""
    story = visit("sealed")
    story.shipped(
        handed_over="2026-12-02T15:30:00-05:00", said=f"{DAY}T15:30:00-05:00", rec=f"{DAY}T15:30:05-05:00"
    )
    (found,) = findings(story.case(), "CU-09")
    assert "(handed_over)" in found.sentence
    assert (
        f"`bailee correct {story.form} --act shipped --field handed_over --new … --reason clock`"
        in found.remedy
    )


def test_numbers_are_put_only_into_commands() -> None:
    """If this fails, a sentence for people is spoilt by a number in the middle of it."""
    story = Story()
    story.lot(expiry=None)
    (found,) = findings(
        type(story.case())(story.case().at, {}, story.case().lots, story.case().organizations), "ML-03"
    )
    assert f"`bailee lot expiry {story.lots[0]} … --reason left_out`" in found.remedy
    assert grouped(story.lots[0]) not in found.remedy
    assert FIRM not in found.remedy
