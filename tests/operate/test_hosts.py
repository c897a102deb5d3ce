"""What becomes of the log when its machines fail: several hosts, an older database, a process that was
stopped.

No standard says how; each test holds a sentence of deploy/failover.md or DEVELOPERS (common practice, no
source).
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from bailee.app import create_app
from bailee.errors import Unavailable
from bailee.operations.ledger import Ledger
from bailee.operations.publishing.sequence import Lag
from bailee.store import leases, schema, tree
from bailee.store import leases as known_hosts
from field import Field, make_home
from grounds import migrated
from hosts.many_hosts import LEASE_MS, Hosts
from own_postgres import OwnPostgres
from waiting import until

pytestmark = pytest.mark.slow


@pytest.fixture
def hosts(tmp_path: Path, postgres: OwnPostgres, request: pytest.FixtureRequest) -> Iterator[Hosts]:
    """One host with a form in its log, published."""
    made = Hosts(tmp_path, postgres, f"hosts{abs(hash(request.node.nodeid)) % 10**9}")
    made.first.open_form()
    made.first.ledger.sequencer.integrate()
    yield made
    made.close()


def others(ledger: Ledger) -> int:
    """How many hosts a host sees beside itself."""
    with ledger.database.reading() as connection:
        return known_hosts.others(connection, ledger.sequencer._me.host)


def test_two_hosts_with_disks_of_their_own_show_one_checkpoint(hosts: Hosts) -> None:
    """Behind a balancer the log would shrink and grow again, and an auditor would take that for a second
    history.
    """
    second = hosts.another()
    hosts.first.open_form()
    hosts.first.ledger.sequencer.integrate()
    with pytest.raises(Unavailable):
        second.sequencer.integrate()  # it follows, and does not lead
    assert second.publisher.shown() == hosts.first.ledger.publisher.shown()
    assert (
        second.settings.high_water_file.read_bytes()
        == hosts.first.ledger.settings.high_water_file.read_bytes()
    )


def test_after_failover_to_an_older_database_no_host_signs_a_second_history(hosts: Hosts) -> None:
    """Hand-overs that were acknowledged would be gone, and another history signed in their place."""
    put_back = hosts.keep_database()
    second = hosts.another()
    hosts.first.open_form()
    hosts.first.ledger.sequencer.integrate()
    with pytest.raises(Unavailable):
        second.sequencer.integrate()
    shown = second.publisher.shown()
    put_back()
    for each in (second, hosts.first.ledger):
        with pytest.raises(Unavailable) as refused:
            each.sequencer.integrate()
        assert refused.value.code == "log-frozen"
        assert each.publisher.shown() == shown


def test_a_host_that_comes_back_is_not_ready_before_it_shows_what_was_signed_meanwhile(hosts: Hosts) -> None:
    """A phone that it answers would see a smaller log, and its owner would be told that entries were taken
    away.
    """
    second = hosts.another()
    hosts.first.open_form()
    hosts.first.ledger.sequencer.integrate()
    app = create_app(second.settings, hosts.first.clock)
    restarted: Ledger = app.extensions["ledger"]
    hosts.ledgers.append(restarted)
    told = app.test_client().get("/ready")
    assert (told.status_code, told.get_json()["code"]) == (503, "not-ready")
    assert "newest checkpoint" in told.get_json()["detail"]
    with pytest.raises(Unavailable):
        restarted.sequencer.integrate()  # it follows, and does not lead
    assert app.test_client().get("/ready").status_code == 200


def test_why_nothing_is_published_is_told_to_whoever_watches(hosts: Hosts) -> None:
    """An alarm that says only "behind" sends somebody through the logs of every process to find out why."""
    hosts.another().sequencer._beat()
    ledger = hosts.first.ledger
    ledger.sequencer.start(every_s=0.01)
    until(lambda: ledger.sequencer.state().failures > 0)
    ledger.sequencer.stop()
    assert "2 hosts serve this log" in hosts.first.client.get("/health").get_json()["trouble"]
    hosts.first.open_form()
    now = [0.0]
    lag = ledger.sequencer._lag = Lag(lambda: now[0])
    with ledger.database.reading() as connection:
        lag.look(connection, tree.signed_size(connection))
    now[0] = 31
    assert "2 hosts serve this log" in hosts.first.client.get("/ready").get_json()["detail"]


def test_a_trouble_that_lasts_is_logged_once_though_other_hosts_take_their_turn_between(
    hosts: Hosts, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """While no cosigner answered, each process wrote "goes on" every second, and nothing went on."""
    ledger = hosts.first.ledger
    hosts.first.open_form()
    turns: list[str] = []

    def in_turn(_patience_s: float) -> int | None:
        turns.append("mine")
        if len(turns) % 2:
            raise Unavailable("No cosigner cosigned; 1 must.", code="not-cosigned")
        return None

    with monkeypatch.context() as patched:
        patched.setattr(ledger.sequencer, "_round", in_turn)
        ledger.sequencer.start(every_s=0.01)
        until(lambda: len(turns) > 6)
    before = ledger.publisher.shown()
    until(lambda: ledger.publisher.shown() != before and ledger.sequencer.state().trouble is None)
    ledger.sequencer.stop()
    said = [each.message for each in caplog.records if each.message.startswith("sequencer: ")]
    assert said == ["sequencer: No cosigner cosigned; 1 must.", "sequencer: goes on"]


def test_two_hosts_without_a_witness_outside_sign_nothing_new_and_say_why(hosts: Hosts) -> None:
    """After a failover nobody outside would notice a second history."""
    first, second = hosts.first.ledger, hosts.another()
    assert not others(first)
    before = first.publisher.shown()
    hosts.first.open_form()
    hosts.time_out(schema.log_state)
    for each in (second, first):
        with pytest.raises(Unavailable) as refused:
            each.sequencer.integrate()
        assert (refused.value.code, refused.value.facts["hosts"]) == ("two-hosts", 2)
        assert each.publisher.shown() == before
    hosts.time_out(schema.host)  # the copy has ended
    first.sequencer.integrate()
    assert first.publisher.shown() != before


def test_four_workers_of_one_home_and_a_restart_are_one_host(hosts: Hosts) -> None:
    """A service with several workers would refuse to publish its own log."""
    for _ in range(4):
        worker = hosts.process()
        hosts.first.open_form()
        worker.sequencer.integrate()
        assert not others(worker)
        with worker.database.reading() as connection:
            assert worker.publisher.published().size == tree.size(connection)  # type: ignore[union-attr]


def test_an_office_that_moves_its_ledger_to_another_machine_publishes_at_once(tmp_path: Path) -> None:
    """The lead and the host that came with the copy of the file would keep it waiting, and nobody could say
    why.
    """
    old = tmp_path / "old"
    old.mkdir()
    before = Field(make_home(old, migrated(old / "ledger.sqlite"), lease_ms=LEASE_MS))
    before.ledger.sequencer.integrate()
    before.open_form()
    before.ledger.database.close()
    shutil.copytree(old, tmp_path / "new")
    moved = make_home(tmp_path / "new", f"sqlite:///{tmp_path / 'new' / 'ledger.sqlite'}", lease_ms=LEASE_MS)
    ledger: Ledger = create_app(moved, before.clock).extensions["ledger"]
    assert ledger.sequencer.integrate() == 1
    ledger.database.close()


@pytest.mark.parametrize("where", ["before the signature", "before it is shown"])
def test_a_publisher_that_was_stopped_and_wakes_writes_nothing(
    hosts: Hosts, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    """A machine that was frozen for a minute would show an older checkpoint after a newer one."""
    first, second = hosts.first.ledger, hosts.another()
    before = first.publisher.shown()
    marks = first.settings.high_water_file.read_bytes()
    hosts.first.open_form()
    name = "sign" if where == "before the signature" else "announce"
    done = getattr(first.publisher, name)

    def stopped(*given: Any) -> Any:
        hosts.time_out(schema.log_state)  # it did nothing until its time was up, and another takes over

        assert second.database.write(
            lambda connection: leases.take(connection, second.sequencer._me, LEASE_MS, alone=True)
        )
        return done(*given)

    monkeypatch.setattr(first.publisher, name, stopped)
    if name == "sign":
        with pytest.raises(Unavailable) as lost:
            first.sequencer.integrate()
        assert lost.value.code == leases.CODE
        assert first.settings.high_water_file.read_bytes() == marks
        with first.database.reading() as connection:
            head = tree.newest_head(connection)
        assert head is not None
        assert head.note is None
    else:
        first.sequencer.integrate()
    assert first.publisher.shown() == before


def test_the_thread_that_publishes_goes_on_after_whatever_happened(
    hosts: Hosts, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Receipts would never again be published, while the service said that all is well."""
    ledger, seen = hosts.first.ledger, []
    waiting = tree.is_waiting

    def broken(connection: sa.Connection) -> bool:
        seen.append(1)
        if len(seen) < 4:
            raise RuntimeError
        return waiting(connection)

    monkeypatch.setattr(tree, "is_waiting", broken)
    before = ledger.publisher.shown()
    hosts.first.open_form()
    ledger.sequencer.start(every_s=0.01)
    until(lambda: ledger.publisher.shown() != before)
    ledger.sequencer.stop()
    assert ledger.sequencer.state().failures == 3
    assert [each.message for each in caplog.records if "unforeseen" in each.message] == [
        "sequencer: unforeseen RuntimeError"
    ]


def test_publishing_goes_on_after_the_database_was_away(hosts: Hosts) -> None:
    """Five seconds without a database would end publication until somebody restarts the service."""
    ledger = hosts.first.ledger
    ledger.sequencer.start(every_s=0.01)
    with hosts.admin.connect() as connection:
        name = ledger.database.url.database
        connection.execute(sa.text(f"ALTER DATABASE {name} ALLOW_CONNECTIONS false"))
        connection.execute(
            sa.text("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = :name"),
            {"name": name},
        )
        until(lambda: ledger.sequencer.state().failures > 2)
        connection.execute(sa.text(f"ALTER DATABASE {name} ALLOW_CONNECTIONS true"))
    before = ledger.publisher.shown()
    hosts.first.open_form()
    until(lambda: ledger.publisher.shown() != before)
    ledger.sequencer.stop()
