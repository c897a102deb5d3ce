"""Where the ledgers under attack lie, and what their database's administrator can do: SQLite's file, or a PostgreSQL of our own."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Protocol

import sqlalchemy as sa
from sqlalchemy.engine import Connection
from sqlalchemy.pool import NullPool

from bailee.store.database import Database
from own_postgres import OwnPostgres


class Ground(Protocol):
    """A kind of database, to somebody who has the machine. Addresses are SQLAlchemy's; nobody may be connected to what is copied."""

    def new(self, folder: Path) -> str:
        """The address of a fresh, migrated database."""

    def copy(self, url: sa.URL, folder: Path) -> str:
        """The address of a second database with the same contents."""

    def put_back(self, url: sa.URL, old: sa.URL) -> None:
        """What lies at `old` comes in the place of what lies at `url`."""


class SqliteGround:
    """A file: copied, put back and written to by SQLite itself."""

    def new(self, folder: Path) -> str:
        """In the machine's folder."""
        url = f"sqlite:///{folder / 'ledger.sqlite'}"
        database = Database(url)
        database.migrate()
        database.close()
        return url

    def copy(self, url: sa.URL, folder: Path) -> str:
        """The file: its last user has brought the journal into it."""
        file = folder / "ledger.sqlite"
        shutil.copy(str(url.database), file)
        return f"sqlite:///{file}"

    def put_back(self, url: sa.URL, old: sa.URL) -> None:
        """One file over the other."""
        shutil.copy(str(old.database), str(url.database))


class PostgresGround:
    """A server whose superuser copies databases from templates, and switches triggers and foreign keys off."""

    def __init__(self, server: OwnPostgres) -> None:
        self._server = server
        self._numbers = count()
        self._made: list[str] = []

    def new(self, folder: Path) -> str:
        """From the migrated template."""
        del folder
        return self._server.url(self._create("migrated"))

    def copy(self, url: sa.URL, folder: Path) -> str:
        """From the database as a template."""
        del folder
        return self._server.url(self._create(str(url.database)))

    def put_back(self, url: sa.URL, old: sa.URL) -> None:
        """Dropped, and made again from the old one."""
        self._admin(f"DROP DATABASE {url.database} WITH (FORCE)")
        self._admin(f"CREATE DATABASE {url.database} TEMPLATE {old.database}")

    def close(self) -> None:
        """Drop everything that was made."""
        for name in self._made:
            self._admin(f"DROP DATABASE {name} WITH (FORCE)")

    def _create(self, template: str) -> str:
        name = f"attacked{next(self._numbers)}"
        self._admin(f"CREATE DATABASE {name} TEMPLATE {template}")
        self._made.append(name)
        return name

    def _admin(self, command: str) -> None:
        engine = sa.create_engine(self._server.url(), isolation_level="AUTOCOMMIT", poolclass=NullPool)
        with engine.connect() as connection:
            connection.exec_driver_sql(command)


@contextmanager
def administrator(url: sa.URL) -> Iterator[Connection]:
    """One transaction of whoever has the database, without the locks that keep entries as they are.

    SQLite's are triggers, which are dropped; foreign keys are kept only by who asks for it. PostgreSQL asks a replica nothing; the next
    entry gets a free id afterwards, as an operator would see to.
    """
    engine = sa.create_engine(url, poolclass=NullPool)
    with engine.begin() as connection:
        if engine.dialect.name == "sqlite":
            for lock in ("entry_no_delete", "entry_no_change"):
                connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {lock}")
            yield connection
        else:
            connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
            yield connection
            connection.exec_driver_sql(
                "SELECT setval(pg_get_serial_sequence('entry', 'id'), max(id)) FROM entry"
            )
