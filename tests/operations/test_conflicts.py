"""A key a copied key or a restored backup: what the log could not take is kept, shown and provable."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import permutations
from random import Random
from typing import Any

import pytest
import sqlalchemy as sa

from bailee.ledger.checkpoint import parse_vkey
from bailee.operations import export
from bailee.store import conflict_table, schema
from bailee.verify import bundle
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from field import FIRM, Device, Field
from thorough import often

HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


def clone(device: Device) -> Device:
    """A second phone made from a backup of the first."""
    return replace(device, heads=dict(device.heads))


def forked(field: Field) -> tuple[str, str]:
    """Two forms; on the second one a clone of the inspector's phone speaks under a counter used for the
    first.
    """
    one, other = field.open_form(), field.open_form()
    inspector = field.people["inspector"]
    thief = clone(inspector)
    field.ok(field.send(inspector.sign(f"form/{one}", "held", HELD)), inspector)
    answer = field.send(thief.sign(f"form/{other}", "held", {**HELD, "where": "office"}))
    assert answer.get_json()["code"] == "device-fork"
    return one, other


def checked(field: Field, form: str, change: Any = lambda members: members) -> Report:
    """What an auditor finds in the file of a form."""
    members = change(json.loads(field.get("clerk", f"/forms/{form}/bundle").text))
    trust = Trust({org: root.key.kid for org, root in field.roots.items()}, (parse_vkey(field.ledger.vkey),))
    return verify(bundle.read(json.dumps(members)), trust, field.ledger.now())


def test_both_forms_are_told_and_both_texts_are_in_both_files(field: Field) -> None:
    """The nicer of two statements would stand, and the owner of the phone could never show that it was
    copied.
    """
    for form in forked(field):
        (found,) = [
            each
            for each in field.get("clerk", f"/forms/{form}").get_json()["findings"]
            if each["rule"] == "CU-10"
        ]
        assert found["severity"] == "flag"
        assert "a copied key or a restored backup" in found["sentence"]
        report = checked(field, form)
        assert report.faults == ()
        assert [each.code for each in report.remarks if each.code == "conflict"] == ["conflict"]
        assert found["sentence"] in {each.sentence for each in report.findings}


def test_a_count_that_goes_on_from_elsewhere_is_evidence_too(field: Field) -> None:
    """A phone restored from yesterday's backup would only be told off, and nobody else would learn of it."""
    form = field.open_form()
    inspector = field.people["inspector"]
    thief = clone(inspector)
    field.ok(field.send(inspector.sign(f"form/{form}", "held", HELD)), inspector)
    thief.sign(f"form/{form}", "held", {**HELD, "where": "office"})  # never sent
    assert field.send(thief.sign(f"form/{form}", "held", HELD)).get_json()["code"] == "device-fork"
    report = checked(field, form)
    assert (report.faults, [each.code for each in report.remarks]) == ((), ["conflict"])


def test_no_party_makes_a_file_unreadable_by_contradicting_itself(
    field: Field, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two hundred are kept of each key: six keys of one party, and every verifier refuses the file of a form
    as too long.
    """
    form = field.open_form()
    for each in range(3):
        phone = field.device(f"phone {each}", FIRM)
        field.enroll(phone, "inspector")
        thief = clone(phone)
        field.ok(field.send(phone.sign(f"form/{form}", "held", HELD)), phone)
        field.send(thief.sign(f"form/{form}", "held", {**HELD, "where": "office"}))
    monkeypatch.setattr(bundle, "MAX_CONFLICTS", 2)
    monkeypatch.setattr(export, "MAX_CONFLICTS", 2)
    report = checked(field, form)
    assert (report.faults, [each.code for each in report.remarks]) == ((), ["conflict", "conflict"])


@pytest.mark.slow
def test_a_copied_phone_is_proven_in_whichever_order_its_statements_arrive(field: Field) -> None:
    """A refused statement shown beside its own follower proves nothing: the file of an honest operator would
    be called broken.
    """
    orders = list(permutations(("1", "1'", "2", "3")))
    for order in Random(7).sample(orders, often(5, thorough=len(orders))):
        form = field.open_form()
        phone = field.device(f"phone {' '.join(order)}", FIRM)
        field.enroll(phone, "inspector")
        thief = clone(phone)
        said = {count: phone.sign(f"form/{form}", "held", HELD, after=None) for count in ("1", "2", "3")}
        said["1'"] = thief.sign(f"form/{form}", "held", {**HELD, "where": "office"}, after=None)
        for each in order:
            field.send(said[each])
        report = checked(field, form)
        assert (report.faults, order) == ((), order)
        assert "conflict" in {each.code for each in report.remarks}, order
        assert "CU-10" in {each.rule for each in report.findings}, order


def test_a_statement_that_contradicts_no_other_breaks_no_file(field: Field) -> None:
    """Whoever has one key of a party could make every auditor's file of a form be called broken, for good."""
    form = field.open_form()
    odd = field.device("odd phone", FIRM)
    field.enroll(odd, "inspector")
    odd.prev = "A" * 43  # its first statement says that there was one before
    first, second = (odd.sign(f"form/{form}", "held", HELD, after=None) for _ in range(2))
    field.ok(field.send(second))
    assert field.send(first).get_json()["code"] == "device-fork"
    assert checked(field, form).faults == ()


def test_sending_it_again_keeps_it_once(field: Field) -> None:
    """A phone that tries every minute would fill the ledger with one contradiction."""
    form = field.open_form()
    inspector = field.people["inspector"]
    thief = clone(inspector)
    field.ok(field.send(inspector.sign(f"form/{form}", "held", HELD)), inspector)
    bad = thief.sign(f"form/{form}", "held", {**HELD, "where": "office"})
    for _ in range(3):
        assert field.send(bad).status_code == 409
    with field.ledger.database.reading() as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(schema.conflict)).scalar() == 1


def test_a_stolen_key_cannot_fill_the_disk(field: Field, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever has a key could store what he likes in a ledger that refuses it."""
    monkeypatch.setattr(conflict_table, "MOST", 2)
    form = field.open_form()
    inspector = field.people["inspector"]
    thief = clone(inspector)
    field.ok(field.send(inspector.sign(f"form/{form}", "held", HELD)), inspector)
    for where in ("office", "home", "other"):
        again = replace(thief)
        assert field.send(again.sign(f"form/{form}", "held", {**HELD, "where": where})).status_code == 409
    with field.ledger.database.reading() as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(schema.conflict)).scalar() == 2


def _own_words(members: dict[str, Any]) -> dict[str, Any]:
    (pair,) = members["conflicts"]
    return {**members, "conflicts": [[pair[0], pair[0]]]}


def _strangers(members: dict[str, Any]) -> dict[str, Any]:
    (pair,) = members["conflicts"]
    header, payload, signature = pair[1].split(".")
    return {**members, "conflicts": [[pair[0], f"{header}.{payload}.{signature[::-1]}"]]}


@pytest.mark.parametrize("change", [_own_words, _strangers])
def test_nobody_can_invent_a_contradiction(field: Field, change: Any) -> None:
    """An opponent could throw doubt on every statement of an honest inspector by writing a line into the
    file.
    """
    form, _ = forked(field)
    report = checked(field, form, change)
    assert "no-conflict" in {each.code for each in report.faults}
    assert "CU-10" not in {each.rule for each in report.findings}


def test_a_file_without_contradictions_is_written_as_before(field: Field) -> None:
    """Every older verifier would name an unknown member in every file."""
    form = field.open_form()
    assert "conflicts" not in json.loads(field.get("clerk", f"/forms/{form}/bundle").text)
