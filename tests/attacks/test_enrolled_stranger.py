"""An enrolled member of another organization, who does everything that the ledger lets anybody do."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from operator_hands import Fields
from promises import promised

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.ledger import entry as entries
from bailee.signing import disclosures
from bailee.verify import bundle
from field import FIRM, LAB, OUTSIDER, Field

pytestmark = pytest.mark.slow


@pytest.fixture
def field(make_field: Fields) -> Field:
    """A firm, its laboratory, and a third organization with a person in every role that
    these attacks need.
    """
    found = make_field()
    root = found.roots[OUTSIDER] = found.device("third root", OUTSIDER)
    data = {"name": "Third Party", "jwk": root.key.jwk}
    found.ok(found.send(root.sign(f"org/{OUTSIDER}", "founded", data)), root)
    for role in ("inspector", "clerk", "custodian", "media_keeper"):
        found.people[f"third-{role}"] = found.device(f"third-{role}", OUTSIDER)
        found.enroll(found.people[f"third-{role}"], role)
    return found


def private_names(told: Any) -> set[str]:
    """The names of the private fields beside these entries."""
    return {disclosures.name_of(field) for each in told for field in each["disclosures"]}


def test_a_second_laboratory_reads_entry_by_entry_and_in_its_file_whose_house_it_is(field: Field) -> None:
    """A firm would have told a client that the laboratory further on learns no address, and every entry of
    the log would tell it.
    """
    promised("to which samples were sent on asks", "entry by entry")
    form, _, samples, _ = field.faultless()
    items = [
        {"sample": samples[0], "child": field.number("sample"), "item": "slide", "condition": ["stained"]}
    ]
    sent_on = {
        "items": items,
        "count": 1,
        "to": OUTSIDER,
        "purpose": "analysis",
        "at": Moment(field.clock(), -360).text(),
    }
    field.act("dock", f"form/{form}", "forwarded", sent_on, {"note": "for the mineral dust"})
    field.act(
        "third-custodian",
        f"form/{form}",
        "held",
        {"samples": [items[0]["child"]], "secured": "locked", "where": "office", "since": sent_on["at"]},
        {"note": "ours"},
    )
    field.ledger.sequencer.catch_up()
    size = field.head(f"form/{form}")[0]

    def read(who: str) -> list[Any]:
        answers = [field.get(who, f"/entries/{index}") for index in range(200)]
        told = [each.get_json() for each in answers if each.status_code == 200]
        return [each for each in told if each["chain"] == f"form/{form}"]

    third, first = read("third-custodian"), read("dock")
    assert len(third) == len(first) == size
    assert private_names(first) == {"client", "site", "question", "place", "note"}
    assert [each["n"] for each in third if each["disclosures"]] == [size]
    of_others, whole = (
        [
            name
            for each in bundle.read(field.get(who, f"/forms/{form}/bundle").data).entries
            if f"org/{OUTSIDER}" not in (chain := entries.read(each.text).chain) and (chain, each.text) != own
            for name in map(disclosures.name_of, each.disclosures)
        ]
        for who, own in (("third-custodian", (f"form/{form}", third[-1]["entry"])), ("dock", None))
    )
    assert set(of_others) == {"person"}
    assert {*whole} == {"client", "site", "question", "place", "note", "person", "device"}


def a_form_that_names(field: Field, lab: str) -> str:
    """The stranger's own form, which names somebody as its laboratory without asking."""
    form = field.number("form")
    data = {
        "edition": 1,
        "parties": {"firm": OUTSIDER, "lab": lab},
        "visit": "2026-12-01",
        "zone": "America/New_York",
    }
    field.act("third-inspector", f"form/{form}", "opened", data)
    return form


def a_lot(field: Field, who: str, issued: dict[str, Any] | None) -> str:
    """Received, and if so told, numbers issued."""
    lot = field.number("lot")
    received = {"maker_lot": "7", "cassette": "slit", "count": 5, "nominal_flow": "15.0", "run_s": 300}
    field.act(who, f"lot/{lot}", "lot_received", {**received, "expiry": "2027-03-31"})
    if issued:
        field.act(who, f"lot/{lot}", "issued", issued)
    return lot


def sealed_by_the_stranger(field: Field, form: str, envelope: str, samples: list[str], seal: str) -> None:
    """The same envelope, seal and cassettes on his form."""
    data = {
        "envelope": envelope,
        "seal": seal,
        "samples": samples,
        "count": len(samples),
        "total": len(samples),
        "forms": [form],
        "at": Moment(field.clock(), -300).text(),
        "across_opening": False,
        "record_enclosed": False,
    }
    field.act("third-clerk", f"form/{form}", "sealed", data)


def sent_by_the_firm(field: Field, form: str, lot: str, samples: list[str]) -> tuple[str, str]:
    """Collected, handed over, sealed and shipped by the firm: envelope and seal."""
    for sample, kind in zip(samples, ("indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    field.hand_to_clerk(form, samples)
    envelope, seal = field.number("envelope"), field.number("seal")
    at = Moment(field.clock(), -300).text()
    data = {
        "envelope": envelope,
        "seal": seal,
        "samples": samples,
        "count": 2,
        "total": 2,
        "forms": [form],
        "at": at,
        "across_opening": False,
        "record_enclosed": False,
    }
    field.act("clerk", f"form/{form}", "sealed", data)
    shipped = {"envelope": envelope, "carrier": "acorn-freight", "service": "next day", "service_days": 1}
    field.act("clerk", f"form/{form}", "shipped", {**shipped, "tracking": "AF-1002003", "handed_over": at})
    return envelope, seal


def test_whoever_issues_numbers_that_others_use_already_is_given_their_receipt(field: Field) -> None:
    """The dock would sign for a stranger's form, and the firm's cassettes would count as never received."""
    promised("signs afterwards that he issued them", "the laboratory is asked")
    samples = [field.number("sample"), field.number("sample")]
    form, lot = field.open_form(), a_lot(field, "keeper", None)
    envelope, seal = sent_by_the_firm(field, form, lot, samples)
    kid = field.people["third-inspector"].key.kid
    his_lot = a_lot(field, "third-media_keeper", {"samples": samples, "to": kid})
    his = a_form_that_names(field, LAB)
    for sample in samples:
        field.collect(his, his_lot, sample, who="third-inspector")
    sealed_by_the_stranger(field, his, envelope, samples, seal)

    inside = {"query_string": {"samples": ",".join(samples)}}
    assert field.get("dock", f"/samples/{samples[0]}").get_json()["form"] == form
    assert field.get("dock", f"/envelopes/{envelope}", **inside).get_json()["forms"] == [form]
    shipped = {"envelope": envelope, "carrier": "acorn-freight", "service": "next day", "service_days": 1}
    at = Moment(field.clock(), -300).text()
    field.act(
        "third-clerk", f"form/{his}", "shipped", {**shipped, "tracking": "AF-1002003", "handed_over": at}
    )
    for path, more in ((f"/samples/{samples[0]}", {}), (f"/envelopes/{envelope}", inside)):
        told = field.get("dock", path, **more)
        assert told.status_code == 409
        assert set(told.get_json()["forms"]) == {form, his}
    assert all(
        name in field.get("dock", f"/samples/{samples[0]}").get_json()["detail"] for name in (FIRM, OUTSIDER)
    )
    field.dock(form, envelope, samples, seal)
    assert field.get("dock", f"/samples/{samples[0]}").get_json()["form"] == form
    assert field.get("clerk", f"/samples/{samples[0]}").get_json()["form"] == form


def test_whoever_claims_a_suppliers_cassette_first_is_given_the_receipt_of_its_envelope(field: Field) -> None:
    """A supplier issues to nobody by name.

    A stranger who read the labels would be taken for the sender without a question.
    """
    samples = [field.number("sample"), field.number("sample")]
    lot = a_lot(field, "lab-quality", {"samples": samples})  # the laboratory sells cassettes, as many do
    his, form = a_form_that_names(field, LAB), field.open_form()
    for sample in samples:
        field.collect(his, lot, sample, who="third-inspector")
    envelope, seal = sent_by_the_firm(field, form, lot, samples)
    sealed_by_the_stranger(field, his, envelope, samples, seal)
    for path, code in ((f"/samples/{samples[0]}", "claimants"), (f"/envelopes/{envelope}", "senders")):
        told = field.get(
            "dock", path, query_string={"samples": ",".join(samples)} if code == "senders" else {}
        )
        assert (told.status_code, told.get_json()["code"]) == (409, f"several-{code}")
        assert set(told.get_json()["forms"]) == {form, his}


def test_a_stranger_accounts_for_a_cassette_that_the_firm_lost(field: Field) -> None:
    """A cassette that somebody took out of the kit would drop off the list of what is missing by one sentence
    of the thief.
    """
    promised("missing cassette", "claimed elsewhere")
    samples = [field.number("sample") for _ in range(3)]
    lot = a_lot(field, "keeper", {"samples": samples, "visit": "2026-12-01"})
    form = field.open_form()
    field.collect(form, lot, samples[2])
    field.clock.advance(days=3)

    def missing() -> list[str]:
        due = [
            each
            for each in field.get("keeper", "/chase").get_json()["items"]
            if each["kind"] not in ("not secured", "not sealed")
        ]
        return [sample for sample in samples if any(grouped(sample) in str(each) for each in due)]

    assert missing() == samples[:2]
    his = a_form_that_names(field, OUTSIDER)
    field.collect(his, lot, samples[0], who="third-inspector")
    field.act("third-inspector", f"form/{his}", "voided", {"sample": samples[1], "reason": "dropped"})
    assert missing() == samples[:2]
    told = field.get("keeper", f"/lots/{lot}").get_json()["claimed_elsewhere"]
    assert [each["sample"] for each in told] == samples[:1]
    field.act("inspector", f"form/{form}", "voided", {"sample": samples[1], "reason": "dropped"})
    assert missing() == samples[:1]


def test_a_count_used_twice_tells_whether_a_number_is_in_use(field: Field) -> None:
    """Somebody would try numbers one after the other, and read in a list of his own which of them others
    have.
    """
    promised("with a count that was used already", "whether or not others have begun it")
    form, lot = field.open_form(), field.lot(1)[0]
    a_form_that_names(field, OUTSIDER)
    a_lot(field, "third-media_keeper", None)
    parties = {
        "edition": 1,
        "parties": {"firm": OUTSIDER, "lab": OUTSIDER},
        "visit": "2026-12-01",
        "zone": "America/New_York",
    }
    received = {
        "maker_lot": "7",
        "cassette": "slit",
        "count": 5,
        "nominal_flow": "15.0",
        "run_s": 300,
        "expiry": "2027-03-31",
    }
    told = []
    for who, chain, act, data in (
        ("inspector", f"form/{form}", "opened", parties),
        ("inspector", f"form/{field.number('form')}", "opened", parties),
        ("media_keeper", f"lot/{lot}", "lot_received", received),
        ("media_keeper", f"lot/{field.number('lot')}", "lot_received", received),
    ):
        again = replace(field.people[f"third-{who}"], seq=0, prev=None, heads={})
        answer = field.send(again.sign(chain, act, data, after=None))
        listed = field.get("third-clerk", "/contradictions").get_json()["contradictions"]
        told.append((answer.get_json()["code"], len(listed)))
    assert told == [("device-fork", count) for count in (1, 2, 3, 4)]
    assert field.get("dock", f"/forms/{form}/bundle").get_json().get("conflicts", []) == []


def test_one_late_word_of_a_stolen_key_opens_a_firm_to_a_stranger(field: Field) -> None:
    """A phone from the flea market and a form that names its firm would show a stranger every key of the firm
    from then on.
    """
    promised("another user of one of the firm's keys", "never the first to sign")
    own, stolen = field.open_form(), field.people["inspector"]
    root = field.roots[FIRM]
    ended = {
        "kid": stolen.key.kid,
        "reason": "stolen",
        "since": field.ledger.now().text(),
        "last_good_seq": 9,
    }
    field.ok(field.send(root.sign(f"org/{FIRM}", "revoked", ended)), root)
    held = {"secured": "locked", "where": "office", "since": "2026-12-01T09:00:00-05:00"}
    his = field.number("form")
    parties = {"firm": FIRM, "lab": OUTSIDER}
    data = {"edition": 1, "parties": parties, "visit": "2026-12-01", "zone": "America/New_York"}
    field.act("third-inspector", f"form/{his}", "opened", data)
    before = field.get("third-clerk", f"/organizations/{FIRM}").get_json()
    assert before["keys"] is None

    refused = field.send(replace(stolen, heads={}).sign(f"form/{his}", "held", held, after=None))
    assert refused.get_json().get("code") == "not-spoken"
    assert field.get("third-clerk", f"/organizations/{FIRM}").get_json() == before
    field.act(
        "inspector", f"form/{own}", "held", held
    )  # what comes late to the firm's own form is heard as ever
    field.act("clerk", f"form/{his}", "held", held)
    again = replace(stolen, heads={}).sign(f"form/{his}", "held", held, after=None)
    assert field.send(again).status_code == 201
