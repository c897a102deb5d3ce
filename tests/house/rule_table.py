"""The tables of README.md that follow from the program: commands, settings, exit codes.

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

from bailee.config import Settings
from bailee_cli import main

README: Final = Path(__file__).resolve().parents[2] / "README.md"


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


BLOCKS: Final[Mapping[str, Callable[[], str]]] = {"commands": commands, "settings": settings}


def written(readme: str) -> str:
    """README.md with every block made anew."""
    for name, make in BLOCKS.items():
        start, end = f"<!-- {name} -->", f"<!-- end of {name} -->"
        before, _, rest = readme.partition(start)
        readme = f"{before}{start}\n\n{make()}\n\n{end}{rest.partition(end)[2]}"
    return readme


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
