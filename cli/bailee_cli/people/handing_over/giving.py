"""Whoever gives samples away: to whom, and how many."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from functools import partial
from typing import Any, get_args

import click

from bailee.asking import hand_over_slips, hand_over_steps
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Relinquished
from bailee.domain.acts.table import name_of
from bailee.domain.numbers import grouped, kind_of
from bailee.errors import Malformed
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.handing_over.counting import NUMBERS, count_option, counts_by_hand, scanned, when_done
from bailee_cli.signing import from_paper, lookups, scans, submit, time_order
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import prompts
from bailee_cli.terminal.command_kinds import ToColleagueCommand
from bailee_cli.terminal.options import (
    act_options,
    anyway_option,
    moment,
    note_option,
    one_form_option,
    present,
    time_options,
    until_read,
)


@click.command("give", cls=ToColleagueCommand)
@NUMBERS
@click.option("--to", "to", required=True, help="Short name of the organization that receives them.")
@click.option("--to-key", help="Key ID of the person who receives them.")
@click.option("--purpose", type=click.Choice(get_args(form_acts.Purpose)))
@click.option("--expected", help="When it is to arrive, of what is carried some way.")
@count_option
@one_form_option
@note_option
@scans.options
@anyway_option
@from_paper.option
@time_options
@act_options
@click.pass_obj
def give_command(
    session: Session, numbers: tuple[str, ...], to: str, to_key: str | None, purpose: str | None,
    expected: str | None, count: int | None, form: str | None, note: str | None, at: str | None,
    zone: str | None, offline: bool, leave_out: tuple[str, ...], anew: bool,
) -> None:  # fmt: skip
    """Relinquish samples to another person: NUMBERS are samples, a form or an envelope; none asks you to
    scan.

    The person who receives them signs with `bailee take`; read them the entry id where there is no network.
    """
    to = _known(session, to, offline=offline)
    if to_key and to == session.profile.org:
        to_key = lookups.key_id(session, to_key, offline=offline)
    with nullcontext() if numbers else scans.surviving(session, "give", to):
        numbers = numbers or scanned(
            session, "give", to, leave_out, anew=anew, count=count, form=form, offline=offline
        )
        groups = cache.by_form(session, numbers, form, mine=True)
        seen = cache.see(session, groups, offline=offline)
        _ask_given(session, groups, seen)
        click.get_current_context().params["numbers"] = numbers
        if prompts.may_ask(session):
            # What a form or an envelope stands for is seen before it is given.
            session.was_asked |= any(kind_of(each) != "sample" for each in numbers)
            if purpose is None:
                session.was_asked = True
                purpose = prompts.answer(session, hand_over_steps.PURPOSE)
        counts = counts_by_hand(session, groups, count, partial(_add, session, groups, to, form))
        acts = [
            Act(
                f"form/{number}",
                name_of(Relinquished),
                present(
                    {
                        "samples": samples,
                        "count": counts[number],
                        "to": to,
                        "to_kid": to_key,
                        "purpose": purpose,
                        "expected": (
                            moment(session, expected, zone or cache.zone_of(session, number)).text()
                            if expected
                            else None
                        ),
                        "at": when_done(
                            session,
                            name_of(Relinquished),
                            number,
                            at,
                            zone,
                            partial(time_order.before_giving, session, number, seen.get(number), samples),
                        ),
                    }
                ),
                {"note": note},
            )
            for number, samples in groups.items()
        ]
        kept = submit.act(session, *acts, offline=offline)
    for each in kept if session.json else ():
        click.echo(f"Entry id: {each.digest}", err=True)


def _known(session: Session, to: str, *, offline: bool) -> str:
    """An organization that the ledger knows; where somebody can be asked, what they type instead."""

    def read(name: str) -> str:
        lookups.require(session, name, offline=offline)
        return name

    found = str(until_read(read, to, asks=not session.json))
    click.get_current_context().params["to"] = found
    return found


def _add(session: Session, groups: dict[str, list[str]], to: str, form: str | None, sample: str) -> None:
    """One more, scanned where the count was asked back. Raises `Malformed` for one of another form."""
    (number, found), *_ = cache.by_form(session, (sample,), form, mine=True).items()
    if number not in groups:
        raise Malformed(f"{grouped(sample)} is of another form: it was not added.", code="other-form")
    groups[number] += found
    every = [each for samples in groups.values() for each in samples]
    click.get_current_context().params["numbers"] = tuple(every)
    if begun := scans.of(session, "give", to):
        scans.keep(session, "give", to, every, begun.besides)


def _ask_given(
    session: Session, groups: Mapping[str, Sequence[str]], seen: Mapping[str, Mapping[str, Any]]
) -> None:
    """Ask back at a terminal what is relinquished already and not received. Elsewhere it is another try."""
    given = {
        each["sample"]: (each["given"]["by"], each["given"]["to"])
        for form, told in seen.items()
        for each in told["samples"]
        if each["given"] and each["sample"] in groups[form]
    }
    if prompts.may_ask(session) and not session.both:
        prompts.settle(session, lambda: hand_over_slips.given_already(given))
