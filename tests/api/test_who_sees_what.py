"""Who sees what: organizations see their own forms; to everybody else they look as if they were not there."""

from __future__ import annotations

import pytest

from bailee.ledger import entry as entries
from bailee.ledger.checkpoint import parse_vkey
from bailee.signing import access
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
from field import FIRM, LAB, ORIGIN, Field


@pytest.fixture
def stranger(field: Field) -> str:
    """Somebody enrolled with a third organization."""
    root = field.device("third root", "third-party")
    data = {"name": "Third Party", "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign("org/third-party", "founded", data)), root)
    field.roots["third-party"] = root
    field.people["stranger"] = field.device("stranger", "third-party")
    field.enroll(field.people["stranger"], "inspector")
    return "stranger"


def test_firm_and_laboratory_see_the_form_and_nobody_else(field: Field, stranger: str) -> None:
    """A competitor with an account must learn nothing, not even that the number exists."""
    form, envelope, samples, _ = field.faultless()
    for path in (
        f"/forms/{form}",
        f"/envelopes/{envelope}",
        f"/samples/{samples[0]}",
        f"/forms/{form}/bundle",
    ):
        assert field.get("clerk", path).status_code == 200
        assert field.get("dock", path).status_code == 200
        answer = field.get(stranger, path)
        assert (answer.status_code, answer.get_json()["code"]) == (404, "unknown")
    assert field.get(stranger, "/forms").get_json() == {"forms": []}


def test_a_lot_is_its_owners_alone(field: Field) -> None:
    """What a firm buys is not its laboratory's business until it is used."""
    lot, _ = field.lot(1)
    assert field.get("keeper", f"/lots/{lot}").status_code == 200
    assert field.get("dock", f"/lots/{lot}").status_code == 404


@pytest.mark.parametrize("path", ["/forms", "/lots", "/samples/S0000000000", "/window", "/entries/0"])
def test_without_a_token_nothing_is_told(field: Field, path: str) -> None:
    """Reads are for enrolled devices."""
    answer = field.client.get(path)
    assert (answer.status_code, answer.get_json()["code"]) == (401, "no-token")
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")


def test_a_token_runs_out(field: Field) -> None:
    """A token overheard on the way must be worthless in minutes."""
    bearer = field.people["clerk"].bearer
    field.clock.advance(seconds=access.LIFETIME_S + access.CLOCK_LEEWAY_S - 1)
    assert field.client.get("/forms", headers=bearer).status_code == 200
    field.clock.advance(seconds=1)
    answer = field.client.get("/forms", headers=bearer)
    assert (answer.status_code, answer.get_json()["code"]) == (401, "token-expired")


def test_a_revoked_key_gets_no_answers(field: Field) -> None:
    """The finder of a lost phone must not read on."""
    inspector = field.people["inspector"]
    data = {
        "kid": inspector.key.kid,
        "reason": "lost",
        "since": "2026-12-01T09:00:00-05:00",
        "last_good_seq": 0,
    }
    root = field.roots[FIRM]
    field.ok(field.send(root.sign(f"org/{FIRM}", "revoked", data)), root)
    answer = field.get("inspector", "/forms")
    assert (answer.status_code, answer.get_json()["code"]) == (403, "revoked-key")


def test_without_an_account_no_organization_is_there(field: Field) -> None:
    """Anybody on the network could list who works for whom, with how many keys, and try which names are
    taken.
    """
    asked = [field.client.get(f"/organizations/{org}") for org in (FIRM, LAB, "nobody")]
    assert {answer.status_code for answer in asked} == {401}
    assert len({answer.data for answer in asked}) == 1


def test_any_enrolled_key_can_plan_a_first_shipment_and_reads_no_more(field: Field, stranger: str) -> None:
    """A firm could not know a new laboratory's hours and limits.

    Or a competitor would read its keys and own thresholds.
    """
    field.faultless()
    for org, policy in ((FIRM, {"min_cassettes": 4}), (LAB, {"min_cassettes": 5})):
        root = field.roots[org]
        field.ok(
            field.send(root.sign(f"org/{org}", "policy_set", {"policy": {"edition": 1, **policy}})), root
        )
    firm, lab = (field.get(stranger, f"/organizations/{org}").get_json() for org in (FIRM, LAB))
    assert lab["stated"] == {"edition": 1, "min_cassettes": 5}
    assert lab["name"]
    assert "lab" in lab["calendars"]
    assert [firm[name] for name in ("policy", "policy_digest", "stated")] == [None] * 3
    for told in (firm, lab):
        assert [told[name] for name in ("root", "length", "head", "keys")] == [None] * 4
    assert field.get("dock", f"/organizations/{FIRM}").get_json()["stated"] == {
        "edition": 1,
        "min_cassettes": 4,
    }
    assert field.get("clerk", f"/organizations/{LAB}").get_json()["keys"]


def test_naming_somebody_on_a_form_of_ones_own_opens_nothing(field: Field, stranger: str) -> None:
    """Whoever wants to read a firm's keys and roles would open a form that names it."""
    form = field.number("form")
    field.people["third clerk"] = clerk = field.device("third clerk", "third-party")
    field.enroll(clerk, "clerk")
    parties = {"firm": "third-party", "lab": FIRM}
    opened = {"edition": 1, "parties": parties, "visit": "2026-12-01", "zone": "America/New_York"}
    field.act("third clerk", f"form/{form}", "opened", opened)
    field.ledger.sequencer.integrate()
    assert field.get("clerk", f"/forms/{form}").status_code == 200
    assert field.get(stranger, f"/organizations/{FIRM}").get_json()["keys"] is None
    founded = next(n for n in range(9) if field.get("clerk", f"/entries/{n}").status_code == 200)
    assert field.get(stranger, f"/entries/{founded}").status_code == 404


def _stranger_names(
    field: Field, stranger: str, form: str, parties: dict[str, str], lot: str, sample: str
) -> None:
    """A form of the stranger's that names others as its parties and a lot as its cassette's."""
    opened = {"edition": 1, "parties": parties, "visit": "2026-12-01", "zone": "America/New_York"}
    field.act(stranger, f"form/{form}", "opened", opened)
    field.collect(form, lot, sample, who=stranger)
    field.ledger.sequencer.integrate()


@pytest.mark.parametrize(
    "named", [{"firm": "third-party", "lab": FIRM}, {"firm": FIRM, "lab": "third-party"}]
)
def test_the_file_of_a_form_that_names_others_and_their_lot_holds_nothing_of_them(
    field: Field, stranger: str, named: dict[str, str]
) -> None:
    """Whoever reads a lot number on a form could write it on one of his own, and carry the firm's keys, pumps
    and cassettes home in a file.
    """
    lot, samples = field.lot(2)
    form = field.number("form")
    _stranger_names(field, stranger, form, named, lot, samples[0])
    file = bundle.read(field.get(stranger, f"/forms/{form}/bundle").data)
    chains = {entries.read(each.text).chain for each in file.entries}
    assert chains == {f"form/{form}", "org/third-party"}
    roots = {"third-party": field.roots["third-party"].key.kid}
    report = verify(file, Trust(roots, (parse_vkey(field.ledger.vkey),)), field.ledger.now())
    assert not report.faults
    said = "ML-01" if named["firm"] == "third-party" else "CL-16"  # nothing of the lot: who is not the firm
    assert said in {each["rule"] for each in field.get(stranger, f"/forms/{form}").get_json()["findings"]}


@pytest.mark.parametrize("known", [True, False])
def test_a_lot_of_others_is_told_of_as_of_one_that_nobody_entered(
    field: Field, stranger: str, known: bool
) -> None:
    """Naming the number of a lot on a form of one's own would tell when it goes out of date, and whether it
    was recalled.
    """
    lot, samples = (
        field.lot(2, expiry="2026-06-30") if known else (field.number("lot"), [field.number("sample")])
    )
    form = field.number("form")
    _stranger_names(field, stranger, form, {"firm": "third-party", "lab": "third-party"}, lot, samples[0])
    told = field.get(stranger, f"/forms/{form}").get_json()
    assert {each["rule"] for each in told["findings"] if each["rule"].startswith(("ML", "CL"))} == {"ML-01"}
    assert "2026-06-30" not in str(told)


def test_naming_a_firm_does_not_tell_its_thresholds(field: Field, stranger: str) -> None:
    """A stranger would read a firm's own thresholds off the findings of a form that he opened in its name."""
    root = field.roots[FIRM]
    field.ok(
        field.send(root.sign(f"org/{FIRM}", "policy_set", {"policy": {"edition": 1, "min_cassettes": 17}})),
        root,
    )
    form = field.number("form")
    _stranger_names(
        field,
        stranger,
        form,
        {"firm": FIRM, "lab": "third-party"},
        field.number("lot"),
        field.number("sample"),
    )
    assert "17" not in [
        word
        for each in field.get(stranger, f"/forms/{form}").get_json()["findings"]
        for word in each["sentence"].split()
    ]


def test_a_lot_handed_to_somebody_by_name_is_known_on_their_forms(field: Field, stranger: str) -> None:
    """A laboratory that gives cassettes to a firm must be believed about their expiry before it has received
    one.
    """
    lot = field.number("lot")
    received = {
        "maker_lot": "42-0117",
        "cassette": "slit",
        "expiry": "2026-06-30",
        "count": 2,
        "nominal_flow": "15.0",
        "run_s": 300,
    }
    field.act("keeper", f"lot/{lot}", "lot_received", received)
    sample = field.number("sample")
    field.act("keeper", f"lot/{lot}", "issued", {"samples": [sample], "to": field.people[stranger].key.kid})
    form = field.number("form")
    _stranger_names(field, stranger, form, {"firm": "third-party", "lab": LAB}, lot, sample)
    assert "ML-02" in {each["rule"] for each in field.get(stranger, f"/forms/{form}").get_json()["findings"]}
    file = bundle.read(field.get(stranger, f"/forms/{form}/bundle").data)
    assert f"lot/{lot}" in {entries.read(each.text).chain for each in file.entries}


def test_a_key_that_somebody_else_holds_is_not_known_to_be_enrolled(field: Field) -> None:
    """The name of a key stands on every paper: without the key itself nobody learns whose it is, or that it
    was revoked.
    """
    inspector, now = field.people["inspector"], int(field.clock().timestamp())
    answers = []
    for org in (FIRM, LAB):
        text = access.issue(inspector.key, org, ORIGIN, now)
        head, claims, signature = text.split(".")
        forged = f"{head}.{claims}.{'A' * len(signature)}"
        answer = field.client.get("/forms", headers={"Authorization": f"Bearer {forged}"})
        answers.append((answer.status_code, answer.data.replace(org.encode(), b"ORG")))
    assert answers[0] == answers[1]


def test_what_the_public_sees_names_no_person(field: Field) -> None:
    """Sizes and hashes are public so that anybody can watch the log; the people behind it are not."""
    field.faultless()
    for path in ("/health", "/checkpoint", "/openapi.json"):
        answer = field.client.get(path)
        assert answer.status_code in (200, 404)
        persons = [f"{name.replace('-', ' ').title()} Person" for name in field.people]
        assert not [name for name in (*persons, "Perpetua", "Invented Lane") if name in answer.text]


def test_a_key_card_is_for_those_who_may_see_the_keys(field: Field, stranger: str) -> None:
    """A stranger would print another firm's card, and put his own signature under its keys."""
    field.faultless()
    for person in ("clerk", "dock"):
        answer = field.get(person, f"/organizations/{FIRM}/key-card.pdf")
        assert (answer.status_code, answer.content_type) == (200, "application/pdf")
        assert answer.headers["Content-Disposition"] == f'attachment; filename="key-card-{FIRM}.pdf"'
    refused, missing = (
        field.get(stranger, f"/organizations/{org}/key-card.pdf") for org in (FIRM, "nowhere")
    )
    assert (refused.status_code, missing.status_code) == (404, 404)
    assert refused.get_json()["detail"].replace(FIRM, "nowhere") == missing.get_json()["detail"]
