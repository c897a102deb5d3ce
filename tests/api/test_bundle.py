"""The auditor's file as the service gives it, verified with nothing but itself and what
the auditor brought.
"""

from __future__ import annotations

import json

from bailee.ledger.checkpoint import parse_vkey
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
from field import FIRM, LAB, Field, Visited
from grounds import on_any

pytestmark = on_any  # all that these ask of a database, others ask of PostgreSQL


def trust(field: Field) -> Trust:
    """Root keys and log key, as they stand on a contract."""
    return Trust({org: root.key.kid for org, root in field.roots.items()}, (parse_vkey(field.ledger.vkey),))


def test_the_file_of_a_faultless_form_holds(visited: Visited) -> None:
    """If the service's own file did not verify, no dispute could be won with it."""
    field, (form, _, samples, _) = visited
    text = field.get("dock", f"/forms/{form}/bundle").text
    report = verify(bundle.read(text), trust(field), field.ledger.now())
    assert report.faults == ()
    assert report.state != "broken"
    assert {account.number for account in report.samples} == set(samples)
    assert {verdict.area: verdict.state for verdict in report.verdicts}["comparison"] == "no fault found"


def test_findings_of_verifier_and_service_agree(visited: Visited) -> None:
    """One fold and one rule book: the auditor must read what the clerk read."""
    field, (form, _, _, _) = visited
    text = field.get("dock", f"/forms/{form}/bundle").text
    report = verify(bundle.read(text), trust(field), field.ledger.now())
    told = field.get("dock", f"/forms/{form}").get_json()
    assert [(f.rule, f.severity, f.about) for f in report.findings] == [
        (f["rule"], f["severity"], f["about"]) for f in told["findings"]
    ]


def test_a_root_the_auditor_does_not_know_is_said(visited: Visited) -> None:
    """The file's own claim about roots must never be believed."""
    field, (form, _, _, _) = visited
    text = field.get("dock", f"/forms/{form}/bundle").text
    assert json.loads(text)["roots"] == {FIRM: field.roots[FIRM].key.kid, LAB: field.roots[LAB].key.kid}
    wrong = Trust({FIRM: "A" * 43, LAB: field.roots[LAB].key.kid}, trust(field).log_keys)
    assert verify(bundle.read(text), wrong, field.ledger.now()).state == "not under your keys"
