"""Keys that follow keys: a new phone, a lost root, and what organisations say of each other's roots."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import click

from bailee.errors import Malformed
from bailee_cli import acting
from bailee_cli.acting import Act
from bailee_cli.administration import FILE, read_request
from bailee_cli.naming import NamingCommand
from bailee_cli.options import act_options, moment, time_options
from bailee_cli.session import Session

_LOST: Final = re.compile(r"(?P<kid>[A-Za-z0-9_-]{43})=(?P<seq>[0-9]{1,9})")


@click.command("rotate")
@click.argument("request", type=FILE)
@click.option(
    "--device", help="What the new device is called, if not as in the request; kept out of the log."
)
@act_options
@click.pass_obj
def rotate_command(session: Session, request: Path, device: str | None, offline: bool) -> None:
    """Hand your role to the key in the file REQUEST, made on your new device. This key signs no more.

    Send what waits in this device's outbox all the same: it stands.
    """
    asked = read_request(session, request)
    chain = f"org/{session.profile.org}"
    if not offline:
        acting.learn_heads(session, [chain])
    newest = session.outbox.newest(1)
    data = {
        "kid": asked["kid"],
        "jwk": asked["jwk"],
        "proof": asked["proof"],
        "last_seq": (newest[0].seq if newest else 0) + 1,  # this statement is the last
    }
    acting.act(
        session, Act(chain, "rotated", data, {"device": device or asked.get("device")}), offline=offline
    )


@click.command("recover")
@click.argument("request", type=FILE)
@click.option(
    "--lost", multiple=True, metavar="KID=SEQ",
    help="A lost root key, and its last statement number that is certainly its owner's. Once for each.",
)  # fmt: skip
@click.option(
    "--next", "following", metavar="KID", help="Name of the next recovery key.  [default: this one stays]"
)
@click.option("--person", help="Printed name, if not the one in the request; kept out of the log.")
@time_options
@act_options
@click.pass_obj
def recover_command(
    session: Session, request: Path, lost: tuple[str, ...], following: str | None, person: str | None, at: str | None,
    zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Make the key in the file REQUEST the root key, because every root key is lost. Only the recovery key can.

    It ends all root keys. `--at` is since when they are lost. Put this key back into its safe place afterwards.
    """
    asked = read_request(session, request)
    chain = f"org/{session.profile.org}"
    if not offline:
        acting.learn_heads(session, [chain])
    data = {
        "recovery_jwk": session.key.jwk, "kid": asked["kid"], "jwk": asked["jwk"], "proof": asked["proof"],
        "since": moment(session, at, zone).text(), "lost": [_lost(each) for each in lost], "recovery": following,
    }  # fmt: skip
    private = {"person": person or asked.get("person"), "device": asked.get("device")}
    acting.act(session, Act(chain, "recovered", data, private), offline=offline)


@click.command("endorse", cls=NamingCommand)
@click.argument("org")
@click.argument("root")
@act_options
@click.pass_obj
def endorse_command(session: Session, org: str, root: str, offline: bool) -> None:
    """Say that you know the organisation ORG by the root key ROOT. Compare it first with a paper or a voice you know.

    ROOT is the key's name, or its five lines in quotes, as `bailee key show` prints them.
    Auditors read it as your word. It makes nobody's key stand.
    """
    from bailee.ledger.fingerprint import read_name

    known = read_name(root)
    chain = f"org/{session.profile.org}"
    if not offline:
        acting.learn_heads(session, [chain])
    acting.act(session, Act(chain, "endorsed", {"org": org, "root": known}), offline=offline)


def _lost(text: str) -> dict[str, str | int]:
    found = _LOST.fullmatch(text)
    if found is None:
        raise Malformed(
            f"{text!r} is no lost key: write the 43 characters of its name, =, and its last good statement number.",
            code="bad-lost",
        )
    return {"kid": found["kid"], "last_good_seq": int(found["seq"])}
