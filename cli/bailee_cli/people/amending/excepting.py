"""Allowing a finding: asked first whether it would count, because a second person's signature is not to be
wasted.
"""

from __future__ import annotations

from typing import Any

import click

from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Excepted
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee.domain.numbers import grouped
from bailee.errors import Forged, Malformed, Refused
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import (
    Number,
    act_options,
    note_option,
)


@click.command("except", cls=AskingCommand)
@click.argument("rule")
@click.argument("about", type=Number())
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(form_acts.Excepted, "reason")),
)
@click.option("--form", "form", type=Number("form"), help="[default: looked up by ABOUT]")
@note_option
@act_options
@click.pass_obj
def except_command(
    session: Session, rule: str, about: str, reason: str, form: str | None, note: str | None, offline: bool
) -> None:
    """Allow the finding of RULE about ABOUT (the number the finding names), with a reason.

    It counts only from a second person: not from the person who collected that sample or opened that form,
    signed the entry that the finding rests on, or seals or ships the envelope.
    """
    rule = rule.upper()
    forms = _offline(rule, about, form) if offline else _asked(session, rule, about, reason, form)
    seen = cache.see(session, forms, offline=offline)
    if forms != [form or about] and prompts.may_ask(session):
        session.was_asked = True  # the ledger named these forms, not the person
        for told in seen.values():
            inside = [s["sample"] for s in told["samples"] if about in (s["sample"], s["envelope"])]
            click.echo(layout.listed(f"On form {grouped(told['form'])}: ", map(grouped, inside)), err=True)
    data = {"rule": rule, "about": about, "reason": reason}
    submit.act(
        session,
        *[Act(f"form/{number}", name_of(Excepted), data, {"note": note}) for number in forms],
        offline=offline,
    )


def _asked(session: Session, rule: str, about: str, reason: str, form: str | None) -> list[str]:
    """The forms on which to say it.

    Raises `Refused` when it would not count, `Malformed` when the rule speaks of other numbers.
    """
    told: dict[str, Any] = session.service.get(
        "/exceptions", rule=rule, about=about, reason=reason, form=form
    )
    if not told["findings"] and told["others"]:
        others = ", ".join(show.name(each) for each in told["others"])
        raise Malformed(
            f"{rule} has no finding about {grouped(about)}; it has one about {others}. Enter the number in"
            " the finding. Nothing was signed.",
            code="not-about-this",
        )
    if not told["counts"]:
        raise Refused(
            f"This exception would not count: {told['why_not']}. It needs {told['who']}. Nothing was signed.",
            code="would-not-count",
            who=told["who"],
        )
    if told["holds"]:
        show.say(
            "You hold these samples. If you seal or ship them yourself, this exception will not count.",
            err=session.json,
        )
    if not told["findings"]:
        unseen = (
            "; what rests on the shipment shows only when `bailee ship` asks"
            if numbers.kind_of(about) == "envelope"
            else ""
        )
        show.say(
            f"{rule} finds nothing about {grouped(about)} at present{unseen}: the exception counts once it"
            " does.",
            err=session.json,
        )
    return [form] if form else list(told["forms"])


def _offline(rule: str, about: str, form: str | None) -> list[str]:
    """The same as far as this device alone knows."""
    from bailee.rules import exceptions

    try:
        exceptions.require(rule)
    except Forged as error:
        raise Malformed(f"{error.sentence} Nothing was signed.", code=error.code, **error.facts) from error
    if form is None and numbers.kind_of(about) != "form":
        raise Malformed(
            "Without a network the form cannot be looked up: enter it with --form.", code="no-form"
        )
    return [form or about]
