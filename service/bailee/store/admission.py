"""Root keys the operator has admitted: who may found an organisation on this log."""

from __future__ import annotations

from sqlalchemy.engine import Connection

from bailee.store import schema


def admit(connection: Connection, kid: str) -> None:
    """Let the holder of this key found an organisation; admitting twice is the same as once."""
    if not is_admitted(connection, kid):
        connection.execute(schema.admitted.insert().values(kid=kid))


def is_admitted(connection: Connection, kid: str) -> bool:
    """Whether the operator has admitted this key."""
    return (
        connection.execute(schema.admitted.select().where(schema.admitted.c.kid == kid)).first() is not None
    )
