"""Stories for tests: a visit told in a few lines, recorded without signatures.

    story = visit("collected")                       # two indoor, one outdoor, all in order
    story = visit("accepted", first={"run_s": 200})  # one thing spoilt
    story.sealed(total=4)                            # or act by act
    findings = evaluate(story.case(sealing=story.sealing()))

Every statement goes through `statements.parse`; leaf and digest are SHA-256 of the content, well formed and
not signed. All names are invented. The visit is Tuesday 2026-12-01 in New York, the laboratory is in Chicago;
no holiday is near.

Of every act: data members are keywords (`...` leaves one out), and these say how it was recorded: `by` (who),
`said` (the signer's clock), `rec` (the ledger's clock), `form`, `after` (leaf last seen, None for offline
from the start), `seq`, `refs`, `private`, `disclosed`.
"""

from __future__ import annotations

import hashlib
import json
import random
from base64 import urlsafe_b64encode
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache, cached_property, lru_cache
from types import EllipsisType
from typing import Any, Final, Literal, Self, get_args

from bailee.domain import forms, lots, numbers, organizations, statements
from bailee.domain.acts.form import Received, Relinquished, Sealed, Shipped
from bailee.domain.custody import Form
from bailee.domain.fields import EDITION, Role
from bailee.domain.moments import Moment
from bailee.domain.organizations import Organization
from bailee.domain.statements import B, Draft, Recorded
from bailee.rules.case import Case, Elsewhere
from bailee.rules.registry import Finding, evaluate

Step = Literal[
    "opened",
    "collected",
    "held",
    "relinquished",
    "handed_over",
    "kept",
    "sealed",
    "shipped",
    "docked",
    "accepted",
]
STEPS: Final[tuple[Step, ...]] = get_args(Step)
BEFORE_AND_AFTER: Final[tuple[tuple[Step, str], ...]] = (("collected", "block"), ("shipped", "flag"))
"""What a block is while it can still be cured, and what it is once the samples have left."""

FIRM: Final = "harrow-field"
LAB: Final = "quill-lab"
CARRIER: Final = "acorn-freight"
DAY: Final = "2026-12-01"
NOTHING_ELSEWHERE: Final = Elsewhere()


def name_of(*content: object) -> str:
    """43 base64url characters, the same for the same content."""
    text = json.dumps(content, sort_keys=True, default=str)
    return urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).decode().rstrip("=")


@dataclass(frozen=True)
class Person:
    """Somebody with one key."""

    org: str
    role: Role
    name: str

    @cached_property
    def kid(self) -> str:
        """Thumbprint of the key."""
        return name_of("key", self.org, self.name)


ROOT: Final = Person(FIRM, "root", "Root Harrow")
LAB_ROOT: Final = Person(LAB, "root", "Root Quill")
INSPECTOR: Final = Person(FIRM, "inspector", "Inspector One")
SECOND_INSPECTOR: Final = Person(FIRM, "inspector", "Inspector Two")
CLERK: Final = Person(FIRM, "clerk", "Clerk One")
MEDIA_KEEPER: Final = Person(FIRM, "media_keeper", "Keeper One")
QUALITY: Final = Person(FIRM, "quality", "Quality One")
CUSTODIAN: Final = Person(LAB, "custodian", "Custodian One")
ANALYST: Final = Person(LAB, "analyst", "Analyst One")
LAB_QUALITY: Final = Person(LAB, "quality", "Quality Two")
SECOND_LAB: Final = "third-lab"
SECOND_LAB_ROOT: Final = Person(SECOND_LAB, "root", "Root Third")
SECOND_CUSTODIAN: Final = Person(SECOND_LAB, "custodian", "Custodian Two")
PEOPLE: Final = (
    INSPECTOR, SECOND_INSPECTOR, CLERK, MEDIA_KEEPER, QUALITY, CUSTODIAN, ANALYST, LAB_QUALITY,
)  # fmt: skip

WEEK: Final = {day: ["08:00-17:00"] for day in ("mon", "tue", "wed", "thu", "fri")}
PREPARED: Final[Mapping[str, Any]] = {
    "windows_closed_h": "36", "purifiers_off_h": "48", "ventilation": "normal", "cleaned_h_ago": None,
    "fresh_air": "none",
}  # fmt: skip
FAIR: Final[Mapping[str, Any]] = {"sky": "clear", "wind": "light", "snow_cover": False, "mowing": False}
AREAS: Final = ("complaint", "non_complaint", "reference")
ROOMS: Final = ("bedroom", "living", "kitchen", "hallway", "office")


class Story:
    """A ledger of invented people.

    `forms` and `lots` are numbers in order of appearance; the last one is current.
    """

    def __init__(self, seed: int = 1) -> None:
        self._random = random.Random(seed)
        self.chains: dict[str, list[Recorded]] = {}
        self.forms: list[str] = []
        self.lots: list[str] = []
        self.samples: list[str] = []
        self.size = 0
        self._seq: dict[str, int] = {}
        self._prev: dict[str, str] = {}
        self.envelope = self.number("envelope")
        self.seal = self.number("seal")
        if type(self).add is Story.add:
            self._remember(_founded())
        else:
            self.found_organizations()

    def again(self) -> Self:
        """The same story, to be told on: what was said does not change and is shared."""
        made = copy(self)
        made._random = copy(self._random)
        made._remember(self)
        made.forms, made.lots, made.samples = [*self.forms], [*self.lots], [*self.samples]
        return made

    def _remember(self, told: Story) -> None:
        self.chains = {chain: [*entries] for chain, entries in told.chains.items()}
        self.size, self._seq, self._prev = told.size, {**told._seq}, {**told._prev}

    def number(self, kind: numbers.Kind) -> str:
        """A new valid number, the same on every run."""
        return numbers.issue(kind, self._random.choice)

    # What is current

    @property
    def form(self) -> str:
        """The form opened last."""
        return self.forms[-1]

    def state(self, form: str | None = None) -> Form:
        """The fold of one form."""
        number = form or self.form
        owners, roles = self.persons()
        return forms.fold(number, self.chains[f"form/{number}"], owners, roles)

    def organizations(self) -> dict[str, Organization]:
        """The fold of each organization."""
        return {
            chain.removeprefix("org/"): _organization(_Same(tuple(entries)))
            for chain, entries in self.chains.items()
            if chain.startswith("org/")
        }

    def persons(self) -> tuple[dict[str, str], dict[str, str]]:
        """By key, the first key of the same person, and the role."""
        known = self.organizations().values()
        owners = {kid: one for org in known for kid, one in org.owners.items()}
        return owners, {kid: role for org in known for kid, role in org.roles.items()}

    def case(
        self,
        at: str | None = None,
        sealing: Draft[Sealed] | None = None,
        shipping: Draft[Shipped] | None = None,
        elsewhere: Elsewhere | None = NOTHING_ELSEWHERE,
    ) -> Case:
        """Everything told so far, asked at `at` or ten minutes after the last recording."""
        last = max(entry.rec for chain in self.chains.values() for entry in chain)
        return Case(
            at=Moment.parse(at) if at else Moment(last + timedelta(minutes=10), 0),
            forms={number: self.state(number) for number in self.forms},
            lots={number: lots.fold(self.chains[f"lot/{number}"]) for number in self.lots},
            organizations=self.organizations(),
            drafts=tuple(each for each in (sealing, shipping) if each),
            elsewhere=elsewhere,
        )  # fmt: skip

    def sealing(self, samples: Sequence[str] | None = None, **changes: Any) -> Draft[Sealed]:
        """The clerk is about to seal everything in hand (all forms), or `samples`.

        None for what nobody said yet.
        """
        scanned = (
            tuple(samples)
            if samples is not None
            else tuple(
                sample.number
                for number in self.forms
                for sample in self.state(number).live
                if sample.status == "collected"
            )
        )
        said: dict[str, Any] = {
            "envelope": self.envelope,
            "samples": list(scanned),
            "total": len(scanned),
            "seal": self.seal,
            "at": Moment.parse(f"{DAY}T14:00:00-05:00"),
            "across_opening": True,
            "record_enclosed": True,
        }
        return _draft("sealed", Sealed, said | changes)

    def shipping(self, **changes: Any) -> Draft[Shipped]:
        """The clerk is about to hand the envelope to the carrier, next-day service."""
        said: dict[str, Any] = {
            "envelope": self.envelope,
            "carrier": CARRIER,
            "service": "next-day",
            "service_days": 1,
            "saturday": False,
            "by_hand": False,
            "tracking": "TRACK-0001",
            "handed_over": Moment.parse(f"{DAY}T15:30:00-05:00"),
            "classified": "not_regulated",
        }
        return _draft("shipped", Shipped, said | changes)

    # Recording

    def add(
        self,
        chain: str,
        act: str,
        data: Mapping[str, Any],
        *,
        by: Person,
        said: str,
        rec: str | None = None,
        after: str | EllipsisType | None = ...,
        seq: int | None = None,
        refs: Sequence[str] = (),
        private: int = 0,
        disclosed: Mapping[str, str] | None = None,
    ) -> Recorded:
        """Record one act as said; five seconds pass until the ledger has it."""
        facts = {name: value for name, value in data.items() if value is not ...}
        entries = self.chains.setdefault(chain, [])
        at = Moment.parse(said)
        counter = self._seq.get(by.kid, 0) + 1 if seq is None else seq
        digest = name_of("statement", chain, act, facts, by.kid, counter, said)
        latest = entries[-1].leaf if entries else None
        entry = Recorded(
            chain=chain,
            n=len(entries) + 1,
            leaf=name_of("leaf", digest, self.size),
            rec=Moment.parse(rec).instant if rec else at.instant + timedelta(seconds=5),
            digest=digest,
            kid=by.kid,
            org=by.org,
            act=act,
            at=at,
            seq=counter,
            prev=self._prev.get(by.kid),
            after=latest if isinstance(after, EllipsisType) else after,
            data=facts,
            body=statements.parse(chain, act, facts),
            refs=tuple(refs),
            seen=(self.size, name_of("root", self.size)),
            private=max(private, len(disclosed or {})),
            disclosed=dict(disclosed or {}),
        )
        entries.append(entry)
        self.size += 1
        self._seq[by.kid], self._prev[by.kid] = counter, digest
        return entry

    def say(
        self, act: str, data: Mapping[str, Any], changes: dict[str, Any], *, by: Person, at: str
    ) -> Recorded:
        """One act on a form: `changes` spoil `data`, or say how it was recorded."""
        how: dict[str, Any] = {"by": by, "said": at}
        how |= {name: changes.pop(name) for name in _RECORDING & set(changes)}
        form = changes.pop("form", None) or self.form
        return self.add(f"form/{form}", act, {**data, **changes}, **how)

    # Lots and organizations

    def lot(
        self, *, samples: int = 3, to: Person | None = INSPECTOR, issue: bool = True, **changes: Any
    ) -> str:
        """A lot arrives, and `samples` numbers of it are issued for the visit. Returns its number."""
        number = self.number("lot")
        self.lots.append(number)
        data = {
            "maker_lot": f"ML-{len(self.lots):04}",
            "cassette": "slit",
            "expiry": "2027-11",
            "count": 50,
            "nominal_flow": "15.0",
            "run_s": 300,
            "stored": "shelf A",
        }
        how: dict[str, Any] = {"by": MEDIA_KEEPER, "said": "2026-11-02T09:00:00-05:00"}
        how |= {name: changes.pop(name) for name in _RECORDING & set(changes)}
        self.add(f"lot/{number}", "lot_received", {**data, **changes}, **how)
        if issue:
            new = [self.number("sample") for _ in range(samples)]
            self.samples += new
            self.on_lot(
                "issued", samples=new, to=to.kid if to else None, visit=DAY, said="2026-11-30T16:00:00-05:00"
            )
        return number

    def on_lot(
        self, act: str, *, lot: str | None = None, said: str, by: Person = MEDIA_KEEPER, **data: Any
    ) -> Recorded:
        """Any act on a lot (the last one); `said` is the signer's clock, every other keyword a fact or how it
        was recorded.
        """
        how: dict[str, Any] = {"by": by, "said": said}
        how |= {name: data.pop(name) for name in _RECORDING & set(data)}
        return self.add(f"lot/{lot or self.lots[-1]}", act, data, **how)

    def policy(self, **thresholds: Any) -> Recorded:
        """The firm sets thresholds; the others keep their default."""
        return self.add(
            f"org/{FIRM}",
            "policy_set",
            {"policy": {"edition": EDITION, **thresholds}},
            by=ROOT,
            said="2026-01-06T09:00:00-05:00",
        )

    def calendar(
        self, which: str, zone: str, *, org: str = FIRM, carrier: str | None = None, **changes: Any
    ) -> Recorded:
        """Hours and closed days of a laboratory, office or carrier."""
        days = {"zone": zone, "hours": WEEK, "closed": ["us-federal"], "years": [2026, 2027], **changes}
        data = {"which": which, "carrier": carrier, "calendar": days}
        by, said = (
            (ROOT, "2026-01-06T09:30:00-05:00") if org == FIRM else (LAB_ROOT, "2026-11-02T08:30:00-05:00")
        )
        return self.add(f"org/{org}", "calendar_set", data, by=by, said=said)

    def revoked(self, person: Person, *, since: str, last_good_seq: int, **changes: Any) -> Recorded:
        """A key ends."""
        data = {"kid": person.kid, "reason": "lost", "since": since, "last_good_seq": last_good_seq}
        by = ROOT if person.org == FIRM else LAB_ROOT
        how: dict[str, Any] = {"by": by, "said": since}
        how |= {name: changes.pop(name) for name in _RECORDING & set(changes)}
        return self.add(f"org/{person.org}", "revoked", {**data, **changes}, **how)

    def enrolled(
        self, person: Person, *, said: str = "2026-01-05T10:00:00-05:00", **changes: Any
    ) -> Recorded:
        """A key begins."""
        data = {
            "kid": person.kid,
            "jwk": _jwk(person),
            "role": person.role,
            "proof": name_of("proof", person.kid),
            "identity_check": "in_person",
        }
        by = ROOT if person.org == FIRM else LAB_ROOT
        shown = {"person": person.name, "device": "phone"}
        return self.add(
            f"org/{person.org}", "enrolled", {**data, **changes}, by=by, said=said, disclosed=shown
        )

    def equipment(self, number: str, **changes: Any) -> Recorded:
        """The firm enters a flow meter with its certificate."""
        data = {
            "kind": "meter",
            "id": number,
            "certified": "2026-06-15",
            "valid_to": None,
            "calibrated_c": "25",
            "calibrated_hpa": "1013.25",
        }
        return self._set("equipment_set", {**data, **changes})

    def trained(self, person: Person, **changes: Any) -> Recorded:
        """A sampler of the firm was trained."""
        return self._set("trained", {"kid": person.kid, "on": "2025-03-03", "valid_to": None, **changes})

    def licensing(self, *jurisdictions: str) -> Recorded:
        """The firm says where a sampler needs a license."""
        return self._set("licensing_set", {"jurisdictions": list(jurisdictions)})

    def _set(self, act: str, data: Mapping[str, Any]) -> Recorded:
        return self.add(f"org/{FIRM}", act, data, by=ROOT, said="2026-01-05T11:00:00-05:00")

    def found_organizations(self) -> None:
        """Firm and laboratory begin, with everybody in them."""
        for root, title in (
            (ROOT, "Harrow Field Sampling (example)"),
            (LAB_ROOT, "Quill Laboratory (example)"),
        ):
            data = {"name": title, "jwk": _jwk(root), "recovery": None}
            self.add(
                f"org/{root.org}", "founded", data, by=root, said="2026-01-05T09:00:00-05:00",
                disclosed={"person": root.name, "device": "token"},
            )  # fmt: skip
        for person in PEOPLE:
            self.enrolled(person)
        for person in (INSPECTOR, SECOND_INSPECTOR):
            self.trained(person)
        self.equipment("METER-1")
        self.licensing("US-NY")
        self.calendar("office", "America/New_York")
        self.calendar("carrier", "America/New_York", carrier=CARRIER)
        self.calendar("lab", "America/Chicago", org=LAB)

    # The acts on a form, each faultless unless told otherwise

    def opened(self, **changes: Any) -> Recorded:
        """A visit begins; its form becomes the current one."""
        self.forms.append(changes.pop("form", None) or self.number("form"))
        data = {
            "edition": EDITION,
            "parties": {"firm": FIRM, "lab": LAB},
            "visit": DAY,
            "zone": "America/New_York",
            "method": "spore-trap",
            "project": f"P-{len(self.forms):03}",
            "analysis": "direct-exam",
            "turnaround": "standard",
            "preparation": dict(PREPARED),
            "license": {"jurisdiction": "US-NY", "number": "L-0001", "valid_to": "2027-06-30"},
            "remediator": False,
            "question_given": True,
            "kit": {"cassettes": 4, "indoor": 2, "outdoor": 1},
            "notice_sent": "2026-11-28T09:00:00-05:00",
            "visible_growth": False,
        }
        return self.say("opened", data, {"private": 3, **changes}, by=INSPECTOR, at=f"{DAY}T08:30:00-05:00")

    def collected(self, sample: int | str, kind: str = "indoor", **changes: Any) -> Recorded:
        """One cassette run, by its number or its place in `samples` (0, 1, …; `lot` issues more of them).

        One run every 15 minutes from 09:12.
        """
        place = self.samples.index(sample) if isinstance(sample, str) and sample in self.samples else sample
        index = place if isinstance(place, int) else len(self.samples)
        number = self.samples[index] if isinstance(place, int) else place
        start = Moment.parse(f"{DAY}T09:12:00-05:00").instant + timedelta(minutes=15 * index)
        data: dict[str, Any] = {
            "sample": number,
            "lot": self.lots[-1] if self.lots else self.number("lot"),
            "kind": kind,
            "started": Moment(start, -300).text(),
            "run_s": 300,
            "planned_s": 300,
            "covers_on": True,
            "entered": "scan",
            "serial": f"G-{index + 1:06}",
            "point": f"Point {index + 1}",
            "near": ["none"],
            "height_m": "1.5",
            "pump": "PUMP-1",
            "meter": "METER-1",
            "flow_before": "15.0",
            "flow_after": "14.9",
            "temperature_c": "18",
            "pressure_hpa": "1010",
            "label_on": "body",
            "label_prints": 1,
            "gps_distance_m": "12",
            "dust": "light",
        }
        data |= _KIND[kind]
        if kind == "indoor":
            data |= {"room": ROOMS[index % len(ROOMS)], "area": AREAS[index % len(AREAS)]}
        started = Moment.parse(changes.get("started", data["started"]))
        run = changes.get("run_s", data["run_s"])
        done = Moment(started.instant + timedelta(seconds=run + 60), started.offset_minutes)
        return self.say("collected", data, {"private": 1, **changes}, by=INSPECTOR, at=done.text())

    def surface_collected(self, medium: str = "tape", **changes: Any) -> Recorded:
        """Something is taken from a surface of the kitchen, under a number of its own: no lot, and no air."""
        self.samples.append(changes.setdefault("sample", self.number("sample")))
        at = changes.setdefault("at", f"{DAY}T09:50:00-05:00")
        data = {
            "medium": medium, "room": "kitchen", "point": "Point 9", "area": "complaint",
            "material": "drywall", "surface": "growth", "area_cm2": "4", "label_on": "body",
        }  # fmt: skip
        return self.say("surface_collected", data, {"private": 1, **changes}, by=INSPECTOR, at=at)

    def pump_checked(self, **changes: Any) -> Recorded:
        """The inspector checks the pump once for several runs."""
        at = changes.setdefault("at", f"{DAY}T08:05:00-05:00")
        data = {
            "pump": "PUMP-1", "meter": "METER-1", "flow": "15.0", "when": "before", "through_cassette": True,
        }  # fmt: skip
        return self.say("pump_checked", data, changes, by=INSPECTOR, at=at)

    def outdoor_ruled_out(self, **changes: Any) -> Recorded:
        """The inspector says on site why no outdoor control can be collected."""
        at = changes.setdefault("at", f"{DAY}T09:30:00-05:00")
        return self.say("outdoor_ruled_out", {"reason": "storm"}, changes, by=INSPECTOR, at=at)

    def building_changed(self, **changes: Any) -> Recorded:
        """The ventilation is switched off while the inspector collects."""
        at = changes.setdefault("at", f"{DAY}T09:35:00-05:00")
        data = {"what": "ventilation", "was": "normal", "now": "off"}
        return self.say(
            "building_changed", data, {"said": f"{DAY}T09:50:00-05:00", **changes}, by=INSPECTOR, at=at
        )

    def conditions_read(self, where: str = "indoors", **changes: Any) -> Recorded:
        """The inspector reads the air on one side of the walls; outdoors it has been dry for 30 hours."""
        at = changes.setdefault("at", f"{DAY}T09:48:00-05:00")
        data = {"where": where, "temperature_c": "21.0", "humidity_pct": "45", "instrument": "T-1"}
        if where == "outdoors":
            data |= {"temperature_c": "9.0", "humidity_pct": "70", "rain_ended_h": "30"}
        return self.say("conditions_read", data, changes, by=INSPECTOR, at=at)

    def held(self, **changes: Any) -> Recorded:
        """How it is kept: by the inspector locked in the vehicle, or with `by=CLERK` in the restricted
        office.
        """
        since, secured, where = _KEEPING.get(changes.get("by", INSPECTOR), _KEEPING[INSPECTOR])
        data = {"secured": secured, "where": where, "since": since}
        return self.say("held", data, changes, by=INSPECTOR, at=changes.get("since", since))

    def relinquished(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The inspector gives everything held (or `samples`) to the clerk."""
        giver = changes.get("by", INSPECTOR)
        named = (
            list(samples)
            if samples is not None
            else [
                s.number
                for s in self.state(changes.get("form")).live
                if s.holder and s.holder.kid == giver.kid
            ]
        )
        at = changes.setdefault("at", f"{DAY}T11:30:00-05:00")
        data = {
            "samples": named, "count": len(named), "to": FIRM, "to_kid": CLERK.kid, "purpose": "shipping",
        }  # fmt: skip
        return self.say("relinquished", data, changes, by=INSPECTOR, at=at)

    def received(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The clerk takes over everything given (or `samples`), all of it intact."""
        state = self.state(changes.get("form"))
        named = (
            list(samples)
            if samples is not None
            else [s.number for s in state.live if s.given and isinstance(s.given.body, Relinquished)]
        )
        at = changes.setdefault("at", f"{DAY}T11:36:00-05:00")
        data = {
            "items": self.items(named, form=changes.get("form")),
            "count": len(named),
            "purpose": "shipping",
        }
        return self.say("received", data, changes, by=CLERK, at=at)

    def items(self, samples: Sequence[str], *, form: str | None = None) -> list[dict[str, Any]]:
        """Cassettes as a receiver finds them: intact, with the serial they were collected with."""
        state = self.state(form)
        found = [(number, state.samples.get(number)) for number in samples]
        return [
            {
                "sample": number,
                "condition": ["intact"],
                "serial": s.collected.serial if s and s.collected else None,
            }
            for number, s in found
        ]

    def sealed(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The clerk seals this form's part of the envelope.

        With several forms, say it once for each `form=`.
        """
        form = changes.get("form") or self.form
        ready = {number: self._in_hand(number) for number in self.forms}
        named = list(samples) if samples is not None else ready[form]
        at = changes.setdefault("at", f"{DAY}T14:00:00-05:00")
        data = {
            "envelope": self.envelope,
            "seal": self.seal,
            "samples": named,
            "count": len(named),
            "total": sum(len(each) for number, each in ready.items() if number != form) + len(named),
            "forms": [number for number in self.forms if number == form or ready[number]],
            "across_opening": True,
            "record_enclosed": True,
        }
        return self.say("sealed", data, changes, by=CLERK, at=at)

    def unsealed(self, **changes: Any) -> Recorded:
        """The clerk opens the envelope again."""
        at = changes.setdefault("at", f"{DAY}T14:20:00-05:00")
        data = {"envelope": self.envelope, "seal": self.seal, "reason": "add_sample"}
        return self.say("unsealed", data, changes, by=CLERK, at=at)

    def shipped(self, **changes: Any) -> Recorded:
        """The clerk hands the envelope to the carrier."""
        at = changes.setdefault("handed_over", f"{DAY}T15:30:00-05:00")
        data = {
            "envelope": self.envelope,
            "carrier": CARRIER,
            "service": "next-day",
            "service_days": 1,
            "tracking": "TRACK-0001",
            "expected_delivery": "2026-12-02T10:30:00-06:00",
            "expected_receipt": "2026-12-02T10:30:00-06:00",
            "classified": "not_regulated",
        }
        return self.say("shipped", data, changes, by=CLERK, at=at)

    def docked(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The laboratory's dock opens the envelope: all there, seal whole.

        `dock` replaces single members of the dock.
        """
        form = changes.get("form") or self.form
        named = list(samples) if samples is not None else self._in_envelope(form)
        at = changes.setdefault("at", "2026-12-02T10:40:00-06:00")
        dock = {
            "envelope": self.envelope,
            "seal": self.seal,
            "seal_state": "intact",
            "package": ["sound"],
            "delivered": "2026-12-02T10:30:00-06:00",
            "total": sum(len(self._in_envelope(number)) for number in self.forms),
            "extra": [],
            "record_enclosed": True,
            "temperature_c": "18",
        }
        dock |= changes.pop("dock", {})
        data = {
            "items": self.items(named, form=form), "count": len(named), "purpose": "analysis",
            "dock": {name: value for name, value in dock.items() if value is not ...},
        }  # fmt: skip
        return self.say("received", data, changes, by=CUSTODIAN, at=at)

    def taken_in(self, **changes: Any) -> Recorded:
        """The laboratory's custodian signs for the envelope and leaves it shut: seal whole, locked up."""
        at = changes.setdefault("at", "2026-12-02T10:32:00-06:00")
        data = {
            "envelope": self.envelope,
            "seal": self.seal,
            "seal_state": "intact",
            "package": ["sound"],
            "delivered": "2026-12-02T10:30:00-06:00",
            "containers": 1,
            "where": "laboratory",
            "secured": "locked",
        }
        return self.say("taken_in", data, changes, by=CUSTODIAN, at=at)

    def accepted(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The laboratory takes the samples for analysis and numbers them."""
        named = self._at_lab(changes.get("form")) if samples is None else list(samples)
        data = {"lab_numbers": {number: f"Q-{number[1:6]}" for number in named}}
        return self._decided("accepted", named, data, changes)

    def lab_numbered(self, numbers: Mapping[str, str], **changes: Any) -> Recorded:
        """The laboratory gives samples its own numbers."""
        at = changes.setdefault("at", "2026-12-02T10:50:00-06:00")
        return self.say("lab_numbered", {"numbers": dict(numbers)}, changes, by=CUSTODIAN, at=at)

    def requested(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The clerk asks the laboratory for something: of these samples, or of all of the form."""
        data = {} if samples is None else {"samples": list(samples)}
        return self.say("requested", data, changes, by=CLERK, at=f"{DAY}T12:10:00-05:00")

    def stored(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The custodian locks samples away (all that are at the laboratory)."""
        named = self._at_lab(changes.get("form")) if samples is None else list(samples)
        at = changes.setdefault("at", "2026-12-02T11:00:00-06:00")
        data = {"samples": named, "store": "FR-1", "secured": "locked"}
        return self.say("stored", data, changes, by=CUSTODIAN, at=at)

    def withdrawn(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The analyst takes samples out for analysis (all that are in a store)."""
        stored = [
            s.number for s in self.state(changes.get("form")).samples.values() if s.holder and s.holder.store
        ]
        named = stored if samples is None else list(samples)
        at = changes.setdefault("at", "2026-12-02T13:00:00-06:00")
        data = {"samples": named, "store": "FR-1", "purpose": "analysis"}
        return self.say("withdrawn", data, changes, by=ANALYST, at=at)

    def on_hold(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The laboratory waits for an answer."""
        named = self._at_lab(changes.get("form")) if samples is None else list(samples)
        return self._decided("on_hold", named, {"reasons": ["other"]}, changes)

    def rejected(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The laboratory will not analyze them."""
        named = self._at_lab(changes.get("form")) if samples is None else list(samples)
        return self._decided("rejected", named, {"reasons": ["other"]}, changes)

    def voided(self, sample: int | str, **changes: Any) -> Recorded:
        """A sample will not be analyzed."""
        data = {"sample": self._number(sample), "reason": "dropped"}
        return self.say("voided", data, changes, by=INSPECTOR, at=f"{DAY}T10:00:00-05:00")

    def corrected(self, target: Recorded, field: str, new: Any, **changes: Any) -> Recorded:
        """The signer of `target` (or `by`) says what it should have said."""
        by = next((person for person in PEOPLE if person.kid == target.kid), INSPECTOR)
        value: Any = target.data
        for part in field.split("."):
            value = value.get(part) if isinstance(value, Mapping) else None
        data = {"statement": target.digest, "field": field, "old": value, "new": new, "reason": "typing"}
        return self.say(
            "corrected", data, {"refs": (target.digest,), **changes}, by=by, at=f"{DAY}T13:00:00-05:00"
        )

    def excepted(self, rule: str, about: str, **changes: Any) -> Recorded:
        """The quality role allows a named finding."""
        data = {"rule": rule, "about": about, "reason": "no_alternative"}
        return self.say("excepted", data, changes, by=QUALITY, at=f"{DAY}T13:30:00-05:00")

    def affirmed(self, *entries: Recorded, **changes: Any) -> Recorded:
        """Somebody stands by statements of a lost key."""
        data = {"statements": [entry.digest for entry in entries]}
        return self.say("affirmed", data, changes, by=INSPECTOR, at=f"{DAY}T13:40:00-05:00")

    def copied(self, version: int, **changes: Any) -> Recorded:
        """The laboratory gives out its copy of the custody record as it stands now, under this version."""
        read = len(self.chains[f"form/{changes.get('form') or self.form}"])
        data = {"of": "record", "version": version, "entries": read}
        return self.say("copied", data, changes, by=CUSTODIAN, at="2026-12-02T11:30:00-06:00")

    def notified(self, about: str, **changes: Any) -> Recorded:
        """The firm's quality role tells its client of the recall of a lot by telephone."""
        at = changes.setdefault("at", "2026-12-11T16:00:00-06:00")
        data = {"of": "recall", "about": about, "to": "client", "how": "telephone"}
        return self.say("notified", data, changes, by=QUALITY, at=at)

    def forwarded(self, sample: int | str, **changes: Any) -> Recorded:
        """The laboratory's custodian sends one sample on to a second laboratory.

        Its new number joins `samples`.
        """
        number, child = self._number(sample), changes.pop("child", None) or self.number("sample")
        self.samples.append(child)
        at = changes.setdefault("at", "2026-12-03T09:00:00-06:00")
        data = {
            "items": [
                {"sample": number, "child": child, "item": "slide", "condition": ["opened", "stained"]}
            ],
            "count": 1,
            "to": SECOND_LAB,
            "purpose": "analysis",
        }
        return self.say("forwarded", data, changes, by=CUSTODIAN, at=at)

    def second_laboratory(self) -> None:
        """It is founded, has a custodian and opening hours in Denver."""
        for person in (SECOND_LAB_ROOT, SECOND_CUSTODIAN):
            root = person is SECOND_LAB_ROOT
            data: dict[str, Any] = {"jwk": _jwk(person)}
            data |= (
                {"name": "Second Laboratory (example)"}
                if root
                else {"kid": person.kid, "role": person.role, "proof": "p", "identity_check": "in_person"}
            )
            self.add(
                f"org/{SECOND_LAB}",
                "founded" if root else "enrolled",
                data,
                by=SECOND_LAB_ROOT,
                said="2026-11-02T08:00:00-07:00",
                disclosed={"person": person.name},
            )
        days = {"zone": "America/Denver", "hours": WEEK, "closed": ["us-federal"], "years": [2026, 2027]}
        self.add(
            f"org/{SECOND_LAB}",
            "calendar_set",
            {"which": "lab", "calendar": days},
            by=SECOND_LAB_ROOT,
            said="2026-11-02T08:10:00-07:00",
        )

    def disposed(self, samples: Sequence[str] | None = None, **changes: Any) -> Recorded:
        """The end of custody."""
        named = self._at_lab(changes.get("form")) if samples is None else list(samples)
        at = changes.setdefault("at", "2026-12-02T11:15:00-06:00")
        return self.say("disposed", {"samples": named, "how": "archived"}, changes, by=ANALYST, at=at)

    def _decided(
        self, act: str, samples: list[str], data: dict[str, Any], changes: dict[str, Any]
    ) -> Recorded:
        at = changes.setdefault("at", "2026-12-02T11:00:00-06:00")
        return self.say(act, {"samples": samples, **data}, changes, by=CUSTODIAN, at=at)

    def _number(self, sample: int | str) -> str:
        return self.samples[sample] if isinstance(sample, int) else sample

    def _in_hand(self, form: str) -> list[str]:
        return [s.number for s in self.state(form).live if s.status == "collected"]

    def _in_envelope(self, form: str) -> list[str]:
        envelope = self.state(form).envelopes.get(self.envelope)
        return list(envelope.sealing.body.samples) if envelope and envelope.sealing else []

    def _at_lab(self, form: str | None) -> list[str]:
        entries = self.state(form).samples.values()
        return [s.number for s in entries if s.links and isinstance(s.links[-1].received.body, Received)]


def _draft(act: str, kind: type[B], said: dict[str, Any]) -> Draft[B]:
    """The clerk, or `org` and `kid`, about to say so.

    None is what nobody said yet, where a draft may lack it.
    """
    org, kid = said.pop("org", FIRM), said.pop("kid", CLERK.kid)
    known = {name: value for name, value in said.items() if value is not None or name not in kind.later}
    return Draft(act, kind.so_far(**known), org, kid)


@dataclass(frozen=True)
class _Same:
    """Entries as a key: the very same ones."""

    entries: tuple[Recorded, ...]

    def __hash__(self) -> int:
        return hash(tuple(map(id, self.entries)))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and [*map(id, self.entries)] == [*map(id, other.entries)]


@lru_cache(1000)
def _organization(said: _Same) -> Organization:
    return organizations.fold(said.entries)


class _Unfounded(Story):
    def __init__(self) -> None:
        self.chains, self.size, self._seq, self._prev = {}, 0, {}, {}


@cache
def _founded() -> Story:
    """What everybody's story begins with is told once in a process."""
    story = _Unfounded()
    story.found_organizations()
    return story


_MOVES: Final[tuple[tuple[str, Step], ...]] = (
    ("lot", "opened"),
    ("opened", "opened"),
    ("first", "collected"),
    ("second", "collected"),
    ("outdoor", "collected"),
    ("air", "collected"),
    *((step, step) for step in STEPS[2:]),
)
"""What can be spoilt in a visit, in order, and the step it belongs to."""


def visit(upto: Step = "accepted", **spoilt: Mapping[str, Any]) -> Story:
    """A visit told up to and including one step: two indoor cassettes, one outdoor, one lot.

    `spoilt` gives changes by step (`opened`, `held`, …), or by thing: `lot`, `first`, `second`, `outdoor`,
    `policy`; with `pump_checked` its pump is checked before the runs.
    """
    moves = [move for move, step in _MOVES if STEPS.index(step) <= STEPS.index(upto)]
    unknown = set(spoilt) - {*(move for move, _ in _MOVES), "policy", "pump_checked"}
    assert not unknown, unknown
    if "policy" in spoilt:
        faultless, story = 0, Story()
        story.policy(**spoilt["policy"])
    else:
        spoils = {*spoilt, "first"} if "pump_checked" in spoilt else set(spoilt)
        faultless = next((place for place, move in enumerate(moves) if move in spoils), len(moves))
        story = _faultless(faultless).again()
    for move in moves[faultless:]:
        if move == "first" and "pump_checked" in spoilt:
            story.pump_checked(**spoilt["pump_checked"])
        _tell(story, move, spoilt.get(move, {}))
    return story


@cache
def _faultless(moves: int) -> Story:
    """The first so many moves of a visit, told once in a process."""
    if not moves:
        return Story()
    story = _faultless(moves - 1).again()
    _tell(story, _MOVES[moves - 1][0], {})
    return story


def _tell(story: Story, move: str, changes: Mapping[str, Any]) -> None:
    match move:
        case "first":
            story.collected(0, **changes)
        case "second":
            story.collected(1, **changes)
        case "outdoor":
            story.collected(2, "outdoor", **changes)
        case "air":
            for where in ("indoors", "outdoors"):
                story.conditions_read(where, **changes)
        case "kept":
            story.held(**{"by": CLERK, **changes})
        case "handed_over":
            story.received(**changes)
        case _:
            getattr(story, move)(**changes)


def findings(case: Case, *rules: str) -> list[Finding]:
    """What these rules found, the gravest first."""
    return [found for found in evaluate(case) if found.rule in rules]


def _jwk(person: Person) -> dict[str, str]:
    return {"crv": "Ed25519", "kty": "OKP", "x": name_of("public", person.kid)}


_RECORDING: Final = frozenset({"by", "said", "rec", "after", "seq", "refs", "private", "disclosed"})
_KIND: Final[Mapping[str, Mapping[str, Any]]] = {
    "indoor": {"space": "conditioned"},
    "outdoor": {"room": "outdoors", "distance_m": "4.0", "weather": dict(FAIR)},
    "blank": {
        "run_s": 0,
        "planned_s": 0,
        "pump": None,
        "meter": None,
        "flow_before": None,
        "flow_after": None,
        "temperature_c": None,
        "pressure_hpa": None,
    },
}
_KEEPING: Final[Mapping[Person, tuple[str, str, str]]] = {
    INSPECTOR: (f"{DAY}T09:50:00-05:00", "locked", "vehicle"),
    SECOND_INSPECTOR: (f"{DAY}T09:50:00-05:00", "locked", "vehicle"),
    CLERK: (f"{DAY}T11:40:00-05:00", "restricted", "office"),
    CUSTODIAN: ("2026-12-02T10:45:00-06:00", "restricted", "laboratory"),
}  # fmt: skip

START: Final = datetime(2026, 12, 1, 13, 30, tzinfo=UTC)
"""When the visit is opened: 08:30 in New York."""
