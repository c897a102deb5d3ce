"""The bench of the dock: which envelopes are expected, and which of those received are in order."""

from __future__ import annotations

from collections.abc import Mapping
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


def _why_not(told: Mapping[str, Any]) -> str:
    """What stops or flags a form, by the titles of the rules, the gravest first; empty when nothing does."""
    from bailee.presentation import rule_book

    grave = [f for severity in _STOPS for f in told["findings"] if f["severity"] == severity]
    known = rule_book.book()
    return "; ".join(dict.fromkeys(f"{known[f['rule']].sentence} ({f['rule']})" for f in grave))
