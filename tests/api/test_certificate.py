"""Certificates and issue of cassettes over HTTP. 12 months: common practice, no source.

Keep the certificate: AIHA Synergist, October 2018.
"""

from __future__ import annotations

from typing import Any

import pytest

from field import FIRM, Field
from grounds import on_any

pytestmark = on_any  # all that these ask of a database, others ask of PostgreSQL


def ask(field: Field, on: str, kind: str = "meter", name: str = "M-9", who: str = "inspector") -> Any:
    """What the inspector is told about an instrument."""
    query = {"kind": kind, "id": name, "on": on}
    return field.client.get("/certificate", query_string=query, headers=field.people[who].bearer)


def enter(field: Field, **said: Any) -> None:
    """The firm enters an instrument."""
    root = field.roots[FIRM]
    field.ok(
        field.send(root.sign(f"org/{FIRM}", "equipment_set", {"kind": "meter", "id": "M-9", **said})), root
    )


@pytest.mark.parametrize(
    ("said", "on", "words"),
    [
        ({"valid_to": "2026-12-01"}, "2026-12-01", ""),
        ({"valid_to": "2026-12-01"}, "2026-12-02", "was valid to 2026-12-01"),
        ({"certified": "2025-12-01"}, "2026-12-01", ""),
        ({"certified": "2025-12-01"}, "2026-12-02", "366 days old"),
    ],
)
def test_a_certificate_is_judged_for_the_day_of_the_visit(
    field: Field, said: dict[str, str], on: str, words: str
) -> None:
    """A meter in certificate today is out of it at the house."""
    enter(field, **said)
    told = ask(field, on).get_json()

    assert bool(told["expired"]) == bool(words)
    assert words in told["expired"]


def test_a_pump_has_a_last_day_and_no_age(field: Field) -> None:
    """Every pump of the firm is called out of certificate after a year."""
    enter(field, kind="pump", id="P-7", certified="2020-01-01")
    assert ask(field, "2026-12-01", "pump", "P-7").get_json()["expired"] == ""
    enter(field, kind="pump", id="P-7", certified="2020-01-01", valid_to="2026-11-30")
    assert "was valid to" in ask(field, "2026-12-01", "pump", "P-7").get_json()["expired"]


def test_what_was_not_entered_is_unknown(field: Field) -> None:
    """A meter nobody entered passes for one with a certificate."""
    assert ask(field, "2026-12-01").status_code == 404
    enter(field)
    assert ask(field, "2026-12-01").status_code == 404, "entered without a certificate"
    enter(field, certified="2026-12-02")
    assert ask(field, "2026-12-01").status_code == 404, "certified after the visit"
    enter(field, valid_to="2027-01-01")
    assert ask(field, "2026-12-01").status_code == 200
    assert ask(field, "2026-12-01", who="dock").status_code == 404, "another organization's"


@pytest.mark.parametrize(
    "query",
    [
        {"kind": "scale"}, {"id": ""}, {"on": "tomorrow"}, {"on": None}, {"id": "\x00"}, {"more": "1"},
    ],
)  # fmt: skip
def test_a_question_that_makes_no_sense_is_refused(field: Field, query: dict[str, Any]) -> None:
    """A mistyped day is answered for another."""
    asked = {"kind": "meter", "id": "M-9", "on": "2026-12-01", **query}
    asked = {name: value for name, value in asked.items() if value is not None}
    answer = field.client.get("/certificate", query_string=asked, headers=field.people["inspector"].bearer)

    assert answer.status_code == 422


def test_a_number_says_to_whom_it_was_issued(field: Field) -> None:
    """An inspector drives with a colleague's cassettes."""
    lot, (named, loose, _) = field.lot(3)
    number = field.number("sample")
    mine = field.people["inspector"].key.kid
    field.act("keeper", f"lot/{lot}", "issued", {"samples": [number], "to": mine, "visit": "2026-12-03"})

    assert field.get("inspector", f"/samples/{number}").get_json()["issued"] == {
        "to": mine, "yours": True, "visit": "2026-12-03",
    }  # fmt: skip
    assert field.get("second", f"/samples/{number}").get_json()["issued"]["yours"] is False
    assert field.get("second", f"/samples/{loose}").get_json()["issued"] == {
        "to": None, "yours": None, "visit": None,
    }  # fmt: skip
    form = field.open_form()
    field.collect(form, lot, named)
    told = field.get("dock", f"/samples/{named}").get_json()
    assert told["form"] == form
    assert told["issued"] is None, "the laboratory need not know to whom a firm hands its cassettes"
