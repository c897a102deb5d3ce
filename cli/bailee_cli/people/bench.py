"""The bench of the dock: which envelopes are expected, which of those received are in order, and what stands
open beside what is decided.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import click

from bailee.errors import BaileeError, Malformed
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout, prompts, show

_EXPECTED: Final = "not received"
_STOPS: Final = ("refuse", "block", "flag")


def say_expected(session: Session) -> None:
    """List what is on its way here, the first expected first, before the first label is scanned.

    Numbers and times only: what is inside, and its seal, are read and not confirmed.
    """
    try:
        due = [each for each in session.service.get("/chase")["items"] if each["kind"] == _EXPECTED]
    except BaileeError as error:
        layout.warn(f"What is expected could not be looked up: {error.sentence}")
        return
    layout.say(f"Expected: {show.counted(len(due), 'envelope')}.", style="bold", err=True)
    for each in sorted(due, key=lambda each: str(each["due"])):
        layout.say(f"{show.name(each['about'])}  by {show.when(each['due'])}", "  ", err=True)


def in_order(session: Session) -> tuple[str, ...]:
    """Samples received and not decided about whose forms have no stop and no flag: shown, and asked about.

    Ends the command with 1 for a no. Raises `Malformed` when there are none.
    """
    found: list[str] = []
    for line in session.service.get("/forms")["forms"]:
        if "received" not in line["status"]:
            continue
        told = cache.form(session, line["form"])
        waiting = [s for s in told["samples"] if s["status"] == "received"]
        why = _why_not(told)
        envelopes = ", ".join(dict.fromkeys(show.name(s["envelope"]) for s in waiting if s["envelope"]))
        many = show.counted(len(waiting), "cassette")
        state = f"left out: {why}" if why else "in order"
        layout.say(f"{envelopes or show.name(line['form'])}: {many}, {state}", "  ", "    ", err=True)
        found += [] if why else [s["sample"] for s in waiting]
    if not found:
        raise Malformed(
            "Nothing that was received is in order to be accepted together. Nothing was signed: look at each,"
            " and name what you decide about.",
            code="nothing-in-order",
        )
    session.was_shown = True
    many = show.counted(len(found), "cassette")
    if not click.confirm(f"Accept {many}?", default=None, err=True):
        prompts.give_up()
    return tuple(found)


def say_open(
    session: Session, groups: Mapping[str, Sequence[str]], seen: Mapping[str, Mapping[str, Any]]
) -> None:
    """What stops or flags these samples, before something is signed that leaves it behind.

    At a terminal it is shown, and what will be signed is then asked about. Elsewhere it is named, and the
    decision is recorded as told: it may be the answer to just that.
    """
    found: list[Mapping[str, Any]] = []
    for form, samples in groups.items():
        if form not in seen:
            layout.warn(f"Not checked: what stops or flags form {show.name(form)}.")
            continue
        here = [each for each in _grave(seen[form]) if _bears_on(each, seen[form], samples)]
        found += here
        if here and not prompts.may_ask(session):
            layout.warn(f"Open on form {show.name(form)}: {_titles(here)}. It is recorded as typed.")
    if found and prompts.may_ask(session):
        show.findings(found)
        session.was_asked = True


def _bears_on(finding: Mapping[str, Any], told: Mapping[str, Any], samples: Sequence[str]) -> bool:
    """Whether it is about one of these samples, or about their form, envelope or lot; not about another."""
    others = {s["sample"] for s in told["samples"]}.difference(samples)
    near = {s["envelope"] for s in told["samples"] if s["sample"] in samples}
    others |= {s["envelope"] for s in told["samples"]} - near
    named = set(finding["samples"])
    return finding["about"] not in others and (not named or not named.isdisjoint(samples))


def _why_not(told: Mapping[str, Any]) -> str:
    """What stops or flags a form, by the titles of the rules, the gravest first; empty when nothing does."""
    return _titles(_grave(told))


def _grave(told: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return [f for severity in _STOPS for f in told["findings"] if f["severity"] == severity]


def _titles(found: Sequence[Mapping[str, Any]]) -> str:
    from bailee.presentation import rule_book

    known = rule_book.book()
    return "; ".join(dict.fromkeys(f"{known[f['rule']].sentence} ({f['rule']})" for f in found))
