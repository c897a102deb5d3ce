"""The operator: the newest checkpoint stamped by an authority outside."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import Final

import click

from bailee.errors import Malformed, Unavailable
from bailee_cli.device.profile import replace_file
from bailee_cli.people.operating.homes import HOME

_FILE: Final = click.Path(dir_okay=False, path_type=Path)
_TIMEOUT_S: Final = 30


@click.command("timestamp")
@HOME
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
