"""The lists a firm keeps: who is enrolled, instruments with their certificates, trained people, where a
license is needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from bailee.asking import office_slips, written_times
from bailee.domain.acts.organization import EquipmentSet, LicensingSet, Trained
from bailee.domain.acts.table import name_of
from bailee.errors import Forged, Malformed, Unavailable, Unknown
from bailee.presentation import words
from bailee_cli.device.session import Session
from bailee_cli.signing import lookups, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand, NamingCommand
from bailee_cli.terminal.options import (
    Written,
    act_options,
    anyway_option,
    json_option,
    moment,
    note_option,
    present,
)


@click.command("people")
@click.option("--all", "everything", is_flag=True, help="Keys that have ended, too.")
@json_option
@click.pass_obj
def people_command(session: Session, everything: bool) -> None:
    """Who is enrolled with your organization: name, role, key ID, and until when.

    A name, or the beginning of a key ID, may be typed where a command takes a key ID.
    """
    keys = [each for each in lookups.enrolled(session) if everything or not each["revoked"]]
    if session.json:
        show.print_json({"organization": session.profile.org, "keys": keys})
        return
    rows = [
        (
            each["person"] or "no name on record",
            words.plain(each["role"]),
            each["kid"],
            show.when(each["until"]) if each["until"] else "",
        )
        for each in sorted(keys, key=lambda each: (str(each["person"]).lower(), each["role"]))
    ]
    show.table(f"Enrolled with {session.profile.org}", ["name", "role", "key ID", "until"], rows)


@click.command("equipment", cls=AskingCommand)
@click.argument("kind", type=click.Choice(["pump", "meter"]))
@click.argument("number")
@click.option("--certified", type=Written("day"), help="Day of its certificate, like 2026-06-15.")
@click.option("--valid-to", type=Written("day"), help="Last day the certificate counts.")
@click.option(
    "--calibrated-c",
    type=Written("degrees_celsius"),
    help="Temperature at which a meter reads true, degrees Celsius.",
)
@click.option(
    "--calibrated-hpa", type=Written("hectopascals"), help="Air pressure at which a meter reads true, hPa."
)
@anyway_option
@act_options
@click.pass_obj
def equipment_command(
    session: Session, kind: str, number: str, certified: str | None, valid_to: str | None,
    calibrated_c: str | None, calibrated_hpa: str | None, offline: bool,
) -> None:  # fmt: skip
    """Enter pump or flow meter NUMBER with its newest certificate.

    MustPrecede ones count for the days they covered.
    """
    data = {
        "kind": kind,
        "id": number,
        "certified": certified,
        "valid_to": valid_to,
        "calibrated_c": calibrated_c,
        "calibrated_hpa": calibrated_hpa,
    }
    _settle_days(session, data, "certified")
    _sign(session, name_of(EquipmentSet), present(data), offline=offline)


def _settle_days(session: Session, data: dict[str, Any], first: str) -> None:
    """Ask a last day back that lies before the first one."""
    prompts.settle(
        session,
        lambda: office_slips.days_swapped(data[first], data["valid_to"], "valid_to"),
        prompts.typed_again(data, valid_to=written_times.day),
    )


@click.command("train", cls=NamingCommand)
@click.argument("kid")
@click.option(
    "--on", "day", type=Written("day"), help="Day of the training, like 2026-03-03.  [default: today]"
)
@click.option("--valid-to", type=Written("day"), help="Last day it counts.")
@note_option
@anyway_option
@act_options
@click.pass_obj
def train_command(
    session: Session, kid: str, day: str | None, valid_to: str | None, note: str | None, offline: bool
) -> None:
    """Put the person of key KID (its ID, or their name) on the list of people trained to sample."""
    today = moment(session, None, None).local_date.isoformat()
    kid = lookups.key_id(session, kid, offline=offline)
    data = {"kid": kid, "on": day or today, "valid_to": valid_to}
    _settle_days(session, data, "on")
    _sign(session, name_of(Trained), present(data), note, offline=offline)


@click.command("licensing", cls=AskingCommand)
@click.argument("jurisdictions", nargs=-1)
@click.option("--nowhere", is_flag=True, help="A license is needed nowhere.")
@anyway_option
@act_options
@click.pass_obj
def licensing_command(session: Session, jurisdictions: tuple[str, ...], nowhere: bool, offline: bool) -> None:
    """Sign in which JURISDICTIONS an inspector needs a license, like US-NY.

    This replaces the list that was there: what would go is shown, and at a terminal you are asked.
    """
    if bool(jurisdictions) == nowhere:
        raise Malformed("Enter the jurisdictions, or --nowhere.", code="no-jurisdiction")
    prompts.settle(session, lambda: office_slips.no_region(jurisdictions))
    listed = None if offline else _listed(session)
    goes = [each for each in listed or () if each not in jurisdictions]
    change = _change(listed or [], jurisdictions)
    if goes and prompts.may_ask(session):
        layout.warn(change)
        session.was_asked = True
    _sign(session, name_of(LicensingSet), {"jurisdictions": list(jurisdictions)}, offline=offline)
    if listed:
        layout.line(change, err=session.json)


def _listed(session: Session) -> list[str] | None:
    """Where a license is needed until now; None where nothing is on record or nobody can be asked."""
    try:
        found: list[str] | None = session.service.get(f"/organizations/{session.profile.org}")["licensing"]
    except (Unavailable, Unknown, Forged) as error:
        layout.warn(f"Not shown: what this list replaces. {error.sentence}")
        return None
    return found


def _change(listed: Sequence[str], said: Sequence[str]) -> str:
    """What becomes of the list: `Goes: US-TX. Stays: US-NY. New: none.`."""
    told = {
        "Goes": [each for each in listed if each not in said],
        "Stays": [each for each in listed if each in said],
        "New": [each for each in said if each not in listed],
    }
    return " ".join(f"{what}: {', '.join(each) or 'none'}." for what, each in told.items())


def _sign(
    session: Session, act: str, data: dict[str, object], note: str | None = None, *, offline: bool
) -> None:
    chain = f"org/{session.profile.org}"
    if not offline:
        submit.learn_heads(session, [chain])
    submit.act(session, Act(chain, act, data, {"note": note}), offline=offline)
