"""Numbers people scan and type: ISO/IEC 7064 MOD 37-2 beside python-stdnum, and every way to mistype one."""

import random
import string
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_2

from bailee.domain import numbers
from bailee.domain.numbers import ALPHABET, LETTERS, Kind
from bailee.errors import BadNumber
from published import rows

KINDS: tuple[Kind, ...] = get_args(Kind)
SAMPLE = "S7K3M9Q2XF4Z"


def issued(kind: Kind, seed: int) -> str:
    """A number that is the same on every run."""
    return numbers.issue(kind, random.Random(seed).choice)


def refusal(text: str, kind: Kind | None = None) -> BadNumber:
    """The error with which `read` refuses."""
    with pytest.raises(BadNumber) as caught:
        numbers.read(text, kind)
    return caught.value


@given(st.text(string.digits + string.ascii_uppercase, min_size=1, max_size=30))
def test_check_character_agrees_with_another_implementation(body: str) -> None:
    """A scanner or spreadsheet that knows ISO/IEC 7064 would call our labels wrong."""
    assert numbers.check_character(body) == mod_37_2.calc_check_digit(body)  # reference: python-stdnum
    assert mod_37_2.is_valid(body + numbers.check_character(body))


@pytest.mark.parametrize(("body", "character"), rows("iso7064", "mod_37_2"))
def test_a_published_check_character(body: str, character: str) -> None:
    """Our own misreading of the standard would be printed on every label."""
    assert numbers.check_character(body) == character


@pytest.mark.parametrize("kind", KINDS)
def test_issued_numbers_have_only_readable_characters(kind: Kind) -> None:
    """A check character * or O could not be typed, or would be taken for another."""
    made = {issued(kind, seed) for seed in range(400)}
    assert len(made) == 400
    for number in made:
        assert len(number) == numbers.LENGTH
        assert set(number) <= set(ALPHABET)
        assert number[0] == LETTERS[kind]
        assert mod_37_2.is_valid(number)
        assert numbers.read(number, kind) == number
        assert numbers.kind_of(number) == kind


def test_a_body_with_an_unreadable_check_character_is_not_issued() -> None:
    """Every eighth label would end in a character that nobody can type."""
    bad = next(
        body
        for body in ("".join(random.Random(seed).choices(ALPHABET, k=10)) for seed in range(1000))
        if numbers.check_character("S" + body) not in ALPHABET
    )
    good = SAMPLE[1:11]
    characters = iter(bad + good)
    assert numbers.issue("sample", lambda _: next(characters))[1:11] == good


def test_the_alphabet_is_crockfords_and_kinds_are_told_apart() -> None:
    """I, L, O or U on a label would be read as 1, 0 or V."""
    assert set(string.digits + string.ascii_uppercase) - set(ALPHABET) == set("ILOU")  # Crockford's base 32
    assert len(set(LETTERS.values())) == len(KINDS)
    assert set(LETTERS.values()) <= set(ALPHABET)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(6))
def test_every_single_wrong_character_is_caught(kind: Kind, seed: int) -> None:
    """A sample number typed with one wrong character would name another living sample."""
    number = issued(kind, seed)
    for position in range(numbers.LENGTH):
        for character in set(string.digits + string.ascii_uppercase) - {number[position]}:
            wrong = number[:position] + character + number[position + 1 :]
            meant = wrong.translate(str.maketrans("ILO", "110"))
            if meant != number:
                refusal(wrong)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(20))
def test_every_swap_of_two_neighbors_is_caught(kind: Kind, seed: int) -> None:
    """Two swapped characters, the commonest slip of all, would name another living sample."""
    number = issued(kind, seed)
    for i in range(numbers.LENGTH - 1):
        swapped = number[:i] + number[i + 1] + number[i] + number[i + 2 :]
        if swapped != number:
            refusal(swapped)


def test_the_number_used_below_is_right() -> None:
    """The tests of reading would try a number that is refused for another reason."""
    assert mod_37_2.is_valid(SAMPLE)


@pytest.mark.parametrize(
    "text",
    [
        SAMPLE,
        SAMPLE.lower(),
        "S7K3 M9Q2 XF4Z",
        " s7k3-m9q2-xf4z\r\n",
        "S7K3\u00a0M9Q2\tXF4Z",
        "HTTPS://CUSTODY.EXAMPLE.ORG/S/S7K3M9Q2XF4Z",
        "https://custody.example.org/s/s7k3m9q2xf4z/",
    ],
)
def test_the_ways_a_number_is_scanned_or_typed(text: str) -> None:
    """A good label would be refused because of how the scanner or a person writes it."""
    assert numbers.read(text, "sample") == SAMPLE
    assert numbers.read(text) == SAMPLE


@given(st.integers(0, 10_000))
def test_letters_that_look_like_digits_are_read_as_digits(seed: int) -> None:
    """A person who reads 0 as O or 1 as l would be sent back to the label."""
    number = issued("sample", seed)
    for digit, looks in (("0", "O"), ("0", "o"), ("1", "I"), ("1", "i"), ("1", "L"), ("1", "l")):
        assert numbers.read(number.replace(digit, looks), "sample") == number


@pytest.mark.parametrize(
    ("text", "position", "character"),
    [
        ("S7K3U9Q2XF4Z", 5, "U"),
        ("s7k3 u9q2 xf4z", 5, "u"),
        ("UUUU", 1, "U"),
        ("S7K3M9Q2XF4*", 12, "*"),
        ("S7K3M9Q2XF4?", 12, "?"),
        ("S7ß3M9Q2XF4Z", 3, "ß"),
        ("S7K3M9ſ2XF4Z", 7, "ſ"),
        ("S7K3M9Q２XF4Z", 8, "２"),
        ("S7K3M9Q2XF4\x00", 12, "\x00"),
    ],
)
def test_a_character_that_cannot_be_is_named_with_its_place(text: str, position: int, character: str) -> None:
    """A person would have to compare the whole number to find one bad character."""
    error = refusal(text, "sample")
    assert error.facts["position"] == position
    assert repr(character) in error.sentence
    assert "a sample number" in error.sentence


@pytest.mark.parametrize("length", [0, 1, 11, 13, 24, 5000])
def test_a_wrong_length_is_said(length: int) -> None:
    """Half a scan would be answered with a riddle."""
    error = refusal((SAMPLE * 500)[:length], "sample")
    assert error.facts["length"] == length
    plural = "" if length == 1 else "s"
    assert f"has {length} character{plural} and a sample number has 12" in error.sentence
    assert len(error.sentence) < 200


@pytest.mark.parametrize("wanted", KINDS)
@pytest.mark.parametrize("given_kind", KINDS)
def test_a_number_of_another_kind_is_named(wanted: Kind, given_kind: Kind) -> None:
    """Scanning the lot label in place of the sample label would be called a mistyped number."""
    number = issued(given_kind, 3)
    if wanted == given_kind:
        assert numbers.read(number, wanted) == number
    else:
        error = refusal(number, wanted)
        assert error.facts["kind"] == given_kind
        assert error.facts["position"] == 1
        assert f"is a{'n' if given_kind == 'envelope' else ''} {given_kind} number" in error.sentence


def test_a_first_letter_of_no_kind_is_named() -> None:
    """A label from elsewhere would be blamed on a typing slip."""
    kinds: tuple[Kind | None, ...] = (None, "sample")
    for kind in kinds:
        error = refusal("Z7K3M9Q2XF4Z", kind)
        assert error.facts["position"] == 1
        assert "'Z'" in error.sentence


def test_the_only_swap_that_helps_is_offered() -> None:
    """A person would retype all twelve characters for one pair swapped."""
    number = SAMPLE
    offered = 0
    for i in range(1, numbers.LENGTH - 1):
        swapped = number[:i] + number[i + 1] + number[i] + number[i + 2 :]
        if swapped == number:
            continue
        error = refusal(swapped, "sample")
        fits = [
            j + 1
            for j in range(1, numbers.LENGTH - 1)
            if swapped[j] != swapped[j + 1]
            and mod_37_2.is_valid(swapped[:j] + swapped[j + 1] + swapped[j] + swapped[j + 2 :])
        ]
        assert error.code == "wrong-check-character"
        if fits == [i + 1]:
            offered += 1
            assert error.facts["position"] == i + 1
            assert error.facts["perhaps"] == number
            assert numbers.grouped(number) in error.sentence
        else:
            assert "perhaps" not in error.facts
    assert offered >= 5


@given(st.lists(st.sampled_from(ALPHABET), min_size=11, max_size=11))
def test_a_hint_is_always_a_number_that_would_be_accepted(characters: list[str]) -> None:
    """The hint itself would be refused, or lead to a guess between several."""
    facts: dict[str, str] = {}
    try:
        numbers.read("S" + "".join(characters), "sample")
    except BadNumber as error:
        facts = error.facts
    if "perhaps" in facts:
        assert numbers.read(facts["perhaps"], "sample") == facts["perhaps"]


@pytest.mark.parametrize("text", [SAMPLE.lower(), "S7K3 M9Q2 XF4Z", f"X/{SAMPLE}", f"{SAMPLE}\n"])
def test_signed_numbers_have_one_spelling(text: str) -> None:
    """One sample would appear under two names in the signed record."""
    assert numbers.require(SAMPLE, "sample") == SAMPLE
    with pytest.raises(BadNumber, match=SAMPLE):
        numbers.require(text, "sample")


def test_a_number_is_printed_in_groups_of_four() -> None:
    """People lose their place in twelve characters without a gap."""
    assert numbers.grouped(SAMPLE) == "S7K3 M9Q2 XF4Z"


@pytest.mark.parametrize(
    ("text", "stored"),
    [
        ("a-1", "A-1"),
        (" 00 123 ", "00123"),
        ("X" * 24, "X" * 24),
        ("C123", "C123"),
        ("C-12345678901", "C-12345678901"),
        ("S7K3M9Q2XF43", "S7K3M9Q2XF43"),
    ],
)
def test_another_makers_seal_is_taken_as_printed(text: str, stored: str) -> None:
    """A clerk with bought seals could not seal at all."""
    assert numbers.read_seal(text) == stored
    assert numbers.read_seal(stored) == stored


def test_our_own_seals_are_checked_however_they_are_read() -> None:
    """One mistyped character at sealing would later look like a broken custody seal."""
    own = issued("seal", 1)
    for text in (
        own,
        own.lower(),
        numbers.grouped(own),
        numbers.grouped(own).replace(" ", "-"),
        f"HTTPS://A.EXAMPLE/C/{own}",
    ):
        assert numbers.read_seal(text) == own
    wrong = own[:5] + ("7" if own[5] != "7" else "8") + own[6:]
    for text in (wrong, numbers.grouped(wrong), numbers.grouped(wrong).replace(" ", "-")):
        with pytest.raises(BadNumber) as caught:
            numbers.read_seal(text)
        assert caught.value.code == "wrong-check-character"


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "seal"])
def test_a_label_of_another_kind_is_no_seal(kind: Kind) -> None:
    """The clerk who scans a cassette into the seal field would sign for a seal that does not exist."""
    number = issued(kind, 2)
    for text in (number, number.lower(), numbers.grouped(number), f"HTTPS://A.EXAMPLE/X/{number}"):
        with pytest.raises(BadNumber) as caught:
            numbers.read_seal(text)
        assert caught.value.facts["kind"] == kind


@pytest.mark.parametrize("text", ["", "A1", "X" * 25, "-12", "12_3", "é123", "12.3", "A\x001", "ß12"])
def test_what_cannot_be_a_seal_number_is_refused(text: str) -> None:
    """A stray scan would be signed as a seal."""
    with pytest.raises(BadNumber):
        numbers.read_seal(text)
