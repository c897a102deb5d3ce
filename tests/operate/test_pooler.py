"""Behind PgBouncer in transaction mode, which gives a connection to whoever begins a transaction and takes it
away at its end.

What does not work there is in PgBouncer's own table of features (https://www.pgbouncer.org/features.html):
SET, prepared statements by name, advisory locks of a session.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from bailee.app import create_app
from bailee.errors import Unavailable
from bailee.store.database import Database
from field import Field, make_home
from own_postgres import OwnPostgres
from programs import UNPACKED, required

HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}
AT_ONCE, EACH = 4, 8

pytestmark = pytest.mark.slow


@pytest.fixture
def pooled(postgres: OwnPostgres) -> Iterator[str]:
    """Address of a fresh database, of whose connections there are two for everybody."""
    program = required("pgbouncer")
    folder, name = postgres.home / "pooler", "pooled"
    folder.mkdir()
    if program.is_relative_to(UNPACKED):  # a cache below /root is closed to the one it runs as
        unpacked = program.parents[1]
        program = Path(shutil.copytree(unpacked, folder / "program")) / program.relative_to(unpacked)
    admin = sa.create_engine(postgres.url(), isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with admin.connect() as connection:
        connection.execute(sa.text(f"CREATE DATABASE {name} TEMPLATE migrated STRATEGY file_copy"))
    settings = folder / "pgbouncer.ini"
    settings.write_text(
        f"[databases]\n* = host={postgres.home} user=postgres\n[pgbouncer]\nlisten_addr =\nlisten_port ="
        f" 6432\nunix_socket_dir = {folder}\nauth_type = any\npool_mode = transaction\ndefault_pool_size ="
        f" 2\nlogfile = {folder / 'log'}\n"
    )
    who: dict[str, Any] = {}
    if os.geteuid() == 0:
        nobody = pwd.getpwnam("nobody")
        os.chown(folder, nobody.pw_uid, nobody.pw_gid)
        who = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
    process = subprocess.Popen([str(program), "-q", str(settings)], cwd=folder, **who)
    try:
        while not (folder / ".s.PGSQL.6432").exists():
            assert process.poll() is None, (folder / "log").read_text()
            time.sleep(0.02)
        yield f"postgresql+psycopg://postgres@/{name}?host={folder}&port=6432"
    finally:
        process.kill()
        process.wait()
        with admin.connect() as connection:
            connection.execute(sa.text(f"DROP DATABASE {name} WITH (FORCE)"))
        shutil.rmtree(folder)


def test_behind_a_pooler_nothing_fails(pooled: str, tmp_path: Path) -> None:
    """A laboratory whose operator put a pooler in between would lose one answer in seven, and publish
    nothing.
    """
    field = Field(make_home(tmp_path / "home", pooled, pooler=True, threads=AT_ONCE))
    forms = [field.open_form() for _ in range(AT_ONCE)]
    ledger = field.ledger
    ledger.sequencer.start(every_s=0.01)
    names = ("inspector", "second", "clerk", "quality")

    def work(number: int) -> list[int]:
        device, client, told = field.people[names[number]], field.app.test_client(), []
        for _ in range(EACH):
            signed = device.sign(f"form/{forms[number]}", "held", HELD, after=None)
            told.append(client.post("/entries", json=signed).status_code)
            told.append(client.get(f"/forms/{forms[number]}", headers=device.bearer).status_code)
        file = client.get(f"/forms/{forms[number]}/bundle", headers=device.bearer)
        while "not-integrated" in file.text:  # it says: try again in a moment
            file = client.get(f"/forms/{forms[number]}/bundle", headers=device.bearer)
        return [*told, file.status_code]

    with ThreadPoolExecutor(AT_ONCE) as pool:
        told = [each for found in pool.map(work, range(AT_ONCE)) for each in found]
    ledger.sequencer.stop()
    assert ledger.sequencer.state().failures == 0
    ledger.sequencer.integrate()
    shown, size = ledger.publisher.published(), field.client.get("/health").get_json()["size"]
    ledger.database.close()
    assert set(told) <= {200, 201}
    assert shown is not None
    assert shown.size == size


def test_a_service_that_was_not_told_of_the_pooler_does_not_start(pooled: str, tmp_path: Path) -> None:
    """It would start, and fail in the middle of the night when two connections are exchanged."""
    with pytest.raises(Unavailable) as refused:
        create_app(make_home(tmp_path / "home", pooled))
    assert refused.value.code == "pooler-not-set"


def test_a_migration_leaves_nothing_set_on_a_connection_of_the_pooler(pooled: str) -> None:
    """Whoever is given the connection next would lose statements that wait for a lock for two seconds."""
    database = Database(pooled, pooler=True)
    database.migrate()
    with database.reading() as one, database.reading() as other:
        told = [each.execute(sa.text("SHOW lock_timeout")).scalar() for each in (one, other)]
    database.close()
    assert told == ["0", "0"]
