"""The recipe of deploy/postgresql-archive.md, typed as it stands: base copies, PostgreSQL's log, and what was
erased (PostgreSQL, Continuous Archiving and Point-in-Time Recovery).
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
import sqlalchemy as sa

from bailee.ledger.checkpoint import parse_vkey
from bailee.operations import erasing, maintenance
from bailee.store import schema
from bailee.store.database import Database
from field import Field, make_home
from own_postgres import OwnPostgres
from waiting import until

pytestmark = [pytest.mark.slow, pytest.mark.drill]
PAGE: Final = Path(__file__).resolve().parents[2] / "deploy/postgresql-archive.md"
BEGIN, WEEKLY, DAILY, BACK = re.findall(
    r"^```sh\n(.*?)^```$", PAGE.read_text("utf-8"), re.MULTILINE | re.DOTALL
)


class Archived(OwnPostgres):
    """A server of which the page's commands are typed."""

    def type(self, block: str, **more: str) -> None:
        """As its user."""
        names = {
            "PGDATA": str(self.home / "d"), "PGHOST": str(self.home), "PGUSER": "postgres",
            "ARCHIVE": str(self.home / "archive"), "BASES": str(self.home / "bases"), "DATABASE": "live",
            "PATH": f"{self.programs}:{os.environ['PATH']}",
        }  # fmt: skip
        run = self._run | {"env": self._run["env"] | names | more}
        done = subprocess.run(["sh", "-euc", block], capture_output=True, text=True, check=False, **run)
        assert done.returncode == 0, done.stderr

    def restart(self) -> None:
        """Ended and started again."""
        self.crash()
        self.start()

    def holds(self, folder: str, text: str) -> bool:
        """Whether these bytes are in any file of a folder."""
        found = ["grep", "-rqaF", text, str(self.home / folder)]
        return subprocess.run(found, check=False).returncode == 0


@pytest.fixture
def server() -> Iterator[Archived]:
    """Durable, as a region's is."""
    made = Archived(durable=True)
    yield made
    made.stop()


def test_a_database_comes_back_from_the_archive_and_what_was_erased_leaves_it(
    server: Archived, tmp_path: Path
) -> None:
    """The recipe would be tried for the first time on the day when the primary is gone; and an organization
    that was told that a name has been erased would find it in a copy years later.
    """
    server.type("createdb live")
    database = Database(server.url("live"))
    database.migrate()
    database.close()
    server.type(BEGIN)
    server.restart()
    field = Field(make_home(tmp_path / "home", server.url("live")))
    form = field.open_form()
    field.ledger.sequencer.integrate()
    ledger = field.ledger
    with ledger.database.reading() as connection:
        told = (
            connection.execute(sa.select(schema.disclosure.c.text).order_by(schema.disclosure.c.entry_id))
            .scalars()
            .all()[-1]
        )
        kept = connection.execute(sa.text("SELECT count(*) FROM entry")).scalar()
    server.type(WEEKLY)
    first, older = server.home / "bases" / time.strftime("%Y-%m-%d"), server.home / "bases" / "2020-01-01"
    first.rename(older)
    assert server.holds("bases", told)
    with ledger.database.reading() as connection:
        spoken = schema.statement.join(schema.entry).join(schema.chain)
        row = sa.select(schema.statement.c.digest).select_from(spoken)
        digest = connection.execute(row.where(schema.chain.c.name == f"form/{form}")).scalar_one()
    field.act("quality", f"form/{form}", "erased", {"statement": digest, "count": 3})
    field.ledger.sequencer.integrate()
    server.type(WEEKLY)
    assert not server.holds(f"bases/{first.name}", told)
    ledger.database.close()
    server.type("psql -q -d live -c 'SELECT pg_switch_wal()'")
    until(lambda: not list((server.home / "d/pg_wal/archive_status").glob("*.ready")))
    # The bad day: the oldest copy and the log since, up to the last change.
    server.crash()
    lost = server.home / "lost"
    (server.home / "d").rename(lost)
    server.type(BACK, FROM=str(older))
    server.start()
    until(lambda: _writes(server))
    back = Database(server.url("live"))
    with back.reading() as connection:
        assert connection.execute(sa.text("SELECT count(*) FROM entry")).scalar() == kept + 1
        assert list(maintenance.check(connection, parse_vkey(ledger.vkey))) == []
        assert not connection.execute(
            sa.select(schema.disclosure).where(schema.disclosure.c.text == told)
        ).first()
    assert back.write(erasing.again) == (0, [])
    back.close()
    # 36 days after the first copy was made it is gone, with the log before the second.
    assert server.holds("archive", told)
    os.utime(older, (time.time() - 36 * 86_400,) * 2)
    server.type(DAILY)
    assert not older.exists()
    assert not server.holds("archive", told)
    assert not server.holds("bases", told)
    shutil.rmtree(lost)


def _writes(server: Archived) -> bool:
    """Whether recovery is over."""
    engine = sa.create_engine(server.url(), poolclass=sa.pool.NullPool)
    with engine.connect() as connection:
        return not connection.execute(sa.text("SELECT pg_is_in_recovery()")).scalar()
