"""What every test may ask for: real databases made by migration, a ledger over each, public vectors."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import settings
from own_postgres import OwnPostgres
from sqlalchemy.pool import NullPool

from bailee.store.database import Database

# The same examples on every run and every machine: a red build can be repeated.
settings.register_profile("ci", derandomize=True, deadline=None)
settings.load_profile("ci")


@pytest.fixture(scope="session")
def vectors() -> Path:
    """Find the public test vectors: BAILEE_VECTORS, or ../shared/vectors beside the repository."""
    beside = Path(__file__).resolve().parents[2] / "shared" / "vectors"
    folder = Path(os.environ.get("BAILEE_VECTORS", beside))
    if not folder.is_dir():
        pytest.skip(f"no public test vectors at {folder} (set BAILEE_VECTORS)")
    return folder


@pytest.fixture(scope="session")
def postgres() -> Iterator[OwnPostgres]:
    """A PostgreSQL server of our own with one migrated template database."""
    server = OwnPostgres()
    with _admin(server).connect() as connection:
        connection.execute(sa.text("CREATE DATABASE migrated TEMPLATE template0"))
    template = Database(server.url("migrated"))
    template.migrate()
    template.close()
    yield server
    server.stop()


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of a fresh, migrated database: each test that asks runs on SQLite and on PostgreSQL."""
    if request.param == "sqlite":
        url = f"sqlite:///{tmp_path / 'ledger.sqlite'}"
        database = Database(url)
        database.migrate()
        database.close()
        yield url
        return
    server: OwnPostgres = request.getfixturevalue("postgres")
    name = f"t{abs(hash(request.node.nodeid)) % 10**12}"
    with _admin(server).connect() as connection:
        connection.execute(sa.text(f"CREATE DATABASE {name} TEMPLATE migrated"))
    yield server.url(name)
    with _admin(server).connect() as connection:
        connection.execute(sa.text(f"DROP DATABASE {name} WITH (FORCE)"))


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    """A fresh database of each kind."""
    found = Database(database_url)
    yield found
    found.close()


def _admin(server: OwnPostgres) -> sa.Engine:
    return sa.create_engine(server.url(), isolation_level="AUTOCOMMIT", poolclass=NullPool)
