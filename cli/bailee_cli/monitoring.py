"""A monitor: a copy of somebody else's whole log, every entry of it checked."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bailee.errors import BaileeError, Broken, OtherKey, Unavailable
from bailee_cli.options import Whole
from bailee_cli.session import Session

if TYPE_CHECKING:
    from bailee.verify.mirror import Mirror, Round
    from bailee_cli.client import Service

_TILE = "application/octet-stream"


@click.command("monitor")
@click.argument("address")
@click.option(
    "--mirror", required=True, type=click.Path(file_okay=False, path_type=Path), help="Folder of the copy."
)
@click.option("--log-key", required=True, metavar="VKEY", help="Public key of the log, from outside.")
@click.option(
    "--cosign", "folder", type=click.Path(file_okay=False, path_type=Path),
    help="Folder of a cosigner (`bailee cosign new`) that signs what was found in order.",
)  # fmt: skip
@click.option(
    "--every", type=Whole(1, 86_400), metavar="SECONDS", help="Go on until stopped.  [default: once]"
)
@click.pass_obj
def monitor_command(
    session: Session, address: str, mirror: Path, log_key: str, folder: Path | None, every: int | None
) -> None:
    """Copy the log at ADDRESS and check every entry: signatures, chains, device counts, and that it only ever grew.

    The log's operator must have named your key as a monitor. Ends with 1 when something does not hold; what contradicts is kept
    in the copy.
    """
    from bailee.disk import folders
    from bailee.signing import vkeys
    from bailee.verify.mirror import Mirror
    from bailee_cli.client import Service

    copy = Mirror(mirror, vkeys.read_log(log_key))
    folders.make_private(mirror)
    service = session.asking(Service(address, transport=session.transport, token=lambda: _token(session)))
    while True:
        try:
            done = _round(session, service, copy, folder)
        except OtherKey as error:  # the key was typed: it may be wrong, and then nothing was checked
            raise Unavailable(error.sentence, code=error.code, **error.facts) from error
        except Unavailable:
            if not every:
                raise
            done = None  # a network that is away for a while is nothing to stop for
        if not every:
            break
        time.sleep(every)
    if done and done.troubles:
        raise click.exceptions.Exit(1)


def _round(session: Session, service: Service, copy: Mirror, folder: Path | None) -> Round:
    note = service.get_bytes("/checkpoint", "text/plain").decode("utf-8", "replace")
    done = copy.round(note, lambda path: service.get_bytes(f"/{path}", _TILE))
    for trouble in done.troubles:
        click.echo(f"Entry {trouble.index}: {trouble.says}")
    if done.troubles:
        click.echo(f"{len(done.troubles)} faults found in {done.checkpoint.size} entries.", err=True)
        return done
    click.echo(f"{done.checkpoint.origin}: {done.checkpoint.size} entries in order, {done.new} of them new.")
    if folder and done.checkpoint.size:
        _cosign(session, service, folder, done)
    return done


def _cosign(session: Session, service: Service, folder: Path, done: Round) -> None:
    from bailee.cosigning import folder as folders
    from bailee_cli import cosigning

    answer = cosigning.cosign(folders.load(folder), service, done.note, int(session.clock().timestamp()))
    try:
        service.post("/checkpoint/cosignatures", {"note": done.note + answer})
    except BaileeError as error:
        raise Broken(
            f"The log did not take the cosignature: {error.sentence}", code="not-cosigned"
        ) from error
    click.echo(f"Cosigned {done.checkpoint.size} entries.")


def _token(session: Session) -> str:
    from bailee.signing import access

    profile = session.profile
    return access.issue(session.key, profile.org, profile.origin, int(session.clock().timestamp()))
