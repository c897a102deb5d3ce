"""The operator: create a ledger, run the service, let organizations in, keep it up to date."""

from __future__ import annotations

import contextlib
import os
import secrets
import signal
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final
from urllib.parse import urlsplit

import click

from bailee.errors import Malformed, Unavailable
from bailee_cli.people.operating.homes import HOME, database_of, server_parts, settings_of
from bailee_cli.terminal import progress
from bailee_cli.terminal.command_kinds import NamingCommand

if TYPE_CHECKING:
    from bailee.store.upgrading import Migration

_BEHIND_A_PROXY: Final = "127.0.0.1:8765"


@click.command("init")
@HOME
@click.option(
    "--origin",
    required=True,
    help="The log's name for ever, without https://, like custody.example.org/log1.",
)
@click.option(
    "--address",
    required=True,
    help="Where browsers and labels find the service, like https://custody.example.org.",
)
@click.option("--database", help="SQLAlchemy address.  [default: an SQLite file in the folder]")
@click.option(
    "--open-founding", is_flag=True, help="Let any key found an organization, not only those you admit."
)
@click.option(
    "--log-key", metavar="ADDRESS",
    help="The log's key, an Ed25519 pair on a token: pkcs11:token=…  [default: a new one, in the folder]",
)  # fmt: skip
def init_command(
    home: Path, origin: str, address: str, database: str | None, log_key: str | None, open_founding: bool
) -> None:
    """Create a ledger: database, log key, settings. Never touches one that is there."""
    from bailee.config import LOG_KEY_FILE, SETTINGS_FILE, Settings, database_in
    from bailee.disk import folders, replacing
    from bailee.ledger.checkpoint import format_vkey
    from bailee.signing import notes
    from bailee.signing.keys import SigningKey
    from bailee.signing.token import TokenKey

    with server_parts():
        from bailee.app import SESSION_KEY_FILE
        from bailee.store.database import Database

    _host_and_port(address)
    key = TokenKey(log_key) if log_key else SigningKey.generate()
    public = format_vkey(notes.verifier_key(origin, key))  # refuses a name that cannot be an origin
    ledger_file = home / "ledger.sqlite"
    for path in (home / SETTINGS_FILE, home / LOG_KEY_FILE, home / SESSION_KEY_FILE, ledger_file):
        if path.exists():
            raise Malformed(
                f"{path} is there already: choose another folder. Nothing was changed.", code="ledger-exists"
            )
    folders.make_private(home)
    settings = Settings(
        home=home, origin=origin, address=address.rstrip("/"), founding="open" if open_founding else "listed",
        database=database or f"sqlite:///{ledger_file.name}", log_key=log_key or "",
    )  # fmt: skip
    if database is None:
        # Private fields lie in it: the owner's alone, and its journals follow its mode.
        replacing.create(ledger_file, b"")
    ledger = Database(database_in(home, settings.database), pooler=settings.pooler)
    with ledger.reading():
        pass  # that it does not answer is a sentence
    ledger.migrate()
    ledger.close()
    if isinstance(key, SigningKey):
        replacing.create(home / LOG_KEY_FILE, key.pem())
    replacing.create(home / SESSION_KEY_FILE, secrets.token_bytes(32))
    replacing.create(home / SETTINGS_FILE, settings.text().encode())
    keep = f"Keep {LOG_KEY_FILE} safe and back it up apart from the database."
    if log_key:
        keep = (
            "Its key is on the token alone: without it, or a second token with the same key, this log ends."
        )
    click.echo(f"Ledger {origin} is in {home}. {keep}")
    click.echo(f"The log's public key, for all who verify: {public}")


@click.command("serve")
@HOME
@click.option(
    "--listen",
    help=(
        "Address and port, like 127.0.0.1:8765.  [default: those of the address in the settings;"
        " 127.0.0.1:8765 where that is https]"
    ),
)
def serve_command(home: Path, listen: str | None) -> None:
    """Run the service, where `bailee init --address` has set it.

    On SIGTERM it takes no new request and finishes those in progress.

    It answers plain HTTP. Where the address is https, a proxy with the certificate stands in front and passes
    requests on to --listen.
    """
    with server_parts():
        from bailee import log_lines
        from bailee.app import SESSION_KEY_FILE, create_app, require_compared, unfinished
        from bailee.serving.connections import Server

    settings = settings_of(home)
    if not sys.stdout.isatty():  # somebody keeps it; at a terminal it would be in the way
        log_lines.write_to(sys.stdout)
    if not (home / SESSION_KEY_FILE).exists():
        click.echo(f"{SESSION_KEY_FILE} is missing and made anew: all sign in to the pages again.", err=True)
    if not (kept := settings.high_water_file.parent).is_dir():
        click.echo(
            f"The folder {kept} of `high_water` does not exist: nothing is published until its disk is"
            " mounted, or the setting corrected.",
            err=True,
        )
    app = create_app(settings)
    require_compared(app)
    if left := unfinished(app):
        click.echo(left, err=True)
    ledger = app.extensions["ledger"]
    listen = listen or _host_and_port(ledger.settings.address)
    try:
        server = Server.of(app, listen=listen)
    except (OSError, ValueError) as error:
        raise Unavailable(
            f"Cannot listen on {listen}: {error}. Enter another address and port with --listen, or set"
            " address in settings.toml too, where people find the service.",
            code="cannot-listen",
        ) from error
    # The server ends on SystemExit and then lets its threads finish; without this SIGTERM drops them.
    signal.signal(signal.SIGTERM, _stop)
    ledger.publisher.watch = partial(progress.shown, "Publishing entries")
    ledger.sequencer.start(ledger.settings.integrate_every_ms / 1000)
    addresses = ", ".join(f"http://{host}:{port}" for host, port in server.addresses)
    click.echo(f"Ledger {ledger.settings.origin} on {addresses}. Ctrl-C ends it.", err=True)
    if os.environ.get("BAILEE_DATABASE"):
        click.echo(f"Database, by BAILEE_DATABASE: {ledger.database.shown}", err=True)
    click.echo(f"Edition of the app at /sign/: {app.extensions['sign'].digest}", err=True)
    if settings.metrics:
        address, _ = app.extensions["metrics"].serve(settings.metrics)
        click.echo(f"Metrics: http://{address}/metrics", err=True)
    try:
        server.run()
    finally:
        ledger.sequencer.stop()
        ledger.database.close()


@click.command("admit", cls=NamingCommand)
@click.argument("key")
@HOME
def admit_command(key: str, home: Path) -> None:
    """Let the holder of the root key KEY found an organization. Make sure first whose key it is.

    KEY is its key ID, or better its five lines in quotes, as `bailee key show` prints them: a slip is then
    shown with its line.
    """
    from bailee.ledger.fingerprint import read_name

    name = read_name(key)
    with server_parts():
        from bailee.store import founding
    database = database_of(home)
    database.write(lambda connection: founding.admit(connection, name))
    database.close()
    click.echo(f"Admitted: {name}")


@click.command("migrate")
@HOME
@click.option(
    "--check",
    is_flag=True,
    help="Show what is to be done and what it locks, and do nothing. Ends with 1 if any.",
)
def migrate_command(home: Path, *, check: bool) -> None:
    """Bring the database to this version. Make a backup and end the service first.

    What `--check` lists as beside a running service runs so. An interrupted run goes on when this is typed
    again.
    """
    with server_parts():
        from bailee.operations import in_use
        from bailee.store.database import Database
    settings = settings_of(home)
    database = Database(settings.database, pooler=settings.pooler)
    if database.is_sqlite and not Path(database.url.database or "").exists():
        database.require_ready()  # says that there is none; a migration would make an empty one
    with contextlib.closing(database):
        left = database.pending()
        if check:
            _say_pending(left)
            return
        with contextlib.nullcontext() if all(each.beside for each in left) else in_use.stopped(home):
            database.migrate()
    click.echo("The database is of this version now.")
    click.echo(
        "Indexes that an older version made lack what this one looks up, like results that are due: run"
        f" `bailee rebuild --home {home}` once, with the service ended."
    )


def _say_pending(left: Sequence[Migration]) -> None:
    """Raises `Exit` (1) when anything is to be done."""
    for each in left:
        how = "beside a running service" if each.beside else "with the service ended on every host"
        click.echo(f"{each.revision}, {how}: {each.says} Locks {each.locks}.")
    if not left:
        click.echo("Nothing is to be done: the database is of this version.")
        return
    from bailee.store.upgrading import LOCK_S

    click.echo(f"On PostgreSQL it gives up after {LOCK_S} s of waiting for others, and changes nothing.")
    raise click.exceptions.Exit(1)


@click.command("rebuild")
@HOME
def rebuild_command(home: Path) -> None:
    """Make the index of numbers and organizations anew from the log, with the service stopped.

    What was signed is never touched.
    """
    with server_parts():
        from bailee.operations import in_use, maintenance
    database = database_of(home)
    with in_use.stopped(home), progress.shown("Indexing entries") as steps:
        count = database.write(lambda connection: maintenance.rebuild(connection, steps))
    database.close()
    click.echo(f"Indexed anew from {count} entries.")


def _host_and_port(address: str) -> str:
    """Where a service of this address listens.

    Behind a proxy (https) on this machine alone. Raises `Malformed` for what is no address.
    """
    try:
        parts = urlsplit(address)
        host, port = parts.hostname, parts.port
    except ValueError:
        parts, host, port = urlsplit(""), None, None
    if not host or parts.scheme not in ("http", "https"):
        raise Malformed(
            f"{address!r} is no address of a service: write it like http://127.0.0.1:8765 or"
            " https://custody.example.org.",
            code="bad-address",
        )
    if parts.scheme == "https":
        return _BEHIND_A_PROXY
    return f"[{host}]:{port or 80}" if ":" in host else f"{host}:{port or 80}"


def _stop(*_: object) -> None:
    raise SystemExit(0)
