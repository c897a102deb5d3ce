"""What waits: for whom, by when, and what is overdue."""

from __future__ import annotations

import click

from bailee_cli import show
from bailee_cli.options import json_option
from bailee_cli.session import Session


@click.command("chase")
@click.option("--overdue", "only", is_flag=True, help="Only what is overdue.")
@json_option
@click.pass_obj
def chase_command(session: Session, only: bool) -> None:
    """Envelopes sealed and not handed over, expected and not received, differences nobody called about, lots near expiry, kits.

    Ends with 1 when something is overdue, with 0 otherwise: a scheduler may call it.
    """
    told = session.service.get("/chase")
    items = [each for each in told["items"] if each["overdue"] or not only]
    if session.json:
        show.print_json({**told, "items": items})
    elif not items:
        click.echo("Nothing is overdue." if only else "Nothing waits.")
    else:
        rows = [
            (
                "OVERDUE" if each["overdue"] else "", each["kind"], show.when(each["due"]) or each["due"], show.name(each["about"]),
                each["sentence"], each["remedy"],
            )
            for each in items
        ]  # fmt: skip
        styles = ["red" if each["overdue"] else "" for each in items]
        show.table("To chase", ["", "what", "due", "about", "what is known", "what to do now"], rows, styles)
    if told["left_out"] and not session.json:
        click.echo("There are more open forms than were looked at.", err=True)
    if told["overdue"]:
        raise click.exceptions.Exit(1)
