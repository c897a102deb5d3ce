"""What waits: for whom, by when, and what is overdue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import click

from bailee_cli import clocks, show
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
        show.say("Nothing is overdue." if only else "Nothing waits.")
    else:
        _say(session, items)
    if told["left_out"] and not session.json:
        click.echo("There are more open forms than were looked at.", err=True)
    if told["overdue"]:
        raise click.exceptions.Exit(1)


def _say(session: Session, items: Sequence[Mapping[str, Any]]) -> None:
    """What is overdue first, each with what to do; the same cure for several things is said once."""
    late = sum(each["overdue"] for each in items)
    show.say(
        f"To chase: {late} overdue, {len(items) - late} not yet due.", style="bold red" if late else "bold"
    )
    alike: dict[tuple[bool, str, str], list[Mapping[str, Any]]] = {}
    for each in sorted(items, key=lambda each: not each["overdue"]):
        alike.setdefault((each["overdue"], each["kind"], each["remedy"]), []).append(each)
    for (overdue, kind, remedy), group in alike.items():
        show.say(f"{'OVERDUE  ' if overdue else ''}{kind}", style="red" if overdue else "bold")
        for each in group:
            show.say(f"{show.thing(each['about'])}, due {_due(session, each)}", "  ")
            show.say(each["sentence"], "    ")
        show.say(remedy, "  do: ")


def _due(session: Session, each: Mapping[str, Any]) -> str:
    """A day as it is, a moment on the clocks of the visit, as everywhere else."""
    is_moment = "T" in each["due"]
    return show.when(each["due"], clocks.of_number(session, each["about"]) if is_moment else None)
