"""A laboratory's week: samples stored, taken out, put back late, disposed of; and what its own list, the
auditor's file, the events and the table say of it.
"""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from bailee.domain.moments import Moment
from bailee.ledger.checkpoint import parse_vkey
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
from field import LAB, Field, Visited


def do(field: Field, form: str, act: str, when: str, who: str, **data: Any) -> None:
    """Somebody of the laboratory does something at a local time (Chicago in December: six hours behind)."""
    at = f"{when}:00-06:00"
    field.clock.now = Moment.parse(at).instant
    field.act(who, f"form/{form}", act, {**data, "at": at})


def told(field: Field, form: str, *rules: str) -> list[tuple[str, str]]:
    """What the rules of stores say to the custodian, with their severity."""
    found = field.get("dock", f"/forms/{form}").get_json()["findings"]
    return [(each["rule"], each["severity"]) for each in found if each["rule"] in (rules or STORES)]


STORES = ("CU-01", "CU-02", "CU-04", "CU-06", "CU-23", "CU-24", "RC-23")


def test_a_laboratory_s_week(visited: Visited) -> None:
    """Nobody could say years later where the glass was between the dock and the waste bin."""
    field, (form, _, samples, _) = visited
    field.people["analyst"] = field.device("analyst", LAB)
    field.enroll(field.people["analyst"], "analyst")
    store = {"store": "FR-1", "secured": "locked", "low_c": "2", "high_c": "8"}
    out = {"store": "FR-1", "purpose": "analysis"}

    # Wednesday: put away; Thursday: counted and back before the evening.
    do(field, form, "stored", "2026-12-02T11:00", "dock", samples=samples, keep_until="2026-12-08", **store)
    do(field, form, "withdrawn", "2026-12-03T09:00", "analyst", samples=samples, **out)
    do(field, form, "stored", "2026-12-03T15:30", "analyst", samples=samples, **store)
    assert told(field, form) == []
    (first, *_) = field.get("dock", f"/forms/{form}").get_json()["samples"]
    assert (first["holder"], first["store"], first["keep_until"]) == ("store FR-1", "FR-1", "2026-12-08")

    # Thursday evening: one of them once more, and it is back on Friday morning only.
    do(field, form, "withdrawn", "2026-12-03T16:30", "analyst", samples=samples[:1], **out)
    do(field, form, "stored", "2026-12-04T08:05", "analyst", samples=samples[:1], **store)
    assert told(field, form) == [("CU-23", "warn")]
    findings = field.get("dock", f"/forms/{form}").get_json()["findings"]
    late = next(each for each in findings if each["rule"] == "CU-23")
    assert "for 15 h 35 min" in late["sentence"]  # 16:30 to 08:05 (arithmetic)
    assert late["samples"] == samples[:1]

    # Monday: one is destroyed a day too early; Tuesday: the others, in time.
    do(field, form, "disposed", "2026-12-07T10:00", "dock", samples=samples[1:2], how="destroyed")
    rest, out = [samples[0], samples[2]], {"store": "FR-1", "purpose": "disposal"}
    do(field, form, "withdrawn", "2026-12-08T09:55", "dock", samples=rest, **out)
    do(field, form, "disposed", "2026-12-08T10:00", "dock", samples=rest, how="destroyed")
    assert sorted(told(field, form)) == [("CU-23", "warn"), ("RC-23", "flag")]

    # Years later: the file alone says the same, and so do the events and the table.
    roots = {org: root.key.kid for org, root in field.roots.items()}
    text = field.get("dock", f"/forms/{form}/bundle").text
    report = verify(bundle.read(text), Trust(roots, (parse_vkey(field.ledger.vkey),)), field.ledger.now())
    assert report.faults == ()
    heard = [(each.rule, each.severity) for each in report.findings if each.rule in STORES]
    assert sorted(heard) == [("CU-23", "warn"), ("RC-23", "flag")]
    held = {each.number: [holder.person for holder in each.holders] for each in report.samples}
    # The names of people are private; between them stand stores.
    assert [name for name in held[samples[0]] if name.startswith("store")] == ["store FR-1"] * 3
    document = json.loads(field.get("dock", f"/forms/{form}/epcis").text)
    events = document["epcisBody"]["eventList"]
    steps = [each["bizStep"] for each in events if each.get("bailee:store") == "FR-1"]
    assert steps == ["storing", "picking", "storing", "picking", "storing", "picking"]
    rows = list(csv.DictReader(io.StringIO(field.get("dock", f"/forms/{form}/samples.csv").text)))
    assert {(row["status"], row["store"], row["keep_until"]) for row in rows} == {
        ("disposed", "", "2026-12-08")
    }
