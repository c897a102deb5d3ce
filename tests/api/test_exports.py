"""A form taken to other systems: events and a table, as the service gives them."""

from __future__ import annotations

import csv
import io
import json

from bailee.signing import signed_statement
from field import Visited


def test_events_carry_statements_that_verify_by_their_digest(visited: Visited) -> None:
    """A partner who checks the signed text behind an event would find another text."""
    field, (form, envelope, samples, seal) = visited
    answer = field.get("dock", f"/forms/{form}/epcis")
    assert answer.status_code == 200
    events = json.loads(answer.text)["epcisBody"]["eventList"]
    for event in events:
        assert event["eventID"] == f"ni:///sha-256;{signed_statement.digest(event['bailee:statement'])}"
        claims = signed_statement.read(event["bailee:statement"]).claims
        assert (claims.act, claims.sub) == (event["bailee:act"], f"form/{form}")
    steps = [event["bizStep"] for event in events]
    assert steps == ["sampling"] * 3 + [
        "consigning",
        "receiving",
        "packing",
        "shipping",
        "receiving",
        "accepting",
    ]
    packed = next(event for event in events if event["bizStep"] == "packing")
    assert packed["parentID"] == f"HTTPS://LEDGER.EXAMPLE/E/{envelope}"
    assert packed["bailee:seal"] == seal
    assert {child.rsplit("/", 1)[1] for child in packed["childEPCs"]} == set(samples)
    assert "Perpetua" not in answer.text
    assert "by the window" not in answer.text


def test_the_table_holds_every_sample(visited: Visited) -> None:
    """A laboratory would type the figures again."""
    field, (form, envelope, samples, seal) = visited
    answer = field.get("dock", f"/forms/{form}/samples.csv")
    assert answer.content_type == "text/csv; charset=utf-8"
    rows = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    assert {row["sample"] for row in rows} == set(samples)
    assert {(row["envelope"], row["seal"], row["status"]) for row in rows} == {(envelope, seal, "accepted")}
    assert {row["place"] for row in rows} == {"by the window"}


def test_both_are_for_the_parties_alone(visited: Visited) -> None:
    """A competitor could read a firm's visits from a table nobody thought of."""
    field, (form, *_) = visited
    root = field.device("third root", "third-party")
    data = {"name": "Third Party", "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign("org/third-party", "founded", data)), root)
    field.people["stranger"] = root
    for what in ("epcis", "samples.csv"):
        assert field.get("stranger", f"/forms/{form}/{what}").status_code == 404
        assert field.client.get(f"/forms/{form}/{what}").status_code == 401
