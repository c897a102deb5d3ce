"""How a person at a terminal is asked: one question at a time, choices by their number, a slip asked back.

Without a terminal nothing is ever asked. What is asked, and what is a slip, is decided below
(`bailee.asking`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NoReturn

import click

from bailee.errors import BaileeError, Malformed
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout, piped, yes_no
from bailee_cli.terminal.options import NOTHING_SIGNED, at_a_terminal, chosen, may_mean
from bailee_cli.terminal.parameters import lacking

if TYPE_CHECKING:
    from bailee.asking.question import Ask
    from bailee.asking.slip import Slip

_ENTER = re.compile(r" \(Enter: [^)]*\)")
_TYPED = len(": 2026-11-25 14:00")
"""Room for an answer after a question."""
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


class ChangeLine(Exception):
    """A line on the screen before the signature is to be answered again: the command runs anew, and asks
    nothing else. `shown` is what stands there now.
    """

    def __init__(self, member: str, shown: str) -> None:
        super().__init__(member)
        self.member = member
        self.shown = shown


def answer(session: Session, ask: Ask, likely: Any = None) -> Any:
    """The answer to one question of a command, asked once; on the screen before the signature it has a
    number. What is `likely` is shown, and is what Enter means. A program that wants JSON is never asked.
    """
    if ask.member not in session.answered:
        if session.json:
            raise lacking(ask.member)
        alike = any(ask.choices and each.choices == ask.choices for each in session.asks.values())
        session.answered[ask.member] = one(ask, likely, keeps=likely is not None, is_known=alike)
    session.asks[ask.member] = ask
    return session.answered[ask.member]


def change(ask: Ask, value: Any) -> Any:
    """The answer to a question once more. Enter keeps what stands; - takes out what may be left out."""
    out = ", - takes it out" if ask.optional and value is not None else ""
    layout.warn(f"Enter keeps what is in brackets{out}.")
    return one(ask, value, keeps=True)


def one(
    ask: Ask, stands: Any = None, *, keeps: bool = False, is_known: bool = False,
    take: Callable[[str], Any] | None = None,
) -> Any:  # fmt: skip
    """The answer to one question, asked until it is one; `keeps`: Enter is the answer that `stands`.

    Of choices that were listed just before (`is_known`) only their number is told; ? lists them again. `take`
    reads what is typed, where the question does not. Of several that a wrong answer may mean, one is chosen
    by its number.
    """
    read, may = take or ask.read, list[str]()
    question = _question(ask, f" [{ask.shown(stands)}]" if keeps else "", is_known=is_known)
    while True:
        text = (
            str(click.prompt(question, default="", show_default=False, err=True))
            if at_a_terminal()
            else piped.line(question, ask.member)
        )
        if keeps and not text.strip():
            return stands
        if is_known and text.strip() == "?":
            return one(ask, stands, keeps=keeps, take=take)
        try:
            return read("" if keeps and ask.optional and text.strip() == "-" else chosen(text, may))
        except BaileeError as error:
            layout.warn(error.sentence)
            may = may_mean(error)


def _question(ask: Ask, before: str, *, is_known: bool) -> str:
    """How it is asked, with what stands `before` it; long choices that are not known are listed first."""
    question = _ENTER.sub("", ask.question) if before else ask.question
    if ask.is_yes_no:
        question += f" {yes_no.MAY}{before}"
    elif ask.choices:
        told = ask.may
        question = layout.listed(f"{ask.question} (", told, f"){before}", room=len(": 10"))
        if sum(map(len, told)) > _INLINE and is_known:
            keys = sorted((key for key, _, _ in ask.choices), key=lambda key: (len(key), key))
            question = f"{ask.question} ({keys[0]} to {keys[-1]}, ? lists them)"
        elif sum(map(len, told)) > _INLINE:
            if at_a_terminal():
                click.echo(layout.listed(f"{ask.question}: ", told), err=True)
            question = f"{ask.label[:1].upper()}{ask.label[1:]}"
    question += "" if question.endswith(before) else before
    if "\n" not in question and len(question) + _TYPED > layout.width():
        question = layout.asked(question)
    return question


def fill(
    asks: Callable[[Mapping[str, Any]], Iterable[Ask]],
    answers: dict[str, Any],
    last: Callable[[Mapping[str, Any]], Mapping[str, Any]],
    carried: set[str],
    offered: Mapping[str, Any] = MappingProxyType({}),
) -> Iterator[str]:
    """Ask for every answer that is missing, one after the other; the member of each that was answered.

    What keeps from one time to the next is taken from the `last` answers beside these, and shown before it is
    signed. Of what was `carried` over so, that which no longer keeps is asked for. Of what would keep, and is
    only `offered`, Enter is the answer.
    """
    is_told = False
    while True:
        for each in asks(answers):
            if each.member in carried and each.kept(last(answers)) != answers[each.member]:
                carried.discard(each.member)
                del answers[each.member]
        ask = next((each for each in asks(answers) if each.member not in answers), None)
        if ask is None:
            return
        kept, likely = ask.kept(last(answers)), ask.kept(offered)
        if kept is not None:
            carried.add(ask.member)
            answers[ask.member] = kept
            continue
        if likely is not None and not is_told:
            layout.warn("In brackets: as in the kit, or on the last visit. Enter takes it.")
            is_told = True
        answers[ask.member] = one(ask, likely, keeps=likely is not None)
        yield ask.member


def review(
    title: Callable[[], Sequence[str]],
    rows: Callable[[], Sequence[tuple[Ask | None, str, str]]],
    what: str,
    again: Callable[[Ask, str], None],
    settled: Callable[[], None],
    remarks: Callable[[], Iterable[str]] = tuple,
) -> None:
    """Show in one screen what will be signed, with what there is to remark on it, and go on once it is signed
    for.

    A number asks that line `again`, and `settled` looks for slips. Ends the command with 1 for a no.
    """
    while True:
        listed = rows()
        for line in title():
            layout.say(line, err=True, style="bold")
        wide = max((len(label) for _, label, _ in listed), default=0)
        asks = numbered(listed, wide)
        for each in remarks():
            layout.warn(each)
        chosen = sign_or_change(what, asks)
        if chosen is None:
            return
        again(*chosen)
        settled()


def numbered(
    rows: Iterable[tuple[Ask | None, str, str]], wide: int, before: int = 0
) -> list[tuple[Ask, str]]:
    """Print label and text of each row; what can be asked has a number, from `before` on: its question, and
    what is shown of it.
    """
    asks: list[tuple[Ask, str]] = []
    for ask, label, text in rows:
        asks += [(ask, text)] if ask else []
        mark = f"{before + len(asks):>3}" if ask else "   "
        layout.say(text, f"{mark}  {label:<{wide}}  ", " " * (wide + 7), err=True)
    return asks


def sign_or_change(what: str, lines: Sequence[tuple[Ask, str]]) -> tuple[Ask, str] | None:
    """The line that is to be changed; None for a yes. Ends the command with 1 for a no."""
    may = "y signs, n signs nothing" + (", a number changes that line" if lines else "")
    while True:
        said = (
            str(click.prompt(f"Sign: {what}? {may}", default="", show_default=False, err=True))
            .strip()
            .lower()
        )
        if yes_no.means(said):
            return None
        if yes_no.means(said) is False:
            give_up()
        if said.isdecimal() and 1 <= int(said) <= len(lines):
            return lines[int(said) - 1]
        layout.warn("Type y, n, or the number of a line." if lines else "Type y or n.")


def settle(
    session: Session,
    found: Callable[[], Iterable[Slip]],
    again: Mapping[str, Callable[[str], None]] | None = None,
) -> None:
    """Go on once nothing that is about to be signed is surely a slip: typed again, or said to be so.

    `found` tells the slips of what is said now; `again` takes another value of a member as typed. Raises
    `Malformed` ("slip") where nobody can be asked, with every slip in `facts["slips"]`.
    """
    stands = session.stands
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
        if _ask_back(rest[0], again or {}):
            stands.add((rest[0].code, rest[0].field, rest[0].said))


def typed_again(data: dict[str, Any], **reads: Callable[[str], Any]) -> dict[str, Callable[[str], None]]:
    """How `settle` takes another value of these facts. It stands in the place of the answer, or of the
    option where none was asked for: an option that was not typed would keep the other questions from being
    asked.
    """
    context = click.get_current_context()
    answered = context.obj.answered if isinstance(context.obj, Session) else {}

    def take(member: str, text: str) -> None:
        stands = answered if member in answered else context.params
        data[member] = stands[member] = reads[member](text)

    return {member: partial(take, member) for member in reads}


def _ask_back(slip: Slip, takes: Mapping[str, Callable[[str], None]]) -> bool:
    """Whether it is so as it was said; otherwise it was typed again. Ends the command with 1 for a no.

    Of several fields that may be wrong, the one that is typed again is first chosen by its number.
    """
    layout.warn(f"{slip.sentence} {slip.remedy} (n: nothing is signed.)")
    may = [each for each in dict.fromkeys((slip.field, *slip.also)) if each in takes]
    while True:
        answer = str(click.prompt(_asked_back(slip, may), err=True)).strip()
        if yes_no.means(answer):
            return True
        if yes_no.means(answer) is False:
            give_up()
        if len(may) > 1:
            if answer.isdecimal() and 1 <= int(answer) <= len(may):
                may = [may[int(answer) - 1]]
            elif answer:
                layout.warn(f"Type {', '.join(map(str, range(1, len(may) + 1)))}, y or n.")
            continue
        try:
            if may:
                takes[may[0]](answer)
                return False
        except BaileeError as error:
            layout.warn(error.sentence)


def _asked_back(slip: Slip, may: Sequence[str]) -> str:
    """How a slip is asked back, by the name of the field that is typed again."""
    from bailee.presentation import words

    if len(may) > 1:
        listed = ", ".join(f"{n} {words.of_field(each)}" for n, each in enumerate(may, 1))
        return f"Which is wrong: {listed}; or y: it is so; or n"
    if slip.asks:
        return slip.asks
    if not may:
        return f"Is it so? {yes_no.MAY}"
    name = words.of_field(may[0])
    like = f", like {slip.meant}" if slip.meant and may[0] == slip.field else ""
    return f"{name[:1].upper()}{name[1:]} again{like}; or y: it is so; or n"


def typed_over(question: str, take: Callable[[str], None]) -> None:
    """Have something typed until it can be taken; Enter leaves what stands."""
    layout.warn("Enter keeps what stands.")
    while text := str(
        click.prompt(question, default="", show_default=False, prompt_suffix="", err=True)
    ).strip():
        try:
            take(text)
        except BaileeError as error:
            layout.warn(error.sentence)
        else:
            return


def give_up() -> NoReturn:
    """The person says no. Ends the command with 1."""
    layout.warn(NOTHING_SIGNED)
    raise click.exceptions.Exit(1)
