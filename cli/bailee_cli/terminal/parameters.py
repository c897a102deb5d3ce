"""Which option or argument of the command that runs says a member of an act."""

from __future__ import annotations

import click

from bailee_cli.terminal import commands


def param_of(member: str) -> click.Parameter | None:
    """The option or argument that takes one value of this member; lists of numbers are scanned."""
    context = click.get_current_context()
    names = {f"--{each.replace('_', '-')}" for each in (member, commands.OPTIONS.get(member, member))}
    found = [
        each for each in context.command.params if each.name == member or not names.isdisjoint(each.opts)
    ]
    return next((each for each in found if each.nargs == 1), None)


def lacking(member: str) -> click.MissingParameter:
    """The error of a command that lacks what a question at a terminal would ask for."""
    context = click.get_current_context()
    name = member.partition("/")[0]
    meant = [each for each in context.command.params if each.name == name]
    param = param_of(name) or next(iter(meant), None) or param_of(_OTHERWISE.get(name, name))
    return click.MissingParameter(ctx=context, param=param, param_hint=None if param else name)


_OTHERWISE = {"condition": "all_intact"}
"""At the dock the condition of each is asked, and one option says it of them all."""
