"""Doing an act: parse it, conceal private fields, keep it signed in the outbox (durable), send what waits
(`sending`), say what became of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

import click

from bailee.domain import statements
from bailee.domain.acts.form import Relinquished
from bailee.domain.acts.organization import Enrolled
from bailee.domain.acts.table import done_at, name_of
from bailee.domain.moments import offset_text
from bailee.errors import BaileeError, Unavailable, Unknown
from bailee.signing import disclosures, signed_statement
from bailee.signing.signed_statement import Claims
from bailee_cli.device import client
from bailee_cli.device.outbox import Kept, NextPlace, Unsigned
from bailee_cli.device.session import Session
from bailee_cli.signing import afterwards, duplicates, from_paper, permission_asked, sending, visits
from bailee_cli.signing.acts import Act, data_of, may_sign, spoken
from bailee_cli.terminal import done_times, layout, prompts, show

__all__ = [
    "Act",
    "act",
    "as_json",
    "data_of",
    "fate",
    "finish",
    "learn_heads",
    "perform",
    "report",
    "spoken",
]


def act(session: Session, *acts: Act, offline: bool = False) -> list[Kept]:
    """Sign and send; print what became of each.

    Ends the command with exit code 1 when one of them was refused.

    Raises before anything is signed: `BadStatement` when one of them is not well formed, `Malformed` when one
    is still to come ("future"), `Refused` when it was said already or otherwise (`duplicates`).
    """
    kept = perform(session, acts, offline=offline)
    report(session, kept)
    return kept


def perform(session: Session, acts: Sequence[Act], *, offline: bool) -> list[Kept]:
    """Sign and send, and give back each statement with its answer, if there is one.

    What waits and says the same already is not signed again: it is sent, and stands in the answer.
    """
    acts = [*from_paper.told(session, acts)]
    for each in acts:
        done = done_at(statements.parse(each.chain, each.act, each.data))
        if done:
            done_times.refuse_future(session.now, each.act, done)
    before = [duplicates.already(session, each) for each in acts]
    for kept in before:
        if kept:
            duplicates.say(session, kept)
    unsigned = [each for each, kept in zip(acts, before, strict=True) if kept is None]
    permission_asked.require_all(session, unsigned, offline=offline)
    if unsigned and (wrong := session.clock_news()):
        layout.warn(wrong)
    if unsigned and prompts.may_ask(session) and not session.was_shown:
        if session.was_asked:
            visits.agree(session, unsigned)
        else:
            visits.say(session, [each for each in unsigned if each.chain.startswith("form/")])
    new = session.outbox.sign([_draft(session, each) for each in unsigned])
    fresh = iter(new)
    signed = [kept or next(fresh) for kept in before]
    return signed if offline else _sent(session, signed)


def finish(
    session: Session, act: str, about: Sequence[str], same: Callable[[Mapping[str, Any]], bool]
) -> bool:
    """Whether this very act waits to be sent: then it is sent, its fate printed, and there is nothing left to
    ask or to sign.

    `same` tells whether the facts of a waiting statement are those typed now. For verbs that ask the ledger
    first: an answer lost on the way would make it judge the act beside itself.
    """
    found = duplicates.waiting(session, act, about, same)
    for kept in found:
        duplicates.say(session, kept)
    if found:
        report(session, _sent(session, found))
    return bool(found)


def _sent(session: Session, signed: Sequence[Kept]) -> list[Kept]:
    settled = {kept.seq: kept for kept in sending.send(session, "waiting")}
    return [settled.get(kept.seq, kept) for kept in signed]


def report(session: Session, kept: Sequence[Kept]) -> None:
    """Print each statement's fate.

    End the command with 1 when one was refused or does not count, or when the log went back on itself.
    """
    if session.json:
        show.print_json([as_json(each) for each in kept])
    else:
        for each in kept:
            layout.line(fate(each), err=each.state == "refused")
        for each in kept:
            if each.act == name_of(Relinquished) and each.state != "refused":
                layout.line(f"Entry id: {each.digest}")
        if prompts.may_ask(session):
            afterwards.say(session, kept)
    if session.alarm:
        layout.warn(session.alarm)
    if session.alarm or any(each.state == "refused" or (each.answer or {}).get("note") for each in kept):
        raise click.exceptions.Exit(1)


def as_json(kept: Kept) -> dict[str, Any]:
    """One statement for a program."""
    answer = kept.answer or {}
    return {
        "seq": kept.seq,
        "statement": kept.digest,
        "chain": kept.chain,
        "act": kept.act,
        "state": kept.state,
        "n": answer.get("n"),
        "leaf": answer.get("leaf"),
        "problem": answer.get("problem"),
        "note": answer.get("note"),
    }


def learn_heads(session: Session, chains: Sequence[str]) -> None:
    """See the newest entries of these chains before speaking on them, so that the order of events is shown
    later.
    """
    for chain in chains:
        kind, _, number = chain.partition("/")
        try:
            told = session.service.get(f"/{_COLLECTIONS[kind]}/{number}")
        except Unknown:
            continue
        except Unavailable:
            return
        except (
            BaileeError
        ) as error:  # a recovery key is enrolled nowhere, is shown nothing, and may speak all the same
            if error.code != "unknown-key":
                raise
            continue
        if told.get("head"):
            session.outbox.told(chain, told["length"], told["head"])


_COLLECTIONS: Final = {"form": "forms", "lot": "lots", "org": "organizations"}


def _draft(session: Session, said: Act) -> Unsigned:
    told = tuple(disclosures.conceal({name: value for name, value in said.private.items() if value}))
    digests = tuple(disclosures.digest(each) for each in told)
    now, skew = session.now, session.skew

    def sign(place: NextPlace) -> str:
        claims = Claims(
            iss=session.profile.org, aud=session.profile.origin, sub=said.chain, act=said.act,
            iat=int(now.timestamp()), tzo=_offset(now), seq=place.seq, prev=place.prev, after=place.after,
            data=said.data, refs=said.refs, seen=place.seen, private=digests,
            skew=skew if abs(skew) >= client.CLOCK_WORTH_SAYING_S else 0,
        )  # fmt: skip
        return signed_statement.sign(session.key, claims)

    return Unsigned(said.chain, said.act, sign, told)


def _offset(now: datetime) -> str:
    """Offset of this device's clock."""
    return offset_text((now.astimezone().utcoffset() or timedelta()) // timedelta(minutes=1))


def fate(kept: Kept) -> str:
    """What became of one statement, in a sentence."""
    what = f"{kept.act.replace('_', ' ')}, {spoken(kept.chain)}"
    answer = kept.answer or {}
    if kept.state == "waiting":
        return f"Signed and saved on this device, not sent yet: {what} (number {kept.seq} of this device)."
    if kept.state == "refused":
        told = answer.get("problem") or {}
        return (
            f"Not recorded: {what} (number {kept.seq} of this device). {told.get('detail', '')}".rstrip()
            + " It stays in the outbox: "
            + ("" if told.get("code") == "wrong-role" else "`bailee send --again` sends it again, ")
            + f"`bailee outbox --set-aside {kept.seq}` sets it aside."
        )
    missing = answer.get("gap") or 0
    earlier = show.counted(missing, "earlier entry of this device has", "earlier entries of this device have")
    gap = f" {earlier} not reached the ledger." if missing else ""
    note = f" {answer['note']}" if answer.get("note") else ""
    now_may = f"; {may_sign(kept)}" if kept.act == name_of(Enrolled) and not note else ""
    return f"Recorded: {what}, entry {answer.get('n')}{now_may}.{note}{gap}"
