"""A new key proves that its owner holds it, for one organization and one log, before anybody enrolls it."""

from __future__ import annotations

import pytest
from spoken import KEY, NOW, OTHER_KEY

from bailee.errors import Forged
from bailee.signing import compact, key_proof

ORG, LOG = "harrow-field", "ledger.example/log1"


def refused(
    text: str, *, kid: str = KEY.kid, public: bytes = KEY.public, org: str = ORG, log: str = LOG
) -> bool:
    """Whether the proof is refused."""
    with pytest.raises(Forged) as found:
        key_proof.check(text, kid, public, org, log)
    return found.value.code == "bad-key-proof"


def test_a_key_proves_itself() -> None:
    """If this fails, nobody new can be enrolled."""
    key_proof.check(key_proof.issue(KEY, ORG, LOG, NOW), KEY.kid, KEY.public, ORG, LOG)


@pytest.mark.parametrize(
    "change",
    [
        {"kid": OTHER_KEY.kid},
        {"public": OTHER_KEY.public},
        {"kid": OTHER_KEY.kid, "public": OTHER_KEY.public},
        {"org": "third-party"},
        {"log": "ledger.example/other"},
    ],
)
def test_a_proof_serves_one_key_one_organization_and_one_log(change: dict[str, object]) -> None:
    """Otherwise somebody could have another person's key enrolled as their own."""
    assert refused(key_proof.issue(KEY, ORG, LOG, NOW), **change)  # type: ignore[arg-type]


def test_the_first_second_is_a_time() -> None:
    """A clock that starts at zero must not make a key impossible to enroll."""
    key_proof.check(key_proof.issue(KEY, ORG, LOG, 0), KEY.kid, KEY.public, ORG, LOG)


@pytest.mark.parametrize("claims", [{}, {"iat": -1}, {"iat": "1"}, {"iat": True}, {"more": 1}])
def test_other_claims_are_no_proof(claims: dict[str, object]) -> None:
    """A signed text made for something else must not pass for consent to be enrolled."""
    said = {"aud": LOG, "iss": ORG, "iat": NOW, **claims} if claims else {"aud": LOG}
    assert refused(compact.write(KEY, "custody-key-proof+jwt", said))
