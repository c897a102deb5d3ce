"""Who gives places and signs: one process at a time, by one row and the database's clock.

The lease only saves work; what keeps a second writer out is the epoch. It rises whenever the holder changes,
and whatever a leader writes asks for its own epoch in the same transaction. A process that was stopped in the
middle and wakes after its time finds another epoch, and nothing it does is written, whatever its own clock
says.

The database's clock: the one clock that all hosts of a log share, whatever their own say.

Which hosts serve this log: a row each, that counts for a while by the database's clock.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement

from bailee.errors import Unavailable
from bailee.frozen import frozen
from bailee.store import schema


class now_ms(FunctionElement[int]):  # noqa: N801 - an SQL function
    """Milliseconds since 1970 at the moment the statement runs, not when its transaction began."""

    type = sa.BigInteger()
    inherit_cache = True


@compiles(now_ms)
def _elsewhere(_element: now_ms, _compiler: Any, **_options: Any) -> str:
    return "CAST(EXTRACT(EPOCH FROM clock_timestamp()) * 1000 AS BIGINT)"


@compiles(now_ms, "sqlite")
def _sqlite(_element: now_ms, _compiler: Any, **_options: Any) -> str:
    return "CAST((julianday('now') - 2440587.5) * 86400000.0 AS INTEGER)"


def beat(connection: Connection, host: str, counts_ms: int) -> None:
    """Say that `host` serves this log, for so long."""
    table = schema.host
    until = now_ms() + counts_ms
    known = connection.execute(table.update().where(table.c.id == host).values(until=until))
    if not known.rowcount:
        connection.execute(table.insert().values(id=host, until=until))
        connection.execute(table.delete().where(table.c.until < now_ms()))


def others(connection: Connection, host: str) -> int:
    """How many hosts besides this one serve the log now."""
    table = schema.host.c
    query = sa.select(sa.func.count()).where(table.id != host, table.until >= now_ms())
    return connection.execute(query).scalar() or 0


CODE = "not-leading"
_STATE = schema.log_state.c
_THE_ROW = _STATE.id == 1


@frozen
class Holder:
    """One process. `name` is new at each start; `host` is the same for all processes of one home."""

    name: str
    host: str


@frozen
class Lead:
    """The lead that one process took; `epoch` is its fencing token.

    `lease_ms` is how long it lasts without being renewed.
    """

    holder: Holder
    epoch: int
    lease_ms: int


def take(connection: Connection, me: Holder, lease_ms: int, *, alone: bool) -> Lead | None:
    """Take or renew the lead; None while somebody else has it.

    `alone`: this process has its home's lock, so that no other process of this host is at work, and a dead
    one's lease need not run out. On SQLite no other host is, whatever the row says: it came with a copy.
    """
    may = (_STATE.holder == me.name) | (_STATE.until < now_ms())
    if alone:
        may |= sa.true() if connection.dialect.name == "sqlite" else _STATE.host == me.host
    taken = connection.execute(
        schema.log_state.update()
        .where(_THE_ROW, may)
        .values(
            epoch=sa.case((_STATE.holder == me.name, _STATE.epoch), else_=_STATE.epoch + 1),
            holder=me.name,
            host=me.host,
            until=now_ms() + lease_ms,
        )
    )
    if not taken.rowcount:
        return None
    return Lead(me, connection.execute(sa.select(_STATE.epoch).where(_THE_ROW)).scalar_one(), lease_ms)


def lock(connection: Connection, lead: Lead | None) -> int:
    """The size of the log, which nobody else changes until this transaction ends.

    Without `lead` for repairs, whoever leads.

    Raises `Unavailable` ("not-leading") when the lead has gone to somebody else.
    """
    _let_go_when_stopped(connection, lead)
    query = sa.select(_STATE.size).where(_THE_ROW, *_of(lead)).with_for_update()
    size: int | None = connection.execute(query).scalar()
    if size is None:
        raise lost()
    return size


def holds(connection: Connection, lead: Lead) -> bool:
    """Whether nobody else has taken the lead since."""
    return connection.execute(sa.select(_STATE.id).where(_THE_ROW, *_of(lead))).first() is not None


def advance(connection: Connection, lead: Lead | None, old: int, new: int, root: bytes) -> None:
    """From size `old` to `new`, once: raises `Unavailable` ("not-leading") when anybody else was faster."""
    moved = connection.execute(
        schema.log_state.update().where(_THE_ROW, _STATE.size == old, *_of(lead)).values(size=new, root=root)
    )
    if moved.rowcount != 1:
        raise lost()


def leads_beside(connection: Connection, me: Holder) -> bool:
    """Whether another process of the same host had the lead last: what is shown here is then its affair."""
    beside = sa.select(_STATE.id).where(_THE_ROW, _STATE.host == me.host, _STATE.holder != me.name)
    return connection.execute(beside).first() is not None


def is_free(connection: Connection, me: Holder) -> bool:
    """Whether nobody else leads now."""
    free = sa.select(_STATE.id).where(_THE_ROW, (_STATE.holder == me.name) | (_STATE.until < now_ms()))
    return connection.execute(free).first() is not None


def leave(connection: Connection, me: Holder) -> None:
    """End the lease, so that the next one need not wait for its time to run out."""
    connection.execute(schema.log_state.update().where(_THE_ROW, _STATE.holder == me.name).values(until=0))


def leave_all(connection: Connection) -> None:
    """In a copy of a database: no process or host of the original is here."""
    connection.execute(schema.log_state.update().where(_THE_ROW).values(until=0))
    connection.execute(schema.host.delete())


def lost() -> Unavailable:
    """The lead is somebody else's now."""
    return Unavailable(
        "Another process publishes this log now: nothing more is written here until it is this one's turn"
        " again.",
        code=CODE,
    )


def _of(lead: Lead | None) -> list[sa.ColumnElement[bool]]:
    return [] if lead is None else [_STATE.holder == lead.holder.name, _STATE.epoch == lead.epoch]


def _let_go_when_stopped(connection: Connection, lead: Lead | None) -> None:
    """A process that is stopped in the middle must not keep the row for longer than its lease."""
    if lead is not None and connection.dialect.name == "postgresql":
        said = sa.func.set_config("idle_in_transaction_session_timeout", f"{lead.lease_ms}ms", True)  # noqa: FBT003
        connection.execute(sa.select(said))
