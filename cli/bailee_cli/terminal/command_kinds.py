"""Kinds of commands: what every verb does before it runs.

Commands that ask at a terminal for what they cannot do without.

Commands that take the name of a key or a statement, which one time in sixty-four begins with a hyphen.

Such a name is no option. It is recognized by its shape (43 characters of base64url, RFC 7638 and 6920) and
kept out of click's sight until the options have been read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import click

from bailee.errors import BaileeError
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout
from bailee_cli.terminal.options import Number, at_a_terminal
from bailee_cli.terminal.prompts import ChangeLine, change, one

if TYPE_CHECKING:
    from bailee.asking.question import Ask

_NAME: Final = re.compile(r"-[A-Za-z0-9_-]{42}", re.ASCII)
_DEFAULT: Final = re.compile(r"\s*\[(?:default|required|needed)\b.*")
"""What a help line says of leaving it out."""
_VEIL: Final = "\u2060"


class AskingCommand(click.Command):
    """A command that at a terminal asks for what it cannot do without, one question at a time.

    Elsewhere what is missing is said, as ever, and nothing is asked.
    """

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read options and arguments; what is asked for is read as if it had been typed."""
        if not ctx.resilient_parsing and at_a_terminal() and not _is_json(ctx, args):
            asked = self._asked(ctx, args)
            args = [*args, *asked]
            if asked and isinstance(ctx.obj, Session):
                ctx.obj.was_asked = True
        return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run it; and anew, with one other answer, as often as a line is changed before the signature."""
        while True:
            try:
                return super().invoke(ctx)
            except ChangeLine as wish:
                session = ctx.obj
                if wish.member in session.answered:
                    ask = session.asks[wish.member]
                    session.answered[wish.member] = change(ask, session.answered[wish.member])
                else:
                    param = next(each for each in self.params if each.name == wish.member)
                    ctx.params[wish.member] = typed_anew(ctx, param, wish.shown, ctx.params[wish.member])

    def _asked(self, ctx: click.Context, args: list[str]) -> list[str]:
        try:
            given, over, order = self.make_parser(ctx).parse_args(list(args))
            _require_numbers(self.params, given)
        except (click.UsageError, BaileeError):
            return []  # what is typed wrongly is said first
        if over or any(isinstance(each, click.Option) and each.is_eager for each in order):
            return []  # more than it takes; --help, and its like
        options, operands = [], []
        for param in self.needed(ctx):
            if not _is_missing(given.get(str(param.name))):
                continue
            answer = asked_for(param, self.usual(ctx, param))
            if isinstance(ctx.obj, Session) and param.nargs == 1:
                ctx.obj.asks[str(param.name)] = asking(param)
            if not isinstance(param, click.Option):
                operands += answer.split() if param.nargs == -1 else [answer]
            elif param.is_flag:
                options.append(param.opts[0] if answer == "yes" else param.secondary_opts[0])
            else:
                options.append(f"{_longest(param)}={answer}")
        return [*options, *(["--", *operands] if operands else [])]

    def needed(self, ctx: click.Context) -> list[click.Parameter]:  # noqa: ARG002 — for kinds that look
        """What is asked for where it is missing, in this order."""
        return [each for each in self.params if each.required]

    def usual(self, ctx: click.Context, param: click.Parameter) -> str | None:  # noqa: ARG002 — as above
        """What Enter means where this is asked for, if it means anything."""
        return None


class ToColleagueCommand(AskingCommand):
    """A command that hands something to an organization: to one's own, as a rule."""

    def usual(self, ctx: click.Context, param: click.Parameter) -> str | None:
        """One's own organization."""
        if param.name == "to" and isinstance(ctx.obj, Session):
            with suppress(BaileeError):  # who has not joined any is told so later
                return str(ctx.obj.profile.org)
        return None


class OnVisitCommand(AskingCommand):
    """A command about the visit worked on last. Where this device knows none, its form is the first thing
    that is asked for.
    """

    def needed(self, ctx: click.Context) -> list[click.Parameter]:
        """The form, if need be, and what is asked for after it."""
        rest = super().needed(ctx)
        if isinstance(ctx.obj, Session) and ctx.obj.outbox.recall("form"):
            return rest
        return [*(each for each in self.params if each.name in ("form", "forms")), *rest]


def _require_numbers(params: Sequence[click.Parameter], given: Mapping[str, Any]) -> None:
    """Refuse the number of a label that cannot be. Raises `BadNumber`."""
    for param in params:
        said = given.get(str(param.name))
        if isinstance(param.type, Number) and isinstance(said, str):
            param.type.convert(said, param, None)


def _is_missing(value: object) -> bool:
    """Whether the parser found nothing: it has a mark of its own for that."""
    return not isinstance(value, str | int | bool | list | tuple) or value == ()


def _longest(option: click.Option) -> str:
    """The name of an option that takes its value after `=`: to a letter the sign would be part of it."""
    return max(option.opts, key=len)


def _is_json(ctx: click.Context, args: Sequence[str]) -> bool:
    return "--json" in args or (isinstance(ctx.obj, Session) and ctx.obj.json)


def asked_for(param: click.Parameter, usual: str | None = None) -> str:
    """What somebody answers who is asked for an option or an argument; words are chosen by number, and Enter
    is what is `usual`.
    """
    ask = asking(param)
    while True:
        answer = str(one(ask, usual, keeps=usual is not None))
        try:
            for part in answer.split() if param.nargs == -1 else [answer]:
                if not ask.choices:
                    param.type.convert(part, param, None)  # without a context it asks nothing itself
        except BaileeError as error:
            layout.warn(error.sentence)
        except click.BadParameter as error:
            layout.warn(error.message)
        else:
            return answer


def typed_anew(ctx: click.Context, param: click.Parameter, shown: str, stands: Any) -> Any:
    """What is typed for an option or an argument in the place of the value that `stands`. Enter keeps it."""
    several = bool(getattr(param, "multiple", False))
    ask = replace(asking(param), optional=not param.required, several=several)
    before: Any = [shown] if several else shown
    while True:
        said = change(ask, before)
        if said is before:
            return stands
        if isinstance(said, str) and several:
            said = [each.strip() for each in said.split(",")]
        try:
            return param.type_cast_value(ctx, said)
        except BaileeError as error:
            layout.warn(error.sentence)
        except click.BadParameter as error:
            layout.warn(error.message)


def asking(param: click.Parameter) -> Ask:
    """The question that an option or an argument is."""
    from bailee.asking.question import Ask
    from bailee.presentation import words

    told = _DEFAULT.sub("", getattr(param, "help", None) or "").split(". ")[0].rstrip(".?")
    name = (
        _longest(param).lstrip("-").replace("-", "_") if isinstance(param, click.Option) else str(param.name)
    )
    label = words.plain(name)
    if isinstance(param, click.Argument) and isinstance(param.type, Number) and param.nargs == 1:
        of = f" of the {label}" if param.type.kind else ""
        told = f"Number{of}: scan it, or type it"
    elif isinstance(param, click.Argument) and isinstance(param.type, Number):
        told = f"{label.capitalize()}, with blanks between them"
    choices: tuple[tuple[str, str, str], ...] = ()
    if isinstance(param.type, click.Choice):
        codes = [str(each) for each in param.type.choices]
        choices = tuple((str(n), code, words.plain(code)) for n, code in enumerate(codes, 1))
    elif isinstance(param, click.Option) and param.is_flag:
        choices = (("y", "yes", "yes"), ("n", "no", "no"))
    return Ask(str(param.name), told or _ARGUMENTS.get(label, label.capitalize()), label, choices)


_ARGUMENTS: Final = {"pump": "Pump number"}
"""Questions of arguments, which have no help of their own, where the name alone is none."""


class NamingCommand(AskingCommand):
    """A command whose arguments may begin with a hyphen when they are names of keys or statements."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read options and arguments, names of keys and statements whole."""
        rest = super().parse_args(ctx, [_VEIL + each if _NAME.fullmatch(each) else each for each in args])
        ctx.params = {name: _unveiled(value) for name, value in ctx.params.items()}
        return rest


def _unveiled(value: Any) -> Any:
    if isinstance(value, str):
        return value.removeprefix(_VEIL)
    return tuple(map(_unveiled, value)) if isinstance(value, tuple) else value
