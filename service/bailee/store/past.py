"""How far the log had come at an instant: for replaying a check as it was asked then. Reads only.

The recorded time never runs back within a chain, so what a chain held at an instant is a beginning of what it holds now.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.ledger import entry as entries
from bailee.store import schema

_AT_ONCE: Final = 500


def length_at(connection: Connection, chain: str, at: datetime) -> int:
    """How many entries of a chain were recorded by an instant; 0 when it did not exist. By halving: few rows are read."""
    row = connection.execute(
        sa.select(schema.chain.c.id, schema.chain.c.length).where(schema.chain.c.name == chain)
    ).one_or_none()
    if row is None:
        return 0
    low, high = 0, row.length
    while low < high:
        middle = (low + high + 1) // 2
        where = (schema.entry.c.chain_id == row.id) & (schema.entry.c.n == middle)
        text = connection.execute(sa.select(schema.entry.c.text).where(where)).scalar_one()
        if _recorded(text) <= at:
            low = middle
        else:
            high = middle - 1
    return low


def recorded_by(
    connection: Connection, places: Collection[tuple[str, int]], at: datetime
) -> set[tuple[str, int]]:
    """Which of these entries (chain, number) were recorded by an instant. One question in any case, so that its time tells nothing of them."""
    where = sa.tuple_(schema.chain.c.name, schema.entry.c.n).in_(sorted(places))
    query = (
        sa.select(schema.chain.c.name, schema.entry.c.n, schema.entry.c.text).join(schema.chain).where(where)
    )
    return {(row.name, row.n) for row in connection.execute(query) if _recorded(row.text) <= at}


def missing_counters_at(
    connection: Connection, kids: Sequence[str], at: datetime
) -> dict[str, tuple[int, ...]]:
    """By key, the counters below its newest statement by an instant that had not arrived by then."""
    missing = {}
    for kid in kids:
        query = (
            sa.select(schema.statement.c.seq, schema.entry.c.text)
            .join_from(schema.statement, schema.signer)
            .join(schema.entry, schema.entry.c.id == schema.statement.c.entry_id)
            .where(schema.signer.c.kid == kid)
        )
        rows = connection.execute(query.execution_options(yield_per=_AT_ONCE))
        here = {row.seq for row in rows if _recorded(row.text) <= at}
        gone = tuple(seq for seq in range(1, max(here, default=0)) if seq not in here)
        if gone:
            missing[kid] = gone
    return missing


def _recorded(text: str) -> datetime:
    return datetime.fromisoformat(entries.read(text).rec)
