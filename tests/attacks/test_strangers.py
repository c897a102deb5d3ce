"""Keys of others: an organization that is no party, and a thief whose key has ended, change nothing of a
form.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import sqlalchemy as sa
from operator_hands import Fields, exported, findings, judged, trust
from promises import promised

from bailee.store import schema
from bailee.verify import bundle
from bailee.verify.verifier import verify
from field import FIRM, Device, Field

pytestmark = pytest.mark.slow
STRANGER = "third-firm"
HELD = {"secured": "locked", "where": "office", "since": "2026-12-01T09:30:00-05:00"}


@pytest.fixture
def field(make_field: Fields) -> Field:
    """A firm, its laboratory, and a ledger others use too."""
    return make_field()


def stranger(field: Field) -> Device:
    """The root key of an organization that has nothing to do with the firm."""
    root = field.device("third root", STRANGER)
    data = {"name": "Third Firm", "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign(f"org/{STRANGER}", "founded", data)), root)
    return root


def kept(field: Field) -> list[bool]:
    """Of each refused statement that was kept: whether its key had ended."""
    with field.ledger.database.reading() as connection:
        return list(connection.execute(sa.select(schema.conflict.c.late)).scalars())


def revoke(field: Field, device: Device) -> None:
    """The administrator ends a key with the last count its owner vouches for."""
    root = field.roots[FIRM]
    since = field.ledger.now().text()
    data = {"kid": device.key.kid, "reason": "lost", "since": since, "last_good_seq": device.seq}
    field.ok(field.send(root.sign(f"org/{FIRM}", "revoked", data)), root)


def test_a_stranger_signs_twice_about_a_form(field: Field) -> None:
    """Two requests of an organization that is no party would make a finished visit's file "broken"."""
    promised("that is no party of a form", "neither kept nor shown")
    form = field.open_form()
    field.act("inspector", f"form/{form}", "held", HELD)
    before, seen = judged(field, form), field.get("clerk", f"/forms/{form}").get_json()["findings"]
    root = stranger(field)
    twin = replace(root, heads={})
    licenses = {"jurisdictions": []}
    field.ok(field.send(root.sign(f"org/{STRANGER}", "licensing_set", licenses)), root)
    answer = field.send(twin.sign(f"form/{form}", "held", HELD, after=None))
    assert (answer.status_code, answer.get_json()["code"]) == (409, "device-fork")
    assert kept(field) == []
    after = judged(field, form)
    assert (after.state, after.faults, after.remarks) == (before.state, (), ())
    assert findings(after) == findings(before)
    assert field.get("clerk", f"/forms/{form}").get_json()["findings"] == seen


def test_a_pair_of_a_stranger_is_not_checked(field: Field) -> None:
    """Whoever passes a file on could make it "broken" with two texts of a key that nothing in it leads to."""
    form = field.open_form()
    root = stranger(field)
    twin = replace(root, heads={})
    pair = tuple(each.sign(f"form/{form}", "held", {**HELD, "where": where}, after=None)["statement"]
                 for each, where in ((root, "office"), (twin, "home")))  # fmt: skip
    told = replace(bundle.read(exported(field, form)), conflicts=(pair,))
    report = verify(told, trust(field), field.ledger.now())
    assert (report.faults, report.remarks) == ((), ())
    assert "CU-10" not in findings(report)
    assert [each.code for each in report.not_checked if STRANGER in each.sentence] == ["conflicts"]


def test_a_thief_after_the_end_accuses_nothing(field: Field) -> None:
    """With a revoked key from the flea market somebody would flag every visit that its owner ever made."""
    promised("after the end of a key was recorded", "no finding on any form")
    form = field.open_form()
    owner = field.people["inspector"]
    thief = replace(owner, heads=dict(owner.heads))
    field.act("inspector", f"form/{form}", "held", HELD)
    revoke(field, owner)
    before, seen = judged(field, form), field.get("clerk", f"/forms/{form}").get_json()["findings"]
    again = replace(thief, heads=dict(thief.heads))
    twice = field.send(again.sign(f"form/{form}", "held", {**HELD, "where": "home"}))
    assert twice.get_json()["code"] == "device-fork"
    beyond = replace(owner, heads=dict(owner.heads))
    assert field.send(beyond.sign(f"form/{form}", "held", HELD)).get_json()["code"] == "revoked-key"
    assert kept(field) == [True, True]
    told = field.get("clerk", "/contradictions").get_json()["contradictions"]
    assert sorted(each["seq"] for each in told) == [owner.seq, owner.seq + 1]
    assert {(each["after_end"], each["kid"]) for each in told} == {(True, owner.key.kid)}
    rest = field.get("clerk", f"/contradictions?limit=1&before={told[0]['digest']}").get_json()[
        "contradictions"
    ]
    assert rest == told[1:]
    assert field.get("dock", "/contradictions").get_json() == {"contradictions": []}
    assert "conflicts" not in exported(field, form).decode().split('"entries"')[0]
    after = judged(field, form)
    assert (after.state, after.faults, after.remarks) == (before.state, (), before.remarks)
    assert findings(after) == findings(before)
    assert field.get("clerk", f"/forms/{form}").get_json()["findings"] == seen


def test_a_contradiction_from_before_the_end_is_still_told(field: Field) -> None:
    """Ending a key would wipe out the proof that it was in two places."""
    form = field.open_form()
    owner = field.people["inspector"]
    thief = replace(owner, heads=dict(owner.heads))
    field.act("inspector", f"form/{form}", "held", HELD)
    assert field.send(thief.sign(f"form/{form}", "held", {**HELD, "where": "home"})).status_code == 409
    revoke(field, owner)
    assert kept(field) == [False]
    assert "CU-10" in {each["rule"] for each in field.get("clerk", f"/forms/{form}").get_json()["findings"]}
    report = judged(field, form)
    assert (report.faults, report.remarks) == ((), ())
    said = [each.sentence for each in report.not_checked if each.code == "conflicts"]
    assert any(owner.key.kid[:8] in each for each in said)


def test_a_thief_learns_no_number_with_a_key_that_has_ended(field: Field) -> None:
    """With a revoked key and a form's number from a rubbish bin somebody would find out whose
    visit it was.
    """
    form, elsewhere = field.open_form(), field.number("form")
    owner = field.people["inspector"]
    revoke(field, owner)
    answers = [
        field.send(replace(owner, heads={}).sign(f"form/{number}", "held", HELD)).get_json()
        for number in (form, elsewhere)
    ]
    assert {each["code"] for each in answers} == {"revoked-key"}
    assert len({each["detail"] for each in answers}) == 1


def test_whoever_does_not_hold_a_key_does_not_learn_whose_it_is(field: Field) -> None:
    """Whoever read a key's name on a paper record would ask the service for which firms it signs."""
    form = field.open_form()
    owner, other = field.people["inspector"], field.device("nobody", FIRM)
    told = []
    for kid_of in (owner, other):
        head, _, _ = kid_of.sign(f"form/{form}", "held", HELD)["statement"].rpartition(".")
        junk = {"statement": f"{head}.{'A' * 86}", "disclosures": []}
        answer = field.send(junk)
        told.append((answer.status_code, answer.get_json()["detail"].replace(kid_of.key.kid[:8], "KID")))
    assert told[0] == told[1]


def test_whoever_opens_what_others_have_begun_learns_of_it_no_sooner_than_by_taking_it(field: Field) -> None:
    """A lot's number could be tried in silence, with a statement that is refused whether or not there is such
    a lot.
    """
    lot, _ = field.lot(1)
    root = stranger(field)
    data = {"maker": "x", "maker_lot": "x", "count": 1, "expiry": "2027-03-31", "received": "2026-03-03"}
    told = []
    for number in (lot, field.number("lot")):
        signed = replace(root, heads=dict(root.heads)).sign(
            f"lot/{number}", "lot_received", data, after="A" * 43
        )
        answer = field.send(signed).get_json()
        told.append((answer["code"], answer["detail"]))
    assert told[0] == told[1]
