"""The bench of the dock: which envelopes are expected, which of those received are in order, and what stands
open beside what is decided.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import click

from bailee.errors import BaileeError, Malformed
from bailee.presentation import words
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout, prompts, show, yes_no

_EXPECTED: Final = "not received"
_RECEIVED: Final = "received"
_LEFT_OUT: Final = {
    status: words.STATUSES[status] + more
    for status, more in (
        ("on_hold", "; name them once it is answered"),
        ("taken_in", "; `bailee receive` opens it"),
        ("missing", ""),
    )
}
"""States of what is here, or should be, and is not decided about."""
_MOST: Final = 500
_STOPS: Final = ("refuse", "block", "flag")
_SOUND = ("o", "only")


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
    """Samples received and not decided about whose forms have no stop and no flag: shown with what is warned
    of them, and asked about.

    Ends the command with 1 for a no. Raises `Malformed` when there are none.
    """
    found: list[str] = []
    warned: list[Mapping[str, Any]] = []
    lines = session.service.get("/forms", limit=_MOST)["forms"]
    if len(lines) == _MOST:
        layout.warn(f"The newest {_MOST} forms are looked at: name what is on an older one.")
    for line in lines:
        states = set(line["status"].split(", "))
        if states.isdisjoint({_RECEIVED, *_LEFT_OUT}):
            continue
        told = cache.form(session, line["form"])
        _say_left_out(told)
        waiting = [s for s in told["samples"] if s["status"] == _RECEIVED and not s["void"]]
        if not waiting:
            continue
        why, named = _why_not(told), [s["sample"] for s in waiting]
        here = [each for each in _warnings(told, line["form"]) if _concerned(each, told, named)]
        state = f"with {show.counted(len(here), 'warning')}: {_titles(here)}" if here else "in order"
        _say_line(told, waiting, f"left out: {why}" if why else state)
        found += [] if why else named
        warned += [] if why else here
    if not found:
        raise Malformed(
            "Nothing that was received is in order to be accepted together. Nothing was signed: look at each,"
            " and name what you decide about.",
            code="nothing-in-order",
        )
    session.was_shown = True
    if warned:
        show.findings(warned)
    many = show.counted(len(found), "cassette")
    if not yes_no.asked(f"Accept {many}?"):
        prompts.give_up()
    return tuple(found)


def _say_left_out(told: Mapping[str, Any]) -> None:
    """Cassettes of a form that are here, or should be, and about which nothing is decided: each state."""
    for status, why in _LEFT_OUT.items():
        there = [s for s in told["samples"] if s["status"] == status and not s["void"]]
        if there:
            _say_line(told, there, f"left out: {why}")


def _say_line(told: Mapping[str, Any], samples: Sequence[Mapping[str, Any]], state: str) -> None:
    envelopes = ", ".join(dict.fromkeys(show.name(s["envelope"]) for s in samples if s["envelope"]))
    many = show.counted(len(samples), "cassette")
    layout.say(f"{envelopes or show.name(told['form'])}: {many}, {state}", "  ", "    ", err=True)


def say_open(
    session: Session, groups: Mapping[str, Sequence[str]], seen: Mapping[str, Mapping[str, Any]]
) -> dict[str, list[str]]:
    """What stops or flags these samples, before something is signed that leaves it behind: the rules that do,
    by sample.

    At a terminal it is shown with the warnings about them, and what will be signed is then asked about.
    Elsewhere it is named, and the decision is recorded as told: it may be the answer to just that.
    """
    found: list[Mapping[str, Any]] = []
    flags: dict[str, list[str]] = {}
    for form, samples in groups.items():
        if form not in seen:
            layout.warn(f"Not checked: what stops or flags form {show.name(form)}.")
            continue
        told = seen[form]
        here = [each for each in _grave(told) if _concerned(each, told, samples)]
        found += here + [each for each in _warnings(told, form) if _concerned(each, told, samples)]
        for each in here:
            for sample in _concerned(each, told, samples):
                rules = flags.setdefault(sample, [])
                rules += [each["rule"]] if each["rule"] not in rules else []
        if here and not prompts.may_ask(session):
            layout.warn(f"Open on form {show.name(form)}: {_titles(here)}. It is recorded as typed.")
    if found and prompts.may_ask(session) and not session.was_shown:
        show.findings(found)
        session.was_asked = True
    return flags


def chosen(
    session: Session, groups: Mapping[str, list[str]], flags: Mapping[str, Sequence[str]]
) -> dict[str, list[str]]:
    """What of it is accepted. Where somebody can be asked they are: of samples some of which have a flag,
    whether all are or those in order alone. Ends the command with 1 for none.
    """
    asked = dict(groups)
    if not prompts.may_ask(session) or session.was_shown:
        return asked
    many = sum(map(len, groups.values()))
    session.was_asked = not 0 < len(flags) < many
    if session.was_asked:
        return asked
    for sample in (s for samples in groups.values() for s in samples):
        state = f"FLAG {', '.join(flags[sample])}" if sample in flags else "in order"
        layout.say(f"{show.name(sample)}  {state}", "  ", "    ", err=True)
    question = layout.asked(
        f"{many - len(flags)} in order, {len(flags)} with a flag. y: accept all, o: those in order, n: none"
    )
    while (said := _typed(question)) not in (*yes_no.YES, *_SOUND, *yes_no.NO):
        layout.warn("Type y, o, or n.")
    if yes_no.means(said) is False:
        prompts.give_up()
    if said in _SOUND:
        asked = {form: [s for s in samples if s not in flags] for form, samples in groups.items()}
    return {form: samples for form, samples in asked.items() if samples}


def _typed(question: str) -> str:
    return str(click.prompt(question, default="", show_default=False, err=True)).strip().lower()


def _concerned(finding: Mapping[str, Any], told: Mapping[str, Any], samples: Sequence[str]) -> list[str]:
    """Those of these samples that a finding is about: by themselves, with their envelope, form or lot.

    What is missing from an envelope concerns all that came in it, and an outdoor control all of its form.
    """
    of = {s["sample"]: s for s in told["samples"]}
    if finding["area"] == "comparison" and of.get(finding["about"], {}).get("kind") == "outdoor":
        return list(samples)
    named = list(finding["samples"]) or [finding["about"]]
    if not set(named) <= of.keys():
        mates = [s for s in samples if of[s]["envelope"] == finding["about"]]
        others = {s["envelope"] for s in told["samples"]}
        return mates if finding["about"] in others else list(samples)
    short = {of[s]["envelope"] for s in named if of[s]["status"] == "missing"}
    return [s for s in samples if s in named or of[s]["envelope"] in short]


def _why_not(told: Mapping[str, Any]) -> str:
    """What stops or flags a form, by the titles of the rules, the gravest first; empty when nothing does."""
    return _titles(_grave(told))


def _grave(told: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return [f for severity in _STOPS for f in told["findings"] if f["severity"] == severity]


def _warnings(told: Mapping[str, Any], form: str) -> list[Mapping[str, Any]]:
    """Warnings about samples and envelopes; what is said of the whole visit is not the laboratory's."""
    warned = (f for f in told["findings"] if f["severity"] == "warn")
    return [f for f in warned if f["samples"] or f["about"] != form]


def _titles(found: Sequence[Mapping[str, Any]]) -> str:
    from bailee.presentation import rule_book

    known = rule_book.book()
    return "; ".join(dict.fromkeys(f"{known[f['rule']].sentence} ({f['rule']})" for f in found))
