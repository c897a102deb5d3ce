"""Strangers who cost the service much and themselves little: heavy questions, heaps of statements, requests
that never end.

No standard says what a service must bear; each test holds a sentence of guides/attacks.md or deploy/README
(common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from operator_hands import Fields
from promises import promised
from test_attacks import on_both

from bailee.api import published_log as log_api
from bailee.api.rate_limits import Limits
from bailee.app import create_app
from bailee.errors import Unavailable
from bailee.signing import signed_statement
from bailee_cli.device import client
from field import FIRM, Field


@on_both
def test_a_number_beyond_every_log_is_an_address_of_nothing(make_field: Fields) -> None:
    """A database's integer ends at 2**63 - 1: one digit more would be a fault of ours in the operator's
    night.
    """
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


@pytest.mark.slow
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
    """A device that never saw the answer repeats itself, and would be told that its organization is not
    there.
    """
    field = make_field(start=False, founding="open")
    root = field.roots[FIRM]
    signed = root.sign(f"org/{FIRM}", "founded", {"name": "H", "jwk": root.key.jwk, "recovery": None})
    assert field.send(signed).status_code == 201
    listed: Field = reopened(field, founding="listed")
    assert listed.send(signed).status_code == 200


class HandClock:
    """Seconds, which pass when a test says so."""

    seconds = 0.0

    def __call__(self) -> float:
        return self.seconds


def hurried(field: Field, **settings: int) -> HandClock:
    """The service counts anew, with these limits and by a clock of the test's."""
    clock = HandClock()
    field.app.extensions["limits"] = Limits(replace(field.ledger.settings, **settings), clock, HandClock())
    return clock


def asked(field: Field, peer: str, forwarded: str | None = None, **more: Any) -> Any:
    """A cheap question from an address, or through a proxy."""
    headers = {"X-Forwarded-For": forwarded} if forwarded is not None else {}
    return field.client.get("/proofs/inclusion", headers=headers, environ_base={"REMOTE_ADDR": peer}, **more)


def test_many_statements_in_one_request_are_many_requests(make_field: Fields) -> None:
    """Whoever has one old file would send its 500 statements again and again, and every dock and phone would
    wait behind them.
    """
    field = make_field()
    clock = hurried(field, requests_per_address=1)
    ended = field.people["inspector"]
    again = [ended.sign(f"form/{field.open_form()}", "held", {}) for _ in range(4)]
    clock.seconds += 1_000
    there = {"REMOTE_ADDR": "203.0.113.7"}
    codes = [
        field.client.post("/entries", json={"statements": again}, environ_base=there).status_code
        for _ in range(11)
    ]
    assert codes == [200] * 9 + [429] * 2


def test_what_an_answer_costs_is_taken_from_the_key_that_asked(make_field: Fields) -> None:
    """A form made heavy on purpose and asked for again and again would keep every dock waiting, far below any
    number of requests.
    """
    field = make_field()
    clock, work = hurried(field, requests_per_key=1), HandClock()
    limits = field.app.extensions["limits"]
    limits._worked = work
    assert field.get("clerk", "/forms").status_code == 200
    kid, org = field.people["clerk"].key.kid, FIRM
    began = limits._busy.begin(org)
    work.seconds += 20  # 20 s of a core cost 40 requests: all that this key may send at once
    limits.answered(kid, org, began, 0.0)
    refused = field.get("clerk", "/forms")
    assert (refused.status_code, refused.get_json()["code"]) == (429, "too-many-requests")
    assert field.get("inspector", "/forms").status_code == 200
    clock.seconds += int(refused.headers["Retry-After"])
    assert field.get("clerk", "/forms").status_code == 200


def test_long_answers_of_one_organization_leave_threads_for_the_others(make_field: Fields) -> None:
    """Eight questions about one heavy form at once would take every thread, and a dock would wait for all of
    them.
    """
    field = make_field()
    clock = hurried(field, threads=4, requests_per_key=20)
    busy = field.app.extensions["limits"]._busy
    began = [busy.begin(FIRM) for _ in range(3)]  # however many at once: none of them is long yet
    assert field.get("clerk", "/forms").status_code == 200
    clock.seconds += 1.5
    refused = field.get("clerk", "/forms")
    assert (refused.status_code, refused.headers["Retry-After"]) == (429, "1")
    assert field.get("dock", "/forms").status_code == 200
    for each in began[:2]:
        busy.end(FIRM, each)
    assert field.get("clerk", "/forms").status_code == 200


@pytest.mark.slow
def test_many_large_statements_are_stored_in_several_transactions(
    make_field: Fields, monkeypatch: pytest.MonkeyPatch
) -> None:
    """500 envelopes of 500 cassettes in one request would hold the ledger for as long as it takes to write
    them, and nobody else could record.
    """
    field = make_field()
    form, (_, samples) = field.open_form(), field.lot(100)
    writes: list[int] = []
    write = field.ledger.database.write
    monkeypatch.setattr(field.ledger.database, "write", lambda *given: (writes.append(1), write(*given))[1])
    clerk = field.people["clerk"]
    large = [
        clerk.sign(
            f"form/{form}",
            "held",
            {
                "samples": samples,
                "secured": "locked",
                "where": "office",
                "since": "2026-12-01T09:30:00-05:00",
            },
        )
        for _ in range(200)
    ]
    told = field.send(*large).get_json()["answers"]
    assert len(told) == 200
    assert len(writes) > 1


def test_a_body_of_many_levels_opens_no_page_and_breaks_nothing(make_field: Fields) -> None:
    """A kilobyte of brackets would be a page of ours about a fault of ours, and a screenful in the operator's
    night, each time.
    """
    field = make_field(start=False)
    for body in ("[" * 1000, '{"token":' * 1000, "null", '{"token":1}', ""):
        answer = field.client.post("/session", data=body, content_type="application/json")
        assert (answer.status_code, answer.get_json()["code"]) == (422, "bad-request")
    plain = field.client.post("/session", data='{"token":"a.b.c"}', content_type="text/plain")
    assert (plain.status_code, plain.get_json()["code"]) == (422, "bad-request")


def test_an_address_that_hurries_waits_and_nobody_else_does(make_field: Fields) -> None:
    """One script on one machine would take all the threads, and every dock and phone would wait behind it."""
    promised("more requests than a person can", "is asked to come again later")
    field = make_field(start=False)
    clock = hurried(field, requests_per_address=1)
    assert {asked(field, "203.0.113.7").status_code for _ in range(40)} == {422}
    refused = asked(field, "203.0.113.7")
    assert (refused.status_code, refused.get_json()["code"]) == (429, "too-many-requests")
    assert refused.headers["Retry-After"] == "1"
    assert asked(field, "203.0.113.8").status_code == 422
    clock.seconds += 1
    assert [asked(field, "203.0.113.7").status_code for _ in range(2)] == [422, 429]


@pytest.mark.slow
def test_nobody_hides_behind_names_of_addresses(make_field: Fields) -> None:
    """Whoever writes another address into each request, or has 2**64 of them, would never be told to wait."""
    field = make_field(start=False)
    for peers in (
        [
            ("203.0.113.7", f"198.51.100.{n}") for n in range(41)
        ],  # not from a proxy: believed is the connection
        [("127.0.0.1", f"198.51.100.{n}, 203.0.113.9") for n in range(41)],  # the proxy adds the last one
        [(f"2001:db8::{n:x}", None) for n in range(41)],  # RFC 4291 2.5.4: one network, one customer
        [("::ffff:203.0.113.10", None)] * 41,
    ):
        hurried(field, requests_per_address=1)
        assert [asked(field, *each).status_code for each in peers] == [422] * 40 + [429]
    hurried(field, requests_per_address=1)
    others = [("::ffff:203.0.113.10", None), ("203.0.113.11", None), ("::ffff:203.0.113.12", None)]
    assert {asked(field, *each).status_code for each in others * 40} == {422}


def test_a_heavy_request_counts_as_many(make_field: Fields) -> None:
    """Few requests of 12 MB each cost as much as a thousand small ones."""
    field = make_field(start=False)
    hurried(field, requests_per_address=1)
    heavy = {"data": b"x" * (39 * 65_536), "environ_base": {"REMOTE_ADDR": "203.0.113.7"}}
    told = [field.client.post("/entries", **heavy).status_code for _ in range(2)]
    assert told == [415, 429]


def test_a_key_that_hurries_waits_and_its_colleague_does_not(make_field: Fields) -> None:
    """A program that somebody left running would keep a whole laboratory from receiving.

    And a thief of no key could do it to anybody.
    """
    field = make_field()
    hurried(field, requests_per_key=1)
    forged = {"Authorization": field.people["clerk"].bearer["Authorization"][:-9] + "AAAAAAAAA"}
    for _ in range(60):  # who merely names a key spends nothing of it
        assert field.client.get("/flow", headers=forged).get_json()["code"] == "unknown-key"
    told = [field.get("clerk", "/flow").status_code for _ in range(41)]
    assert told[40] == 429
    assert 429 not in told[:40]
    assert field.get("dock", "/flow").status_code != 429


def test_a_device_that_is_told_to_wait_keeps_its_statement_waiting() -> None:
    """It would lie in the outbox as refused, and nobody would send it again."""
    told = {"detail": "Too many requests at once.", "code": "too-many-requests"}
    assert isinstance(client.problem(429, told), Unavailable)


def reopened(field: Field, **settings: Any) -> Field:
    """The same home after the operator changed settings."""
    field.ledger.database.close()
    field.app = create_app(replace(field.ledger.settings, **settings), field.clock)
    field.client, field.ledger = field.app.test_client(), field.app.extensions["ledger"]
    return field
