"""Strangers who cost the service much and themselves little: heavy questions, heaps of statements, requests that never end.

No standard says what a service must bear; each test holds a sentence of README or deploy/README (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from operator_hands import Fields
from test_attacks import on_both

from bailee.api import log as log_api
from bailee.app import create_app
from bailee.signing import signed_statement
from field import FIRM, Field


@on_both
def test_a_number_beyond_every_log_is_an_address_of_nothing(make_field: Fields) -> None:
    """A database's integer ends at 2**63 - 1: one digit more would be a fault of ours in the operator's night."""
    field = make_field()
    for number in ("9223372036854775808", "9007199254740993", "1" * 400, "\N{ARABIC-INDIC DIGIT THREE}"):
        asked = (f"/entries/{number}", f"/tile/{number}/000", f"/proofs/inclusion?index={number}&size=1")
        assert [field.get("clerk", path).status_code for path in asked] == [404, 404, 422]


def test_the_description_of_the_interface_is_made_once(
    make_field: Fields, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A public address that costs 50 ms of a core for each call is a switch to turn the service off with."""
    field = make_field(start=False)
    made: list[int] = []
    describe = log_api.openapi
    monkeypatch.setattr(log_api, "openapi", lambda *given: (made.append(1), describe(*given))[1])
    answers = [field.client.get("/openapi.json") for _ in range(5)]
    assert {each.data for each in answers} == {answers[0].data}
    assert answers[0].get_json()["openapi"] == "3.1.0"
    assert len(made) == 1


@on_both
def test_foundings_of_strangers_are_refused_before_anything_is_computed_or_locked(
    make_field: Fields, monkeypatch: pytest.MonkeyPatch
) -> None:
    """500 of them in one request would hold up everybody who records a hand-over."""
    field = make_field(start=False, founding="listed")

    def forbidden(*_: Any, **__: Any) -> Any:
        raise AssertionError

    monkeypatch.setattr(field.ledger.database, "write", forbidden)
    monkeypatch.setattr(signed_statement, "open_with", forbidden)
    root = field.roots[FIRM]
    data = {"name": "Harrow Field", "jwk": root.key.jwk, "recovery": None}
    told = field.send(*(root.sign(f"org/{FIRM}", "founded", data) for _ in range(500))).get_json()["answers"]
    assert {each["problem"]["code"] for each in told} == {"not-admitted"}


def test_a_root_that_founded_while_anybody_could_may_say_it_again(make_field: Fields) -> None:
    """A device that never saw the answer repeats itself, and would be told that its organisation is not there."""
    field = make_field(start=False, founding="open")
    root = field.roots[FIRM]
    signed = root.sign(f"org/{FIRM}", "founded", {"name": "H", "jwk": root.key.jwk, "recovery": None})
    assert field.send(signed).status_code == 201
    listed: Field = reopened(field, founding="listed")
    assert listed.send(signed).status_code == 200


def reopened(field: Field, **settings: Any) -> Field:
    """The same home after the operator changed settings."""
    field.ledger.database.close()
    field.app = create_app(replace(field.ledger.settings, **settings), field.clock)
    field.client, field.ledger = field.app.test_client(), field.app.extensions["ledger"]
    return field
