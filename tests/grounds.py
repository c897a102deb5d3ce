"""Where ledgers lie, ready to begin with, and what their database's administrator can do: SQLite's file, or a
PostgreSQL of our own.

    url = migrated(folder / "ledger.sqlite")     # a fresh database
    field = SqliteGround().founded(folder)       # a firm, a laboratory and their people, before a real app

Migrating and founding are done once in a process; each test gets a copy of the files, so that no test sees
another one's traces.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Protocol

import sqlalchemy as sa
from sqlalchemy.engine import Connection
from sqlalchemy.pool import NullPool

from bailee.store.database import Database
from field import Device, Field, make_home
from own_postgres import OwnPostgres

FILE = "ledger.sqlite"


def migrated(file: Path) -> str:
    """The address of a fresh, migrated SQLite database at `file`."""
    file.write_bytes(_migrated())
    return f"sqlite:///{file}"


@dataclass(frozen=True)
class Founded:
    """Everybody has joined and nothing has been sampled: what lies in the service's home, and what each
    device knows.
    """

    home: Mapping[str, bytes]
    roots: Mapping[str, Device]
    people: Mapping[str, Device]

    @classmethod
    def at(cls, home: Path, url: str) -> Founded:
        """Played, over a fresh database that nobody is connected to afterwards."""
        field = Field(make_home(home, url))
        field.ledger.database.close()
        files = {str(each.relative_to(home)): each.read_bytes() for each in home.rglob("*") if each.is_file()}
        return cls(files, field.roots, field.people)

    def again(self, home: Path, url: str) -> Field:
        """In another home, before a copy of that database."""
        for name, content in self.home.items():
            (home / name).parent.mkdir(parents=True, exist_ok=True)
            (home / name).write_bytes(content)
        field = Field(make_home(home, url), start=False)
        field.roots, field.people = deepcopy((dict(self.roots), dict(self.people)))
        for device in (*field.roots.values(), *field.people.values()):
            device.clock = field.clock
        return field


@cache
def _migrated() -> bytes:
    with TemporaryDirectory() as folder:
        file = Path(folder) / FILE
        database = Database(f"sqlite:///{file}")
        database.migrate()
        database.close()
        return file.read_bytes()


@cache
def _founded() -> tuple[Founded, bytes]:
    with TemporaryDirectory() as folder:
        file = Path(folder) / FILE
        found = Founded.at(Path(folder) / "home", migrated(file))
        return found, file.read_bytes()


@cache
def _founded_in(server: OwnPostgres) -> Founded:
    """In a database `founded` of that server."""
    _admin(server, "CREATE DATABASE founded TEMPLATE migrated STRATEGY file_copy")
    with TemporaryDirectory() as folder:
        return Founded.at(Path(folder) / "home", server.url("founded"))


@cache
def superuser_of(server: OwnPostgres) -> sa.Engine:
    """One connection for all databases that are made and dropped; whoever stops the server disposes of it."""
    return sa.create_engine(server.url(), isolation_level="AUTOCOMMIT", pool_size=1, pool_pre_ping=True)


def _admin(server: OwnPostgres, *commands: str) -> None:
    with superuser_of(server).connect() as connection:
        for each in commands:
            connection.exec_driver_sql(each)


class Ground(Protocol):
    """A kind of database, to somebody who has the machine.

    Addresses are SQLAlchemy's; nobody may be connected to what is copied.
    """

    def new(self, folder: Path) -> str:
        """The address of a fresh, migrated database."""

    def founded(self, folder: Path) -> Field:
        """A firm and a laboratory, everybody enrolled.

        The service's home and perhaps its database lie in the folder.
        """

    def copy(self, url: sa.URL, folder: Path) -> str:
        """The address of a second database with the same contents."""

    def put_back(self, url: sa.URL, old: sa.URL) -> None:
        """What lies at `old` comes in the place of what lies at `url`."""


class SqliteGround:
    """A file: copied, put back and written to by SQLite itself."""

    def new(self, folder: Path) -> str:
        """In the machine's folder."""
        return migrated(folder / FILE)

    def founded(self, folder: Path) -> Field:
        """From the files of one that was founded before."""
        found, content = _founded()
        (folder / FILE).write_bytes(content)
        return found.again(folder / "home", f"sqlite:///{folder / FILE}")

    def copy(self, url: sa.URL, folder: Path) -> str:
        """The file: its last user has brought the journal into it."""
        file = folder / FILE
        shutil.copy(str(url.database), file)
        return f"sqlite:///{file}"

    def put_back(self, url: sa.URL, old: sa.URL) -> None:
        """One file over the other."""
        shutil.copy(str(old.database), str(url.database))


class PostgresGround:
    """A server whose superuser copies databases from templates, and switches triggers and
    foreign keys off.
    """

    def __init__(self, server: OwnPostgres) -> None:
        self._server = server
        self._numbers = count()
        self._made: list[str] = []

    def new(self, folder: Path) -> str:
        """From the migrated template."""
        del folder
        return self._server.url(self._create("migrated"))

    def founded(self, folder: Path) -> Field:
        """From a template that was founded before."""
        found = _founded_in(self._server)
        return found.again(folder / "home", self._server.url(self._create("founded")))

    def copy(self, url: sa.URL, folder: Path) -> str:
        """From the database as a template."""
        del folder
        return self._server.url(self._create(str(url.database)))

    def put_back(self, url: sa.URL, old: sa.URL) -> None:
        """Dropped, and made again from the old one."""
        _admin(
            self._server,
            f"DROP DATABASE {url.database} WITH (FORCE)",
            f"CREATE DATABASE {url.database} TEMPLATE {old.database} STRATEGY file_copy",
        )

    def close(self) -> None:
        """Drop everything that was made."""
        if self._made:
            _admin(self._server, *(f"DROP DATABASE {name} WITH (FORCE)" for name in self._made))

    def _create(self, template: str) -> str:
        name = f"ground{next(self._numbers)}"
        _admin(self._server, f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY file_copy")
        self._made.append(name)
        return name


@contextmanager
def administrator(url: sa.URL) -> Iterator[Connection]:
    """One transaction of whoever has the database, without the locks that keep entries as they are.

    SQLite's are triggers, which are dropped; foreign keys are kept only by who asks for it. PostgreSQL asks a
    replica nothing; the next entry gets a free id afterwards, as an operator would see to.
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
