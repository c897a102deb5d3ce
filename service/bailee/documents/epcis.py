"""The events of a form in EPCIS 2.0 / CBV 2.0 (ISO/IEC 19987, 19988), as one JSON-LD document for other
systems.

What happened to glass becomes an event; what was only said about statements does not, nor what was not for
its signer to say and counts for nothing: a sender's word that its envelope arrived is told as the opening
that it was. Each event is one statement: its `eventID` is the statement's digest as an RFC 6920 name, and
`bailee:statement` holds the signed text, so that a reader who doubts the event can check the signature.
`eventTime` is when it was done in the signer's words, `recordTime` the ledger's clock, `bailee:signed` when
it was signed. A corrected statement stands with an `errorDeclaration` that names the corrective event.
Nothing private is exported.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, Final

from bailee.domain.acts.form import (  # fmt: skip
    BuildingChanged,
    Collected,
    ConditionsRead,
    Copied,
    Disposed,
    Forwarded,
    Held,
    LabNumbered,
    Received,
    Relinquished,
    Requested,
    Sealed,
    Stored,
    TakenIn,
    Unsealed,
    Voided,
    Withdrawn,
)
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import done_at
from bailee.domain.custody import Form
from bailee.domain.facts import plain
from bailee.domain.moments import offset_text
from bailee.domain.statements import Recorded
from bailee.frozen import frozen

CONTEXT: Final = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
_CELSIUS, _LITERS, _LITERS_A_MINUTE, _SQUARE_CM, _GRAMS = "CEL", "LTR", "L2", "CMK", "GRM"
"""UN/ECE Recommendation 20 unit codes (from memory)."""


@frozen
class Names:
    """How things are named outside: by the address that their label shows, and by places under the service's
    own address.
    """

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
        "bailee:said": [_said(entry, texts) for entry in form.ordered if isinstance(entry.body, _BESIDE)],
    }


def _said(entry: Recorded, texts: Mapping[str, str]) -> dict[str, Any]:
    """What was signed of the visit and happened to no sample; its members as they are named in the statement,
    as corrected.
    """
    return {
        "bailee:id": _id(entry),
        "bailee:act": entry.act,
        "bailee:signed": entry.at.text(),
        "bailee:organization": entry.org,
        "bailee:facts": _named(plain(entry.body)),
        "bailee:statement": texts[entry.digest],
    }


def _named(value: Any) -> Any:
    """Members under this service's own names; a number of the laboratory beside its sample."""
    match value:
        case dict() if value and all(map(_SAMPLE.fullmatch, value)):
            return [{"bailee:sample": each, "bailee:number": number} for each, number in value.items()]
        case dict():
            return {f"bailee:{name}": _named(each) for name, each in value.items() if each is not None}
        case list():
            return [_named(each) for each in value]
    return value


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
        was, now = _what(first, names, form), _what(entry, names, form)
        correction = corrected.get(entry.digest)
        if was is not None:
            event = _event(first, was, first, texts, names, form)
            if correction is not None:
                event["errorDeclaration"] = {
                    "declarationTime": correction.at.text(),
                    "reason": "incorrect_data",
                    "correctiveEventIDs": [_id(correction)] if now is not None else [],
                }
            yield event
        if now is not None and correction is not None:
            yield _event(entry, now, correction, texts, names, form)


def _event(
    entry: Recorded, what: dict[str, Any], said: Recorded, texts: Mapping[str, str], names: Names, form: Form
) -> dict[str, Any]:
    """One event; `said` is the statement that tells it, which for a corrective event is the correction."""
    done = done_at(entry.body) or entry.at
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
        **_by_pen(entry),
    }


def _by_pen(entry: Recorded) -> dict[str, Any]:
    """The sheet from which it was typed, and when it was written there."""
    paper = getattr(entry.body, "paper", None)
    if paper is None:
        return {}
    sheet = f"{paper.sheet} {paper.line}"
    return {"bailee:sheet": sheet, "bailee:writtenAt": paper.written_at.text()}


def _what(entry: Recorded, names: Names, form: Form) -> dict[str, Any] | None:
    """What the act means in CBV words; None for what is only said about statements, or counts for nothing."""
    if not entry.row.step:
        return None
    told = _seal(entry, names) or _counting(entry, names, form)
    if told is None:
        return None
    if isinstance(entry.body, Held) and entry.body.samples is None:
        told |= _things(names, _all_kept(form, entry))
    return told


def _counting(entry: Recorded, names: Names, form: Form) -> dict[str, Any] | None:
    """The things of an entry with its step, as far as it was for its signer to say; None where nothing is."""
    body = entry.body
    if (entry.digest, None) in form.for_nothing:
        if not isinstance(body, Received) or body.dock is None:
            return None
        inside = _things(names, [item.sample for item in body.items])
        return inside | {
            "bizStep": "unpacking",
            "disposition": "container_open",
            "bailee:seal": body.dock.seal,
        }
    not_theirs = {sample for digest, sample in form.for_nothing if digest == entry.digest}
    if isinstance(body, Forwarded):
        numbers = [item.child for item in body.items if item.sample not in not_theirs]
    else:
        numbers = [each for each in entry.row.things(entry.data) if each not in not_theirs]
    if not numbers and not_theirs:
        return None
    return _things(names, numbers) | _step(entry) | _more(entry, names, form)


def _all_kept(form: Form, entry: Recorded) -> list[str]:
    """The samples of which a statement that names none says how they were kept."""
    return [
        sample.number
        for sample in form.samples.values()
        if any(kept.n == entry.n for link in sample.links for kept in link.keeping)
    ]


def _more(entry: Recorded, names: Names, form: Form) -> dict[str, Any]:
    """What some acts tell beside the step and the things. A cavity counts as it was signed at collection."""
    told: dict[str, Any] = {}
    match entry.body:
        case Collected() as body:
            signed = form.as_signed(entry).body
            is_cavity = (
                isinstance(signed, Collected) and signed.cavity is not None and body.cavity is not None
            )
            told = _collected(body, names, "cavity" if is_cavity else body.kind)
        case SurfaceCollected() as body:
            told = _lifted(body, names)
        case Received() as body:
            told = _received(body)
        case TakenIn() as body:
            seen = "non_conformant" if body.seal_state in _SPOILT else entry.row.step[1]
            told = {"disposition": seen, "bailee:seal": body.seal, "bailee:sealState": body.seal_state}
            told |= _containers(body.containers)
        case Relinquished() as body:
            told = _parties(names, entry.org, body.to)
        case Forwarded() as body:
            told = _parties(names, entry.org, body.to)
        case Stored() | Withdrawn() as body:
            told = {"bailee:store": body.store} | _kept(body)
        case Voided():
            told = {"action": "DELETE"}
        case Disposed() as body:
            told = _ENDS[body.how]
    return told


def _step(entry: Recorded) -> dict[str, Any]:
    return dict(zip(("bizStep", "disposition"), entry.row.step, strict=False))


def _collected(body: Collected, names: Names, kind: str) -> dict[str, Any]:
    """The air is drawn: from now on there is a sample. Its lot is master data of that instance; `kind` is
    which air it counts as.
    """
    reports = [
        _report("VolumeFlowRate", body.mean_flow, _LITERS_A_MINUTE),
        _report("Volume", body.volume_l, _LITERS),
        _report("Temperature", body.temperature_c, _CELSIUS),
    ]
    master = {"bailee:lot": names.label(body.lot), "bailee:kind": kind}
    master |= _instead(body, names)
    device = names.device(body.pump) if body.pump else None
    if kind == "cavity" and body.cavity:
        found = {"bailee:opening": body.cavity.opening, "bailee:tube": body.cavity.tube}
        master |= {name: code for name, code in found.items() if code}
    return {"action": "ADD", "ilmd": master} | _measured(reports, device)


def _lifted(body: SurfaceCollected, names: Names) -> dict[str, Any]:
    """Something is taken from a surface: the same beginning, with an area or a mass in the place of air."""
    master: dict[str, Any] = {"bailee:lot": names.label(body.lot)} if body.lot else {}
    looked = {"bailee:material": body.material, "bailee:surface": body.surface}
    master |= {"bailee:medium": body.medium} | {name: code for name, code in looked.items() if code}
    master |= _instead(body, names)
    reports = [_report("Area", body.area_cm2, _SQUARE_CM), _report("Mass", body.mass_g, _GRAMS)]
    return {"action": "ADD", "ilmd": master} | _measured(reports, None)


def _kept(body: Stored | Withdrawn) -> dict[str, Any]:
    if isinstance(body, Withdrawn):
        return {"bailee:purpose": body.purpose}
    until = {"bailee:keepUntil": body.keep_until.isoformat()} if body.keep_until else {}
    limits = {"bailee:lowC": body.low_c, "bailee:highC": body.high_c}
    return until | {name: float(each) for name, each in limits.items() if each is not None}


def _instead(body: Collected | SurfaceCollected, names: Names) -> dict[str, Any]:
    return {"bailee:replaces": names.label(body.replaces)} if body.replaces else {}


def _received(body: Received) -> dict[str, Any]:
    is_whole = all(item.condition == ["intact"] for item in body.items)
    told = {} if is_whole else {"disposition": "damaged"}
    if body.dock is None:
        return told
    if body.dock.seal_state != "intact":
        told = {"disposition": "non_conformant"}
    temperature = _measured([_report("Temperature", body.dock.temperature_c, _CELSIUS)], None)
    seal = {"bailee:seal": body.dock.seal, "bailee:sealState": body.dock.seal_state}
    return told | temperature | seal | _containers(body.dock.containers)


def _containers(counted: int | None) -> dict[str, Any]:
    return {} if counted is None else {"bailee:containers": counted}


def _seal(entry: Recorded, names: Names) -> dict[str, Any]:
    """An envelope closed with what lies in it, or opened; nothing for any other act."""
    body = entry.body
    if not isinstance(body, Sealed | Unsealed):
        return {}
    told: dict[str, Any] = {
        "type": "AggregationEvent",
        "action": "ADD" if isinstance(body, Sealed) else "DELETE",
        "parentID": names.label(body.envelope),
        **_step(entry),
        "bailee:seal": body.seal,
    }
    if isinstance(body, Unsealed):
        return told  # left out, all children are meant (EPCIS 2.0, AggregationEvent with DELETE)
    inside = [names.label(each) for each in body.samples]
    return told | {"childEPCs": inside} | _containers(body.containers)


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


def _id(entry: Recorded) -> str:
    """RFC 6920 name of a statement."""
    return f"ni:///sha-256;{entry.digest}"


_BESIDE: Final = (ConditionsRead, BuildingChanged, Requested, LabNumbered, Copied)
_SAMPLE: Final = re.compile("S[0-9A-Z]{11}")
_SPOILT: Final = frozenset({"broken", "missing", "void_showing"})
_ENDS: Final = {
    "destroyed": {"action": "DELETE", "bizStep": "destroying", "disposition": "destroyed"},
    "returned": {"bizStep": "shipping", "disposition": "returned"},
    "archived": {"bizStep": "storing", "disposition": "inactive"},
}
