"""The administrator: who may speak for the organization.

Keys that follow keys: a new phone, a lost root, and what organizations say of each other's roots.

What was signed with the organization's keys and refused because it contradicts them: what a second copy of a
key leaves behind.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, get_args

import click

from bailee.domain.acts.organization import (
    Endorsed,
    Enrolled,
    Founded,
    Recovered,
    Rotated,
)
from bailee.domain.acts.table import name_of
from bailee.domain.fields import Role
from bailee.errors import Malformed
from bailee.signing import signed_statement
from bailee_cli.device.session import Session
from bailee_cli.signing import permission_asked, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts, show, time_zones, yes_no
from bailee_cli.terminal.command_kinds import AskingCommand, NamingCommand
from bailee_cli.terminal.options import (
    act_options,
    json_option,
    moment,
    time_options,
    yes_option,
)

FILE: Final = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command("found", cls=AskingCommand)
@click.argument("org")
@click.option("--name", required=True, help="The organization's name as it should be printed.")
@click.option("--person", help="Your printed name; kept out of the log.")
@click.option("--device", help="What this device is called; kept out of the log.")
@click.option(
    "--recovery",
    metavar="KID",
    help="Key ID of a key in a safe place, for the day when every root key is lost.",
)
@act_options
@click.pass_obj
def found_command(
    session: Session,
    org: str,
    name: str,
    person: str | None,
    device: str | None,
    recovery: str | None,
    offline: bool,
) -> None:
    """Found the organization ORG: this device's key becomes its root key.

    Print the key ID on your forms and letters: it is what an auditor compares years later.
    """
    if org != session.profile.org:
        raise Malformed(
            f"This device joined for {session.profile.org}, not for {org}.", code="other-organization"
        )
    data = {"name": name, "jwk": session.key.jwk, "recovery": recovery}
    submit.act(
        session,
        Act(f"org/{org}", name_of(Founded), data, {"person": person, "device": device}),
        offline=offline,
    )
    click.echo(f"Root key of {org}: {session.key.kid}", err=session.json)


@click.command("enroll", cls=NamingCommand)
@click.argument("request", type=FILE)
@click.option("--role", required=True, type=click.Choice(get_args(Role)), help="What this person does.")
@click.option("--person", help="Printed name, if not the one in the request; kept out of the log.")
@click.option("--device", help="What the device is called, if not as in the request; kept out of the log.")
@click.option(
    "--checked", required=True, type=click.Choice(["in_person", "video", "document", "known"]),
    help="How you made sure who holds this key.",
)  # fmt: skip
@click.option(
    "--same-as",
    metavar="KID",
    help="Another key of the same person: what one holds, the other may relinquish.",
)
@yes_option
@act_options
@click.pass_obj
def enroll_command(
    session: Session, request: Path, role: str, person: str | None, device: str | None, checked: str,
    same_as: str | None, yes: bool, offline: bool,
) -> None:  # fmt: skip
    """Let the key in the file REQUEST sign for the organization, in a role.

    At a terminal the key ID is shown first, to be compared with what its holder reads to you. In a script
    nothing is asked: --checked is your word that you know whose key it is.
    """
    asked = read_request(session, request)
    chain = f"org/{session.profile.org}"
    data = {
        "kid": asked["kid"],
        "jwk": asked["jwk"],
        "role": role,
        "proof": asked["proof"],
        "identity_check": checked,
    } | ({"same_as": same_as} if same_as else {})
    private = {"person": person or asked.get("person"), "device": device or asked.get("device")}
    if prompts.may_ask(session) and not yes:
        if not offline:  # whose key it is already is said before five lines are read aloud
            permission_asked.require(session, chain, name_of(Enrolled), data, offline=False)
        _compare_key(asked["kid"], private["person"], role)
    elif not yes:
        who = private["person"] or "a person without a name"
        layout.warn(
            f"Not compared here: the key {asked['kid']} of {who}. --checked {checked} is your word for it."
        )
    if not offline:
        submit.learn_heads(session, [chain])
    submit.act(session, Act(chain, name_of(Enrolled), data, private), offline=offline)


def _compare_key(kid: str, person: str | None, role: str) -> None:
    """Show who asks and the key's name, as `bailee key show` prints it there. Ends with 1 unless theirs."""
    from bailee.ledger import fingerprint
    from bailee.ledger.base64url import unb64u

    show.say(f"{person or 'A person without a name'} asks to be {show.words(role)}. Key {kid}", err=True)
    for line in fingerprint.lines(unb64u(fingerprint.read_name(kid))):
        layout.line(f"  {line}", err=True)
    if not yes_no.asked("Is it what they read to you?"):
        layout.warn("Nothing was signed.")
        raise click.exceptions.Exit(1)


def read_request(session: Session, file: Path) -> dict[str, Any]:
    """An enrollment request for this organization and log. Raises `Malformed` for anything else."""
    try:
        asked = json.loads(file.read_text("utf-8"))
    except (ValueError, RecursionError, OSError) as error:
        raise Malformed(f"{file} is no enrollment request.", code="bad-file") from error
    wanted = {"kid", "jwk", "organization", "origin", "proof"}
    if not isinstance(asked, dict) or not wanted <= asked.keys():
        raise Malformed(f"{file} is no enrollment request.", code="bad-file")
    profile = session.profile
    if (asked["organization"], asked["origin"]) != (profile.org, profile.origin):
        raise Malformed(
            f"This request is for {asked['organization']} at {asked['origin']}, not for {profile.org} at"
            f" {profile.origin}.",
            code="other-organization",
        )
    return asked


_LOST: Final = re.compile(r"(?P<kid>[A-Za-z0-9_-]{43})=(?P<seq>[0-9]{1,9})")


@click.command("rotate", cls=AskingCommand)
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
        submit.learn_heads(session, [chain])
    newest = session.outbox.newest(1)
    data = {
        "kid": asked["kid"],
        "jwk": asked["jwk"],
        "proof": asked["proof"],
        "last_seq": (newest[0].seq if newest else 0) + 1,  # this statement is the last
    }
    submit.act(
        session,
        Act(chain, name_of(Rotated), data, {"device": device or asked.get("device")}),
        offline=offline,
    )


@click.command("recover", cls=AskingCommand)
@click.argument("request", type=FILE)
@click.option(
    "--lost", multiple=True, metavar="KID=SEQ",
    help="A lost root key, and the last number (no.) that is certainly its owner's. Once for each.",
)  # fmt: skip
@click.option(
    "--next", "following", metavar="KID", help="Key ID of the next recovery key.  [default: this one stays]"
)
@click.option("--person", help="Printed name, if not the one in the request; kept out of the log.")
@time_options
@act_options
@click.pass_obj
def recover_command(
    session: Session, request: Path, lost: tuple[str, ...], following: str | None, person: str | None,
    at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Make the key in the file REQUEST the root key, because every root key is lost.

    Only the recovery key can.

    It ends all root keys. `--at` is since when they are lost. Put this key back into its safe place
    afterwards.
    """
    asked = read_request(session, request)
    chain = f"org/{session.profile.org}"
    if not offline:
        submit.learn_heads(session, [chain])
    data = {
        "recovery_jwk": session.key.jwk,
        "kid": asked["kid"],
        "jwk": asked["jwk"],
        "proof": asked["proof"],
        "since": moment(session, at, zone).text(),
        "lost": [_lost(each) for each in lost],
        "recovery": following,
    }
    private = {"person": person or asked.get("person"), "device": asked.get("device")}
    submit.act(session, Act(chain, name_of(Recovered), data, private), offline=offline)


@click.command("endorse", cls=NamingCommand)
@click.argument("org")
@click.argument("root")
@act_options
@click.pass_obj
def endorse_command(session: Session, org: str, root: str, offline: bool) -> None:
    """Sign that you know the organization ORG by the root key ROOT.

    Compare it first with a paper or a voice you know.

    ROOT is the key ID, or its five lines in quotes, as `bailee key show` prints them.
    Auditors read it as your word. It makes no key valid.
    """
    from bailee.ledger.fingerprint import read_name

    known = read_name(root)
    chain = f"org/{session.profile.org}"
    if not offline:
        submit.learn_heads(session, [chain])
    submit.act(session, Act(chain, name_of(Endorsed), {"org": org, "root": known}), offline=offline)


def _lost(text: str) -> dict[str, str | int]:
    found = _LOST.fullmatch(text)
    if found is None:
        raise Malformed(
            f"{text!r} is not a lost key: write the 43 characters of its key ID, =, and the last number"
            " (no.) that is certainly its owner's.",
            code="bad-lost",
        )
    return {"kid": found["kid"], "last_good_seq": int(found["seq"])}


_ALL: Final = 500
_BEFORE: Final = (
    "Ask the holder whether the device was set back or copied. If not, another person may have it: end it"
    " with `bailee revoke {kid}`."
)
_AFTER: Final = "Nothing. The key had ended by then: no file, finding or verdict shows this."


@click.command("contradictions", cls=AskingCommand)
@json_option
@click.pass_obj
def contradictions_command(session: Session) -> None:
    """Refused statements of your organization's keys that contradict what the same key had signed: another
    person may have a copy of the key.

    Ends with 1 when a key that may still sign is among them, with 0 otherwise: a scheduler may call it.
    """
    found = session.service.get("/contradictions", limit=_ALL)["contradictions"]
    standing = [each for each in found if not each["after_end"]]
    if session.json:
        show.print_json({"contradictions": found})
    elif not found:
        show.say("No entry of your organization's keys contradicts another.")
    else:
        show.say(
            f"{show.counted(len(found), 'contradiction', 'contradictions')}.",
            style="bold red" if standing else "bold",
        )
        for each in found:
            _show_contradiction(session, each)
    if standing:
        raise click.exceptions.Exit(1)


def _show_contradiction(session: Session, each: Mapping[str, Any]) -> None:
    act = signed_statement.read(each["statement"]).claims.act
    number = each["chain"].partition("/")[2]
    show.say(f"{each['person']}, number {each['seq']} of that key: {act}, {show.thing(number)}")
    show.say(show.when(each["recorded"], time_zones.of_number(session, number) or "UTC"), "  refused  ")
    show.say(each["kid"], "  key      ")
    show.say(_AFTER if each["after_end"] else _BEFORE.format(kid=each["kid"]), "  do       ")
