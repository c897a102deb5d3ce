"""What anybody may look up, without a service and without a key: the rules, and what a shell may complete."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from bailee_cli.device.session import Session
from bailee_cli.terminal.options import json_option

if TYPE_CHECKING:
    from bailee.presentation.rule_book import RuleLine


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

    Of one, like OC-01, say what it finds, what to do, its thresholds and its source.
    """
    from bailee.presentation import rule_book
    from bailee_cli.terminal import show

    if code is not None:
        found = rule_book.look_up(code)
        if session.json:
            show.print_json(asdict(found))
        else:
            _tell(found)
    elif session.json:
        show.print_json([asdict(each) for each in rule_book.book().values()])
    else:
        _tell_all()


def _tell_all() -> None:
    from bailee.presentation import rule_book, words
    from bailee_cli.terminal import show

    for title, lines in rule_book.by_group():
        rows = [(each.code, words.severity(each.severity).lower(), each.sentence) for each in lines]
        show.table(title, ["", "", ""], rows)
    click.echo()
    for code, (_, _, meaning) in words.SEVERITIES.items():
        if meaning:
            show.say(words.severity_meaning(code), rest="  ")
    show.say(" ".join(rule_book.ABOUT))
    show.say("`bailee rules CODE` says of one rule what to do, and where it comes from.")


def _tell(rule: RuleLine) -> None:
    from bailee.presentation.rule_book import THRESHOLD_HEADINGS
    from bailee_cli.terminal import show

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
