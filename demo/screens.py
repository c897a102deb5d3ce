"""The screens of the demonstration: an inspector, a clerk and a dock, each at an address of its own, so that
each has a key of its own in one browser; and beside them what only a demonstration has.

    http://inspector.localhost:PORT/sign/   the app of the firm's service, passed on as it is
    http://inspector.localhost:PORT/demo/   the invented administrator lets in the key made there
    http://auditor.localhost:PORT/          an auditor's desk: the file of the visit, and a check of it
    http://localhost:PORT/                  the guide, in ten steps

Browsers take every name that ends in `.localhost` for this machine (RFC 6761 6.3), an origin of its own.
"""

from __future__ import annotations

import http.client
import json
import secrets
import sys
import threading
from base64 import urlsafe_b64decode
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from string import Template
from typing import Any, Final
from urllib.parse import urlsplit

import audit
from cast import FIRM, LAB, PEOPLE, Story
from ground import DemoError

from bailee.domain.numbers import grouped

ROLES: Final = {"inspector": (FIRM, "inspector"), "clerk": (FIRM, "clerk"), "dock": (LAB, "custodian")}
"""By the name of the address: for which organization its key is let in, and in which role."""
PAGES: Final = Path(__file__).resolve().parent / "pages"
_OWN_HOPS: Final = {"connection", "keep-alive", "transfer-encoding", "content-length", "host"}
"""Headers of one connection (RFC 9110 7.6.1), and what is written anew."""
_WINDOWS: Final = {"cross-origin-opener-policy"}
"""Would forbid the guide to open each person's screens in the same window again."""
_CASSETTES: Final = 2
_TRIES: Final = 5
"""The cosigner signs a moment later than the ledger grows; on a busy machine, some moments."""


@dataclass
class Screens:
    """What the visitor's keys did so far, as far as the guide has to know it."""

    story: Story
    port: int = 0
    names: dict[str, str] = field(default_factory=dict)
    samples: list[str] = field(default_factory=list)
    form: str = ""
    envelope: str = ""
    seal: str = field(default_factory=lambda: f"HF-{20500 + secrets.randbelow(400)}")
    done: Counter[str] = field(default_factory=Counter)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def address(self, who: str = "") -> str:
        """Where this person's screens are; of nobody, where the guide is."""
        return f"http://{who + '.' if who else ''}localhost:{self.port}"

    def let_in(self, who: str, request: dict[str, Any]) -> None:
        """The organization's root key enrolls the visitor's; an inspector gets two numbered cassettes."""
        org, role = ROLES[who]
        if request.get("organization") != org:
            raise DemoError(f"This key asks for another organization. Tap Wrong organization or name: {org}.")
        with self.lock:
            file = self.story.out / "requests" / f"visitor-{who}.json"
            file.write_text(json.dumps(request))
            root = next(each for each, (_, of, as_) in PEOPLE.items() if (of, as_) == (org, "root"))
            self.story.stage.typed(
                root, "enroll", str(file), "--role", role, "--checked", "known", "--yes",
                shows=["Recorded: enrolled"], silent=True,
            )  # fmt: skip
            self.names[who] = str(request.get("person") or role)
            if who == "inspector":
                self.story.kids["visitor"] = request["kid"]
                self._issue()

    def _issue(self) -> None:
        year = datetime.now().astimezone().year + 1
        stage = self.story.stage
        box = f"42-{secrets.randbelow(9000) + 1000}"
        typed = ("--cassette", "slit", "--nominal-flow", "15.0", "--expiry", f"{year}-12", "--maker-lot", box)
        count = str(_CASSETTES)
        stage.typed("keeper", "lot", "receive", *typed, "--count", count, silent=True)
        (number,) = (
            each["lot"] for each in stage.answer("keeper", "lot", "show")["lots"] if each["maker_lot"] == box
        )
        to = self.story.kids["visitor"]
        stage.typed("keeper", "lot", "issue", grouped(number), "--count", count, "--to", to, silent=True)
        self.samples = stage.answer("keeper", "lot", "show", number)["issued"]

    def heard(self, body: bytes) -> None:
        """What the visitor's keys sent to the ledger, for the guide: acts, form and envelope."""
        told = json.loads(body)
        for each in told.get("statements", (told,)):
            payload = each["statement"].split(".")[1]
            claims = json.loads(urlsafe_b64decode(payload + "=" * (-len(payload) % 4)))
            self.done[claims["act"]] += 1
            if claims["act"] == "opened":
                self.form = claims["sub"].removeprefix("form/")
            if claims["act"] == "sealed":
                self.envelope = claims["data"]["envelope"]

    def check(self, *, altered: bool) -> dict[str, Any]:
        """What `bailee verify` says of the visitor's file, or of a copy with one figure changed."""
        if not self.form:
            raise DemoError("There is no visit yet: begin with step 1 of the guide.")
        with self.lock:
            file, changed = self.story.out / "your-visit.json", ""
            fetch = ("bundle", grouped(self.form), "-o", str(file))
            for _ in range(_TRIES):
                self.story.stage.typed("inspector", *fetch, silent=True)
                code, said = audit.checked(self.story, file)
                if audit.COSIGNED in said:
                    break
            if altered:
                copy = self.story.out / "your-visit-altered.json"
                changed = audit.alter(json.loads(file.read_text()), copy).what
                file = copy
                code, said = audit.checked(self.story, file)
            self.done["altered" if altered else "checked"] += 1
        return {"file": file.name, "code": code, "said": said, "changed": changed}

    def state(self) -> dict[str, Any]:
        """What the guide shows: who was let in, and the numbers to type."""
        return {
            "names": self.names,
            "samples": [grouped(each) for each in self.samples],
            "envelope": grouped(self.envelope) if self.envelope else "",
            "form": grouped(self.form) if self.form else "",
            "seal": self.seal,
            "done": self.done,
        }


@contextmanager
def served(story: Story) -> Iterator[Screens]:
    """The screens, at a free port of this machine, until the block ends."""
    screens = Screens(story)
    handler = type("Handler", (_Handler,), {"screens": screens})
    server = _Server(("127.0.0.1", 0), handler)
    screens.port = server.server_port
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield screens
    finally:
        server.shutdown()
        server.server_close()


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A browser that went away in the middle is none."""
        if not isinstance(sys.exc_info()[1], ConnectionError):
            super().handle_error(request, client_address)


class _Handler(BaseHTTPRequestHandler):
    """One request: the guide's, the auditor's, or one that is passed on to the firm's service."""

    screens: Screens
    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        who, path = self._who(), urlsplit(self.path).path
        if who is None:
            self._answer(404, "text/plain", "This address is none of the demonstration's.")
        elif who in ROLES and path == "/demo/":
            self._let_in_page(who)
        elif who in ROLES:
            self._pass_on()
        elif who == "auditor":
            self._page("auditor.html")
        elif path == "/state":
            self._answer(200, "application/json", json.dumps(self.screens.state()))
        else:
            self._page("guide.html")

    def do_POST(self) -> None:
        who, path = self._who(), urlsplit(self.path).path
        is_own = self.headers.get("Origin") == f"http://{self.headers.get('Host')}"
        try:
            if who in ROLES and path == "/demo/" and is_own:
                self.screens.let_in(who, json.loads(self._body()))
                self._answer(200, "application/json", "{}")
            elif who in ROLES and path != "/demo/":
                self._pass_on()
            elif who == "auditor" and is_own:
                found = self.screens.check(altered=json.loads(self._body())["altered"])
                self._answer(200, "application/json", json.dumps(found))
            else:
                self._answer(404, "text/plain", "This address is none of the demonstration's.")
        except DemoError as failure:
            self._answer(409, "text/plain", str(failure))

    def _who(self) -> str | None:
        """Whose address was asked; "" for the guide, None for one that is not ours."""
        host, _, port = self.headers.get("Host", "").partition(":")
        if port != str(self.screens.port):
            return None
        who = host.removesuffix("localhost").removesuffix(".")
        return who if who in {"", "auditor", *ROLES} else "" if host == "127.0.0.1" else None

    def _body(self) -> bytes:
        return self.rfile.read(int(self.headers.get("Content-Length") or 0))

    def _page(self, name: str) -> None:
        told = {each: self.screens.address(each) for each in (*ROLES, "auditor")}
        told |= {"guide": self.screens.address(), "firm": FIRM, "lab": LAB}
        style = (PAGES / "pages.css").read_text()
        self._answer(200, "text/html", Template((PAGES / name).read_text()).substitute(told, style=style))

    def _let_in_page(self, who: str) -> None:
        """The app's own page, and below it the band of the demonstration that sends the request on."""
        _, _, app = self._asked_of_service("/sign/", b"", {})
        org, role = ROLES[who]
        root = next(name for name, of, as_ in PEOPLE.values() if (of, as_) == (org, "root"))
        band = Template((PAGES / "let-in.html").read_text()).substitute(root=root, org=org, role=role)
        page = app.decode().replace("<head>", '<head><base href="/sign/">').replace("<body>", f"<body>{band}")
        self._answer(200, "text/html", page)

    def _pass_on(self) -> None:
        body = self._body()
        if self.command == "POST" and self.path == "/entries":
            self.screens.heard(body)
        sent = {name: each for name, each in self.headers.items() if name.lower() not in _OWN_HOPS}
        status, headers, content = self._asked_of_service(self.path, body, sent)
        self.send_response(status)
        for name, each in headers:
            if name.lower() not in _OWN_HOPS | _WINDOWS | {"server", "date"}:
                self.send_header(name, each)
        self._end(content)

    def _asked_of_service(
        self, path: str, body: bytes, sent: dict[str, str]
    ) -> tuple[int, list[tuple[str, str]], bytes]:
        to = http.client.HTTPConnection(urlsplit(self.screens.story.address).netloc, timeout=600)
        try:
            to.request(self.command, path, body or None, {**sent, "Host": self.headers["Host"]})
            found = to.getresponse()
            return found.status, found.getheaders(), found.read()
        finally:
            to.close()

    def _answer(self, status: int, kind: str, text: str) -> None:
        self.send_response(status)
        self.send_header("Content-Type", f"{kind}; charset=utf-8")
        self.send_header("Cache-Control", "no-store")
        self._end(text.encode())

    def _end(self, content: bytes) -> None:
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *said: object) -> None:
        """Nothing: the stage says what happens."""
