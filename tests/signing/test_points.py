"""Which public keys may speak, beside libsodium's crypto_core_ed25519_is_valid_point."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nacl.bindings import (
    crypto_core_ed25519_add,
    crypto_core_ed25519_is_valid_point,
    crypto_scalarmult_ed25519_base_noclamp,
)

from bailee.errors import Forged, Malformed
from bailee.ledger.base64url import b64u
from bailee.signing import keys, points
from thorough import often

P = 2**255 - 19
SIGN = 1 << 255


def encoded(value: int) -> bytes:
    """32 bytes, little-endian (RFC 8032 5.1.2)."""
    return value.to_bytes(32, "little")


# The eight points of small order. The two order-8 values are from memory of libsodium's list; the test proves
# each one.
_EIGHT = (
    int.from_bytes(
        bytes.fromhex("26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05"), "little"
    ),
    int.from_bytes(
        bytes.fromhex("c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a"), "little"
    ),
)
TORSION = [encoded(1), encoded(P - 1), encoded(0), encoded(SIGN)]
TORSION += [encoded(y + sign) for y in _EIGHT for sign in (0, SIGN)]

# y not below p, or x = 0 with the sign bit set (RFC 8032 5.1.3).
NOT_CANONICAL = [encoded(P + y + sign) for y in range(19) for sign in (0, SIGN)]
NOT_CANONICAL += [encoded(1 + SIGN), encoded(P - 1 + SIGN)]


def accepted(public: bytes) -> bool:
    """Whether the key may speak."""
    try:
        points.refuse_weak(public)
    except Forged as refusal:
        return refusal.code != "weak-key"
    return True


@pytest.mark.parametrize("public", TORSION, ids=bytes.hex)
def test_points_of_small_order_are_refused(public: bytes) -> None:
    """One fixed signature would fit every form, signed by a key that nobody needs to hold."""
    total = public
    for _ in range(3):  # times eight is the identity, says libsodium
        total = crypto_core_ed25519_add(total, total)
    assert total == encoded(1)
    assert not accepted(public)


def test_there_are_eight_points_of_small_order() -> None:
    """One of the weak keys would have been left untested."""
    assert len(set(TORSION)) == 8


@pytest.mark.parametrize("public", NOT_CANONICAL, ids=bytes.hex)
def test_encodings_that_are_not_canonical_are_refused(public: bytes) -> None:
    """One key would have two names, and revoking one would leave the other."""
    assert not accepted(public)
    assert not crypto_core_ed25519_is_valid_point(public)


@given(st.binary(min_size=32, max_size=32))
@settings(max_examples=often(30, thorough=150))
def test_agrees_with_libsodium_on_any_bytes(public: bytes) -> None:
    """A key enrolled here would be refused by an auditor's library."""
    assert accepted(public) == crypto_core_ed25519_is_valid_point(public)


@given(st.integers(min_value=1, max_value=2**250), st.sampled_from(TORSION))
@settings(max_examples=often(20, thorough=80))
def test_a_good_point_with_a_small_order_part_is_refused(scalar: int, torsion: bytes) -> None:
    """A key owner could split the verifiers: some multiply by eight, some do not."""
    good = crypto_scalarmult_ed25519_base_noclamp(encoded(scalar))
    mixed = crypto_core_ed25519_add(good, torsion)
    assert accepted(good)
    assert accepted(mixed) == crypto_core_ed25519_is_valid_point(mixed) == (torsion == encoded(1))


@pytest.mark.parametrize("length", [0, 31, 33, 64])
def test_a_key_of_another_length_is_refused(length: int) -> None:
    """Bytes after the key would give one person two keys with one signature."""
    public = (keys.SigningKey.from_seed(bytes(32)).public * 2)[:length]
    assert not accepted(public)
    with pytest.raises(Malformed):
        keys.public_bytes({"crv": "Ed25519", "kty": "OKP", "x": b64u(public)})


_GOOD = keys.SigningKey.from_seed(bytes(32)).jwk


@pytest.mark.parametrize(
    "jwk",
    [
        None,
        [],
        "key",
        {},
        {**_GOOD, "d": _GOOD["x"]},
        {"crv": "Ed25519", "kty": "OKP"},
        {**_GOOD, "x": 5},
        {**_GOOD, "kty": "EC"},
        {**_GOOD, "crv": "X25519"},
        {**_GOOD, "crv": "Ed448"},
        {**_GOOD, "x": _GOOD["x"] + "="},
        {**_GOOD, "x": _GOOD["x"][:-1]},
        {**_GOOD, "x": ""},
    ],
)
def test_a_jwk_that_is_not_exactly_an_ed25519_public_key_is_refused(jwk: object) -> None:
    """A private key, or a key of another kind, would be written into the log for everybody to read."""
    with pytest.raises(Malformed):
        keys.public_bytes(jwk)
