"""Statements of administration that were refused, kept beside the log: the text alone says under which
number, and why (`signing.refused`).
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.ledger import entry as entries
from bailee.signing import signed_statement
from bailee.signing.signed_statement import SignedStatement, Unverified
from bailee.store import schema

MOST: Final = 200
"""Kept of one key, so that nobody fills the disk with what is refused."""


def keep(connection: Connection, signed: SignedStatement, now: datetime) -> None:
    """Keep it, once, unless its key has filled its share."""
    table = schema.refused
    mine = sa.select(sa.func.count()).where(table.c.kid == signed.kid)
    same = mine.where(table.c.digest == signed.digest)
    if connection.execute(same).scalar_one() or connection.execute(mine).scalar_one() >= MOST:
        return
    row = {"kid": signed.kid, "digest": signed.digest, "seq": signed.claims.seq, "text": signed.text}
    connection.execute(table.insert().values(**row, rec=entries.recorded_at(now)))


def near(connection: Connection, kid: str, seq: int) -> list[Unverified]:
    """Those of a key just before, at and just after a counter."""
    table = schema.refused.c
    query = (
        sa.select(table.text)
        .where(table.kid == kid, table.seq.between(seq - 1, seq + 1))
        .order_by(table.rec, table.digest)
    )
    return [signed_statement.read(text) for text in connection.execute(query).scalars()]


def of(
    connection: Connection, kids: Collection[str], at: datetime | None = None
) -> dict[str, dict[int, list[str]]]:
    """By key and counter, the texts that were here by an instant, or are now, the first before the others."""
    table = schema.refused.c
    query = (
        sa.select(table.kid, table.seq, table.text)
        .where(table.kid.in_(sorted(kids)))
        .order_by(table.rec, table.digest)
    )
    if at is not None:
        query = query.where(table.rec <= entries.recorded_at(at))
    found: dict[str, dict[int, list[str]]] = {}
    for row in connection.execute(query):
        found.setdefault(row.kid, {}).setdefault(row.seq, []).append(row.text)
    return found
