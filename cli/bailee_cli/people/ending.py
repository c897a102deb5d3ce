"""The administrator ends a key: whose it is and how far the ledger has its count is shown first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import click

from bailee.asking import office_slips, written
from bailee.asking.slips import Slip
from bailee.domain.acts.organization import Revoked
from bailee.domain.acts.table import name_of
from bailee.errors import Forged, Unavailable, Unknown
from bailee.presentation import words
from bailee_cli.device.session import Session
from bailee_cli.signing import lookups, permission_asked, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts
from bailee_cli.terminal.command_kinds import NamingCommand
from bailee_cli.terminal.options import (
    Whole,
    act_options,
    anyway_option,
    moment,
    note_option,
    time_options,
    yes_option,
)


@click.command("revoke", cls=NamingCommand)
@click.argument("kid")
@click.option("--reason", required=True, type=click.Choice(["lost", "stolen", "left", "replaced", "doubt"]))
@click.option(
    "--last-good",
    "last_good_seq",
    required=True,
    type=Whole(0),
    help="Last number that is certainly theirs, as `bailee outbox` on that device lists it (no.); of a"
    " person who left, the newest there.",
)
@note_option
@time_options
@anyway_option
@yes_option
@act_options
@click.pass_obj
def revoke_command(
    session: Session,
    kid: str,
    reason: str,
    last_good_seq: int,
    note: str | None,
    at: str | None,
    zone: str | None,
    yes: bool,
    offline: bool,
) -> None:
    """End the key KID: a key ID, or its owner's name.

    `--at` is since when: the time of the loss. What it signed up to --last-good still counts. At a terminal
    you are shown whose key it is, and asked before it is signed.
    """
    chain, act = f"org/{session.profile.org}", name_of(Revoked)
    since = moment(session, at, zone)
    prompts.settle(session, lambda: office_slips.not_yet(since, session.now))
    ended = lookups.key_id(session, kid, offline=offline)
    data = {
        "kid": ended,
        "reason": reason,
        "since": since.text(),
        "last_good_seq": last_good_seq,
    }
    whose = ended
    if not offline:
        found = lookups.require_standing(session, ended)
        permission_asked.require(session, chain, act, data, offline=False)
        highest = _highest(session, ended)
        if found:
            whose = f"{ended} of {found['person'] or 'a person without a name'}, {words.plain(found['role'])}"
        if prompts.may_ask(session):
            layout.warn(f"It ends the key {whose}.")
            if highest is not None:
                layout.warn(f"The newest number that the ledger has of it: {highest}.")
        prompts.settle(
            session,
            lambda: _slips(session, data, highest),
            prompts.typed_again(data, last_good_seq=written.whole),
        )
        submit.learn_heads(session, [chain])
    session.was_asked = session.was_asked or not yes
    submit.act(session, Act(chain, act, data, {"note": note}), offline=offline)
    layout.line(f"Key {whose}; last good number {data['last_good_seq']}", err=session.json)


def _highest(session: Session, kid: str) -> int | None:
    """The newest number of a key that the ledger has, or that this very device has signed with it; None
    where it cannot be asked.
    """
    try:
        told: int = session.service.get(f"/devices/{kid}")["highest"]
    except (Unavailable, Unknown, Forged):
        return None
    if kid != session.key.kid:
        return told
    signed = session.outbox.newest(1)
    return max(told, signed[0].seq if signed else 0) + 1  # the end of one's own key is its last word


def _slips(session: Session, data: Mapping[str, Any], highest: int | None) -> Iterator[Slip]:
    yield from office_slips.beyond_the_newest(data["last_good_seq"], highest)
    org = session.profile.org
    try:
        told = session.service.get(f"/organizations/{org}")
    except (Unavailable, Unknown, Forged):
        return
    roots = [each["kid"] for each in told["keys"] or [] if each["role"] == "root" and not each["revoked"]]
    if roots == [data["kid"]] and not told["recovery"]:
        yield office_slips.only_root(data["kid"], org)
