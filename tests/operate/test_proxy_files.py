"""The files for the two proxies, run by the proxies themselves before a service that writes down what it is
asked.

Headers: RFC 9110, RFC 9111, RFC 8246 (immutable), RFC 6797; tiles: C2SP tlog-tiles.
"""

from __future__ import annotations

import os
import re
import socket
import ssl
import subprocess
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from http.client import HTTPMessage, HTTPSConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Final

import pytest

from programs import required
from self_signed import certificate
from waiting import until

PROXY: Final = Path(__file__).resolve().parents[2] / "deploy/proxy"
NAME: Final = "custody.example.org"
TILE: Final = bytes(range(32)) * 256
NEVER: Final = "/tile/0/x001/002"


class Asked(BaseHTTPRequestHandler):
    """A service that is not ready, and answers all the same."""

    protocol_version = "HTTP/1.1"
    seen: list[tuple[str, str, HTTPMessage, bytes]]

    def do_GET(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        self.seen.append((self.command, self.path, self.headers, body))
        is_missing = self.path.startswith("/tile/0/")
        self.send_response(503 if self.path == "/ready" else 404 if is_missing else 200)
        self.send_header("Cache-Control", "no-store")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Content-Length", "2")
        self.end_headers()
        self.wfile.write(b"{}")

    do_POST = do_GET  # noqa: N815 - http.server calls it so

    def log_message(self, *_: object) -> None:
        """Nothing."""


@dataclass
class Proxy:
    """One that runs, and what it passed on."""

    port: int
    seen: list[tuple[str, str, HTTPMessage, bytes]]

    def ask(
        self, path: str, method: str = "GET", body: bytes | None = None, **headers: str
    ) -> tuple[int, HTTPMessage, bytes]:
        """Status, headers and body of an answer."""
        context = ssl.create_default_context()
        context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
        connection = HTTPSConnection("127.0.0.1", self.port, timeout=60)
        connection.sock = context.wrap_socket(
            socket.create_connection(("127.0.0.1", self.port), 60), server_hostname=NAME
        )
        try:
            connection.request(method, path, body, {"Host": NAME, **headers})
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read()
        finally:
            connection.close()


def free() -> int:
    """A port."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def moved(text: str, places: dict[str, str]) -> str:
    """A file of deploy/ with other ports and folders: each that is named must stand in it."""
    for pattern, place in places.items():
        text, count = re.subn(pattern, lambda _, place=place: place, text, flags=re.MULTILINE)
        assert count, pattern
    return text


def nginx(folder: Path, port: int, plain: int, service: int) -> list[str]:
    """How it is started."""
    certificate(folder, NAME)
    temporary = " ".join(f"{each}_temp_path {folder}/{each};" for each in (
        "client_body", "proxy", "fastcgi", "uwsgi", "scgi",
    ))  # fmt: skip
    text = (PROXY / "nginx.conf").read_text("utf-8")
    places = {
        r"^ *listen \[::\].*\n": "",
        r"listen 443 ": f"listen 127.0.0.1:{port} ",
        r"listen 80;": f"listen 127.0.0.1:{plain};",
        r"127\.0\.0\.1:8765": f"127.0.0.1:{service}",
        r"/etc/bailee-tls": str(folder),
        r"/srv/tiles": str(folder / "tiles"),
        r"/var/log/nginx": str(folder),
        r"^http \{": "http { " + temporary,
    }
    (folder / "nginx.conf").write_text(moved(text, places))
    user = "user root; " if os.getuid() == 0 else ""
    return [
        str(required("nginx")), "-p", str(folder), "-e", str(folder / "error.log"), "-c",
        str(folder / "nginx.conf"), "-g", f"{user}daemon off; pid {folder}/pid;",
    ]  # fmt: skip


def caddy(folder: Path, port: int, plain: int, service: int) -> list[str]:
    """How it is started."""
    text = (PROXY / "Caddyfile").read_text("utf-8")
    places = {
        r"^\{\n": f"{{\n\tadmin off\n\tskip_install_trust\n\thttp_port {plain}\n\thttps_port {port}\n",
        r"# tls internal": "tls internal",
        r"127\.0\.0\.1:8765": f"127.0.0.1:{service}",
        r"/srv/tiles": str(folder / "tiles"),
    }
    (folder / "Caddyfile").write_text(moved(text, places))
    return [str(required("caddy")), "run", "--adapter", "caddyfile", "--config", str(folder / "Caddyfile")]


@pytest.fixture(scope="module", params=[nginx, caddy], ids=["nginx", "caddy"])
def proxy(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Proxy]:
    """One of the two, with one tile on its disk."""
    folder = tmp_path_factory.mktemp("proxy")
    tile = folder / "tiles/tile/0/000"
    tile.parent.mkdir(parents=True)
    tile.write_bytes(TILE)
    (folder / "tiles/tile/entries").mkdir()
    (folder / "tiles/tile/entries/000").write_bytes(b"what people said, where it never lies")
    Asked.seen = []
    service = ThreadingHTTPServer(("127.0.0.1", 0), Asked)
    threading.Thread(target=service.serve_forever, daemon=True).start()
    port = free()
    words = request.param(folder, port, free(), service.server_port)
    with (folder / "said").open("wb") as said:
        process = subprocess.Popen(
            words, env=os.environ | {"XDG_DATA_HOME": str(folder), "HOME": str(folder)}, cwd=folder,
            stdout=said, stderr=said,
        )  # fmt: skip
    started = Proxy(port, Asked.seen)

    def answers() -> bool:
        assert process.poll() is None, (folder / "said").read_text()
        try:
            return started.ask("/live")[0] == 200
        except OSError:
            return False

    try:
        until(answers)
        yield started
    finally:
        process.terminate()
        process.wait()
        service.shutdown()
        service.server_close()


def test_a_tile_comes_from_disk_and_may_be_kept_for_ever(proxy: Proxy) -> None:
    """Every monitor and every auditor would be a load on the service, and on its database."""
    before = len(proxy.seen)
    status, headers, body = proxy.ask("/tile/0/000")
    assert (status, body) == (200, TILE)
    assert headers.get_all("Cache-Control") == ["public, max-age=31536000, immutable"]
    assert headers.get_all("Content-Type") == ["application/octet-stream"]
    assert headers.get_all("X-Content-Type-Options") == ["nosniff"]
    assert headers.get_all("Strict-Transport-Security") == ["max-age=31536000"]
    assert not [path for _, path, _, _ in proxy.seen[before:] if path != "/ready"]


@pytest.mark.parametrize("path", [NEVER, "/tile/0/", "/tile/0/000.p/17"])
def test_what_is_not_there_yet_is_asked_of_the_service_and_kept_by_nobody(proxy: Proxy, path: str) -> None:
    """A cache on the way would show "no such tile" for a year, of a tile that is there a second later."""
    status, headers, _ = proxy.ask(path)
    assert status == 404
    assert headers.get_all("Cache-Control") == ["no-store"]
    assert headers.get_all("X-Content-Type-Options") == ["nosniff"]
    assert headers.get_all("Strict-Transport-Security") == ["max-age=31536000"]
    assert path in [asked for _, asked, _, _ in proxy.seen]


@pytest.mark.parametrize(
    "path",
    ["/tile/entries/000", "/tile/entries/../entries/000", "/tile/0/../entries/000", "/tile/%65ntries/000"],
)
def test_what_people_said_is_never_served_from_disk(proxy: Proxy, path: str) -> None:
    """Anybody could read every entry of the log, without the key of a monitor."""
    status, headers, body = proxy.ask(path)
    assert b"people" not in body
    assert headers.get("Cache-Control") in ({"no-store", None} if status != 200 else {"no-store"})


def test_the_service_is_told_who_asks_and_by_which_number(proxy: Proxy) -> None:
    """Whoever writes an address of their own into a header would have no limit, or use up that of others."""
    proxy.ask("/health", **{"X-Forwarded-For": "203.0.113.9", "X-Request-Id": "number-of-a-stranger"})
    (told,) = [headers for _, path, headers, _ in proxy.seen if path == "/health"]
    assert told.get_all("X-Forwarded-For") == ["127.0.0.1"]
    assert told.get_all("Host") == [NAME]
    (number,) = told.get_all("X-Request-Id") or [""]
    assert re.fullmatch("[A-Za-z0-9-]{8,64}", number)
    assert number != "number-of-a-stranger"


def test_a_weeks_statements_pass_whole(proxy: Proxy) -> None:
    """A phone that was without a network for a week could send nothing: nginx's own limit is 1 MB."""
    week = b"x" * (12 * 1024 * 1024)
    status, _, _ = proxy.ask("/entries", "POST", week)
    assert status == 200
    assert [len(body) for _, path, _, body in proxy.seen if path == "/entries"] == [len(week)]
