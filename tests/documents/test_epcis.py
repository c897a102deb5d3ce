"""EPCIS 2.0 events of a form, against the schema of the standard and against what was signed."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from bailee.documents import epcis
from bailee.documents.epcis import Names, document
from bailee.domain.acts.table import ON_CHAIN
from bailee.labels import symbols
from builders import DAY, Story, visit

ADDRESS = "https://ledger.example"
NAMES = Names(ADDRESS, lambda number: symbols.qr_text(ADDRESS, number))
CREATED = datetime(2026, 12, 3, 9, 0, tzinfo=UTC)


FORMATS = jsonschema.FormatChecker(())


@FORMATS.checks("uri")
def _is_uri(value: object) -> bool:
    """RFC 3986 3, its outline; a format speaks of text only."""
    return not isinstance(value, str) or bool(re.fullmatch(r"[A-Za-z][A-Za-z0-9+.-]*:[!-~]+", value))


@FORMATS.checks("date-time", ValueError)
def _is_date_time(value: object) -> bool:
    """RFC 3339 5.6, its outline."""
    return not isinstance(value, str) or ("T" in value and datetime.fromisoformat(value).tzinfo is not None)


def told(story: Story) -> dict[str, Any]:
    """The document of a story."""
    form = story.state()
    return document(form, {entry.digest: f"text of {entry.digest}" for entry in form.entries}, NAMES, CREATED)


def events(story: Story, act: str | None = None) -> list[dict[str, Any]]:
    """Its events, or those of one act."""
    found = told(story)["epcisBody"]["eventList"]
    return [each for each in found if act in (None, each["bailee:act"])]


def full() -> Story:
    """A visit with everything that can happen to glass."""
    story = visit("collected")
    story.corrected(story.chains[f"form/{story.form}"][1], "flow_after", "14.8")
    story.held()
    story.relinquished()
    story.received()
    story.sealed()
    story.unsealed()
    story.sealed(seal="S-77", at=f"{DAY}T14:40:00-05:00")
    story.shipped()
    story.docked()
    story.accepted(story.samples[:1])
    story.on_hold(story.samples[1:2])
    story.rejected(story.samples[2:])
    story.voided(1)
    story.disposed(story.samples[:1])
    return story


@pytest.fixture(scope="session")
def schema(vectors: Path) -> dict[str, Any]:
    """The JSON schema that belongs to EPCIS 2.0 (gs1/EPCIS @ 2b888be); it is not ours to ship."""
    found = vectors / "epcis" / "EPCIS-JSON-Schema.json"
    if not found.is_file():
        pytest.skip(f"no EPCIS schema at {found}")
    return dict(json.loads(found.read_text("utf-8")))


@pytest.mark.parametrize("make", [full, visit, lambda: visit("opened")])
def test_the_document_fits_the_schema_of_the_standard(schema: dict[str, Any], make: Any) -> None:
    """A trading partner's system would refuse the file, or read something else into it."""
    validator = jsonschema.Draft7Validator(schema, format_checker=FORMATS)
    assert [error.message[:300] for error in validator.iter_errors(told(make()))] == []


def test_the_schema_would_refuse_a_wrong_document(schema: dict[str, Any]) -> None:
    """A schema that takes anything would make the test above worth nothing."""
    spoilt = told(full())
    spoilt["epcisBody"]["eventList"][0]["bizStep"] = "sniffing"
    assert not jsonschema.Draft7Validator(schema, format_checker=FORMATS).is_valid(spoilt)


def test_every_statement_about_a_thing_is_one_event_and_carries_its_own_proof() -> None:
    """A partner could not tell which signed statement an event rests on, or an act would be missing."""
    story = full()
    form = story.state()
    by_id = {each["eventID"]: each for each in events(story)}
    for entry in form.entries:
        if entry.row.step:
            event = by_id.pop(f"ni:///sha-256;{entry.digest}")
            assert event["bailee:statement"] == f"text of {entry.digest}"
            assert event["bailee:leaf"] == entry.leaf
            assert datetime.fromisoformat(event["recordTime"]) == entry.rec
    (correction,) = by_id.values()
    assert correction["bailee:act"] == "corrected"


def test_every_act_is_told_or_left_out_on_purpose() -> None:
    """An act added later would be missing from the export, and nobody would have decided that."""
    words = {
        "opened",
        "corrected",
        "excepted",
        "affirmed",
        "witnessed",
        "copied",
        "erased",
        "retention_held",
        "retention_released",
    }
    assert {act for act, row in ON_CHAIN["form"].items() if not row.step} == words


def test_a_run_is_a_sampling_with_its_figures() -> None:
    """The laboratory's system would compute a concentration from another volume."""
    first = events(visit("collected"), "collected")[0]
    assert (first["type"], first["action"], first["bizStep"]) == ("ObjectEvent", "ADD", "sampling")
    (element,) = first["sensorElementList"]
    reports = {each["type"]: (each["value"], each["uom"]) for each in element["sensorReport"]}
    story = visit("collected")
    body = story.state().samples[story.samples[0]].taken
    assert body.volume_l is not None
    assert reports["Volume"] == (float(round(body.volume_l, 4)), "LTR")
    assert first["eventTime"] != first["bailee:signed"]
    assert first["eventTimeZoneOffset"] == "-05:00"


def test_a_corrected_statement_is_declared_wrong_and_points_at_the_right_one() -> None:
    """A partner would go on with the value that was mistyped, or see no trace of it (EPCIS 2.0, ErrorDeclaration)."""
    story = visit("collected")
    target = story.chains[f"form/{story.form}"][1]
    correction = story.corrected(target, "flow_after", "10.0")
    wrong = next(each for each in events(story) if each["eventID"].endswith(target.digest))
    right = next(each for each in events(story) if each["eventID"].endswith(correction.digest))
    assert wrong["errorDeclaration"]["reason"] == "incorrect_data"
    assert wrong["errorDeclaration"]["correctiveEventIDs"] == [right["eventID"]]
    assert "errorDeclaration" not in right
    volumes = [each["sensorElementList"][0]["sensorReport"][1]["value"] for each in (wrong, right)]
    assert volumes[0] > volumes[1]


def test_a_correction_that_is_not_followed_changes_nothing() -> None:
    """Anybody could declare another's event wrong."""
    story = visit("collected")
    story.corrected(story.chains[f"form/{story.form}"][1], "flow_after", "1.0", old="9.9")
    assert not any("errorDeclaration" in each for each in events(story))


def test_an_envelope_is_packed_shipped_and_received_by_its_label() -> None:
    """A scan at the dock would not find the envelope that was announced."""
    story = full()
    label = symbols.qr_text(ADDRESS, story.envelope)
    packed = events(story, "sealed")[0]
    assert (packed["type"], packed["action"], packed["parentID"]) == ("AggregationEvent", "ADD", label)
    assert packed["childEPCs"] == [symbols.qr_text(ADDRESS, each) for each in story.samples]
    assert events(story, "unsealed")[0]["action"] == "DELETE"
    assert events(story, "shipped")[0]["epcList"] == [label]
    (docked,) = [each for each in events(story, "received") if label in each["epcList"]]
    assert docked["bailee:sealState"] == "intact"


@pytest.mark.parametrize(
    ("changes", "disposition"),
    [
        ({}, "in_progress"),
        ({"seal_state": "broken"}, "non_conformant"),
        ({"seal_state": "missing", "seal": None}, "non_conformant"),
    ],
)
def test_a_broken_seal_is_not_told_as_conformant(changes: dict[str, Any], disposition: str) -> None:
    """The one thing the seal is for would be lost on the way to the partner."""
    story = visit("shipped")
    story.docked(**{"dock": {"envelope": story.envelope, "seal": story.seal, "seal_state": "intact", "package": ["sound"],
                             "total": len(story.samples), **changes}} if changes else {})  # fmt: skip
    assert [each["disposition"] for each in events(story, "received")][-1] == disposition


def test_nothing_private_is_exported() -> None:
    """Client and address would be in the systems of a trading partner for ever."""
    story = visit("opened")
    story.collected(0, disclosed={"place": "behind the piano"})
    private = {value for entry in story.state().entries for value in entry.disclosed.values()}
    assert private == {"behind the piano"}
    text = epcis.write(told(story))
    assert not [value for value in private if value in text]
    assert re.fullmatch(r"\{\n.*\}\n", text, re.DOTALL)
