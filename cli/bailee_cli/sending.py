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
@click.option("--set-aside", type=int, metavar="NO.", help="Try this refused statement no more. It is kept.")
@click.option("--all", "everything", is_flag=True, help="Everything this device has ever signed.")
@json_option
@click.pass_obj
def outbox_command(session: Session, everything: bool, set_aside: int | None) -> None:
    """Show the newest statements of this device and what became of each."""
    if set_aside is not None:
        gone = session.outbox.set_aside(set_aside)
        click.echo(
            f"Set aside: {show.words(gone.act)}, {acting.spoken(gone.chain)} (statement {gone.seq}). It is kept on this device and sent no "
            "more. In the ledger its number stays missing, and whoever checks will ask what it was.",
            err=session.json,
        )
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
