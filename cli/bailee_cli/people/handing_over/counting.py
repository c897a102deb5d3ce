"""What a transfer names, counts and looks at: the numbers, how many by hand, the condition of each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial

import click

from bailee.asking import hand_over_slips, hand_over_steps
from bailee.asking.slip import Slip
from bailee.domain import numbers
from bailee.errors import BaileeError, Malformed, Unavailable
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import scans, time_order
from bailee_cli.terminal import piped, prompts, show
from bailee_cli.terminal.options import (
    Number,
    Whole,
    at_a_terminal,
)
from bailee_cli.terminal.scanning import is_scan

NUMBERS = click.argument("numbers", nargs=-1, type=Number())
count_option = click.option(
    "--count",
    type=Whole(0),
    help="Samples counted. [default: asked; not counted where there is no terminal]",
)


def when_done(
    session: Session, act: str, form: str, at: str | None, zone: str | None, known: time_order.Known
) -> str:
    """When something was done with samples of a form, on the clocks of its site."""
    return time_order.when(session, act, at, zone or cache.zone_of(session, form), known).text()


def scanned(
    session: Session, verb: scans.Verb, about: str, leave_out: Sequence[str], *, anew: bool,
    count: int | None, form: str | None, offline: bool,
) -> tuple[str, ...]:  # fmt: skip
    """Scanned before and now, at least one; what was not collected is refused at the scan, where somebody
    scans it, unless all are of one `form` that is named.
    """

    def fits(sample: str) -> None:
        try:
            cache.form_of(session, sample)
        except Unavailable:
            return  # without a network it is found out when it is sent
        except BaileeError as error:
            raise Malformed(f"{error.sentence} It was not added.", code=error.code) from error

    before = scans.again(session, verb, about, leave_out=leave_out, anew=anew)
    return scans.require(
        scans.scanned(
            session, verb, about, before.samples if before else (),
            count=hand_over_steps.count_by_hand(""), counted=count, fits=None if form or offline else fits,
        )
    )  # fmt: skip


def counts_by_hand(
    session: Session, groups: Mapping[str, Sequence[str]], count: int | None,
    adds: Callable[[str], None] | None = None,
) -> dict[str, int | None]:  # fmt: skip
    """What was counted by hand, by form; None where nobody counted. It is asked where somebody can answer.
    What is scanned there is one more of the samples where the command `adds` it to the groups.

    A count that is not the number of cassettes named is asked back: who holds another number than they sign
    for has left one out, or named one too many. Raises `Malformed` for one count of the samples of two
    forms: each form's statement has its own.
    """
    if count is not None and len(groups) > 1:
        raise Malformed(
            f"These samples are of {len(groups)} forms, and {count} is one count: name those of one form at a"
            " time, or leave --count out.",
            code="count-of-several-forms",
        )
    counts: dict[str, int | None] = dict.fromkeys(groups, count)
    if count is None and not session.json and at_a_terminal():
        counts = _asked_counts(session, groups)
    for form in groups:
        prompts.settle(
            session,
            partial(_differs, counts, form, groups, may_scan=adds is not None),
            {"count": partial(_count, counts, form, groups, adds)},
        )
    return counts


def _differs(
    counts: Mapping[str, int | None], form: str, groups: Mapping[str, Sequence[str]], *, may_scan: bool
) -> Iterator[Slip]:
    """Judged anew after each answer."""
    return hand_over_slips.counted(counts[form], len(groups[form]), may_scan=may_scan)


def _count(
    counts: dict[str, int | None], form: str, groups: Mapping[str, Sequence[str]],
    adds: Callable[[str], None] | None, text: str,
) -> None:  # fmt: skip
    if adds and (more := is_scan(text, groups[form])):
        adds(more)
        return
    if not text.isdecimal():
        raise Malformed(f"{text!r} is not a count: write a whole number.", code="bad-measure")
    counts[form] = int(text)
    if len(counts) == 1:
        click.get_current_context().params["count"] = counts[form]


def _asked_counts(session: Session, groups: Mapping[str, Sequence[str]]) -> dict[str, int | None]:
    """Asked of each form; what ended the scans answers for several where it is the number of all."""
    session.was_asked = True
    of_all = hand_over_steps.count_by_hand("")
    named = {form: len(samples) for form, samples in groups.items()}
    if len(groups) > 1 and session.answered.get(of_all.member) == sum(named.values()):
        return {**named}
    return {
        form: prompts.answer(
            session, of_all if len(groups) == 1 else hand_over_steps.count_by_hand(numbers.grouped(form))
        )
        for form in groups
    }


def ask_all_intact(session: Session, samples: Sequence[str]) -> None:
    """Ask once about several at a terminal: a yes answers for each, a no leaves each to be asked about."""
    members = [hand_over_steps.condition(numbers.grouped(each)).member for each in samples]
    if len(samples) > 1 and prompts.may_ask(session) and session.answered.keys().isdisjoint(members):
        session.was_asked = True
        if each_is_intact(show.counted(len(samples), "sample"), "condition"):
            session.answered |= {member: ["intact"] for member in members}


def each_is_intact(many: str, option: str) -> bool:
    """Whether so many were looked at and found intact: asked, with no default (RC-12)."""
    return piped.confirmed(f"{many}: was each looked at, and is each intact?", option, default=None)


def ask_condition(session: Session, sample: str, medium: str | None) -> list[str]:
    """The condition of one sample, asked until it is said, by number or word; several with commas. What it
    can be in depends on its medium.
    """
    session.was_asked = True
    answer: list[str] = prompts.answer(session, hand_over_steps.condition(numbers.grouped(sample), medium))
    return answer
