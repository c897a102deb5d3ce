"""The lists a firm keeps: instruments with their certificates, trained people, where a licence is needed."""

from __future__ import annotations

import click

from bailee.errors import Malformed
from bailee_cli import acting
from bailee_cli.acting import Act
from bailee_cli.naming import NamingCommand
from bailee_cli.options import act_options, moment, present
from bailee_cli.session import Session


@click.command("equipment")
@click.argument("kind", type=click.Choice(["pump", "meter"]))
@click.argument("number")
@click.option("--certified", help="Day of its certificate, like 2026-06-15.")
@click.option("--valid-to", help="Last day the certificate counts.")
@click.option("--calibrated-c", help="Temperature at which a meter reads true, degrees Celsius.")
@click.option("--calibrated-hpa", help="Air pressure at which a meter reads true, hPa.")
@act_options
@click.pass_obj
def equipment_command(
    session: Session, kind: str, number: str, certified: str | None, valid_to: str | None, calibrated_c: str | None,
    calibrated_hpa: str | None, offline: bool,
) -> None:  # fmt: skip
    """Enter pump or flow meter NUMBER with its newest certificate; earlier ones count for the days they covered."""
    data = {
        "kind": kind, "id": number, "certified": certified, "valid_to": valid_to, "calibrated_c": calibrated_c,
        "calibrated_hpa": calibrated_hpa,
    }  # fmt: skip
    _say(session, "equipment_set", present(data), offline=offline)


@click.command("train", cls=NamingCommand)
@click.argument("kid")
@click.option("--on", "day", help="Day of the training, like 2026-03-03.  [default: today]")
@click.option("--valid-to", help="Last day it counts.")
@click.option("--note", help="Free text; kept out of the log.")
@act_options
@click.pass_obj
def train_command(
    session: Session, kid: str, day: str | None, valid_to: str | None, note: str | None, offline: bool
) -> None:
    """Put the person of key KID on the list of people trained to sample."""
    today = moment(session, None, None).local_date.isoformat()
    data = present({"kid": kid, "on": day or today, "valid_to": valid_to})
    _say(session, "trained", data, note, offline=offline)


@click.command("licensing")
@click.argument("jurisdictions", nargs=-1)
@click.option("--nowhere", is_flag=True, help="A licence is needed nowhere.")
@act_options
@click.pass_obj
def licensing_command(session: Session, jurisdictions: tuple[str, ...], nowhere: bool, offline: bool) -> None:
    """Say in which JURISDICTIONS a sampler needs a licence, like US-NY; this replaces the list that was there."""
    if bool(jurisdictions) == nowhere:
        raise Malformed("Name the jurisdictions, or say --nowhere.", code="no-jurisdiction")
    _say(session, "licensing_set", {"jurisdictions": list(jurisdictions)}, offline=offline)


def _say(
    session: Session, act: str, data: dict[str, object], note: str | None = None, *, offline: bool
) -> None:
    chain = f"org/{session.profile.org}"
    if not offline:
        acting.learn_heads(session, [chain])
    acting.act(session, Act(chain, act, data, {"note": note}), offline=offline)
