"""EPCIS 2.0 events of a form, as another program reads them and against what was signed."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from event_reader import faults

from bailee.documents import epcis
from bailee.documents.epcis import Names, document
from bailee.domain.acts.table import ON_CHAIN
from bailee.labels import symbols
from builders import CLERK, DAY, QUALITY, Story, visit

ADDRESS = "https://ledger.example"
NAMES = Names(ADDRESS, lambda number: symbols.qr_text(ADDRESS, number))
CREATED = datetime(2026, 12, 3, 9, 0, tzinfo=UTC)


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
    story.surface_collected("bulk", mass_g="0.5", lot=story.lots[0])
    story.corrected(story.chains[f"form/{story.form}"][1], "flow_after", "14.8")
    story.held()
    story.relinquished()
    story.received()
    story.sealed()
    story.unsealed()
    story.sealed(seal="S-77", at=f"{DAY}T14:40:00-05:00")
    story.shipped()
    story.taken_in()
    story.docked()
    story.accepted(story.samples[:1])
    story.on_hold(story.samples[1:2])
    story.rejected(story.samples[2:])
    story.voided(1)
    story.stored(story.samples[:1])
    story.withdrawn(story.samples[:1], purpose="disposal")
    story.disposed(story.samples[:1])
    return story


@pytest.mark.parametrize("make", [full, visit, lambda: visit("opened")])
def test_another_program_reads_the_document(make: Callable[[], Story]) -> None:
    """A trading partner's system would refuse the file, or read something else into it."""
    assert faults(told(make())) == []


def spoil(event: dict[str, Any], path: str, value: object) -> None:
    """Put a value in its place, or take the member away."""
    *way, name = path.split("/")
    for step in way:
        event = event[int(step) if step.isdigit() else step]  # type: ignore[index]
    if value is None:
        del event[name]
    else:
        event[name] = value


@pytest.mark.parametrize(
    ("act", "path", "value"),
    [
        ("collected", "bizStep", "sniffing"),
        ("collected", "bizStep", "active"),  # a word of the standard in another's place
        ("collected", "disposition", "gloomy"),
        ("collected", "mood", "bad"),
        ("collected", "bizStep", ["sampling"]),
        ("collected", "readPoint", {}),
        ("collected", "readPoint", "https://ledger.example"),
        ("collected", "type", "GlassEvent"),
        ("collected", "eventTime", None),
        ("collected", "eventTime", "2026-12-01T09:30:00"),
        ("collected", "eventTimeZoneOffset", None),
        ("collected", "action", None),
        ("collected", "action", "SNIFF"),
        ("collected", "epcList", ["S7K3 M9Q2"]),
        ("collected", "sensorElementList/0/sensorReport/0/type", "Smell"),
        ("collected", "sensorElementList/0/sensorReport/0/value", "15"),
        ("collected", "sensorElementList/0/sensorReport/0/uom", "liters"),
        ("collected", "errorDeclaration", {"reason": "incorrect_data"}),
        ("collected", "errorDeclaration", {"declarationTime": "2026-12-01T09:30:00-05:00", "reason": "whim"}),
        ("held", "epcList", None),
        ("relinquished", "sourceList/0/type", "owner"),
        ("relinquished", "destinationList/0/destination", None),
        ("relinquished", "bizTransactionList/0/bizTransaction", None),
        ("relinquished", "ilmd", {"bailee:kind": "indoor"}),
        ("sealed", "parentID", None),
        ("sealed", "childEPCs", []),
    ],
)
def test_a_spoilt_event_is_noticed(act: str, path: str, value: object) -> None:
    """A reader that takes anything would make the test above worth nothing."""
    spoilt = told(full())
    event = next(each for each in spoilt["epcisBody"]["eventList"] if each["bailee:act"] == act)
    assert faults(spoilt) == []
    spoil(event, path, value)
    assert faults(spoilt)


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
        "pump_checked",
        "outdoor_ruled_out",
        "conditions_read",
        "lab_numbered",
        "requested",
        "building_changed",
        "copied",
        "notified",
        "erased",
        "retention_held",
        "retention_released",
    }
    left_out = {act for act, row in ON_CHAIN["form"].items() if not row.step}
    assert left_out == words, (
        f"give {left_out - words} a `step` in its row, or write it into `words` above: only said"
    )


def test_a_statement_about_all_that_is_held_names_each_sample() -> None:
    """A partner's system would be told that something was stored, and not what."""
    story = visit("collected")
    story.held()
    (stored,) = events(story, "held")
    assert stored["epcList"] == [symbols.qr_text(ADDRESS, each) for each in story.samples]


def test_a_store_is_told_with_its_limits_and_a_withdrawal_with_its_purpose() -> None:
    """A partner's system could not show that a sample was never kept too warm (ISO/IEC 17025:2017 7.4.1)."""
    story = visit()
    story.stored(story.samples[:1], low_c="-5.5", high_c="8", keep_until="2027-06-30")
    story.stored(story.samples[1:2], high_c="8")
    story.withdrawn(story.samples[:1], purpose="review")
    both, upper = events(story, "stored")
    assert (both["bailee:lowC"], both["bailee:highC"], both["bailee:keepUntil"]) == (-5.5, 8.0, "2027-06-30")
    assert (upper.get("bailee:lowC"), upper["bailee:highC"]) == (None, 8.0)
    (out,) = events(story, "withdrawn")
    assert (out["bailee:store"], out["bailee:purpose"]) == ("FR-1", "review")


def test_what_counts_for_nothing_is_no_event() -> None:
    """A partner's system would book a sample to another laboratory, accept a rejected one, or take a lost
    envelope for arrived, by the word of the firm that sent it.
    """
    story = visit("accepted")
    number = story.samples[0]
    story.forwarded(number, by=QUALITY)
    story.rejected(story.samples[:1], by=QUALITY)
    assert events(story, "forwarded") == []
    assert events(story, "rejected") == []
    story.forwarded(1)
    (sent,) = events(story, "forwarded")
    assert sent["epcList"] == [symbols.qr_text(ADDRESS, story.samples[-1])]
    lost = visit("shipped")
    lost.taken_in(by=CLERK)
    assert events(lost, "taken_in") == []
    lost.docked(by=CLERK)
    opened = events(lost, "received")[-1]
    assert (opened["bizStep"], opened["disposition"]) == ("unpacking", "container_open")
    assert opened["epcList"] == [symbols.qr_text(ADDRESS, each) for each in lost.samples]
    assert faults(told(story)) == faults(told(lost)) == []


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
    """A partner would go on with the value that was mistyped, or see no trace of it (EPCIS 2.0,
    ErrorDeclaration).
    """
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
    story.surface_collected("bulk", mass_g="0.5", lot=story.lots[0])
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
    story.docked(
        **(
            {
                "dock": {
                    "envelope": story.envelope,
                    "seal": story.seal,
                    "seal_state": "intact",
                    "package": ["sound"],
                    "total": len(story.samples),
                    **changes,
                }
            }
            if changes
            else {}
        )
    )
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


def test_how_many_containers_is_told_where_they_were_counted() -> None:
    """A partner's system would look for one parcel where two were sealed."""
    story = visit("shipped", sealed={"containers": 2})
    story.taken_in(containers=1)
    story.docked(dock={"containers": 2})
    counts = [events(story, act)[-1]["bailee:containers"] for act in ("sealed", "taken_in", "received")]
    assert counts == [2, 1, 2]
    assert "bailee:containers" not in events(visit("shipped"), "sealed")[0]


def test_what_a_sample_replaces_is_told_with_it() -> None:
    """A trading partner would count one room twice."""
    story = visit("opened")
    story.collected(0)
    story.collected(1, replaces=story.samples[0])
    first, second = told(story)["epcisBody"]["eventList"][-2:]
    assert "bailee:replaces" not in first["ilmd"]
    assert second["ilmd"]["bailee:replaces"] == first["epcList"][0]


CAVITY = {"opening": "drilled", "tube": "new"}


@pytest.mark.parametrize(
    ("signed", "corrected", "kinds"),
    [
        (None, CAVITY, ["indoor", "indoor"]),
        (CAVITY, None, ["cavity", "indoor"]),
        (CAVITY, {**CAVITY, "tube": "cleaned"}, ["cavity", "cavity"]),
    ],
)
def test_the_kind_of_a_corrected_cavity_is_that_which_counts(
    signed: dict[str, str] | None, corrected: dict[str, str] | None, kinds: list[str]
) -> None:
    """Another system would compare no room with outdoors, because somebody called it a cavity afterwards
    (CU-16).
    """
    story = visit("opened")
    story.collected(0, cavity=signed)
    story.corrected(story.chains[f"form/{story.form}"][-1], "cavity", corrected)
    assert [each["ilmd"]["bailee:kind"] for each in events(story, None) if "ilmd" in each] == kinds
    assert story.state().samples[story.samples[0]].kind == kinds[-1]
