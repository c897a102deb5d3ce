"""A token made from `guides/machines.md` and `formats.md` alone, before the real service."""

from __future__ import annotations

import json
import re
from base64 import b64decode, urlsafe_b64encode
from datetime import UTC, datetime
from hashlib import sha256
from importlib import resources
from typing import Any, Final

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from bailee.signing import access
from bailee.signing.keys import SigningKey
from field import Device, Field
from grounds import on_any

SECTION: Final = (
    (resources.files("bailee") / "guides/machines.md").read_text("utf-8").partition("\n## Access token\n")[2]
)
HEADER, CLAIMS, TOKEN = (
    re.sub(r"\s", "", each) for each in re.findall(r"(?:^    \S+\n)+", SECTION, re.MULTILINE)
)
SEED: Final = bytes.fromhex(re.findall(r"`([0-9a-f]{64})`", SECTION)[0])


def spelled(data: bytes) -> str:
    """Base64url without padding."""
    return urlsafe_b64encode(data).decode().rstrip("=")


def made(claims: dict[str, Any]) -> str:
    """A token as the page has it, by `cryptography` and the standard library."""
    key = Ed25519PrivateKey.from_private_bytes(SEED)
    name = f'{{"crv":"Ed25519","kty":"OKP","x":"{spelled(key.public_key().public_bytes_raw())}"}}'
    header = {
        "alg": "Ed25519",
        "kid": spelled(sha256(name.encode()).digest()),
        "typ": re.findall(r"`typ` = `([^`]+)`", SECTION)[0],
    }
    signed = ".".join(spelled(json.dumps(each, separators=(",", ":")).encode()) for each in (header, claims))
    return f"{signed}.{spelled(key.sign(signed.encode()))}"


def test_the_example_can_be_made_again() -> None:
    """Whoever writes a program by the page would compare their token with one that no one can make."""
    assert made(json.loads(CLAIMS)) == TOKEN
    head, body, _ = (b64decode(f"{part}===", b"-_") for part in TOKEN.split("."))
    assert (head.decode(), body.decode()) == (HEADER, CLAIMS)


@pytest.fixture
def field(make_field: Any) -> Field:
    """A service of the example's name, at its time, where its key has founded its organization."""
    claims = json.loads(CLAIMS)
    found: Field = make_field(start=False, origin=claims["aud"])
    found.clock.now = datetime.fromtimestamp(claims["iat"], UTC)
    root = Device("stranger", claims["iss"], SigningKey.from_seed(SEED), found.clock)
    data = {"name": "Harrow & Field", "jwk": root.key.jwk, "recovery": None}
    found.ok(found.send(root.sign(f"org/{claims['iss']}", "founded", data, aud=claims["aud"])))
    return found


def code(field: Field, token: str) -> tuple[int, str | None]:
    """What the service answers to a question under this token."""
    answer = field.client.get("/forms", headers={"Authorization": f"Bearer {token}"})
    return answer.status_code, (answer.get_json() or {}).get("code")


@on_any
def test_the_service_takes_the_example(field: Field) -> None:
    """A program written by the page would be let in by no ledger."""
    assert code(field, TOKEN) == (200, None)
    assert code(field, TOKEN) == (200, None), "as often as you like"
    field.ledger.sequencer.integrate()
    origin = field.client.get("/checkpoint").text.split("\n")[0]
    assert origin == json.loads(CLAIMS)["aud"]


@on_any
@pytest.mark.parametrize(
    ("changes", "answer"),
    [
        ({"iat": ...}, (401, "bad-token")),
        ({"exp": 1.5}, (401, "bad-token")),
        ({"iat": 1_764_590_521, "exp": 1_764_590_821}, (401, "token-expired")),
        ({"iss": "quill-lab"}, (403, "unknown-key")),
        ({"aud": "custody.example.org/log2"}, (422, "wrong-audience")),
        ({"iat": 1_764_590_520}, (200, None)),
        ({"more": "x"}, (200, None)),
    ],
)
def test_refusals_are_those_of_the_page(
    field: Field, changes: dict[str, Any], answer: tuple[int, str | None]
) -> None:
    """Whoever is refused looks up a code that the page does not have."""
    claims = {name: each for name, each in (json.loads(CLAIMS) | changes).items() if each is not ...}
    assert code(field, made(claims)) == answer
    assert answer[1] is None or f"`{answer[1]}`" in SECTION


@on_any
def test_another_signature_is_the_key_of_nobody(field: Field) -> None:
    """The page would send somebody to their administrator for a program that signs wrongly."""
    assert code(field, f"{TOKEN[:-4]}AAAA") == (403, "unknown-key")


def test_the_figures_of_the_page_are_those_of_the_program() -> None:
    """A token would be made for ten minutes and end after five."""
    told = {
        int(each) for each in re.findall(r"(?<![\d.`])(\d{3})(?![\d.])", SECTION.partition("An example")[0])
    }
    assert told == {access.LIMIT, access.LIFETIME_S, access.CLOCK_LEEWAY_S, 401, 403, 422}
    assert f"`{access.TYP}`" in SECTION
