"""Who is enrolled with one's own organization."""

from __future__ import annotations

import click

from bailee.presentation import words
from bailee_cli.device.session import Session
from bailee_cli.signing import lookups
from bailee_cli.terminal import show
from bailee_cli.terminal.options import json_option


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
