"""The outbox, seen and sent."""

from __future__ import annotations

from typing import Any

import click

from bailee_cli import acting, show
from bailee_cli.options import json_option
from bailee_cli.outbox import Kept
from bailee_cli.session import Session


@click.command("send")
@click.option("--again", is_flag=True, help="Also send once more what was refused before.")
@json_option
@click.pass_obj
def send_command(session: Session, again: bool) -> None:
    """Send what is signed and still waiting, in the order it was signed. Sending twice does no harm."""
    states = ("waiting", "refused") if again else ("waiting",)
    settled = acting.send(session, *states)
    left = session.outbox.unsettled("waiting")
    if not settled and not left and not session.json:
        click.echo("Nothing is waiting.")
        return
    if left and not session.json:
        click.echo(f"{len(left)} still waiting.", err=True)
    acting.report(session, settled)
    if left:
        raise click.exceptions.Exit(3)


@click.command("outbox")
@click.option("--all", "everything", is_flag=True, help="Everything this device has ever signed.")
@json_option
@click.pass_obj
def outbox_command(session: Session, everything: bool) -> None:
    """Show the newest statements of this device and what became of each."""
    kept = session.outbox.newest(1_000_000 if everything else 20)
    if session.json:
        show.print_json([acting.as_json(each) for each in kept])
        return
    columns = ["no.", "what", "about", "state", "entry", "statement"]
    show.table("Signed on this device, newest first", columns, [_row(each) for each in kept])


def _row(kept: Kept) -> list[Any]:
    answer = kept.answer or {}
    problem = answer.get("problem") or {}
    state = f"{kept.state}: {problem['detail']}" if problem else kept.state
    return [kept.seq, show.words(kept.act), acting.spoken(kept.chain), state, answer.get("n"), kept.digest]
