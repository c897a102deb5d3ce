"""Answers given on the way to a signature, kept as they are given, beside the scans: Ctrl-C, a refusal or a
flat battery costs none of them.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import click

from bailee.asking import hand_over_slips, hand_over_steps
from bailee.asking.slip import Slip
from bailee.presentation import words
from bailee_cli.device.session import Session
from bailee_cli.signing import scans
from bailee_cli.terminal import layout, prompts, scanning, yes_no

if TYPE_CHECKING:
    from bailee.asking.question import Ask

_BESIDE: Final = re.compile(r" \(.*\)$")
"""What stands after a question of how it may be answered."""


class KeptAnswers:
    """What was answered about one thing (`about`) and scanned for it, in this run and in the one before."""

    def __init__(
        self, session: Session, verb: scans.Verb, about: str, before: scans.Begun | None = None
    ) -> None:
        self._session, self._verb, self._about = session, verb, about
        self.scanned: list[str] = list(before.samples) if before else []
        self.kept: dict[str, str] = dict(before.besides) if before else {}

    def about(self, about: str) -> None:
        """Keep it about another thing from now on."""
        if about != self._about:
            scans.clear(self._session, self._verb, self._about)
            self._about = about
            scans.keep(self._session, self._verb, about, self.scanned, self.kept)

    def to(self, ask: Ask) -> Any:
        """The answer to a question: the one given before, or asked now."""
        name = f"{scans.ANSWERED}{ask.member}"
        if name in self.kept and ask.member not in self._session.answered:
            value = self._session.answered[ask.member] = json.loads(self.kept[name])
            layout.warn(f"{ask.label}: {ask.shown(value)}, as answered before.")
        return self.put(ask, prompts.answer(self._session, ask))

    def put(self, ask: Ask, value: Any) -> Any:
        """Keep what was answered, now or once more."""
        name = f"{scans.ANSWERED}{ask.member}"
        self._session.answered[ask.member] = value
        self.kept[name] = json.dumps(value)
        scans.keep(self._session, self._verb, self._about, self.scanned, self.kept)
        return value

    def add(self, scanned: Sequence[str]) -> None:
        """Keep what was scanned beside the answers, once more was."""
        self.scanned = list(scanned)
        scans.keep(self._session, self._verb, self._about, self.scanned, self.kept)

    def drop(self, member: str) -> None:
        """Forget an answer: it is asked again the next time."""
        if self.kept.pop(f"{scans.ANSWERED}{member}", None) is not None:
            scans.keep(self._session, self._verb, self._about, self.scanned, self.kept)

    def scan(self, before: Iterable[str], count: Ask, counted: int | None) -> list[str]:
        """What is scanned on top of what was scanned before, kept with every scan; the answer to `count` ends
        it.
        """
        self.scanned = scans.scanned(
            self._session, self._verb, self._about, before, besides=self.kept, count=count, counted=counted
        )
        return self.scanned


def seal_as_read(session: Session, text: str, applied: str | None = None) -> str:
    """The number read on a seal; that of a label is asked back, and at a terminal one shorter than the number
    `applied`. Elsewhere that is recorded, and judged with the rest.
    """
    known = applied if prompts.may_ask(session) else None
    return as_read(session, "seal", text, lambda read: hand_over_slips.read_on_seal(read, known))


def as_read(session: Session, member: str, text: str, found: Callable[[str], Iterable[Slip]]) -> str:
    """A number read and typed or answered; what is typed in the place of a slip takes its place."""
    read = {member: text}
    params = click.get_current_context().params

    def again(typed: str) -> None:
        read[member] = (params if params.get(member) else session.answered)[member] = typed

    prompts.settle(session, lambda: found(read[member]), {member: again})
    return read[member]


def counted_again(
    session: Session, counted: int, scanned: list[str], answers: KeptAnswers, *, member: str,
    besides: Collection[str] = (), fits: Callable[[str], Any] = lambda _: None,
) -> int:  # fmt: skip
    """How many were counted by hand. One that is not how many were scanned is asked back at a terminal;
    elsewhere it is recorded, and judged with the rest. A missing one that is scanned then is one more of
    them, unless it does not `fit`; `besides` are those scanned that are told apart.
    """
    count = {member: counted}
    params = click.get_current_context().params

    def again(text: str) -> None:
        if more := scanning.is_scan(text, (*scanned, *besides)):
            fits(more)
            scanned.append(more)
            answers.add(scanned)
            return
        count[member] = hand_over_steps.COUNTED.read(text)
        if params.get(member) is None:
            answers.put(hand_over_steps.COUNTED, count[member])
        else:
            params[member] = count[member]

    if prompts.may_ask(session):
        prompts.settle(
            session,
            lambda: hand_over_slips.counted(
                count[member], len({*scanned, *besides}), member=member, may_scan=True
            ),
            {member: again},
        )
    return count[member]


def containers_differ(counted: int | None, on_record: int | None) -> str:
    """That as many bags or boxes as were counted are not what is on record; empty where they are, or nobody
    counted.
    """
    if counted is None or on_record is None or counted == on_record:
        return ""
    return f"{words.containers(counted)} counted; {on_record} on record."


def ask_anew(session: Session, told: Mapping[str, Any], act: str, answers: KeptAnswers | None = None) -> None:
    """After a stop: ask for what it names again, if it was asked; what else was answered stays.

    Raises `ChangeLine`. Ends the command with 1 for a no.
    """
    wanted = [
        name
        for each in told["findings"]
        if each["severity"] in ("refuse", "block")
        for step in each["acts"]
        if step["act"] == act
        for name, value in step.items()
        if name in session.answered and (value is None or value != session.answered[name])
    ]
    if answers:
        for name in wanted:
            answers.drop(name)
    if not wanted or not prompts.may_ask(session):
        return
    ask = session.asks[wanted[0]]
    asked = _BESIDE.sub("", ask.question)
    if not yes_no.asked(f"Change this answer: {asked[:1].lower()}{asked[1:]}?"):
        prompts.give_up()
    raise prompts.ChangeLine(ask.member, ask.shown(session.answered[ask.member]))
