"""The stage: people at keyboards, what each typed, what the screen said, and what we expected it to say.

    stage.step("Ines runs the first cassette.", "inspector", "collect", sample, …, shows=("Volume",))

Every command is the real command line in this process, with the real home folder of that person, over real
HTTP. Its whole screen is kept as a file; the lines that matter are shown. A screen that does not say what it
should ends the demonstration.
"""

from __future__ import annotations

import json
import shlex
import sys
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, TextIO

import click
from click.testing import CliRunner
from ground import DemoError

from bailee.presentation import words
from bailee_cli.device.session import Session
from bailee_cli.main import bailee

WIDTH: Final = 98
_GUTTER: Final = "    \N{BOX DRAWINGS LIGHT VERTICAL} "
_AS_TERMINAL: Final = {"COLUMNS": str(WIDTH - len(_GUTTER)), "TTY_COMPATIBLE": "1", "TERM": "xterm-256color"}


@dataclass
class Stage:
    """Where people live (`people`), where screens are kept, where everything is said."""

    folder: Path
    out: TextIO = field(default_factory=lambda: sys.stdout)
    count: int = 0

    @property
    def people(self) -> Path:
        """The home of every profile: what BAILEE_HOME would be."""
        return self.folder / "people"

    def act(self, title: str) -> None:
        """A new chapter."""
        self.line("")
        self.line(
            click.style(
                f"\N{BOX DRAWINGS LIGHT HORIZONTAL}\N{BOX DRAWINGS LIGHT HORIZONTAL} {title} ", bold=True
            )
            + "\N{BOX DRAWINGS LIGHT HORIZONTAL}" * (WIDTH - len(title) - 4)
        )

    def tell(self, sentence: str) -> None:
        """A line beside the action."""
        for line in textwrap.wrap(sentence, WIDTH - 4, break_on_hyphens=False):
            self.line("    " + line)

    def step(
        self, sentence: str, who: str, *words: str, shows: Sequence[str] = (), since: str | None = None,
        full: bool = False, code: int = 0, typed: str = "",
    ) -> str:  # fmt: skip
        """One person types one command. `shows`: what the screen must say, and the lines worth showing.

        `since` shows all from that word on instead; `full` a long command line in full instead of its
        beginning. Raises `DemoError`.
        """
        self.headline(sentence)
        return self.typed(who, *words, shows=shows, since=since, full=full, code=code, typed=typed)

    def headline(self, sentence: str) -> None:
        """Say what a person does now."""
        self.count += 1
        lines = textwrap.wrap(sentence, WIDTH - 4, break_on_hyphens=False)
        self.line("")
        self.line(click.style(f"{self.count:>3} {lines[0]}", bold=True))
        for line in lines[1:]:
            self.line(click.style("    " + line, bold=True))

    def typed(
        self, who: str, *words: str, shows: Sequence[str] = (), since: str | None = None, full: bool = False,
        code: int = 0, typed: str = "", silent: bool = False,
    ) -> str:  # fmt: skip
        """One more command of the same step; `silent` keeps it off the screen, not out of the files."""
        line = command_line(who, words)
        if not silent:
            self.command(["bailee", "--as", who, *words], full=full)
        result = CliRunner().invoke(
            bailee,
            ["--as", who, *words],
            obj=Session(home=self.people),
            input=typed,
            env=_AS_TERMINAL,
            color=True,
        )
        screen = result.output
        plain = click.unstyle(screen)
        self.keep(who, words[0], line, plain)
        if result.exception and not isinstance(result.exception, SystemExit):
            raise DemoError(f"`{line}` went wrong: {result.exception!r}.") from result.exception
        if result.exit_code != code:
            raise DemoError(f"`{line}` ended with {result.exit_code} and not with {code}. It said:\n{plain}")
        missing = [each for each in [*shows, since or ""] if each not in plain]
        if missing:
            raise DemoError(f"`{line}` did not say {missing[0]!r}. It said:\n{plain}")
        if not silent:
            self.screen(_worth_showing(screen, shows, since))
        return plain

    def answer(self, who: str, *words: str, code: int = 0) -> Any:
        """The same as a program would read it; not shown."""
        result = CliRunner().invoke(bailee, ["--as", who, "--json", *words], obj=Session(home=self.people))
        if result.exit_code != code:
            raise DemoError(f"`{command_line(who, words)}` ended with {result.exit_code}: {result.output}")
        return json.loads(result.stdout)

    def in_short(self, told: Mapping[str, Any], expected: Sequence[str]) -> None:
        """Findings and verdicts, a sentence each.

        Raises `DemoError` when a rule that should have found something did not.
        """
        missing = sorted(set(expected) - {each["rule"] for each in told["findings"]})
        if missing:
            raise DemoError(f"Rule {missing[0]} found nothing where it should have.")
        for each in told["findings"]:
            excepted = f" ({each['excepted']})" if each["excepted"] else ""
            self.screen(
                [f"  {words.severity(each['severity'])} {each['rule']}  {each['sentence']}{excepted}"]
            )
        for each in told.get("verdicts", ()):
            verdict = f"{words.AREAS[each['area']]}: {words.verdict(each['area'], each['state'])}."
            self.screen([f"{verdict} {each['sentence']}"])

    def screen(self, text: str | Sequence[str]) -> None:
        """What a screen said, behind a line at the left."""
        room = WIDTH - len(_GUTTER)
        for line in text.splitlines() if isinstance(text, str) else text:
            indent = " " * (len(line) - len(line.lstrip()) + 2)
            fits = len(click.unstyle(line)) <= room
            parts = (
                [line]
                if fits
                else textwrap.wrap(line, room, subsequent_indent=indent, break_on_hyphens=False)
            )
            for part in parts:
                self.line(click.style(_GUTTER, dim=True) + part)

    def command(self, words: Sequence[str], *, full: bool = False) -> None:
        """A command as typed, cut after its first line unless it is wanted in full."""
        lines = [""]
        for word in _in_pairs(words):
            if len(lines[-1]) + len(word) + 1 > WIDTH - 8:
                lines.append("")
            lines[-1] += f"{' ' * bool(lines[-1])}{word}"
        if not full and len(lines) > 1:
            lines = [f"{lines[0]} \N{HORIZONTAL ELLIPSIS}"]
        for number, each in enumerate(lines):
            more = " \\" if number < len(lines) - 1 else ""
            self.line(click.style(f"    {'$' if not number else '   '} {each}{more}", fg="cyan"))

    def keep(self, who: str, verb: str, line: str, plain: str) -> None:
        """Write a whole screen to its file."""
        screens = self.folder / "screens"
        screens.mkdir(exist_ok=True)
        with (screens / f"{self.count:02}-{who}-{verb}.txt").open("a", encoding="utf-8") as file:
            file.write(f"$ {line}\n{plain}\n")

    def line(self, line: str) -> None:
        """Say one line, and keep it."""
        click.echo(line, file=self.out)
        with (self.folder / "journey.txt").open("a", encoding="utf-8") as file:
            file.write(click.unstyle(line) + "\n")


def _worth_showing(screen: str, shows: Sequence[str], since: str | None) -> list[str]:
    lines = screen.splitlines()
    if since is None:
        return [plain for plain in map(click.unstyle, lines) if any(each in plain for each in shows)]
    first = next(number for number, line in enumerate(lines) if since in click.unstyle(line))
    return lines[first:]


def command_line(who: str, words: Sequence[str]) -> str:
    """A command as a person would type it."""
    return shlex.join(["bailee", "--as", who, *words])


def _in_pairs(words: Sequence[str]) -> list[str]:
    """Quoted words, an option and its value staying together."""
    pairs: list[str] = []
    for word in words:
        if pairs and pairs[-1].startswith("--") and " " not in pairs[-1] and not word.startswith("-"):
            pairs[-1] += f" {shlex.quote(word)}"
        else:
            pairs.append(shlex.quote(word))
    return pairs
