"""The operator: whether the database still says what was signed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bailee.errors import BaileeError, Unavailable
from bailee_cli.terminal import progress
from bailee_cli.terminal.layout import counted
from bailee_cli.terminal.options import json_option

if TYPE_CHECKING:
    from bailee.config import Settings
    from bailee.ledger.checkpoint import VerifierKey
    from bailee.store.database import Database
    from bailee.verify.log_audit import Audit
    from bailee_cli.device.session import Session
from bailee_cli.people.operating.homes import HOME, database_of, erasures_unknown, server_parts, settings_of


@click.command("check-ledger")
@HOME
@click.option(
    "--log-key", help="The log's public key, if you keep it elsewhere.  [default: of the key in the folder]"
)
@json_option
@click.pass_obj
def check_ledger_command(session: Session, home: Path, log_key: str | None) -> None:
    """Check every entry, signature, chain, device counter, tile, tile file and the newest checkpoint, from
    the entries' own bytes.

    Ends with 1 when something does not hold, with 3 when a newer program wrote what this one does not know.
    It can run beside the service.
    """
    from bailee.signing import notes, vkeys
    from bailee.verify.log_audit import Audit

    with server_parts():
        from bailee.operations.publishing.log_key import open_log_key
    settings = settings_of(home)
    database = database_of(home)
    key = vkeys.read_log(log_key) if log_key else None
    if key is None:
        try:
            key = notes.verifier_key(settings.origin, open_log_key(settings))
        except Unavailable as error:
            raise Unavailable(
                f"{error.sentence} Or give its public half with --log-key.", code=error.code
            ) from error
    found = []
    newest = _newest_checkpoint(database)  # before the entries: a service beside may add more meanwhile
    audit = Audit(key.name)
    for said in _troubles(database, settings, key, audit):
        found.append(said)
        if not session.json:
            click.echo(said)
    database.close()
    if session.json:
        from bailee_cli.terminal import show

        where = {"database": database.shown, "entries": audit.size, "checkpoint": newest}
        show.print_json(where | {"faults": found, "not_checked": audit.not_checked() or None})
    else:
        entries = counted(audit.size, "entry", "entries")
        shown = "none" if newest is None else newest
        click.echo(f"Checked {entries} of {database.shown}; newest checkpoint {shown}.")
        if found or not audit.unknown:
            told = counted(len(found), "fault") + " found."
            click.echo(told if found else _sound(settings, key), err=bool(found))
    for said in () if session.json else _to_do(home):
        click.echo(said, err=True)
    if said := audit.not_checked():
        click.echo(said, err=True)
    if found or audit.unknown:
        raise click.exceptions.Exit(1 if found else 3)


def _goes_back(frozen: Unavailable) -> bool:
    """Whether more was signed than the database has: its marks are copied after it, and a service goes on."""
    return bool(frozen.facts.get("signed", 0) > frozen.facts.get("database", 0))


def _to_do(home: Path) -> Iterator[str]:
    """What is left to be done after a backup took the place of a ledger."""
    from bailee.config import RESTORED_FILE

    if (home / RESTORED_FILE).exists():
        yield (
            "Made of a backup and not compared yet with what was signed after it: nothing is signed before"
            f" `bailee repair --home {home}`."
        )
    if said := erasures_unknown(home):
        yield said


def _newest_checkpoint(database: Database) -> int | None:
    """How many entries the newest checkpoint covers that this database holds; None before the first."""
    from bailee.ledger.checkpoint import parse, read_note
    from bailee.store import tree

    with database.reading() as connection:
        note = tree.newest_note(connection)
    try:
        return parse(read_note(note).text).size if note else None
    except BaileeError:
        return None  # told as a fault


def _sound(settings: Settings, key: VerifierKey) -> str:
    from bailee.operations.ledger import places_of
    from bailee.operations.publishing import publish

    if publish.is_published(places_of(settings), key):
        return "No fault was found in any entry, chain, tile or tile file."
    return (
        "No fault was found in any entry, chain or tile of the database. No checkpoint lies in"
        f" {settings.tiles}, so no tile file was checked: the service writes them when it starts."
    )


def _troubles(database: Database, settings: Settings, key: VerifierKey, audit: Audit) -> Iterator[str]:
    """Everything that does not hold, each with its place or file."""
    from bailee.operations import maintenance
    from bailee.operations.ledger import guard_of, places_of
    from bailee.operations.publishing import publish

    with database.reading() as connection, progress.shown("Checking entries") as steps:
        for trouble in maintenance.check(connection, key, steps, audit):
            yield f"{'The log' if trouble.index is None else f'Entry {trouble.index}'}: {trouble.says}"
    with database.reading() as connection:  # as of now: a service beside may have signed more meanwhile
        guard = guard_of(settings, key)
        try:
            guard.require_continued(connection)
        except Unavailable as frozen:
            if not (guard.is_restored and _goes_back(frozen)):
                yield f"{frozen.sentence} (`bailee repair --home {settings.home}`)"
    if lost := publish.forgotten(database, places_of(settings), key):
        yield lost
    with progress.shown("Checking tile files") as steps:
        for path in publish.wrong_files(database, places_of(settings), key, steps):
            yield (
                f"The file {path} is not what the entries hash to: `bailee repair --home {settings.home}`"
                " writes it again."
            )
