"""One piece of glass, two visits: the firm's ledger knows what no form of its own can."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.ledger import entry as entries
from bailee.operations import maintenance, snapshots
from bailee.signing import signed_statement
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
from field import FIRM, Field
from grounds import on_any

pytestmark = on_any  # all that these ask of a database, others ask of PostgreSQL

SERIAL = "K-0001"


def said(field: Field, form: str) -> list[tuple[str, str]]:
    """What CL-04 says of a form: how grave, and of which sample."""
    told = field.get("clerk", f"/forms/{form}").get_json()
    return [(each["severity"], each["about"]) for each in told["findings"] if each["rule"] == "CL-04"]


def twice(field: Field) -> tuple[str, str, list[str], Any]:
    """Two visits with one lot; the second collects the serial of the first.

    Forms, samples, and the first entry.
    """
    lot, samples = field.lot(4)
    first = field.open_form()
    entry = field.collect(first, lot, samples[0], serial=SERIAL)
    second = field.open_form()
    field.collect(second, lot, samples[1], serial=SERIAL)
    field.collect(second, lot, samples[2])
    field.collect(second, lot, samples[3], "outdoor")
    return first, second, samples, entry


def correct(field: Field, form: str, entry: Any, old: str, new: str) -> None:
    """The inspector corrects the serial of a cassette."""
    digest = signed_statement.digest(entries.read(entry["entry"]).stmt)
    data = {"statement": digest, "field": "serial", "old": old, "new": new, "reason": "misread"}
    field.act("inspector", f"form/{form}", "corrected", data)


def test_a_serial_of_another_visit_stops_the_envelope_until_somebody_corrects_it(field: Field) -> None:
    """The clerk seals the second visit and has never seen the first: only the whole ledger can stop one glass
    with two names.
    """
    first, second, samples, entry = twice(field)
    assert said(field, first) == [("block", samples[0])]
    assert said(field, second) == [("block", samples[1])]
    field.hand_to_clerk(second, samples[1:])
    envelope, seal = field.number("envelope"), field.number("seal")
    assert not field.seal(envelope, samples[1:], seal)["ready"]
    correct(field, first, entry, SERIAL, "K-0007")
    assert said(field, second) == []
    assert field.seal(envelope, samples[1:], seal)["ready"]


def test_a_serial_that_a_correction_brings_is_found_and_a_voided_cassette_is_not(field: Field) -> None:
    """What a person really meant counts, not what was typed first.

    And a label that was never used names no glass.
    """
    lot, samples = field.lot(3)
    first, second = field.open_form(), field.open_form()
    entry = field.collect(first, lot, samples[0], serial="K-0009")
    field.collect(second, lot, samples[1], serial=SERIAL)
    assert said(field, second) == []
    correct(field, first, entry, "K-0009", SERIAL)
    assert said(field, second) == [("block", samples[1])]
    field.ledger.database.write(maintenance.rebuild)
    assert said(field, second) == [("block", samples[1])]
    field.act("inspector", f"form/{first}", "voided", {"sample": samples[0], "reason": "other"})
    assert said(field, second) == []


def test_from_another_lot_it_is_noted_and_stops_nobody(field: Field) -> None:
    """Two makers both begin at 1: a firm that buys from both must not be stopped by its second box."""
    forms = []
    for _ in range(2):
        lot, samples = field.lot(1)
        forms.append(field.open_form())
        field.collect(forms[-1], lot, samples[0], serial=SERIAL)
    assert [severity for severity, _ in said(field, forms[1])] == ["note"]


def test_a_serial_on_very_many_forms_is_answered_all_the_same(
    field: Field, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody types "1" on every cassette for years: the question must stay as quick, and
    still be answered.
    """
    monkeypatch.setattr(snapshots, "MOST_ALIKE", 2)
    lot, samples = field.lot(4)
    for sample in samples:
        form = field.open_form()
        field.collect(form, lot, sample, serial=SERIAL)
    told = field.get("clerk", f"/forms/{form}").get_json()["findings"]
    (found,) = [each for each in told if each["rule"] == "CL-04"]
    assert found["severity"] == "block"
    assert found["about"] == samples[3]


def test_a_file_of_one_visit_says_that_it_cannot_know(field: Field) -> None:
    """An auditor with one file must not take silence for a search of the whole ledger."""
    _, second, _, _ = twice(field)
    file = bundle.read(field.get("quality", f"/forms/{second}/bundle").data)
    trust = Trust({org: root.key.kid for org, root in field.roots.items()}, ())
    report = verify(file, trust, field.ledger.now())
    assert FIRM in {each.org for each in report.signers}
    assert [each for each in report.findings if each.rule == "CL-04"] == []
    assert any("Other forms" in each and "serials" in each for each in report.verdicts[0].not_checked)
