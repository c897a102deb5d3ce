"""Standing by what was signed: affirmations of one's own entries, and what a second person watched."""

from __future__ import annotations

import click

from bailee.domain.acts.form import Affirmed, Witnessed
from bailee.domain.acts.table import name_of
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import entry_numbers as entry_ids
from bailee_cli.signing import submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal.command_kinds import NamingCommand
from bailee_cli.terminal.options import (
    Number,
    Whole,
    act_options,
    present,
)


@click.command("affirm", cls=NamingCommand)
@click.argument("form", type=Number("form"))
@click.argument("entry_numbers", metavar="ENTRY...", nargs=-1, required=True)
@act_options
@click.pass_obj
def affirm_command(session: Session, form: str, entry_numbers: tuple[str, ...], offline: bool) -> None:
    """Confirm, with your new key, entries on FORM that you made with a key lost or reported since.

    ENTRY is the entry number of one, or its id. `bailee check` prints the command with all of them.
    """
    ids = entry_ids.ids(session, form, entry_numbers, offline=offline)
    cache.see(session, [form], offline=offline)
    submit.act(session, Act(f"form/{form}", name_of(Affirmed), {"statements": ids}), offline=offline)


@click.command("witness", cls=NamingCommand)
@click.argument("form", type=Number("form"))
@click.argument("entry_numbers", metavar="ENTRY...", nargs=-1, required=True)
@click.option(
    "--samples", type=Number("sample"), multiple=True, help="A number that you read on a cassette yourself."
)
@click.option("--count", type=Whole(0), help="Cassettes that you counted by hand.")
@click.option("--note", help="Free text; kept out of the log.")
@act_options
@click.pass_obj
def witness_command(
    session: Session,
    form: str,
    entry_numbers: tuple[str, ...],
    samples: tuple[str, ...],
    count: int | None,
    note: str | None,
    offline: bool,
) -> None:
    """Sign, as a second person, that you watched what entries on FORM record.

    ENTRY is the entry number of one; without a network its id, as `bailee outbox` on the device that signed
    it lists it. Enter what you counted and each number that you read. An entry then counts as watched only
    if you read the number of every cassette that it names.
    """
    ids = entry_ids.ids(session, form, entry_numbers, offline=offline)
    cache.see(session, [form], offline=offline)
    data = present({"statements": ids, "samples": list(samples) or None, "count": count})
    submit.act(session, Act(f"form/{form}", name_of(Witnessed), data, {"note": note}), offline=offline)
