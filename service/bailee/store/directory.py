"""Which organisations were founded here: the chains `org/…` that have entries."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.store import schema


def organisations(connection: Connection) -> list[str]:
    """Short names of all of them, in alphabetical order."""
    query = sa.select(schema.chain.c.name).where(schema.chain.c.name.startswith("org/"))
    return sorted(name.removeprefix("org/") for name in connection.execute(query).scalars())
