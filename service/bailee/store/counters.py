"""Counters of devices that never arrived, with the entries between which they lie."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.store import log, refused_table, schema


@frozen
class Missing:
    """A stretch of counters that never arrived, and the entries of its key on either side; None: it begins
    the count.
    """

    first: int
    last: int
    before: str | None
    behind: str


def missing_counters(
    connection: Connection, kids: Sequence[str], at: datetime | None = None
) -> dict[str, tuple[Missing, ...]]:
    """By key, the first stretches of counters below its newest statement that never arrived, or had not by
    an instant: so many that what refused texts explain hides none that is listed otherwise.
    """
    seq, signer = schema.statement.c.seq, schema.signer.c
    counted = (
        sa.select(signer.kid, signer.id)
        .join_from(schema.signer, schema.statement)
        .where(signer.kid.in_(kids))
        .group_by(signer.kid, signer.id)
    )
    if at is None:  # by an instant more may have been missing than is now
        counted = counted.having(sa.func.count() < sa.func.max(seq))
    missing = {}
    for row in connection.execute(counted).all():
        mine = schema.statement.c.signer_id == row.id
        stretches = _stretches(connection, mine) if at is None else _stretches_at(connection, mine, at)
        if stretches:
            missing[row.kid] = stretches
    return missing


def _stretches(connection: Connection, mine: sa.ColumnElement[bool]) -> tuple[Missing, ...]:
    statement, below, above = schema.statement.c, schema.entry.alias("below"), schema.entry.alias("above")
    placed = (
        sa.select(
            statement.seq,
            statement.entry_id,
            sa.func.lag(statement.seq, 1, 0).over(order_by=statement.seq).label("before"),
            sa.func.lag(statement.entry_id).over(order_by=statement.seq).label("entry_before"),
        )
        .where(mine)
        .subquery()
    )
    query = (
        sa.select(placed.c.before, placed.c.seq, below.c.text.label("under"), above.c.text.label("over"))
        .select_from(
            placed.join(above, above.c.id == placed.c.entry_id).outerjoin(
                below, below.c.id == placed.c.entry_before
            )
        )
        .where(placed.c.seq > placed.c.before + 1)
        .order_by(placed.c.seq)
        .limit(_most())
    )
    return tuple(
        Missing(row.before + 1, row.seq - 1, row.under, row.over) for row in connection.execute(query)
    )


def _stretches_at(connection: Connection, mine: sa.ColumnElement[bool], at: datetime) -> tuple[Missing, ...]:
    statement = schema.statement.c
    query = (
        sa.select(statement.seq, schema.entry.c.text)
        .join(schema.entry, schema.entry.c.id == statement.entry_id)
        .where(mine)
        .order_by(statement.seq)
    )
    found, last, under = [], 0, None
    for row in connection.execute(query.execution_options(yield_per=500)):
        if datetime.fromisoformat(entries.read(row.text).rec) <= at:
            if row.seq > last + 1:
                found.append(Missing(last + 1, row.seq - 1, under, row.text))
            last, under = row.seq, row.text
    return tuple(found[: _most()])


def _most() -> int:
    return log.MOST_GAPS + refused_table.MOST
