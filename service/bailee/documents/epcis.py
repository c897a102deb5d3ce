"""The events of a form in EPCIS 2.0 / CBV 2.0 (ISO/IEC 19987, 19988), as one JSON-LD document for other systems.

What happened to glass becomes an event; what was only said about statements does not. Each event is one statement: its `eventID`
is the statement's digest as an RFC 6920 name, and `bailee:statement` holds the signed text, so that a reader who doubts the event
can check the signature. `eventTime` is when it was done in the signer's words, `recordTime` the ledger's clock, `bailee:signed` when it was
signed. A corrected statement stands with an `errorDeclaration` that names the corrective event. Nothing private is exported.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, Final

from bailee.domain.acts.form import (  # fmt: skip
    Collected,
    Decision,
    Disposed,
    Forwarded,
    Held,
    Received,
    Relinquished,
    Sealed,
    Shipped,
    Unsealed,
    Voided,
)
from bailee.domain.custody import Form
from bailee.domain.doing import done_at
from bailee.domain.facts import Facts
from bailee.domain.moments import Moment, offset_text
from bailee.domain.statements import Recorded
from bailee.frozen import frozen

CONTEXT: Final = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
_CELSIUS, _LITERS, _LITERS_A_MINUTE = "CEL", "LTR", "L2"
"""UN/ECE Recommendation 20 unit codes (from memory)."""


@frozen
class Names:
    """How things are named outside: by the address that their label shows, and by places under the service's own address."""

    address: str
    label: Callable[[str], str]

    def form(self, number: str) -> str:
        """The visit."""
        return f"{self.address}/forms/{number}"

    def organization(self, org: str) -> str:
        """A firm or laboratory."""
        return f"{self.address}/organizations/{org}"

    def device(self, tag: str) -> str:
        """A pump, by the number painted on it."""
        return f"{self.address}/equipment/{tag.replace(' ', '%20').replace('#', '%23')}"


def document(form: Form, texts: Mapping[str, str], names: Names, created: datetime) -> dict[str, Any]:
    """The document. `texts` are the signed statements by digest; `created` must be aware."""
    return {
        "@context": [CONTEXT, {"bailee": f"{names.address}/ns/"}],
        "id": f"{names.form(form.number)}/epcis",
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": created.astimezone(UTC).isoformat(timespec="milliseconds"),
        "epcisBody": {"eventList": list(_events(form, texts, names))},
    }


def write(document: Mapping[str, Any]) -> str:
    """Its text."""
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _events(form: Form, texts: Mapping[str, str], names: Names) -> Iterator[dict[str, Any]]:
    corrected = {
        each.target.digest: each.entry for each in form.corrections if each.target and not each.why_not
    }
    as_recorded = {entry.digest: entry for entry in form.entries}
    for entry in form.ordered:
        first = as_recorded[entry.digest]
        what = _what(first, names)
        if what is None:
            continue
        event = _event(first, what, first, texts, names, form)
        correction = corrected.get(entry.digest)
        if correction is None:
            yield event
            continue
        event["errorDeclaration"] = {
            "declarationTime": correction.at.text(),
            "reason": "incorrect_data",
            "correctiveEventIDs": [_id(correction)],
        }
        yield event
        now = _what(entry, names)
        assert now is not None  # a correction never changes the act
        yield _event(entry, now, correction, texts, names, form)


def _event(
    entry: Recorded, what: dict[str, Any], said: Recorded, texts: Mapping[str, str], names: Names, form: Form
) -> dict[str, Any]:
    """One event; `said` is the statement that tells it, which for a corrective event is the correction."""
    done = done_at(entry.body) or _moment(entry) or entry.at
    return {
        "eventID": _id(said),
        "type": "ObjectEvent",
        "action": "OBSERVE",
        "eventTime": done.text(),
        "eventTimeZoneOffset": offset_text(done.offset_minutes),
        "recordTime": said.rec.astimezone(UTC).isoformat(timespec="milliseconds"),
        "readPoint": {"id": names.organization(entry.org)},
        "bizTransactionList": [{"bizTransaction": names.form(form.number)}],
        **what,
        "bailee:act": said.act,
        "bailee:signed": said.at.text(),
        "bailee:key": said.kid,
        "bailee:leaf": said.leaf,
        "bailee:statement": texts[said.digest],
    }


def _what(entry: Recorded, names: Names) -> dict[str, Any] | None:
    """What the act means in CBV words; None for what is no event of a thing."""
    tell = _MEANING.get(type(entry.body))
    return tell(entry.body, entry, names) if tell else None


def _collected(body: Collected, _entry: Recorded, names: Names) -> dict[str, Any]:
    """The air is drawn: from now on there is a sample. Its lot is master data of that instance."""
    reports = [
        _report("VolumeFlowRate", body.mean_flow, _LITERS_A_MINUTE),
        _report("Volume", body.volume_l, _LITERS),
        _report("Temperature", body.temperature_c, _CELSIUS),
    ]
    told: dict[str, Any] = {
        "action": "ADD",
        "bizStep": "sampling",
        "disposition": "active",
        "ilmd": {"bailee:lot": names.label(body.lot), "bailee:kind": body.kind},
    }
    return (
        _things(names, [body.sample])
        | told
        | _measured(reports, names.device(body.pump) if body.pump else None)
    )


def _received(body: Received, _entry: Recorded, names: Names) -> dict[str, Any]:
    whole = all(item.condition == ["intact"] for item in body.items)
    told: dict[str, Any] = {"bizStep": "receiving", "disposition": "in_progress" if whole else "damaged"}
    samples = [item.sample for item in body.items]
    if body.dock is None:
        return _things(names, samples) | told
    sealed = body.dock.seal_state == "intact"
    extra = {"bailee:seal": body.dock.seal, "bailee:sealState": body.dock.seal_state}
    told["disposition"] = told["disposition"] if sealed else "non_conformant"
    temperature = _measured([_report("Temperature", body.dock.temperature_c, _CELSIUS)], None)
    return _things(names, [body.dock.envelope, *samples]) | told | temperature | extra


def _packed(body: Sealed | Unsealed, _entry: Recorded, names: Names) -> dict[str, Any]:
    shut = isinstance(body, Sealed)
    told: dict[str, Any] = {
        "type": "AggregationEvent",
        "action": "ADD" if shut else "DELETE",
        "parentID": names.label(body.envelope),
        "bizStep": "packing" if shut else "unpacking",
        "disposition": "container_closed" if shut else "container_open",
        "bailee:seal": body.seal,
    }
    # Left out, all children are meant (EPCIS 2.0, AggregationEvent with DELETE).
    return told | (
        {"childEPCs": [names.label(each) for each in body.samples]} if isinstance(body, Sealed) else {}
    )


def _things(names: Names, numbers: list[str]) -> dict[str, Any]:
    return {"epcList": [names.label(each) for each in numbers]}


def _parties(names: Names, giver: str, taker: str) -> dict[str, Any]:
    return {
        "sourceList": [{"type": "possessing_party", "source": names.organization(giver)}],
        "destinationList": [{"type": "possessing_party", "destination": names.organization(taker)}],
    }


def _report(kind: str, value: Decimal | None, uom: str) -> dict[str, Any] | None:
    # A float prints the shortest text that reads back as itself, which for six digits is the decimal itself.
    return None if value is None else {"type": kind, "value": float(round(value, 4)), "uom": uom}


def _measured(reports: list[dict[str, Any] | None], device: str | None) -> dict[str, Any]:
    found = [each for each in reports if each]
    metadata = {"sensorMetadata": {"deviceID": device}} if device else {}
    return {"sensorElementList": [{**metadata, "sensorReport": found}]} if found else {}


def _moment(entry: Recorded) -> Moment | None:
    at = getattr(entry.body, "at", None)
    return at if isinstance(at, Moment) else None


def _id(entry: Recorded) -> str:
    """RFC 6920 name of a statement."""
    return f"ni:///sha-256;{entry.digest}"


_SENT: Final = {"bizStep": "shipping", "disposition": "in_transit"}
_VOID: Final = {"action": "DELETE", "bizStep": "decommissioning", "disposition": "inactive"}
_DECISIONS: Final = {
    "accepted": {"bizStep": "accepting", "disposition": "conformant"},
    "on_hold": {"bizStep": "holding", "disposition": "unavailable"},
    "rejected": {"bizStep": "inspecting", "disposition": "non_conformant"},
}
_ENDS: Final = {
    "destroyed": {"action": "DELETE", "bizStep": "destroying", "disposition": "destroyed"},
    "returned": {"bizStep": "shipping", "disposition": "returned"},
    "archived": {"bizStep": "storing", "disposition": "inactive"},
}

_MEANING: Final[Mapping[type[Facts], Callable[[Any, Recorded, Names], dict[str, Any]]]] = {
    Collected: _collected,
    Held: lambda body, _, names: _things(names, body.samples or []) | {"bizStep": "storing"},
    Relinquished: lambda body, entry, names: (
        _things(names, body.samples)
        | {"bizStep": "consigning", "disposition": "in_progress"}
        | _parties(names, entry.org, body.to)
    ),
    Received: _received,
    Sealed: _packed,
    Unsealed: _packed,
    Shipped: lambda body, _, names: _things(names, [body.envelope]) | _SENT,
    Forwarded: lambda body, entry, names: (
        _things(names, [item.child for item in body.items]) | _SENT | _parties(names, entry.org, body.to)
    ),
    Decision: lambda body, entry, names: _things(names, body.samples) | _DECISIONS[entry.act],
    Voided: lambda body, _, names: _things(names, [body.sample]) | _VOID,
    Disposed: lambda body, _, names: _things(names, body.samples) | _ENDS[body.how],
}
"""Acts that happen to a thing; what is only said about statements is no event."""
