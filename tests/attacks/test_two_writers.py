"""Two processes write at the same instant: what guides/attacks.md promises of one statement sent twice and of
a copied device holds all the same.

On SQLite one process writes, so its threads race; on PostgreSQL two services before one database.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Barrier
from typing import Any

import pytest
import sqlalchemy as sa
from operator_hands import Fields, findings, judged

from bailee.app import create_app
from bailee.operations import kept_evidence
from bailee.store import log
from domain.test_statements import LEAST
from field import Field
from waiting import until

ROUNDS = 6
HELD = {"secured": "locked", "where": "office", "since": "2026-12-01T09:30:00-05:00"}
on_both = pytest.mark.parametrize(
    "ground", ["sqlite", pytest.param("postgresql", marks=pytest.mark.slow)], indirect=True
)

Service = Callable[[dict[str, Any]], Any]


@pytest.fixture
def writers(make_field: Fields) -> Iterator[tuple[Field, list[Service]]]:
    """A log, and two services that take statements for it."""
    field = make_field()
    apps = [field.app]
    if not field.ledger.database.is_sqlite:
        apps.append(create_app(field.ledger.settings, field.clock))

    def service(number: int) -> Service:
        app = apps[number % len(apps)]
        return lambda body: app.test_client().post("/entries", json=body)

    yield field, [service(0), service(1)]
    for app in apps[1:]:
        app.extensions["ledger"].database.close()


def at_once(services: list[Service], *bodies: dict[str, Any]) -> list[Any]:
    """What each service answers when they are asked at the same instant."""
    gate = Barrier(len(services))

    def ask(service: Service, body: dict[str, Any]) -> Any:
        gate.wait(10)
        return service(body)

    with ThreadPoolExecutor(len(services)) as pool:
        return list(pool.map(ask, services, bodies))


@on_both
def test_one_statement_sent_to_both_is_recorded_once(writers: tuple[Field, list[Service]]) -> None:
    """An attacker, or a phone with two networks, sends one statement to both: one entry, and both give the
    same answer.
    """
    field, services = writers
    form = field.open_form()
    clerk = field.people["clerk"]
    for _ in range(ROUNDS):
        signed = clerk.sign(f"form/{form}", "held", HELD, after=None)
        answers = at_once(services, signed, signed)
        assert sorted(each.status_code for each in answers) == [200, 201]
        assert len({each.get_json()["entry"] for each in answers}) == 1
    assert field.head(f"form/{form}")[0] == 1 + ROUNDS
    report = judged(field, form)
    assert (report.faults, report.remarks) == ((), ())


@on_both
def test_two_statements_of_a_copied_phone_never_both_stand(writers: tuple[Field, list[Service]]) -> None:
    """The thief and the owner sign under one number and send at the same instant: one is recorded, the other
    kept beside it.
    """
    field, services = writers
    form = field.open_form()
    owner = field.people["clerk"]
    for _ in range(ROUNDS):
        thief = replace(owner, heads=dict(owner.heads))
        one = owner.sign(f"form/{form}", "held", HELD, after=None)
        other = thief.sign(f"form/{form}", "held", {**HELD, "where": "home"}, after=None)
        answers = at_once(services, one, other)
        assert sorted(each.status_code for each in answers) == [201, 409]
        (refused,) = [each for each in answers if each.status_code == 409]
        assert refused.get_json()["code"] == "device-fork"
        if refused is answers[0]:
            owner.prev = thief.prev  # from now on the owner's device is the one that goes on
    assert field.head(f"form/{form}")[0] == 1 + ROUNDS
    report = judged(field, form)
    assert report.faults == ()
    assert [each.code for each in report.remarks] == ["conflict"] * len(report.remarks)
    assert "CU-10" in findings(report)


@on_both
def test_entries_of_two_writers_have_one_place_each(writers: tuple[Field, list[Service]]) -> None:
    """Two people speak on one form at the same instant: nothing is lost, no number is given twice, and the
    file is whole.
    """
    field, services = writers
    form = field.open_form()
    people = [field.people["clerk"], field.people["second"]]
    told = []
    for _ in range(ROUNDS):
        signed = [each.sign(f"form/{form}", "held", HELD, after=None) for each in people]
        told += [each.get_json() for each in at_once(services, *signed)]
    assert sorted(each["n"] for each in told) == list(range(2, 2 + 2 * ROUNDS))
    report = judged(field, form)
    assert (report.faults, report.remarks) == ((), ())
    assert len([each for each in report.entries if each.chain == f"form/{form}"]) == 1 + 2 * ROUNDS


_WAITS = sa.text("SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock'")


@pytest.mark.parametrize("ground", [pytest.param("postgresql", marks=pytest.mark.slow)], indirect=True)
@pytest.mark.parametrize("is_known", [False, True], ids=["new key", "known key"])
@pytest.mark.parametrize("between", ["the entry", "the slip"])
def test_a_slip_and_an_entry_of_a_copied_phone_at_the_same_instant_are_proven(
    writers: tuple[Field, list[Service]], monkeypatch: pytest.MonkeyPatch, between: str, is_known: bool
) -> None:
    """The thief sends an act that is refused by its role just while the owner's entry is being recorded:
    neither saw the other, and no form was flagged. On SQLite one waits for the other.
    """
    field, services = writers
    form, (lot, _) = field.open_form(), field.lot()
    phone = field.people["clerk"]
    if is_known:
        field.act("clerk", f"form/{form}", "held", HELD)
    thief = replace(phone, heads=dict(phone.heads))
    entry = phone.sign(f"form/{form}", "held", HELD, after=None)
    slip = thief.sign(f"lot/{lot}", "recalled", LEAST["recalled"], after=None)
    pool = ThreadPoolExecutor(1)
    asked: list[Any] = []

    def meanwhile(service: Service, body: dict[str, Any]) -> None:
        if asked:
            return
        other = pool.submit(service, body)
        asked.append(other)
        with field.ledger.database.engine.connect() as connection:
            look = connection.execution_options(isolation_level="AUTOCOMMIT")
            until(lambda: other.done() or look.execute(_WAITS).scalar())

    if between == "the entry":
        append = log.append

        def slowly(*told: Any) -> Any:
            meanwhile(services[1], slip)
            return append(*told)

        monkeypatch.setattr(log, "append", slowly)
        answers = [services[0](entry), asked[0].result()]
    else:
        contradicts = kept_evidence._contradicts

        def looked(*told: Any) -> bool:
            found = contradicts(*told)
            meanwhile(services[0], entry)
            return found

        monkeypatch.setattr(kept_evidence, "_contradicts", looked)
        refused = services[1](slip)
        answers = [asked[0].result(), refused]
    pool.shutdown()
    assert [each.status_code for each in answers] == [201, 403]
    assert "CU-10" in findings(judged(field, form))
