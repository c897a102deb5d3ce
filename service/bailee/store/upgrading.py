"""Which tables a program can work with, and how a database comes from one form to the next while it is used.

Expand, then contract. First a migration adds what a newer program wants and takes nothing away: programs that
know the tables as they were go on beside it (`kind = "expand"`). Rows are then filled in batches, each a
short transaction of its own (`fill`), until none is left that wants it (`unfilled`). A release later, when
nobody needs the old form any more, another migration takes it away (`kind = "contract"`) and writes into
`program_range` which migration a program must know from then on. What says nothing of its kind wants the
service stopped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import DBAPIError

from bailee.errors import Unavailable
from bailee.frozen import frozen

OLDEST_TABLES: Final = "0013"
"""The oldest form of the tables that this program works with: it may be started before `bailee migrate`."""
BATCH: Final = 5000
LOCK_S: Final = 2
"""How long a migration waits for others on PostgreSQL before it gives up, so that they never wait for it."""
_LOCKED: Final = "55P03"  # lock_not_available (PostgreSQL, appendix A)
_TURN: Final = 0x62_61_69_6C_65_65
"""The number of the lock that a migration holds: "bailee" in ASCII."""
_STOPPED: Final = "all tables, until it is done"
_ROWS: Final = f"{BATCH} rows at a time"


@frozen
class Migration:
    """One migration that is still to be done; `locks` says what others wait for meanwhile, and how long."""

    revision: str
    says: str
    kind: str
    locks: str

    @property
    def beside(self) -> bool:
        """Whether a service may run meanwhile."""
        return self.kind == "expand"


def migrations_folder() -> Path:
    """Where the migrations are: inside the installed package, or at the top of a checkout."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "migrations"
    return inside if inside.is_dir() else package.parent.parent / "migrations"


def newest_known() -> str:
    """The newest migration this program knows: their files begin with their numbers.

    A service starts without the tool that runs them.
    """
    return max(path.name.partition("_")[0] for path in _files())


def require_fitting(connection: Connection) -> None:
    """Raise `Unavailable` ("no-database", "needs-migration", "needs-program") unless this program can work
    with the tables as they are: older by no more than it says, newer by no more than they say.
    """
    if not sa.inspect(connection).has_table("alembic_version"):
        raise Unavailable(
            "This database holds no ledger: run `bailee init` first, or correct its address (`database` in"
            " the settings).",
            code="no-database",
        )
    here = _version(connection)
    if here is None or here < OLDEST_TABLES:
        raise Unavailable(
            "This ledger is of an older version of Bailee: make a backup with that one, end its service, then"
            " run `bailee migrate`.",
            code="needs-migration",
        )
    oldest = connection.execute(sa.text("SELECT oldest FROM program_range")).scalar()
    if newest_known() < str(oldest):
        raise Unavailable(
            "This ledger is of a newer version of Bailee, and this one would misread it: install that one"
            " here too.",
            code="needs-program",
        )


def pending(connection: Connection) -> list[Migration]:
    """What is still to be done, in order."""
    here = _version(connection) if sa.inspect(connection).has_table("alembic_version") else None
    undone = [_step(each) for each in _modules() if here is None or each.revision > here]
    return [*(unfilled(connection) if here else ()), *undone]


def unfilled(connection: Connection) -> list[Migration]:
    """Migrations that are done but for rows that are still to be filled: one was interrupted, or an older
    program has added more since.
    """
    if not fills_rows():
        return []
    here = _version(connection) or ""
    left = [each for each in _filling(connection) if each.revision <= here and each.unfilled(connection)]
    return [
        replace(
            _step(each), kind="expand", says=f"Rows are still to be filled. {_step(each).says}", locks=_ROWS
        )
        for each in left
    ]


def migrate(engine: Engine) -> None:
    """Create or upgrade the tables, all of it or nothing, then fill what is to be filled.

    What was interrupted goes on when it is asked for again. Raises `Unavailable` ("migration-waits",
    "migration-runs").
    """
    from alembic import command

    with engine.execution_options(bailee_writes=True).connect() as connection:
        connection.begin()  # of all of them: what one refuses leaves the tables to whoever wrote them
        if connection.dialect.name == "postgresql":
            _take_turn(connection)
        config = alembic_config()
        config.attributes["connection"] = connection
        try:
            command.upgrade(config, "head")
            connection.commit()
        except DBAPIError as error:
            if getattr(error.orig, "sqlstate", None) != _LOCKED:
                raise
            raise Unavailable(
                f"Another connection has used a table for more than {LOCK_S} s, and nothing was changed: no"
                " one waits for it. Try again when less is going on, and end long questions to the database.",
                code="migration-waits",
            ) from error
        filling = _filling(connection)
    for module in filling:
        _fill(engine, module.fill)


def _take_turn(connection: Connection) -> None:
    """Begin the transaction of all migrations on PostgreSQL: of two programs only one has it.

    What is set ends with it: behind a pooler the connection is another's next.
    """
    connection.execute(sa.text(f"SET LOCAL lock_timeout = '{LOCK_S}s'"))
    if not connection.execute(sa.text(f"SELECT pg_try_advisory_xact_lock({_TURN})")).scalar():
        raise Unavailable(
            "Another `bailee migrate` is at work on this database, and this one changed nothing: type it"
            " again when that has ended.",
            code="migration-runs",
        )


def _fill(engine: Engine, fill: Callable[[Connection, int], int]) -> None:
    """Batch after batch, each in its own transaction, until one finds nothing more to do."""
    count = BATCH
    while count:
        with engine.execution_options(bailee_writes=True).begin() as connection:
            count = fill(connection, BATCH)


def alembic_config() -> Any:
    """How the tool that runs migrations finds them."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations_folder()).replace("%", "%%"))
    return config


def _modules() -> list[ModuleType]:
    """The migrations, oldest first."""
    from alembic.script import ScriptDirectory

    found = [each.module for each in ScriptDirectory.from_config(alembic_config()).walk_revisions()]
    return found[::-1]


def fills_rows() -> bool:
    """Whether any migration does; where none does, neither the tool that runs them nor the database is
    asked.
    """
    return any("\ndef fill(" in path.read_text("utf-8") for path in _files())


def _filling(connection: Connection) -> list[ModuleType]:
    """Those that fill rows, but for those whose old form is gone."""
    oldest = connection.execute(sa.text("SELECT oldest FROM program_range")).scalar()
    return [each for each in _modules() if hasattr(each, "fill") and each.revision >= str(oldest)]


def _files() -> Iterator[Path]:
    return (migrations_folder() / "versions").glob("[0-9]*_*.py")


def _step(module: ModuleType) -> Migration:
    kind = getattr(module, "kind", "stopped")
    says = " ".join((module.__doc__ or "").split())
    return Migration(module.revision, says, kind, getattr(module, "locks", _STOPPED))


def _version(connection: Connection) -> str | None:
    found = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)
