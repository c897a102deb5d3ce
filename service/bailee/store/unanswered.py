"""Samples that were collected and that no laboratory has answered for: what makes a form worth chasing.

And lots recalled after their cassettes were used, until a form says that those concerned were told; and what
was requested with a form, until its laboratory issues a result. A sample that the laboratory asks for again
stays until it decides anew or disposes of it: whether the one in its place still counts, the forms say.

An index, rebuildable.

Nothing that a laboratory signs takes away what it never received: nobody would look for it any more.

It errs on one side only: a sample may stay here although it was answered for (the answer reached the ledger
before the collection or the receipt, or is a new sample on another form), and is then read once more for
nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.domain.acts import mentions
from bailee.domain.acts.form import (
    Collected,
    Copied,
    Decision,
    Disposed,
    Forwarded,
    Notified,
    Received,
    Requested,
    TakenIn,
    Voided,
)
from bailee.domain.acts.lot import Recalled, Released
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import ACCEPTED, ON_HOLD, name_of
from bailee.domain.statements import Recorded
from bailee.ledger import entry as entries
from bailee.signing import signed_statement
from bailee.signing.signed_statement import Claims
from bailee.store import opened, schema
from bailee.store.prepared import PreparedQuery


def note(connection: Connection, chain_id: int, entry: Recorded) -> None:
    """Enter one new statement of a form."""
    match entry.body:
        case Collected() | SurfaceCollected() as body:
            _add(connection, chain_id, [body.sample])
        case Forwarded() as body:
            _add(connection, chain_id, [item.child for item in body.items])
        case Received(dock=None):
            pass
        case Received() as body:
            _add(connection, chain_id, [item.sample for item in body.items])
        case Decision(resample="asked") as body:
            _add(connection, chain_id, _answered(connection, chain_id, entry.org, body.samples))
        case Disposed() as body:
            own = _answered(connection, chain_id, entry.org, body.samples)
            _remove(connection, chain_id, _had(connection, chain_id, entry, own))
        case Decision() as body if entry.act != ON_HOLD:
            own = _answered(connection, chain_id, entry.org, body.samples)
            _remove(connection, chain_id, _had(connection, chain_id, entry, own, missed=True))
            if entry.act == ACCEPTED and _is_requested(connection, chain_id):
                _add(connection, chain_id, [_REQUESTED])  # what is accepted late has no result yet
        case Voided() as body:
            is_firm = opened.parties(connection, chain_id).firm == entry.org
            named = [body.sample]
            own = named if is_firm else _answered(connection, chain_id, entry.org, named)
            had = own if is_firm else _had(connection, chain_id, entry, own, missed=True)
            _remove(connection, chain_id, had)
        case _:
            _note_what_waits(connection, chain_id, entry)


def _note_what_waits(connection: Connection, chain_id: int, entry: Recorded) -> None:
    """What stands in the place of a sample: a request, a lot."""
    match entry.body:
        case Requested() if entry.org == opened.parties(connection, chain_id).firm:
            _add(connection, chain_id, [_REQUESTED])
        case Copied(of="result") as body if body.entries >= entry.n - 1:
            _remove(connection, chain_id, [_REQUESTED] if _is_last(connection, chain_id, entry.org) else [])
        case Notified(of="recall") as body:
            _remove(connection, chain_id, [] if _is_before_recall(connection, body) else [body.about])
        case Recalled() | Released() as body:
            _recall(connection, entry.chain.removeprefix("lot/"), is_in_force=isinstance(body, Recalled))


def _answered(connection: Connection, chain_id: int, org: str, samples: Iterable[str]) -> list[str]:
    """Of these samples those that are for this organization to decide on: the form's laboratory, or of what
    was sent on the one to which it was.
    """
    bound: dict[str, str] = {}
    for number, text in connection.execute(_SENT_ON, {"chain": chain_id, "numbers": sorted(samples)}):
        bound.setdefault(number, signed_statement.read(entries.read(text).stmt).claims.data["to"])
    lab = opened.parties(connection, chain_id).lab
    return [number for number in samples if bound.get(number, lab) == org]


def _had(
    connection: Connection, chain_id: int, entry: Recorded, samples: Iterable[str], *, missed: bool = False
) -> list[str]:
    """Of these samples those that had come to the signer's organization: listed when it opened their
    envelope, taken in with it, or received from hand to hand; `missed`: or not found when it was opened.
    """
    at = {"chain": chain_id, "numbers": sorted(samples)}
    packed = {row.number: row.other for row in connection.execute(_PACKED, at)}
    opened_there = {"chain": chain_id, "org": entry.org, "numbers": sorted(set(packed.values()))}
    found = set[str]()
    for envelope, text in connection.execute(_DOCKED, opened_there):
        said = signed_statement.read(entries.read(text).stmt).claims
        inside = {number for number, where in packed.items() if where == envelope}
        is_whole = missed or said.act == name_of(TakenIn)
        found |= inside if is_whole else inside & _items(said)
    if not found.issuperset(samples):
        before = {"chain": chain_id, "org": entry.org, "n": entry.n}
        for (text,) in connection.execute(_SIGNED_BEFORE, before):
            said = signed_statement.read(entries.read(text).stmt).claims
            found |= _items(said) if said.act == name_of(Received) else set()
    return [number for number in samples if number in found]


def _items(said: Claims) -> set[str]:
    return {item["sample"] for item in said.data.get("items", ())}


def _is_requested(connection: Connection, chain_id: int) -> bool:
    """Whether the firm requested anything with the form."""
    said = schema.mention.c
    asked = sa.select(said.n).where(
        said.number == mentions.REQUEST, said.what == mentions.ASKED, said.chain_id == chain_id,
        said.org == opened.parties(connection, chain_id).firm,
    )  # fmt: skip
    return connection.execute(asked.limit(1)).first() is not None


def _is_last(connection: Connection, chain_id: int, org: str) -> bool:
    """Whether a result may be the last: of the laboratory of the form, and no sample waits for an answer.

    That of a second laboratory is one of what was sent on to it.
    """
    waits = schema.unanswered.c
    others = sa.select(waits.sample).where(waits.chain_id == chain_id, waits.sample != _REQUESTED)
    return opened.parties(connection, chain_id).lab == org and connection.execute(others).first() is None


def _is_before_recall(connection: Connection, body: Notified) -> bool:
    """Whether a notice is dated before the newest recall of its lot, and so tells nobody of that."""
    for (text,) in connection.execute(_NEWEST_FIRST, {"chain": f"lot/{body.about}"}):
        entry = entries.read(text)
        if signed_statement.read(entry.stmt).claims.act == name_of(Recalled):
            return body.at.instant < datetime.fromisoformat(entry.rec)
    return False


def _recall(connection: Connection, lot: str, *, is_in_force: bool) -> None:
    """Every form that used a recalled lot is looked at again, until the recall is over or told."""
    connection.execute(schema.unanswered.delete().where(schema.unanswered.c.sample == lot))
    if is_in_force:
        where = (schema.mention.c.number == lot) & (schema.mention.c.what == mentions.USED)
        using = connection.execute(sa.select(schema.mention.c.chain_id).where(where).distinct()).scalars()
        for form in using.all():
            _add(connection, form, [lot])


def open_forms(connection: Connection, org: str, limit: int, uninvited: int) -> tuple[list[str], int]:
    """Forms of an organization with a sample nobody has answered for, and how many were left out.

    The oldest so many of each that made it a party, since they are the most overdue; and whoever opens forms
    in its name does not push aside those of others. `uninvited`: so many where it never spoke on any form of
    that organization, which may have named it without asking.
    """
    party = schema.party.c
    open_chains = sa.select(schema.unanswered.c.chain_id).distinct()
    met = sa.select(party.named_by).where(party.org == org, party.spoke).distinct()
    place = sa.func.row_number().over(partition_by=party.named_by, order_by=schema.chain.c.id)
    bound = sa.case((party.named_by.in_(met), limit), else_=uninvited)
    placed = (
        sa.select(
            schema.chain.c.name,
            schema.chain.c.id,
            (place <= bound).label("near"),
            sa.func.count().over().label("all"),
        )
        .join(schema.party)
        .where(party.org == org, schema.chain.c.id.in_(open_chains))
        .subquery()
    )
    found = connection.execute(sa.select(placed).where(placed.c.near).order_by(placed.c.id)).all()
    return [row.name.removeprefix("form/") for row in found], found[0].all - len(found) if found else 0


def clear(connection: Connection) -> None:
    """Forget it, before making it anew."""
    connection.execute(schema.unanswered.delete())


def _add(connection: Connection, chain_id: int, samples: Iterable[str]) -> None:
    _ADD.for_each(connection, [{"chain": chain_id, "which": each} for each in sorted(set(samples))])


def _remove(connection: Connection, chain_id: int, samples: Iterable[str]) -> None:
    _REMOVE.for_each(connection, [{"chain": chain_id, "which": each} for each in samples])


_REQUESTED: Final = name_of(Requested)
"""What stands in the place of a sample where something was requested with a form."""
_NUMBERS: Final = sa.and_(
    schema.mention.c.chain_id == sa.bindparam("chain"),
    schema.mention.c.number.in_(sa.bindparam("numbers", expanding=True)),
)
_TOLD_IN: Final = (
    sa.select(schema.mention.c.number, schema.entry.c.text)
    .join(
        schema.entry,
        (schema.entry.c.chain_id == schema.mention.c.chain_id) & (schema.entry.c.n == schema.mention.c.n),
    )
    .where(_NUMBERS)
    .order_by(schema.mention.c.n)
)
_SENT_ON: Final = _TOLD_IN.where(schema.mention.c.what == mentions.FORWARDED)
_DOCKED: Final = _TOLD_IN.where(
    schema.mention.c.what == mentions.DOCKED, schema.mention.c.org == sa.bindparam("org")
)
_PACKED: Final = (
    sa.select(schema.mention.c.number, schema.mention.c.other)
    .where(_NUMBERS, schema.mention.c.what == mentions.PACKED)
    .order_by(schema.mention.c.n)
)
_SIGNED_BEFORE: Final = (
    sa.select(schema.entry.c.text)
    .select_from(schema.entry.join(schema.statement).join(schema.signer))
    .where(schema.entry.c.chain_id == sa.bindparam("chain"), schema.entry.c.n < sa.bindparam("n"))
    .where(schema.signer.c.org == sa.bindparam("org"))
)
_NEWEST_FIRST: Final = (
    sa.select(schema.entry.c.text)
    .select_from(schema.entry.join(schema.chain))
    .where(schema.chain.c.name == sa.bindparam("chain"))
    .order_by(schema.entry.c.n.desc())
)
_HERE: Final = (schema.unanswered.c.chain_id == sa.bindparam("chain")) & (
    schema.unanswered.c.sample == sa.bindparam("which")
)
_REMOVE: Final = PreparedQuery(schema.unanswered.delete().where(_HERE))
_ADD: Final = PreparedQuery(
    schema.unanswered.insert().from_select(
        ["chain_id", "sample"],
        sa.select(
            sa.cast(sa.bindparam("chain"), schema.unanswered.c.chain_id.type),
            sa.cast(sa.bindparam("which"), schema.unanswered.c.sample.type),
        ).where(~sa.exists().where(_HERE)),
    )
)
