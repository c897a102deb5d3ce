"""The operator, on the server's own machine: the only commands that touch the service's inside instead of
speaking HTTP.

The operator, once a day: the newest checkpoint stamped by an authority that is no party to anything here.
"""

from __future__ import annotations

import secrets
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final
from urllib.parse import urlsplit

import click

from bailee.errors import BaileeError, Malformed, Unavailable
from bailee_cli.device.profile import replace_file
from bailee_cli.terminal import progress
from bailee_cli.terminal.command_kinds import NamingCommand
from bailee_cli.terminal.layout import counted
from bailee_cli.terminal.options import json_option

if TYPE_CHECKING:
    from bailee.config import Settings
    from bailee.ledger.checkpoint import VerifierKey
    from bailee.store.database import Database
    from bailee.verify.log_audit import Audit
    from bailee_cli.device.session import Session


_HOME: Final = click.option(
    "--home", required=True, type=click.Path(file_okay=False, path_type=Path), help="Folder of the ledger."
)
_BEHIND_A_PROXY: Final = "127.0.0.1:8765"


@click.command("init")
@_HOME
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
def init_command(home: Path, origin: str, address: str, database: str | None, open_founding: bool) -> None:
    """Create a ledger: database, log key, settings. Never touches one that is there."""
    from bailee.config import LOG_KEY_FILE, SETTINGS_FILE, Settings, database_in
    from bailee.disk import folders, replacing
    from bailee.ledger.checkpoint import format_vkey
    from bailee.signing import notes
    from bailee.signing.keys import SigningKey

    with _server_parts():
        from bailee.app import SESSION_KEY_FILE
        from bailee.store.database import Database

    _host_and_port(address)
    key = SigningKey.generate()
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
        database=database or f"sqlite:///{ledger_file.name}",
    )  # fmt: skip
    if database is None:
        # Private fields lie in it: the owner's alone, and its journals follow its mode.
        replacing.create(ledger_file, b"")
    ledger = Database(database_in(home, settings.database), pooler=settings.pooler)
    ledger.migrate()
    ledger.close()
    replacing.create(home / LOG_KEY_FILE, key.pem())
    replacing.create(home / SESSION_KEY_FILE, secrets.token_bytes(32))
    replacing.create(home / SETTINGS_FILE, settings.text().encode())
    click.echo(
        f"Ledger {origin} is in {home}. Keep {LOG_KEY_FILE} safe and back it up apart from the database."
    )
    click.echo(f"The log's public key, for all who verify: {public}")


@click.command("serve")
@_HOME
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
    with _server_parts():
        from bailee import log_lines
        from bailee.app import SESSION_KEY_FILE, create_app
        from bailee.serving.connections import Server

    settings = _settings(home)
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
@_HOME
def admit_command(key: str, home: Path) -> None:
    """Let the holder of the root key KEY found an organization. Make sure first whose key it is.

    KEY is its key ID, or better its five lines in quotes, as `bailee key show` prints them: a slip is then
    shown with its line.
    """
    from bailee.ledger.fingerprint import read_name

    name = read_name(key)
    with _server_parts():
        from bailee.store import founding
    database = _database(home)
    database.write(lambda connection: founding.admit(connection, name))
    database.close()
    click.echo(f"Admitted: {name}")


@click.command("migrate")
@_HOME
def migrate_command(home: Path) -> None:
    """Bring the database to this version. Make a backup and end the service first."""
    with _server_parts():
        from bailee.operations import in_use
        from bailee.store.database import Database
    settings = _settings(home)
    database = Database(settings.database, pooler=settings.pooler)
    if database.is_sqlite and not Path(database.url.database or "").exists():
        database.require_ready()  # says that there is none; a migration would make an empty one
    with in_use.stopped(home):
        database.migrate()
    database.close()
    click.echo("The database is of this version now.")


@click.command("rebuild")
@_HOME
def rebuild_command(home: Path) -> None:
    """Make the index of numbers and organizations anew from the log, with the service stopped.

    What was signed is never touched.
    """
    with _server_parts():
        from bailee.operations import in_use, maintenance
    database = _database(home)
    with in_use.stopped(home), progress.shown("Indexing entries") as steps:
        count = database.write(lambda connection: maintenance.rebuild(connection, steps))
    database.close()
    click.echo(f"Indexed anew from {count} entries.")


@click.command("check-ledger")
@_HOME
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
    from bailee.signing.keys import SigningKey
    from bailee.verify.log_audit import Audit

    with _server_parts():
        from bailee.operations.publishing.freeze import RESTORED_FILE
    settings = _settings(home)
    database = _database(home)
    key = vkeys.read_log(log_key) if log_key else None
    if key is None:
        try:
            key = notes.verifier_key(settings.origin, SigningKey.from_pem(settings.log_key.read_bytes()))
        except OSError as error:
            raise Unavailable(
                f"The log's key {settings.log_key} cannot be read: give its public half with --log-key.",
                code="no-log-key",
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
    if (home / RESTORED_FILE).exists() and not session.json:
        click.echo(
            "Made of a backup and not compared yet: nothing is signed before `bailee repair`.", err=True
        )
    if said := audit.not_checked():
        click.echo(said, err=True)
    if found or audit.unknown:
        raise click.exceptions.Exit(1 if found else 3)


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
        try:
            guard_of(settings, key).require_continued(connection)
        except Unavailable as frozen:
            yield f"{frozen.sentence} (`bailee repair`)"
    if lost := publish.forgotten(database, places_of(settings), key):
        yield lost
    with progress.shown("Checking tile files") as steps:
        for path in publish.wrong_files(database, places_of(settings), key, steps):
            yield f"The file {path} is not what the entries hash to: `bailee repair` writes it again."


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


def _settings(home: Path) -> Settings:
    from bailee.config import load

    return load(home)


def _database(home: Path) -> Database:
    from bailee.store.database import Database

    settings = _settings(home)
    database = Database(settings.database, pooler=settings.pooler)
    database.require_ready()
    return database


@contextmanager
def _server_parts() -> Iterator[None]:
    """Turn a missing part of the server into a sentence."""
    try:
        yield
    except ModuleNotFoundError as error:
        raise Unavailable(
            f"To run a service, in the checkout: pip install '.[server]' ({error.name} is missing).",
            code="no-server",
        ) from error


_FILE: Final = click.Path(dir_okay=False, path_type=Path)
_TIMEOUT_S: Final = 30


@click.command("timestamp")
@_HOME
@click.option("--tsa", metavar="URL", help="Address of a time stamp authority (RFC 3161 over HTTP).")
@click.option(
    "--request",
    "request_file",
    type=_FILE,
    help="Or: write the request to this file, to be sent by other means.",
)
@click.option(
    "--token",
    "token_file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Or: keep the token from this file, an authority's reply.",
)
def timestamp_command(
    home: Path, tsa: str | None, request_file: Path | None, token_file: Path | None
) -> None:
    """Have the newest checkpoint stamped, so that not even all parties together can pretend later that it was
    made earlier.

    Auditor's files carry the first stamp that covers each of their entries.
    """
    if sum(each is not None for each in (tsa, request_file, token_file)) != 1:
        raise Malformed("Give one of --tsa, --request and --token.", code="nothing-to-do")
    from bailee.config import load
    from bailee.operations import maintenance
    from bailee.signing import timestamp

    try:
        from bailee.app import open_ledger
    except ModuleNotFoundError as error:
        raise Unavailable(
            f"To stamp a ledger, in the checkout: pip install '.[server]' ({error.name} is missing).",
            code="no-server",
        ) from error
    ledger = open_ledger(load(home))
    origin = ledger.settings.origin
    try:
        if token_file is not None:
            reply = _read(token_file)
        else:
            with ledger.database.reading() as connection:
                checkpoint = maintenance.checkpoint_to_stamp(connection, origin)
            query = timestamp.request(checkpoint.body(), secrets.randbits(63))
            if request_file is not None:
                replace_file(request_file, query)
                click.echo(f"Request for the checkpoint of {checkpoint.size} entries: {request_file}")
                return
            reply = _ask(tsa or "", query)
        size = ledger.database.write(lambda connection: maintenance.keep_stamp(connection, origin, reply))
    finally:
        ledger.database.close()
    click.echo(
        f"Stamped: the checkpoint of {size} entries,"
        f" {timestamp.read(timestamp.token_in(reply)).at:%Y-%m-%d %H:%M:%S} UTC."
    )


def _ask(address: str, query: bytes) -> bytes:
    import httpx2

    from bailee.signing.timestamp import REPLY_TYPE, REQUEST_TYPE

    try:
        answer = httpx2.post(
            address, content=query, headers={"Content-Type": REQUEST_TYPE}, timeout=_TIMEOUT_S
        )
    except (httpx2.HTTPError, httpx2.InvalidURL) as error:
        raise Unavailable(
            f"The authority at {address} did not answer ({type(error).__name__}): try again later.",
            code="unreachable",
        ) from error
    if answer.status_code != 200 or not answer.headers.get("Content-Type", "").startswith(REPLY_TYPE):
        raise Unavailable(
            f"{address} answered {answer.status_code} and no time stamp: check the address.", code="no-reply"
        )
    return bytes(answer.content)


def _read(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise Unavailable(f"{file} cannot be read: {error.strerror}.", code="unreadable") from error
