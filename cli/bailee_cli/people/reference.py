"""What anybody may look up, without a service and without a key: guides, rules, what a shell may complete.

At a terminal a guide has headings that stand out, and paragraphs and tables as wide as the screen; what is to
be typed stands unchanged at the edge, to be copied. Everywhere else it is the Markdown that it is.
"""

from __future__ import annotations

import re
import sys
from dataclasses import asdict
from typing import TYPE_CHECKING, Final

import click
from click.shell_completion import CompletionItem

from bailee import guides
from bailee.errors import Malformed
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout, show
from bailee_cli.terminal.options import json_option

if TYPE_CHECKING:
    from bailee.presentation.rule_book import RuleLine

_FENCED: Final = re.compile(r"^```[^\n]*\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_MARK: Final = re.compile(r"- |\d+\. ")
_ITEMS: Final = re.compile(r"\n(?=- |\d+\. )")
_LINK: Final = re.compile(r"\[([^\]]+)\]\(([^)]+)\)")
_STRONG: Final = re.compile(r"(?<![\w*])(\*\*?)(?=\S)([^*`]+)(?<=\S)\1(?![\w*])")


class GuideName(click.ParamType[guides.Guide]):
    """A guide, by its name."""

    name = "name"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> guides.Guide:  # noqa: ARG002 - click's signature
        """The guide. Raises `Malformed` with the names like it for a name that none has."""
        if found := guides.find(value):
            return found
        near = guides.nearest(value)
        meant = f" Names like it: {', '.join(near)}." if near else ""
        raise Malformed(
            f"No guide is called {value!r}.{meant} `bailee guide` lists them all.",
            code="no-guide",
            nearest=near,
        )

    def shell_complete(
        self,
        ctx: click.Context,  # noqa: ARG002 - click's signature
        param: click.Parameter,  # noqa: ARG002 - click's signature
        incomplete: str,
    ) -> list[CompletionItem]:
        """The names that begin so."""
        return [
            CompletionItem(each.name, help=each.sentence)
            for each in guides.every()
            if each.name.startswith(incomplete)
        ]


@click.command("guide")
@click.argument("guide", type=GuideName(), required=False, metavar="[NAME]")
@json_option
@click.pass_obj
def guide_command(session: Session, guide: guides.Guide | None) -> None:
    """Show the guide called NAME: what this person does, in which order. Without NAME, list them all.

    It needs no network and no key.
    """
    if guide is None:
        _list_guides(session)
    elif session.json:
        show.print_json({"guide": guide.name, "title": guide.title, "text": guide.text})
    elif sys.stdout.isatty():
        _tell_guide(guide.text)
    else:
        click.echo(guide.text, nl=False)


def _list_guides(session: Session) -> None:
    if session.json:
        told = [
            {"guide": each.name, "title": each.title, "sentence": each.sentence} for each in guides.every()
        ]
        show.print_json({"guides": told})
        return
    rows = [(each.name, f"{each.title}. {each.sentence}") for each in guides.every()]
    layout.table("Guides, shown by `bailee guide NAME`", ["", ""], rows)


def _tell_guide(text: str) -> None:
    for number, part in enumerate(_FENCED.split(text)):
        if number % 2:
            for line in part.splitlines():
                click.echo(layout.painted(line, "cyan"))
            click.echo()
            continue
        for paragraph in filter(None, part.strip().split("\n\n")):
            _tell_paragraph(paragraph)
            click.echo()


def _tell_paragraph(paragraph: str) -> None:
    if paragraph.startswith("#"):
        layout.say(_plain(paragraph.lstrip("# ")), style="bold")
    elif paragraph.startswith("|"):
        heads, _, *rows = [_cells(row) for row in paragraph.splitlines()]
        layout.table("" if layout.fits(heads, rows) else heads[0], heads, rows)
    else:
        for item in _ITEMS.split(paragraph):
            mark = _MARK.match(item)
            layout.say(_plain(" ".join(item[len(mark[0]) if mark else 0 :].split())), mark[0] if mark else "")


def _cells(row: str) -> list[str]:
    return [_plain(each.strip()) for each in row.strip().strip("|").split("|")]


def _plain(text: str) -> str:
    """Without the marks that only a page shows; a link to another guide is the command that shows it."""

    def said(link: re.Match[str]) -> str:
        name = guides.linked(link[2])
        return f"{link[1]} (`bailee guide {name}`)" if name else f"{link[1]} ({link[2]})"

    return _STRONG.sub(r"\2", _LINK.sub(said, text))


def _codes(_ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[str]:
    """Codes of rules that begin so, for a shell."""
    from bailee.presentation import rule_book

    return [code for code in rule_book.book() if code.startswith(incomplete.upper())]


@click.command("rules")
@click.argument("code", required=False, shell_complete=_codes)
@json_option
@click.pass_obj
def rules_command(session: Session, code: str | None) -> None:
    """List the rules by group.

    Of one, like OC-01, show what it finds, what to do, its thresholds and its source.
    """
    from bailee.presentation import rule_book

    if code is not None:
        found = rule_book.look_up(code)
        if session.json:
            show.print_json(asdict(found))
        else:
            _tell_rule(found)
    elif session.json:
        show.print_json([asdict(each) for each in rule_book.book().values()])
    else:
        _list_rules()


def _list_rules() -> None:
    from bailee.presentation import rule_book, words

    for title, lines in rule_book.by_group():
        rows = [(each.code, words.severity(each.severity).lower(), each.sentence) for each in lines]
        show.table(title, ["", "", ""], rows)
    click.echo()
    for code, (_, _, meaning) in words.SEVERITIES.items():
        if meaning:
            show.say(words.severity_meaning(code), rest="  ")
    show.say(" ".join(rule_book.ABOUT))
    show.say("`bailee rules CODE` shows what to do about one finding, and the source of its rule.")


def _tell_rule(rule: RuleLine) -> None:
    from bailee.presentation.rule_book import THRESHOLD_HEADINGS

    show.facts(f"{rule.code}  {rule.sentence}", rule.facts())
    if rule.thresholds:
        click.echo()
        show.table("Thresholds", THRESHOLD_HEADINGS, [each.cells for each in rule.thresholds])


@click.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def completion_command(ctx: click.Context, shell: str) -> None:
    """Print what makes SHELL complete verbs, options and words of `bailee` when you press Tab.

    \b
    bash   put  eval "$(bailee completion bash)"  into ~/.bashrc
    zsh    put  eval "$(bailee completion zsh)"   into ~/.zshrc, after compinit
    fish   bailee completion fish > ~/.config/fish/completions/bailee.fish
    """  # noqa: D301 - click's mark for lines that stay as they are
    from click.shell_completion import get_completion_class

    of_shell = get_completion_class(shell)
    assert of_shell is not None, shell
    click.echo(of_shell(ctx.find_root().command, {}, "bailee", "_BAILEE_COMPLETE").source())
