"""Keys that follow keys, before the real service: what it takes, what it refuses, and what an auditor reads
afterwards.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.ledger.checkpoint import parse_vkey
from bailee.operations import maintenance
from bailee.signing import key_proof
from bailee.signing.keys import SigningKey, jwk_of, thumbprint
from bailee.verify import bundle
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from field import FIRM, LAB, ORIGIN, Device, Field
from grounds import on_any

pytestmark = on_any  # all that these ask of a database, others ask of PostgreSQL

HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}
WEAK = jwk_of(bytes([1]) + bytes(31))
"""The identity point: a canonical encoding outside the prime-order subgroup's generators (RFC 8032 5.1.7,
C2SP CCTV ed25519)."""


def of(device: Device, **changes: Any) -> dict[str, Any]:
    """What a key brings to be heard."""
    proof = key_proof.issue(device.key, device.org, ORIGIN, 1)
    return {"kid": device.key.kid, "jwk": device.key.jwk, "proof": proof, **changes}


def recoverable(make_field: Any) -> tuple[Field, Device]:
    """A firm founded with a recovery key."""
    field: Field = make_field(start=False)
    safe = field.device("safe", FIRM)
    for org, root in field.roots.items():
        data = {"name": org, "jwk": root.key.jwk, "recovery": safe.key.kid if org == FIRM else None}
        field.ok(field.send(root.sign(f"org/{org}", "founded", data)), root)
    field.people["inspector"] = field.device("inspector", FIRM)
    field.enroll(field.people["inspector"], "inspector")
    return field, safe


def checked(field: Field, form: str, who: str = "inspector") -> Report:
    """What an auditor finds who knows the two roots from long ago."""
    text = field.get(who, f"/forms/{form}/bundle").text
    trust = Trust({org: root.key.kid for org, root in field.roots.items()}, (parse_vkey(field.ledger.vkey),))
    return verify(bundle.read(text), trust, field.ledger.now())


def test_after_recovery_the_auditor_still_comes_from_the_old_root(make_field: Any) -> None:
    """Everything signed after the fire would hang on a key that nobody outside knows."""
    field, safe = recoverable(make_field)
    form = field.open_form()
    new = field.device("new root", FIRM)
    lost = [{"kid": field.roots[FIRM].key.kid, "last_good_seq": field.roots[FIRM].seq}]
    data = of(new, recovery_jwk=safe.key.jwk, since="2026-12-01T09:00:00-05:00", lost=lost)
    field.ok(field.send(safe.sign(f"org/{FIRM}", "recovered", data)), safe)
    old_root, field.roots[FIRM] = field.roots[FIRM], new
    field.people["clerk"] = field.device("clerk", FIRM)
    field.enroll(field.people["clerk"], "clerk")
    field.act("clerk", f"form/{form}", "held", HELD)
    refused = field.send(old_root.sign(f"org/{FIRM}", "policy_set", {"policy": {"edition": 1}}))
    assert refused.get_json()["code"] == "revoked-key"

    field.roots[FIRM] = old_root  # what the auditor knows
    report = checked(field, form)
    assert report.faults == ()
    assert {
        (each.role, each.revoked is None)
        for each in report.signers
        if each.org == FIRM and each.role == "root"
    } == {
        ("root", True),
        ("root", False),
    }
    with field.ledger.database.reading() as connection:
        assert list(maintenance.check(connection, parse_vkey(field.ledger.vkey))) == []


@pytest.mark.parametrize("fault", ["other key", "wrong jwk", "weak root", "no proof", "weak recovery"])
def test_a_recovery_that_is_not_one_is_refused(make_field: Any, fault: str) -> None:
    """Anybody could take over an organization whose recovery key he does not have, or bring in a key that
    verifiers disagree about.
    """
    field, safe = recoverable(make_field)
    thief, new = field.device("thief", FIRM), field.device("new root", FIRM)
    data = of(new, recovery_jwk=safe.key.jwk, since="2026-12-01T09:00:00-05:00")
    by, code = safe, {"unknown-key", "wrong-key-name", "weak-key", "bad-key-proof"}
    if fault == "other key":
        by, data = thief, {**data, "recovery_jwk": thief.key.jwk}
    elif fault == "wrong jwk":
        data = {**data, "recovery_jwk": thief.key.jwk}
    elif fault == "weak root":
        data = {**data, "jwk": WEAK, "kid": thumbprint(WEAK)}
    elif fault == "no proof":
        data = {**data, "proof": key_proof.issue(thief.key, FIRM, ORIGIN, 1)}
    else:
        data = {**data, "recovery_jwk": WEAK}
    answer = field.send(by.sign(f"org/{FIRM}", "recovered", data))
    assert answer.status_code in (403, 422)
    assert answer.get_json()["code"] in code
    assert field.head(f"org/{FIRM}")[0] == 2


def test_a_rotated_key_and_its_successor_are_read_as_one_person(field: Field) -> None:
    """The custody record would show a hand-over that never was."""
    form, old = field.open_form(), field.people["inspector"]
    field.act("inspector", f"form/{form}", "held", HELD)
    new = field.device("inspector two", FIRM)
    data = of(new, last_seq=old.seq + 1)
    field.ok(field.send(old.sign(f"org/{FIRM}", "rotated", data)), old)
    field.people["inspector"] = new
    field.act("inspector", f"form/{form}", "held", HELD)
    assert field.send(old.sign(f"form/{form}", "held", HELD)).get_json()["code"] == "revoked-key"
    report = checked(field, form)
    assert (report.faults, report.remarks) == ((), ())
    assert {each.person for each in report.signers if each.role == "inspector"} == {"Inspector Person"}


@pytest.mark.parametrize("fault", ["weak", "no proof", "taken"])
def test_a_rotation_to_a_bad_key_is_refused(field: Field, fault: str) -> None:
    """Somebody could give his role to a key that is not in anybody's hands, or step into another's place."""
    old, new = field.people["inspector"], field.device("inspector two", FIRM)
    data = of(new, last_seq=99)
    if fault == "weak":
        data = {**data, "jwk": WEAK, "kid": thumbprint(WEAK)}
    elif fault == "no proof":
        data = {**data, "proof": key_proof.issue(SigningKey.generate(), FIRM, ORIGIN, 1)}
    else:
        data = of(field.people["quality"], last_seq=99)
    answer = field.send(old.sign(f"org/{FIRM}", "rotated", data))
    assert answer.get_json()["code"] in ("weak-key", "bad-key-proof", "key-taken")
    told = {each["kid"]: each for each in field.get("quality", f"/organizations/{FIRM}").get_json()["keys"]}
    assert not told[old.key.kid]["revoked"]
    assert told[field.people["quality"].key.kid]["role"] == "quality"


def test_an_endorsement_by_somebody_without_that_right_is_refused(field: Field) -> None:
    """A clerk could lend a stranger the firm's good name."""
    signed = field.people["clerk"].sign(f"org/{FIRM}", "endorsed", {"org": LAB, "root": "A" * 43})
    assert field.send(signed).get_json()["code"] == "wrong-role"
    root = field.roots[FIRM]
    field.ok(field.send(root.sign(f"org/{FIRM}", "endorsed", {"org": LAB, "root": "A" * 43})), root)
    report = checked(
        field, field.faultless()[0]
    )  # of a laboratory that has not spoken the file holds nothing
    assert [(each.by, each.org, each.fits, each.pinned) for each in report.endorsements] == [
        (FIRM, LAB, False, True)
    ]
    from bailee.verify.report_text import render_text

    assert f"{LAB}: {FIRM} endorsed another root of it" in render_text(report)
