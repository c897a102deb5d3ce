"""The laboratory's stores: samples put away, taken out, and put back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import click

from bailee.asking import hand_over_slips, hand_over_steps, unit_slips, written
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Stored, Withdrawn
from bailee.domain.acts.table import name_of
from bailee.domain.facts import Facts, choices
from bailee.errors import Malformed
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import prompts
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    Number,
    Written,
    act_options,
    anyway_option,
    note_option,
    one_form_option,
    present,
    time_options,
)
from bailee_cli.terminal.scanning import scan

_WHICH = "NUMBERS are samples, forms (all samples on them) or envelopes (all in them); without any you scan."


@click.command("store", cls=AskingCommand, help=f"Put samples into a store, or back into it. {_WHICH}")
@click.argument("numbers", nargs=-1, type=Number())
@click.option("--store", required=True, help="Which store, like FR-1.")
@click.option(
    "--how", "secured", required=True, type=click.Choice(choices(form_acts.Stored, "secured")),
    help="How it is secured.",
)  # fmt: skip
@click.option("--keep-until", type=Written("day"), help="First day on which they may be disposed of.")
@click.option("--low-c", type=Written("degrees_celsius"), help="Lowest temperature of the store, like 2 C.")
@click.option("--high-c", type=Written("degrees_celsius"), help="Highest temperature of the store.")
@one_form_option
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def store_command(
    session: Session, /, numbers: tuple[str, ...], form: str | None, note: str | None, at: str | None,
    zone: str | None, offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Put samples into a store, or back into it."""
    if session.asks and prompts.may_ask(session) and said["keep_until"] is None:
        said["keep_until"] = prompts.answer(session, hand_over_steps.KEEP_UNTIL)
    again = prompts.typed_again(said, low_c=written.degrees_celsius, high_c=written.degrees_celsius)
    prompts.settle(session, lambda: unit_slips.temperatures(said, "low_c", "high_c"), again)
    named = prompts.typed_again(said, store=str)
    prompts.settle(session, lambda: hand_over_slips.named_store(said["store"]), named)
    groups = _groups(session, numbers, form)
    cache.see(session, groups, offline=offline)
    when = done(session, name_of(Stored), at, zone).text()
    _sign(session, groups, Stored, {**said, "at": when}, note, offline=offline)


@click.command(
    "withdraw", cls=AskingCommand, help=f"Take samples out of a store; `store` puts them back. {_WHICH}"
)
@click.argument("numbers", nargs=-1, type=Number())
@click.option("--store", help="Which store, like FR-1.  [needed]")
@click.option("--purpose", required=True, type=click.Choice(choices(form_acts.Withdrawn, "purpose")))
@one_form_option
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def withdraw_command(
    session: Session, /, numbers: tuple[str, ...], form: str | None, note: str | None, at: str | None,
    zone: str | None, offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Take samples out of a store."""
    if not prompts.may_ask(session):
        prompts.require(store=said["store"])
    groups = _groups(session, numbers, form)
    lies_in = _lies_in(session, groups, cache.see(session, groups, offline=offline))
    if said["store"] is None:
        said["store"] = _from_which(session, lies_in)
        session.was_asked = True
    again = prompts.typed_again(said, store=str)
    prompts.settle(
        session,
        lambda: [
            *hand_over_slips.named_store(said["store"]),
            *hand_over_slips.withdrawn_from(said["store"], lies_in),
        ],
        again,
    )
    when = done(session, name_of(Withdrawn), at, zone).text()
    _sign(session, groups, Withdrawn, {**said, "at": when}, note, offline=offline)


def _from_which(session: Session, lies_in: Mapping[str, str | None]) -> str:
    """Out of which store: the one in which all of them lie, shown before it is signed, or as answered."""
    known = sorted({each for each in lies_in.values() if each})
    ask = hand_over_steps.from_store(known)
    if {*lies_in.values()} == {*known[:1]} and known:
        session.answered.setdefault(ask.member, known[0])
    return str(prompts.answer(session, ask))


def _groups(session: Session, numbers: Sequence[str], form: str | None) -> Mapping[str, Sequence[str]]:
    """Which samples are meant, by form; scanned where none were named."""
    if not numbers:
        numbers = click.get_current_context().params["numbers"] = tuple(scan("sample"))
    if not numbers:
        raise Malformed(
            "Nothing was scanned. Nothing was signed: scan or name samples.", code="nothing-scanned"
        )
    return cache.by_form(session, numbers, form)


def _lies_in(
    session: Session, groups: Mapping[str, Sequence[str]], seen: Mapping[str, Mapping[str, Any]]
) -> dict[str, str | None]:
    """In which store each sample lies on record; nothing where a form is not seen, or something waits to be
    sent that may have put it there.
    """
    waiting = {each.chain for each in session.outbox.unsettled("waiting")}
    if any(form not in seen or f"form/{form}" in waiting for form in groups):
        return {}
    lies = {each["sample"]: each["store"] for told in seen.values() for each in told["samples"]}
    return {each: lies.get(each) for samples in groups.values() for each in samples}


def _sign(
    session: Session, groups: Mapping[str, Sequence[str]], act: type[Facts], said: Mapping[str, Any],
    note: str | None, *, offline: bool,
) -> None:  # fmt: skip
    acts = [
        Act(f"form/{form}", name_of(act), present({"samples": list(samples), **said}), {"note": note})
        for form, samples in groups.items()
    ]
    submit.act(session, *acts, offline=offline)
