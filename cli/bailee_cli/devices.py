"""This device: its key, its enrolment, the service it belongs to."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path
from typing import Any

import click

from bailee.errors import Broken, Unavailable
from bailee_cli import profile as profiles
from bailee_cli.options import json_option
from bailee_cli.session import Session


@click.command("join")
@click.option("--service", required=True, help="Address of the service, like https://custody.example.org.")
@click.option("--org", required=True, help="Your organisation's short name there.")
@click.option("--origin", help="Name of the log, if you were told it: joining another one is refused.")
@click.option("--log-key", help="Public key of the log, if you were told it: joining another one is refused.")
@click.pass_obj
def join_command(session: Session, service: str, org: str, origin: str | None, log_key: str | None) -> None:
    """Say which service and organisation this device belongs to.

    The log's name and public key are fixed from now on: a service that shows another log later is not believed.
    """
    from bailee.ledger.checkpoint import format_vkey
    from bailee.signing import vkeys

    key = format_vkey(vkeys.read_log(log_key)) if log_key else None
    with closing(session.stranger(service)) as stranger:
        told = stranger.get("/health")
    shown = vkeys.read_log(told["log_key"])
    for what, wanted, found in (("log", origin, told["origin"]), ("log key", key, format_vkey(shown))):
        if wanted is not None and wanted != found:
            raise Broken(
                f"This service shows the {what} {found}, and you were told {wanted}: nothing was joined.",
                code="origin",
            )
    joined = profiles.Profile(service, str(told["origin"]), format_vkey(shown), org)
    _refuse_another_log(session, joined)
    profiles.save(session.folder, joined)
    click.echo(f"Joined the log {joined.origin} for {org}. Its public key: {joined.log_key}")


@click.group("key")
def key_command() -> None:
    """Make this device's key, show it, ask for its enrolment."""


@key_command.command("new")
@click.option(
    "--passphrase", is_flag=True, help="Protect the key file with a passphrase (asked; or BAILEE_PASSPHRASE)."
)
@click.pass_obj
def new(session: Session, passphrase: bool) -> None:
    """Make the signing key of this device. It is kept for you alone and never leaves this device."""
    import os

    secret = os.environ.get("BAILEE_PASSPHRASE") if passphrase else None
    if passphrase and secret is None:
        secret = click.prompt("New passphrase", hide_input=True, confirmation_prompt=True, err=True)
    key = profiles.make_key(session.folder, secret)
    click.echo(f"Key {key.kid} is in {session.folder}.")
    click.echo(
        "Next: `bailee join`, then `bailee key request -o request.json` and give that file to your administrator."
    )


@key_command.command("show")
@json_option
@click.pass_obj
def show_key(session: Session) -> None:
    """Print the key's name (its thumbprint), the same in five lines to type or read aloud, and where it belongs."""
    from bailee.ledger import fingerprint
    from bailee.ledger.base64url import unb64u
    from bailee.signing import vkeys

    lines = {"kid": fingerprint.lines(unb64u(session.key.kid))}
    facts: dict[str, Any] = {"kid": session.key.kid, "folder": str(session.folder)}
    try:
        joined = session.profile
        facts |= {
            "organisation": joined.org,
            "service": joined.service,
            "origin": joined.origin,
            "log_key": joined.log_key,
        }
        lines["log_key"] = vkeys.lines(vkeys.read_log(joined.log_key))
    except Unavailable:
        facts["organisation"] = None
    if session.json:
        from bailee_cli import show

        show.print_json(facts | {f"{name}_lines": told for name, told in lines.items()})
        return
    for name, value in facts.items():
        click.echo(f"{name.replace('_', ' ') + ':':14}{value or 'not joined yet'}")
        for line in lines.get(name, ()):
            click.echo(f"{'':14}{line}")


@key_command.command("request")
@click.option(
    "--person",
    default="",
    help="Your printed name; it travels to your administrator and is kept out of the log.",
)
@click.option("--device", default="", help="What this device is called.")
@click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), help="Write to this file.")
@click.pass_obj
def request(session: Session, person: str, device: str, output: Path | None) -> None:
    """Write an enrolment request: the public key and a proof that this device holds the other half."""
    from bailee.signing import key_proof

    profile, key = session.profile, session.key
    proof = key_proof.issue(key, profile.org, profile.origin, int(session.now.timestamp()))
    asked = {
        "kid": key.kid, "jwk": key.jwk, "organisation": profile.org, "origin": profile.origin, "proof": proof,
        "person": person, "device": device,
    }  # fmt: skip
    text = json.dumps(asked, indent=2, ensure_ascii=False) + "\n"
    if output is None:
        click.echo(text, nl=False)
        return
    profiles.replace_file(output, text.encode())
    click.echo(f"Give {output} to your administrator. Read them the key's name: {key.kid}")


def _refuse_another_log(session: Session, joined: profiles.Profile) -> None:
    """A device that has signed for one log stays with it; its address may change."""
    try:
        before = session.profile
    except Unavailable:
        return
    if (before.origin, before.log_key, before.org) != (joined.origin, joined.log_key, joined.org):
        raise Broken(
            f"This device already belongs to the log {before.origin} for {before.org}: use another name with --as.",
            code="other-log",
        )
