"""Root keys the operator has admitted: who may found an organization on this log.

Which organizations were founded here: the chains `org/…` that have entries.
"""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.store import schema


def organizations(connection: Connection) -> list[str]:
    """Short names of all of them, in alphabetical order."""
    query = sa.select(schema.chain.c.name).where(schema.chain.c.name.startswith("org/"))
    return sorted(name.removeprefix("org/") for name in connection.execute(query).scalars())


def admit(connection: Connection, kid: str) -> None:
    """Let the holder of this key found an organization; admitting twice is the same as once."""
    if not is_admitted(connection, kid):
        connection.execute(schema.admitted.insert().values(kid=kid))


def is_admitted(connection: Connection, kid: str) -> bool:
    """Whether the operator has admitted this key."""
    return (
        connection.execute(schema.admitted.select().where(schema.admitted.c.kid == kid)).first() is not None
    )
