"""A number that a refused statement has used up: explained by that text itself, and by nobody's word."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from bailee.errors import Forged
from bailee.ledger.checkpoint import parse_vkey
from bailee.signing import points, refused, signed_statement
from bailee.store import log, refused_table, schema
from bailee.verify import bundle
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from domain.test_statements import LEAST
from field import FIRM, Device, Field

sys.path.append(str(Path(__file__).parents[1] / "verify"))
import outsider

TRAINED = {"kid": "A" * 43, "on": "2025-03-03", "valid_to": None}
OTHERS = {**TRAINED, "on": "2025-03-04"}
HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


def missing(field: Field, form: str) -> list[tuple[str, str]]:
    """What CU-10 says of a form."""
    told = field.get("clerk", f"/forms/{form}").get_json()
    return [(each["severity"], each["sentence"]) for each in told["findings"] if each["rule"] == "CU-10"]


def refuse(field: Field, device: Device) -> dict[str, Any]:
    """An inspector enters somebody's training, which an inspector may not."""
    data = {"kid": device.key.kid, "on": "2025-03-03", "valid_to": None}
    sent = device.sign(f"org/{FIRM}", "trained", data)
    assert field.send(sent).get_json()["code"] == "wrong-role"
    return sent


def told(field: Field, form: str) -> dict[str, Any]:
    """The members of the auditor's file."""
    members: dict[str, Any] = json.loads(field.get("clerk", f"/forms/{form}/bundle").text)
    return members


def checked(field: Field, members: dict[str, Any]) -> Report:
    """What an auditor finds; a stranger with the page of formats finds the same."""
    roots = {org: root.key.kid for org, root in field.roots.items()}
    text = json.dumps(members)
    report = verify(bundle.read(text), Trust(roots, (parse_vkey(field.ledger.vkey),)), field.ledger.now())
    asked = {
        "roots": [f"{org}={kid}" for org, kid in roots.items()],
        "policy": "",
        "log_keys": [field.ledger.vkey],
    }
    state, step, remarks = outsider.judge(text.encode(), asked)
    assert (state == "broken") == bool(report.faults)
    if report.faults:
        assert step == report.faults[0].step
    else:
        assert remarks == {each.code for each in report.remarks}
    return report


def spoken_after(field: Field) -> tuple[str, Device]:
    """A form, and the device that went on speaking on it after its refusal."""
    form, inspector = field.open_form(), field.people["inspector"]
    refuse(field, inspector)
    field.act("inspector", f"form/{form}", "held", HELD)
    return form, inspector


def test_an_administrative_slip_that_was_refused_flags_no_form(field: Field) -> None:
    """One wrong command cost every form of the inspector a flag for ever, and the ledger had the text."""
    form, inspector = spoken_after(field)
    assert missing(field, form) == []
    members = told(field, form)
    assert [signed_statement.read(text).kid for text in members["refused"]] == [inspector.key.kid]
    report = checked(field, members)
    assert report.faults == ()
    assert "refused" in {each.code for each in report.remarks}
    assert "counters" not in {each.code for each in report.not_checked}
    without = checked(field, {name: value for name, value in members.items() if name != "refused"})
    assert without.faults == ()
    assert "counters" in {each.code for each in without.not_checked}


def test_what_was_never_recorded_and_never_refused_is_flagged_as_before(field: Field) -> None:
    """A lost statement may be the hand-over everybody looks for."""
    form, inspector = field.open_form(), field.people["inspector"]
    inspector.sign(f"form/{form}", "held", HELD)
    field.act("inspector", f"form/{form}", "held", HELD)
    assert [severity for severity, _ in missing(field, form)] == ["flag"]


@pytest.mark.parametrize("word", ["other key", "other number", "of a sample", "may be said"])
def test_the_ledger_s_word_alone_explains_nothing(field: Field, word: str) -> None:
    """Whoever drops a statement could call it a refused slip: of the text kept in its place nothing is
    believed that it does not show by itself.
    """
    form, inspector, clerk = field.open_form(), field.people["inspector"], field.people["clerk"]
    seq, prev = inspector.seq + 1, inspector.prev
    training = {"kid": inspector.key.kid, "on": "2025-03-03", "valid_to": None}
    if word == "of a sample":
        text = inspector.sign(f"form/{form}", "held", HELD)["statement"]
    else:
        dropped = inspector.sign(f"form/{form}", "held", HELD)["statement"]
        liar = Device("liar", FIRM, inspector.key, field.clock, seq - 1, prev)
        if word == "other key":
            liar.key = clerk.key
        if word == "other number":
            liar.seq += 7
        act, data = ("trained", training) if word != "may be said" else ("rotated", {})
        text = liar.sign(f"org/{FIRM}", act, data)["statement"]
        assert text != dropped
    with field.ledger.database.engine.begin() as connection:
        row = {"kid": inspector.key.kid, "digest": signed_statement.digest(text), "seq": seq}
        connection.execute(schema.refused.insert().values(**row, text=text, rec="2026-12-01T00:00:00.000Z"))
    field.act("inspector", f"form/{form}", "held", HELD)
    twice = word == "may be said"  # the key signed this text and the one that was dropped
    assert [severity for severity, _ in missing(field, form)] == ["flag"] * (1 + twice)
    members = told(field, form)
    assert "refused" not in members
    report = checked(field, {**members, "refused": [text]})
    if word in ("other key", "other number"):  # true of another number, and of no help to this one
        assert "counters" in {each.code for each in report.not_checked}
    else:
        assert {each.code for each in report.faults} == {"no-refusal"}


def test_many_refused_slips_hide_no_number_that_is_missing(
    field: Field, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody makes a hundred slips, each explained, and the hand-over dropped after them is on no list."""
    monkeypatch.setattr(log, "MOST_GAPS", 2)
    monkeypatch.setattr(refused_table, "MOST", 3)
    form, inspector = spoken_after(field)
    for _ in range(2):
        refuse(field, inspector)
        field.act("inspector", f"form/{form}", "held", HELD)
    assert missing(field, form) == []
    inspector.sign(f"form/{form}", "held", HELD)
    field.act("inspector", f"form/{form}", "held", HELD)
    assert [severity for severity, _ in missing(field, form)] == ["flag"]
    asked = field.get("clerk", f"/forms/{form}").get_json()["at"]
    then = field.get("clerk", f"/forms/{form}?as_of={quote(asked)}").get_json()
    assert "CU-10" in {each["rule"] for each in then["findings"]}
    assert len(told(field, form)["refused"]) == 3


def test_a_refused_text_that_was_altered_or_does_not_fit_breaks_the_file(field: Field) -> None:
    """Somebody puts another slip of the same person into the gap."""
    form, inspector = spoken_after(field)
    members = told(field, form)
    (text,) = members["refused"]
    altered = f"{text[:-4]}{'A' if text[-4] != 'A' else 'B'}{text[-3:]}"
    assert [each.code for each in checked(field, {**members, "refused": [altered]}).faults] == ["no-refusal"]
    liar = Device("liar", FIRM, inspector.key, field.clock, inspector.seq - 2, "A" * 43)
    other = refuse(field, liar)["statement"]
    assert "device-fork" in {each.code for each in checked(field, {**members, "refused": [other]}).faults}
    early = {"rec": "2026-01-01T00:00:00.000Z"}
    with field.ledger.database.engine.begin() as connection:
        connection.execute(schema.refused.update().where(schema.refused.c.text == other).values(**early))
    members = told(field, form)
    assert members["refused"] == [text], "the slip that fits, whichever came first"
    assert [pair[1] for pair in members["conflicts"]] == [other]
    assert_two_places(field, form)


def assert_two_places(field: Field, form: str) -> None:
    """CU-10 flags the form, and an auditor finds the same by the file alone."""
    ((severity, sentence),) = missing(field, form)
    assert (severity, "a copied key or a restored backup" in sentence) == ("flag", True)
    report = checked(field, told(field, form))
    assert report.faults == ()
    assert "conflict" in {each.code for each in report.remarks}
    assert sentence in {each.sentence for each in report.findings}


@pytest.mark.parametrize("first", ["slip", "entry"])
def test_a_slip_and_an_entry_under_one_number_are_told_and_proven_in_either_order(
    field: Field, first: str
) -> None:
    """Whoever copied a key would show an act that is refused by its role, and no form would be flagged."""
    form, inspector = field.open_form(), field.people["inspector"]
    thief = replace(inspector, heads=dict(inspector.heads))
    slip = thief.sign(f"org/{FIRM}", "trained", TRAINED)
    if first == "slip":
        assert field.send(slip).get_json()["code"] == "wrong-role"
    field.act("inspector", f"form/{form}", "held", HELD)
    if first == "entry":
        assert field.send(slip).get_json()["code"] == "device-fork"
    assert_two_places(field, form)
    members = told(field, form)
    assert [pair[1] for pair in members["conflicts"]] == [slip["statement"]]
    assert "refused" not in members
    listed = field.get("inspector", "/contradictions").get_json()["contradictions"]
    assert [each["statement"] for each in listed] == [slip["statement"]]
    field.act("inspector", f"form/{form}", "held", HELD)
    assert_two_places(field, form)


def test_the_first_number_of_a_key_is_looked_at_too(field: Field) -> None:
    """A new phone is copied before it signed anything, and its first entry hides what the copy had sent."""
    form, phone = field.open_form(), field.device("new phone", FIRM)
    field.enroll(phone, "inspector")
    refuse(field, replace(phone))
    field.ok(field.send(phone.sign(f"form/{form}", "held", HELD)), phone)
    assert_two_places(field, form)


def test_an_entry_that_goes_on_from_elsewhere_than_a_slip_is_told(field: Field) -> None:
    """The copy goes on from another statement than the one refused, and the number between was explained."""
    form, inspector = field.open_form(), field.people["inspector"]
    thief = replace(inspector, heads=dict(inspector.heads))
    thief.sign(f"form/{form}", "held", HELD)  # never sent
    slip = refuse(field, inspector)["statement"]
    field.ok(field.send(thief.sign(f"form/{form}", "held", HELD)), thief)
    assert [pair[1] for pair in told(field, form)["conflicts"]] == [slip]
    assert [severity for severity, _ in missing(field, form)] == ["flag", "flag"]


@pytest.mark.parametrize("after", [0, 1])
def test_two_slips_under_one_number_are_told(field: Field, after: int) -> None:
    """Only slips of the copy were refused, and the next one hid from which of them the person went on."""
    form, inspector = field.open_form(), field.people["inspector"]
    field.act("inspector", f"form/{form}", "held", HELD)
    thief = replace(inspector, heads=dict(inspector.heads))
    refuse(field, inspector)
    for _ in range(after):
        refuse(field, inspector)
        field.act("inspector", f"form/{form}", "held", HELD)
    assert missing(field, form) == []
    assert field.send(thief.sign(f"org/{FIRM}", "trained", OTHERS)).get_json()["code"] == "wrong-role"
    ((severity, sentence),) = missing(field, form)
    assert (severity, "a copied key or a restored backup" in sentence) == ("flag", True)
    assert checked(field, told(field, form)).faults == ()


def test_what_was_refused_of_one_key_flags_no_other(field: Field) -> None:
    """A colleague's slip with the same number threw doubt on everybody of the firm."""
    form = field.open_form()
    refuse(field, field.people["inspector"])
    second = field.people["second"]
    while second.seq < field.people["inspector"].seq + 1:
        field.act("second", f"form/{form}", "held", HELD)
    assert missing(field, form) == []


def test_a_slip_of_a_key_that_has_ended_flags_nothing(field: Field) -> None:
    """Whoever found a lost phone could throw doubt on all that its owner had signed."""
    form, inspector = spoken_after(field)
    thief = replace(inspector, seq=inspector.seq - 1)
    ended = {
        "kid": inspector.key.kid,
        "reason": "lost",
        "since": "2026-12-01T09:00:00-05:00",
        "last_good_seq": inspector.seq,
    }
    root = field.roots[FIRM]
    field.ok(field.send(root.sign(f"org/{FIRM}", "revoked", ended)), root)
    answer = field.send(thief.sign(f"org/{FIRM}", "trained", TRAINED))
    assert answer.get_json()["code"] == "device-fork"
    assert "conflicts" not in told(field, form)
    assert missing(field, form) == []


def test_a_key_that_was_found_strong_is_not_asked_again_for_every_slip(
    field: Field, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two hundred slips of one phone made each look at any of its forms take twice as long."""
    form, _ = spoken_after(field)
    asked: list[bytes] = []
    monkeypatch.setattr(points, "refuse_weak", asked.append)
    assert missing(field, form) == []
    assert asked == []


def test_a_recovery_is_never_called_a_refusal_by_the_role_of_its_key(field: Field) -> None:
    """A recovery key that is also enrolled, as an inspector: whoever drops its recovery from the file would
    show it as an inspector's slip.
    """
    inspector = field.people["inspector"]
    with field.ledger.database.reading() as connection:
        organization = field.ledger.books.organization(connection, FIRM)
    assert organization
    data = {**LEAST["recovered"], "recovery_jwk": inspector.key.jwk}
    text = inspector.sign(f"org/{FIRM}", "recovered", data)["statement"]
    for recovery in (inspector.key.kid, None):
        with pytest.raises(Forged) as refusal:
            refused.read(text, field.ledger.settings.origin, replace(organization, recovery=recovery))
        assert refusal.value.code == "no-refusal"


def test_a_founding_that_came_before_its_admission_explains_the_first_number(field: Field) -> None:
    """The root key of a new firm begins its count at two; sent again, the first text says why."""
    root = field.roots[FIRM]
    assert root.seq  # it founded this organization
    again = {"name": "Harrow Field", "jwk": root.key.jwk, "recovery": None}
    sent = root.sign(f"org/{FIRM}", "founded", again)
    assert field.send(sent).get_json()["code"] == "key-taken"
    form = field.open_form()
    field.ok(field.send(root.sign(f"org/{FIRM}", "licensing_set", {"jurisdictions": ["US-NY"]})), root)
    report = checked(field, told(field, form))
    assert report.faults == ()
    assert "refused" in {each.code for each in report.remarks}


def test_what_was_explained_later_was_missing_when_it_was_asked(field: Field) -> None:
    """The auditor noted a missing number, and the same question today says that there never was one."""
    form, inspector = field.open_form(), field.people["inspector"]
    slip = inspector.sign(
        f"org/{FIRM}", "trained", {"kid": inspector.key.kid, "on": "2025-03-03", "valid_to": None}
    )
    field.act("inspector", f"form/{form}", "held", HELD)
    assert [severity for severity, _ in missing(field, form)] == ["flag"]
    asked = field.get("clerk", f"/forms/{form}").get_json()["at"]
    field.clock.advance(minutes=5)
    assert field.send(slip).get_json()["code"] == "wrong-role"
    assert missing(field, form) == []
    then = field.get("clerk", f"/forms/{form}?as_of={quote(asked)}").get_json()
    assert "CU-10" in {each["rule"] for each in then["findings"]}


def test_a_form_that_was_finished_before_a_number_was_lost_is_not_flagged(field: Field) -> None:
    """Two years of decided samples turned doubtful whenever a phone lost one statement of another visit."""
    done, *_ = field.faultless()
    field.clock.advance(minutes=1)
    inspector = field.people["inspector"]
    other = field.open_form()
    inspector.sign(f"form/{other}", "held", HELD)
    field.act("inspector", f"form/{other}", "held", HELD)
    assert missing(field, done) == []
    assert [severity for severity, _ in missing(field, other)] == ["flag"]


def test_of_a_form_that_was_open_when_the_number_was_used_it_is_noted_once_it_is_finished(
    field: Field,
) -> None:
    """The lost statement may have been about this visit; that every sample was decided is said beside it."""
    done, *_ = field.faultless()
    field.clock.advance(minutes=1)
    inspector = field.people["inspector"]
    other = field.number("form")
    inspector.sign(f"form/{other}", "held", HELD)
    field.open_form()
    ((severity, sentence),) = missing(field, done)
    assert severity == "note"
    assert "Every sample of this form already had a decision when this was found." in sentence
