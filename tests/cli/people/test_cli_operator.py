"""The operator's commands, against real files and a real process on a real port."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import httpx2
import pytest
from click.testing import CliRunner

from bailee.app import create_app, open_ledger
from bailee.config import load
from bailee.errors import Unavailable
from bailee.ledger import fingerprint
from bailee.ledger.base64url import b64u
from bailee.operations import in_use
from bailee_cli.device.session import Session
from bailee_cli.main import bailee
from waiting import until


def run(*words: str, code: int = 0) -> str:
    """A command that must end with `code`."""
    result = CliRunner().invoke(bailee, list(words))
    assert result.exit_code == code, result.output
    return result.output


def init(home: Path, *more: str, code: int = 0) -> str:
    """A new ledger."""
    return run(
        "init",
        "--home",
        str(home),
        "--origin",
        "ledger.example/x",
        "--address",
        "https://ledger.example/",
        *more,
        code=code,
    )


class Server:
    """`bailee serve` as a process, on a port the system chooses."""

    def __init__(self, home: Path, program: tuple[str, ...]) -> None:
        words = ["serve", "--home", str(home), "--listen", "127.0.0.1:0"]
        environment = {name: value for name, value in os.environ.items() if not name.startswith("BAILEE_")}
        self.process = subprocess.Popen(
            [sys.executable, *program, *words], stderr=subprocess.PIPE, text=True, env=environment
        )
        assert self.process.stderr is not None
        said = self.process.stderr.readline()
        found = re.search(r"http://127\.0\.0\.1:([0-9]+)", said)
        if found is None:
            self.process.kill()
            raise AssertionError(said + self.process.communicate()[1])
        self.port = int(found[1])
        self.url = f"http://127.0.0.1:{self.port}"
        self.health = httpx2.get(f"{self.url}/health", timeout=600).json()

    def stop(self) -> int:
        """SIGTERM, and how it ended."""
        self.process.send_signal(signal.SIGTERM)
        self.process.communicate(timeout=600)
        return self.process.returncode


@pytest.fixture
def serve() -> Iterator[Callable[..., Server]]:
    """Start services that end with the test, however it ends."""
    servers: list[Server] = []

    def start(home: Path, *program: str) -> Server:
        servers.append(Server(home, program or ("-m", "bailee_cli.main")))
        return servers[-1]

    yield start
    for server in servers:
        if server.process.poll() is None:
            server.stop()


@pytest.fixture
def no_socket(monkeypatch: pytest.MonkeyPatch) -> None:
    """No service of this process gets as far as listening."""

    def refuse(*_: object, **__: object) -> None:
        raise OSError("not in a test")

    monkeypatch.setattr("bailee.serving.connections.create_server", refuse)


def test_init_makes_a_ledger_whose_secrets_are_its_own(tmp_path: Path) -> None:
    """If this fails, every user of the machine can sign checkpoints in the log's name."""
    home = tmp_path / "ledger"
    said = init(home)
    settings = load(home, {})

    assert {p.name: p.stat().st_mode & 0o777 for p in home.iterdir()} == {
        "log.key": 0o600, "session.key": 0o600, "settings.toml": 0o600, "ledger.sqlite": 0o600,
    }  # fmt: skip
    assert home.stat().st_mode & 0o777 == 0o700
    assert (settings.origin, settings.address, settings.founding) == (
        "ledger.example/x",
        "https://ledger.example",
        "listed",
    )
    assert "ledger.example/x+" in said


def test_init_never_touches_a_ledger_that_is_there(tmp_path: Path) -> None:
    """If this fails, one command too many destroys the key that all evidence rests on."""
    home = tmp_path / "ledger"
    init(home)
    before = {p.name: p.read_bytes() for p in home.iterdir()}

    assert "Nothing was changed" in init(home, code=2)
    assert {p.name: p.read_bytes() for p in home.iterdir()} == before


@pytest.mark.parametrize("origin", ["two words", "a+b", "", "bailee-ends/1", "cosignature/v1"])
def test_init_refuses_a_name_no_log_can_have(tmp_path: Path, origin: str) -> None:
    """If this fails, a log is born whose checkpoints nobody can read."""
    # C2SP signed-note: a key name is non-empty and has neither spaces nor plus signs; the last two begin
    # other signed texts
    run(
        "init",
        "--home",
        str(tmp_path / "l"),
        "--origin",
        origin,
        "--address",
        "https://ledger.example",
        code=2,
    )

    assert not (tmp_path / "l").exists()


def test_serve_refuses_a_missing_or_an_empty_ledger(tmp_path: Path) -> None:
    """If this fails, a wrong path starts an empty log under the old name."""
    assert "bailee init" in run("serve", "--home", str(tmp_path / "nowhere"), code=3)
    home = tmp_path / "ledger"
    init(home)
    (home / "ledger.sqlite").unlink()
    assert "There is no ledger at" in run("serve", "--home", str(home), code=3)
    assert "There is no ledger at" in run("migrate", "--home", str(home), code=3)
    (home / "ledger.sqlite").touch()
    assert "holds no ledger" in run("serve", "--home", str(home), code=3)


def test_a_home_restored_elsewhere_has_the_database_that_lies_in_it(tmp_path: Path) -> None:
    """The restore drill would check the live database, and find an empty backup sound."""
    home, restored = tmp_path / "ledger", tmp_path / "restored"
    init(home)
    shutil.copytree(home, restored)

    assert 'database = "sqlite:///ledger.sqlite"' in (home / "settings.toml").read_text()
    said = run("check-ledger", "--home", str(restored))
    assert f"Checked 0 entries of sqlite:///{restored}/ledger.sqlite; newest checkpoint none." in said
    (restored / "ledger.sqlite").write_bytes(b"")
    assert "holds no ledger" in run("check-ledger", "--home", str(restored), code=3)
    run("check-ledger", "--home", str(home))


def test_a_home_without_its_settings_is_not_begun_anew(tmp_path: Path) -> None:
    """Told to run `bailee init`, an operator with a dead disk would begin a second log with a second key."""
    init(tmp_path)
    (tmp_path / "settings.toml").unlink()
    said = run("check-ledger", "--home", str(tmp_path), code=3)
    assert "settings.toml is missing: take it from your backup." in " ".join(said.split())
    assert "init" not in said


def test_a_missing_session_key_is_made_anew(tmp_path: Path, no_socket: None) -> None:
    """A restored service would not start, over a file that holds nothing but the cookies of pages."""
    init(tmp_path)
    key = tmp_path / "session.key"
    key.unlink()
    first = create_app(load(tmp_path, {})).config["SECRET_KEY"]
    assert (len(first), key.stat().st_mode & 0o777) == (32, 0o600)
    assert create_app(load(tmp_path, {})).config["SECRET_KEY"] == first
    assert [each.name for each in tmp_path.glob("session.key*")] == ["session.key"]
    key.unlink()
    said = run("serve", "--home", str(tmp_path), code=3)
    assert "session.key is missing and made anew: all sign in to the pages again." in said
    key.unlink()
    key.mkdir()
    with pytest.raises(Unavailable, match=r"session\.key cannot be read"):
        create_app(load(tmp_path, {}))


def test_a_folder_of_the_high_water_file_that_is_not_there_is_named(tmp_path: Path, no_socket: None) -> None:
    """If this fails, somebody looks for room on every disk of a host whose only fault is a missing mount."""
    init(tmp_path)
    away = tmp_path / "not-mounted"
    settings = tmp_path / "settings.toml"
    settings.write_text(settings.read_text().replace('high_water = ""', f'high_water = "{away}/high-water"'))
    said = run("serve", "--home", str(tmp_path), code=3)
    assert f"The folder {away} of `high_water` does not exist" in said
    answer = create_app(load(tmp_path, {})).test_client().get("/ready")
    assert answer.status_code == 503
    assert f"The folder {away} does not exist" in answer.get_json()["detail"]


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("sqlite:////var/lib/ledger.sqlite", "sqlite:////var/lib/ledger.sqlite"),
        ("sqlite:///other/ledger.sqlite?timeout=5", "sqlite:///{home}/other/ledger.sqlite?timeout=5"),
        ("sqlite+pysqlite:///ledger.sqlite", "sqlite+pysqlite:///{home}/ledger.sqlite"),
        ("postgresql+psycopg:///ledger", "postgresql+psycopg:///ledger"),
    ],
)
def test_only_a_path_of_sqlite_that_does_not_begin_at_the_root_counts_from_the_home(
    tmp_path: Path, written: str, read: str
) -> None:
    """If this fails, a service opens another database than its settings name."""
    init(tmp_path / "ledger")
    settings = load(tmp_path / "ledger", {"BAILEE_DATABASE": written})

    assert settings.database == read.format(home=tmp_path / "ledger")


@pytest.mark.slow
def test_a_service_in_its_own_process_answers_and_ends_when_told(
    serve: Callable[..., Server], tmp_path: Path
) -> None:
    """If this fails, the first command of the manual does not give a working service."""
    home = tmp_path / "ledger"
    init(home, "--open-founding")
    server = serve(home)
    session = Session(home=tmp_path / "homes")
    words = [
        ("key", "new"),
        ("join", "--service", server.url, "--org", "harrow-field"),
        ("found", "harrow-field", "--name", "H"),
    ]
    said = ""
    for each in words:
        result = CliRunner().invoke(bailee, list(each), obj=session)
        said += result.output
        assert result.exit_code == 0, said
    code = server.stop()

    assert server.health["origin"] == "ledger.example/x"
    assert "Recorded: founded, organization harrow-field, entry 1." in said
    assert code == 0


@pytest.mark.slow
def test_a_request_in_progress_is_finished_when_the_service_is_stopped(
    serve: Callable[..., Server], tmp_path: Path
) -> None:
    """If this fails, every restart of the service drops answers people are waiting for."""
    home = tmp_path / "ledger"
    init(home)
    begun = tmp_path / "begun"
    slow = (
        "import pathlib, sys, time\n"
        "import bailee.app\n"
        "make = bailee.app.create_app\n"
        "def slow(settings):\n"
        "    app = make(settings)\n"
        f"    begun = pathlib.Path({str(begun)!r})\n"
        "    app.add_url_rule('/slow', view_func=lambda: (begun.touch(), time.sleep(1.5), 'done')[2])\n"
        "    return app\n"
        "bailee.app.create_app = slow\n"
        "from bailee_cli.main import bailee\n"
        "bailee(sys.argv[1:])\n"
    )
    server = serve(home, "-c", slow)
    with socket.create_connection(("127.0.0.1", server.port), timeout=600) as client:
        client.sendall(b"GET /slow HTTP/1.0\r\n\r\n")
        until(begun.exists)
        server.process.send_signal(signal.SIGTERM)
        answer = b"".join(iter(lambda: client.recv(4096), b""))

    assert answer.endswith(b"done")
    server.process.communicate(timeout=600)
    assert server.process.returncode == 0


@pytest.mark.slow
def test_only_an_admitted_key_founds_an_organization(serve: Callable[..., Server], tmp_path: Path) -> None:
    """If this fails, strangers fill somebody's log with organizations of their own."""
    home = tmp_path / "ledger"
    init(home)
    server = serve(home)
    session = Session(home=tmp_path / "homes")
    invoke = CliRunner().invoke
    invoke(bailee, ["key", "new"], obj=session)
    invoke(bailee, ["join", "--service", server.url, "--org", "harrow-field"], obj=session)
    refused = invoke(bailee, ["found", "harrow-field", "--name", "Harrow Field"], obj=session)
    run("admit", session.of("me", as_json=False).key.kid, "--home", str(home))
    again = invoke(bailee, ["found", "harrow-field", "--name", "Harrow Field"], obj=session)
    server.stop()

    assert refused.exit_code == 1
    assert "Nothing was signed." in refused.output, "no number is lost to it"
    assert "operator has admitted" in refused.output
    assert "Recorded: founded" in again.output


@pytest.mark.parametrize(
    ("address", "listen"),
    [
        ("http://127.0.0.1:9123", "127.0.0.1:9123"),
        ("http://custody.example.org", "custody.example.org:80"),  # RFC 9110 4.2.1: the default port of http
        ("http://[::1]:9123/ledger", "[::1]:9123"),
        ("https://custody.example.org", "127.0.0.1:8765"),
        ("https://custody.example.org:9443", "127.0.0.1:8765"),
    ],
)
def test_a_service_listens_where_its_address_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, address: str, listen: str
) -> None:
    """If this fails, a service is started, says nothing, and nobody finds it where the labels point."""
    asked: list[str] = []

    def refuse(*_: object, listen: str, **__: object) -> None:
        asked.append(listen)
        raise OSError("not in a test")

    monkeypatch.setattr("bailee.serving.connections.create_server", refuse)
    home = str(tmp_path / "ledger")
    run("init", "--home", home, "--origin", "ledger.example/x", "--address", address)
    assert "--listen" in run("serve", "--home", home, code=3)
    run("serve", "--home", home, "--listen", "127.0.0.1:1", code=3)

    assert asked == [listen, "127.0.0.1:1"]


@pytest.mark.parametrize(
    "address", ["custody.example.org", "127.0.0.1:8765", "ftp://x.example", "http://x:port", ""]
)
def test_an_address_that_is_none_makes_no_ledger(tmp_path: Path, address: str) -> None:
    """If this fails, a thousand labels are printed with an address that no camera can open."""
    home = tmp_path / "ledger"
    said = run("init", "--home", str(home), "--origin", "ledger.example/x", "--address", address, code=2)
    assert "no address of a service" in said
    assert not home.exists()


@pytest.mark.slow
def test_an_address_in_use_is_said(tmp_path: Path) -> None:
    """If this fails, two services on one port are a traceback in a log nobody reads."""
    home = tmp_path / "ledger"
    init(home)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        words = ["serve", "--home", str(home), "--listen", f"127.0.0.1:{taken.getsockname()[1]}"]
        done = subprocess.run(
            [sys.executable, "-m", "bailee_cli.main", *words], capture_output=True, text=True, check=False
        )

    assert done.returncode == 3
    assert done.stderr.startswith("Cannot listen on")


def test_nothing_is_changed_under_a_running_service(tmp_path: Path) -> None:
    """A service would go on with tables, an index or a log that are no longer those it knows."""
    home = tmp_path / "ledger"
    init(home)
    ledger = open_ledger(load(home))
    ledger.sequencer.start(every_s=0.01)
    try:
        for command in ("rebuild", "repair"):
            said = run(command, "--home", str(home), code=3)
            assert "end it, then type this again" in " ".join(said.split()), command
        run("check-ledger", "--home", str(home))
    finally:
        ledger.sequencer.stop()
    run("migrate", "--home", str(home))
    run("rebuild", "--home", str(home))
    with in_use.stopped(home), pytest.raises(Unavailable) as refusal:
        open_ledger(load(home)).sequencer.start(every_s=0.01)
    assert refusal.value.code == "ledger-in-use"
    ledger.database.close()


@pytest.mark.slow
def test_a_ledger_is_checked_and_indexed_anew(serve: Callable[..., Server], tmp_path: Path) -> None:
    """If this fails, an operator cannot tell a sound database from one somebody wrote in."""
    home = tmp_path / "ledger"
    init(home, "--open-founding")
    server = serve(home)
    session = Session(home=tmp_path / "homes")
    for words in (
        ["key", "new"],
        ["join", "--service", server.url, "--org", "h"],
        ["found", "h", "--name", "H"],
    ):
        assert CliRunner().invoke(bailee, words, obj=session).exit_code == 0
    _wait_for_size(server.url, 1)
    assert "A service is running" in run("rebuild", "--home", str(home), code=3)
    server.stop()

    said = run("check-ledger", "--home", str(home))
    assert said.startswith(f"Checked 1 entry of sqlite:///{home}/ledger.sqlite; newest checkpoint 1.\n")
    assert "No fault was found" in said
    assert "Indexed anew from 1 entries." in run("rebuild", "--home", str(home))
    tile = home / "tiles" / "tile" / "0" / "000.p" / "1"
    hashes = tile.read_bytes()
    tile.write_bytes(bytes([hashes[0] ^ 1, *hashes[1:]]))
    spoiled = run("check-ledger", "--home", str(home), code=1)
    assert "000.p/1 is not what the entries hash to" in " ".join(spoiled.split())
    told = json.loads(run("--json", "check-ledger", "--home", str(home), code=1))
    assert len(told["faults"]) == 1
    said = run("repair", "--home", str(home))
    assert json.loads(run("--json", "check-ledger", "--home", str(home))) == {
        "database": f"sqlite:///{home}/ledger.sqlite",
        "entries": 1,
        "checkpoint": 1,
        "faults": [],
        "not_checked": None,
    }
    assert "of which 1 are as was signed" in said
    assert tile.read_bytes() == hashes
    (home / "tiles").rename(home / "taken")
    assert "so no tile file was checked" in " ".join(run("check-ledger", "--home", str(home)).split())
    (home / "taken").rename(home / "tiles")
    with closing(sqlite3.connect(home / "ledger.sqlite", isolation_level=None)) as connection:
        (note,) = connection.execute("SELECT note FROM tree_head WHERE note IS NOT NULL").fetchone()
        connection.execute("UPDATE tree_head SET note = NULL")
        assert "has none of its checkpoints" in " ".join(
            run("check-ledger", "--home", str(home), code=1).split()
        )
        connection.execute("UPDATE tree_head SET note = ? WHERE size = 1", (note,))
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute("UPDATE entry SET text = replace(text, '\"n\":1', '\"n\":2')")
        assert "Entry 0:" in run("check-ledger", "--home", str(home), code=1)
        said = " ".join(run("repair", "--home", str(home), code=1).split())
        assert "This database was harmed" in said
        assert f"`bailee check-ledger --home {home}`" in said
        for table in ("entry", "statement", "tree_head", "tile"):
            connection.execute(f"DELETE FROM {table}")
    said = run("check-ledger", "--home", str(home), code=1)
    assert "an old copy of it is in place" in " ".join(said.split())
    assert "Stop the service on every host, then repair the ledger on each" in " ".join(said.split())
    assert f"(`bailee repair --home {home}`)" in " ".join(said.split())


def test_admit_refuses_what_is_no_name_of_a_key(tmp_path: Path) -> None:
    """If this fails, a mistyped key is admitted and its owner is refused for ever."""
    home = tmp_path / "ledger"
    init(home)
    run("admit", "too-short", "--home", str(home), code=2)
    run("admit", "=" * 43, "--home", str(home), code=2)
    lines = " ".join(fingerprint.lines(bytes(range(32))))
    assert f"Admitted: {b64u(bytes(range(32)))}" in run("admit", lines, "--home", str(home))
    slip = lines[:-1] + ("A" if lines[-1] != "A" else "B")
    assert "Line 5 of the five lines" in " ".join(run("admit", slip, "--home", str(home), code=2).split())


def _wait_for_size(url: str, size: int) -> None:
    with httpx2.Client(base_url=url) as client:
        until(lambda: client.get("/health").json()["size"] >= size)


def test_a_database_that_is_not_there_yet_is_a_sentence(tmp_path: Path) -> None:
    """The first thing an operator of PostgreSQL would see is a page of Python."""
    database = "postgresql+psycopg://nobody@127.0.0.1:1/x"
    words = ["--origin", "ledger.example/x", "--address", "https://ledger.example", "--database", database]
    done = CliRunner().invoke(bailee, ["init", "--home", str(tmp_path / "home"), *words])
    assert done.exit_code == 3
    assert "database does not answer" in done.output
    assert not list((tmp_path / "home").iterdir())
