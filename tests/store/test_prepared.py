"""Statements handed to the driver, beside the same ones run by SQLAlchemy, on SQLite and on PostgreSQL."""

from __future__ import annotations

from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from bailee.store import schema
from bailee.store.database import Database
from bailee.store.prepared import PreparedQuery

NEW = schema.token.insert().values(size=sa.bindparam("size"), der=sa.bindparam("der"))
ABOVE = (
    sa.select(schema.token.c.size, schema.token.c.der)
    .where(schema.token.c.size > sa.bindparam("least"), schema.token.c.size != 3)
    .order_by(schema.token.c.size)
)


@pytest.fixture
def full(database: Database) -> Database:
    """A few rows of numbers and bytes."""
    new = PreparedQuery(NEW)
    database.write(lambda c: [new.rows(c, size=n, der=bytes([n, 0, 255])) for n in range(1, 6)])
    return database


@pytest.mark.parametrize("least", [0, 2, 5])
def test_gives_what_the_general_machinery_gives(full: Database, least: int) -> None:
    """A head read wrongly would let two entries stand at one place of a chain."""
    prepared = PreparedQuery(ABOVE)
    with full.reading() as connection:
        usual = [tuple(row) for row in connection.execute(ABOVE, {"least": least})]
        assert prepared.rows(connection, least=least) == usual
        assert prepared.row(connection, least=least) == next(iter(usual), None)
        assert prepared.value(connection, least=least) == next((row[0] for row in usual), None)
    assert (len(usual), least) in {(4, 0), (2, 2), (0, 5)}


def test_a_broken_constraint_is_the_same_error_and_stores_nothing(full: Database) -> None:
    """Two people who begin one form at once would see a crash instead of being told, or the loser's half
    would stay.
    """
    new = PreparedQuery(NEW)
    with pytest.raises(IntegrityError) as found, full.engine.begin() as connection:
        [new.rows(connection, size=size, der=b"\x07secret") for size in (9, 1)]
    assert "secret" not in str(found.value)
    with full.reading() as connection:
        assert PreparedQuery(ABOVE).value(connection, least=5) is None


def test_one_statement_serves_both_databases(tmp_path: Path, database: Database) -> None:
    """A text compiled for one kind of database would be sent to the other."""
    prepared = PreparedQuery(ABOVE)
    other = Database(f"sqlite:///{tmp_path / 'other.sqlite'}")
    with other.engine.begin() as connection:
        schema.metadata.create_all(connection, [schema.token])
        assert prepared.rows(connection, least=0) == []
    other.close()
    with database.reading() as connection:
        assert prepared.rows(connection, least=0) == []
