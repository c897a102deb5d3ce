"""Two hosts of one log as real processes: a home each, one PostgreSQL, a network of its own between each host
and the database.

    with Machines(folder, chance_free_name) as machines:
        machines.hosts[0].kill(); machines.hosts[0].start()
        machines.hosts[1].net.black_hole()
        machines.postgres.crash(); machines.postgres.start()

A cosigner runs in this process, and one cosignature is required, as two hosts must have it. Nothing outside
loopback.
"""

from __future__ import annotations

import http.client
import json
import resource
import shutil
import signal
import socket
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any, Self

import sqlalchemy as sa
from sqlalchemy.pool import NullPool
from waitress.server import create_server

from bailee.cosigning.cosigner import Cosigner
from bailee.cosigning.service import application
from bailee.ledger.checkpoint import format_vkey, parse, parse_vkey, read_note
from bailee.operations.ledger import Ledger
from bailee.signing.keys import SigningKey
from bailee.store.database import Database
from field import Field, make_home
from forked_commands import ForkedCommands, Running
from hosts.tcp_proxy import TcpProxy
from own_postgres import OwnPostgres

LIVE, OLDER = "live", "older"
PATIENCE_S = 1000
"""A state that has not come about by then does not come."""


class Host:
    """One machine with `bailee serve`, its own disk and its own way to the database."""

    def __init__(self, home: Path, net: TcpProxy, commands: ForkedCommands) -> None:
        self.home, self.net = home, net
        self._commands = commands
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        self._process: Running | None = None

    def start(self) -> None:
        """Begin to serve; `answers` says when it does. Nothing when it serves already."""
        if self._process is not None:
            if not self._process.has_ended:
                return
            self._process.wait()
        words = ["serve", "--home", str(self.home), "--listen", f"127.0.0.1:{self.port}"]
        self._process = self._commands.run(words, self.home / "said")

    def start_for_sure(self) -> None:
        """Begin to serve, again and again while the database is away: what a supervisor of services does."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            self.start()
            with suppress(OSError):
                self.ask("/checkpoint", timeout=1)
                return
            time.sleep(0.05)
        raise RuntimeError((self.home / "said").read_text()[-2000:])

    def signal(self, which: signal.Signals) -> None:
        """Send a signal: STOP and CONT freeze and wake it, KILL ends it without a warning."""
        assert self._process is not None
        self._process.send_signal(which)

    def kill(self) -> None:
        """Let it die."""
        self.signal(signal.SIGKILL)
        self.wait()

    def wait(self) -> None:
        """Until it has ended."""
        assert self._process is not None
        self._process.wait()

    def fill_disk(self) -> None:
        """No file of this process can grow from now on (EFBIG, setrlimit(2)), until `free_disk`."""
        self._limit_files(0)

    def free_disk(self) -> None:
        """There is room again."""
        self._limit_files(resource.RLIM_INFINITY)

    def _limit_files(self, size: int) -> None:
        assert self._process is not None
        if not self._process.has_ended:
            resource.prlimit(self._process.pid, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))

    def ask(self, path: str, body: Any = None, timeout: float = 5, **headers: str) -> tuple[int, str]:
        """Status and text of an answer. Raises `OSError` when there is none."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            if body is None:
                connection.request("GET", path, headers=headers)
            else:
                connection.request("POST", path, json.dumps(body), {"Content-Type": "application/json"})
            answer = connection.getresponse()
            return answer.status, answer.read().decode()
        except http.client.HTTPException as error:
            raise ConnectionError(str(error)) from error
        finally:
            connection.close()

    def shown(self) -> str | None:
        """The checkpoint that it shows; None when it shows none or does not answer."""
        with suppress(OSError):
            status, note = self.ask("/checkpoint", timeout=2)
            if status == http.HTTPStatus.OK:
                return note
        return None

    def size(self) -> int:
        """How many entries are under what it shows; 0 when it does not answer."""
        note = self.shown()
        return parse(read_note(note).text).size if note else 0

    def status(self) -> str | None:
        """What `/health` says; None when it does not answer."""
        with suppress(OSError, ValueError):
            return str(json.loads(self.ask("/health")[1])["status"])
        return None


class Machines:
    """`field` has founded the log and opened no form yet; `hosts` are two, not started, with these `settings`
    in both homes.
    """

    def __init__(self, folder: Path, lease_ms: int = 1000, **settings: Any) -> None:
        self._stack = ExitStack()
        self.folder = folder
        self.commands = self._stack.enter_context(ForkedCommands())
        self.postgres = OwnPostgres(durable=True)
        self._stack.callback(self.postgres.stop)
        self._admin_sql(f"CREATE DATABASE {LIVE}")
        self.database = Database(self.postgres.url(LIVE))
        self.database.migrate()
        self._stack.callback(self.database.close)
        settings = {"lease_ms": lease_ms, "integrate_every_ms": 100} | settings
        first = make_home(folder / "host0", self.postgres.url(LIVE), **settings)
        self.field = Field(first)
        self.ledger: Ledger = self.field.ledger
        self._stack.callback(self.ledger.database.close)
        self.ledger.sequencer.integrate()  # what a home of a log that has signed must have is copied with it
        cosigner = self._cosigner()
        settings |= {"cosigners": (cosigner,), "cosigners_required": 1}
        self.hosts = []
        shutil.copytree(folder / "host0", folder / "host1")
        for name in ("host0", "host1"):
            net = TcpProxy(self.postgres.home / ".s.PGSQL.5432")
            self._stack.callback(net.close)
            url = f"postgresql+psycopg://postgres@{net.host}:{net.port}/{LIVE}"
            home = make_home(folder / name, url, **settings)
            (home.home / "settings.toml").write_text(home.text())
            self.hosts.append(Host(home.home, net, self.commands))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for each in self.hosts:
            with suppress(AssertionError):
                each.signal(signal.SIGKILL)
                each.wait()
        self._stack.close()

    def _cosigner(self) -> str:
        log = parse_vkey(self.ledger.vkey)
        key = SigningKey.from_seed(b"cosigner".ljust(32, b"."))
        self.cosigner = Cosigner(self.folder / "cosigner", "quill.example/cosigner", key, [log])
        server = create_server(application(self.cosigner, time.time), listen="127.0.0.1:0", threads=2)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        self._stack.callback(server.close)
        return f"{format_vkey(self.cosigner.verifier)} http://127.0.0.1:{server.effective_port}"

    def start(self) -> None:
        """Start both hosts, and wait until they answer."""
        for each in self.hosts:
            each.start()
        for each in self.hosts:
            each.start_for_sure()

    def end(self) -> None:
        """End both in order, whatever state they are in."""
        for each in self.hosts:
            each.signal(signal.SIGCONT)
            each.signal(signal.SIGTERM)
        for each in self.hosts:
            each.wait()

    def keep_older(self) -> None:
        """Copy the database as it is now; every connection to it is ended for that."""
        self._without_connections(
            f"DROP DATABASE IF EXISTS {OLDER}", f"CREATE DATABASE {OLDER} TEMPLATE {LIVE}"
        )

    def put_older_in_place(self) -> None:
        """The copy takes the place of the database: what a failover to a replica that was behind does."""
        self._without_connections(
            f"DROP DATABASE {LIVE} WITH (FORCE)", f"ALTER DATABASE {OLDER} RENAME TO {LIVE}"
        )

    def repair(self) -> None:
        """What deploy/failover.md says that the operator does: on each host in turn, with the service
        stopped.
        """
        self.end()
        left = self.hosts
        for _ in self.hosts:  # what one has alone on its disk is there for the other then
            left = [each for each in left if self._repair(each)]
        if left:
            raise RuntimeError((left[0].home / "repair").read_text()[-2000:])
        self.start()

    def _repair(self, host: Host) -> int:
        return self.commands.run(["repair", "--home", str(host.home)], host.home / "repair").wait()

    def _without_connections(self, *commands: str) -> None:
        self.database.close()
        self.ledger.database.close()
        end = f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{LIVE}'"
        closed = f"ALTER DATABASE {LIVE} ALLOW_CONNECTIONS false"
        self._admin_sql(closed, end, *commands, f"ALTER DATABASE {LIVE} ALLOW_CONNECTIONS true")

    def _admin_sql(self, *commands: str) -> None:
        engine = sa.create_engine(self.postgres.url(), isolation_level="AUTOCOMMIT", poolclass=NullPool)
        with engine.connect() as connection:
            for each in commands:
                connection.exec_driver_sql(each)


def wait_until(holds: Callable[[], bool], what: str) -> float:
    """Seconds until it came true; fails when that takes longer than a machine ten times slower would need."""
    began = time.monotonic()
    while time.monotonic() < began + PATIENCE_S:
        if holds():
            return time.monotonic() - began
        time.sleep(0.02)
    raise AssertionError(f"this did not come about in {PATIENCE_S} s: {what}")
