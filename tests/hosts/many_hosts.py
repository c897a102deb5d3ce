"""Several hosts of one log in one process: each with a home of its own, all with one PostgreSQL."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.pool import NullPool

from bailee.app import create_app
from bailee.operations.ledger import Ledger
from field import make_home
from grounds import founding, played_in
from own_postgres import OwnPostgres

LEASE_MS = 600_000
"""So long that none runs out by itself on the slowest machine: `time_out` ends it."""


class Hosts:
    """`first` takes statements; `another` is a host more, made of a copy of its home."""

    def __init__(self, folder: Path, postgres: OwnPostgres, name: str) -> None:
        self.folder, self._postgres, self._name = folder, postgres, name
        self._copies = 0
        self.admin = sa.create_engine(postgres.url(), isolation_level="AUTOCOMMIT", poolclass=NullPool)
        past, template = played_in(postgres, founding)
        self.copy_database(template, name)
        self.first, _ = past.again(folder / "a", postgres.url(name), lease_ms=LEASE_MS)
        self.ledgers: list[Ledger] = [self.first.ledger]

    def copy_database(self, source: str, target: str) -> None:
        """A copy of a database that nobody uses now."""
        with self.admin.connect() as connection:
            connection.execute(sa.text(f"CREATE DATABASE {target} TEMPLATE {source} STRATEGY file_copy"))

    def another(self) -> Ledger:
        """One more host; what the first has on its disk lies on its disk too, from now on apart."""
        self._copies += 1
        home = self.folder / f"copy{self._copies}"
        shutil.copytree(self.folder / "a", home)
        return self._started(home)

    def process(self) -> Ledger:
        """One more process of the first host: another worker, or the same one after a restart."""
        return self._started(self.folder / "a")

    def _started(self, home: Path) -> Ledger:
        settings = make_home(home, self._postgres.url(self._name), lease_ms=LEASE_MS)
        ledger: Ledger = create_app(settings, self.first.clock).extensions["ledger"]
        self.ledgers.append(ledger)
        return ledger

    def time_out(self, table: sa.Table) -> None:
        """Let the lease, or the rows of the hosts, run out now."""
        self.first.ledger.database.write(
            lambda connection: connection.execute(table.update().values(until=0))
        )

    def keep_database(self) -> Callable[[], None]:
        """Make an older copy of the database; what is given back puts it in its place."""
        old = f"{self._name}_old"
        self._let_go()
        self.copy_database(self._name, old)

        def put_back() -> None:
            self._let_go()
            with self.admin.connect() as connection:
                connection.execute(sa.text(f"DROP DATABASE {self._name} WITH (FORCE)"))
                connection.execute(sa.text(f"ALTER DATABASE {old} RENAME TO {self._name}"))

        return put_back

    def _let_go(self) -> None:
        for each in self.ledgers:
            each.database.close()

    def close(self) -> None:
        """End everything."""
        self._let_go()
        with self.admin.connect() as connection:
            for name in (self._name, f"{self._name}_old"):
                connection.execute(sa.text(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)"))
