"""Registering: what is refused and leaves nothing, what is recorded although it is bad, what a retry gets."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import sqlalchemy as sa

from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u
from bailee.signing import signed_statement
from bailee.signing.signed_statement import Seen
from bailee.store import schema, tree
from field import FIRM, LAB, ORIGIN, Field


def rows(field: Field) -> dict[str, int]:
    """How much is stored in each table."""
    with field.ledger.database.reading() as connection:
        return {
            name: connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
            for name, table in schema.metadata.tables.items()
        }


HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


def refused(field: Field, signed: dict[str, Any], code: str, status: int) -> Any:
    """Send it; it must be refused with this code, and nothing stored but what its organization must know of a
    key.
    """
    before = rows(field)
    answer = field.send(signed)
    told = answer.get_json()
    assert (answer.status_code, told["code"]) == (status, code), told
    assert answer.content_type == "application/problem+json"
    assert told["type"] == f"/problems/{code}"
    evidence = {"conflict": before["conflict"] + 1} if code in ("device-fork", "revoked-key") else {}
    assert rows(field) == before | evidence
    return told


def test_an_altered_statement_is_refused(field: Field) -> None:
    """One changed character on the way must never become a record."""
    form = field.open_form()
    signed = field.people["inspector"].sign(f"form/{form}", "held", HELD)
    header, payload, signature = signed["statement"].split(".")
    other = (
        field.people["inspector"]
        .sign(f"form/{form}", "held", {**HELD, "where": "home"})["statement"]
        .split(".")[1]
    )
    refused(field, {**signed, "statement": f"{header}.{other}.{signature}"}, "unknown-key", 403)
    assert payload != other


def test_an_unsigned_statement_is_refused(field: Field) -> None:
    """A record nobody signed is nobody's record (SI-01)."""
    form = field.open_form()
    signed = field.people["inspector"].sign(f"form/{form}", "held", HELD)
    refused(field, {"statement": signed["statement"].rsplit(".", 1)[0] + "."}, "not-canonical", 422)


def test_a_statement_for_another_ledger_is_refused(field: Field) -> None:
    """What was signed for a test ledger must not be replayed into the real one."""
    form = field.open_form()
    signed = field.people["inspector"].sign(f"form/{form}", "held", HELD, aud="ledger.example/other")
    refused(field, signed, "wrong-audience", 422)


def test_an_unknown_key_is_refused(field: Field) -> None:
    """A phone nobody enrolled cannot speak for the firm."""
    form = field.open_form()
    refused(field, field.device("stranger", FIRM).sign(f"form/{form}", "held", HELD), "unknown-key", 403)


def test_a_key_cannot_speak_for_another_organization(field: Field) -> None:
    """The laboratory's key must not sign as the firm."""
    form = field.open_form()
    dock = field.people["dock"]
    dock.org = FIRM
    refused(field, dock.sign(f"form/{form}", "held", HELD), "unknown-key", 403)


def test_an_organization_that_is_no_party_cannot_write(field: Field) -> None:
    """A third firm with an account must not be able to add to somebody else's form."""
    form = field.open_form()
    root = field.device("third root", "third-party")
    data = {"name": "Third Party", "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign("org/third-party", "founded", data)), root)
    third = field.device("third inspector", "third-party")
    field.roots["third-party"] = root
    field.enroll(third, "inspector")
    refused(field, third.sign(f"form/{form}", "held", HELD, after=None), "wrong-organization", 403)


def test_a_form_number_with_a_wrong_check_character_is_refused(field: Field) -> None:
    """A mistyped number must be named before it becomes a chain of its own."""
    form = field.number("form")
    wrong = form[:-1] + ("0" if form[-1] != "0" else "1")
    told = refused(field, field.people["inspector"].sign(f"form/{wrong}", "held", HELD), "bad-statement", 422)
    assert "wrong check character" in told["detail"]


def test_every_fault_of_an_act_is_named_at_once(field: Field) -> None:
    """A person who mends one fault must not be sent back for the next one."""
    form = field.open_form()
    signed = field.people["inspector"].sign(
        f"form/{form}", "held", {"secured": "pocket", "where": "moon", "since": "noon"}
    )
    told = refused(field, signed, "not-known", 422)
    assert {fault["at"] for fault in told["errors"]} == {"/data/secured", "/data/where", "/data/since"}


def test_the_same_statement_again_gets_the_first_answer(field: Field) -> None:
    """A lost answer and a second tap must not become a second hand-over."""
    form = field.open_form()
    signed = field.people["inspector"].sign(f"form/{form}", "held", HELD, after=None)
    first = field.send(signed)
    before = rows(field)
    again = field.send(signed)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.get_json()["entry"] == first.get_json()["entry"]
    assert again.get_json()["status"] == "already"
    assert rows(field) == before


def test_a_second_statement_with_the_same_counter_is_a_fork(field: Field) -> None:
    """A copied key must show itself as soon as both copies have signed."""
    form = field.open_form()
    inspector = field.people["inspector"]
    seq, prev = inspector.seq, inspector.prev
    field.ok(field.send(inspector.sign(f"form/{form}", "held", HELD, after=None)))
    inspector.seq, inspector.prev = seq, prev
    refused(
        field,
        inspector.sign(f"form/{form}", "held", {**HELD, "where": "home"}, after=None),
        "device-fork",
        409,
    )


def test_a_statement_that_does_not_continue_its_device_is_a_fork(field: Field) -> None:
    """A device restored from a backup names a predecessor that is not the one the ledger has."""
    form = field.open_form()
    inspector = field.people["inspector"]
    inspector.prev = "A" * 43
    refused(field, inspector.sign(f"form/{form}", "held", HELD, after=None), "device-fork", 409)


def test_a_missing_counter_is_recorded_and_told(field: Field) -> None:
    """A statement still on the phone must not stop the later ones, and must be missed."""
    form = field.open_form()
    inspector = field.people["inspector"]
    lost = inspector.sign(f"form/{form}", "held", HELD, after=None)
    told = field.ok(field.send(inspector.sign(f"form/{form}", "held", {**HELD, "where": "home"}, after=None)))
    assert told["gap"] == 1
    late = field.ok(field.send(lost))
    assert (late["status"], late["gap"]) == ("registered", 0)


def test_a_device_that_saw_an_entry_this_ledger_lacks_is_heard(field: Field) -> None:
    """It is the strongest sign that the ledger lost something, so it must be said aloud, and nothing stored
    over it.
    """
    form = field.open_form()
    refused(
        field,
        field.people["inspector"].sign(f"form/{form}", "held", HELD, after="B" * 43),
        "unknown-entry",
        409,
    )


def test_a_role_may_not_do_an_act_of_administration(field: Field) -> None:
    """An inspector who accepts samples for the laboratory would make the record worthless (SI-03)."""
    form = field.open_form()
    data = {"rule": "OC-01", "about": form, "reason": "outdoor_impossible"}
    dock = field.people["dock"].sign(f"form/{form}", "excepted", data, after=None)
    refused(field, dock, "wrong-role", 403)


def test_a_physical_fact_from_a_wrong_role_is_recorded(field: Field) -> None:
    """What a clerk really did to a cassette is a true bad fact: recorded and flagged, never refused."""
    lot, samples = field.lot(1)
    form = field.open_form()
    field.collect(form, lot, samples[0], who="clerk")
    told = field.get("clerk", f"/forms/{form}").get_json()
    assert [f["severity"] for f in told["findings"] if f["rule"] == "SI-03"] == ["warn"]


def test_an_expired_lot_already_used_is_recorded_and_flagged(field: Field) -> None:
    """Refusing it would make people write the convenient thing."""
    lot, samples = field.lot(1, expiry="2026-11-30")
    form = field.open_form()
    field.collect(form, lot, samples[0])
    told = field.get("inspector", f"/forms/{form}").get_json()
    assert [f["severity"] for f in told["findings"] if f["rule"] == "ML-02"] == ["block"]


def test_sample_numbers_are_issued_once(field: Field) -> None:
    """One number on two cassettes is the fault that cannot be mended later (CL-01)."""
    lot, samples = field.lot(2)
    signed = field.people["keeper"].sign(f"lot/{lot}", "issued", {"samples": samples[:1]}, after=None)
    told = refused(field, signed, "number-taken", 409)
    assert told["numbers"] == samples[:1]


def test_a_false_private_field_is_refused(field: Field) -> None:
    """A name nobody signed must not stand beside a signature."""
    form = field.open_form()
    one = field.people["inspector"].sign(f"form/{form}", "held", HELD, {"note": "in the van"}, after=None)
    two = field.people["inspector"].sign(f"form/{form}", "held", HELD, {"note": "at home"}, after=None)
    refused(field, {**one, "disclosures": two["disclosures"]}, "wrong-disclosure", 422)


def test_a_revoked_key_is_refused_beyond_its_last_good_counter(field: Field) -> None:
    """The finder of a lost phone must not be able to sign.

    What it signed before the loss still arrives (SI-02).
    """
    form = field.open_form()
    inspector = field.people["inspector"]
    before = inspector.sign(f"form/{form}", "held", HELD, after=None)
    revoked = {
        "kid": inspector.key.kid,
        "reason": "lost",
        "since": "2026-12-01T09:40:00-05:00",
        "last_good_seq": inspector.seq,
    }
    root = field.roots[FIRM]
    field.ok(field.send(root.sign(f"org/{FIRM}", "revoked", revoked)), root)
    field.clock.advance(minutes=1)
    field.ok(field.send(before))
    told = field.get("clerk", f"/forms/{form}").get_json()
    assert any(f["rule"] == "SI-02" for f in told["findings"])
    refused(field, inspector.sign(f"form/{form}", "held", HELD, after=None), "revoked-key", 403)


def test_only_admitted_keys_found_organizations_when_the_operator_says_so(
    make_field: Callable[..., Field],
) -> None:
    """Otherwise anybody on the network could take the name of a laboratory."""
    field = make_field(start=False, founding="listed")
    root = field.roots[LAB]
    signed = root.sign(f"org/{LAB}", "founded", {"name": "Quill Lab", "jwk": root.key.jwk, "recovery": None})
    told = refused(field, signed, "not-admitted", 403)
    assert root.key.kid in told["detail"]


def test_a_list_is_answered_one_by_one(field: Field) -> None:
    """One bad statement in a phone's outbox must not hold back the others."""
    form = field.open_form()
    inspector, stranger = field.people["inspector"], field.device("stranger", FIRM)
    good = [inspector.sign(f"form/{form}", "held", HELD, after=None) for _ in range(10)]
    bad = stranger.sign(f"form/{form}", "held", HELD, after=None)
    told = field.send(*good[:5], bad, *good[5:]).get_json()["answers"]
    assert [each["status"] for each in told] == ["registered"] * 5 + ["refused"] + ["registered"] * 5
    assert told[5]["problem"]["code"] == "unknown-key"
    assert [each["n"] for each in told if each["n"]] == list(range(2, 12))


def test_a_key_enrolled_in_the_same_list_may_speak_in_it(field: Field) -> None:
    """An office that works offline sends the enrollment and the first statements together."""
    form = field.open_form()
    new = field.device("new inspector", FIRM)
    from bailee.signing import key_proof

    root = field.roots[FIRM]
    data = {
        "kid": new.key.kid,
        "jwk": new.key.jwk,
        "role": "inspector",
        "proof": key_proof.issue(new.key, FIRM, ORIGIN, 1),
        "identity_check": "known",
    }
    told = field.send(
        root.sign(f"org/{FIRM}", "enrolled", data), new.sign(f"form/{form}", "held", HELD, after=None)
    ).get_json()
    assert [each["status"] for each in told["answers"]] == ["registered", "registered"]


def test_the_stored_entry_holds_the_bytes_that_were_sent(field: Field) -> None:
    """Anything re-written on the way in could not be proved later."""
    form = field.open_form()
    signed = field.people["inspector"].sign(f"form/{form}", "held", HELD, after=None)
    told = field.ok(field.send(signed))
    entry = entries.read(told["entry"])
    assert entry.stmt == signed["statement"]
    assert (entry.chain, entry.n) == (f"form/{form}", 2)
    assert signed_statement.read(entry.stmt).claims.act == "held"


def test_personal_values_stay_out_of_the_log(field: Field) -> None:
    """A name in the append-only log could never be erased."""
    field.open_form()
    with field.ledger.database.reading() as connection:
        texts = "".join(connection.execute(sa.select(schema.entry.c.text)).scalars())
    import base64

    for part in texts.replace('"', ".").split("."):
        decoded = (
            base64.urlsafe_b64decode(part + "=" * (-len(part) % 4))
            if part.isascii() and len(part) > 40
            else b""
        )
        assert b"Perpetua" not in decoded
        assert b"Invented Lane" not in decoded


def test_a_tree_head_this_log_never_had_is_heard(field: Field) -> None:
    """A false one would make the whole form read as broken; a true one means that the ledger lost entries."""
    form = field.open_form()
    field.ledger.sequencer.integrate()
    inspector = field.people["inspector"]
    health = field.client.get("/health").get_json()
    with field.ledger.database.reading() as connection:
        root = b64u(tree.root_at(connection, health["size"]) or b"")
    true = inspector.sign(f"form/{form}", "held", HELD, after=None, seen=Seen(health["size"], root))
    field.ok(field.send(true))
    for size, told in ((health["size"], "A" * 43), (health["size"] + 9, root)):
        seq, prev = inspector.seq, inspector.prev
        false = inspector.sign(f"form/{form}", "held", HELD, after=None, seen=Seen(size, told))
        refused(field, false, "unknown-head", 409)
        inspector.seq, inspector.prev = seq, prev
