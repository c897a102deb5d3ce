"""Allowing a finding: asked first whether it would count, because a second person's signature is not to be wasted."""

from __future__ import annotations

from typing import Any

import click

from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.facts import choices
from bailee.domain.numbers import grouped
from bailee.errors import Forged, Malformed, Refused
from bailee_cli import acting, reading, show
from bailee_cli.acting import Act
from bailee_cli.options import Number, act_options
from bailee_cli.session import Session


@click.command("except")
@click.argument("rule")
@click.argument("about", type=Number())
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(form_acts.Excepted, "reason")),
)
@click.option("--form", "form", type=Number("form"), help="[default: looked up by ABOUT]")
@click.option("--note", help="Free text; kept out of the log.")
@act_options
@click.pass_obj
def except_command(
    session: Session, rule: str, about: str, reason: str, form: str | None, note: str | None, offline: bool
) -> None:
    """Allow the finding of RULE about ABOUT (the number the finding names), with a reason.

    It counts only from a second person: not from whoever collected that sample or opened that form, said what the finding rests on, or
    seals or hands over the envelope.
    """
    rule = rule.upper()
    forms = _offline(rule, about, form) if offline else _asked(session, rule, about, reason, form)
    reading.see(session, forms, offline=offline)
    data = {"rule": rule, "about": about, "reason": reason}
    acting.act(
        session,
        *[Act(f"form/{number}", "excepted", data, {"note": note}) for number in forms],
        offline=offline,
    )


def _asked(session: Session, rule: str, about: str, reason: str, form: str | None) -> list[str]:
    """The forms on which to say it. Raises `Refused` when it would not count, `Malformed` when the rule speaks of other numbers."""
    told: dict[str, Any] = session.service.get(
        "/exceptions", rule=rule, about=about, reason=reason, form=form
    )
    if not told["findings"] and told["others"]:
        others = ", ".join(show.name(each) for each in told["others"])
        raise Malformed(
            f"{rule} finds nothing about {grouped(about)}; it finds something about {others}. Give the number that the finding "
            "names. Nothing was signed.",
            code="not-about-this",
        )
    if not told["counts"]:
        raise Refused(
            f"This exception would not count: {told['why_not']}. It takes {told['who']}. Nothing was signed.",
            code="would-not-count",
            who=told["who"],
        )
    if not told["findings"]:
        unseen = (
            "; what rests on how it is handed over shows only when `bailee ship` asks"
            if numbers.kind_of(about) == "envelope"
            else ""
        )
        show.say(
            f"{rule} finds nothing about {grouped(about)} at present{unseen}: the exception counts once it does.",
            err=session.json,
        )
    return list(told["forms"])


def _offline(rule: str, about: str, form: str | None) -> list[str]:
    """The same as far as this device alone knows."""
    from bailee.rules import exceptions

    try:
        exceptions.require(rule)
    except Forged as error:
        raise Malformed(f"{error.sentence} Nothing was signed.", code=error.code, **error.facts) from error
    if form is None and numbers.kind_of(about) != "form":
        raise Malformed(
            "Without a network nobody knows on which form that is: say it with --form.", code="no-form"
        )
    return [form or about]
