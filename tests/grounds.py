"""Where ledgers lie, ready to begin with, and what their database's administrator can do: SQLite's file, or a
PostgreSQL of our own.

    url = migrated(folder / "ledger.sqlite")     # a fresh database
    field, told = SqliteGround().after(Field.faultless, folder)   # a whole visit, before a real application

Migrating and every such story are done once in a process; each test gets a copy of the files, so that no
test sees another one's traces.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Protocol

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Connection
from sqlalchemy.pool import NullPool

from bailee.store.database import Database
from field import Field, make_home
from own_postgres import OwnPostgres
from thorough import THOROUGH

FILE = "ledger.sqlite"
on_any = pytest.mark.parametrize("ground", ["sqlite", *(["postgresql"] if THOROUGH else [])], indirect=True)
"""For tests of what no database can change, files and words, and of what asks a database nothing that others
do not ask of both: in every run SQLite is enough."""


def migrated(file: Path) -> str:
    """The address of a fresh, migrated SQLite database at `file`."""
    file.write_bytes(_migrated())
    return f"sqlite:///{file}"


Story = Callable[[Field], Any]
"""What happens once everybody has joined; what it returns is kept."""
After = Callable[[Story], tuple[Field, Any]]
"""Makes a field in which a story has happened, and tells what the story told."""


@dataclass(frozen=True)
class Past:
    """What a story left: what lies in the service's home, what devices and dice know, the time, and what was
    told.
    """

    home: Mapping[str, bytes]
    known: Any
    told: Any

    @classmethod
    def of(cls, field: Field, told: Any = None) -> Past:
        """The service stops and is forgotten; nobody is connected to its database afterwards."""
        field.ledger.sequencer.stop()
        with field.ledger.database.engine.begin() as connection:
            connection.exec_driver_sql("DELETE FROM host")
        field.ledger.database.close()
        home = field.ledger.settings.home
        files = {str(each.relative_to(home)): each.read_bytes() for each in home.rglob("*") if each.is_file()}
        return cls(files, deepcopy((field.clock, field.memory)), told)

    def again(self, home: Path, url: str, **settings: Any) -> tuple[Field, Any]:
        """In another home, before a copy of that database, perhaps under other settings."""
        for name, content in self.home.items():
            (home / name).parent.mkdir(parents=True, exist_ok=True)
            (home / name).write_bytes(content)
        clock, memory = deepcopy(self.known)
        field = Field(make_home(home, url, **settings), start=False, clock=clock)
        field.memory = memory
        return field, deepcopy(self.told)


def founding(field: Field) -> None:
    """Everybody has joined, and nothing has been sampled."""
    field.found()


@cache
def _migrated() -> bytes:
    with TemporaryDirectory() as folder:
        file = Path(folder) / FILE
        database = Database(f"sqlite:///{file}")
        database.migrate()
        database.close()
        return file.read_bytes()


@cache
def _played(story: Story) -> tuple[Past, bytes]:
    with TemporaryDirectory() as folder:
        file = Path(folder) / FILE
        if story is founding:
            field = Field(make_home(Path(folder) / "home", migrated(file)), start=False)
        else:
            field, _ = SqliteGround().after(founding, Path(folder))
        past = Past.of(field, story(field))
        return past, file.read_bytes()


@cache
def played_in(server: OwnPostgres, story: Story) -> tuple[Past, str]:
    """What it left in a server, and the name of the database to copy."""
    name = f"past{played_in.cache_info().misses}"
    with TemporaryDirectory() as folder:
        home = Path(folder) / "home"
        template = "migrated" if story is founding else played_in(server, founding)[1]
        _admin(server, f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY file_copy")
        if story is founding:
            field = Field(make_home(home, server.url(name)), start=False)
        else:
            field, _ = played_in(server, founding)[0].again(home, server.url(name))
        return Past.of(field, story(field)), name


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

    def empty(self) -> str | None:
        """The address of a database without a table; None where it is a file that is not there yet."""

    def after(self, story: Story, folder: Path, **settings: Any) -> tuple[Field, Any]:
        """Everybody has joined, and a story has happened: before it, and what it told.

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

    def empty(self) -> None:
        """A file is made by whoever writes it."""

    def after(self, story: Story, folder: Path, **settings: Any) -> tuple[Field, Any]:
        """From the files of one in which it was played before."""
        past, content = _played(story)
        (folder / FILE).write_bytes(content)
        return past.again(folder / "home", f"sqlite:///{folder / FILE}", **settings)

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

    def empty(self) -> str:
        """From PostgreSQL's own template."""
        return self._server.url(self._create("template0"))

    def after(self, story: Story, folder: Path, **settings: Any) -> tuple[Field, Any]:
        """From a template in which it was played before."""
        past, template = played_in(self._server, story)
        return past.again(folder / "home", self._server.url(self._create(template)), **settings)

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
