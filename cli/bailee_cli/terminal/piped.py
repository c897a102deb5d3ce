"""Answers where there is no terminal: read from standard input when a program puts them there, never asked
for.

What is not there is told with the option that says it, as of any command that lacks something.
"""

from __future__ import annotations

import sys

import click

from bailee_cli.terminal import layout, yes_no
from bailee_cli.terminal.options import at_a_terminal
from bailee_cli.terminal.parameters import lacking


def line(question: str, member: str) -> str:
    """The next answer. Raises the error of a command that lacks the option of this member."""
    text = sys.stdin.readline()
    if not text:
        raise lacking(member)
    click.echo(f"{question}: {text.strip()}", err=True)
    return text.strip()


def confirmed(question: str, option: str, *, default: bool | None = False) -> bool:
    """A yes or a no to a question, asked at a terminal; elsewhere the next line, or the error of a command
    that lacks `option`.
    """
    if at_a_terminal():
        return yes_no.asked(question)
    while True:
        may = "y/n" if default is None else "Y/n" if default else "y/N"
        said = line(f"{layout.asked(question)} [{may}]", option)
        found = yes_no.means(said)
        if found is not None:
            return found
        if not said and default is not None:
            return default


def agree(question: str, option: str = "yes") -> None:
    """Go on with a yes alone. Ends the command with 1 for a no."""
    if not confirmed(question, option):
        raise click.Abort
