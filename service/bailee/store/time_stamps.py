"""Time stamps by outside authorities, kept beside the tree heads they are over."""

from __future__ import annotations

from collections.abc import Iterable

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.frozen import frozen
from bailee.store import schema


@frozen
class StoredTimeStamp:
    """An RFC 3161 token over the checkpoint of `size` entries."""

    size: int
    der: bytes


def keep(connection: Connection, size: int, der: bytes) -> bool:
    """Keep a token, and whether it was; the first of a size stays, because it tells the earliest time."""
    table = schema.token
    if connection.execute(sa.select(table.c.size).where(table.c.size == size)).first():
        return False
    connection.execute(table.insert().values(size=size, der=der))
    return True


def over(connection: Connection, indexes: Iterable[int], most: int) -> list[StoredTimeStamp]:
    """For each entry the first token that covers it, if it is over a log of at most `most` entries."""
    table = schema.token
    found: dict[int, StoredTimeStamp] = {}
    sizes = connection.execute(
        sa.select(table.c.size).where(table.c.size <= most).order_by(table.c.size)
    ).scalars()
    known = list(sizes)
    wanted = {next((size for size in known if size > index), None) for index in indexes} - {None}
    for row in connection.execute(sa.select(table).where(table.c.size.in_(wanted)).order_by(table.c.size)):
        found[row.size] = StoredTimeStamp(row.size, bytes(row.der))
    return list(found.values())
