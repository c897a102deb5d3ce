"""One database: SQLite beside the service, or PostgreSQL, by the same code.

Why the odd constraints: a statement that was acknowledged must survive a power cut, so SQLite runs with WAL and
`synchronous=FULL`; SQLite has one writer, so one process writes and its threads queue on a lock instead of
polling; and a transaction that lost a race is simply run again, because nothing it does is visible before it commits.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Any, Final, TypeVar

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError, ProgrammingError

from bailee.errors import Unavailable

R = TypeVar("R")

_ATTEMPTS: Final = 8
_RACE: Final = frozenset({"40001", "40P01", "23505", "P0001"})
"""Serialization failure, deadlock, two inserts of one key, and the lock on entries that have their place: run again, see what the other did."""


class Database:
    """An engine that knows how to read, how to write once, and whether it has been set up."""

    def __init__(self, url: str) -> None:
        self.url = sa.engine.make_url(url)
        self.is_sqlite = self.url.get_backend_name() == "sqlite"
        self.engine = _engine(self.url)
        self._writer = self.engine.execution_options(bailee_writes=True)
        self._writing: Any = threading.Lock() if self.is_sqlite else nullcontext()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A consistent look at the database."""
        with self.engine.connect() as connection, connection.begin():
            yield connection

    def write(self, work: Callable[[Connection], R]) -> R:
        """Run `work` in one transaction, durable when this returns; run it again when it lost a race.

        Raises `Unavailable` when the database cannot take it (full disk, gone server): then nothing was stored.
        """
        for attempt in range(_ATTEMPTS):
            try:
                with self._writing, self._writer.connect() as connection, connection.begin():
                    return work(connection)
            except (OperationalError, IntegrityError, ProgrammingError) as error:
                if attempt == _ATTEMPTS - 1 or not _lost_a_race(error):
                    raise _unavailable(error) from error
                time.sleep(0.002 * 2**attempt)
        raise AssertionError("unreachable")  # pragma: no cover

    def require_ready(self) -> None:
        """Raise `Unavailable` unless the database exists and its tables are those of this version."""
        if self.is_sqlite and not (self.url.database and Path(self.url.database).exists()):
            raise Unavailable(
                f"There is no ledger at {self.url.database}: run `bailee init` first, or correct the path.",
                code="no-database",
            )
        try:
            with self.reading() as connection:
                found = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
        except (OperationalError, ProgrammingError) as error:
            raise Unavailable(
                "This database holds no ledger, or cannot be reached: run `bailee init` first, or correct the address.",
                code="no-database",
            ) from error
        if found != migration_head():
            raise Unavailable(
                "This ledger was made by another version of Bailee: run `bailee migrate` first.",
                code="needs-migration",
            )

    def migrate(self) -> None:
        """Create or upgrade the tables."""
        from alembic import command

        with self.engine.connect() as connection:
            config = _alembic()
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            connection.commit()

    def close(self) -> None:
        """Give back all connections."""
        self.engine.dispose()


def migrations_folder() -> Path:
    """Where the migrations are: inside the installed package, or at the top of a checkout."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "migrations"
    return inside if inside.is_dir() else package.parent.parent / "migrations"


def migration_head() -> str | None:
    """The newest migration this program knows."""
    from alembic.script import ScriptDirectory

    return ScriptDirectory.from_config(_alembic()).get_current_head()


def _alembic() -> Any:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations_folder()).replace("%", "%%"))
    return config


def _engine(url: sa.URL) -> Engine:
    if url.get_backend_name() != "sqlite":
        return sa.create_engine(url, pool_size=8, max_overflow=8, pool_pre_ping=True, hide_parameters=True)
    engine = sa.create_engine(
        url, pool_size=8, max_overflow=8, hide_parameters=True, connect_args={"timeout": 30}
    )
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # the driver must not open transactions by itself
    for pragma in (
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
        "secure_delete=ON",  # what is erased is overwritten
        "busy_timeout=30000",
        "cache_size=-16384",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("bailee_writes", False)
    connection.connection.cursor().execute("BEGIN IMMEDIATE" if writes else "BEGIN")


def _lost_a_race(error: DBAPIError) -> bool:
    state = getattr(error.orig, "sqlstate", None)
    return state in _RACE or isinstance(error, IntegrityError) or "locked" in str(error.orig)


def _unavailable(error: DBAPIError) -> Unavailable:
    return Unavailable(
        "The ledger could not store this just now. Nothing was recorded: try again, and tell the operator if it stays so.",
        code="store-failed",
        kind=type(error.orig).__name__,
    )
