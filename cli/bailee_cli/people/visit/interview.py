"""The inspector is asked: a visit, a cassette, one question at a time, and one screen before it is signed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import date
from functools import partial
from typing import Any, Final

import click

from bailee.asking import cassette_steps, question, visit_steps, written_times
from bailee.asking.question import Ask
from bailee.domain import cautions, numbers
from bailee.domain.acts.form import Collected, Opened
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.errors import BaileeError
from bailee.presentation import words
from bailee.rules.wording import day
from bailee_cli.device.session import Session
from bailee_cli.people.visit.carried_over import CarriedOver
from bailee_cli.people.visit.one_cassette import OneCassette
from bailee_cli.signing import submit
from bailee_cli.signing.interrupted import Interrupted
from bailee_cli.terminal import layout, prompts, time_zones
from bailee_cli.terminal.command_kinds import asking, typed_anew
from bailee_cli.terminal.options import chosen, until_read
from bailee_cli.terminal.parameters import param_of
from bailee_cli.terminal.prompts import change

Facts = Callable[[Collection[str]], Iterable[tuple[str, str, str]]]
"""Member, label and text of what is signed and was not asked, by the members that were."""
_LAST = 200
"""So many statements back an answer is still the last one."""


def cassette(session: Session, cassette: OneCassette, over: CarriedOver, begun: Interrupted) -> None:
    """Ask for what is missing of a cassette, ask slips back, show what will be signed. What was said of it is
    filled.

    Of what was answered before it was `begun` anew nothing is asked again, and of what is carried `over`.
    """
    asked = _CassetteAsked(cassette, over, begun)
    asked.settle()
    title = [cassette.title]
    prompts.review(lambda: title, asked.rows, name_of(Collected), asked.again, asked.settle, cassette.remarks)
    session.was_shown = True


class _CassetteAsked:
    """The answers about one cassette: which were typed as options, which are carried over."""

    def __init__(self, cassette: OneCassette, over: CarriedOver, begun: Interrupted) -> None:
        self._cassette, self._over, self._begun = cassette, over, begun
        given = _typed(cassette.said)
        self._answers, self._typed = begun.answers | given, frozenset(given)
        self._carried: set[str] = set()
        self._minded: set[str] = set()
        self._pump = self._answers.get("pump")
        self._read_of: dict[str, dict[str, Any]] = {}
        self._asks = partial(cassette_steps.cassette, has_points=cassette.has_points)

    def settle(self) -> None:
        """Ask for what is missing, and slips back: what is typed in the place of one may ask for more."""
        answers, said, stood = self._answers, self._cassette.said, dict[str, Any]()
        while answers != stood:
            self._fill()
            _tell(said, answers)
            self._cassette.settle()
            stood = dict(answers)
            answers.update({name: said[name] for name in answers if name in said and name not in _OWN})
            answers["where"] = cassette_steps.at_point(answers["where"], said["point"])
            self._carried.difference_update([name for name in stood if answers.get(name) != stood[name]])
            if answers.get("pump") != stood.get("pump"):
                self._name_pump(str(answers["pump"]))
        self._keep()

    def rows(self) -> list[tuple[Ask | None, str, str]]:
        """The lines of the screen."""
        lines: list[tuple[Ask | None, str, str]] = [
            (ask, ask.label, ask.shown(self._answers[ask.member]) + self._whence(ask.member))
            for ask in self._asks(self._answers)
        ]
        label = (cassette_steps.LABEL, cassette_steps.LABEL.label, _label(self._cassette.said))
        asked = {ask.member for ask, _, _ in lines if ask}
        return [label, *lines, *_beside(self._cassette.facts, asked)]

    def again(self, ask: Ask, shown: str) -> None:
        """Ask for a line once more."""
        if ask is cassette_steps.LABEL:
            prompts.typed_over(f"{ask.question}: ", self._cassette.label_again)
            self._begun.move(self._cassette.said["sample"])
        else:
            _again(self._cassette.said, self._answers, self._carried, ask, shown)

    def _fill(self) -> None:
        answers, pump = self._answers, self._answers.get("pump")
        if self._pump and pump not in (None, self._pump):
            self._change_pump(self._pump, str(pump))
        self._mind()
        for _ in prompts.fill(self._asks, answers, self._last, self._carried, self._over.offered):
            self._keep()
            self._mind()
        self._pump = answers.get("pump") or self._pump
        for member in answers.keys() - self._typed - {each.member for each in self._asks(answers)}:
            answers.pop(member)  # of another place
            self._cassette.said[member] = None

    def _name_pump(self, pump: str) -> None:
        """The same pump by another number, asked back for: what was typed of it stays."""
        read = cassette_steps.READ_OF_A_PUMP
        _forget([name for name in read if name in self._carried], self._answers, self._carried)
        if stays := [each for each in read if each in self._answers]:
            layout.warn(f"{pump}: as typed, {' and '.join(map(words.of_field, stays))}.")
        self._pump = pump

    def _change_pump(self, before: str, pump: str) -> None:
        """What was read of another pump does not count for this one, and what was read of this one does."""
        read = cassette_steps.READ_OF_A_PUMP
        self._read_of[before] = {name: self._answers[name] for name in read if name in self._answers}
        _forget(read, self._answers, self._carried)
        if known := self._read_of.get(pump):
            self._answers.update(known)
        else:
            layout.warn(f"{pump}: its own flow before and after the run.")

    def _last(self, answers: Mapping[str, Any]) -> Mapping[str, Any]:
        self._cassette.said["run_s"] = answers.get("run_s", 0)
        return self._over.kept(answers, self._cassette.start)

    def _mind(self) -> None:
        """Show once what to be careful of in a room, before the rest is asked."""
        room = cassette_steps.room_of(self._answers)
        if room in cautions.IN_ROOM and room not in self._minded:
            self._minded.add(room)
            layout.warn(f"{cautions.IN_ROOM[room].says} {cautions.DEFER}")

    def _keep(self) -> None:
        self._begun.keep(self._answers, self._carried | self._typed)

    def _whence(self, member: str) -> str:
        is_read = member == "flow_before" and member in self._carried
        found = self._over.reading(self._answers["pump"], self._cassette.start) if is_read else None
        return f" ({found.told})" if found else ""


def _tell(said: dict[str, Any], answers: Mapping[str, Any]) -> None:
    """Put the answers in the place of the options that say the same."""
    said.update({name: value for name, value in answers.items() if name in said})
    said.update({"room": None, "point": answers.get("point")} | cassette_steps.placed(answers["where"]))
    said["covers_on"] = answers["covers_on"] == "yes"
    said["near"] = tuple(answers.get("near", ()))
    said["run_s"] = answers.get("run_s", 0)


def _label(said: Mapping[str, Any]) -> str:
    """The number of a cassette, and how it was read where it was not scanned."""
    return f"{numbers.grouped(said['sample'])}{' (typed)' if said['typed'] else ''}"


def _require_typed(asks: Iterable[Ask], answers: Mapping[str, Any]) -> None:
    """Refuse an option that cannot be before anything else is asked. Raises `Malformed`."""
    for ask in asks:
        if ask.act and ask.member in answers:
            question.require_fact(ask.act, ask.member, str(answers[ask.member]), answers[ask.member])


def _typed(said: Mapping[str, Any]) -> dict[str, Any]:
    """What was typed as an option, as the answers that it is."""
    answers = {
        name: value for name, value in said.items() if value not in (None, ()) and name not in _OF_THE_LABEL
    }
    answers |= {"near": list(said["near"])} if said["near"] else {}
    if said["covers_on"] is not None:
        answers["covers_on"] = "yes" if said["covers_on"] else "no"
    if where := cassette_steps.where_of(said["kind"], said["room"], said["point"]):
        answers["where"] = where
    return answers


def _forget(members: Iterable[str], answers: dict[str, Any], carried: set[str]) -> None:
    for member in members:
        answers.pop(member, None)
        carried.discard(member)


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


_OF_THE_LABEL = ("sample", "typed", "ended")
"""Changed with it, and no answers."""
_OWN = ("covers_on", "near")
"""Answers whose words are not the values of the act."""


def laboratory(session: Session, firm: str, *, offline: bool, mark: str = "") -> str:
    """Which laboratory counts: one that this device or the firm named or endorsed before, or as typed. Where
    only one ever was it is that one, and stands on the screen before the signature. `mark` stands before the
    question.
    """
    known = _named_before(session, lambda data: str(data["parties"]["lab"]))
    if not offline:
        with suppress(BaileeError):  # without a network, what this device named
            known += session.service.get("/brief")["laboratories"]
    known = [each for each in dict.fromkeys(known) if each != firm]
    if len(known) == 1 and prompts.may_ask(session):
        return known[0]
    return pick(f"{mark}Laboratory (short name)", "laboratory", known, str)


def zone(session: Session, mark: str = "") -> str:
    """On whose clocks: a zone named before, or as typed."""
    known = _named_before(session, lambda data: str(data["zone"]))
    if (here := time_zones.of_device()) and here not in known:
        known.append(here)
    return pick(
        f"{mark}Time zone of the site, like America/New_York",
        "zone",
        known,
        lambda text: str(until_read(written_times.zone, text, asks=True)),
    )


def visit(
    session: Session,
    said: dict[str, Any],
    firm: str,
    facts: Facts,
    settle: Callable[[], None],
    needing: Collection[str],
    begun: Interrupted,
) -> None:
    """Ask for what is missing of a visit, ask slips back, show what will be signed. `said` is filled.

    `facts` are the lines beside those that were asked. `needing`: where a license is needed by the firm's
    list. Of what was answered before it was `begun` anew nothing is asked again.
    """
    given = {name: value for name, value in said.items() if value not in (None, ())}
    typed, carried, last = frozenset(given), set[str](), _last(session, name_of(Opened))
    _require_typed(visit_steps.visit(given), given)
    answers = begun.answers | given

    def questions(answers: Mapping[str, Any]) -> tuple[Ask, ...]:
        return (*visit_steps.visit(answers), *visit_steps.license_of(answers, needing))

    def settled() -> None:
        for _ in prompts.fill(questions, answers, lambda _: last, carried):
            begun.keep(answers, carried | (typed - _ASKED_FIRST))
        if "jurisdiction" in answers:
            answers["jurisdiction"] = visit_steps.as_listed(answers["jurisdiction"], needing)
        asked = {ask.member for ask in questions(answers)}
        for member in answers.keys() - typed - asked - _WHERE_AND_WHEN.keys():
            answers.pop(member)  # of another answer
            said[member] = None
        said.update({member: answers[member] for member in (*asked, *_WHERE_AND_WHEN)})
        if "fresh_air_off_h" not in asked:
            said["fresh_air_off_h"] = None
        settle()
        answers.update({member: said[member] for member in (*_WHERE_AND_WHEN, "client", "site")})
        begun.keep(answers, carried | (typed - _ASKED_FIRST))

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


_ASKED_FIRST: Final = {"lab", "zone"}
"""Before all others; kept like them."""
_WHERE_AND_WHEN: Final = {
    "lab": Ask("lab", "Laboratory (short name)", "laboratory"),
    "zone": Ask("zone", "Time zone of the site, like America/New_York", "time zone", reader="zone"),
    "visit": Ask("visit", "Day of the visit, like 2026-11-25", words.of_field("visit"), reader="day"),
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
    return read(chosen(str(prompts.one(ask)), known))
