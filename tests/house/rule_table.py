"""The tables of README.md that follow from the program: rules, commands, settings, exit codes.

    python tests/house/rule_table.py      writes them into README.md

Each lies between `<!-- NAME -->` and `<!-- end of NAME -->`. Tests compare; nobody edits them by hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any, Final

import click

import bailee.rules  # noqa: F401 - enters every rule in the registry
from bailee.config import Settings
from bailee.presentation import words
from bailee.rules.registry import REFUSALS, RULES
from bailee_cli import main

README: Final = Path(__file__).resolve().parents[2] / "README.md"
GROUPS: Final = {
    "ML": "Media lot",
    "CL": "Cassette and label",
    "VP": "Preparation of the visit",
    "SL": "Where samples were taken",
    "PV": "Pump, flow, time",
    "OC": "Outdoor control",
    "BD": "Blanks and duplicates",
    "SE": "Sealing",
    "SH": "Shipping",
    "RC": "Receiving dock",
    "CU": "Custody and time",
    "SI": "Signatures and roles",
}


def rules() -> str:
    """Every rule by its group: id, what it finds, how grave, whether a second person may allow it, where it comes from."""
    lines = ["| rule | finds | | may be allowed | source |", "|---|---|---|---|---|"]
    for prefix, title in GROUPS.items():
        group = [row for row in sorted(_rows()) if row[0].startswith(prefix)]
        if group:
            lines += [f"| | **{title}** | | | |", *(f"| {' | '.join(row)} |" for row in group)]
    return "\n".join(lines)


def source_for_people(source: str) -> str:
    """A source as users may read it: what nobody looked up is common practice, not a citation."""
    parts = [
        "common practice" if "memory" in part or part == "common practice, no source" else part
        for part in source.split("; ")
    ]
    return "; ".join(dict.fromkeys(parts))


def commands() -> str:
    """Every verb with its usage line."""
    lines: list[str] = []
    for person, verbs in main.VERBS.items():
        lines += ["" if not lines else "\n", f"**{person}**", "", "| command | |", "|---|---|"]
        lines += [
            f"| `{usage}` | {says} |" for name in verbs for usage, says in _usages(name, verbs[name][1])
        ]
    return "\n".join(lines).replace("\n\n\n", "\n\n")


def settings() -> str:
    """Every setting of a service: name, default, meaning."""
    values: dict[str, Any] = {
        each.name: "" for each in fields(Settings) if each.name != "home" and each.default is MISSING
    }
    text = Settings(home=Path(), **values).text()
    default = {
        each.name: f"`{_told(each.default)}`" if each.default else "none"
        for each in fields(Settings)
        if each.default is not MISSING
    }
    lines = ["| setting | default | meaning |", "|---|---|---|"]
    for says, name in re.findall(r"# (.+)\n(\w+) = ", text):
        lines.append(f"| `{name}` | {default.get(name, 'must be given')} | {says} |")
    return "\n".join(lines)


def _told(default: Any) -> str:
    return ", ".join(default) if isinstance(default, tuple) else str(default)


BLOCKS: Final[Mapping[str, Callable[[], str]]] = {"rules": rules, "commands": commands, "settings": settings}


def written(readme: str) -> str:
    """README.md with every block made anew."""
    for name, make in BLOCKS.items():
        start, end = f"<!-- {name} -->", f"<!-- end of {name} -->"
        before, _, rest = readme.partition(start)
        readme = f"{before}{start}\n\n{make()}\n\n{end}{rest.partition(end)[2]}"
    return readme


def _rows() -> Iterator[tuple[str, str, str, str, str]]:
    for each in RULES.values():
        allowed = "by a second person" if each.may_be_excepted else ""
        yield (
            each.id,
            each.title,
            words.severity(each.severity).lower(),
            allowed,
            source_for_people(each.source),
        )
    for refused in REFUSALS.values():
        yield (
            refused.id,
            refused.title,
            words.severity("refuse").lower(),
            "",
            source_for_people(refused.source),
        )


def _usages(name: str, says: str) -> Iterator[tuple[str, str]]:
    command = main.bailee.get_command(click.Context(main.bailee), name)
    if isinstance(command, click.Group):
        for sub, each in command.commands.items():
            yield _usage(each, f"bailee {name} {sub}"), each.get_short_help_str(200)
    elif command:
        yield _usage(command, f"bailee {name}"), says


def _usage(command: click.Command, name: str) -> str:
    usage = command.get_usage(click.Context(command, info_name=name))
    return " ".join(
        usage.removeprefix("Usage: ").replace("[OPTIONS] ", "").replace("[OPTIONS]", "").split()
    ).replace("|", "\\|")


if __name__ == "__main__":
    README.write_text(written(README.read_text("utf-8")), "utf-8")
