"""Erasing private fields: gone for good, recorded by number, and the proofs whole."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from bailee.domain.numbers import grouped
from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u
from bailee.ledger.checkpoint import parse_vkey
from bailee.operations import maintenance
from bailee.signing import disclosures, key_proof, signed_statement
from bailee.store import schema
from bailee.verify import bundle
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from field import FIRM, ORIGIN, Field, Visited


def opened(field: Field) -> tuple[str, str]:
    """A form and the id of the statement that opened it; client, site and question are private in it."""
    form = field.open_form()
    with field.ledger.database.reading() as connection:
        query = (
            sa.select(schema.statement.c.digest)
            .select_from(schema.statement.join(schema.entry).join(schema.chain))
            .where(schema.chain.c.name == f"form/{form}", schema.entry.c.n == 1)
        )
        return form, connection.execute(query).scalar_one()


def kept(field: Field, statement: str, who: str = "quality") -> list[str]:
    """Names of the private fields that are still there."""
    return list(field.get(who, f"/statements/{statement}").get_json()["private"])


def erase(
    field: Field,
    chain: str,
    statement: str,
    count: int,
    *names: str,
    who: str = "quality",
    act: str = "erased",
) -> Any:
    """Somebody erases; the answer."""
    device = field.people.get(who) or field.roots[who]
    length, leaf = field.head(chain)
    device.heads[chain] = leaf if length else ""
    private = {"fields": " ".join(names)} if names else {}
    signed = device.sign(chain, act, {"statement": statement, "count": count}, private)
    answer = field.send(signed)
    if answer.status_code >= 300:
        device.seq -= 1
        device.prev = signed_statement.read(signed["statement"]).claims.prev
    return answer


def checked(field: Field, form: str, query: str = "") -> tuple[Report, str]:
    """What an auditor finds in the file, and the file."""
    text = field.get("clerk", f"/forms/{form}/bundle{query}").text
    trust = Trust({org: root.key.kid for org, root in field.roots.items()}, (parse_vkey(field.ledger.vkey),))
    return verify(bundle.read(text), trust, field.ledger.now()), text


def test_one_field_is_gone_and_everything_verifies(field: Field) -> None:
    """A client who wants his address forgotten would have to be told that the ledger cannot."""
    form, statement = opened(field)
    before, _ = checked(field, form)
    assert erase(field, f"form/{form}", statement, 1, "site").status_code == 201
    assert kept(field, statement) == ["client", "question"]
    report, text = checked(field, form)
    assert report.faults == ()
    # The site, and which field it was; but who erased it is now named: a person and a device.
    assert (report.erased, report.redacted) == (1, before.redacted + 2 - 2)
    assert report.visit is not None
    assert set(report.visit.told) == {"client", "question"}
    assert "Invented Lane" not in "".join(map(_decoded, json.loads(text)["entries"]))


def _decoded(member: dict[str, Any]) -> str:
    from bailee.ledger.base64url import unb64u

    return "".join(unb64u(each).decode() for each in member["disclosures"])


def test_which_fields_went_is_not_kept_anywhere(field: Field) -> None:
    """A list of what a client wanted forgotten would itself be something to forget."""
    form, statement = opened(field)
    erase(field, f"form/{form}", statement, 2, "client", "site")
    with field.ledger.database.reading() as connection:
        texts = connection.execute(sa.select(schema.disclosure.c.text)).scalars().all()
        entry = connection.execute(
            sa.select(schema.entry.c.text).order_by(schema.entry.c.id.desc()).limit(1)
        ).scalar_one()
    assert "fields" not in {disclosures.name_of(each) for each in texts}
    assert dict(signed_statement.read(entries.read(entry).stmt).claims.data) == {
        "statement": statement,
        "count": 2,
    }


def test_without_names_all_private_fields_go(field: Field) -> None:
    """Somebody in a hurry would think all is gone, and one line would stay."""
    form, statement = opened(field)
    assert erase(field, f"form/{form}", statement, 3).status_code == 201
    assert kept(field, statement) == []
    told = field.get("clerk", f"/forms/{form}").get_json()
    assert told["private"] == {}
    again = erase(field, f"form/{form}", statement, 3)
    assert (again.status_code, again.get_json()["code"]) == (409, "wrong-count")


def test_the_same_statement_sent_again_gets_its_answer(field: Field) -> None:
    """A lost answer would be followed by a refusal, and nobody would know whether it was erased."""
    form, statement = opened(field)
    quality = field.people["quality"]
    signed = quality.sign(
        f"form/{form}", "erased", {"statement": statement, "count": 1}, {"fields": "site"}, after=None
    )
    assert [field.send(signed).status_code for _ in range(2)] == [201, 200]
    assert kept(field, statement) == ["client", "question"]


@pytest.mark.parametrize(
    ("who", "count", "names", "code"),
    [
        ("inspector", 1, ("site",), "wrong-role"),
        ("clerk", 1, ("site",), "wrong-role"),
        ("lab-quality", 1, ("site",), "wrong-organization"),
        ("quality", 2, ("site",), "wrong-count"),
        ("quality", 1, ("phone",), "wrong-count"),
    ],
)
def test_erasing_that_is_not_in_order_is_refused(
    field: Field, who: str, count: int, names: tuple[str, ...], code: str
) -> None:
    """The other party could take away what it is accused with, or the record say more was erased than there
    was.
    """
    form, statement = opened(field)
    answer = erase(field, f"form/{form}", statement, count, *names, who=who)
    assert answer.get_json()["code"] == code
    assert kept(field, statement) == ["client", "question", "site"]
    assert field.head(f"form/{form}")[0] == 1


def test_a_statement_of_another_form_is_not_erased_from_here(field: Field) -> None:
    """The erasure would be recorded where nobody looks for it."""
    _, statement = opened(field)
    other = field.open_form()
    assert erase(field, f"form/{other}", statement, 3).status_code == 404
    assert len(kept(field, statement)) == 3


def test_what_is_held_for_a_dispute_stays_until_it_is_released(field: Field) -> None:
    """A party could erase the very words the dispute is about."""
    form, statement = opened(field)
    field.act("lab-quality", f"form/{form}", "retention_held", {"reason": "dispute"})
    answer = erase(field, f"form/{form}", statement, 1, "site")
    assert (answer.status_code, answer.get_json()["code"]) == (409, "retention-held")
    field.act("quality", f"form/{form}", "retention_released", {"reason": "settled"})  # not theirs to release
    assert erase(field, f"form/{form}", statement, 1, "site").status_code == 409
    field.act("lab-quality", f"form/{form}", "retention_released", {"reason": "settled"})
    assert erase(field, f"form/{form}", statement, 1, "site").status_code == 201


def enrollment(field: Field, who: str) -> str:
    """The id of the statement that enrolled somebody of the firm."""
    kid = field.people[who].key.kid
    with field.ledger.database.reading() as connection:
        organization = field.ledger.books.organization(connection, FIRM)
        query = (
            sa.select(schema.statement.c.digest)
            .select_from(schema.statement.join(schema.entry).join(schema.chain))
            .where(
                schema.chain.c.name == f"org/{FIRM}", schema.entry.c.n == organization.keys[kid].enrolled_n
            )
        )
        return str(connection.execute(query).scalar_one())


def forget(field: Field, who: str) -> Any:
    """The firm erases the name and device of somebody; the answer."""
    statement = enrollment(field, who)
    count = len(kept(field, statement))
    return erase(field, f"org/{FIRM}", statement, count, who=FIRM, act="person_erased")


def hold(field: Field, form: str, act: str = "retention_held", who: str = "lab-quality") -> None:
    """Somebody holds a form, or lets it go."""
    reason = "dispute" if act == "retention_held" else "settled"
    field.act(who, f"form/{form}", act, {"reason": reason})


def test_a_held_form_keeps_the_names_of_who_signed_on_it(field: Field) -> None:
    """In the dispute nobody could say who had held the samples, because the firm had let the name be
    forgotten.
    """
    form, _ = opened(field)
    hold(field, form)
    refused = forget(field, "inspector").get_json()
    assert (refused["code"], refused["form"], refused["held"]) == ("retention-held", form, ["quill-lab"])
    assert (
        f"Form {grouped(form)} needs the name of who signed on it, and is held by quill-lab"
        in refused["detail"]
    )
    assert kept(field, enrollment(field, "inspector")) == ["device", "person"]
    assert forget(field, "second").status_code == 201  # who has no part in it may be forgotten
    hold(field, form, who="quality")
    hold(field, form, "retention_released")
    assert forget(field, "inspector").get_json()["held"] == [FIRM]  # each holds for itself
    hold(field, form, "retention_released", who="quality")
    assert forget(field, "inspector").status_code == 201


def test_a_form_that_nobody_holds_any_more_keeps_no_name(field: Field) -> None:
    """Once held, people could never be forgotten again."""
    form, _ = opened(field)
    hold(field, form)
    hold(field, form, "retention_released")
    assert forget(field, "inspector").status_code == 201


def test_names_on_lots_and_of_takers_are_kept_too(visited: Visited) -> None:
    """Who put an expired lot into circulation, or took the envelope, matters as much as who drew the air."""
    field, (form, *_) = visited
    hold(field, form)
    for who in ("keeper", "inspector", "clerk"):
        assert forget(field, who).get_json()["code"] == "retention-held", who


def test_the_note_about_a_person_is_kept_and_another_key_of_the_same_person_counts(field: Field) -> None:
    """The reason why a phone was ended would vanish, or the name with the phone that came after."""
    form, _ = opened(field)
    second = field.device("second phone of the inspector", FIRM)
    root, inspector = field.roots[FIRM], field.people["inspector"]
    data = {
        "kid": second.key.kid,
        "jwk": second.key.jwk,
        "role": "inspector",
        "identity_check": "known",
        "same_as": inspector.key.kid,
        "proof": key_proof.issue(second.key, FIRM, ORIGIN, int(field.clock().timestamp())),
    }
    field.ok(field.send(root.sign(f"org/{FIRM}", "enrolled", data, {"device": "the new one"})), root)
    field.people["inspector again"] = second
    hold(field, form)
    assert forget(field, "inspector again").get_json()["form"] == form


def test_the_index_of_held_forms_is_made_anew(field: Field) -> None:
    """After a repair a hold would be forgotten, and the name with it."""
    form, _ = opened(field)
    hold(field, form)
    field.ledger.database.write(maintenance.rebuild)
    assert forget(field, "inspector").get_json()["form"] == form


def test_a_persons_name_is_forgotten_at_once(field: Field) -> None:
    """Whoever left would be named on every screen until the service is started again."""
    form, _ = opened(field)
    kid = field.people["inspector"].key.kid
    with field.ledger.database.reading() as connection:
        organization = field.ledger.books.organization(connection, FIRM)
        assert organization.person(kid) == "Inspector Person"
        query = (
            sa.select(schema.statement.c.digest)
            .select_from(schema.statement.join(schema.entry).join(schema.chain))
            .where(
                schema.chain.c.name == f"org/{FIRM}", schema.entry.c.n == organization.keys[kid].enrolled_n
            )
        )
        enrollment = connection.execute(query).scalar_one()
    assert kept(field, enrollment) == ["device", "person"]
    assert erase(field, f"org/{FIRM}", enrollment, 2, who=FIRM, act="person_erased").status_code == 201
    with field.ledger.database.reading() as connection:
        assert field.ledger.books.organization(connection, FIRM).person(kid) == f"key {kid[:8]}"
    report, _ = checked(field, form)
    assert report.faults == ()
    assert report.erased == 2
    assert next(each for each in report.signers if each.kid == kid).person == ""
    assert "without-effect" not in {each.code for each in report.remarks}


def test_names_of_private_fields_are_for_those_who_may_see_the_statement(field: Field) -> None:
    """A competitor could ask which clients left a telephone number."""
    _, statement = opened(field)
    assert field.get("dock", f"/statements/{statement}").status_code == 200
    assert field.get("clerk", f"/statements/{'A' * 43}").status_code == 404
    root = field.device("third root", "third-party")
    data = {"name": "Third Party", "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign("org/third-party", "founded", data)), root)
    field.people["stranger"] = root
    assert field.get("stranger", f"/statements/{statement}").status_code == 404


@pytest.mark.parametrize("ground", ["sqlite"], indirect=True)  # PostgreSQL overwrites at its next vacuum
def test_nothing_of_it_is_left_in_the_file_of_an_embedded_database(field: Field, tmp_path: Path) -> None:
    """Whoever gets hold of the disk could read in its free pages what was erased (SQLite: PRAGMA
    secure_delete).
    """
    form, statement = opened(field)
    with field.ledger.database.reading() as connection:
        texts = connection.execute(sa.select(schema.disclosure.c.text)).scalars().all()
    (site,) = [each for each in texts if disclosures.name_of(each) == "site"]
    path = Path(str(field.ledger.database.url.database))

    def on_disk() -> bytes:
        with field.ledger.database.engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        copy = shutil.copy(path, tmp_path / "copy")
        return Path(copy).read_bytes()

    assert site.encode() in on_disk()
    assert erase(field, f"form/{form}", statement, 1, "site").status_code == 201
    assert site.encode() not in on_disk()
    assert b64u(b"12 Invented Lane").encode()[:-2] not in on_disk()


def test_what_an_old_copy_of_the_database_brings_back_is_found(field: Field) -> None:
    """After a restored backup the client's address would be there again, and nobody would know."""
    form, statement = opened(field)
    with field.ledger.database.reading() as connection:
        rows = [dict(row._mapping) for row in connection.execute(sa.select(schema.disclosure))]
    erase(field, f"form/{form}", statement, 1, "site")
    field.ledger.sequencer.integrate()

    def troubles() -> list[str]:
        with field.ledger.database.reading() as connection:
            return [each.says for each in maintenance.check(connection, parse_vkey(field.ledger.vkey))]

    assert troubles() == []
    (site,) = [row for row in rows if disclosures.name_of(row["text"]) == "site"]
    field.ledger.database.write(
        lambda connection: connection.execute(schema.disclosure.insert().values(**site))
    )
    (said,) = troubles()
    assert said.startswith(f"1 private field of entry 1 of form/{form} that had been erased came back")


@pytest.mark.parametrize(
    ("redact", "shown"),
    [
        ("", {"client", "question", "site", "person", "device"}),
        ("site,client", {"question", "person", "device"}),
        ("all", set()),
    ],
)
def test_a_redacted_file_verifies_and_says_how_much_is_withheld(
    field: Field, redact: str, shown: set[str]
) -> None:
    """To show a court the custody, a firm would have to hand over its clients' names."""
    form, _ = opened(field)
    whole, _ = checked(field, form)
    report, text = checked(field, form, f"?redact={redact}")
    names = {disclosures.name_of(d) for each in json.loads(text)["entries"] for d in each["disclosures"]}
    assert names == shown
    assert report.faults == ()
    all_fields = sum(len(each["disclosures"]) for each in json.loads(checked(field, form)[1])["entries"])
    left = sum(len(each["disclosures"]) for each in json.loads(text)["entries"])
    assert report.redacted - whole.redacted == all_fields - left


def test_colleagues_who_have_no_part_in_it_are_not_named_in_the_file(field: Field) -> None:
    """Every auditor of one visit would get the list of everybody who works there."""
    form, _ = opened(field)
    report, text = checked(field, form)
    said = "".join(map(_decoded, json.loads(text)["entries"]))
    assert "Inspector Person" in said
    assert "Second Person" not in said
    assert "Clerk Person" not in said
    assert report.faults == ()


def test_a_wrong_list_of_names_is_refused(field: Field) -> None:
    """A slip of the finger would send out what was to be withheld."""
    form, _ = opened(field)
    for mistyped in ("clint", "client;site", "client, sit"):
        refused = field.get("clerk", f"/forms/{form}/bundle?redact={mistyped}")
        assert (refused.status_code, refused.get_json()["code"]) == (422, "no-such-field")
        assert "client" in refused.get_json()["fields"]
    assert field.get("clerk", f"/forms/{form}/bundle?redact=client, site").status_code == 200
    assert field.get("clerk", f"/forms/{form}/bundle?redacted=client").status_code == 422
