"""Private fields beside the log: what is still there of a statement, and erasing it.

SQLite overwrites what is deleted (`secure_delete`); its journal keeps a copy until the next checkpoint of its
own, PostgreSQL until the next vacuum, and backups for as long as they are kept.
"""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.signing import disclosures, signed_statement
from bailee.store import schema


@frozen
class Spoken:
    """A statement in the log and the private fields of it that are still there, each by its name and its row.

    `signed` is how many it was signed with.
    """

    chain: str
    n: int
    org: str
    kid: str
    entry_id: int
    signed: int
    fields: tuple[tuple[str, int], ...]


def find(connection: Connection, digest: str, seen_by: sa.ColumnElement[bool] | None = None) -> Spoken | None:
    """The statement with this id, on any chain or on those that the asker may see."""
    query = (
        sa.select(
            schema.statement.c.entry_id,
            schema.entry.c.text,
            schema.entry.c.n,
            schema.chain.c.name,
            schema.signer.c.org,
            schema.signer.c.kid,
        )
        .select_from(schema.statement.join(schema.signer).join(schema.entry).join(schema.chain))
        .where(schema.statement.c.digest == digest, sa.true() if seen_by is None else seen_by)
    )
    row = connection.execute(query).one_or_none()
    if row is None:
        return None
    table = schema.disclosure
    told = connection.execute(
        sa.select(table.c.text, table.c.position)
        .where(table.c.entry_id == row.entry_id)
        .order_by(table.c.position)
    )
    fields = tuple((disclosures.name_of(each.text), each.position) for each in told)
    signed = len(signed_statement.read(entries.read(row.text).stmt).claims.private)
    return Spoken(row.name, row.n, row.org, row.kid, row.entry_id, signed, fields)


def erase(connection: Connection, spoken: Spoken, positions: Sequence[int]) -> None:
    """Delete these rows."""
    table = schema.disclosure
    connection.execute(
        table.delete().where(table.c.entry_id == spoken.entry_id, table.c.position.in_(positions))
    )
