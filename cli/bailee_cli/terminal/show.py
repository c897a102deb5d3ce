"""What people see of findings, verdicts, numbers and times, in the words of the trade.

How it is laid out: `layout`.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import click

from bailee.domain import numbers
from bailee.presentation import words as custody
from bailee_cli.terminal.commands import commands, open_words
from bailee_cli.terminal.layout import counted, facts, name, plain, say, table

__all__ = [
    "UNSIGNED",
    "clock",
    "count",
    "counted",
    "facts",
    "findings",
    "name",
    "offer",
    "plain",
    "print_json",
    "readiness",
    "say",
    "table",
    "thing",
    "verdicts",
    "warned",
    "when",
    "words",
]

_STYLES: Final = {"refuse": "bold red", "block": "bold red", "flag": "red", "warn": "yellow", "note": "bold"}
"""By severity, the gravest first."""

UNSIGNED: Final = "Nothing was signed."
_SCREENFUL: Final = 5
"""As many findings as stand on a screen of 24 lines: each takes four, with its remedy and its command."""

_EACH: Final = "NUMBER"
"""Stands in a command for what it is about, where several things have the same one."""


def print_json(value: Any) -> None:
    """For programs: one JSON value, UTF-8."""
    sys.stdout.write(json.dumps(value, ensure_ascii=False, indent=2, default=str) + "\n")


def count(found: Sequence[Mapping[str, Any]]) -> str:
    """`2 stops, 1 warning`, the gravest first."""
    many = {severity: sum(f["severity"] == severity for f in found) for severity in _STYLES}
    told = [custody.severity_count(severity, n) for severity, n in many.items() if n]
    return ", ".join(told) or custody.NO_FINDINGS.lower().rstrip(".")


def readiness(
    told: Mapping[str, Any], what: str, *, otherwise: str = UNSIGNED, before: Sequence[Any] = ()
) -> None:
    """The answer to "may this be done?": the verdict first, then what was found, and of much the verdict
    again, since its first line has left the screen.

    `otherwise`: what is so when it may not. What was found and shown `before` stands above, and is only
    counted.
    """
    ready = told["ready"]
    verdict = f"{'READY' if ready else 'NOT READY'}: {count(told['findings'])}."
    after = "" if ready else f" {otherwise}"
    line, style = f"{verdict} {what[:1].upper()}{what[1:]}.{after}", "bold" if ready else "bold red"
    say(line, style=style)
    new = [each for each in told["findings"] if each not in before]
    _by_severity(new)
    if len(new) < len(told["findings"]):
        say(f"{counted(len(told['findings']) - len(new), 'finding')} as above.")
    if len(new) > _SCREENFUL:
        say(line, style=style)


def warned(number: int) -> str:
    """What signing does with warnings, with their number."""
    return (
        f"{counted(number, 'warning is', 'warnings are')} acknowledged by signing and printed on the custody"
        " record."
    )


def findings(found: Sequence[Mapping[str, Any]]) -> None:
    """What the rules found, the gravest first, each with what to do now."""
    if not found:
        click.echo(custody.NO_FINDINGS)
        return
    say(f"Findings: {count(found)}.", style="bold")
    _by_severity(found)


def verdicts(told: Sequence[Mapping[str, Any]]) -> None:
    """The four verdicts, each with what it does not cover."""
    say("Verdicts", style="bold")
    for each in told:
        state = custody.verdict(each["area"], each["state"])
        say(f"{custody.AREAS[each['area']]}: {state}. {each['sentence']}", "  ", "    ")
        for sentence in each["not_checked"]:
            say(f"{custody.NOT_CHECKED.lower()}: {sentence}", "    ", "      ")


def when(moment: object, zone: str | None = None) -> str:
    """RFC 3339 text as people read it: on the clocks of a zone, named, or else with its own offset:
    `2026-12-01 09:05 (-05:00)`.
    """
    text = "" if moment is None else str(moment)
    if zone and "T" in text:
        return f"{clock(text, zone)} {zone}"
    day, _, rest = text.partition("T")
    return f"{day} {rest[:5]} ({rest[-6:]})" if rest else text


def clock(moment: object, zone: str | None) -> str:
    """The same without the zone's name, for columns whose heading or title names it."""
    if not moment or not zone or "T" not in str(moment):
        return when(moment)
    from bailee.domain.moments import Moment

    return f"{Moment.shown_in(Moment.parse(str(moment)).instant, zone).local:%Y-%m-%d %H:%M}"


def words(value: object) -> str:
    """A member of a fixed list as words: `crawl_space` → `crawl space`."""
    return custody.plain(value)


def thing(number: str) -> str:
    """What a finding is about, with its kind: `sample S7K3 M9Q2 XF4P`."""
    kind = numbers.kind_of(number) if name(number) != number else None
    return f"{kind} {name(number)}" if kind else plain(number)


def _by_severity(found: Sequence[Mapping[str, Any]]) -> None:
    for severity, style in _STYLES.items():
        alike: dict[tuple[str, ...], list[Mapping[str, Any]]] = {}
        for each in found:
            if each["severity"] == severity:
                todo = (line.replace(str(each["about"]), _EACH) for line in commands(each["acts"]))
                alike.setdefault((each["rule"], each["remedy"], *todo), []).append(each)
        if alike:
            say(custody.SEVERITIES[severity][1], style=style)
        for (rule, *_), group in alike.items():
            _block(rule, group)


def _block(rule: str, group: Sequence[Mapping[str, Any]]) -> None:
    """One rule and one remedy, with everything they are about."""
    about = list(dict.fromkeys(str(each["about"]) for each in group))
    say(", ".join(map(thing, about)), f"  {rule}  ", " " * 9)
    told = list(dict.fromkeys(map(_found, group)))
    for sentence in told:
        say(sentence, "    - " if len(told) > 1 else "    ")
    todo = commands(group[0]["acts"])
    if len(about) > 1 and any(about[0] in line for line in todo):
        todo = [line.replace(about[0], _EACH) for line in todo]
        say(group[0]["remedy"], f"    do, with each {_EACH} above: ", " " * 8)
    elif group[0]["remedy"]:
        say(group[0]["remedy"], "    do: ")
    offer(todo, " " * 8)


def offer(todo: Iterable[str], indent: str = "", *, err: bool = False) -> None:
    """Commands to type, each on a line of its own, below the words that say what they are for, and with the
    words that may stand for its `…`, where they are few.
    """
    for line in todo:
        say(f"`{line}`", indent, f"{indent}  ", err=err)
        for each in open_words(line):
            say(each, f"{indent}  ", f"{indent}    ", err=err)


def _found(finding: Mapping[str, Any]) -> str:
    said = str(finding["sentence"])
    return f"{said} ({finding['excepted']})" if finding.get("excepted") else said
