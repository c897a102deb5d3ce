"""Whoever holds samples: where they are, how they are secured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any, get_args

import click

from bailee.domain import numbers
from bailee.domain.acts.form import Held
from bailee.domain.acts.table import name_of
from bailee.domain.fields import Secured
from bailee.errors import Refused
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.handing_over.counting import NUMBERS, when_done
from bailee_cli.signing import from_paper, submit, time_order
from bailee_cli.signing.submit import Act
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import (
    act_options,
    moment,
    note_option,
    one_form_option,
    present,
    time_options,
)


@click.command("secure", cls=AskingCommand)
@NUMBERS
@click.option(
    "--how",
    "secured",
    required=True,
    type=click.Choice(get_args(Secured)),
    help="How the samples are secured.",
)
@click.option(
    "--where",
    required=True,
    type=click.Choice(["person", "vehicle", "office", "home", "laboratory", "other"]),
)
@click.option("--until", help="When that ended, if it has.")
@click.option("--place", help="Where exactly, in words; never in the log.")
@one_form_option
@note_option
@from_paper.option
@time_options
@act_options
@click.pass_obj
def secure_command(
    session: Session, numbers: tuple[str, ...], secured: str, where: str, until: str | None,
    place: str | None, form: str | None, note: str | None, at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Record how samples are secured: NUMBERS are samples, a form or an envelope; none means all you hold on
    your current form.

    possession: on you. view: in your view. locked: under lock and key. restricted: in a room others
    cannot enter. sealed: in a container whose seal would show an opening.
    """
    groups: Mapping[str, Sequence[str] | None]
    groups = (
        cache.by_form(session, numbers, form, mine=True)
        if numbers
        else {cache.current_form(session, form): None}
    )
    seen = cache.see(session, groups, offline=offline)
    for number, samples in groups.items():
        if samples is None and number in seen:
            _require_held(session, seen[number])
    acts = []
    for number, samples in groups.items():
        in_zone = zone or cache.zone_of(session, number)
        data = {
            "samples": samples,
            "secured": secured,
            "where": where,
            "since": when_done(
                session,
                name_of(Held),
                number,
                at,
                in_zone,
                partial(time_order.before_securing, session, number, seen.get(number), samples),
            ),
            "until": moment(session, until, in_zone).text() if until else None,
        }
        acts.append(Act(f"form/{number}", name_of(Held), present(data), {"place": place, "note": note}))
    submit.act(session, *acts, offline=offline)


def _require_held(session: Session, told: Mapping[str, Any]) -> None:
    """Raise `Refused` ("holds-nothing") when this person holds nothing of a form, and nothing waits here."""
    waits = any(each.chain == f"form/{told['form']}" for each in session.outbox.unsettled("waiting"))
    if not waits and not cache.held(session, told):
        raise Refused(
            f"You hold nothing of form {numbers.grouped(told['form'])}: there is nothing to secure. Nothing"
            " was signed: name what you hold, or the form with --form.",
            code="holds-nothing",
        )
