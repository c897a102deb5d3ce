"""The inspector is asked: a visit, a cassette, one question at a time, and one screen before it is signed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial
from typing import Any, Final

import click

from bailee.asking import steps, written
from bailee.asking.steps import Ask
from bailee.domain import numbers
from bailee.domain.acts.form import Collected, Opened
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.rules.wording import day
from bailee_cli.device.session import Session
from bailee_cli.people.visit.pump_readings import Reading
from bailee_cli.signing import submit
from bailee_cli.terminal import prompts
from bailee_cli.terminal.command_kinds import asking, typed_anew
from bailee_cli.terminal.options import until_read
from bailee_cli.terminal.parameters import param_of
from bailee_cli.terminal.prompts import change

_LAST = 200
"""So many statements back an answer is still the last one."""


def cassette(
    session: Session, said: dict[str, Any], sample: str, title: Sequence[str],
    facts: Facts, settle: Callable[[], None],
    readings: Sequence[Reading], before: Callable[[str], Reading | None], stops: Callable[[], Iterable[str]],
) -> None:  # fmt: skip
    """Ask for what is missing of a cassette, ask slips back, show what will be signed. `said` is filled.

    `facts` are the lines beside those of the members that were asked. `readings` are those of pumps
    on the visit; `before` tells which of them stands for this run of a pump; `stops` what of it will
    stop the envelope.
    """
    answers = _typed(said)
    typed, carried, newest = frozenset(answers), set[str](), _last(session, name_of(Collected))
    anew: list[Ask] = []
    pump = ""

    def questions(answers: Mapping[str, Any]) -> tuple[Ask, ...]:
        return (*steps.cassette(answers), *(anew if answers.get("pump") else ()))

    def last(answers: Mapping[str, Any]) -> Mapping[str, Any]:
        said["run_s"] = answers.get("run_s", 0)
        return _kept(newest, readings, before(answers.get("pump", "")))

    def told() -> None:
        said.update({name: value for name, value in answers.items() if name in said})
        said.update({"room": None, "point": answers.get("point")} | steps.placed(answers["where"]))
        said["covers_on"] = answers["covers_on"] == "yes"
        said["near"] = tuple(answers.get("near", ()))
        said["flow_corrected"] = answers.get("flow_corrected") in (True, "yes")
        said["run_s"] = answers.get("run_s", 0)

    def settled() -> None:
        nonlocal pump
        stood: dict[str, Any] = {}
        while answers != stood:  # what was typed in the place of a slip may ask for more
            if pump and answers.get("pump") not in (None, pump):  # what was read of another one is forgotten
                anew[:] = steps.read_of_a_pump(answers)
                _forget(steps.READ_OF_A_PUMP, answers, carried)
            prompts.fill(questions, answers, last, carried)
            pump = answers.get("pump") or pump
            for member in answers.keys() - typed - {each.member for each in questions(answers)}:
                answers.pop(member)  # of another place
                said[member] = None
            told()
            settle()
            stood = dict(answers)
            answers.update({name: said[name] for name in answers if name in said and name not in _OWN})
            carried.difference_update([name for name in stood if answers.get(name) != stood[name]])

    settled()

    def whence(member: str) -> str:
        found = before(answers["pump"]) if member == "flow_before" and member in carried else None
        return f" ({found.told})" if found else ""

    def rows() -> list[tuple[Ask | None, str, str]]:
        lines: list[tuple[Ask | None, str, str]] = [
            (ask, ask.label, ask.shown(answers[ask.member]) + whence(ask.member))
            for ask in questions(answers)
        ]
        asked = {ask.member for ask, _, _ in lines if ask}
        return [*lines, *_beside(facts, asked)]

    prompts.review(
        lambda: [*title, f"Sample {numbers.grouped(sample)}"],
        rows,
        name_of(Collected),
        partial(_again, said, answers, carried),
        settled,
        stops,
    )
    session.was_shown = True


def _require_typed(asks: Iterable[Ask], answers: Mapping[str, Any]) -> None:
    """Refuse an option that cannot be before anything else is asked. Raises `Malformed`."""
    for ask in asks:
        if ask.act and ask.member in answers:
            steps.require_fact(ask.act, ask.member, str(answers[ask.member]), answers[ask.member])


def _typed(said: Mapping[str, Any]) -> dict[str, Any]:
    """What was typed as an option, as the answers that it is."""
    answers = {name: value for name, value in said.items() if value not in (None, ())}
    answers |= {"near": list(said["near"])} if said["near"] else {}
    if said["covers_on"] is not None:
        answers["covers_on"] = "yes" if said["covers_on"] else "no"
    if where := steps.where_of(said["kind"], said["room"], said["point"]):
        answers["where"] = where
    return answers


def _kept(newest: Mapping[str, Any], readings: Sequence[Reading], read: Reading | None) -> Mapping[str, Any]:
    """What stays for this cassette: of the `newest` one, and of what was read on the visit. A flow that was
    read on another visit is none of this one.
    """
    kept = {**newest, "flow_before": read.flow if read else None}
    for each in readings[-1:]:
        kept |= {"pump": each.pump, "meter": each.meter or kept.get("meter")}
    return kept


def _forget(members: Iterable[str], answers: dict[str, Any], carried: set[str]) -> None:
    for member in members:
        answers.pop(member, None)
        carried.discard(member)


Facts = Callable[[Collection[str]], Iterable[tuple[str, str, str]]]
"""Member, label and text of what is signed and was not asked, by the members that were."""


def _beside(facts: Facts, asked: Collection[str]) -> Iterator[tuple[Ask | None, str, str]]:
    """Lines of what was typed as an option, or is now: each can be asked. What is reckoned cannot."""
    for member, label, text in facts(asked):
        param = param_of(member)
        yield asking(param) if param else None, label, text


def _again(said: dict[str, Any], answers: dict[str, Any], carried: set[str], ask: Ask, shown: str) -> None:
    """Ask a line once more: an answer, or the value of an option."""
    param = param_of(ask.member)
    if param and ask == asking(param):
        name = str(param.name)
        said[name] = typed_anew(click.get_current_context(), param, shown, said.get(name))
        if name in answers:
            answers[name] = said[name]
    else:
        answers[ask.member] = change(ask, answers[ask.member])
        carried.discard(ask.member)


_OWN = ("covers_on", "near", "flow_corrected")
"""Answers whose words are not the values of the act."""


def laboratory(session: Session) -> str:
    """Which laboratory counts: one named before, or as typed."""
    known = _named_before(session, lambda data: str(data["parties"]["lab"]))
    return pick("Laboratory (short name)", "laboratory", known, str)


def zone(session: Session) -> str:
    """On whose clocks: a zone named before, or as typed."""
    known = _named_before(session, lambda data: str(data["zone"]))
    return pick(
        "Time zone of the site, like America/New_York",
        "zone",
        known,
        lambda text: str(until_read(written.zone, text, asks=True)),
    )


def visit(
    session: Session,
    said: dict[str, Any],
    firm: str,
    facts: Facts,
    settle: Callable[[], None],
    needing: Collection[str] = (),
) -> None:
    """Ask for what is missing of a visit, ask slips back, show what will be signed. `said` is filled.

    `facts` are the lines beside those that were asked. `needing`: where a license is needed by the firm's
    list.
    """
    answers = {name: value for name, value in said.items() if value not in (None, ())}
    typed, carried, last = frozenset(answers), set[str](), _last(session, name_of(Opened))
    _require_typed(steps.visit(answers), answers)

    def questions(answers: Mapping[str, Any]) -> tuple[Ask, ...]:
        return (*steps.visit(answers), *steps.license_of(answers, needing))

    def settled() -> None:
        prompts.fill(questions, answers, lambda _: last, carried)
        if "jurisdiction" in answers:
            answers["jurisdiction"] = steps.as_listed(answers["jurisdiction"], needing)
        asked = {ask.member for ask in questions(answers)}
        for member in answers.keys() - typed - asked - _WHERE_AND_WHEN.keys():
            answers.pop(member)  # of another answer
            said[member] = None
        said.update({member: answers[member] for member in (*asked, *_WHERE_AND_WHEN)})
        if "fresh_air_off_h" not in asked:
            said["fresh_air_off_h"] = None
        settle()
        answers.update({member: said[member] for member in _WHERE_AND_WHEN})

    settled()

    def rows() -> list[tuple[Ask | None, str, str]]:
        there, here = Moment.shown_in(session.now, said["zone"]).local, session.now.astimezone()
        clocks = f"{there:%H:%M} there now"
        if here.utcoffset() != there.utcoffset():
            clocks += f"; this device shows {here:%H:%M}"
        asks = (*questions(answers), *_WHERE_AND_WHEN.values())
        told: list[tuple[Ask | None, str, str]] = [
            (ask, ask.label, ask.shown(answers[ask.member])) for ask in asks
        ]
        beside = _beside(facts, {ask.member for ask in asks})
        return [*told, *beside, (None, "clock", clocks)]

    def title() -> list[str]:
        return [f"Visit of {day(date.fromisoformat(said['visit']))} by {firm}"]

    again = partial(_again, said, answers, carried)
    prompts.review(title, rows, "the visit begins", again, settled)
    session.was_shown = True


_WHERE_AND_WHEN: Final = {
    "lab": Ask("lab", "Laboratory (short name)", "laboratory"),
    "zone": Ask("zone", "Time zone of the site, like America/New_York", "time zone", reader="zone"),
    "visit": Ask("visit", "Day of the visit, like 2026-11-25", "day of the visit", reader="day"),
}


def _last(session: Session, act: str) -> Mapping[str, Any]:
    """The newest of these statements that this device signed."""
    signed = (each for each in session.outbox.newest(_LAST) if each.act == act)
    newest = (submit.data_of(each) for each in signed)
    return next((each for each in newest if each.get("kind") != "blank"), {})


def _named_before(session: Session, read: Callable[[Mapping[str, Any]], str]) -> list[str]:
    """What this device's visits named, the newest first, each once."""
    newest = [each for each in session.outbox.newest(_LAST) if each.act == name_of(Opened)]
    return list(dict.fromkeys(read(submit.data_of(each)) for each in newest))


def pick(question: str, label: str, known: Sequence[str], read: Callable[[str], str]) -> str:
    """One of the names used before, by its number, or another one as typed. None has a default."""
    for number, each in enumerate(known, 1):
        click.echo(f"  {number}  {each}", err=True)
    ask = Ask(label, f"{question} (a number, or another one)" if known else question, label)
    text = str(prompts.one(ask))
    return known[int(text) - 1] if text.isdecimal() and 1 <= int(text) <= len(known) else read(text)
