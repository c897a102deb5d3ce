"""Access tokens and key proofs: the same key, other purposes (RFC 8725 3.11, explicit typing)."""

from collections.abc import Callable
from typing import Any

import pytest
from spoken import CLAIMS, KEY, NOW, ORG, ORIGIN, OTHER_KEY

from bailee.errors import BaileeError, Forged, Malformed
from bailee.signing import access, compact, key_proof, signed_statement


def token(**changes: Any) -> str:
    """A well signed token over the usual claims with members replaced, `...` left out."""
    body = {"aud": ORIGIN, "exp": NOW + 300, "iat": NOW, "iss": ORG, **changes}
    return compact.write(KEY, access.TYP, {name: value for name, value in body.items() if value is not ...})


def code_at(now: int, text: str | None = None) -> str | None:
    """How a token made at `NOW` is refused at `now`; None when it is not."""
    try:
        access.read(text or access.issue(KEY, ORG, ORIGIN, NOW)).verify(KEY.public, ORIGIN, now)
    except BaileeError as error:
        return error.code
    return None


def test_a_token_says_who_asks() -> None:
    """The dock would see another firm's envelopes."""
    found = access.read(access.issue(KEY, ORG, ORIGIN, NOW))
    assert (found.kid, found.iss, found.aud, found.iat, found.exp) == (KEY.kid, ORG, ORIGIN, NOW, NOW + 300)
    found.verify(KEY.public, ORIGIN, NOW)


@pytest.mark.parametrize(
    ("now", "code"),
    [
        (NOW - 121, "token-expired"),
        (NOW - 120, None),
        (NOW, None),
        (NOW + 299, None),
        (NOW + 419, None),
        (NOW + 420, "token-expired"),
        (NOW + 86_400, "token-expired"),
    ],
)
def test_the_edges_of_its_few_minutes(now: int, code: str | None) -> None:
    """A phone two minutes off would be locked out, or a stolen token work for hours."""
    assert code_at(now) == code


@pytest.mark.parametrize(("lifetime", "last"), [(60, 179), (300, 419), (10**6, 419), (-500, None)])
def test_a_token_cannot_give_itself_more_time(lifetime: int, last: int | None) -> None:
    """A device could make itself a token for ever, and a lost phone would keep reading."""
    text = token(exp=NOW + lifetime)
    good = [second for second in range(-130, 500) if code_at(NOW + second, text) is None]
    assert (good[-1] if good else None) == last


def test_a_token_for_another_ledger_is_refused() -> None:
    """A hostile ledger could use the token a phone gave it to read from ours."""
    with pytest.raises(Forged) as refusal:
        access.read(access.issue(KEY, ORG, "elsewhere.example.org/log1", NOW)).verify(KEY.public, ORIGIN, NOW)
    assert refusal.value.code == "wrong-audience"


def test_a_token_of_another_key_is_refused() -> None:
    """Anybody could read in somebody else's name."""
    with pytest.raises(Forged):
        access.read(access.issue(OTHER_KEY, ORG, ORIGIN, NOW)).verify(KEY.public, ORIGIN, NOW)
    head, _, signature = access.issue(KEY, ORG, ORIGIN, NOW).rpartition(".")
    swapped = f"{head}.{'B' if signature[0] == 'A' else 'A'}{signature[1:]}"
    assert code_at(NOW, swapped) == "bad-signature"


@pytest.mark.parametrize(
    "changes",
    [
        {"iss": ...},
        {"aud": ...},
        {"iat": ...},
        {"exp": ...},
        {"iss": 5},
        {"aud": [ORIGIN]},
        {"iat": "5"},
        {"exp": True},
        {"iat": None},
        {"aud": "x" * 1000},
    ],
)
def test_a_token_without_its_claims_is_refused(changes: dict[str, Any]) -> None:
    """A damaged token would crash the service."""
    with pytest.raises(Malformed) as refusal:
        access.read(token(**changes))
    assert refusal.value.code == "bad-token"


@pytest.mark.parametrize("text", ["", "x", "a.b.c", "Bearer x", "é.é.é", "A" * 5000])
def test_text_that_is_no_token_is_refused(text: str) -> None:
    """A stray header value would crash the service."""
    with pytest.raises(Malformed) as refusal:
        access.read(text)
    assert refusal.value.code == "bad-token"


def test_the_longest_names_fit() -> None:
    """An organization with a long name could never sign in."""
    text = access.issue(KEY, "a" * 32, "l" * 128, NOW)
    assert len(text) <= access.LIMIT
    access.read(text).verify(KEY.public, "l" * 128, NOW)


def test_one_use_never_stands_in_for_another() -> None:
    """Asking to read would count as signing for custody, or a statement in the public log open the door."""
    texts = {
        "statement": signed_statement.sign(KEY, CLAIMS),
        "token": access.issue(KEY, ORG, ORIGIN, NOW),
        "proof": key_proof.issue(KEY, ORG, ORIGIN, NOW),
    }
    readers: dict[str, Callable[[str], object]] = {
        "statement": lambda text: signed_statement.open_with(signed_statement.read(text), KEY.public),
        "token": lambda text: access.read(text).verify(KEY.public, ORIGIN, NOW),
        "proof": lambda text: key_proof.check(text, KEY.kid, KEY.public, ORG, ORIGIN),
    }
    codes = {"statement": "bad-statement", "token": "bad-token", "proof": "bad-key-proof"}
    for use, reader in readers.items():
        for kind, text in texts.items():
            if use == kind:
                reader(text)
            else:
                with pytest.raises(BaileeError) as refusal:
                    reader(text)
                assert refusal.value.code == codes[use]


def proof_refused(
    text: str, *, kid: str = KEY.kid, public: bytes = KEY.public, iss: str = ORG, aud: str = ORIGIN
) -> None:
    """Assert that this is no proof of that key for that place."""
    with pytest.raises(Forged) as refusal:
        key_proof.check(text, kid, public, iss, aud)
    assert refusal.value.code == "bad-key-proof"


def test_a_key_proof_is_for_one_key_one_organization_one_log() -> None:
    """An administrator could enroll somebody else's key with a proof made for another place."""
    proof = key_proof.issue(KEY, ORG, ORIGIN, NOW)
    key_proof.check(proof, KEY.kid, KEY.public, ORG, ORIGIN)
    proof_refused(proof, iss="quill-lab")
    proof_refused(proof, aud="elsewhere.example.org/log1")
    proof_refused(proof, kid=OTHER_KEY.kid)
    proof_refused(proof, public=OTHER_KEY.public)
    proof_refused(proof, kid=OTHER_KEY.kid, public=OTHER_KEY.public)
    proof_refused(key_proof.issue(OTHER_KEY, ORG, ORIGIN, NOW))


@pytest.mark.parametrize(
    "claims",
    [
        {},
        {"aud": ORIGIN, "iss": ORG},
        {"aud": ORIGIN, "iat": NOW},
        {"iat": NOW, "iss": ORG},
        {"aud": ORIGIN, "iat": NOW, "iss": ORG, "sub": "x"},
        {"aud": ORIGIN, "iat": str(NOW), "iss": ORG},
        {"aud": ORIGIN, "iat": True, "iss": ORG},
        {"aud": ORIGIN, "iat": -1, "iss": ORG},
        {"aud": [ORIGIN], "iat": NOW, "iss": ORG},
    ],
)
def test_a_key_proof_with_other_claims_is_refused(claims: dict[str, Any]) -> None:
    """A text the new device signed for something else would serve as its consent to be enrolled."""
    proof_refused(compact.write(KEY, key_proof.TYP, claims))


@pytest.mark.parametrize("text", ["", "a.b.c", "A" * 5000])
def test_text_that_is_no_key_proof_is_refused(text: str) -> None:
    """A damaged enrollment would crash the service."""
    proof_refused(text)


def test_the_longest_proof_fits_an_enrollment() -> None:
    """An organization with a long name could never enroll a phone."""
    proof = key_proof.issue(KEY, "a" * 32, "l" * 128, NOW)
    assert len(proof) <= key_proof.LIMIT
    key_proof.check(proof, KEY.kid, KEY.public, "a" * 32, "l" * 128)
