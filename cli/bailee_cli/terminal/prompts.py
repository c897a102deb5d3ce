"""How a person at a terminal is asked: one question at a time, choices by their number, a slip asked back.

Without a terminal nothing is ever asked. What is asked, and what is a slip, is decided below
(`bailee.asking`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NoReturn

import click

from bailee.errors import BaileeError, Malformed
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout
from bailee_cli.terminal.options import at_a_terminal

if TYPE_CHECKING:
    from bailee.asking.slips import Slip
    from bailee.asking.steps import Ask

_YES = ("y", "yes")
_NO = ("n", "no")
_WORDS = ("yes", "no")
"""Choices that need no number."""
_INLINE = 50
"""Choices shorter than this stand in the question."""


def may_ask(session: Session) -> bool:
    """Whether somebody is there to be asked."""
    return at_a_terminal() and not session.json


def require(**given: object) -> None:
    """Raise the error of a command that lacks something, for what it would have asked at a terminal."""
    context = click.get_current_context()
    for param in context.command.params:
        if param.name in given and given[param.name] is None:
            raise click.MissingParameter(ctx=context, param=param)


def one(ask: Ask) -> Any:
    """The answer to one question, asked until it is one."""
    question = ask.question
    if ask.choices:
        told = [says if says in _WORDS else f"{key} {says}" for key, _, says in ask.choices]
        question = layout.listed(f"{ask.question} (", told, ")")
        if sum(map(len, told)) > _INLINE:
            click.echo(layout.listed(f"{ask.question}: ", told), err=True)
            question = ask.label.capitalize()
    while True:
        text = str(click.prompt(question, default="", show_default=False, err=True))
        try:
            return ask.read(text)
        except BaileeError as error:
            layout.warn(error.sentence)


def fill(
    asks: Callable[[Mapping[str, Any]], Iterable[Ask]], answers: dict[str, Any], last: Mapping[str, Any]
) -> None:
    """Ask for every answer that is missing, one after the other.

    What keeps from one time to the next is taken from the `last` answers, and shown before it is signed.
    """
    while ask := next((each for each in asks(answers) if each.member not in answers), None):
        kept = last.get(ask.member) if ask.keeps else None
        answers[ask.member] = kept if kept is not None else one(ask)


def review(
    title: Sequence[str],
    rows: Callable[[], Sequence[tuple[Ask | None, str, str]]],
    what: str,
    answers: dict[str, Any],
    settled: Callable[[], None],
) -> None:
    """Show in one screen what will be signed, and go on once it is signed for.

    A number changes that line, after which `settled` looks for slips again. Ends the command with 1 for a no.
    """
    while True:
        listed = rows()
        for line in title:
            layout.say(line, err=True, style="bold")
        wide = max((len(label) for _, label, _ in listed), default=0)
        for number, (ask, label, text) in enumerate(listed, 1):
            mark = f"{number:>3}" if ask else "   "
            layout.say(text, f"{mark}  {label:<{wide}}  ", " " * (wide + 7), err=True)
        question = f"Sign: {what}? y signs, n signs nothing, a number changes that line"
        answer = str(click.prompt(question, default="", show_default=False, err=True)).strip().lower()
        if answer in _YES:
            return
        if answer in _NO:
            give_up()
        chosen = (
            listed[int(answer) - 1][0] if answer.isdecimal() and 1 <= int(answer) <= len(listed) else None
        )
        if chosen is None:
            layout.warn("Type y, n, or the number of a line.")
            continue
        answers[chosen.member] = one(chosen)
        settled()


def settle(
    session: Session,
    found: Callable[[], Iterable[Slip]],
    again: Mapping[str, Callable[[str], None]] | None = None,
) -> None:
    """Go on once nothing that is about to be signed is surely a slip: typed again, or said to be so.

    `found` tells the slips of what is said now; `again` takes another value of a member as typed. Raises
    `Malformed` ("slip") where nobody can be asked, with every slip in `facts["slips"]`.
    """
    stands: set[tuple[str, str, str]] = set()
    while rest := [each for each in found() if (each.code, each.field, each.said) not in stands]:
        if session.anyway:
            for each in rest:
                layout.warn(f"Signed all the same: {each.sentence}")
            return
        if not may_ask(session):
            told = " ".join(f"{each.sentence} {each.remedy}" for each in rest)
            raise Malformed(
                f"{told} Nothing was signed: mend it, or --anyway signs it all the same.",
                code="slip",
                slips=[each.as_data() for each in rest],
            )
        if _ask_back(rest[0], (again or {}).get(rest[0].field)):
            stands.add((rest[0].code, rest[0].field, rest[0].said))


def _ask_back(slip: Slip, again: Callable[[str], None] | None) -> bool:
    """Whether it is so as it was said; otherwise it was typed again. Ends the command with 1 for a no."""
    layout.warn(f"{slip.sentence} {slip.remedy}")
    like = f", like {slip.meant}" if slip.meant else ""
    question = f"Type it again{like}; or yes: it is so; or no" if again else "Is it so? (yes or no)"
    while True:
        answer = str(click.prompt(question, err=True)).strip()
        if answer.lower() in _YES:
            return True
        if answer.lower() in _NO:
            give_up()
        if again is None:
            continue
        try:
            again(answer)
        except BaileeError as error:
            layout.warn(error.sentence)
        else:
            return False


def give_up() -> NoReturn:
    """The person says no. Ends the command with 1."""
    layout.warn("Nothing was signed.")
    raise click.exceptions.Exit(1)
