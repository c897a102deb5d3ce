"""The administrator: who may speak for the organisation."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final, get_args

import click

from bailee.domain.fields import Role
from bailee.errors import Malformed
from bailee_cli import acting
from bailee_cli.acting import Act
from bailee_cli.naming import NamingCommand
from bailee_cli.options import Whole, act_options, moment, time_options
from bailee_cli.session import Session

FILE: Final = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command("found")
@click.argument("org")
@click.option("--name", required=True, help="The organisation's name as it should be printed.")
@click.option("--person", help="Your printed name; kept out of the log.")
@click.option("--device", help="What this device is called; kept out of the log.")
@click.option(
    "--recovery",
    metavar="KID",
    help="Name of a key in a safe place, for the day when every root key is lost.",
)
@act_options
@click.pass_obj
def found_command(
    session: Session,
    org: str,
    name: str,
    person: str | None,
    device: str | None,
    recovery: str | None,
    offline: bool,
) -> None:
    """Found the organisation ORG: this device's key becomes its root key.

    Print the key's name on your forms and letters: it is what an auditor compares years later.
    """
    if org != session.profile.org:
        raise Malformed(
            f"This device joined for {session.profile.org}, not for {org}.", code="other-organisation"
        )
    data = {"name": name, "jwk": session.key.jwk, "recovery": recovery}
    acting.act(
        session, Act(f"org/{org}", "founded", data, {"person": person, "device": device}), offline=offline
    )
    click.echo(f"Root key of {org}: {session.key.kid}", err=session.json)


@click.command("enrol", cls=NamingCommand)
@click.argument("request", type=FILE)
@click.option("--role", required=True, type=click.Choice(get_args(Role)), help="What this person does.")
@click.option("--person", help="Printed name, if not the one in the request; kept out of the log.")
@click.option("--device", help="What the device is called, if not as in the request; kept out of the log.")
@click.option(
    "--checked", required=True, type=click.Choice(["in_person", "video", "document", "known"]),
    help="How you made sure who holds this key.",
)  # fmt: skip
@click.option(
    "--same-as", metavar="KID", help="Another key of the same person: what one holds, the other may give."
)
@act_options
@click.pass_obj
def enrol_command(
    session: Session,
    request: Path,
    role: str,
    person: str | None,
    device: str | None,
    checked: str,
    same_as: str | None,
    offline: bool,
) -> None:
    """Let the key in the file REQUEST speak for the organisation, in a role."""
    asked = read_request(session, request)
    chain = f"org/{session.profile.org}"
    data = {
        "kid": asked["kid"],
        "jwk": asked["jwk"],
        "role": role,
        "proof": asked["proof"],
        "identity_check": checked,
    } | ({"same_as": same_as} if same_as else {})
    private = {"person": person or asked.get("person"), "device": device or asked.get("device")}
    if not offline:
        acting.learn_heads(session, [chain])
    acting.act(session, Act(chain, "enrolled", data, private), offline=offline)


@click.command("revoke", cls=NamingCommand)
@click.argument("kid")
@click.option("--reason", required=True, type=click.Choice(["lost", "stolen", "left", "replaced", "doubt"]))
@click.option(
    "--last-good",
    required=True,
    type=Whole(0),
    help="Last statement number that is certainly theirs.",
)
@click.option("--note", help="Free text; kept out of the log.")
@time_options
@act_options
@click.pass_obj
def revoke_command(
    session: Session,
    kid: str,
    reason: str,
    last_good: int,
    note: str | None,
    at: str | None,
    zone: str | None,
    offline: bool,
) -> None:
    """End the key KID. `--at` is since when: the time of the loss. What it said up to --last-good stands."""
    chain = f"org/{session.profile.org}"
    data = {
        "kid": kid,
        "reason": reason,
        "since": moment(session, at, zone).text(),
        "last_good_seq": last_good,
    }
    if not offline:
        acting.learn_heads(session, [chain])
    acting.act(session, Act(chain, "revoked", data, {"note": note}), offline=offline)


def read_request(session: Session, file: Path) -> dict[str, Any]:
    """An enrolment request for this organisation and log. Raises `Malformed` for anything else."""
    try:
        asked = json.loads(file.read_text("utf-8"))
    except (ValueError, RecursionError, OSError) as error:
        raise Malformed(f"{file} is no enrolment request.", code="bad-file") from error
    wanted = {"kid", "jwk", "organisation", "origin", "proof"}
    if not isinstance(asked, dict) or not wanted <= asked.keys():
        raise Malformed(f"{file} is no enrolment request.", code="bad-file")
    profile = session.profile
    if (asked["organisation"], asked["origin"]) != (profile.org, profile.origin):
        raise Malformed(
            f"This request is for {asked['organisation']} at {asked['origin']}, not for {profile.org} at {profile.origin}.",
            code="other-organisation",
        )
    return asked
