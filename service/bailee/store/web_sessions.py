"""Who entered the pages, each by one token, until when, and who left.

The cookie holds the name of a row and nothing else.

A row outlives its person's leaving, so that the token that made it makes no second one; it goes when its time
is over, which is long after the token's.
"""

from __future__ import annotations

from sqlalchemy import sql
from sqlalchemy.engine import Connection

from bailee.frozen import frozen
from bailee.store import schema

_table = schema.web_session


@frozen
class WebSession:
    """One person before the pages; `until` is in POSIX seconds."""

    org: str
    kid: str
    until: int


def begin(connection: Connection, name: str, found: WebSession, now: int) -> bool:
    """Keep a session under a new name; whether the name was new. Forgets those whose time is over."""
    connection.execute(_table.delete().where(_table.c.until <= now))
    if connection.execute(sql.select(_table.c.id).where(_table.c.id == name)).first():
        return False
    connection.execute(_table.insert().values(id=name, org=found.org, kid=found.kid, until=found.until))
    return True


def find(connection: Connection, name: str, now: int) -> WebSession | None:
    """The session of this name, unless its person left or its time is over."""
    columns = (_table.c.org, _table.c.kid, _table.c.until)
    standing = (_table.c.id == name, _table.c.until > now, sql.not_(_table.c.ended))
    row = connection.execute(sql.select(*columns).where(*standing)).one_or_none()
    return WebSession(*row) if row else None


def end(connection: Connection, name: str) -> None:
    """Let the session of this name count for nothing from now on."""
    connection.execute(_table.update().where(_table.c.id == name).values(ended=True))
