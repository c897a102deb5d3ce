"""Drills of bad days that take longer than a run may: `pytest tests/operate/test_bad_days.py`.

What is lost with a primary whose standby confirms each commit, and what hosts with full disks go on doing
(deploy/region.md and deploy/README.md; common practice, no source).
"""

from __future__ import annotations

import json
import shutil
import signal
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from bailee.store.database import Database
from crash.kill_server import Client, Server, check, prepare, wait_for_more
from forked_commands import ForkedCommands
from hosts.running_hosts import Machines, wait_until
from own_postgres import OwnPostgres

pytestmark = [pytest.mark.slow, pytest.mark.drill]
COUNT = 60
HELD = {"secured": "possession", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


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


def test_hosts_with_full_disks_say_so_and_take_no_more_than_they_may_owe(tmp_path: Path) -> None:
    """Receipts would be given for days for what nobody can check, while every light is green."""
    with Machines(tmp_path, ready_within_s=1, max_unpublished_s=1) as machines:
        machines.start()
        inspector, form = machines.field.people["inspector"], machines.field.open_form()
        hosts = machines.hosts

        def ready() -> list[int]:
            return [each.ask("/ready")[0] for each in hosts]

        wait_until(lambda: ready() == [200, 200], "hosts to be ready")
        for each in hosts:
            each.fill_disk()
        wait_until(lambda: ready() == [503, 503], "hosts to say that they are not")
        taken = 0
        while True:
            samples = [machines.field.number("sample")]
            signed = inspector.sign(f"form/{form}", "held", {**HELD, "samples": samples}, after=None)
            status, text = hosts[taken % 2].ask("/entries", signed, timeout=1000)
            if status != 201:
                break
            taken += 1
        assert taken, "what is recorded waits on devices only once too much is owed"
        assert (status, json.loads(text)["code"]) == (503, "publication-behind")
        for each in hosts:
            each.free_disk()
        wait_until(lambda: ready() == [200, 200], "hosts to be ready again")
        assert hosts[0].ask("/entries", signed, timeout=1000)[0] == 201
        with machines.database.reading() as connection:
            count = connection.execute(sa.text("SELECT count(*) FROM entry")).scalar_one()
        wait_until(lambda: all(each.size() >= count for each in hosts), "everything to be published")
