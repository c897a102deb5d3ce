"""Attacks are done to SQLite's file.

Those whose promise depends on the database (`on_both`) to PostgreSQL as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from operator_hands import Fields

from grounds import Ground, PostgresGround, SqliteGround


@pytest.fixture
def ground(request: pytest.FixtureRequest) -> Iterator[Ground]:
    """The kind of database: SQLite, unless a test asks for both."""
    if getattr(request, "param", "sqlite") == "sqlite":
        yield SqliteGround()
        return
    found = PostgresGround(request.getfixturevalue("postgres"))
    yield found
    found.close()


@pytest.fixture
def make_field(tmp_path: Path, ground: Ground) -> Iterator[Fields]:
    """As many services as the attack needs."""
    fields = Fields(tmp_path, ground)
    yield fields
    for each in fields.made:
        each.ledger.database.close()
