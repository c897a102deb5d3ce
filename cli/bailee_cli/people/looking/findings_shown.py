"""Everyone: what the rules find, now or as it was, and what the sealer acknowledged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import click

from bailee.domain import numbers
from bailee.errors import Malformed
from bailee_cli.device.session import Session
from bailee_cli.people.looking.looking_up import PATHS
from bailee_cli.terminal import show, time_zones
from bailee_cli.terminal.options import Number, Written, json_option, moment


@click.command("check")
@click.argument("number", type=Number())
@click.option("--as-of", help='As it was then: "2026-11-25 14:00", with what was recorded by then.')
@click.option(
    "--zone",
    type=Written("zone"),
    help="Time zone of --as-of, like America/New_York.  [default: this device's]",
)
@click.option(
    "--as-sealed",
    is_flag=True,
    help="As it was when the envelope was sealed; compares with what was acknowledged.",
)
@json_option
@click.pass_obj
def check_command(
    session: Session, number: str, as_of: str | None, zone: str | None, as_sealed: bool
) -> None:
    """Show what the rules find on a form or envelope, and the four verdicts: now, or as it was at a moment.

    Ends with 1 when something stops the samples or is flagged, with 0 otherwise; warnings and notes do not
    count. With --as-sealed it ends with 1 when the check asked again differs from what the sealer
    acknowledged.
    """
    kind = numbers.kind_of(number)
    if kind not in ("form", "envelope"):
        raise Malformed("Give the number of a form or an envelope.", code="wrong-kind")
    if as_sealed:
        if kind != "envelope" or as_of:
            raise Malformed(
                "Enter the number of an envelope with --as-sealed, and no moment.", code="wrong-kind"
            )
        sealing(session, number)
        return
    at = moment(session, as_of, zone).text() if as_of else None
    told = session.service.get(f"/{PATHS[kind]}/{number}", as_of=at)
    if session.json:
        found = {name: told[name] for name in ("at", "findings", "verdicts")}
        show.print_json({"number": number, **found})
    else:
        if at:
            click.echo(f"As of {show.when(at, zone)}:")
        show.findings(told["findings"])
        show.verdicts(told["verdicts"])
    if any(f["severity"] in ("block", "flag", "refuse") for f in told["findings"]):
        raise click.exceptions.Exit(1)


def sealing(session: Session, envelope: str) -> None:
    """Judge an envelope from what was recorded before it was sealed.

    End with 1 when it differs from what was acknowledged.
    """
    told = session.service.get(f"/envelopes/{envelope}/sealing")
    if session.json:
        show.print_json(told)
    else:
        sealed = show.when(told["sealed_at"], time_zones.of_envelope(session, envelope))
        show.say(f"Envelope {show.name(envelope)}, sealed {sealed} with {show.name(told['seal'])}:")
        show.findings(told["findings"])
        for part in told["forms"]:
            _replayed_form(part)
    if not told["same"]:
        raise click.exceptions.Exit(1)


def _replayed_form(part: Mapping[str, Any]) -> None:
    said, found = _pairs(part["acknowledged"]), _pairs(part["found_again"])
    acknowledged = f"{show.counted(len(said), 'warning was', 'warnings were')} acknowledged"
    again = f"{show.counted(len(found), 'is', 'are')} found again"
    show.say(f"Form {show.name(part['form'])}: {acknowledged}, {again}.")
    for rule, about in [each for each in said if each not in found]:
        show.say(f"  acknowledged then, not found now: {rule} {show.name(about)}")
    for rule, about in [each for each in found if each not in said]:
        show.say(f"  found now, not acknowledged then: {rule} {show.name(about)}")
    for whose, same in (
        ("the firm's thresholds", part["policy_same"]),
        ("the laboratory's limits", part["lab_policy_same"]),
    ):
        if same is not None:
            show.say(f"  {whose}: {'those of then' if same else 'not those that the seal names'}")


def _pairs(warned: Sequence[Mapping[str, str]]) -> list[tuple[str, str]]:
    return [(each["rule"], each["about"]) for each in warned]
