"""Base64 text with one spelling (RFC 4648, RFC 7515)."""

import base64
import string
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.errors import Malformed
from bailee.ledger.base64url import b64, b64u, unb64, unb64u


@given(st.binary(max_size=200))
def test_agrees_with_the_standard_library(data: bytes) -> None:
    """A phone and the server would disagree about every number, hash and signature."""
    assert b64u(data) == base64.urlsafe_b64encode(data).rstrip(b"=").decode()  # reference: CPython base64
    assert b64(data) == base64.b64encode(data).decode()
    assert unb64u(b64u(data)) == data
    assert unb64(b64(data)) == data


def test_the_example_of_the_jws_standard() -> None:
    """Statements written by any other JOSE software could not be read."""
    octets = bytes([3, 236, 255, 224, 193])  # RFC 7515 appendix C, values from memory
    assert b64u(octets) == "A-z_4ME"
    assert unb64u("A-z_4ME") == octets


def test_each_byte_has_exactly_one_text() -> None:
    """A signed text could be respelled and registered a second time under another hash."""
    alphabet = string.ascii_letters + string.digits + "-_"
    accepted = []
    for pair in map("".join, product(alphabet, repeat=2)):
        try:
            accepted.append(unb64u(pair))
        except Malformed:
            continue
    assert sorted(accepted) == [bytes([value]) for value in range(256)]


@pytest.mark.parametrize(
    "text",
    [
        "Zh",
        "Zg==",
        "Zg=",
        "A",
        "AAAAA",
        "Zm9v\n",
        " Zm9v",
        "Zm 9v",
        "+_8A",
        "AA/A",
        "Zgé",
        "Ｚg",
        "=",
        "Zm9v====",
        "Z\x00g",
    ],
)
def test_other_spellings_are_refused(text: str) -> None:
    """Stray bits, padding, blanks or the other alphabet would give one value a second text."""
    with pytest.raises(Malformed) as refusal:
        unb64u(text)
    assert refusal.value.code == "not-canonical"


@pytest.mark.parametrize(
    "text", ["Zh==", "Zg", "Zg=", "A", "Zm9v\n", "Zm 9v", "-_8A", "Zgé=", "====", "Zg==Zg=="]
)
def test_other_spellings_in_notes_are_refused(text: str) -> None:
    """A checkpoint could be altered without its signature noticing which spelling was signed."""
    with pytest.raises(Malformed) as refusal:
        unb64(text)
    assert refusal.value.code == "not-canonical"
