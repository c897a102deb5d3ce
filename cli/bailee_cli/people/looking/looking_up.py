"""Everyone: what a number is, and a link to the pages."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import click

from bailee.domain import numbers
from bailee.domain.acts.form import BuildingChanged, ConditionsRead, Copied
from bailee.domain.requests import Order
from bailee.errors import Malformed
from bailee.presentation import copy_words, on_site_words, request_words, words
from bailee.presentation.words import Heading
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.looking.of_envelopes import one_envelope
from bailee_cli.people.looking.of_lots import lot
from bailee_cli.people.looking.of_samples import one_sample, qualified, samples
from bailee_cli.terminal import show, time_zones
from bailee_cli.terminal.options import Number, json_option


@click.command("show")
@click.argument("number", type=Number(), required=False)
@json_option
@click.pass_obj
def show_command(session: Session, number: str | None) -> None:
    """Show what NUMBER is: a sample, form, envelope or lot. Without one, your organization's newest forms."""
    kind = numbers.kind_of(number) if number else None
    path = f"/{PATHS[kind]}/{number}" if kind else "/forms"
    if kind == "seal":
        raise Malformed("A seal is shown with its envelope: enter the envelope's number.", code="seal")
    told = cache.form(session, number) if kind == "form" and number else session.service.get(path)
    if session.json:
        show.print_json(told)
        return
    if kind == "sample":
        one_sample(told, time_zones.of_form(session, told["form"]) if told["form"] else None)
    elif kind == "envelope":
        one_envelope(told, time_zones.of_envelope(session, told["envelope"]))
    else:
        {"form": _form, "lot": lot, None: _forms}[kind](told)


@click.command("pages")
@json_option
@click.pass_obj
def pages_command(session: Session) -> None:
    """Print a link that opens the pages in a browser, once and within five minutes.

    It reads in your name: do not pass it on.
    """
    from bailee.signing import access

    token = access.issue_for_pages(
        session.key, session.profile.org, session.profile.origin, int(session.now.timestamp())
    )
    # After the hash sign a browser keeps it to itself: it appears in no log of any server on the way.
    link = f"{session.profile.service.rstrip('/')}/enter#{token}"
    if session.json:
        show.print_json({"link": link})
    else:
        click.echo(link)


PATHS: Final[dict[Any, str]] = {
    "sample": "samples",
    "form": "forms",
    "envelope": "envelopes",
    "lot": "lots",
    "seal": "",
}


def _forms(told: Mapping[str, Any]) -> None:
    rows = [
        (
            f["form"],
            f["visit"],
            f["firm"],
            f["lab"],
            f["samples"],
            ", ".join(map(words.status, f["status"].split(", "))),
        )
        for f in told["forms"]
    ]
    if not rows:
        show.say("No form is on record here yet.")
        return
    show.table("Forms", ["form", "visit", Heading.FIRM.lower(), "laboratory", "samples", "status"], rows)


def _form(told: Mapping[str, Any]) -> None:
    show.say(
        f"Form {show.name(told['form'])}: visit {told['visit']} ({told['zone']}),"
        f" {words.parties(told['firm'], told['lab'])}"
    )
    for name, value in told["private"].items():
        show.say(f"{name}: {value}", "  ", "    ")
    for line in request_words.lines([(each["samples"], Order.read(each)) for each in told["requests"]]):
        show.say(f"{Heading.REQUESTED.lower()}: {line}", "  ", "    ")
    for each in told["changes"]:
        show.say(
            f"{Heading.CONDITIONS.lower()}: {on_site_words.line(BuildingChanged.read(each))}", "  ", "    "
        )
    for each in told["conditions"]:
        show.say(
            f"{Heading.CONDITIONS.lower()}: {on_site_words.line(ConditionsRead.read(each))}", "  ", "    "
        )
    for each in told["copies"]:
        show.say(f"{Heading.ISSUED_COPY.lower()}: {copy_words.line(Copied.read(each))}", "  ", "    ")
    samples(told["samples"], told["zone"])
    qualified(told["samples"])
    for envelope in told["envelopes"]:
        click.echo(f"Envelope {show.name(envelope)}")
    show.findings(told["findings"])
    show.verdicts(told["verdicts"])
