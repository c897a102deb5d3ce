"""Which hosts serve this log: a row each, that counts for a while by the database's clock."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.store import schema
from bailee.store.clock import now_ms


def beat(connection: Connection, host: str, counts_ms: int) -> None:
    """Say that `host` serves this log, for so long."""
    table = schema.host
    until = now_ms() + counts_ms
    known = connection.execute(table.update().where(table.c.id == host).values(until=until))
    if not known.rowcount:
        connection.execute(table.insert().values(id=host, until=until))
        connection.execute(table.delete().where(table.c.until < now_ms()))


def others(connection: Connection, host: str) -> int:
    """How many hosts besides this one serve the log now."""
    table = schema.host.c
    query = sa.select(sa.func.count()).where(table.id != host, table.until >= now_ms())
    return connection.execute(query).scalar() or 0
