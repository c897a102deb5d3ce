"""A town for tests of the command line: a real application, its clock, and people who only type commands.

    town = Town(folder)
    town.settle()                       # firm and laboratory founded, everybody enrolled, calendars set
    town.person("inspector").run("open", "--lab", LAB, "--zone", "America/New_York")

The application is the real one, reached without a port. `town.line` decides what the network does to each
request.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import httpx2
from click.testing import CliRunner, Result
from pypdf import PdfReader

from bailee.app import create_app
from bailee.domain import numbers
from bailee.signing import signed_statement
from bailee_cli.device.session import Session
from bailee_cli.main import bailee
from field import FIRM, LAB, ORIGIN, ROLES, Clock, make_home
from grounds import migrated

ADDRESS = "https://ledger.example"
CALENDAR = """
zone = "{zone}"
years = [2026, 2027]
closed = ["us-federal"]
[hours]
mon = ["{hours}"]
tue = ["{hours}"]
wed = ["{hours}"]
thu = ["{hours}"]
fri = ["{hours}"]
"""

RUN = (
    "--run",
    "5:00",
    "--planned",
    "5:00",
    "--covers",
    "--pump",
    "P-7",
    "--meter",
    "M-3",
    "--flow-before",
    "15.0",
    "--flow-after",
    "14.9",
    "--height",
    "4 ft",
    "--near",
    "none",
)
INDOOR = (
    "--kind",
    "indoor",
    "--room",
    "bedroom",
    "--space",
    "conditioned",
    "--area",
    "complaint",
    "--place",
    "by the window",
    *RUN,
)
OUTDOOR = (
    "--kind",
    "outdoor",
    "--room",
    "outdoors",
    "--space",
    "other",
    "--area",
    "reference",
    "--distance",
    "4.0 m",
    "--sky",
    "clear",
    "--wind",
    "light",
    *RUN,
)
OPEN = (
    "open",
    "--lab",
    LAB,
    "--zone",
    "America/New_York",
    "--client",
    "Perpetua Example",
    "--site",
    "12 Invented Lane",
    "--question",
    "musty odor",
    "--method",
    "ASTM D7788",
    "--analysis",
    "direct-exam",
    "--turnaround",
    "standard",
    "--ventilation",
    "normal",
    "--windows-closed-h",
    "26",
    "--purifiers-off-h",
    "26",
    "--fresh-air",
    "none",
    "--cleaned-h-ago",
    "48",
)
SEAL = ("--seal", "C-4711", "--across-opening", "--record-enclosed", "--yes")
INTACT = ("--seal", "C-4711", "--seal-state", "intact", "--all-intact")
"""As the dock finds what was sealed so."""
ENVELOPE = numbers.issue("envelope", lambda _: "3")

Weather = Literal["fine", "down", "answer lost"]


@dataclass
class Line(httpx2.BaseTransport):
    """The network between people and the service: it works, or is down, or loses the answer to every
    statement after the service has acted.
    """

    inner: httpx2.BaseTransport
    weather: Weather = "fine"
    requests: list[str] = field(default_factory=list)
    bodies: list[bytes] = field(default_factory=list)
    says: dict[str, Any] = field(default_factory=dict)
    """Somebody in between answers these requests: JSON, or a page when it is text."""

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        """Pass it on, or not."""
        self.requests.append(f"{request.method} {request.url.raw_path.decode()}")
        if self.requests[-1] in self.says:
            false = self.says[self.requests[-1]]
            return (
                httpx2.Response(200, text=false)
                if isinstance(false, str)
                else httpx2.Response(200, json=false)
            )
        if self.weather == "down":
            raise httpx2.ConnectError("no route")
        if request.method == "POST":
            self.bodies.append(request.read())
        answer = self.inner.handle_request(request)
        answer.read()
        if self.weather == "answer lost" and self.requests[-1] == "POST /entries":
            raise httpx2.ReadError("gone")
        return answer

    def close(self) -> None:
        """Stay open: one line serves all commands."""


class Town:
    """One service and everybody around it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        database = f"sqlite:///{folder}/ledger.sqlite"
        if not (folder / "ledger.sqlite").exists():
            migrated(folder / "ledger.sqlite")
        self.clock = Clock()
        self.app = create_app(make_home(folder / "server", database), self.clock)
        self.ledger = self.app.extensions["ledger"]
        self.line = Line(httpx2.WSGITransport(app=self.app))
        self.people: dict[str, Person] = {}

    def person(self, name: str, org: str = FIRM) -> Person:
        """Somebody with a folder of their own."""
        return self.people.setdefault(name, Person(self, name, org))

    def close(self) -> None:
        """Give the database back."""
        self.ledger.database.close()

    def settle(self) -> None:
        """Everybody joins; roots found their organizations and enroll the others; calendars are set."""
        for name, org in (("firm-root", FIRM), ("lab-root", LAB)):
            root = self.person(name, org)
            root.join()
            root.run("found", org, "--name", org.replace("-", " ").title(), "--person", "Root Person")
        for name, (org, role) in ROLES.items():
            self.enroll(name, org, role)
        lab = self.folder / "lab.toml"
        lab.write_text(CALENDAR.format(zone="America/Chicago", hours="08:00-17:00"))
        self.people["lab-root"].run("calendar", "lab", str(lab))
        carrier = self.folder / "carrier.toml"
        carrier.write_text(CALENDAR.format(zone="America/New_York", hours="00:00-24:00"))
        self.people["firm-root"].run("calendar", "carrier", str(carrier), "--carrier", "acorn-freight")

    def enroll(self, name: str, org: str, role: str) -> Person:
        """A key made, a request written, an administrator's signature."""
        person = self.person(name, org)
        person.join()
        request = self.folder / f"{name}.json"
        person.run("key", "request", "--person", f"{name.title()} Person", "-o", str(request))
        root = self.people["firm-root" if org == FIRM else "lab-root"]
        root.run("enroll", str(request), "--role", role, "--checked", "in_person")
        return person

    def lot(self, count: int = 4, expiry: str = "2027-03", cassette: str = "slit") -> tuple[str, list[str]]:
        """A lot received and issued by the media keeper: its number and the sample numbers."""
        flow = ("--nominal-flow", "15.0") if cassette == "slit" else ()
        keeper = self.person("keeper")
        kept = keeper.answer(
            "lot",
            "receive",
            "--maker-lot",
            "42-0117",
            "--cassette",
            cassette,
            "--expiry",
            expiry,
            "--count",
            str(count),
            *flow,
        )
        lot = kept[0]["chain"].removeprefix("lot/")
        keeper.run("lot", "issue", lot, "--count", str(count))
        return lot, keeper.answer("lot", "show", lot)["issued"]


def last(town: Town, name: str = "inspector") -> dict[str, Any]:
    """The public facts that somebody signed last."""
    outbox = town.person(name).session().of(name, as_json=False).outbox
    (kept,) = outbox.newest(1)
    outbox.close()
    return dict(signed_statement.read(kept.text).claims.data)


def flat(said: str) -> str:
    """What is on the screen as one line, however narrow it was."""
    return " ".join(said.split())


@dataclass
class Person:
    """Somebody at a keyboard."""

    town: Town
    name: str
    org: str

    def session(self) -> Session:
        """What the command line is given for this person."""
        return Session(home=self.town.folder / "homes", transport=self.town.line, clock=self.town.clock)

    @property
    def folder(self) -> Path:
        """Where key and outbox are."""
        return self.town.folder / "homes" / self.name

    def join(self) -> None:
        """A key, and where it belongs."""
        self.run("key", "new")
        self.join_only()

    def join_only(self) -> None:
        """Where a key that is there belongs."""
        self.run("join", "--service", ADDRESS, "--org", self.org, "--origin", ORIGIN)

    def type(self, *words: str, typed: str = "") -> Result:
        """Type a command, and what is asked for."""
        return CliRunner().invoke(bailee, ["--as", self.name, *words], obj=self.session(), input=typed)

    def run(self, *words: str, typed: str = "", code: int | None = 0) -> str:
        """Type a command that must end with `code` (None: with any); everything on the screen."""
        result = self.type(*words, typed=typed)
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        assert code in (None, result.exit_code), result.output
        return result.output

    def answer(self, *words: str, typed: str = "", code: int | None = 0) -> Any:
        """The same with --json: what a program would read."""
        result = (
            self.type("--json", *words, typed=typed)
            if words[0] != "--json"
            else self.type(*words, typed=typed)
        )
        assert code in (None, result.exit_code), result.output
        return json.loads(result.stdout)

    def outbox(self) -> list[dict[str, Any]]:
        """Everything this device has signed, oldest first."""
        return list(reversed(self.answer("outbox", "--all")))


def verify_words(town: Town) -> list[str]:
    """What an auditor brings: the organizations' root keys and the log key."""
    roots = [
        word
        for name, org in (("firm-root", FIRM), ("lab-root", LAB))
        for word in ("--root", f"{org}={town.person(name).answer('key', 'show')['kid']}")
    ]
    return [*roots, "--log-key", town.ledger.vkey]


def told_everywhere(town: Town, form: str, sample: str | None = None) -> dict[str, str]:
    """What terminal, record, pages and an auditor's verification say of a form, each as running text."""
    inspector, folder = town.person("inspector"), town.folder
    record, bundle = folder / "record.pdf", folder / "form.bundle"
    inspector.run("record", form, "-o", str(record))
    inspector.run("bundle", form, "-o", str(bundle))
    browser, token = town.app.test_client(), inspector.run("pages").strip().partition("#")[2]
    assert browser.post("/session", json={"token": token}).status_code == 200
    told = {
        "terminal": inspector.run("show", form),
        "record": " ".join(page.extract_text() for page in PdfReader(record).pages),
        "page": browser.get(f"/pages/forms/{form}").text,
        "auditor": town.person("auditor").run("verify", str(bundle), *verify_words(town), code=None),
    }
    if sample is not None:
        told["page of the sample"] = browser.get(f"/pages/samples/{sample}").text
    return {where: flat(text) for where, text in told.items()}


def collect(town: Town, sample: str, what: tuple[str, ...]) -> str:
    """One cassette, with a glass number and a point of its own; ten minutes pass."""
    town.clock.advance(minutes=10)
    return town.person("inspector").run(
        "collect", sample, *what, "--serial", f"K-{sample[-6:]}", "--point", sample[-3:]
    )


def to_the_clerk(town: Town, samples: list[str]) -> None:
    """The inspector gives, the clerk takes, hand to hand."""
    clerk = town.person("clerk")
    kid = clerk.answer("key", "show")["kid"]
    town.person("inspector").run(
        "give", *samples, "--count", str(len(samples)), "--to", FIRM, "--to-key", kid, "--purpose", "shipping"
    )
    clerk.run(
        "take", *samples, "--count", str(len(samples)), "--condition", "intact", "--purpose", "shipping"
    )


def dock(town: Town, *words: str, **more: Any) -> str:
    """The dock opens the envelope with everything answered but what is given."""
    return town.person("dock").run(
        "receive",
        ENVELOPE,
        "--package",
        "sound",
        "--record-enclosed",
        "--yes",
        "--zone",
        "America/Chicago",
        *words,
        **more,
    )
