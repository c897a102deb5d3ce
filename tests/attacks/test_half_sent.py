"""Requests that never end: a stranger opens connections, sends half of what he should, and waits.

Known as Slowloris for the header and R-U-Dead-Yet for the body; RFC 9110 15.5.9 lets a server close whom it
waited for long enough.
"""

from __future__ import annotations

import contextlib
import os
import re
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from promises import promised

from bailee.config import Settings
from bailee.serving import connections
from bailee.serving.connections import Connection, Server
from field import make_home
from grounds import migrated

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"
HALF_A_HEADER = b"GET /health HTTP/1.1\r\nHost: ledger.example\r\nX-More: "
HALF_A_BODY = (
    b"POST /entries HTTP/1.1\r\nHost: l\r\nContent-Type: application/json\r\nContent-Length: 99\r\n\r\n{"
)
WHOLE = b"GET /health HTTP/1.1\r\nHost: ledger.example\r\nConnection: close\r\n\r\n"
PATIENT_S = 600


def opened(port: int, sent: bytes, address: str = "127.0.0.1") -> socket.socket:
    """A connection from an address of this machine on which that much was sent."""
    found = socket.create_connection(("127.0.0.1", port), timeout=PATIENT_S, source_address=(address, 0))
    try:
        found.sendall(sent)
    except OSError:
        found.close()
        raise
    return found


def answered(port: int, sent: bytes = WHOLE) -> bytes:
    """What an honest client gets, whole."""
    with opened(port, sent) as client:
        return b"".join(iter(lambda: client.recv(65_536), b""))


def is_open(connection: socket.socket) -> bool:
    """Whether the other side still waits."""
    connection.setblocking(False)
    try:
        return connection.recv(1) != b""
    except BlockingIOError:
        return True
    except ConnectionError:
        return False


def was_closed(connection: socket.socket) -> bool:
    """Wait until the other side has closed."""
    connection.settimeout(PATIENT_S)
    try:
        return connection.recv(1) == b""
    except ConnectionResetError:
        return True


def hello(environ: Any, start_response: Any) -> list[bytes]:
    """A service that is not the matter here."""
    start_response("200 OK", [("Content-Length", "5")])
    return [environ["wsgi.input"].read()[:0] + b"hello"]


Serve = Callable[..., int]


@pytest.fixture
def serve(monkeypatch: pytest.MonkeyPatch) -> Iterator[Serve]:
    """Starts one small server in a thread; the port."""
    ended = threading.Event()
    started: list[tuple[threading.Thread, int]] = []

    def start(**limits: Any) -> int:
        for name, value in limits.items():
            monkeypatch.setattr(Connection, name, value)
        server = Server(
            hello,
            threads=1,
            proxies=("127.0.0.1",),
            largest_body=2**20,
            listen="127.0.0.1:0",
        )

        def turn() -> None:
            if ended.is_set():
                raise SystemExit

        thread, port = threading.Thread(target=server.run, args=(turn,)), int(server.addresses[0][1])
        thread.start()
        started.append((thread, port))
        return port

    yield start
    ended.set()
    for thread, port in started:
        with contextlib.suppress(ConnectionError):  # it looks by itself once a second; it may be going
            opened(port, b"").close()  # wakes it
        thread.join()


def test_half_a_request_takes_no_thread(serve: Serve) -> None:
    """As many of them as there are threads would stop the service."""
    port = serve()
    strangers = [opened(port, half) for half in (HALF_A_HEADER, HALF_A_BODY) * 3]
    assert answered(port).endswith(b"hello")
    assert all(map(is_open, strangers))
    for each in strangers:
        each.close()


def test_who_never_ends_his_request_is_closed_however_often_he_adds_a_byte(serve: Serve) -> None:
    """A byte now and then would hold a place for ever."""
    now = [0.0]
    port = serve(clock=staticmethod(lambda: now[0]))
    for half in (HALF_A_HEADER, HALF_A_BODY):
        with opened(port, half) as stranger:
            assert answered(port).endswith(b"hello")  # by now it has been read
            now[0] += 25
            stranger.sendall(b"x")
            assert answered(port).endswith(b"hello")
            assert is_open(stranger)
            now[0] += 6
            assert was_closed(stranger)


def test_a_slow_phone_may_go_on_sending(serve: Serve) -> None:
    """A week's statements over a bad network would never arrive."""
    now, take = [0.0], Connection.received

    def slowly(connection: Connection, data: bytes) -> bool:
        now[0] += len(data) / connections.SLOWEST
        return take(connection, data)

    port = serve(clock=staticmethod(lambda: now[0]), received=slowly)
    size = 100 * connections.SLOWEST
    head = f"POST / HTTP/1.1\r\nHost: l\r\nConnection: close\r\nContent-Length: {size}\r\n\r\n".encode()
    with opened(port, head) as phone:
        phone.sendall(b"x" * size)
        assert b"".join(iter(lambda: phone.recv(65_536), b"")).endswith(b"hello")
    assert now[0] > 100


def test_one_address_cannot_take_every_place(serve: Serve) -> None:
    """Whoever opens connections without end would leave none for others."""
    port = serve(most_of_one=4)
    strangers = [opened(port, HALF_A_HEADER, "127.0.0.2") for _ in range(4)]
    assert answered(port).endswith(b"hello")
    more = opened(port, HALF_A_HEADER, "127.0.0.2")
    assert was_closed(strangers[0])
    assert all(map(is_open, (*strangers[1:], more)))
    for each in (*strangers, more):
        each.close()


def test_when_every_place_is_taken_the_one_who_kept_silent_longest_goes(serve: Serve) -> None:
    """With a hundred machines a stranger would shut the door for everybody.

    Behind a proxy all have one address.
    """
    port = serve(most=8)
    strangers = [opened(port, half) for half in (HALF_A_HEADER, HALF_A_BODY) * 4]
    assert answered(port).endswith(b"hello")
    assert was_closed(strangers[0])
    assert all(map(is_open, strangers[1:]))
    for each in strangers:
        each.close()


def test_who_stands_behind_a_crowd_is_let_in_in_the_same_turn() -> None:
    """Of 1,200 half-sent connections one was taken a turn, and the monitor's `/live` waited for as many turns
    as were before it.
    """
    server = Server(hello, threads=1, largest_body=2**20, listen="127.0.0.1:0")
    port = int(server.addresses[0][1])
    crowd = [opened(port, HALF_A_HEADER) for _ in range(40)]
    honest = opened(port, WHOLE)

    def look_round() -> None:
        looked.append(sum(isinstance(each, Connection) for each in server._all.values()))
        if len(looked) > 1:
            raise SystemExit

    looked: list[int] = []
    server.run(look_round)
    assert looked == [0, len(crowd) + 1]
    for each in (*crowd, honest):
        each.close()


@pytest.fixture
def home(tmp_path: Path) -> Settings:
    """A ledger on a disk."""
    url = migrated(tmp_path / "ledger.sqlite")
    settings = make_home(tmp_path / "home", url)
    (settings.home / "settings.toml").write_text(settings.text(), "utf-8")
    return settings


@contextlib.contextmanager
def running(command: list[str], environment: dict[str, str]) -> Iterator[int]:
    """A server in a process of its own; its port."""
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=os.environ | environment)
    assert process.stderr
    try:
        for line in process.stderr:
            if found := re.search(r"http://127\.0\.0\.1:([0-9]+)", line):
                answered(int(found[1]))
                yield int(found[1])
                break
        else:
            raise AssertionError
    finally:
        process.terminate()
        process.communicate(timeout=PATIENT_S)


@pytest.mark.slow
@pytest.mark.parametrize("server", ["gunicorn as configured", "bailee serve"])
def test_a_hundred_half_sent_requests_do_not_stop_the_service(home: Settings, server: str) -> None:
    """One person with one laptop would keep forty firms from handing over."""
    promised("half-sent requests", "take no thread")
    python, listen = [sys.executable, "-m"], "127.0.0.1:0"
    if server == "bailee serve":
        command = [*python, "bailee_cli.main", "serve", "--home", str(home.home), "--listen", listen]
    else:
        command = [*python, "gunicorn", "--config", str(DEPLOY / "gunicorn.conf.py"), "bailee.app:wsgi()"]
    with running(command, {"BAILEE_LEDGER": str(home.home), "LISTEN": listen}) as port:
        strangers = [opened(port, half) for half in (HALF_A_HEADER, HALF_A_BODY) * 60]
        assert answered(port).startswith(b"HTTP/1.1 200")
        assert all(map(is_open, strangers))
        for each in strangers:
            each.close()
