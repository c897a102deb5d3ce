"""A signed statement and every way to spoil it."""

import base64
import hashlib
import json
import string
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from spoken import CLAIMS, KEY, NOW, OTHER_KEY, claims

from bailee.domain.moments import Moment
from bailee.errors import BaileeError, Forged, Malformed
from bailee.signing import compact, keys, signed_statement
from bailee.signing.signed_statement import SignedStatement, Unverified

ALPHABET = string.ascii_letters + string.digits + "-_"
TEXT = signed_statement.sign(KEY, CLAIMS)
HEADER, PAYLOAD, SIGNATURE = TEXT.split(".")


def b64(data: bytes) -> str:
    """Reference: CPython base64."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def sealed_over(header: str, payload: str) -> str:
    """A good signature over any two texts, as a malicious owner of the key could make it."""
    return f"{header}.{payload}.{b64(KEY.sign(f'{header}.{payload}'.encode()))}"


def opened(text: str) -> SignedStatement:
    """Read and checked with the right key."""
    return signed_statement.open_with(signed_statement.read(text), KEY.public)


def refusal_of(text: str) -> str:
    """The code with which reading or checking it is refused."""
    with pytest.raises((Malformed, Forged)) as refusal:
        opened(text)
    return refusal.value.code


def said(**members: Any) -> str:
    """A well signed text over the usual claims with members replaced, `...` left out."""
    changed = CLAIMS.to_json() | members
    body = {name: value for name, value in changed.items() if value is not ...}
    return sealed_over(HEADER, b64(json.dumps(body).encode()))


def test_what_was_signed_is_read_back() -> None:
    """What the laboratory reads would not be what the inspector signed."""
    statement = opened(TEXT)
    assert statement.claims == CLAIMS
    assert statement.kid == KEY.kid
    assert statement.text == TEXT
    assert statement.signing_input == f"{HEADER}.{PAYLOAD}"
    assert statement.digest == b64(hashlib.sha256(TEXT.encode()).digest()) == signed_statement.digest(TEXT)
    assert json.loads(base64.urlsafe_b64decode(PAYLOAD + "==")) == CLAIMS.to_json()


def test_the_shortest_statement_is_read_back() -> None:
    """The first statement of a phone that was never online could not be signed."""
    least = claims(refs=(), seen=None, prev=None)
    assert opened(signed_statement.sign(KEY, least)).claims == least


def test_a_fresh_key_is_new_and_works() -> None:
    """Two phones would get one key, or a key that cannot be enrolled."""
    fresh = [keys.SigningKey.generate() for _ in range(3)]
    assert len({key.kid for key in fresh}) == 3
    for key in fresh:
        text = signed_statement.sign(key, CLAIMS)
        assert (
            signed_statement.open_with(signed_statement.read(text), keys.public_bytes(key.jwk)).kid == key.kid
        )


def test_it_is_verified_by_the_key_it_names_only() -> None:
    """Somebody who looks keys up wrongly would credit one person with another's words."""
    with pytest.raises(Forged) as refusal:
        signed_statement.open_with(signed_statement.read(TEXT), OTHER_KEY.public)
    assert refusal.value.code == "wrong-key-name"
    header = b64(json.dumps({"alg": "Ed25519", "kid": OTHER_KEY.kid, "typ": signed_statement.TYP}).encode())
    with pytest.raises(Forged) as refusal:
        signed_statement.open_with(signed_statement.read(sealed_over(header, PAYLOAD)), OTHER_KEY.public)
    assert refusal.value.code == "bad-signature"


def test_only_checking_makes_a_signed_statement() -> None:
    """A programmer in a hurry could pass an unchecked text on as a checked one."""
    with pytest.raises(TypeError):
        SignedStatement(TEXT, KEY.kid, CLAIMS, {}, object())


def test_every_change_of_one_character_is_refused() -> None:
    """A single altered letter in the database would go unseen."""
    for position, old in enumerate(TEXT):
        for new in (ALPHABET[(ALPHABET.find(old) + 1) % 64], ALPHABET[(ALPHABET.find(old) + 16) % 64]):
            refusal_of(TEXT[:position] + new + TEXT[position + 1 :])


@given(st.integers(0, len(TEXT) - 1), st.characters(exclude_categories=["Cs"]))
def test_any_character_anywhere_is_refused(position: int, character: str) -> None:
    """A text would be accepted that is not the one that was signed."""
    for changed in (
        TEXT[:position] + character + TEXT[position + 1 :],
        TEXT[:position] + character + TEXT[position:],
    ):
        if changed != TEXT:
            refusal_of(changed)


@given(st.integers(0, len(TEXT)), st.integers(0, len(TEXT)))
def test_any_cut_is_refused(start: int, end: int) -> None:
    """A text cut off by a bad connection would be taken for the whole."""
    if start < end:
        refusal_of(TEXT[:start] + TEXT[end:])


def _trailing_bits(part: str) -> list[str]:
    """Spellings of `part` that decode to the same bytes: the unused bits of the last character set."""
    unused = {2: 4, 3: 2}.get(len(part) % 4, 0)
    last = ALPHABET_64.index(part[-1])
    return [part[:-1] + ALPHABET_64[last ^ bits] for bits in range(1, 1 << unused)]


ALPHABET_64 = string.ascii_uppercase + string.ascii_lowercase + string.digits + "-_"


@pytest.mark.parametrize("place", [0, 1, 2])
def test_every_other_spelling_of_the_same_bytes_is_refused(place: int) -> None:
    """One statement would have many digests, and could be registered again under each."""
    seen = 0
    # Payloads of three lengths, so that every number of unused bits occurs.
    for reason in ("x", "xy", "xyz"):
        parts = signed_statement.sign(KEY, claims(data={"reason": reason, "url": "~~~???"})).split(".")
        part = parts[place]
        others = [
            *_trailing_bits(part),
            part + "=",
            part + "==",
            part + "\n",
            part + " ",
            " " + part,
            part[:5] + "\n" + part[5:],
            part + "\x00",
            part.replace("-", "+"),
            part.replace("_", "/"),
            part + "é",
        ]
        for other in others:
            if other != part:
                seen += 1
                text = ".".join([*parts[:place], other, *parts[place + 1 :]])
                assert refusal_of(text) in {"not-canonical", "bad-statement"}
    assert seen >= 24


@pytest.mark.parametrize(
    "text",
    [
        "",
        ".",
        "..",
        "...",
        TEXT + ".",
        "." + TEXT,
        TEXT + "." + SIGNATURE,
        f"{HEADER}.{PAYLOAD}",
        f"{HEADER}..{SIGNATURE}",
        f".{PAYLOAD}.{SIGNATURE}",
        TEXT + "\n",
        TEXT.replace(".", "．"),
        f"{HEADER}.{PAYLOAD}.",
        json.dumps({"protected": HEADER, "payload": PAYLOAD, "signature": SIGNATURE}),
    ],
)
def test_other_shapes_are_refused(text: str) -> None:
    """Another form of the same signature would slip past the exact text that is hashed."""
    assert refusal_of(text) == "not-canonical"


GOOD_HEADER = {"alg": "Ed25519", "kid": KEY.kid, "typ": signed_statement.TYP}


@pytest.mark.parametrize(
    "changes",
    [
        {"alg": "EdDSA"},
        {"alg": "none"},
        {"alg": "HS256"},
        {"alg": "ed25519"},
        {"alg": ...},
        {"alg": None},
        {"kid": ...},
        {"kid": "A" * 42},
        {"kid": "A" * 44},
        {"kid": 5},
        {"kid": "A" * 42 + "+"},
        {"kid": [KEY.kid]},
        {"typ": ...},
        {"typ": "JWT"},
        {"typ": "custody-access+jwt"},
        {"typ": "Custody-Statement+sd-jwt"},
        {"jwk": dict(KEY.jwk)},
        {"jku": "https://keys.example.org"},
        {"x5c": []},
        {"crit": ["b64"], "b64": False},
        {"b64": True},
        {"cty": "json"},
        {"iat": 5},
        {"": ""},
    ],
)
def test_a_header_with_anything_else_is_refused(changes: dict[str, Any]) -> None:
    """The text itself would tell the verifier which key or algorithm to believe."""
    header = {name: value for name, value in {**GOOD_HEADER, **changes}.items() if value is not ...}
    assert refusal_of(sealed_over(b64(json.dumps(header).encode()), PAYLOAD)) == "bad-statement"


@pytest.mark.parametrize("header", ["[]", "5", "null", '"Ed25519"', "{}"])
def test_a_header_that_is_no_such_object_is_refused(header: str) -> None:
    """A malformed upload would crash the service."""
    assert refusal_of(sealed_over(b64(header.encode()), PAYLOAD)) == "bad-statement"


def test_a_doubled_header_member_is_refused() -> None:
    """Two verifiers would read two different keys from one header."""
    text = json.dumps(GOOD_HEADER)[:-1] + f',"kid":"{OTHER_KEY.kid}"}}'
    assert refusal_of(sealed_over(b64(text.encode()), PAYLOAD)) == "not-canonical"


def test_a_header_written_by_other_software_is_read() -> None:
    """A phone whose JSON writer keeps another order or spaces could not sign at all."""
    header = b64(json.dumps(dict(reversed(GOOD_HEADER.items()))).encode())
    assert opened(sealed_over(header, PAYLOAD)).claims == CLAIMS


def test_a_header_padded_with_spaces_is_refused() -> None:
    """Remembered headers would fill the memory of the service."""
    long = json.dumps(GOOD_HEADER) + " " * compact.HEADER_LIMIT
    assert refusal_of(sealed_over(b64(long.encode()), PAYLOAD)) == "bad-statement"


@pytest.mark.parametrize(
    ("payload", "code"),
    [
        ("[]", "bad-statement"),
        ("null", "bad-statement"),
        ("{}", "bad-statement"),
        (json.dumps(CLAIMS.to_json())[:-1] + ',"seq":8}', "not-canonical"),
        (json.dumps(CLAIMS.to_json() | {"data": {"height_m": 1.5}}), "not-canonical"),
        (json.dumps(CLAIMS.to_json() | {"data": {"x": float("nan")}}), "not-canonical"),
        (json.dumps(CLAIMS.to_json() | {"seq": 2**53}), "not-canonical"),
        (json.dumps(CLAIMS.to_json() | {"data": {"x": 10**400}}), "not-canonical"),
    ],
)
def test_loose_json_is_refused_even_when_well_signed(payload: str, code: str) -> None:
    """A dishonest signer could make a statement that reads one way here and another way in court."""
    assert refusal_of(sealed_over(HEADER, b64(payload.encode()))) == code


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("iss", [..., None, "", "Harrow", "-a", "a-", "a" * 33, "a b", "ä", 5]),
        ("aud", [..., None, "", "a" * 129, "ä", "a\nb"]),
        ("sub", [..., None, "", "a" * 129, 5]),
        ("act", [..., None, "", "ab", "Voided", "a" * 33, "a-b"]),
        ("iat", [..., None, -1, True, "5", signed_statement.YEAR_2200]),
        (
            "tzo",
            [
                ...,
                None,
                "",
                "-00:00",
                "+14:01",
                "-12:01",
                "-13:00",
                "05:00",
                "Z",
                "-5:00",
                "+01:60",
                ["+01:00"],
            ],
        ),
        ("seq", [..., None, 0, -1, True, "1"]),
        ("prev", [..., "", "A" * 42, "A" * 44, 5]),
        ("after", [..., "", "A" * 42 + "=", []]),
        ("data", [..., None, [], "x"]),
        ("refs", [None, "B" * 43, ["B" * 42], [None]]),
        (
            "seen",
            [
                {},
                {"size": 1},
                {"size": -1, "root": "C" * 43},
                {"size": True, "root": "C" * 43},
                [],
                "x",
                False,
            ],
        ),
        ("_sd", [None, "x", ["B" * 43, "A" * 43], ["A" * 43, "A" * 43], ["A" * 42]]),
        ("_sd_alg", [None, "sha-512", "SHA-256"]),
    ],
)
def test_each_claim_must_have_its_name_and_type(name: str, values: list[Any]) -> None:
    """A statement without its place, time or count would enter the chain and could never be interpreted."""
    for value in values:
        with pytest.raises(Malformed) as refusal:
            signed_statement.read(said(**{name: value}))
        assert refusal.value.code == "bad-statement"
        assert refusal.value.facts["claims"] == [name]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("iss", "a"), ("iss", "a" * 32), ("iss", "3-firms"), ("aud", "a" * 128), ("iat", 0),
        ("iat", signed_statement.YEAR_2200 - 1), ("tzo", "+14:00"), ("tzo", "-12:00"), ("tzo", "+00:00"),
        ("tzo", "+05:45"), ("seq", 1), ("seq", 2**53 - 1), ("prev", None), ("after", "D" * 43),
        ("refs", []), ("refs", ["B" * 43] * 200), ("seen", None), ("seen", ...),
        ("seen", {"size": 0, "root": "C" * 43, "note": "kept"}), ("_sd_alg", "sha-256"), ("data", {}),
    ],
)  # fmt: skip
def test_the_edges_of_each_claim_are_accepted(name: str, value: Any) -> None:
    """A true statement at the edge of what is allowed would be refused."""
    claims_read = opened(said(**{name: value})).claims
    assert Moment.of(claims_read.iat, claims_read.tzo)


def test_faults_are_told_all_at_once() -> None:
    """A programmer connecting a new device would learn of one fault per attempt."""
    with pytest.raises(Malformed) as refusal:
        signed_statement.read(said(iss="?", seq=0, data=[]))
    assert refusal.value.facts["claims"] == ["iss", "seq", "data"]


def test_claims_we_do_not_know_are_kept() -> None:
    """A statement by a newer phone would be refused by an older ledger."""
    text = said(weather="fog")
    assert opened(text).text == text


def test_never_having_been_online_can_be_said_either_way() -> None:
    """A phone that writes the absent checkpoint as null could not register its first statement."""
    assert opened(said(seen=None)).claims.seen is None
    assert opened(said(seen=...)).claims.seen is None


def test_the_size_limit() -> None:
    """A statement too long for a log tile would be signed and then could not be recorded."""

    def of_length(note: int) -> str:
        return signed_statement.sign(KEY, claims(data={"note": "x" * note}))

    room = (signed_statement.LIMIT - len(of_length(0))) * 3 // 4
    fits = next(note for note in range(room + 3, room - 6, -1) if _fits(note))
    assert signed_statement.LIMIT - 2 < len(of_length(fits)) <= signed_statement.LIMIT
    with pytest.raises(Malformed) as refusal:
        of_length(fits + 2)
    assert refusal.value.code == "too-large"
    with pytest.raises(Malformed):
        signed_statement.read("A" * 10_000_000)


def _fits(note: int) -> bool:
    try:
        signed_statement.sign(KEY, claims(data={"note": "x" * note}))
    except Malformed:
        return False
    return True


@pytest.mark.parametrize(
    "changes",
    [
        {"data": {"flow": 15.0}},
        {"data": {"big": 2**60}},
        {"seq": 0},
        {"iss": ""},
        {"data": {"text": "\ud800"}},
        {"tzo": "Z"},
        {"data": {"deep": [[[[[[[]]]]]] * 40]}, "iat": -5},
    ],
)
def test_nothing_is_signed_that_would_be_refused(changes: dict[str, Any]) -> None:
    """The device would use up a place in its count for a statement no ledger takes, and show a
    gap for ever.
    """
    with pytest.raises(Malformed):
        signed_statement.sign(KEY, claims(**changes))


def test_private_digests_are_sorted_when_signed() -> None:
    """The order of the digests would tell which private fields a statement has (RFC 9901 4.2.4.1)."""
    statement = opened(signed_statement.sign(KEY, claims(private=("b" * 43, "a" * 43))))
    assert statement.claims.private == ("a" * 43, "b" * 43)


def test_an_unread_text_says_only_what_it_claims() -> None:
    """A statement with a broken signature could be passed on as if it had been checked."""
    unverified = signed_statement.read(TEXT[:-4] + "AAAA")
    assert isinstance(unverified, Unverified)
    assert not hasattr(unverified, "disclosed")
    with pytest.raises(BaileeError):
        signed_statement.open_with(unverified, KEY.public)
    assert unverified.claims.iat == NOW


def test_every_claim_comes_back_as_it_was_signed() -> None:
    """A claim lost between signing and reading, such as what the device had seen, could not be checked by
    anybody.
    """
    said_so = claims(after="A" * 43, refs=("B" * 43,), seen=signed_statement.Seen(7, "C" * 43))
    text = signed_statement.sign(KEY, said_so)
    assert signed_statement.read(text).claims == said_so
    assert opened(text).claims == said_so


def test_without_disclosures_there_are_no_private_fields() -> None:
    """Withheld must read as an empty list of fields, not as something a screen trips over."""
    assert dict(opened(signed_statement.sign(KEY, claims())).disclosed) == {}
