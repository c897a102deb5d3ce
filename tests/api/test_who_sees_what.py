"""Who sees what: organisations see their own forms; to everybody else they look as if they were not there."""

from __future__ import annotations

import pytest

from bailee.signing import access
from field import FIRM, LAB, Field


@pytest.fixture
def stranger(field: Field) -> str:
    """Somebody enrolled with a third organisation."""
    root = field.device("third root", "third-party")
    data = {"name": "Third Party", "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign("org/third-party", "founded", data)), root)
    field.roots["third-party"] = root
    field.people["stranger"] = field.device("stranger", "third-party")
    field.enrol(field.people["stranger"], "inspector")
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


def test_what_the_public_sees_names_no_person(field: Field) -> None:
    """Keys are public so that anybody can verify; the people behind them are not."""
    field.faultless()
    for path in (
        f"/organisations/{FIRM}",
        f"/organisations/{LAB}",
        "/health",
        "/checkpoint",
        "/openapi.json",
    ):
        answer = field.client.get(path)
        assert answer.status_code in (200, 404)
        persons = [f"{name.replace('-', ' ').title()} Person" for name in field.people]
        assert not [name for name in (*persons, "Perpetua", "Invented Lane") if name in answer.text]
