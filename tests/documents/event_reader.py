"""An EPCIS 2.0 document as another program reads it: what of it is no word of the standard, or lacks what the
standard requires.

Words: PyLD, a JSON-LD 1.1 processor, with the context of the standard as the package
epcis-event-hash-generator carries it; nothing is fetched. Shape: written here from EPCIS 2.0 (ISO/IEC 19987)
7.4.1 to 7.4.3 (from memory); the standard's own schema has no open license.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from epcis_event_hash_generator.file_document_loader import (  # type: ignore[import-untyped]
    file_document_loader,
)
from pyld import jsonld  # type: ignore[import-untyped]

from bailee.documents import epcis

_NOWHERE = "unknown:/"
"""What a name without a meaning is taken to be relative to."""
_THINGS = {
    "ObjectEvent": ("epcList", "quantityList", "sensorElementList"),
    "AggregationEvent": ("childEPCs", "childQuantityList"),
}

_KINDS: dict[str, type] = {
    **dict.fromkeys(("type", "eventID", "bizStep", "disposition", "parentID"), str),
    **dict.fromkeys(("epcList", "childEPCs", "sensorElementList"), list),
    **dict.fromkeys(("bizTransactionList", "sourceList", "destinationList"), list),
    **dict.fromkeys(("readPoint", "ilmd", "errorDeclaration"), dict),
}


def faults(document: dict[str, Any]) -> list[str]:
    """Everything that another program could not read, or would read as something else."""
    dropped: list[str] = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # how the package opens its own files
        read = jsonld.expand(
            document,
            {"base": _NOWHERE, "documentLoader": _packaged},
            on_property_dropped=dropped.append,
        )
    return [
        *(f"{name}: no member of the standard" for name in dropped),
        *(f"{text.removeprefix(_NOWHERE)}: no word of the standard" for text in _texts(read) if _lost(text)),
        *_document(document),
    ]


def _packaged(url: str, options: dict[str, Any]) -> dict[str, Any]:
    assert url == epcis.CONTEXT, f"nothing is fetched: {url}"
    found: dict[str, Any] = file_document_loader()(url, options)
    return found


def _lost(text: str) -> bool:
    return text.startswith(_NOWHERE)


def _texts(read: Any) -> Iterator[str]:
    if isinstance(read, str):
        yield read
    elif isinstance(read, dict | list):
        for each in read.values() if isinstance(read, dict) else read:
            yield from _texts(each)


def _document(document: dict[str, Any]) -> Iterator[str]:
    if (document.get("type"), document.get("schemaVersion")) != ("EPCISDocument", "2.0"):
        yield "no EPCISDocument of version 2.0"
    yield from _time(document, "creationDate")
    for event in document["epcisBody"]["eventList"]:
        yield from (f"{event.get('eventID')}: {fault}" for fault in _event(event))


def _event(event: dict[str, Any]) -> Iterator[str]:
    if wrong := [
        f"{name}: {event[name]}" for name, kind in _KINDS.items() if type(event.get(name, kind())) is not kind
    ]:
        yield from wrong
        return
    yield from _time(event, "eventTime")
    if "recordTime" in event:
        yield from _time(event, "recordTime")
    if not re.fullmatch(r"[+-](0\d|1[0-4]):[0-5]\d", str(event.get("eventTimeZoneOffset"))):
        yield "eventTimeZoneOffset"
    if "errorDeclaration" in event:
        yield from _time(event["errorDeclaration"], "declarationTime")
    yield from _about(event, event.get("action"))
    if "readPoint" in event and not _uri(event["readPoint"].get("id")):
        yield f"readPoint: {event['readPoint']}"
    for name in ("epcList", "childEPCs", "parentID", "eventID"):
        value = event.get(name, [])
        named = value if isinstance(value, list) else [value]
        yield from (f"{name}: {each}" for each in named if not _uri(each))
    for name, typed in (("source", True), ("destination", True), ("bizTransaction", False)):
        for each in event.get(f"{name}List", []):
            if not _uri(each.get(name)) or (typed and "type" not in each):
                yield f"{name}List: {each}"
    for element in event.get("sensorElementList", []):
        if not element.get("sensorReport") or not all(map(_measured, element["sensorReport"])):
            yield f"sensorReport: {element}"


def _about(event: dict[str, Any], action: str | None) -> Iterator[str]:
    """What it happened to."""
    things = _THINGS.get(event["type"])
    if things is None:
        yield f"type: {event['type']}"
        return
    if action not in {"ADD", "OBSERVE", "DELETE"}:
        yield f"action: {action}"
    packed = event["type"] == "AggregationEvent"
    # Left out, all children are meant, which only a DELETE may say.
    if not any(event.get(each) for each in things) and not (packed and action == "DELETE"):
        yield "about nothing"
    if packed and action != "OBSERVE" and "parentID" not in event:
        yield "no parentID"
    if "ilmd" in event and (packed or action != "ADD"):
        yield "ilmd of what is not new"


def _measured(report: dict[str, Any]) -> bool:
    """A kind, a number, and a unit of UN/ECE Recommendation 20 (two or three capitals or digits)."""
    number = type(report.get("value")) in {int, float}
    return number and "type" in report and bool(re.fullmatch(r"[A-Z0-9]{2,3}", str(report.get("uom"))))


def _time(thing: dict[str, Any], name: str) -> Iterator[str]:
    """RFC 3339 5.6: date, time and offset."""
    try:
        aware = datetime.fromisoformat(thing[name]).tzinfo is not None and "T" in thing[name]
    except (KeyError, TypeError, ValueError):
        aware = False
    if not aware:
        yield f"{name}: {thing.get(name)}"


def _uri(value: object) -> bool:
    """RFC 3986 3, its outline."""
    return isinstance(value, str) and bool(re.fullmatch(r"[A-Za-z][A-Za-z0-9+.-]*:[!-~]+", value))
