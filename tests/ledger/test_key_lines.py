"""The five lines in which people read and type keys: what is printed is read back, and whatever is mistyped
is found, with its line.
"""

from __future__ import annotations

import base64
from hashlib import sha256
from itertools import combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.errors import Malformed
from bailee.ledger import fingerprint
from bailee.ledger.base64url import b64u
from bailee.signing import vkeys
from bailee.verify import trust

KEY = sha256(b"key card example").digest()
PRINTED = """
1 XZC9 DZ11 1B2Z  V
2 FB4P FF5D T3VC  Z
3 SF8G B5DN 1DTV  W
4 BM0B S74A N904  T
5 MJ1G  D
"""
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CHECKS = ALPHABET + "*~$=U"
MEANT = "".join(PRINTED.split())
STARTS = (0, 14, 28, 42, 56)
"""Where each line begins in `MEANT`."""


def line_of(text: str) -> int | None:
    """The line that is named, None when all is believed."""
    try:
        fingerprint.read_lines(text)
    except Malformed as error:
        said = f"Line {error.facts['line']} of the five lines"
        return int(error.facts["line"]) if error.code == "key-line" and said in error.sentence else -1
    return None


@pytest.mark.parametrize(
    ("number", "symbol"),
    [
        ("16J", "D"),
        ("H88CMK9BVJ1V", "P"),
        ("H88CMK9BVJ1W", "Q"),
        ("H88CMK9BVJV1", "E"),
        ("H88CMK9BVJ10", "*"),
    ],
)
def test_the_check_symbol_is_crockfords(number: str, symbol: str) -> None:
    """Nobody could check a line with another program, or by hand.

    Source: Crockford, Base 32 (modulo 37, `*~$=U`); 1234 is 16JD in Encode::Base32::Crockford and
    CrockfordBase32; the others are J. D. Cook's examples, Check sums and error detection, 2018.
    """
    assert fingerprint.check_symbol(number) == symbol


def test_a_key_is_printed_as_its_256_bits() -> None:
    """A line would stand for another key than the one it is printed for (Crockford's alphabet, reckoned here
    by hand; RFC 4648 6 for the order of bits).
    """
    assert "\n".join(fingerprint.lines(KEY)) == PRINTED.strip()
    body = "".join(MEANT[start + 1 : end - 1] for start, end in zip(STARTS, (*STARTS[1:], 62), strict=True))
    number = 0
    for each in body:
        number = number * 32 + ALPHABET.index(each)
    assert (number >> 4).to_bytes(32, "big") == KEY
    for start, end in zip(STARTS, (*STARTS[1:], 62), strict=True):
        value = 0
        for each in MEANT[start : end - 1]:
            value = value * 32 + ALPHABET.index(each)
        assert CHECKS[value % 37] == MEANT[end - 1]


@given(
    st.binary(min_size=32, max_size=32), st.sampled_from((" ", "-", "", "\n", "  ", "\r\n")), st.booleans()
)
def test_every_key_is_read_back_however_it_is_spaced(key: bytes, between: str, lower: bool) -> None:
    """Somebody types it without spaces, in small letters, and is told that a right key is wrong."""
    text = between.join(" ".join(fingerprint.lines(key)).split())
    assert fingerprint.read_lines(text.lower() if lower else text) == key
    assert fingerprint.read_name(text) == b64u(key)
    assert fingerprint.read_name(b64u(key)) == b64u(key)


def test_letters_that_are_not_printed_are_read_as_the_digits_they_look_like() -> None:
    """A hand that writes 1 like l and 0 like O would make a right line wrong (Crockford, decoding)."""
    assert fingerprint.read_lines(PRINTED.replace("DZ11", "DZIl").replace("N904", "N9o4")) == KEY


def test_every_single_wrong_character_is_found_in_its_line() -> None:
    """One wrong letter would be another key, and an honest file somebody else's."""
    missed = [
        (at, other)
        for at, meant in enumerate(MEANT)
        for other in CHECKS
        if other != meant
        and line_of(MEANT[:at] + other + MEANT[at + 1 :]) != sum(at >= each for each in STARTS)
    ]
    assert missed == []


def test_every_swap_of_two_neighbors_is_found_in_its_line() -> None:
    """The commonest slip of all would go by unseen."""
    for at in range(len(MEANT) - 1):
        if MEANT[at] != MEANT[at + 1]:
            swapped = MEANT[:at] + MEANT[at + 1] + MEANT[at] + MEANT[at + 2 :]
            assert line_of(swapped) == sum(at >= each for each in STARTS), at


@given(st.binary(min_size=32, max_size=32), st.data())
def test_a_slip_in_any_key_is_found_in_its_line(key: bytes, data: st.DataObject) -> None:
    """What holds for the example must hold for the keys people have."""
    meant = "".join("".join(fingerprint.lines(key)).split())
    at = data.draw(st.integers(0, len(meant) - 1))
    other = data.draw(st.sampled_from([each for each in CHECKS if each != meant[at]]))
    assert line_of(meant[:at] + other + meant[at + 1 :]) == sum(at >= each for each in STARTS)


def test_lines_that_changed_places_or_are_missing_are_found() -> None:
    """Each line alone checks; only its number tells that it is the wrong one."""
    lines = PRINTED.split("\n")[1:6]
    for first, second in combinations(range(5), 2):
        moved = [*lines]
        moved[first], moved[second] = lines[second], lines[first]
        assert line_of("\n".join(moved)) == first + 1
    for at, twice in product(range(5), repeat=2):
        if at != twice:
            assert line_of("\n".join([*lines[:at], lines[twice], *lines[at + 1 :]])) == at + 1
    assert line_of("\n".join(lines[:4])) == 5
    assert line_of("\n".join([lines[0], *lines[2:]])) == 2
    assert line_of("\n".join([*lines, "X"])) == 5
    assert line_of("") == 1


def test_bits_that_no_key_has_are_refused() -> None:
    """One key would have sixteen writings, and two people comparing them would not agree."""
    body = f"5{MEANT[57:60]}H"
    assert line_of(MEANT[:56] + body + fingerprint.check_symbol(body)) == 5


@pytest.mark.parametrize(
    "text", ["", "A" * 42, "A" * 44, "A" * 42 + "B", "harrow-field", base64.b32encode(KEY).decode()]
)
def test_what_is_no_name_of_a_key_is_refused(text: str) -> None:
    """A key that nobody has would be admitted, or pinned."""
    with pytest.raises(Malformed) as caught:
        fingerprint.read_name(text)
    assert caught.value.code == "bad-key-name"


@pytest.mark.parametrize("text", ["A" * 42 + "B", "A" * 42 + "!", "A" * 20 + " " + "A" * 22])
def test_a_name_of_the_right_length_is_not_asked_for_its_length(text: str) -> None:
    """Who typed 43 characters would count them again, and not look for the wrong one."""
    with pytest.raises(Malformed, match="at least one character of it is wrong") as caught:
        fingerprint.read_name(text)
    assert "43" not in caught.value.sentence


def test_lines_typed_without_their_numbers_are_told_what_is_wanting() -> None:
    """Who left out the numbers, which look like a list's, would type five good lines again and again."""
    bare = " ".join(line[2:] for line in fingerprint.lines(KEY))
    for read in (fingerprint.read_name, lambda text: trust.root(f"quill-lab={text}")):
        with pytest.raises(Malformed, match="the number at the front of each"):
            read(bare)
    for text in (f"log.example/one={bare}", bare):
        with pytest.raises(Malformed, match="= and the five lines, the number at the front of each"):
            vkeys.read_log(text)


@pytest.mark.parametrize("letter", ["ſ", "ı", "К", "\N{FULLWIDTH DIGIT ONE}"])
def test_letters_of_other_scripts_are_not_taken_for_ours(letter: str) -> None:
    """A text made to look right would read as another key than the eye sees."""
    assert line_of(MEANT[:4] + letter + MEANT[5:]) == 1
