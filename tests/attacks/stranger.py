"""Everything that an enrolled organization which is no party can sign, send, repeat and leave out, aimed at
the forms of two others.

He knows every number of theirs, has read every paper, and holds keys of his own in every role. What the
ledger answers him is his affair: some is refused, some is recorded, and some is kept.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, timedelta
from typing import Any, Final

from bailee.domain import numbers
from bailee.domain.moments import Moment
from bailee.signing import key_proof, signed_statement
from field import FIRM, LAB, OUTSIDER, Device, Field

ROLES: Final = ("inspector", "clerk", "media_keeper", "quality", "custodian", "analyst")
ACTS: Final = (
    "open",
    "collect",
    "seal",
    "ship",
    "dock",
    "accept",
    "void",
    "correct",
    "forward",
    "except",
    "copy",
    "dispose",
    "hold_private",
    "lot",
    "issue",
    "recall",
    "speak",
    "fork",
    "enroll",
    "revoke",
    "policy",
    "calendar",
    "endorse",
    "repeat",
    "hold",
    "relinquish",
    "unseal",
    "take_in",
    "surface",
    "again",
    "request",
    "conditions",
    "change",
    "number_own",
    "store",
    "withdraw",
    "notify",
)
"""What he can try, by name: all acts of forms, lots and organizations, and what a device does wrong."""


@dataclass(frozen=True)
class Known:
    """What he has read of the victims' visit."""

    form: str
    lot: str
    samples: tuple[str, ...]
    envelope: str
    seal: str
    tracking: str


class Stranger:
    """One organization before one ledger.

    `heard`: what it was answered, by act and code, `recorded` when it was.
    """

    def __init__(self, field: Field) -> None:
        self._field = field
        self._client = field.app.test_client()
        self._random = random.Random(3)
        self.root = field.device("third root", OUTSIDER)
        self.people = {role: field.device(f"third {role}", OUTSIDER) for role in ROLES}
        self._ended: list[Device] = []
        self.forms: list[str] = []
        self.lots: list[str] = []
        self._sent: list[dict[str, Any]] = []
        self.heard: Counter[tuple[str, str]] = Counter()
        self._say(self.root, f"org/{OUTSIDER}", "founded", {"name": "Third", "jwk": self.root.key.jwk})
        for role, device in self.people.items():
            self._enroll(device, role)

    def act(self, name: str, dice: int, known: Known) -> None:
        """One of `ACTS`; `dice` chooses among its kinds."""
        getattr(self, f"_{name}")(dice, known)

    # On forms of his own, which name the victims as parties without asking them

    def _open(self, dice: int, known: Known) -> None:
        del known
        firm, lab = (
            (FIRM, OUTSIDER),
            (OUTSIDER, LAB),
            (OUTSIDER, OUTSIDER),
            (OUTSIDER, FIRM),
            (LAB, OUTSIDER),
        )[dice % 5]
        form = self._number("form")
        data = {
            "edition": 1,
            "parties": {"firm": firm, "lab": lab},
            "visit": "2026-12-01",
            "zone": "America/New_York",
        }
        if self._say(self.people["inspector"], f"form/{form}", "opened", data):
            self.forms.append(form)

    def _collect(self, dice: int, known: Known) -> None:
        sample = known.samples[dice % len(known.samples)]
        lot = known.lot if dice % 2 else (self.lots or [known.lot])[-1]
        run = {
            "sample": sample,
            "lot": lot,
            "kind": "indoor",
            "started": self._now(),
            "run_s": 10,
            "covers_on": False,
            "serial": f"K-{sample[-6:]}",
            "pump": "P-7",
            "meter": "M-3",
            "flow_before": "3.0",
            "flow_after": "3.0",
        }
        self._on_form(dice, "inspector", "collected", run)

    def _seal(self, dice: int, known: Known) -> None:
        samples = list(known.samples[: 1 + dice % len(known.samples)])
        forms = [self._form(dice, known), known.form][: 1 + dice % 2]
        data = {
            "envelope": known.envelope if dice % 3 else self._number("envelope"),
            "seal": known.seal,
            "samples": samples,
            "count": len(samples),
            "total": 40,
            "forms": list(dict.fromkeys(forms)),
            "at": self._now(),
            "across_opening": False,
            "record_enclosed": False,
        }
        self._on_form(dice, "clerk", "sealed", data)

    def _unseal(self, dice: int, known: Known) -> None:
        data = {"envelope": known.envelope, "seal": known.seal, "reason": "other", "at": self._now()}
        self._on_form(dice, "clerk", "unsealed", data)

    def _ship(self, dice: int, known: Known) -> None:
        data = {
            "envelope": known.envelope if dice % 3 else self._number("envelope"),
            "carrier": "acorn-freight",
            "service": "next day",
            "service_days": 9,
            "tracking": known.tracking,
            "handed_over": self._now(),
        }
        self._on_form(dice, "clerk", "shipped", data)

    def _take_in(self, dice: int, known: Known) -> None:
        seen = {"seal": known.seal, "seal_state": "broken", "package": ["torn"], "secured": "locked"}
        data = {"envelope": known.envelope, "where": "other", "at": self._now(), **seen}
        self._on_form(dice, "custodian", "taken_in", data)

    def _dock(self, dice: int, known: Known) -> None:
        items = [{"sample": each, "condition": ["cracked"]} for each in known.samples[: 1 + dice % 3]]
        dock = {
            "envelope": known.envelope,
            "seal": None,
            "seal_state": "missing",
            "package": ["torn"],
            "delivered": self._now(),
            "total": 9,
        }
        self._on_form(
            dice,
            "custodian",
            "received",
            {"items": items, "count": len(items), "at": self._now(), "dock": dock},
        )

    def _accept(self, dice: int, known: Known) -> None:
        act = ("accepted", "rejected", "on_hold")[dice % 3]
        samples = list(known.samples)
        data = {"samples": samples, "at": self._now(), "lab_numbers": dict.fromkeys(samples[:1], "Q-1")}
        self._on_form(
            dice, "custodian", act, {**data, **({} if act == "accepted" else {"reasons": ["other"]})}
        )

    def _void(self, dice: int, known: Known) -> None:
        self._on_form(
            dice,
            "inspector",
            "voided",
            {"sample": known.samples[dice % len(known.samples)], "reason": "dropped"},
        )

    def _correct(self, dice: int, known: Known) -> None:
        field, new = (("serial", f"K-{known.samples[0][-6:]}"), ("lot", known.lot))[dice % 2]
        target = self._sent[dice % len(self._sent)]["digest"]
        data = {"statement": target, "field": field, "old": None, "new": new, "reason": "typing"}
        self._on_form(dice, "inspector", "corrected", data, refs=(target,))

    def _forward(self, dice: int, known: Known) -> None:
        sample = known.samples[dice % len(known.samples)]
        child = known.samples[(dice + 1) % len(known.samples)]
        items = [{"sample": sample, "child": child, "item": "slide", "condition": ["opened"]}]
        data = {
            "items": items,
            "count": 1,
            "to": (LAB, FIRM)[dice % 2],
            "purpose": "analysis",
            "at": self._now(),
        }
        self._on_form(dice, "custodian", "forwarded", data)

    def _except(self, dice: int, known: Known) -> None:
        about = (known.form, known.samples[0], known.envelope)[dice % 3]
        self._on_form(
            dice, "quality", "excepted", {"rule": "SH-02", "about": about, "reason": "no_alternative"}
        )

    def _copy(self, dice: int, known: Known) -> None:
        del known
        self._on_form(dice, "custodian", "copied", {"of": "record", "version": 9, "entries": 1})

    def _dispose(self, dice: int, known: Known) -> None:
        self._on_form(
            dice,
            "analyst",
            "disposed",
            {"samples": list(known.samples), "how": "archived", "at": self._now()},
        )

    def _hold(self, dice: int, known: Known) -> None:
        data = {"samples": list(known.samples), "secured": "locked", "where": "vehicle", "since": self._now()}
        self._on_form(dice, "inspector", "held", data)

    def _relinquish(self, dice: int, known: Known) -> None:
        data = {"samples": list(known.samples), "count": len(known.samples), "to": FIRM, "at": self._now()}
        self._on_form(dice, "inspector", "relinquished", data)

    # The newest acts

    def _surface(self, dice: int, known: Known) -> None:
        data = {
            "sample": known.samples[dice % len(known.samples)], "medium": "tape", "at": self._now(),
            "room": "kitchen", "point": "P", "area": "complaint", "material": "drywall", "surface": "growth",
            "area_cm2": "4", "label_on": "body", "lot": known.lot,
        }  # fmt: skip
        self._on_form(dice, "inspector", "surface_collected", data)

    def _again(self, dice: int, known: Known) -> None:
        """A sample of his own in the place of a victim's."""
        run = {
            "sample": self._number("sample"), "lot": known.lot, "kind": "indoor", "started": self._now(),
            "run_s": 10, "covers_on": False, "pump": "P-7", "flow_before": "3.0", "flow_after": "3.0",
            "replaces": known.samples[dice % len(known.samples)], "replaces_form": known.form,
        }  # fmt: skip
        self._on_form(dice, "inspector", "collected", run)

    def _request(self, dice: int, known: Known) -> None:
        data = {"samples": list(known.samples), "due": "2026-11-01", "priority": "rush"}
        self._on_form(dice, "clerk", "requested", data)

    def _conditions(self, dice: int, known: Known) -> None:
        del known
        read = {"temperature_c": "1.0", "humidity_pct": "99", "instrument": "T-1", "rain_ended_h": "0"}
        self._on_form(dice, "inspector", "conditions_read", {"where": "outdoors", "at": self._now(), **read})

    def _change(self, dice: int, known: Known) -> None:
        del known
        data = {"what": "ventilation", "was": "normal", "now": "off", "at": self._now()}
        self._on_form(dice, "inspector", "building_changed", data)

    def _number_own(self, dice: int, known: Known) -> None:
        numbers_given = {each: f"Q-{n}" for n, each in enumerate(known.samples, 1)}
        self._on_form(dice, "custodian", "lab_numbered", {"numbers": numbers_given, "at": self._now()})

    def _store(self, dice: int, known: Known) -> None:
        data = {"samples": list(known.samples), "store": "FR-1", "secured": "locked", "at": self._now()}
        self._on_form(dice, "custodian", "stored", {**data, "keep_until": "2099-01-01"})

    def _withdraw(self, dice: int, known: Known) -> None:
        data = {"samples": list(known.samples), "store": "FR-1", "purpose": "disposal", "at": self._now()}
        self._on_form(dice, "custodian", "withdrawn", data)

    def _notify(self, dice: int, known: Known) -> None:
        data = {"of": "recall", "about": known.lot, "to": "firm", "how": "telephone", "at": self._now()}
        self._on_form(dice, "custodian", "notified", data)

    def _hold_private(self, dice: int, known: Known) -> None:
        del known
        self._on_form(dice, "quality", "retention_held", {"reason": "dispute"})

    # Lots, with the victims' numbers

    def _lot(self, dice: int, known: Known) -> None:
        lot = self._number("lot") if dice % 2 else known.lot
        data = {
            "maker_lot": "42-0117",
            "cassette": "slit",
            "expiry": "2020-01",
            "count": 5,
            "nominal_flow": "15.0",
            "run_s": 300,
        }
        if self._say(self.people["media_keeper"], f"lot/{lot}", "lot_received", data):
            self.lots.append(lot)

    def _issue(self, dice: int, known: Known) -> None:
        to = (None, self.people["inspector"].key.kid, self._field.people["inspector"].key.kid)[dice % 3]
        samples = [known.samples[dice % len(known.samples)]]
        data = {"samples": samples, "to": to, "visit": "2026-12-01"}
        self._on_lot(dice, known, "issued", {name: value for name, value in data.items() if value})

    def _recall(self, dice: int, known: Known) -> None:
        self._on_lot(dice, known, "recalled", {"reason": "maker"})

    # On the victims' own chains

    def _speak(self, dice: int, known: Known) -> None:
        chain = (f"form/{known.form}", f"lot/{known.lot}", f"org/{FIRM}", f"org/{LAB}")[dice % 4]
        act, data = (
            ("voided", {"sample": known.samples[0], "reason": "dropped"}),
            ("recalled", {"reason": "maker"}),
            ("policy_set", {"policy": {"edition": 1, "hold_warn_h": "1"}}),
            ("policy_set", {"policy": {"edition": 1, "hold_warn_h": "1"}}),
        )[dice % 4]
        self._say(self.people["quality"], chain, act, data)

    def _fork(self, dice: int, known: Known) -> None:
        """The same count once more, about the victims' form or about nothing of theirs."""
        device = self._ended[-1] if self._ended and dice % 3 == 0 else self.people[ROLES[dice % len(ROLES)]]
        device.seq = max(device.seq - 1, 0)
        chain = f"form/{known.form if dice % 2 else self._form(dice, known)}"
        self._say(device, chain, "voided", {"sample": known.samples[0], "reason": "dropped"})

    def _repeat(self, dice: int, known: Known) -> None:
        """What somebody said before, his own or a victim's, sent again by him; a gap in his counting."""
        del known
        self._client.post("/entries", json=self._sent[dice % len(self._sent)]["signed"])
        self.people["clerk"].seq += dice % 2

    # His own organization

    def _enroll(self, device_or_dice: Any, role_or_known: Any) -> None:
        """A key: his own, or one that he took from a victim's chain, for which he has no proof."""
        if isinstance(device_or_dice, Device):
            kid, jwk, role = device_or_dice.key.kid, device_or_dice.key.jwk, role_or_known
            proof = key_proof.issue(device_or_dice.key, OUTSIDER, self._aud, self._seconds)
        else:
            stolen = list(self._field.people.values())[device_or_dice % len(self._field.people)]
            kid, jwk, role = stolen.key.kid, stolen.key.jwk, "quality"
            proof = key_proof.issue(self.root.key, OUTSIDER, self._aud, self._seconds)
        data = {"kid": kid, "jwk": jwk, "role": role, "proof": proof, "identity_check": "known"}
        self._say(self.root, f"org/{OUTSIDER}", "enrolled", data)

    def _revoke(self, dice: int, known: Known) -> None:
        """One of his keys, which speaks on all the same (`_fork`) beside its successor.

        Or a victim's, of which he knows the name.
        """
        del known
        role = ROLES[dice % len(ROLES)]
        ended = self.people[role]
        kid = (
            ended.key.kid
            if dice % 3
            else list(self._field.people.values())[dice % len(self._field.people)].key.kid
        )
        data = {"kid": kid, "reason": "stolen", "since": self._now(), "last_good_seq": 0}
        self._say(self.root, f"org/{OUTSIDER}", "revoked", data)
        if kid == ended.key.kid:
            self._ended.append(ended)
            self.people[role] = self._field.device(f"third {role} {len(self._ended)}", OUTSIDER)
            self._enroll(self.people[role], role)

    def _policy(self, dice: int, known: Known) -> None:
        del known
        self._say(
            self.root,
            f"org/{OUTSIDER}",
            "policy_set",
            {"policy": {"edition": 1, "hold_warn_h": str(1 + dice % 5)}},
        )

    def _calendar(self, dice: int, known: Known) -> None:
        del known
        shut = {"zone": "America/New_York", "hours": {}, "closed": ["us-federal"], "years": [2026]}
        which = ("lab", "office", "carrier")[dice % 3]
        data = {
            "which": which,
            "calendar": shut,
            **({"carrier": "acorn-freight"} if which == "carrier" else {}),
        }
        self._say(self.root, f"org/{OUTSIDER}", "calendar_set", data)

    def _endorse(self, dice: int, known: Known) -> None:
        del known
        other = (FIRM, LAB)[dice % 2]
        root = (self._field.roots[other], self.root)[dice % 3 == 0]
        self._say(self.root, f"org/{OUTSIDER}", "endorsed", {"org": other, "root": root.key.kid})

    # How

    def _on_form(
        self, dice: int, role: str, act: str, data: dict[str, Any], refs: tuple[str, ...] = ()
    ) -> None:
        form = self.forms[dice % len(self.forms)] if self.forms else self._number("form")
        self._say(self.people[role], f"form/{form}", act, data, refs)

    def _on_lot(self, dice: int, known: Known, act: str, data: dict[str, Any]) -> None:
        lot = self.lots[dice % len(self.lots)] if self.lots else known.lot
        self._say(self.people["media_keeper"], f"lot/{lot}", act, data)

    def _form(self, dice: int, known: Known) -> str:
        return self.forms[dice % len(self.forms)] if self.forms else known.form

    def _say(
        self, device: Device, chain: str, act: str, data: dict[str, Any], refs: tuple[str, ...] = ()
    ) -> bool:
        """Whether it was recorded; the device counts on in any case."""
        signed = device.sign(chain, act, data, after=None, refs=refs)
        answer = self._client.post("/entries", json=signed)
        assert answer.status_code < 500, answer.text
        self.heard[act, answer.get_json().get("code", "recorded")] += 1
        if answer.status_code == 201:
            self._sent.append({"signed": signed, "digest": signed_statement.digest(signed["statement"])})
        return bool(answer.status_code == 201)

    def _number(self, kind: numbers.Kind) -> str:
        return numbers.issue(kind, self._random.choice)

    def _now(self) -> str:
        return Moment(self._field.clock().astimezone(UTC) - timedelta(minutes=1), -300).text()

    @property
    def _aud(self) -> str:
        return str(self._field.ledger.settings.origin)

    @property
    def _seconds(self) -> int:
        return int(self._field.clock().timestamp())
