"""What somebody hears who has no account: hashes and checkpoints, and of everything else one answer, whatever
is asked about.

Every operation of the OpenAPI document is asked, about what is there and about what is not, by nobody, by a
key that nobody enrolled, and by somebody who knows the name of an enrolled key and has not got it (21 CFR
11.10(d): access limited to authorized individuals).
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

import pytest

from bailee.app import create_app
from bailee.ledger import entry as entries
from bailee.signing import access, key_proof, signed_statement
from bailee.signing.keys import SigningKey
from bailee.store import founding, log
from field import FIRM, LAB, ORIGIN, Client, Device, Field
from grounds import SqliteGround

HASHES: Final = {
    "GET /health",
    "GET /live",
    "GET /ready",
    "GET /checkpoint",
    "GET /proofs/inclusion",
    "GET /proofs/consistency",
    "GET /tile/{level}/{tile}",
}
"""What anybody may read: sizes, hashes, checkpoints, and whether the service is well."""
BROUGHT: Final = {"POST /entries", "POST /checkpoint/cosignatures", "POST /permission/founding"}
"""What anybody may bring: it is signed, and tried below by who signed it."""
BODIES: Final[Mapping[str, Any]] = {
    "POST /readiness": {
        "act": "received",
        "data": {
            "items": [{"sample": "<sample>", "condition": ["intact"]}],
            "at": "2026-12-01T09:12:00-05:00",
        },
    },
}


@pytest.fixture(scope="module")
def field(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Field]:
    """A ledger with a visit in it, whose operator admits who may found."""
    folder = tmp_path_factory.mktemp("account")
    made, _ = SqliteGround().after(Field.faultless, folder)
    made.ledger.sequencer.integrate()
    made.ledger.database.close()
    made.app = create_app(replace(made.ledger.settings, founding="listed"), made.clock)
    made.app.test_client_class = Client
    made.client, made.ledger = made.app.test_client(), made.app.extensions["ledger"]
    yield made
    made.ledger.database.close()


@pytest.fixture(scope="module")
def there(field: Field) -> dict[str, str]:
    """Numbers that are there, by the names that paths give them."""
    with field.ledger.database.reading() as connection:
        form = field.get("clerk", "/forms").get_json()["forms"][0]["form"]
        told = field.get("clerk", f"/forms/{form}").get_json()
        newest = log.chain(connection, f"form/{form}")[-1]
        digest = signed_statement.digest(entries.read(newest.text).stmt)
    sample = told["samples"][0]
    return {
        "form": form,
        "sample": sample["sample"],
        "envelope": sample["envelope"],
        "lot": sample["lot"],
        "org": FIRM,
        "index": str(newest.index),
        "statement": digest,
        "tile": "000.p/3",
        "kid": field.people["inspector"].key.kid,
    }


def nowhere(field: Field) -> dict[str, str]:
    """Numbers of the same kinds that nobody ever had."""
    kinds = ("form", "sample", "envelope", "lot")
    return {kind: field.number(kind) for kind in kinds} | {  # type: ignore[arg-type]
        "org": "nobody-here", "index": "4711", "statement": "A" * 43, "tile": "000.p/3",
        "kid": "A" * 43,
    }  # fmt: skip


def asked(field: Field, numbers: Mapping[str, str]) -> Iterator[tuple[str, str, str, Any]]:
    """Every operation of the document that is not meant for everybody: its name, method, path and body."""
    document = field.client.get("/openapi.json").get_json()
    for path, methods in document["paths"].items():
        for method in methods:
            name = f"{method.upper()} {path}"
            if name not in HASHES | BROUGHT:
                body = json.loads(json.dumps(BODIES.get(name)).replace("<sample>", numbers["sample"]))
                yield name, method, re.sub(r"\{(\w+)\}", lambda m: numbers[m[1]], path), body


def tokens(field: Field) -> dict[str, dict[str, str]]:
    """Ways to say who asks, of somebody who is nobody here."""
    now, enrolled = int(field.clock().timestamp()), field.people["clerk"].key
    own = SigningKey.from_seed(b"nobody".ljust(32, b"."))
    forged = re.sub(r"[^.]+$", "A" * 86, access.issue(enrolled, FIRM, ORIGIN, now))
    texts = {
        "nobody": "",
        "own key": access.issue(own, FIRM, ORIGIN, now),
        "enrolled key, not held": forged,
    }
    return {who: {"Authorization": f"Bearer {text}"} if text else {} for who, text in texts.items()}


def test_every_operation_tells_nobody_anything(field: Field, there: dict[str, str]) -> None:
    """Anybody on the network could walk the interface and list who works for whom, on which forms."""
    for who, headers in tokens(field).items():
        told = set()
        for numbers in (there, nowhere(field)):
            for name, method, path, body in asked(field, numbers):
                answer = field.app.test_client().open(path, method=method, json=body, headers=headers)
                assert answer.status_code in (401, 403), (who, name, answer.text)
                told.add((answer.status_code, answer.data))
        assert len(told) == 1, who


def test_the_operations_for_everybody_say_hashes_and_nothing_else(
    field: Field, there: dict[str, str]
) -> None:
    """A proof or a health page that names an organization is a list of customers."""
    secret = [FIRM, LAB, *(value for name, value in there.items() if name not in ("index", "tile", "org"))]
    secret += [device.key.kid for device in (*field.people.values(), *field.roots.values())]
    paths = (
        "/health",
        "/checkpoint",
        "/proofs/inclusion?index=1&size=3",
        "/proofs/consistency?first=2&second=3",
        "/tile/0/000.p/3",
        "/openapi.json",
    )
    assert {re.sub(r"\?.*", "", path) for path in paths[:4]} <= {name.split()[1] for name in HASHES}
    for path in paths:
        answer = field.app.test_client().get(path)
        assert answer.status_code == 200, path
        assert not [each for each in secret if each.encode() in answer.data], path


def _said(field: Field, device: Device, chain: str, act: str, data: dict[str, Any]) -> tuple[int, bytes]:
    device.seq, device.prev = 0, None
    answer = field.app.test_client().post("/entries", json=device.sign(chain, act, data, after=None))
    return answer.status_code, answer.data


def test_a_statement_of_a_key_that_nobody_enrolled_is_refused_whatever_it_is_about(
    field: Field, there: dict[str, str]
) -> None:
    """Whoever signs anything with a key just made would learn from the refusal which numbers are real."""
    no = nowhere(field)
    for org in (FIRM, LAB):
        told = set()
        for numbers in (there, no):
            for kind in ("form", "lot"):
                device = field.device("somebody", org)
                data = {"sample": numbers["sample"], "reason": "dropped"}
                act, facts = ("voided", data) if kind == "form" else ("recalled", {"reason": "maker"})
                told.add(_said(field, device, f"{kind}/{numbers[kind]}", act, facts))
        assert len(told) == 1
        assert next(iter(told))[0] in (403, 422)


def test_a_founding_that_was_not_admitted_does_not_tell_which_names_are_taken(field: Field) -> None:
    """Trying names would list the organizations here."""
    told = set()
    for org in (FIRM, "nobody-here"):
        device = field.device("somebody", org)
        status, text = _said(field, device, f"org/{org}", "founded", {"name": "Some", "jwk": device.key.jwk})
        told.add((status, text.replace(org.encode(), b"ORG")))
    assert len(told) == 1


def test_whether_a_name_may_be_founded_is_told_to_nobody_who_was_not_admitted(field: Field) -> None:
    """The question before founding would list the organizations here, and the keys that were admitted."""
    told, now = set(), int(field.clock().timestamp())
    for org in (FIRM, "nobody-here"):
        for name, device in (("root", field.roots[FIRM]), ("other", field.device("somebody", org))):
            proof = key_proof.issue(field.device("thief", org).key, org, ORIGIN, 0)
            own = name == "other" and key_proof.issue(device.key, org, ORIGIN, now)
            asked = {"organization": org, "jwk": device.key.jwk, "proof": own or proof}
            answer = field.app.test_client().post("/permission/founding", json=asked)
            said = re.sub(r"[A-Za-z0-9_-]{43}|the one it calls itself by", "KID", answer.text)
            told.add((answer.status_code, said))
    assert len(told) == 1, told
    assert next(iter(told))[0] == 200


def test_an_old_proof_of_an_admitted_key_asks_nothing(field: Field) -> None:
    """Who finds a proof in yesterday's traffic would ask with it which names are taken, for ever."""
    root, now = field.roots[FIRM], int(field.clock().timestamp())
    field.ledger.database.write(lambda connection: founding.admit(connection, root.key.kid))
    told = {}
    for made in (now - 3601, now - 3600, now + 3600, now + 3601):
        proof = key_proof.issue(root.key, FIRM, ORIGIN, made)
        asked = {"organization": FIRM, "jwk": root.key.jwk, "proof": proof}
        told[made - now] = field.app.test_client().post("/permission/founding", json=asked).text
    assert {made for made, said in told.items() if "has been founded here already" in said} == {-3600, 3600}
    assert "check the clock of the device" in told[-3601]
    assert told[-3601] == told[3601]


def test_a_key_of_no_organization_here_is_answered_like_one_that_was_not_enrolled(field: Field) -> None:
    """The name of an organization in a statement would be a question whether it is there."""
    told = set()
    for org in (FIRM, "nobody-here"):
        device = field.device("somebody", org)
        data = {"sample": field.number("sample"), "reason": "dropped"}
        status, text = _said(field, device, f"form/{field.number('form')}", "voided", data)
        told.add((status, text.replace(org.encode(), b"ORG")))
    assert len(told) == 1
