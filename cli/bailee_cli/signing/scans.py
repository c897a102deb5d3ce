"""What lies on the desk: every cassette scanned for something begun, kept with every scan until it is signed
or found good.

A refusal, Ctrl-C or a flat battery costs no scan. It lies in the outbox file, which belongs to this key and
its owner alone.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, Literal, TypeVar

import click

from bailee.domain.acts.form import Collected, Opened, Received, Relinquished, Sealed
from bailee.domain.acts.table import name_of
from bailee.domain.numbers import grouped
from bailee.domain.said_already import things_of
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee_cli.device.session import Session
from bailee_cli.signing.acts import data_of
from bailee_cli.terminal import layout, yes_no
from bailee_cli.terminal.options import Number, at_a_terminal
from bailee_cli.terminal.prompts import ChangeLine, may_ask
from bailee_cli.terminal.scanning import ScansEnd, scan

if TYPE_CHECKING:
    from bailee.asking.question import Ask

F = TypeVar("F", bound=Callable[..., Any])
Verb = Literal["open", "collect", "seal", "receive", "give", "take", "kit", "enter-paper"]

ANSWERED: Final = "answer/"
"""Begins the name of an answer that is kept beside the scans."""

_ACTS: Final[Mapping[Verb, str]] = {
    "open": name_of(Opened),
    "collect": name_of(Collected),
    "seal": name_of(Sealed),
    "receive": name_of(Received),
    "give": name_of(Relinquished),
    "take": name_of(Received),
    "enter-paper": name_of(Collected),
}
"""What each of them signs. A kit is looked at, and nothing is signed."""

_BY_WHAT_IT_IS_ABOUT: Final = ("open", "collect", "seal", "receive", "enter-paper")

_WORDS: Final[Mapping[Verb, tuple[str, str, str]]] = {
    "open": ("not signed: a visit, ", "a visit, ", "open"),
    "collect": ("not signed: {}, ", "{}, ", "collect {}"),
    "seal": ("not signed: envelope {}, ", "envelope {}, ", "seal --envelope {}"),
    "receive": ("not signed: envelope {}, ", "", "receive {}"),
    "give": ("not signed: for {}, ", "for {}, ", "give --to {}"),
    "take": ("not signed: ", "", "take"),
    "enter-paper": ("not signed: sheet {}, ", "sheet {}, ", "enter-paper {}"),
    "kit": ("not found good: kit for {}, ", "kit for {}, ", "kit --visit {}"),
}
"""How it is told when it is begun again, how when it is left, and the command that goes on with it; {} is
what it is about."""


_OTHERWISE: Final[Mapping[Verb, str]] = {
    "seal": "begins another envelope; --anew forgets this one",
    "open": "begins with the first question again",
}
"""What a no to going on does, where it is not the usual."""


@frozen
class Begun:
    """Something begun: what it is about (an envelope, whoever is given to, the day of a visit, or nothing),
    what was scanned, when last.

    `besides` is what was typed before the scans, such as the number of a pump.
    """

    about: str
    samples: tuple[str, ...]
    since: str
    besides: Mapping[str, str]

    @property
    def told(self) -> str:
        """`3 scanned`, and how much was answered, at the dock; of questions alone `3 answered`."""
        answered = len([name for name in self.besides if name.startswith(ANSWERED)])
        told = [f"{len(self.samples)} scanned"] if self.samples or not answered else []
        return ", ".join([*told, f"{answered} answered"] if answered else told)


def options(function: F) -> F:
    """`--leave-out` and `--anew`, the same for every verb that scans."""
    leave_out = click.option(
        "--leave-out",
        multiple=True,
        type=Number("sample"),
        help="Remove this cassette from what was scanned before.",
    )
    return leave_out(anew_option(function))


def anew_option(function: F) -> F:
    """`--anew`, also for verbs that only ask."""
    return click.option(
        "--anew", is_flag=True, help="Forget what was begun before and led to nothing; begin with none."
    )(function)


def begun(session: Session, verb: Verb) -> list[Begun]:
    """What was begun on this device and not signed yet, the newest first.

    What was signed all the same (the device died between signing and clearing the desk) is no longer among
    it, nor a kit of a day that is over.
    """
    left = []
    for about, each in session.outbox.recall_all(f"desk/{verb}/").items():
        found = Begun(about, tuple(each["samples"]), each["since"], each.get("besides", {}))
        if _is_over(session, verb, found):
            clear(session, verb, about)
        else:
            left.append(found)
    return sorted(left, key=lambda each: each.since, reverse=True)


def of(session: Session, verb: Verb, about: str) -> Begun | None:
    """What was begun about this, if anything was."""
    return next((each for each in begun(session, verb) if each.about == about), None)


def again(
    session: Session, verb: Verb, about: str, *, leave_out: Iterable[str] = (), anew: bool = False
) -> Begun | None:
    """What was begun about this and is gone on with, without what is left out: None when there is nothing, or
    it is not wanted.
    """
    found = of(session, verb, about)
    if found is None or not (anew or goes_on(session, verb, found)):
        return None
    return without(session, verb, found, leave_out=leave_out, anew=anew)


def without(
    session: Session, verb: Verb, found: Begun, *, leave_out: Iterable[str], anew: bool = False
) -> Begun | None:
    """The same without some cassettes, kept like that from now on; None when all of it is to be forgotten."""
    if anew:
        clear(session, verb, found.about)
        return None
    out = frozenset(leave_out)
    samples = tuple(each for each in found.samples if each not in out)
    if samples != found.samples:
        keep(session, verb, found.about, samples, found.besides)
    return Begun(found.about, samples, found.since, found.besides)


def goes_on(session: Session, verb: Verb, found: Begun) -> bool:
    """Say what was scanned before, and whether the person wants to go on with it.

    Where nobody can be asked they do.
    """
    say(session, verb, found)
    if not at_a_terminal():
        click.echo("It goes on with that; --anew forgets it.", err=True)
        return True
    no = _OTHERWISE.get(verb, "begins with the first cassette again")
    return yes_no.asked(f"Go on with it? (n {no}.)")


def scanned(
    session: Session, verb: Verb, about: str, before: Iterable[str] = (), *, repeats: bool = False,
    besides: Mapping[str, str] | None = None, count: Ask | None = None, counted: int | None = None,
    fits: Callable[[str], Any] | None = None,
) -> list[str]:  # fmt: skip
    """What was scanned before and what is scanned now, kept with every scan.

    At a terminal the answer to `count` ends the scans, unless it was `counted`; so does an empty line once as
    many were scanned as were counted before.
    """
    found, kept = list(before), besides or {}
    asks = count if counted is None and may_ask(session) else None
    if counted is None and count and (known := kept.get(f"{ANSWERED}{count.member}")):
        counted = json.loads(known)
    end = ScansEnd(asks, counted)
    for number in scan("sample", tuple(found), repeats=repeats, end=end, fits=fits):
        found.append(number)
        keep(session, verb, about, found, kept)
    if asks and end.is_counted:
        session.answered[asks.member] = end.counted
    return found


def require(samples: Iterable[str]) -> tuple[str, ...]:
    """What was scanned. Raises `Malformed` ("nothing-scanned") when it is nothing."""
    found = tuple(samples)
    if not found:
        raise Malformed(
            "Nothing was scanned. Nothing was signed: scan or name the cassettes.", code="nothing-scanned"
        )
    return found


def keep(
    session: Session, verb: Verb, about: str, samples: Iterable[str], besides: Mapping[str, str] | None = None
) -> None:
    """Remember what it is about, its cassettes and what was answered; with neither there is nothing to
    remember.
    """
    listed = list(samples)
    if listed or besides:
        told = {"samples": listed, "since": session.now.isoformat(), "besides": dict(besides or {})}
        session.outbox.remember(f"desk/{verb}/{about}", told)
    else:
        clear(session, verb, about)


def clear(session: Session, verb: Verb, about: str) -> None:
    """It is signed, or was given up."""
    session.outbox.forget(f"desk/{verb}/{about}")


def say(session: Session, verb: Verb, each: Begun) -> None:
    """What was scanned before, so that the person sees what they go on with."""
    from datetime import datetime

    since = datetime.fromisoformat(each.since).astimezone(session.now.astimezone().tzinfo)
    at = f"{since:%H:%M}" if since.date() == session.now.astimezone().date() else f"{since:%Y-%m-%d %H:%M}"
    what = _WORDS[verb][0].format(layout.name(each.about))
    layout.warn(f"Begun at {at}, and {what}{each.told}.")
    for number in each.samples:
        click.echo(f"   {grouped(number)}", err=True)


@contextmanager
def surviving(session: Session, verb: Verb, about: str | Callable[[], str]) -> Iterator[None]:
    """Whatever ends the verb early, Ctrl-C included, the person hears what is kept and how to go on.

    Otherwise the desk is cleared. `about` may change until then.
    """
    which = about if callable(about) else lambda: about
    try:
        yield
    except ChangeLine:
        raise  # it goes on at once
    except BaseException:
        kept = of(session, verb, which())
        if kept:
            session.is_saved = True
            _, what, command = _WORDS[verb]
            out = "--leave-out removes a cassette, " if kept.samples else ""
            layout.warn(
                f"\nSaved: {what.format(layout.name(kept.about))}{kept.told}. `bailee"
                f" {command.format(kept.about)}` goes on with it. {out}--anew forgets it."
            )
        raise
    clear(session, verb, which())


def _is_over(session: Session, verb: Verb, each: Begun) -> bool:
    """Whether this device signed it after it was last scanned into, or its day is over."""
    from datetime import UTC, datetime

    from bailee.signing import signed_statement

    if verb == "kit":
        return each.about < session.now.astimezone().date().isoformat()
    act, told = _ACTS[verb], set[str]()
    for kept in session.outbox.newest(200):
        if kept.act == act and kept.state in ("waiting", "registered"):
            at = datetime.fromtimestamp(signed_statement.read(kept.text).claims.iat, UTC).isoformat()
            if at >= each.since:
                data = data_of(kept)
                sheet = (data.get("paper") or {}).get("sheet", "")
                told |= {""} if verb == "open" else {*things_of(act, data), sheet}
    return {each.about} <= told if verb in _BY_WHAT_IT_IS_ABOUT else set(each.samples) <= told
