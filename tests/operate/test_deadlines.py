"""What a service says when its database is gone, cut off, busy or full, and for how long anybody waits to
hear it.

No standard says how; each test holds a sentence of deploy/README.md (common practice, no source).
`Retry-After` is RFC 9110 10.2.3.
"""

from __future__ import annotations

import resource
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
import sqlalchemy as sa

from bailee.app import create_app
from bailee.errors import Unavailable
from bailee.operations.publishing.sequence import Lag
from bailee.store.database import Database
from bailee.store.patience import Patience
from field import ORIGIN, Field, make_home
from grounds import migrated
from hosts.running_hosts import PATIENCE_S, wait_until
from hosts.tcp_proxy import TcpProxy
from own_postgres import OwnPostgres

WITHIN_S = 2
HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


@pytest.fixture
def far(
    tmp_path: Path, postgres: OwnPostgres, request: pytest.FixtureRequest
) -> Iterator[tuple[Field, TcpProxy]]:
    """A service, and the network between it and its PostgreSQL."""
    name = f"far{abs(hash(request.node.nodeid)) % 10**9}"
    admin = sa.create_engine(postgres.url(), isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with admin.connect() as connection:
        connection.execute(sa.text(f"CREATE DATABASE {name} TEMPLATE migrated STRATEGY file_copy"))
    with TcpProxy(postgres.home / ".s.PGSQL.5432") as net:
        url = f"postgresql+psycopg://postgres@{net.host}:{net.port}/{name}?sslmode=disable"
        field = Field(make_home(tmp_path / "home", url, answer_within_s=WITHIN_S), start=False)
        yield field, net
        net.forward()
        field.ledger.database.close()
    with admin.connect() as connection:
        connection.execute(sa.text(f"DROP DATABASE {name} WITH (FORCE)"))


def founding(field: Field) -> dict[str, Any]:
    """Something to record."""
    root = field.roots["harrow-field"]
    return root.sign("org/harrow-field", "founded", {"name": "H", "jwk": root.key.jwk, "recovery": None})


def refused(answer: Any, *codes: str) -> None:
    """A sentence for a person, and for a program when to come again."""
    told = answer.get_json()
    assert (answer.status_code, answer.content_type) == (503, "application/problem+json")
    assert told["code"] in codes
    assert told["detail"].endswith(".")
    assert int(answer.headers["Retry-After"]) > 0


def is_well(field: Field) -> bool:
    """The process lives, answers about its log, and may be asked."""
    return [field.client.get(path).status_code for path in ("/live", "/health", "/ready")] == [200] * 3


@pytest.mark.slow
@pytest.mark.parametrize("spoil", ["black_hole", "cut"])
def test_without_its_database_the_service_says_so_soon_and_goes_on_when_it_is_back(
    far: tuple[Field, TcpProxy], spoil: str
) -> None:
    """A phone at the dock would wait without end, and a balancer would send everybody to the
    host that hangs.
    """
    field, net = far
    assert is_well(field)
    statement = founding(field)
    getattr(net, spoil)()
    asked = ("/health", "/ready", "/proofs/inclusion?index=0&size=1")
    with ThreadPoolExecutor() as people:  # at once, because each of them waits for a deadline
        told = people.map(lambda path: field.app.test_client().get(path), asked)
        refused(field.send(statement), "database-away", "store-failed")
        for each in told:
            refused(each, "database-away")
    assert field.client.get("/live").status_code == 200
    net.forward()
    assert is_well(field)
    assert field.send(statement).status_code in (200, 201)


def test_a_service_that_starts_before_its_database_waits_for_it_with_503(far: tuple[Field, TcpProxy]) -> None:
    """After a power cut in the machine room the service would end for good, and somebody would have to come
    and start it.
    """
    field, net = far
    net.cut()
    app = create_app(field.ledger.settings, field.clock)
    database = app.extensions["ledger"].database
    early = app.test_client()
    assert early.get("/live").status_code == 200
    refused(early.get("/ready"), "database-away")
    net.forward()
    wait_until(lambda: early.get("/ready").status_code == 200, "it goes on by itself")
    with database.engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '0000'"))
    net.cut()
    other = create_app(field.ledger.settings, field.clock)
    net.forward()
    wait_until(
        lambda: other.test_client().get("/health").get_json()["code"] == "needs-migration",
        "it is looked at first",
    )
    for each in (database, other.extensions["ledger"].database):
        each.close()


def test_a_database_that_cannot_be_reached_is_not_called_empty(far: tuple[Field, TcpProxy]) -> None:
    """Somebody would run `bailee init` because a network cable was out."""
    field, net = far
    net.cut()
    database = Database(field.ledger.settings.database, patience(1))
    with pytest.raises(Unavailable, match="cannot be reached: start it"):
        database.require_ready()
    database.close()


@pytest.mark.parametrize("seconds", [7, 20, 600])
def test_the_deadlines_that_follow_each_other_end_within_the_one_that_was_set(seconds: int) -> None:
    """Each is short, and their sum would still be longer than a person at a dock waits."""
    each = Patience.within(seconds)
    assert each.pool + each.connect + max(each.connect, each.answer) <= seconds
    assert max(each.lock, each.statement) < each.answer  # the server ends first what it can end


def patience(connect_s: int) -> Patience:
    """Short for a connection, and otherwise longer than any test."""
    return Patience(pool=600, connect=connect_s, statement=600, lock=600, answer=600, idle=600)


def nobody_answers(*_: Any, **__: Any) -> Any:
    """What psycopg says at its deadline for a connection."""
    raise psycopg.errors.ConnectionTimeout("connection timeout expired")


def read(database: Database, told: list[str]) -> threading.Thread:
    """Somebody who asks, and notes what he is told."""

    def ask() -> None:
        try:
            with database.reading() as connection:
                told.append(str(connection.execute(sa.text("SELECT 'answered'")).scalar()))
        except Unavailable as error:
            told.append(error.code)

    asks = threading.Thread(target=ask, daemon=True)
    asks.start()
    return asks


def test_whether_a_connection_lives_is_found_out_sooner_than_a_long_question_is_given_up(
    far: tuple[Field, TcpProxy], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each connection that was idle when the network broke would hold up a request for the longest deadline
    there is.
    """
    field, net = far
    database = Database(field.ledger.settings.database, patience(0))
    told: list[str] = []
    read(database, told).join()
    net.black_hole()
    with monkeypatch.context() as partition:
        partition.setattr(psycopg.Connection, "connect", nobody_answers)
        read(database, told)
        wait_until(lambda: len(told) == 2, "who asks in a partition is told")
    net.forward()
    read(database, told).join()
    assert told == ["answered", "database-away", "answered"]
    database.close()


def test_while_one_asks_a_silent_database_again_the_others_are_told_at_once(
    postgres: OwnPostgres, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Behind four threads that wait for the network, the fortieth phone would wait ten times as long as the
    first.
    """
    lets_go, tries = threading.Event(), []

    def connect(*_: Any, **__: Any) -> Any:
        tries.append(len(tries))
        lets_go.wait(PATIENCE_S)
        nobody_answers()

    database = Database(postgres.url(), patience(0))
    told: list[str] = []
    with monkeypatch.context() as partition:
        partition.setattr(psycopg.Connection, "connect", connect)
        first = [read(database, told) for _ in range(2)]
        wait_until(lambda: len(tries) == 2, "two who do not know yet ask")
        lets_go.set()
        for each in first:
            each.join()
        lets_go.clear()
        again = read(database, told)
        wait_until(lambda: len(tries) == 3, "one asks again")
        read(database, told).join(PATIENCE_S)
        assert (told, len(tries), again.is_alive()) == (["database-away"] * 3, 3, True)
        lets_go.set()
        again.join()
    for _ in range(2):
        read(database, told).join()
    assert told[4:] == ["answered"] * 2
    database.close()


def held_back(field: Field, *, whole: bool) -> Callable[[], None]:
    """All connections are in use, or somebody has locked what everybody reads; what is given back ends it."""
    stack, engine = ExitStack(), field.ledger.database.engine
    pool: Any = engine.pool
    for _ in range(pool.size() + pool._max_overflow if whole else 1):
        connection = stack.enter_context(engine.connect())
        if not whole:
            connection.execute(
                sa.text("LOCK TABLE log_state, entry, tree_head, chain IN ACCESS EXCLUSIVE MODE")
            )
    return stack.close


@pytest.mark.slow
@pytest.mark.parametrize("whole", [True, False], ids=["no connection is free", "a table is locked"])
def test_who_gets_no_turn_is_told(far: tuple[Field, TcpProxy], whole: bool) -> None:
    """One migration or one long question would hang every request behind it."""
    field, _ = far
    statement = founding(field)
    let_go = held_back(field, whole=whole)
    refused(field.client.get("/health"), "database-away")
    refused(field.send(statement), "database-away", "store-failed")
    let_go()
    assert field.send(statement).status_code == 201
    assert is_well(field)


@contextmanager
def no_room() -> Iterator[None]:
    """As on a full disk, for every file of this process."""
    before, on_signal = (
        resource.getrlimit(resource.RLIMIT_FSIZE),
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN),
    )
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, on_signal)


@pytest.fixture
def near(tmp_path: Path) -> Iterator[Field]:
    """A service with a file of its own."""
    url = migrated(tmp_path / "ledger.sqlite")
    field = Field(make_home(tmp_path / "home", url), start=False)
    yield field
    field.ledger.database.close()


def test_a_service_whose_disk_is_full_is_not_ready(near: Field) -> None:
    """Statements would be taken that nobody can publish, and no alarm would ring."""
    assert is_well(near)
    with no_room():
        answer = near.client.get("/ready")
        assert near.client.get("/live").status_code == 200
    refused(answer, "not-ready")
    assert "disk" in answer.get_json()["detail"]
    assert str(near.ledger.settings.home) not in answer.text
    assert is_well(near)


def test_a_frozen_log_is_not_ready_and_can_be_read(near: Field) -> None:
    """A balancer would send writes to the one host that must take none."""
    near.ok(near.send(founding(near)))
    near.ledger.sequencer.integrate()
    with near.ledger.database.engine.begin() as connection:
        connection.execute(sa.text("UPDATE log_state SET size = 0"))
        connection.execute(sa.text("DELETE FROM tree_head"))
    answer = near.client.get("/ready")
    refused(answer, "not-ready")
    assert near.client.get("/health").get_json()["status"] == "log-frozen"


def test_a_log_that_publishes_nothing_is_not_ready_and_then_takes_nothing_more(near: Field) -> None:
    """For hours people would get answers for entries that no auditor can check."""
    now = [0.0]
    lag = near.ledger.sequencer._lag = Lag(lambda: now[0])

    def look() -> None:
        shown = near.ledger.publisher.published()
        with near.ledger.database.reading() as connection:
            lag.look(connection, shown.size if shown else 0)

    statement = founding(near)
    near.ok(near.send(statement))
    look()
    now[0] = 30
    assert is_well(near)
    now[0] = 31
    answer = near.client.get("/ready")
    refused(answer, "not-ready")
    assert "31 s" in answer.get_json()["detail"]
    told = near.client.get("/health").get_json()
    assert (told["status"], told["oldest_unpublished_s"], told["origin"]) == ("behind", 31, ORIGIN)
    now[0] = 900
    assert near.send(statement).status_code == 200
    now[0] = 901
    refused(near.send(statement), "publication-behind")
    near.ledger.sequencer.integrate()
    look()
    assert is_well(near)
    assert near.send(statement).status_code == 200
