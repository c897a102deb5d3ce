"""People with real keys in front of a real application: firm, laboratory, devices that sign and send.

    field = Field(app, clock)            # founded, everybody enrolled, calendars set
    lot, samples = field.lot(5)
    form = field.open_form()
    field.collect(form, lot, samples[0])

All names are invented. Keys come from fixed seeds, so that a failing run can be repeated.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from bailee.app import SESSION_KEY_FILE, create_app
from bailee.config import LOG_KEY_FILE, Settings
from bailee.domain import numbers
from bailee.domain.moments import Moment
from bailee.operations.ledger import Ledger
from bailee.signing import access, disclosures, key_proof, signed_statement
from bailee.signing.keys import SigningKey
from bailee.signing.signed_statement import Claims

ORIGIN = "ledger.example/test"
FIRM, LAB, OUTSIDER = "harrow-field", "quill-lab", "third-party"
TZO = "-05:00"
ROLES = {
    "inspector": (FIRM, "inspector"),
    "second": (FIRM, "inspector"),
    "clerk": (FIRM, "clerk"),
    "keeper": (FIRM, "media_keeper"),
    "quality": (FIRM, "quality"),
    "dock": (LAB, "custodian"),
    "lab-quality": (LAB, "quality"),
}


AREAS = ("non_complaint", "complaint")


@dataclass
class Clock:
    """The ledger's clock, which moves when a test says so."""

    now: datetime = datetime(2026, 12, 1, 14, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def advance(self, **by: float) -> None:
        """Let time pass."""
        self.now += timedelta(**by)


@dataclass
class Device:
    """One key of one person, counting its own statements; it learns chain heads from answers."""

    name: str
    org: str
    key: SigningKey
    clock: Clock
    seq: int = 0
    prev: str | None = None
    heads: dict[str, str] = field(default_factory=dict)

    def sign(
        self,
        chain: str,
        act: str,
        data: dict[str, Any],
        private: dict[str, str] | None = None,
        *,
        at: Moment | None = None,
        after: str | bool | None = True,
        refs: Sequence[str] = (),
        aud: str = ORIGIN,
        seen: signed_statement.Seen | None = None,
    ) -> dict[str, Any]:
        """A signed statement with its disclosures, as `POST /entries` takes it."""
        self.seq += 1
        told = disclosures.conceal(private or {})
        claims = Claims(
            iss=self.org,
            aud=aud,
            sub=chain,
            act=act,
            iat=at.epoch_seconds if at else int(self.clock().timestamp()),
            tzo=TZO,
            seq=self.seq,
            prev=self.prev,
            after=(self.heads.get(chain) if after is True else after) or None,
            data=data,
            refs=tuple(refs),
            seen=seen,
            private=tuple(disclosures.digest(each) for each in told),
        )
        text = signed_statement.sign(self.key, claims)
        self.prev = signed_statement.digest(text)
        return {"statement": text, "disclosures": told}

    @property
    def bearer(self) -> dict[str, str]:
        """The header that says who asks."""
        token = access.issue(self.key, self.org, ORIGIN, int(self.clock().timestamp()))
        return {"Authorization": f"Bearer {token}"}


def make_home(folder: Path, database_url: str, **settings: Any) -> Settings:
    """A service's folder with a log key from a fixed seed. How fast a machine is decides no test."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / LOG_KEY_FILE).write_bytes(SigningKey.from_seed(b"log".ljust(32, b".")).pem())
    (folder / SESSION_KEY_FILE).write_bytes(b"s" * 32)
    values = {
        "origin": ORIGIN,
        "address": "https://ledger.example",
        "founding": "open",
        "requests_per_key": 0,
        "answer_within_s": 120,
    }
    return Settings(home=folder, database=database_url, **(values | settings))


class Client(FlaskClient):
    """Gives all its requests one number, so that answers can be compared."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.environ_base["HTTP_X_REQUEST_ID"] = "a-request-of-a-test"


class Field:
    """A firm, a laboratory and everybody in them, before one application."""

    def __init__(self, settings: Settings, *, start: bool = True, clock: Clock | None = None) -> None:
        self.clock = clock or Clock()
        self.app: Flask = create_app(settings, self.clock)
        self.app.test_client_class = Client
        self.client = self.app.test_client()
        self.ledger: Ledger = self.app.extensions["ledger"]
        self._random = random.Random(7)
        self._indoors = 0
        self.roots = {org: self.device(f"{org} root", org) for org in (FIRM, LAB)}
        self.people: dict[str, Device] = {}
        if start:
            self.found()

    @property
    def memory(self) -> tuple[Any, ...]:
        """What people, devices and dice know beside the books."""
        return self.roots, self.people, self._random, self._indoors

    @memory.setter
    def memory(self, known: tuple[Any, ...]) -> None:
        self.roots, self.people, self._random, self._indoors = known

    def device(self, name: str, org: str) -> Device:
        """A new device with a key from a fixed seed."""
        return Device(name, org, SigningKey.from_seed(hashlib.sha256(name.encode()).digest()), self.clock)

    def found(self) -> None:
        """Found both organizations, enroll everybody, set calendars."""
        for org, root in self.roots.items():
            data = {"name": org.replace("-", " ").title(), "jwk": root.key.jwk, "recovery": None}
            self.ok(self.send(root.sign(f"org/{org}", "founded", data)), root)
        for name, (org, role) in ROLES.items():
            self.people[name] = self.device(name, org)
            self.enroll(self.people[name], role)
        week = {day: ["08:00-17:00"] for day in ("mon", "tue", "wed", "thu", "fri")}
        dock = {"zone": "America/Chicago", "hours": week, "closed": ["us-federal"], "years": [2026, 2027]}
        lab = self.roots[LAB]
        self.ok(self.send(lab.sign(f"org/{LAB}", "calendar_set", {"which": "lab", "calendar": dock})), lab)
        road = {**dock, "zone": "America/New_York", "hours": {day: ["00:00-24:00"] for day in week}}
        firm = self.roots[FIRM]
        carrier = {
            "which": "carrier",
            "carrier": "acorn-freight",
            "cutoff": "17:00",
            "delivery": "10:30",
            "calendar": road,
        }
        self.ok(self.send(firm.sign(f"org/{FIRM}", "calendar_set", carrier)), firm)
        meter = {"kind": "meter", "id": "M-3", "certified": "2026-06-15"}
        self.ok(self.send(firm.sign(f"org/{FIRM}", "equipment_set", meter)), firm)
        for name in ("inspector", "second"):
            told = {"kid": self.people[name].key.kid, "on": "2026-03-03"}
            self.ok(self.send(firm.sign(f"org/{FIRM}", "trained", told)), firm)

    def enroll(self, device: Device, role: str) -> None:
        """Enroll a key with its organization, signed by the root."""
        root = self.roots[device.org]
        data = {
            "kid": device.key.kid,
            "jwk": device.key.jwk,
            "role": role,
            "proof": key_proof.issue(device.key, device.org, ORIGIN, int(self.clock().timestamp())),
            "identity_check": "in_person",
        }
        private = {
            "person": device.name.replace("-", " ").title() + " Person",
            "device": f"{device.name} phone",
        }
        self.ok(self.send(root.sign(f"org/{device.org}", "enrolled", data, private)), root)

    def send(self, *signed: dict[str, Any]) -> Any:
        """POST one statement, or several as a list."""
        body = signed[0] if len(signed) == 1 else {"statements": list(signed)}
        return self.client.post("/entries", json=body)

    def ok(self, answer: Any, device: Device | None = None) -> Any:
        """The answer to one statement, which must have been registered; the device learns the new head."""
        assert answer.status_code in (200, 201), answer.text
        told = answer.get_json()
        if device:
            device.heads[told["chain"]] = told["leaf"]
        return told

    def act(
        self, who: str, chain: str, act: str, data: dict[str, Any], private: dict[str, str] | None = None
    ) -> Any:
        """One person says one thing, online."""
        device = self.people[who]
        length, leaf = self.head(chain)
        device.heads[chain] = leaf if length else ""
        return self.ok(self.send(device.sign(chain, act, data, private)), device)

    def head(self, chain: str) -> tuple[int, str]:
        """Length and newest leaf of a chain, read from the books."""
        from bailee.operations import queries

        with self.ledger.database.reading() as connection:
            length, leaf = queries.head(connection, chain)
        return length, leaf or ""

    def get(self, who: str | None, path: str, **more: Any) -> Any:
        """Ask as somebody."""
        headers = self.people[who].bearer if who else {}
        return self.client.get(path, headers=headers, **more)

    def post(self, who: str, path: str, body: Any) -> Any:
        """Ask a question with a body as somebody."""
        return self.client.post(path, json=body, headers=self.people[who].bearer)

    def number(self, kind: numbers.Kind) -> str:
        """A new number, the same in every run."""
        return numbers.issue(kind, self._random.choice)

    def lot(
        self, count: int = 5, *, expiry: str | None = "2027-03-31", who: str = "keeper"
    ) -> tuple[str, list[str]]:
        """A lot received and issued: its number, and the sample numbers."""
        lot = self.number("lot")
        received = {
            "maker_lot": "42-0117",
            "cassette": "slit",
            "expiry": expiry,
            "count": count,
            "nominal_flow": "15.0",
            "run_s": 300,
        }
        self.act(who, f"lot/{lot}", "lot_received", received)
        samples = [self.number("sample") for _ in range(count)]
        self.act(who, f"lot/{lot}", "issued", {"samples": samples})
        return lot, samples

    def open_form(self, **changes: Any) -> str:
        """A visit begins."""
        form = self.number("form")
        data = {
            "edition": 1,
            "parties": {"firm": FIRM, "lab": LAB},
            "visit": "2026-12-01",
            "zone": "America/New_York",
            "method": "ASTM D7788",
            "analysis": "direct-exam",
            "turnaround": "standard",
            "preparation": {
                "windows_closed_h": "26",
                "purifiers_off_h": "26",
                "ventilation": "normal",
                "cleaned_h_ago": "48",
                "fresh_air": "none",
            },
            "question_given": True,
            **changes,
        }
        private = {
            "client": "Perpetua Example",
            "site": "12 Invented Lane",
            "question": "musty odor in the basement",
        }
        self.act("inspector", f"form/{form}", "opened", data, private)
        return form

    def collect(
        self, form: str, lot: str, sample: str, kind: str = "indoor", who: str = "inspector", **changes: Any
    ) -> Any:
        """One cassette run and covered, now."""
        return self.act(
            who,
            f"form/{form}",
            "collected",
            self.run(lot, sample, kind, **changes),
            {"place": "by the window"},
        )

    def run(self, lot: str, sample: str, kind: str = "indoor", **changes: Any) -> dict[str, Any]:
        """The facts of one run that has just ended."""
        began = self.clock().astimezone(UTC) - timedelta(minutes=5)
        self._indoors += kind == "indoor"
        data: dict[str, Any] = {
            "sample": sample,
            "lot": lot,
            "kind": kind,
            "started": Moment(began, -300).text(),
            "run_s": 300,
            "planned_s": 300,
            "covers_on": True,
            "serial": f"K-{sample[-6:]}",
            "point": sample[-3:],
            "room": "bedroom" if kind == "indoor" else "outdoors",
            "space": "conditioned" if kind == "indoor" else "other",
            "area": AREAS[self._indoors % 2] if kind == "indoor" else "reference",
            "near": ["none"],
            "height_m": "1.2",
            "pump": "P-7",
            "meter": "M-3",
            "flow_before": "15.0",
            "flow_after": "14.9",
        }
        if kind == "outdoor":
            weather = {"sky": "clear", "wind": "light"}
            data |= {"distance_m": "4.0", "weather": weather}
        self.clock.advance(minutes=10)
        return {**data, **changes}

    def rule_out_outdoor(self, form: str) -> None:
        """The inspector says on site that no outdoor control is possible."""
        at = Moment(self.clock().astimezone(UTC), -300).text()
        self.act("inspector", f"form/{form}", "outdoor_ruled_out", {"at": at, "reason": "storm"})

    def seal(self, envelope: str, samples: Sequence[str], seal: str, **changes: Any) -> Any:
        """The clerk's question, and on a yes the statements signed and sent."""
        at = Moment(self.clock().astimezone(UTC), -300).text()
        body = {
            "envelope": envelope,
            "samples": list(samples),
            "total": len(samples),
            "seal": seal,
            "at": at,
            "across_opening": True,
            "record_enclosed": True,
            **changes,
        }
        answer = self.post("clerk", "/readiness", {"act": "sealed", "data": body})
        assert answer.status_code == 200, answer.text
        told = answer.get_json()
        for each in told["statements"]:
            self.act("clerk", each["sub"], each["act"], each["data"])
        return told

    def ship(self, envelope: str, **changes: Any) -> Any:
        """Handed to the carrier, now."""
        body = {
            "envelope": envelope,
            "carrier": "acorn-freight",
            "service": "next day",
            "service_days": 1,
            "tracking": "AF-1002003",
            "handed_over": Moment(self.clock().astimezone(UTC), -300).text(),
            **changes,
        }
        answer = self.post("clerk", "/readiness", {"act": "shipped", "data": body})
        assert answer.status_code == 200, answer.text
        told = answer.get_json()
        for each in told["statements"]:
            self.act("clerk", each["sub"], each["act"], each["data"])
        return told

    def hand_to_clerk(self, form: str, samples: Sequence[str]) -> None:
        """Inspector gives, clerk takes."""
        at = Moment(self.clock().astimezone(UTC), -300).text()
        given = {
            "samples": list(samples),
            "count": len(samples),
            "to": FIRM,
            "to_kid": self.people["clerk"].key.kid,
            "purpose": "shipping",
            "at": at,
        }
        self.act("inspector", f"form/{form}", "relinquished", given)
        items = [{"sample": each, "condition": ["intact"]} for each in samples]
        self.act(
            "clerk",
            f"form/{form}",
            "received",
            {"items": items, "count": len(items), "at": at, "purpose": "shipping"},
        )

    def dock(self, form: str, envelope: str, samples: Sequence[str], seal: str | None, **changes: Any) -> Any:
        """The laboratory opens the envelope, now."""
        found = {
            "envelope": envelope,
            "seal": seal,
            "seal_state": "intact",
            "package": ["sound"],
            "delivered": Moment(self.clock().astimezone(UTC), -360).text(),
            "total": len(samples),
            **changes,
        }
        data = {
            "items": [
                {"sample": each, "condition": ["intact"], "serial": f"K-{each[-6:]}"} for each in samples
            ],
            "count": len(samples),
            "at": Moment(self.clock().astimezone(UTC), -360).text(),
            "dock": found,
        }
        return self.act("dock", f"form/{form}", "received", data)

    def sealed_visit(self) -> tuple[str, str, list[str], str]:
        """A faultless visit up to the seal: form, envelope, samples, seal."""
        lot, samples = self.lot(3)
        form = self.open_form()
        for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
            self.collect(form, lot, sample, kind)
        self.hand_to_clerk(form, samples)
        envelope, seal = self.number("envelope"), self.number("seal")
        assert self.seal(envelope, samples, seal)["ready"]
        return form, envelope, samples, seal

    def faultless(self) -> tuple[str, str, list[str], str]:
        """A whole faultless visit up to acceptance: form, envelope, samples, seal."""
        form, envelope, samples, seal = self.sealed_visit()
        assert self.ship(envelope)["ready"]
        self.clock.now = self.clock.now.replace(day=self.clock.now.day + 1, hour=16, minute=30)
        self.dock(form, envelope, samples, seal)
        self.clock.advance(minutes=10)
        at = Moment(self.clock().astimezone(UTC), -360).text()
        self.act("dock", f"form/{form}", "accepted", {"samples": samples, "at": at})
        return form, envelope, samples, seal


Visited = tuple[Field, tuple[str, str, list[str], str]]
"""Somebody's ledger after `faultless`, and what that told."""
