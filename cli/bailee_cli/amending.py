"""Standing by what was said: affirmations of one's own statements, and what a second person watched."""

from __future__ import annotations

import click

from bailee_cli import acting, reading
from bailee_cli.acting import Act
from bailee_cli.naming import NamingCommand
from bailee_cli.options import Number, act_options
from bailee_cli.session import Session


@click.command("affirm", cls=NamingCommand)
@click.argument("form", type=Number("form"))
@click.argument("statement_ids", metavar="STATEMENT...", nargs=-1, required=True)
@act_options
@click.pass_obj
def affirm_command(session: Session, form: str, statement_ids: tuple[str, ...], offline: bool) -> None:
    """Confirm, with your new key, statements on FORM that you made with a key lost or reported since."""
    reading.see(session, [form], offline=offline)
    acting.act(session, Act(f"form/{form}", "affirmed", {"statements": list(statement_ids)}), offline=offline)


@click.command("witness", cls=NamingCommand)
@click.argument("form", type=Number("form"))
@click.argument("statement_ids", metavar="STATEMENT...", nargs=-1, required=True)
@click.option("--note", help="Free text, like what you counted; kept out of the log.")
@act_options
@click.pass_obj
def witness_command(
    session: Session, form: str, statement_ids: tuple[str, ...], note: str | None, offline: bool
) -> None:
    """Say, as a second person, that you watched what statements on FORM say: counted the cassettes, read their numbers."""
    reading.see(session, [form], offline=offline)
    said = Act(f"form/{form}", "witnessed", {"statements": list(statement_ids)}, {"note": note})
    acting.act(session, said, offline=offline)
