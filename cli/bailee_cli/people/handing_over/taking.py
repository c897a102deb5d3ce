"""Whoever takes samples: how many, in which condition, and from whom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext, suppress
from functools import partial
from typing import Any, get_args

import click

from bailee.asking import hand_over_slips, hand_over_steps
from bailee.asking.slip import Slip
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Received
from bailee.domain.acts.table import name_of
from bailee.errors import BaileeError
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.handing_over.counting import (
    NUMBERS,
    ask_all_intact,
    ask_condition,
    count_option,
    counts_by_hand,
    scanned,
    when_done,
)
from bailee_cli.signing import duplicates, entry_numbers, from_paper, scans, submit, time_order
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import prompts
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    act_options,
    anyway_option,
    note_option,
    one_form_option,
    present,
    time_options,
)

_CONDITIONS = get_args(form_acts.Condition)


@click.command("take", cls=AskingCommand)
@NUMBERS
@click.option(
    "--condition",
    multiple=True,
    type=click.Choice(_CONDITIONS),
    help="Of every cassette.  [default: asked for each]",
)
@count_option
@click.option("--purpose", type=click.Choice(get_args(form_acts.Purpose)))
@click.option(
    "--ref",
    "refs",
    multiple=True,
    help="Entry number of the relinquishing entry, on the other person's screen; offline its entry id.",
)
@one_form_option
@note_option
@scans.options
@anyway_option
@from_paper.option
@time_options
@act_options
@click.pass_obj
def take_command(
    session: Session, numbers: tuple[str, ...], condition: tuple[str, ...], count: int | None,
    purpose: str | None, refs: tuple[str, ...], form: str | None, note: str | None, at: str | None,
    zone: str | None, offline: bool, leave_out: tuple[str, ...], anew: bool,
) -> None:  # fmt: skip
    """Receive samples from another person: NUMBERS are samples, a form or an envelope.

    None asks you to scan.
    """
    with nullcontext() if numbers else scans.surviving(session, "take", ""):
        numbers = numbers or scanned(
            session, "take", "", leave_out, anew=anew, count=count, form=form, offline=offline
        )
        click.get_current_context().params["numbers"] = numbers
        _take(
            session,
            numbers,
            condition,
            refs,
            form=form,
            count=count,
            purpose=purpose,
            note=note,
            at=at,
            zone=zone,
            offline=offline,
        )


def _take(
    session: Session, numbers: Sequence[str], condition: tuple[str, ...], refs: tuple[str, ...], *,
    form: str | None, count: int | None, purpose: str | None, note: str | None, at: str | None,
    zone: str | None, offline: bool,
) -> None:  # fmt: skip

    def is_what_was_taken(data: Mapping[str, Any]) -> bool:
        taken = all(not condition or item["condition"] == list(condition) for item in data["items"])
        return taken and purpose in (None, data.get("purpose"))

    if not offline and submit.finish(session, name_of(Received), numbers, is_what_was_taken):
        return
    groups = cache.by_form(session, numbers, form)
    seen = cache.see(session, groups, offline=offline)
    if not offline:
        for number, samples in groups.items():
            duplicates.refuse_held(session, number, samples)
        left = cache.given_besides(session, seen, [each for part in groups.values() for each in part])
        prompts.settle(session, lambda: hand_over_slips.left_with_giver(left))
        if not refs:
            _ask_not_given(session, groups, at, zone)
    counts = counts_by_hand(session, groups, count)
    if not condition:
        ask_all_intact(session, [each for samples in groups.values() for each in samples])
    media = {s["sample"]: s["medium"] for told in seen.values() for s in told["samples"]}
    items = {
        number: [
            {"sample": each, "condition": list(condition) or ask_condition(session, each, media.get(each))}
            for each in samples
        ]
        for number, samples in groups.items()
    }
    if purpose is None and prompts.may_ask(session) and not _names_purpose(groups, seen):
        session.was_asked = True
        purpose = prompts.answer(session, hand_over_steps.PURPOSE_RECEIVED)
    acts = []
    for number in groups:
        data: dict[str, Any] = {
            "items": items[number],
            "count": counts[number],
            "purpose": purpose,
            "at": when_done(
                session,
                name_of(Received),
                number,
                at,
                zone,
                partial(time_order.before_taking, session, number, seen.get(number), groups[number]),
            ),
        }
        named = tuple(entry_numbers.ids(session, number, refs, offline=offline))
        acts.append(Act(f"form/{number}", name_of(Received), present(data), {"note": note}, named))
    submit.act(session, *acts, offline=offline)


def _names_purpose(groups: Mapping[str, Sequence[str]], seen: Mapping[str, Mapping[str, Any]]) -> bool:
    """Whether whoever relinquished all of them has named the purpose, as far as the ledger showed it."""
    given = {each["sample"]: each["given"] for told in seen.values() for each in told["samples"]}
    named = [given.get(sample) for samples in groups.values() for sample in samples]
    return all(each and each.get("purpose") for each in named)


def _ask_not_given(
    session: Session, groups: Mapping[str, Sequence[str]], at: str | None, zone: str | None
) -> None:
    """Ask back at a terminal what no one relinquished to this person, as the rule book finds it. Elsewhere it
    is signed: the other person may not have sent their entry yet.
    """
    if not prompts.may_ask(session):
        return
    found: list[Slip] = []
    for number, samples in groups.items():
        when = done(session, name_of(Received), at, zone or cache.zone_of(session, number)).text()
        items = [{"sample": each, "condition": ["not_looked_at"]} for each in samples]
        asked = {"act": name_of(Received), "data": {"items": items, "at": when}}
        with suppress(BaileeError):  # without a network it is judged when it arrives
            found += [
                Slip("not-given", "numbers", each["about"], each["sentence"], each["remedy"])
                for each in session.service.post("/readiness", asked)["findings"]
            ]
    prompts.settle(session, lambda: found)
