"""Leases: one process at a time does a thing, and a dead one is replaced when its time runs out."""

from __future__ import annotations

from sqlalchemy.engine import Connection

from bailee.store import schema


def take(connection: Connection, name: str, holder: str, now: int, seconds: int) -> bool:
    """Take or renew the lease `name` for `holder` until `now` + `seconds`; False while somebody else holds it."""
    table = schema.lease
    row = connection.execute(table.select().where(table.c.name == name).with_for_update()).one_or_none()
    if row is None:
        connection.execute(table.insert().values(name=name, holder=holder, until=now + seconds))
        return True
    if row.holder != holder and row.until > now:
        return False
    connection.execute(table.update().where(table.c.name == name).values(holder=holder, until=now + seconds))
    return True


def give_up(connection: Connection, name: str, holder: str) -> None:
    """End the lease of `holder`, so that the next one need not wait for its time to run out."""
    table = schema.lease
    connection.execute(table.delete().where(table.c.name == name, table.c.holder == holder))
