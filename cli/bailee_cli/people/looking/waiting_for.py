"""Everyone: what waits, for whom, and since when it is overdue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import click

from bailee_cli.device.session import Session
from bailee_cli.terminal import show, time_zones
from bailee_cli.terminal.commands import commands
from bailee_cli.terminal.options import json_option


@click.command("chase")
@click.option("--overdue", "only", is_flag=True, help="Only what is overdue.")
@json_option
@click.pass_obj
def chase_command(session: Session, only: bool) -> None:
    """Envelopes sealed and not shipped, expected and not received, taken in and not opened, discrepancies
    without a call, results requested and not issued, new samples asked for, lots near
    their expiration date, kits.

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
    if (more := told["left_out"]) and not session.json:
        were = "form is open and was" if more == 1 else "forms are open and were"
        click.echo(
            f"{more} more {were} not looked at: the oldest of each organization are, and few of one you never"
            " answered.",
            err=True,
        )
    if told["overdue"]:
        raise click.exceptions.Exit(1)


_ON_RECORD: Final = {
    "not secured": "no entry of how they are secured",
    "not sealed": "no sealing on record",
    "not shipped": "no shipment on record",
    "not received": "no receipt on record",
    "not taken": "relinquished, no receiving entry on record",
    "not opened": "no opening on record",
    "not called": "no call on record",
    "not notified": "no notice on record",
    "result due": "no result on record",
    "not collected again": "no new sample on record",
}
"""What waits, as a heading: the ledger knows what is on record, not what was done."""


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
        show.say(
            f"{'OVERDUE  ' if overdue else ''}{_ON_RECORD.get(kind, kind)}",
            style="red" if overdue else "bold",
        )
        for each in group:
            show.say(f"{show.thing(each['about'])}, due {_due(session, each)}", "  ")
            show.say(each["sentence"], "    ")
        show.say(remedy, "  do: ")
        show.offer(commands(act for each in group for act in each["acts"]), " " * 6)


def _due(session: Session, each: Mapping[str, Any]) -> str:
    """A day as it is, a moment on the clocks of the visit, as everywhere else."""
    is_moment = "T" in each["due"]
    return show.when(each["due"], time_zones.of_number(session, each["about"]) if is_moment else None)
