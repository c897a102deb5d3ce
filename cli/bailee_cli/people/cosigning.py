"""A cosigner of somebody else's log: from the command line now and then, or as a small service."""

from __future__ import annotations

import signal
from contextlib import closing
from http import HTTPStatus
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bailee.errors import Broken, Unavailable
from bailee_cli.device.session import Session

if TYPE_CHECKING:
    from bailee.cosigning.cosigner import Cosigner
    from bailee_cli.device.client import LedgerClient

_FOLDER: Final = click.option(
    "--folder",
    required=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder of the cosigner.",
)


@click.group("cosign")
def cosign_command() -> None:
    """Cosign the growth of another organization's log: that it only ever grew, as far as you were shown.

    The cosigner's key is used for nothing else. Give its public key to the log's operator and to auditors.
    """


@cosign_command.command("new")
@_FOLDER
@click.option("--name", required=True, help="The cosigner's name for ever, like quill-lab.example/cosigner.")
def new(folder: Path, name: str) -> None:
    """Make a cosigner: a key of its own."""
    from bailee.cosigning import folder as folders
    from bailee.ledger.checkpoint import format_vkey

    public = format_vkey(folders.create(folder, name))
    click.echo(f"Cosigner {name} is in {folder}. Its public key, for logs and auditors: {public}")


@cosign_command.command("follow")
@_FOLDER
@click.argument("vkey")
def follow(folder: Path, vkey: str) -> None:
    """Cosign the log with the public key VKEY from now on.

    Get the key from its operator, not from its address.
    """
    from bailee.cosigning import folder as folders

    log = folders.follow(folder, vkey)
    click.echo(f"This cosigner follows {log.name}.")


@cosign_command.command("once")
@_FOLDER
@click.argument("address")
@click.option(
    "-o", "--output", type=click.Path(dir_okay=False), help="Write the cosigned checkpoint to this file too."
)
@click.pass_obj
def once(session: Session, folder: Path, address: str, output: str | None) -> None:
    """Fetch the checkpoint of the log at ADDRESS, cosign it, bring it back to the log.

    Ends with 1 when the log did not take it.
    """
    from bailee.cosigning import folder as folders
    from bailee.ledger.checkpoint import parse, read_note

    cosigner = folders.load(folder)
    with closing(session.stranger(address)) as service:
        note = service.get_bytes("/checkpoint", "text/plain").decode("utf-8", "replace")
        seen = parse(read_note(note).text)
        cosigned = note + cosign(cosigner, service, note, int(session.now.timestamp()))
        if output:
            from bailee_cli.device.profile import replace_file

            replace_file(Path(output), cosigned.encode())
        taken = service.post("/checkpoint/cosignatures", {"note": cosigned})["accepted"]
    entries = "1 entry" if seen.size == 1 else f"{seen.size} entries"
    click.echo(f"Cosigned {seen.origin} with {entries}.")
    if not taken:
        click.echo(
            "The log did not accept it: its operator must enter this cosigner's public key in the settings"
            " and restart the service."
        )
        raise click.exceptions.Exit(1)


@cosign_command.command("serve")
@_FOLDER
@click.option("--listen", default="127.0.0.1:8766", show_default=True, help="Address and port.")
def serve(folder: Path, listen: str) -> None:
    """Answer logs that ask (C2SP tlog-witness): POST /add-checkpoint."""
    import time

    from bailee.cosigning import folder as folders
    from bailee.cosigning import request
    from bailee.cosigning.service import application

    try:
        from bailee.serving.connections import Server
    except ModuleNotFoundError as error:
        raise Unavailable(
            "To answer logs that ask, in the checkout: pip install '.[server]'.", code="no-server"
        ) from error
    cosigner = folders.load(folder)
    try:
        server = Server(
            application(cosigner, time.time), threads=2, largest_body=2 * request.MAX_BYTES, listen=listen
        )
    except (OSError, ValueError) as error:
        raise Unavailable(f"Cannot listen on {listen}: {error}.", code="cannot-listen") from error
    signal.signal(signal.SIGTERM, _stop)
    click.echo(f"Cosigner {cosigner.verifier.name} on http://{listen}. Ctrl-C ends it.", err=True)
    server.run()


@cosign_command.command("show")
@_FOLDER
def show(folder: Path) -> None:
    """Show the cosigner's public key and what it cosigned last."""
    from bailee.cosigning import folder as folders
    from bailee.ledger.checkpoint import format_vkey, parse, read_note

    cosigner = folders.load(folder)
    click.echo(format_vkey(cosigner.verifier))
    for origin in cosigner.origins:
        note = cosigner.newest(origin)
        size = parse(read_note(note).text).size if note else 0
        click.echo(f"{origin}: {size} entries")


def cosign(cosigner: Cosigner, service: LedgerClient, note: str, now: int) -> str:
    """The cosigner's line for the checkpoint that a log shows, with the proof fetched from the log.

    Raises `Broken`, and `Unavailable` ("not-followed") for a log that is not followed yet.
    """
    from bailee.cosigning import request
    from bailee.ledger.base64url import unb64
    from bailee.ledger.checkpoint import parse, read_note

    shown = parse(read_note(note).text)
    if shown.origin not in cosigner.origins:
        raise Unavailable(
            f"This cosigner does not follow {shown.origin} yet. Nothing was signed: get the log's public key"
            " from its operator, by telephone or on paper, then `bailee cosign follow KEY --folder FOLDER`.",
            code="not-followed",
            origin=shown.origin,
        )
    known = cosigner.newest(shown.origin)
    old = parse(read_note(known).text).size if known else 0
    if old > shown.size:
        raise Broken(
            f"{shown.origin} shows {shown.size} entries, and this cosigner has cosigned {old}: an older"
            " state, or another log than before. Nothing was signed. Call its operator and its auditors.",
            code="rolled-back",
            size=shown.size,
            before=old,
        )
    proof = service.get("/proofs/consistency", first=old, second=shown.size)["proof"]
    answer = cosigner.add_checkpoint(request.write(old, [unb64(each) for each in proof], note), now)
    if answer.status is not HTTPStatus.OK:
        raise Broken(
            f"{shown.origin} was not cosigned ({answer.status.value} {answer.status.phrase}):"
            f" {answer.text.strip()}",
            code="not-cosigned",
        )
    return answer.text


def _stop(*_: object) -> None:
    raise SystemExit(0)
