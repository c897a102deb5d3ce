"""X25519 as the page reckons it, beside OpenSSL (through `cryptography`), libsodium and RFC 7748."""

import pytest
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from hypothesis import given, settings
from hypothesis import strategies as st
from nacl.bindings import crypto_core_ed25519_is_valid_point, crypto_scalarmult_ed25519_base_noclamp

from bailee.errors import Forged
from bailee.signing import points
from bailee.verify.page import ladder
from thorough import often

BYTES = st.binary(min_size=32, max_size=32)
# u of small order, and spellings of 0 and 1 not below p: nothing is left of any (RFC 7748 6.1).
SMALL = [0, 1, 2**255 - 20, 2**255 - 19, 2**255 - 18]


def by_ladder(scalar: bytes, u: bytes) -> bytes | None:
    """What the page makes of it."""
    try:
        return ladder.PrivateKey.from_private_bytes(scalar).exchange(ladder.PublicKey.from_public_bytes(u))
    except ValueError:
        return None


def by_openssl(scalar: bytes, u: bytes) -> bytes | None:
    """What the library makes of it."""
    try:
        return X25519PrivateKey.from_private_bytes(scalar).exchange(X25519PublicKey.from_public_bytes(u))
    except ValueError:
        return None


def test_the_worked_example_of_the_standard() -> None:
    """The page would call every key weak, or none (RFC 7748 5.2, first vector; from memory, and OpenSSL
    agrees).
    """
    scalar = bytes.fromhex("a546e36bf0527c9d3b16154b82465edd62144c0ac1fc5a18506a2244ba449ac4")
    u = bytes.fromhex("e6db6867583030db3594c1a424b15f7c726624ec26b3353b10a903a6d0ab1c4c")
    expected = bytes.fromhex("c3da55379de9c6908e94ea4df28d084f32eccf03491c71f754b4075577a28552")
    assert by_ladder(scalar, u) == by_openssl(scalar, u) == expected


@given(BYTES, BYTES)
@settings(max_examples=often(40, thorough=150))
def test_agrees_with_openssl_on_any_bytes(scalar: bytes, u: bytes) -> None:
    """Page and command line would disagree about a key."""
    assert by_ladder(scalar, u) == by_openssl(scalar, u)


@pytest.mark.parametrize("u", SMALL)
def test_nothing_is_made_of_points_of_small_order(u: int) -> None:
    """A weak key would be taken for a good one in the page alone."""
    told = u.to_bytes(32, "little")
    assert by_ladder(bytes(32), told) is by_openssl(bytes(32), told) is None


@pytest.mark.parametrize("length", [0, 31, 33])
def test_other_lengths_are_refused(length: int) -> None:
    """A short key would be read as another one."""
    for made in (ladder.PrivateKey.from_private_bytes, ladder.PublicKey.from_public_bytes):
        with pytest.raises(ValueError, match="32 bytes"):
            made(bytes(length))


def of_prime_order(scalar: int) -> bytes:
    """So many times the base point, by libsodium."""
    return crypto_scalarmult_ed25519_base_noclamp(scalar.to_bytes(32, "little"))


@given(st.one_of(BYTES, st.integers(1, 2**250).map(of_prime_order)))
@settings(max_examples=often(20, thorough=60))
def test_keys_are_judged_in_the_page_as_libsodium_judges_them(public: bytes) -> None:
    """A key enrolled at the desk would be refused where the auditor opens the page."""
    scalar = points._MINUS_ONE.private_bytes_raw()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(points, "X25519PublicKey", ladder.PublicKey)
        patch.setattr(points, "_MINUS_ONE", ladder.PrivateKey.from_private_bytes(scalar))
        try:
            points.refuse_weak(public)
            taken = True
        except Forged:
            taken = False
    assert taken == crypto_core_ed25519_is_valid_point(public)
