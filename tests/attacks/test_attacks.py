"""Every attack the ledger promises an answer to, done to real parts: the database by SQL, the service
restarted, the auditor's file.

One test for each row of the threat table, in its order and under its name. The docstring says who attacks and
what an auditor must have to see it. Where nothing can be seen the test holds the program to saying so: in
README.md, in the report's text and JSON, and on the page.
"""

from __future__ import annotations

import html
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, timedelta
from http import HTTPStatus
from pathlib import Path
from typing import Any

import pytest
from operator_hands import (
    Fields,
    Row,
    edit,
    exported,
    faults,
    findings,
    judged,
    log_key,
    retell,
    slip_in,
    take_out,
    trust,
)
from promises import promised, untried

from bailee.cosigning import request
from bailee.cosigning.cosigner import Cosigner, Response
from bailee.domain import numbers
from bailee.domain.moments import Moment
from bailee.errors import Broken, Unavailable
from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u, unb64, unb64u
from bailee.ledger.checkpoint import format_vkey, parse, read_note
from bailee.signing import key_proof, notes
from bailee.signing.keys import SigningKey
from bailee.signing.signed_statement import Seen
from bailee.store import tree
from bailee.verify import bundle
from bailee.verify.disclaimer import LIMITS
from bailee.verify.mirror import Mirror
from bailee.verify.page import report_page
from bailee.verify.report_text import render_text
from bailee.verify.result import Report
from bailee.verify.verifier import verify
from field import FIRM, ORIGIN, Device, Field

pytestmark = pytest.mark.slow  # left out between two saves of a file

ROOT = Path(__file__).resolve().parents[2]
WATCHER = "quill.example/cosigner"
on_both = pytest.mark.parametrize(
    "ground", ["sqlite", pytest.param("postgresql", marks=pytest.mark.slow)], indirect=True
)
"""For attacks whose promise depends on the database."""
HELD = {"secured": "locked", "where": "office", "since": "2026-12-01T09:30:00-05:00"}
OPERATOR = SigningKey.from_seed(b"operator".ljust(32, b"."))

ROWS = (
    "edit_a_stored_event",
    "edit_the_recorded_time",
    "delete_insert_reorder",
    "insert_what_nobody_signed",
    "truncate_the_tail",
    "backdate",
    "backdate_by_the_operators_clock",
    "fork_or_split_view",
    "roll_the_database_back",
    "replay_into_another_form",
    "replay_into_another_installation",
    "replay_twice",
    "key_substitution",
    "enroll_a_rogue_device",
    "stolen_key_after_report",
    "stolen_key_before_report_or_cloned_state",
    "swap_of_labels_in_the_data",
    "physical_swap_false_place_or_pump_not_run",
    "one_actor_signs_for_another",
    "drop_a_statement_before_the_ledger",
    "hide_everything",
    "everybody_colludes",
)
"""The threat table."""


def test_every_row_of_the_threat_table_is_tried_in_its_order() -> None:
    """An attack that nobody tries any more would be promised away in silence."""
    own = [name.removeprefix("test_") for name in vars(sys.modules[__name__]) if name.startswith("test_")]
    assert tuple(own[2:]) == ROWS


def test_every_row_of_the_guide_is_tried() -> None:
    """A row of guides/attacks.md that no attack stands behind is a hope."""
    assert untried() == []


def stated(report: Report, code: str, words: str) -> None:
    """The verifier says of itself that this cannot be seen: in its text, in its JSON and on the page."""
    (said,) = [each.sentence for each in LIMITS if each.code == code]
    assert words in said
    assert f"  {said}\n" in render_text(report)
    assert {"code": code, "sentence": said} in report.to_json()["limits"]
    assert said in html.unescape(report_page.render(report))


def not_checked(report: Report) -> set[str]:
    """What this file lacks."""
    return {each.code for each in report.not_checked}


def claims_changed(old: bytes, new: bytes) -> Callable[[str], str]:
    """Changes bytes inside the signed claims of an entry's text, and leaves the signature."""

    def change(text: str) -> str:
        found = entries.read(text)
        header, payload, signature = found.stmt.split(".")
        claims = unb64u(payload)
        assert old in claims
        other = b64u(claims.replace(old, new))
        return entries.write(replace(found, stmt=f"{header}.{other}.{signature}"))

    return change


def seen_now(field: Field) -> Seen:
    """The newest tree head, as a phone with a network has checked it."""
    field.ledger.sequencer.integrate()
    with field.ledger.database.reading() as connection:
        size = tree.size(connection)
        return Seen(size, b64u(tree.root_at(connection, size) or b""))


def cosigner(field: Field, folder: Path) -> Cosigner:
    """The laboratory's cosigner, which follows this log."""
    return Cosigner(folder, WATCHER, SigningKey.from_seed(b"cosigner".ljust(32, b".")), [log_key(field)])


def cosign(field: Field, watcher: Cosigner, at: Any = None) -> Response:
    """The published checkpoint is brought to the cosigner, and its line, if it gives one, to the log."""
    field.ledger.sequencer.integrate()
    note = field.client.get("/checkpoint").text
    known = watcher.newest(ORIGIN)
    old, size = (parse(read_note(known).text).size if known else 0), parse(read_note(note).text).size
    path: list[bytes] = []
    if 0 < old < size:
        told = field.client.get(f"/proofs/consistency?first={old}&second={size}").get_json()
        path = [unb64(each) for each in told["proof"]]
    answer = watcher.add_checkpoint(
        request.write(min(old, size), path, note), int((at or field.clock()).timestamp())
    )
    if answer.status == HTTPStatus.OK:
        brought = field.client.post("/checkpoint/cosignatures", json={"note": note + answer.text})
        assert brought.status_code < 300, brought.text
    return answer


@pytest.fixture
def watched(make_field: Fields, tmp_path: Path) -> tuple[Field, Cosigner]:
    """A log with one cosigner, which comes by itself."""
    key = SigningKey.from_seed(b"cosigner".ljust(32, b"."))
    field = make_field(cosigners=(format_vkey(notes.cosigner_key(WATCHER, key)),))
    return field, cosigner(field, tmp_path / "cosigner")


def named(watcher: Cosigner) -> dict[str, Any]:
    """What the auditor brings to ask for that cosigner."""
    return {"quill": watcher.verifier}


def fetch(field: Field) -> Callable[[str], bytes]:
    """What a monitor gets at each path of the entry tiles."""
    return lambda path: (field.ledger.settings.entry_tiles / path).read_bytes()


@on_both
def test_edit_a_stored_event(make_field: Fields) -> None:
    """A database administrator edits a row, or the operator edits it and signs the log anew.

    Seen with the file alone.
    """
    promised("changes, inserts, reorders or removes an entry in the middle", "seen in any auditor's file")
    change = claims_changed(b'"room":"bedroom"', b'"room":"kitchen"')
    field = make_field()
    form, *_ = field.faultless()
    field.ledger.sequencer.integrate()
    edit(field, f"form/{form}", 2, change)
    assert faults(judged(field, form)) >= {(3, "inclusion-proof"), (6, "bad-signature")}

    def telling(told: list[Row]) -> list[Row]:
        return [
            (
                replace(each, entry=entries.read(change(entries.write(each.entry))))
                if b"bedroom" in _claims(each)
                else each
            )
            for each in told
        ]

    fresh = make_field()
    form, *_ = fresh.faultless()
    retell(fresh, telling)
    assert (6, "bad-signature") in faults(judged(fresh, form))


def _claims(row: Row) -> bytes:
    return unb64u(row.entry.stmt.split(".")[1])


@on_both
def test_edit_the_recorded_time(watched: tuple[Field, Cosigner]) -> None:
    """As above, with the newest entry, which nobody's device has seen yet.

    Seen with a file whose checkpoint is cosigned.
    """
    promised("changes, inserts, reorders or removes an entry in the middle")
    field, watcher = watched
    form, *_ = field.faultless()
    chain = f"form/{form}"
    assert cosign(field, watcher).status == HTTPStatus.OK
    assert judged(field, form, named(watcher)).state == "complete and cosigned"
    length, _ = field.head(chain)

    def later(told: list[Row]) -> list[Row]:
        return [
            (
                each.saying(rec=each.entry.rec.replace("T16:4", "T17:4"))
                if (each.entry.chain, each.entry.n) == (chain, length)
                else each
            )
            for each in told
        ]

    retell(field, later)
    assert cosign(field, watcher).status == HTTPStatus.CONFLICT
    alone, asked = judged(field, form), judged(field, form, named(watcher))
    assert (alone.entries[-1].recorded[11:14], alone.faults) == (
        "17:",
        (),
    )  # without a cosigner nothing shows it
    assert (asked.state, asked.cosigned) == ("intact, not cosigned", {})
    edit(field, chain, length, lambda text: text.replace('"rec":"2026-12-02T17', '"rec":"2026-12-02T18'))
    assert faults(judged(field, form)) == {
        (3, "inclusion-proof")
    }  # and without the log's key not even that helps


@on_both
@pytest.mark.parametrize("attack", ["row deleted", "deleted", "inserted", "reordered"])
def test_delete_insert_reorder(field: Field, attack: str) -> None:
    """An administrator deletes a row; an operator deletes, inserts or reorders and joins everything again.

    The file alone shows it.
    """
    promised("changes, inserts, reorders or removes an entry in the middle", "seen in any auditor's file")
    form, *_ = field.faultless()
    chain = f"form/{form}"
    field.ledger.sequencer.integrate()

    def at(told: list[Row], n: int) -> int:
        return next(i for i, each in enumerate(told) if (each.entry.chain, each.entry.n) == (chain, n))

    def deleted(told: list[Row]) -> list[Row]:
        return [each for each in told if (each.entry.chain, each.entry.n) != (chain, 5)]

    def inserted(told: list[Row]) -> list[Row]:
        place = at(told, 6)
        return [*told[:place], replace(told[at(told, 2)], row=None), *told[place:]]

    def reordered(told: list[Row]) -> list[Row]:
        first, second = at(told, 3), at(told, 4)
        swapped = list(told)
        swapped[first], swapped[second] = told[second], told[first]
        return swapped

    if attack == "row deleted":
        take_out(field, chain, 5)
        assert (4, "entry-missing") in faults(judged(field, form))
        return
    retell(field, {"deleted": deleted, "inserted": inserted, "reordered": reordered}[attack])
    want = {"deleted": "unknown-entry", "inserted": "statement-twice", "reordered": "unknown-entry"}[attack]
    assert (7, want) in faults(judged(field, form))


@on_both
def test_insert_what_nobody_signed(field: Field) -> None:
    """The operator invents a statement under the dock's key, or by a key nobody enrolled.

    Seen with the file alone.
    """
    promised("signs as another person without their key", "in a file: broken")
    form, *_ = field.faultless()
    chain = f"form/{form}"
    dock = replace(field.people["dock"])
    signing_input = dock.sign(chain, "held", HELD)["statement"].rpartition(".")[0]
    forged = f"{signing_input}.{b64u(OPERATOR.sign(signing_input.encode()))}"
    assert field.send({"statement": forged, "disclosures": []}).get_json()["code"] == "unknown-key"
    slip_in(field, chain, forged)
    assert faults(judged(field, form)) == {(6, "bad-signature")}
    invented = replace(dock, key=OPERATOR, seq=0, prev=None)
    own = invented.sign(chain, "held", HELD)
    assert field.send(own).get_json()["code"] == "unknown-key"
    slip_in(field, chain, own["statement"])
    assert faults(judged(field, form)) == {(6, "bad-signature"), (6, "unknown-key")}


@on_both
def test_truncate_the_tail(field: Field, tmp_path: Path) -> None:
    """Whoever passes the file on cuts its newest entry off: the log has signed where the chain ends.

    The operator takes it back, high-water file and all: not seen in the file alone, which says so; seen with
    the actor's receipt, by the next actor, or with a copy of the log.
    """
    promised("the operator cuts off the newest entries", "not seen in a file alone")
    promised("the one who passes a file on cuts off the newest entries", "broken")
    form, _, samples, _ = field.faultless()
    chain = f"form/{form}"
    decided = {"samples": samples, "at": _now(field), "reasons": ["other"]}
    receipt = field.act("lab-quality", chain, "rejected", decided)
    field.ledger.sequencer.integrate()
    mirror = Mirror(tmp_path / "mirror", log_key(field))
    mirror.round(field.client.get("/checkpoint").text, fetch(field))
    device = field.people["dock"]
    device.heads[chain] = receipt["leaf"]  # the next actor's phone has seen the rejection
    passed_on = bundle.read(exported(field, form))
    cut = replace(passed_on, entries=tuple(e for e in passed_on.entries if e.text != receipt["entry"]))
    assert faults(verify(cut, trust(field), Moment(field.clock().astimezone(UTC), 0))) == {
        (4, "entry-missing")
    }

    retell(
        field,
        lambda told: [each for each in told if (each.entry.chain, each.entry.n) != (chain, receipt["n"])],
    )
    report = judged(field, form)
    assert (report.state, report.faults) == ("intact, not cosigned", ())
    assert "tail" in not_checked(report)
    assert "the log signed that there was nothing more" in render_text(report)

    lie = notes.open_ends(bundle.read(exported(field, form)).ends, [log_key(field)])
    assert (
        lie.chains[chain].n == receipt["n"] - 1
    )  # signed by the log, and the actor holds its receipt for one more
    assert entries.link(receipt["entry"]) == receipt["leaf"]
    after = device.sign(chain, "held", HELD)
    assert field.send(after).get_json()["code"] == "unknown-entry"  # the service says itself what it lacks
    slip_in(field, chain, after["statement"])
    assert faults(judged(field, form)) == {(7, "unknown-entry")}
    other = Mirror(tmp_path / "mirror", log_key(field))
    with pytest.raises(Broken) as caught:
        other.round(field.client.get("/checkpoint").text, fetch(field))
    assert caught.value.code in ("rolled-back", "forked")


def _now(field: Field) -> str:
    return Moment(field.clock().astimezone(UTC), -360).text()


def test_backdate(field: Field) -> None:
    """An inspector signs at noon what is dated nine.

    Seen with the file alone, in the window of time and by a rule.
    """
    promised("dates something back", "an impossible time is flagged")
    form = field.open_form()
    field.clock.advance(hours=3)
    inspector = field.people["inspector"]
    field.act("second", f"form/{form}", "held", HELD)
    inspector.heads[f"form/{form}"] = field.head(f"form/{form}")[1]
    field.clock.advance(minutes=5)
    morning = Moment(field.clock().astimezone(UTC) - timedelta(hours=3), -300)
    signed = inspector.sign(f"form/{form}", "held", HELD, at=morning, seen=seen_now(field))
    field.ok(field.send(signed))  # a false time is recorded, never refused: it is evidence
    report = judged(field, form)
    line = report.entries[-1]
    assert line.not_before is not None
    claimed, earliest = Moment.parse(line.claimed), Moment.parse(line.not_before)
    assert earliest.instant - claimed.instant > timedelta(hours=2)
    assert line.recorded > line.not_before
    assert (report.faults, "CU-09" in findings(report)) == ((), True)


def test_backdate_by_the_operators_clock(watched: tuple[Field, Cosigner]) -> None:
    """The operator turns the service's clock back a day.

    Seen with a cosignature that is older than the entry should be; without one the report says that only the
    operator's clock speaks.
    """
    promised("the operator's clock lies", "otherwise not seen")
    field, watcher = watched
    field.open_form()
    true = field.clock()
    assert cosign(field, watcher, true).status == HTTPStatus.OK
    then = parse(read_note(watcher.newest(ORIGIN) or "").text)
    field.clock.now = true - timedelta(days=1)
    form = field.open_form()
    assert cosign(field, watcher, true + timedelta(hours=1)).status == HTTPStatus.OK
    report = judged(field, form, named(watcher))
    line = next(each for each in report.entries if each.chain == f"form/{form}")
    assert Moment.parse(line.recorded).instant < true - timedelta(hours=20)
    # Cosigned at the true time over a log that did not hold the entry yet: it cannot have been recorded the
    # day before.
    assert line.index >= then.size
    assert report.cosigned["quill"] - Moment.parse(line.recorded).epoch_seconds > 20 * 3600
    assert f"cosigned by quill at {true + timedelta(hours=1):%Y-%m-%d %H:%M}" in render_text(report)
    stated(judged(field, form), "clock", "where only the operator's clock shows it")


@on_both
def test_fork_or_split_view(make_field: Fields, watched: tuple[Field, Cosigner], tmp_path: Path) -> None:
    """The operator keeps two histories and shows each party its own.

    Seen when a cosigner is asked for, and by any two who compare.
    """
    promised("shows two people two different logs", "ask for cosigners")
    field, watcher = watched
    form, _, samples, _ = field.faultless()
    field.ledger.sequencer.integrate()
    second = make_field.twin(field)
    chain = f"form/{form}"
    devices = {name: replace(each, heads=dict(each.heads)) for name, each in field.people.items()}
    decided = {"samples": samples, "at": _now(field), "reasons": ["other"]}
    field.act("lab-quality", chain, "rejected", decided)
    phone = seen_now(field)
    second.people = devices
    second.act("dock", chain, "held", HELD)
    second.ledger.sequencer.integrate()
    one, other = (each.client.get("/checkpoint").text for each in (field, second))

    assert cosign(field, watcher).status == HTTPStatus.OK
    assert cosign(second, watcher).status == HTTPStatus.CONFLICT
    assert judged(field, form, named(watcher)).state == "complete and cosigned"
    assert judged(second, form, named(watcher)).state == "intact, not cosigned"
    assert judged(second, form).faults == ()  # alone each half is whole: that is why it says "not cosigned"
    assert "cosigners" in not_checked(judged(second, form))

    heads = [notes.open_checkpoint(note, [log_key(field)]) for note in (one, other)]
    assert heads[0].size == heads[1].size  # two signed checkpoints of one size: proof for anybody
    assert heads[0].root != heads[1].root
    mirror = Mirror(tmp_path / "mirror", log_key(field))
    mirror.round(one, fetch(field))
    with pytest.raises(Broken) as caught:
        mirror.round(other, fetch(second))
    assert caught.value.code == "forked"

    met = second.people["clerk"].sign(chain, "held", HELD, after=None, seen=phone)
    assert second.send(met).get_json()["code"] == "unknown-head"
    slip_in(second, chain, met["statement"])
    assert faults(judged(second, form)) == {(8, "consistency-proof")}


@on_both
def test_roll_the_database_back(make_field: Fields, watched: tuple[Field, Cosigner]) -> None:
    """Yesterday's database is put in place, by accident or not.

    The service itself sees it at the start by its high-water file; with that rolled back too, the cosigner
    and every phone that saw more.
    """
    promised("restores an old database", "freezes")
    field, watcher = watched
    form = field.open_form()
    field.ledger.sequencer.integrate()
    yesterday = make_field.twin(field)
    field.act("clerk", f"form/{form}", "held", HELD)
    lost = field.open_form()
    field.ledger.sequencer.integrate()
    assert cosign(field, watcher).status == HTTPStatus.OK
    phone = seen_now(field)

    make_field.put_back(field, yesterday)
    with pytest.raises(Unavailable) as frozen:
        field.ledger.sequencer.integrate()
    assert (frozen.value.code, frozen.value.facts["signed"]) == ("log-frozen", phone.size)
    refused = field.send(field.people["second"].sign(f"form/{form}", "held", HELD, after=None))
    assert (refused.status_code, refused.get_json()["code"]) == (503, "log-frozen")

    told = cosign(yesterday, watcher)  # the whole machine was put back: nothing in it knows better
    assert (told.status, told.text) == (HTTPStatus.CONFLICT, f"{phone.size}\n")
    for number in (form, lost):  # of the lost one nobody is told to check the number
        met = yesterday.people["second"].sign(f"form/{number}", "held", HELD, after=None, seen=phone)
        assert yesterday.send(met).get_json()["code"] == "unknown-head"


@on_both
def test_replay_into_another_form(field: Field) -> None:
    """Anybody puts a statement about one visit on another.

    Seen with the file alone, because the form's number is inside the signature.
    """
    promised("moved to another form or another ledger", "in a file: broken")
    one, other = field.open_form(), field.open_form()
    signed = field.people["clerk"].sign(f"form/{one}", "held", HELD, after=None)
    told = field.ok(field.send(signed))
    assert told["chain"] == f"form/{one}"  # there is no way to say another form over HTTP
    slip_in(field, f"form/{other}", signed["statement"])
    assert faults(judged(field, other)) == {(5, "wrong-form")}


@on_both
def test_replay_into_another_installation(field: Field) -> None:
    """Anybody plays what was signed on a test ledger into the real one.

    Refused, and seen with the file alone.
    """
    promised("moved to another form or another ledger", "in a file: broken")
    form = field.open_form()
    signed = field.people["clerk"].sign(
        f"form/{form}", "held", HELD, after=None, aud="ledger.example/try-out"
    )
    assert field.send(signed).get_json()["code"] == "wrong-audience"
    slip_in(field, f"form/{form}", signed["statement"])
    assert faults(judged(field, form)) == {(5, "wrong-audience")}


@on_both
def test_replay_twice(field: Field, tmp_path: Path) -> None:
    """A client tries again, or an attacker sends what was sent; the service gives its first answer, and a log
    that holds it twice is seen through in the file and by a monitor.
    """
    promised("sent twice", "the first answer")
    form = field.open_form()
    chain = f"form/{form}"
    signed = field.people["clerk"].sign(chain, "held", HELD, after=None)
    first, again = field.send(signed), field.send(signed)
    assert (first.status_code, again.status_code) == (201, 200)
    assert (again.get_json()["entry"], field.head(chain)[0]) == (first.get_json()["entry"], 2)
    slip_in(field, chain, signed["statement"])
    assert (7, "statement-twice") in faults(judged(field, form))
    copied = Mirror(tmp_path / "mirror", log_key(field)).round(
        field.client.get("/checkpoint").text, fetch(field)
    )
    assert any("twice" in each.says for each in copied.troubles)


def test_key_substitution(make_field: Fields) -> None:
    """The operator puts its own key in the inspector's place, or founds both organizations anew with roots of
    its own; seen with the file and the root's thumbprint from a contract.
    """
    promised("exchanges a person's key", "root key from outside")
    field = make_field()
    own = field.people["inspector"].key

    def telling(told: list[Row]) -> list[Row]:
        return [
            _with_key(each, own, OPERATOR) if b'"act":"enrolled"' in _claims(each) else each for each in told
        ]

    retell(field, telling)
    field.people["inspector"] = Device("inspector", FIRM, OPERATOR, field.clock)
    form = field.open_form()
    found = faults(judged(field, form))
    assert (6, "bad-signature") in found  # the root signed another key
    assert (6, "unknown-key") in found

    false = make_field(start=False)
    true = trust(false)
    for org, root in false.roots.items():
        root.key = SigningKey.from_seed(f"impostor {org}".encode().ljust(32, b".")[:32])
    false.found()
    form, *_ = false.faultless()
    file = bundle.read(exported(false, form))
    strange = verify(file, true, false.ledger.now())
    assert (strange.state, strange.faults) == ("not under your keys", ())
    assert {each.code for each in strange.other_keys} == {"other-root"}
    assert {each.state for each in strange.verdicts} == {"not judged"}
    own_words = replace(true, roots=file.roots)
    assert verify(file, own_words, false.ledger.now()).faults == ()  # why roots must not come with the file


def _with_key(row: Row, old: SigningKey, new: SigningKey) -> Row:
    claims = _claims(row).decode()
    swapped = claims.replace(old.kid, new.kid).replace(old.jwk["x"], new.jwk["x"])
    header, _, signature = row.entry.stmt.split(".")
    return row.saying(stmt=f"{header}.{b64u(swapped.encode())}.{signature}")


def test_enroll_a_rogue_device(field: Field) -> None:
    """An inspector enrolls a friend's phone as a clerk.

    Refused, and seen with the file alone if an operator lets it through.
    """
    promised("signs as another person without their key")
    inspector, rogue = field.people["inspector"], Device("friend", FIRM, OPERATOR, field.clock)
    data = {
        "kid": rogue.key.kid, "jwk": rogue.key.jwk, "role": "clerk", "identity_check": "known",
        "proof": key_proof.issue(rogue.key, FIRM, ORIGIN, int(field.clock().timestamp())),
    }  # fmt: skip
    form = field.open_form()
    enrollment = replace(inspector).sign(f"org/{FIRM}", "enrolled", data)
    assert field.send(enrollment).get_json()["code"] == "wrong-role"
    slip_in(field, f"org/{FIRM}", enrollment["statement"])
    said = rogue.sign(f"form/{form}", "held", HELD)
    slip_in(field, f"form/{form}", said["statement"])
    assert faults(judged(field, form)) == {(6, "wrong-role"), (6, "unknown-key")}


def _revoke(field: Field, device: Device, since: str, last_good_seq: int) -> None:
    root = field.roots[FIRM]
    data = {"kid": device.key.kid, "reason": "lost", "since": since, "last_good_seq": last_good_seq}
    field.ok(field.send(root.sign(f"org/{FIRM}", "revoked", data)), root)


def test_stolen_key_after_report(field: Field) -> None:
    """A thief signs with a phone that was reported lost.

    Refused, and seen with the file alone if an operator lets it through.
    """
    promised("another person uses a key before it is reported", "`--last-good` decides")
    form = field.open_form()
    thief = field.people["clerk"]
    field.act("clerk", f"form/{form}", "held", HELD)
    _revoke(field, thief, _now(field), thief.seq)
    field.clock.advance(hours=1)
    signed = thief.sign(f"form/{form}", "held", {**HELD, "where": "home"})
    assert field.send(signed).get_json()["code"] == "revoked-key"
    slip_in(field, f"form/{form}", signed["statement"])
    report = judged(field, form)
    assert faults(report) == {(6, "revoked-key")}
    assert report.left_out == 1  # what the thief said is no part of the story


@on_both
def test_stolen_key_before_report_or_cloned_state(field: Field) -> None:
    """A thief, or a restored backup, signs beside the owner.

    Seen with the file once both have signed about the form, and from the reported loss on; before it, what
    the thief signs is the owner's, and the report says so.
    """
    promised("a copy of it, signs two different statements under one number", "flagged")
    promised("another person uses a key before it is reported", "counts as its owner's")
    form = field.open_form()
    chain, owner = f"form/{form}", field.people["clerk"]
    thief = replace(owner, heads=dict(owner.heads))
    field.ok(field.send(owner.sign(chain, "held", HELD)), owner)
    second = field.send(thief.sign(chain, "held", {**HELD, "where": "home"}))
    assert (second.status_code, second.get_json()["code"]) == (409, "device-fork")
    report = judged(field, form)
    assert [each.code for each in report.remarks] == ["conflict"]
    assert "CU-10" in findings(report)
    promised("the exporter of a file leaves out a contradiction or a time stamp", "not seen")
    told = replace(bundle.read(exported(field, form)), conflicts=())
    silent = verify(told, trust(field), field.ledger.now())
    assert (silent.faults, silent.remarks) == ((), ())
    stated(silent, "omission", "the second of two entries of one key that contradict each other")

    quiet = field.open_form()  # the owner signs nothing; the thief does, and only then is the phone missed
    phone = field.people["second"]
    before = _now(field)
    field.clock.advance(hours=1)
    field.act("second", f"form/{quiet}", "held", HELD)
    believed = judged(field, quiet)
    assert (believed.faults, believed.remarks) == ((), ())
    stated(believed, "theft", "before the time from which it was reported lost: it counts as its owner's")
    field.clock.advance(hours=1)
    _revoke(field, phone, before, phone.seq - 1)
    doubted = judged(field, quiet)
    assert [each.code for each in doubted.remarks] == ["doubtful-key"]


def test_swap_of_labels_in_the_data(field: Field) -> None:
    """A clerk writes another sample's number, or the dock finds another cassette under a label; seen with the
    file alone, because number and serial were signed at collection.
    """
    promised("swaps sample numbers in the data", "flagged")
    lot, samples = field.lot(4)
    form = field.open_form()
    chain = f"form/{form}"
    for sample, kind in zip(samples[:3], ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    at = _now(field)
    to = {"to": FIRM, "to_kid": field.people["clerk"].key.kid, "purpose": "shipping", "at": at}
    field.act("inspector", chain, "relinquished", {"samples": samples[:3], "count": 3, **to})
    items = [{"sample": each, "condition": ["intact"]} for each in (samples[0], samples[1], samples[3])]
    field.act("clerk", chain, "received", {"items": items, "count": 3, "at": at, "purpose": "shipping"})
    report = judged(field, form)
    assert (report.faults, {each.area: each.state for each in report.verdicts}["custody"]) == ((), "broken")
    assert _said(report, "CU-01", samples[3])  # received, and never given or collected
    assert _said(report, "CU-06", samples[2])  # given, and never received

    honest, envelope, others, seal = _shipped(field)
    serials = [f"K-{others[place][-6:]}" for place in (1, 0, 2)]
    told = [
        {"sample": each, "condition": ["intact"], "serial": serial}
        for each, serial in zip(others, serials, strict=True)
    ]
    found = {
        "envelope": envelope,
        "seal": seal,
        "seal_state": "intact",
        "package": ["sound"],
        "delivered": _now(field),
        "total": 3,
    }
    field.act(
        "dock", f"form/{honest}", "received", {"items": told, "count": 3, "at": _now(field), "dock": found}
    )
    report = judged(field, honest)
    assert report.faults == ()
    assert _said(report, "RC-04", others[0])
    assert _said(report, "RC-04", others[1])
    assert not _said(report, "RC-04", others[2])


def _said(report: Report, rule: str, sample: str) -> bool:
    """Whether a rule speaks of a sample, as a flag or a block."""
    return any(
        (each.rule, each.severity in ("block", "flag")) == (rule, True)
        and numbers.grouped(sample) in each.sentence
        for each in report.findings
    )


def _shipped(field: Field) -> tuple[str, str, list[str], str]:
    """A faultless visit up to the carrier."""
    lot, samples = field.lot(3)
    form = field.open_form()
    for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    field.hand_to_clerk(form, samples)
    envelope, seal = field.number("envelope"), field.number("seal")
    field.seal(envelope, samples, seal)
    field.ship(envelope)
    field.clock.now = field.clock.now.replace(day=field.clock.now.day + 1, hour=16, minute=30)
    return form, envelope, samples, seal


def test_physical_swap_false_place_or_pump_not_run(field: Field) -> None:
    """An inspector swaps two cassettes before the labels, writes a false place, or lets no pump run, and
    signs it all in order. Cannot be detected: the report must be that of an honest visit, and must say what
    it cannot know.
    """
    promised("labels swapped before the run, a pump that never ran, a false place", "cannot be detected")
    form, *_ = field.faultless()  # every word of it may be a lie
    report = judged(field, form)
    assert (report.faults, report.remarks) == ((), ())
    assert {each.state for each in report.verdicts[1:]} <= {"no fault found", "noted"}
    assert "world" in not_checked(report)
    stated(
        report,
        "deeds",
        "labels exchanged before they were signed for, a false place, a pump that did not run",
    )
    whole = " ".join((ROOT / "README.md").read_text("utf-8").split())
    assert (
        "It does **not** show that what people typed is true, that a van was locked, that a pump ran" in whole
    )


def test_one_actor_signs_for_another(field: Field) -> None:
    """The inspector signs with the clerk's unlocked phone.

    Cannot be detected: the report names the key's owner, and says so.
    """
    promised("one person signs with another's unlocked device", "cannot be detected")
    form = field.open_form()
    field.act("clerk", f"form/{form}", "held", HELD)  # whose thumb it was, no byte knows
    report = judged(field, form)
    assert "Clerk Person" in {each.person for each in report.signers}
    assert (report.faults, report.remarks) == ((), ())
    stated(report, "hands", "one person can sign with another's unlocked device")


def test_drop_a_statement_before_the_ledger(field: Field) -> None:
    """An actor keeps back the worse of two statements, or an operator drops it.

    Seen by the device's count as soon as the next one arrives; the device still holds what was dropped.
    """
    promised("a statement is never sent", "a missing number in a device's count is flagged")
    form = field.open_form()
    clerk = field.people["clerk"]
    dropped = clerk.sign(f"form/{form}", "held", {**HELD, "where": "vehicle"}, after=None)
    told = field.ok(field.send(clerk.sign(f"form/{form}", "held", HELD, after=None)))
    assert told["gap"] == 1
    report = judged(field, form)
    assert "counters" in not_checked(report)
    assert "1 entry is between" in render_text(report)
    field.clock.advance(days=2)  # a statement may be on its way for a while before its absence is flagged
    seen = field.get("clerk", f"/forms/{form}").get_json()["findings"]
    assert "CU-10" in {each["rule"] for each in seen}
    late = field.ok(field.send(dropped))
    assert (late["status"], late["gap"]) == ("registered", 0)
    assert "counters" not in not_checked(judged(field, form))


@on_both
def test_hide_everything(field: Field) -> None:
    """The operator makes a whole visit disappear and builds the log without it.

    Not detectable by anybody who kept nothing, and the report says so; whoever kept a file, or a receipt,
    still holds the log's own signature over it.
    """
    promised("a form never exported", "a form that is neither exported nor remembered cannot be missed")
    form = field.open_form()
    other = field.open_form()
    kept = exported(field, form)
    retell(field, lambda told: [each for each in told if each.entry.chain != f"form/{form}"])
    assert field.get("clerk", f"/forms/{form}").status_code == 404
    left = judged(field, other)
    assert left.faults == ()  # nothing on earth is missing from it
    stated(left, "silence", "A form that was never exported")
    then = verify(bundle.read(kept), trust(field), field.ledger.now())
    assert (then.state, then.faults) == ("intact, not cosigned", ())
    note, now = bundle.read(kept).note, field.client.get("/checkpoint").text
    heads = [notes.open_checkpoint(each, [log_key(field)]) for each in (note, now)]
    assert heads[0].size > heads[1].size  # the log signed that it was longer once


def test_everybody_colludes(make_field: Fields, tmp_path: Path) -> None:
    """All parties, the operator and every cosigner tell the visit again with all their keys.

    Cannot be detected, and the report says so; a checkpoint kept elsewhere contradicts them.
    """
    promised("all parties enter the same false thing", "cannot be detected")
    vkey = format_vkey(notes.cosigner_key(WATCHER, SigningKey.from_seed(b"cosigner".ljust(32, b"."))))
    true, false = make_field(cosigners=(vkey,)), make_field(cosigners=(vkey,))
    shown = []
    for place, (field, room) in enumerate(((true, "bedroom"), (false, "kitchen"))):
        lot, samples = field.lot(1)
        form = field.open_form()
        field.collect(form, lot, samples[0], room=room)
        watcher = cosigner(field, tmp_path / f"cosigner {place}")  # the second one has forgotten on purpose
        assert cosign(field, watcher).status == HTTPStatus.OK
        report = judged(field, form, named(watcher))
        assert (report.state, report.faults) == ("complete and cosigned", ())
        stated(report, "collusion", "All parties acting together, cosigners included")
        shown.append(bundle.read(exported(field, form)))
    assert shown[0].form == shown[1].form  # two stories of one form, by the same keys, each of them whole
    assert trust(true) == trust(false)
    heads = [parse(read_note(each.note).text) for each in shown]
    assert heads[0].size == heads[1].size
    assert heads[0].root != heads[1].root
