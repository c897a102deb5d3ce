"""One database: SQLite beside the service, or PostgreSQL, by the same code.

Why the odd constraints: a statement that was acknowledged must survive a power cut, so SQLite runs with WAL
and `synchronous=FULL`; SQLite has one writer, so one process writes and its threads queue on a lock instead
of polling; and a transaction that lost a race is simply run again, because nothing it does is visible before
it commits.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, TypeVar

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import (
    DBAPIError,
    IntegrityError,
    InterfaceError,
    OperationalError,
    SQLAlchemyError,
)

from bailee.disk import systems
from bailee.errors import Unavailable
from bailee.store import upgrading
from bailee.store.patience import Patience, postgres

R = TypeVar("R")

_ATTEMPTS: Final = 8
_AWAY: Final = "database-away"
_POOLED: Final = "unsupported startup parameter"
"""What PgBouncer says to whoever brings deadlines for a whole session; it never changes its mind."""
_RACE: Final = frozenset({"40001", "40P01", "23505", "P0001"})
"""Serialization failure, deadlock, two inserts of one key, and the lock on entries that have their place: run
again, see what the other did."""


class Database:
    """An engine that knows how to read, how to write once, and whether it has been set up.

    `patience` is for a service, whose `threads` must not wait for ever; a command that may take its time has
    none. `pooler`: PostgreSQL is reached through one that hands out a connection for one transaction at a
    time.
    """

    def __init__(
        self, url: str, patience: Patience | None = None, *, threads: int = 6, pooler: bool = False
    ) -> None:
        self.url = sa.engine.make_url(url)
        self.is_sqlite = self.url.get_backend_name() == "sqlite"
        self.engine = (
            _sqlite(self.url, patience, threads)
            if self.is_sqlite
            else postgres(self.url, patience, threads, pooler=pooler)
        )
        self._writer = self.engine.execution_options(bailee_writes=True)
        self._writing = threading.Lock() if self.is_sqlite else None
        self._turn_s = patience.pool + patience.answer if patience else -1.0
        self._is_unseen = False

    @property
    def shown(self) -> str:
        """Its address for people to read: no password stands in it."""
        return self.url.difference_update_query(["password", "sslpassword"]).render_as_string()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A consistent look at the database.

        Raises `Unavailable` (`database-away`) when it does not answer.
        """
        try:
            with self.engine.connect() as connection, connection.begin():
                self._look_once(connection)
                yield connection
        except (DBAPIError, sa.exc.TimeoutError) as error:
            if _is_away(error):
                raise _unreadable(error) from error
            raise

    def write(self, work: Callable[[Connection], R]) -> R:
        """Run `work` in one transaction, durable when this returns; run it again when it lost a race.

        Raises `Unavailable` when the database cannot take it (full disk, gone server). Then nothing was
        stored, but when the connection was lost: who sends the same again learns what became of it.
        """
        end = time.monotonic() + self._turn_s if self._turn_s > 0 else math.inf
        for attempt in range(_ATTEMPTS):
            try:
                with self._turn(), self._writer.connect() as connection, connection.begin():
                    self._look_once(connection)
                    return work(connection)
            except (DBAPIError, sa.exc.TimeoutError) as error:
                lost = _lost_a_race(error)
                if not lost and not _is_away(error):
                    raise
                if attempt == _ATTEMPTS - 1 or not lost or time.monotonic() > end:
                    raise _unwritten(error) from error
                time.sleep(0.002 * 2**attempt)
        raise AssertionError("unreachable")  # pragma: no cover

    @contextmanager
    def _turn(self) -> Iterator[None]:
        """SQLite's one writer at a time; PostgreSQL needs no turns."""
        if self._writing is None:
            yield
            return
        if not self._writing.acquire(timeout=self._turn_s):
            raise _unwritten(None)
        try:
            yield
        finally:
            self._writing.release()

    def require_ready(self, *, now: bool = True) -> None:
        """Raise `Unavailable` unless the database exists and this program can work with its tables.

        Without `now` a database that does not answer is looked at when it does, before anything else is asked
        of it.
        """
        if self.is_sqlite and not (self.url.database and Path(self.url.database).exists()):
            raise Unavailable(
                f"There is no ledger at {self.url.database}: run `bailee init` first, or correct the path.",
                code="no-database",
            )
        try:
            with self.reading() as connection:
                upgrading.require_fitting(connection)
        except Unavailable as error:
            if error.code != _AWAY:
                raise
            if now:
                raise Unavailable(
                    "The database cannot be reached: start it, or correct its address (`database` in the"
                    " settings).",
                    code="no-database",
                ) from error
            self._is_unseen = True

    def _look_once(self, connection: Connection) -> None:
        if self._is_unseen:
            upgrading.require_fitting(connection)
            self._is_unseen = False

    def migrate(self) -> None:
        """Create or upgrade the tables.

        Raises `Unavailable` as `upgrading.migrate` does, and when the database cannot take it.
        """
        try:
            upgrading.migrate(self.engine)
        except (DBAPIError, sa.exc.TimeoutError) as error:
            if _is_away(error):
                raise _unwritten(error) from error
            raise

    def pending(self) -> list[upgrading.Migration]:
        """The migrations that are still to be done. Raises `Unavailable` as `reading` does."""
        with self.reading() as connection:
            return upgrading.pending(connection)

    def close(self) -> None:
        """Give back all connections."""
        self.engine.dispose()


def _sqlite(url: sa.URL, patience: Patience | None, threads: int) -> Engine:
    wait_s = patience.lock if patience else 30  # for another process; threads of this one take turns
    engine = sa.create_engine(
        url, pool_size=threads + 2, max_overflow=10, hide_parameters=True, connect_args={"timeout": wait_s},
        pool_timeout=patience.pool if patience else 30, pool_use_lifo=True,
    )  # fmt: skip
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
        "cache_size=-2048",  # kB of each connection for good; the system keeps more, once for all of them
        *systems.OF_SQLITE,
    ):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("bailee_writes", False)
    connection.connection.cursor().execute("BEGIN IMMEDIATE" if writes else "BEGIN")


def _lost_a_race(error: SQLAlchemyError) -> bool:
    if not isinstance(error, DBAPIError):
        return False
    state = getattr(error.orig, "sqlstate", None)
    return state in _RACE or isinstance(error, IntegrityError) or "locked" in str(error.orig)


def _is_away(error: SQLAlchemyError) -> bool:
    """Whether it is the database that fails and not what was asked of it: gone, cut off, full, too slow, or
    no connection is free.
    """
    if isinstance(error, DBAPIError):
        return isinstance(error, OperationalError | InterfaceError) or error.connection_invalidated
    return True


def _kind(error: SQLAlchemyError) -> str:
    return type(error.orig if isinstance(error, DBAPIError) else error).__name__


def _unreadable(error: SQLAlchemyError) -> Unavailable:
    if isinstance(error, DBAPIError) and _POOLED in str(error.orig):
        return Unavailable(
            "A pooler stands before this database: set `pooler = true` in the settings, then start the"
            " service again.",
            code="pooler-not-set",
        )
    return Unavailable(
        "The ledger's database does not answer just now. Nothing is lost: ask again in a moment, and call the"
        " operator if this continues.",
        code=_AWAY,
        kind=_kind(error),
    )


def _unwritten(error: SQLAlchemyError | None) -> Unavailable:
    if isinstance(error, DBAPIError) and error.connection_invalidated:
        said = "The connection to the ledger's database broke, and whether this was recorded is not known. "
        do = (
            "Send the same again: what was recorded is not recorded twice. Call the operator if this"
            " continues."
        )
    else:
        said = "The ledger could not store this just now. Nothing was recorded: "
        do = "try again, and call the operator if this continues."
    kind = _kind(error) if error else "busy"
    return Unavailable(said + do, code="store-failed", kind=kind)
