"""The operator, for a bad day: a copy of the whole ledger, a home made of it, and what must stay erased."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path
from typing import Final

import click

from bailee_cli.people.operating.homes import erasures_unknown
from bailee_cli.terminal import show

_FOLDER: Final = click.Path(file_okay=False, path_type=Path)
_HOME: Final = click.option("--home", required=True, type=_FOLDER, help="Folder of the ledger.")


@click.command("backup")
@_HOME
@click.option("--to", "folder", required=True, type=_FOLDER, help="New folder for the copy.")
def backup_command(home: Path, folder: Path) -> None:
    """Copy the whole ledger into a new folder: database, settings, high-water file, newest checkpoint.

    It can run beside the service. The log's key is left out: keep it apart, and never with a copy. Private
    fields are in the copy: names and addresses can be read in it.
    """
    from bailee.app import open_ledger
    from bailee.config import load
    from bailee.operations import backups

    ledger = open_ledger(load(home))
    try:
        made = backups.make(ledger.settings, ledger.database, ledger.vkey, folder, ledger.now())
    finally:
        ledger.database.close()
    entries = show.counted(made.size, "entry", "entries")
    click.echo(f"{entries} of {made.origin}, and what goes with them, are in {folder}. Not in it: log.key.")
    click.echo(f"Keep it on another machine. On a bad day: bailee restore --from {folder.name} --home NEW")


@click.command("restore")
@click.option("--from", "folder", required=True, type=_FOLDER, help="Folder that `bailee backup` made.")
@click.option("--home", required=True, type=_FOLDER, help="New folder for the ledger.")
@click.option("--database", help="SQLAlchemy address of an empty PostgreSQL, for a backup of one.")
def restore_command(folder: Path, home: Path, database: str | None) -> None:
    """Make a ledger of a backup, in a new folder. It signs and records nothing until it was repaired.

    A backup knows nothing of what was signed after it. `bailee repair` asks those who may hold more.
    """
    from bailee.config import LOG_KEY_FILE, SETTINGS_FILE, load
    from bailee.operations import backups

    found = backups.restore(folder, home, database)
    for name in ("BAILEE_DATABASE", "BAILEE_HIGH_WATER", "BAILEE_LOG_KEY"):
        if os.environ.get(name):
            click.echo(f"{name} is set here, for another home: unset it before the next step.", err=True)
    entries = show.counted(found.size, "entry", "entries")
    click.echo(f"{entries} of {found.origin} as of {found.made} are in {home}.")
    click.echo("Nothing is signed or recorded there yet.")
    click.echo(
        f"A drill ends here: it leaves out the steps below, {LOG_KEY_FILE} above all. Instead: bailee"
        f' check-ledger --home {home} --log-key "THE LOG\'S PUBLIC KEY"'
    )
    settings = load(home, {})
    before = tomllib.loads((folder / SETTINGS_FILE).read_text("utf-8"))
    steps = [f"Put {LOG_KEY_FILE} into {home}, readable by the service alone."]
    if place := before.get("log_key"):
        steps = [f"Set log_key = {place!r} again, where the log's key is."]
    if found.size and not settings.high_water_file.exists():
        steps.append(f"Put the high-water file back: {settings.high_water_file}.")
    if marks := before.get("high_water"):
        steps.append(f"When this home takes the place of the old one, set high_water = {marks!r} again.")
    steps.append("Get the newest checkpoint that firms, laboratories, cosigners or monitors hold.")
    steps.append(f"Ask every organization what it erased after {found.made}: this backup does not know it.")
    steps.append(f"bailee repair --home {home} --checkpoint FILE")
    for number, step in enumerate(steps, start=1):
        click.echo(f"{number}. {step}")


@click.command("erase-again")
@_HOME
@click.option(
    "--asked",
    is_flag=True,
    help="Every organization was asked, and erased again what it had erased since the backup.",
)
def erase_again_command(home: Path, *, asked: bool) -> None:
    """Erase private fields that an old copy of the database brought back and whose erasure is in the log.

    `bailee repair` does it too. Of what was erased in part only the organization knows which: it is named.
    An erasure that is not in this log, because a backup from before it took its place, only they know.
    """
    from bailee.config import load
    from bailee.operations import erasing
    from bailee.store.database import Database

    settings = load(home)
    database = Database(settings.database, pooler=settings.pooler)
    database.require_ready()
    try:
        erased, left = database.write(erasing.again)
    finally:
        database.close()
    click.echo(f"Erased again: {show.counted(erased, 'private field')}.")
    for each in left:
        click.echo(each.sentence())
    if asked:
        erasing.everybody_was_asked(home)
    if said := erasures_unknown(home):
        click.echo(said)
    if left or said:
        raise click.exceptions.Exit(1)
