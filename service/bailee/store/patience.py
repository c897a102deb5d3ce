"""How long the service waits for PostgreSQL: for a connection, a statement, a lock, an answer.

A database that is gone refuses at once. One that is cut off neither refuses nor answers, and without a
deadline at each place where something is waited for, every thread of the service waits with it. What the
server can end it ends itself (statement, lock, a transaction that nobody goes on with); what only the client
can notice is noticed here. Once it is known that nobody answers, one thread at a time asks again and the
others are told so at once: else each request of a long queue would wait the whole time anew. Behind a pooler
that hands a connection out for one transaction nothing may be left in the session: the server's deadlines are
then set in each transaction, and no statement is prepared on the server.
"""

from __future__ import annotations

import threading
from collections.abc import Generator
from time import monotonic
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import Connection, Engine, ExceptionContext

from bailee.frozen import frozen

_KEPT_ALIVE: Final = {"keepalives_idle": 10, "keepalives_interval": 5, "keepalives_count": 3}
_BACKGROUND: Final = 2
"""Threads besides those that answer: one gives places, one asks cosigners."""
_NOT_HERE_ANY_MORE: Final = frozenset({"25006", "25P03", "57P01", "57P02", "57P03"})
"""A primary that became a standby, a transaction that was given up on, a server that is being stopped:
connect anew."""


@frozen
class Patience:
    """Seconds.

    `pool`: for a free connection; `connect`; `statement` and `lock`: by the server; `answer`: by this side,
    for one answer.

    A connection from the pool is asked first whether it lives, and that takes no longer than making another
    one may (`connect`). So `pool`, twice `connect`, or `pool`, `connect` and `answer` can follow each other
    in one request; what fails then ends it.
    """

    pool: float
    connect: int
    statement: float
    lock: float
    answer: float
    idle: float

    @classmethod
    def within(cls, seconds: float) -> Patience:
        """So that a request ends within `seconds` (7 or more) when the database does not answer: 4, 3, 8, 5,
        10 and 20 s of 20.
        """
        least_of_libpq = 2
        return cls(
            pool=seconds / 5,
            connect=max(least_of_libpq, round(seconds * 0.15)),
            statement=seconds * 0.4,
            lock=seconds / 4,
            answer=seconds / 2,
            idle=seconds,
        )

    @property
    def of_the_server(self) -> dict[str, int]:
        """PostgreSQL's own deadlines, in milliseconds."""
        return {
            "statement_timeout": round(self.statement * 1000),
            "lock_timeout": round(self.lock * 1000),
            "idle_in_transaction_session_timeout": round(self.idle * 1000),
        }


def postgres(url: sa.URL, patience: Patience | None, threads: int, *, pooler: bool) -> Engine:
    """An engine for a service with so many threads; without `patience` for a command that may take its time.

    What the address says itself (`?connect_timeout=…`) stays as it is.
    """
    said: dict[str, Any] = {"connect_timeout": patience.connect if patience else 10, **_KEPT_ALIVE}
    if patience:
        said["tcp_user_timeout"] = round(patience.answer * 1000)
    if pooler:
        said["prepare_threshold"] = None
    elif patience:
        ours = " ".join(f"-c {name}={value}" for name, value in patience.of_the_server.items())
        said["options"] = f"{ours} {url.query.get('options', '')}".strip()
    arguments = {name: value for name, value in said.items() if name == "options" or name not in url.query}
    engine = sa.create_engine(
        url, pool_size=threads + _BACKGROUND, max_overflow=0, pool_pre_ping=True, hide_parameters=True,
        pool_timeout=patience.pool if patience else 30, connect_args=arguments,
    )  # fmt: skip
    event.listen(engine, "handle_error", _connect_anew)
    if patience:
        event.listen(engine, "do_connect", _connecting(patience))
        if pooler:
            event.listen(engine, "begin", _deadlines_of_the_transaction(patience))
    return engine


def _connect_anew(context: ExceptionContext) -> None:
    if getattr(context.original_exception, "sqlstate", None) in _NOT_HERE_ANY_MORE:
        context.is_disconnect = True


def _deadlines_of_the_transaction(patience: Patience) -> Any:
    each = (f"set_config('{name}', '{value}', true)" for name, value in patience.of_the_server.items())
    statement = f"SELECT {', '.join(each)}"

    def begin(connection: Connection) -> None:
        connection.exec_driver_sql(statement)

    return begin


def _connecting(patience: Patience) -> Any:
    """How connections are made.

    After one that nobody answered, by one thread at a time, until somebody answers.
    """
    import psycopg

    impatient = _impatient(patience)
    turn, is_silent = threading.Lock(), threading.Event()

    def connect(_dialect: Any, _record: Any, arguments: Any, named: dict[str, Any]) -> Any:
        again = is_silent.is_set()
        if again and not turn.acquire(blocking=False):
            raise psycopg.OperationalError("the database does not answer, and another thread asks it again")
        until = monotonic() + patience.connect
        try:
            made = impatient.connect(*arguments, **named)
        except psycopg.Error:
            # By time and not by kind: of several addresses the last may refuse, and the first have said
            # nothing.
            (is_silent.set if monotonic() >= until else is_silent.clear)()
            raise
        else:
            is_silent.clear()
            return made
        finally:
            if again:
                turn.release()

    return connect


def _impatient(patience: Patience) -> Any:
    """Connections that give up on an answer: neither TCP's own deadlines nor the server's help when a server
    is there and says nothing.
    """
    import psycopg

    class Impatient(psycopg.Connection[Any]):
        """Closes itself when one answer takes longer."""

        def wait(self, gen: Any, *arguments: Any, **more: Any) -> Any:
            # Outside a transaction nothing is asked but whether the connection lives.
            seconds = patience.connect if self.autocommit else patience.answer
            return super().wait(self._ending(gen, seconds), *arguments, **more)

        def _ending(self, gen: Any, seconds: float) -> Generator[Any, Any, Any]:
            end = monotonic() + seconds
            try:
                wanted = gen.send(None)
                while True:
                    ready = yield wanted
                    if not ready and monotonic() > end:
                        self.pgconn.finish()
                        raise psycopg.OperationalError("the database does not answer")
                    wanted = gen.send(ready)
            except StopIteration as done:
                return done.value

    return Impatient
