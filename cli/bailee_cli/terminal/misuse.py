"""What somebody hears who typed a command wrongly: which word it was, and what to write instead.

Of what the parser of the command line finds, its own sentences are kept where they say what to do (an option
or verb that is nearly right).
"""

from __future__ import annotations

import re
from typing import Final

import click
from click.exceptions import MissingParameter, NoArgsIsHelpError, NoSuchCommand

from bailee_cli.terminal import layout, show

_PATHS: Final = (
    (
        re.compile(r"(?:File|Directory|Path) (?P<path>'.*') does not exist\."),
        "there is no {path}: check its name, and the folder you are in.",
    ),
    (re.compile(r"\w+ (?P<path>'.*') is a directory\."), "{path} is a folder, and a file is needed."),
    (re.compile(r"\w+ (?P<path>'.*') is a file\."), "{path} is a file, and a folder is needed."),
    (
        re.compile(r"\w+ (?P<path>'.*') is not readable\."),
        "{path} cannot be read: its owner has to allow it.",
    ),
)
"""What is said of a path, by what the parser says of it."""
_TOO_MANY: Final = re.compile(r"Got unexpected extra arguments? \((?P<words>.*)\)")


def tell(error: click.UsageError, ctx: click.Context, *, as_json: bool) -> None:
    """How the command is typed, what is wrong, where to read on.

    `ctx` is that of the program, when the error has none. `as_json`: a program is told as well.
    """
    if isinstance(error, NoArgsIsHelpError):
        error.show()
        return
    if as_json:
        show.print_json({"code": "usage", "detail": sentence(error)})
    path = (
        error.ctx.command_path if error.ctx else f"{ctx.command_path} {ctx.invoked_subcommand or ''}".rstrip()
    )
    if error.ctx:
        layout.warn(error.ctx.get_usage())
        click.echo(err=True)
    layout.warn(sentence(error))
    layout.warn(f"`{path} --help` shows what can be typed.")


def sentence(error: click.UsageError) -> str:
    """One sentence or two."""
    if isinstance(error, MissingParameter) and error.param:
        return _missing(error.param)
    if isinstance(error, click.BadParameter) and error.param:
        return f"{_name(error.param)}: {_wrong(error.param, error.message)}"
    if isinstance(error, click.BadOptionUsage):
        end = "takes no value: write it alone" if "not take" in error.message else "wants a value after it"
        return f"{error.option_name} {end}."
    if too_many := _TOO_MANY.fullmatch(error.message):
        return (
            f"Too many words: nothing is known to do with {too_many['words']}. A text of several words is"
            " written in quotes."
        )
    if isinstance(error, NoSuchCommand) and not error.possibilities and error.ctx and error.ctx.parent:
        group = error.ctx.command
        assert isinstance(group, click.Group)
        verbs = ", ".join(group.list_commands(error.ctx))
        return f"`{error.ctx.info_name}` has no {error.command_name!r}. Write one of: {verbs}."
    return error.format_message()


def _missing(param: click.Parameter) -> str:
    words = _words(param)
    if words:
        return f"{_name(param)} is missing. {words}"
    if isinstance(param, click.Option):
        told = re.sub(r"\s*\[(?:default: .*|required)\]$", "", param.help or "").rstrip(".")
        told = re.sub(r"^[A-Z](?=[a-z ])", lambda found: found[0].lower(), told)
        return (
            f"{param.opts[0]} is missing: {told}{'' if told.endswith('?') else '.'}"
            if told
            else f"{param.opts[0]} is missing."
        )
    return f"{_name(param)} is missing: write it after the command."


def _wrong(param: click.Parameter, message: str) -> str:
    if words := _words(param):
        return f"{message.partition(' is not one of ')[0]} is none of its words. {words}"
    for pattern, says in _PATHS:
        if found := pattern.fullmatch(message):
            return says.format(path=found["path"])
    return message


def _words(param: click.Parameter) -> str:
    return (
        f"Write one of: {', '.join(map(str, param.type.choices))}."
        if isinstance(param.type, click.Choice)
        else ""
    )


def _name(param: click.Parameter) -> str:
    if isinstance(param, click.Option):
        return param.opts[0]
    typed = param.metavar.rstrip(".") if param.metavar else (param.name or "").upper()
    return "One word" if isinstance(param.type, click.Choice) else typed
