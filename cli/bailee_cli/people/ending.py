"""What cannot be undone: a key is ended, private fields are erased for good, or kept from it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, Final

import click

from bailee.asking import office_slips, written
from bailee.asking.question import Ask
from bailee.asking.slip import Slip
from bailee.domain import numbers
from bailee.domain.acts.organization import Revoked
from bailee.domain.acts.privacy import RetentionHeld, RetentionReleased
from bailee.domain.acts.table import ERASING, name_of
from bailee.domain.facts import choices
from bailee.domain.statements import split_chain
from bailee.errors import Forged, Malformed, Unavailable, Unknown
from bailee.presentation import words
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import lookups, permission_asked, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, piped, prompts
from bailee_cli.terminal.command_kinds import AskingCommand, NamingCommand
from bailee_cli.terminal.options import (
    Number,
    Whole,
    act_options,
    anyway_option,
    moment,
    note_option,
    time_options,
    yes_option,
)

_STATEMENT: Final = re.compile(r"[A-Za-z0-9_-]{43}")
"""The id of an entry: it may begin like a number, and is longer than any."""


_LAST_GOOD: Final = Ask(
    "last_good_seq",
    "Last number that is certainly theirs, as `bailee outbox` on that device lists it",
    "last good number",
    reader="whole",
)


@click.command("revoke", cls=NamingCommand)
@click.argument("kid")
@click.option("--reason", required=True, type=click.Choice(["lost", "stolen", "left", "replaced", "doubt"]))
@click.option(
    "--last-good",
    "last_good_seq",
    type=Whole(0),
    help="Last number that is certainly theirs, as `bailee outbox` on that device lists it (no.); of a"
    " person who left, the newest there.  [required]",
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
    last_good_seq: int | None,
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
    if not prompts.may_ask(session):
        prompts.require(last_good_seq=last_good_seq)
    chain, act = f"org/{session.profile.org}", name_of(Revoked)
    since = moment(session, at, zone)
    prompts.settle(session, lambda: office_slips.not_yet(since, session.now))
    ended = lookups.key_id(session, kid, offline=offline)
    data: dict[str, Any] = {
        "kid": ended,
        "reason": reason,
        "since": since.text(),
        "last_good_seq": last_good_seq or 0,
    }
    whose, highest = ended, None
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
    if last_good_seq is None:
        session.was_asked = True
        data["last_good_seq"] = prompts.answer(session, _LAST_GOOD)
    if not offline:
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


@click.command("erase", cls=NamingCommand)
@click.argument("what", metavar="ENTRY_ID_OR_FORM")
@click.option(
    "--field",
    "fields",
    multiple=True,
    help="Only this private field, like client. Once for each.  [default: all]",
)
@click.option("--yes", is_flag=True, help="Erase without asking once more.")
@act_options
@click.pass_obj
def erase_command(session: Session, what: str, fields: tuple[str, ...], yes: bool, offline: bool) -> None:
    """Erase private fields that your organization wrote: of one entry, by its entry id (`bailee outbox`
    lists it), or of all its entries on a FORM.

    What is erased can never be shown or proven again; everything else still verifies. Backups keep it until
    they are replaced.
    """
    if offline:
        raise Malformed("What is to be erased must be looked up first: erase with a network.", code="offline")
    acts = []
    there: set[str] = set()
    for statement in _statements(session, what):
        told = session.service.get(f"/statements/{statement}")
        if told["organization"] != session.profile.org:
            continue
        there.update(told["private"])
        names = [name for name in told["private"] if not fields or name in fields]
        if names:
            data = {"statement": statement, "count": len(names)}
            acts.append(
                Act(
                    told["chain"],
                    ERASING[split_chain(told["chain"])[0]].name,
                    data,
                    {"fields": " ".join(names)},
                )
            )
            layout.warn(f"{submit.spoken(told['chain'])}, entry {told['n']}: {', '.join(names)}")
    if there and not there.issuperset(fields):
        unknown, known = (", ".join(sorted(names)) for names in (set(fields) - there, there))
        raise Malformed(
            f"Nothing was erased: no private field {unknown} of yours is there, only {known}.",
            code="unknown-field",
            fields=sorted(there),
        )
    if not acts:
        click.echo("Nothing private of yours is there any more.", err=True)
        return
    for each in {each.chain: each for each in acts}.values():
        permission_asked.require(session, each.chain, each.act, each.data, offline=False)
    if not yes:
        piped.agree("Erase this for good?")
    submit.learn_heads(session, list(dict.fromkeys(each.chain for each in acts)))
    submit.act(session, *acts)


@click.command("retain", cls=AskingCommand)
@click.argument("form", type=Number("form"))
@click.option(
    "--reason", required=True,
    type=click.Choice([
        *choices(RetentionHeld, "reason"),
        *choices(RetentionReleased, "reason")[:-1],
    ]),
)  # fmt: skip
@click.option("--release", is_flag=True, help="It need not stay any longer, for your organization's sake.")
@note_option
@act_options
@click.pass_obj
def retain_command(
    session: Session, form: str, reason: str, release: bool, note: str | None, offline: bool
) -> None:
    """Keep the private fields of FORM from being erased, until your organization releases them.

    With them stay the names of who signed on it or on the lots of its samples, and to whom it was given.
    """
    cache.see(session, [form], offline=offline)
    act = name_of(RetentionReleased) if release else name_of(RetentionHeld)
    submit.act(session, Act(f"form/{form}", act, {"reason": reason}, {"note": note}), offline=offline)


def _statements(session: Session, what: str) -> Iterator[str]:
    """Ids of the statements meant."""
    if _STATEMENT.fullmatch(what):
        yield what
        return
    from bailee.ledger import entry as entries
    from bailee.signing import signed_statement

    form = numbers.read(what, "form")
    for each in session.service.get(f"/forms/{form}/bundle")["entries"]:
        entry = entries.read(each["entry"])
        if entry.chain == f"form/{form}":
            yield signed_statement.digest(entry.stmt)
