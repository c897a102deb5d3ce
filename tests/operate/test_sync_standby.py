"""The drill of a dead primary whose standby confirms commits: `pytest tests/operate/test_sync_standby.py`.

What is lost with it (deploy/region.md; common practice, no source).
"""

from __future__ import annotations

import shutil
import signal
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from bailee.store.database import Database
from crash.kill_server import Client, Server, check, prepare, wait_for_more
from forked_commands import ForkedCommands
from hosts.running_hosts import wait_until
from own_postgres import OwnPostgres

pytestmark = [pytest.mark.slow, pytest.mark.drill]
COUNT = 60


class Member(OwnPostgres):
    """A primary, or a standby that confirms its commits."""

    def program(self, name: str, *words: str | Path) -> str:
        """One of PostgreSQL's programs, as its user."""
        command = [self.programs / name, *words]
        done = subprocess.run(command, capture_output=True, text=True, check=True, **self._run)
        return done.stdout

    def sql(self, *said: str) -> str:
        """Each as a statement of its own."""
        asked = [word for each in said for word in ("-c", each)]
        return self.program("psql", "-qXAt", "-h", self.home, "-U", "postgres", *asked)

    def follow(self, primary: OwnPostgres) -> None:
        """Become its standby."""
        self.crash()
        shutil.rmtree(self.home / "d")
        where = f"host={primary.home} user=postgres application_name=standby"
        self.program(
            "pg_basebackup", "--pgdata", self.home / "d", "--checkpoint", "fast", "--write-recovery-conf",
            "--no-sync", "--dbname", where,
        )  # fmt: skip
        self.start()


@pytest.fixture
def pair() -> Iterator[tuple[Member, Member]]:
    """A primary with the database `live`, and its synchronous standby."""
    primary, standby = Member(durable=True), Member(durable=True)
    primary.sql("CREATE DATABASE live")
    standby.follow(primary)
    primary.sql("ALTER SYSTEM SET synchronous_standby_names = 'FIRST 1 (standby)'", "SELECT pg_reload_conf()")
    wait_until(
        lambda: primary.sql("SELECT sync_state FROM pg_stat_replication").strip() == "sync", "a standby"
    )
    yield primary, standby
    standby.stop()
    shutil.rmtree(primary.home)


def test_with_a_synchronous_standby_nothing_acknowledged_is_lost_with_the_primary(
    pair: tuple[Member, Member], tmp_path: Path
) -> None:
    """A phone would have shown "recorded" for a hand-over that the region's log does not have."""
    primary, standby = pair
    url = f"{primary.url('live')}&host={standby.home}&target_session_attrs=read-write"
    database = Database(url)
    database.migrate()
    ledger, people = prepare(tmp_path / "home", url, 1)
    with ForkedCommands() as commands, socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
        probe.close()
        server = Server(tmp_path / "home", port, commands)
        clients = [Client(device, form, sample, port, COUNT) for device, form, sample in people]
        for each in clients:
            each.start()
        wait_for_more(clients, COUNT)
        primary.crash()
        standby.program("pg_ctl", "promote", "-D", standby.home / "d")
        for each in clients:
            each.join()
        server.process.send_signal(signal.SIGTERM)
        server.process.wait()
    ledger.sequencer.integrate()
    after = Database(standby.url("live"))
    assert check(ledger, after, clients) == []
    assert [len(each.acknowledged) for each in clients] == [COUNT] * len(clients)
    assert sum(each.retries for each in clients)
    for each in (database, ledger.database, after):
        each.close()
