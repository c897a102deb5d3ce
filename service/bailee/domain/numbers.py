"""Numbers that people scan and type: samples, lots, forms, envelopes, seals.

A number is twelve characters, printed in groups of four: a letter for its kind, ten random characters of
Crockford's alphabet (no I L O U, so nothing reads as 1, 0 or V) and a check character, ISO/IEC 7064
MOD 37-2. That system can answer `*` or one of the four excluded letters; such bodies are never issued, so
a check character always reads as well as the rest. MOD 37-2 catches every single wrong character and every
swap of two neighbors.

    S7K3 M9Q2 XF4P     what is printed
    S7K3M9Q2XF4P       what is stored, signed and carried in the QR code

Two numbers may come from somebody else's printer: a custody seal (`read_seal`) and, at the dock, whatever
was read on a seal, which is recorded as it stands and never refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Final, Literal, get_args

from bailee.errors import BadNumber

Kind = Literal["sample", "lot", "form", "envelope", "seal"]

LETTERS: Final[dict[Kind, str]] = {"sample": "S", "lot": "M", "form": "F", "envelope": "E", "seal": "C"}
"""First character of a number, by kind: M as in media, C as in custody seal (L is not in the alphabet)."""

ALPHABET: Final = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH: Final = 12

_VALUES: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
_READ_AS: Final = str.maketrans({"I": "1", "L": "1", "O": "0"})
_KINDS: Final = {letter: kind for kind, letter in LETTERS.items()}
_NAMES: Final[dict[Kind, str]] = {
    "sample": "a sample number",
    "lot": "a lot number",
    "form": "a form number",
    "envelope": "an envelope number",
    "seal": "a seal number",
}
_LABELS: Final[dict[Kind, str]] = {
    "sample": "a cassette label",
    "lot": "a lot label",
    "form": "a form",
    "envelope": "an envelope label",
    "seal": "a custody seal",
}
_ALLOWED: Final = frozenset(ALPHABET)
_OWN_SEAL: Final = re.compile(r"C[0-9A-Z]{3}(-?)[0-9A-Z]{4}\1[0-9A-Z]{4}")
SHORTEST_SEAL: Final = 3
_FOREIGN_SEAL: Final = re.compile(rf"[0-9A-Z][0-9A-Z-]{{{SHORTEST_SEAL - 1},23}}")


def check_character(body: str) -> str:
    """ISO/IEC 7064 MOD 37-2 check character of `body` (0-9, A-Z); may be `*`."""
    total = 0
    for character in body:
        total = (total + _VALUES.index(character)) * 2 % 37
    return _VALUES[(38 - total) % 37]


def issue(kind: Kind, choose: Callable[[str], str]) -> str:
    """Make a new number; `choose(ALPHABET)` picks one character at random (`secrets.choice` in real use)."""
    while True:
        body = LETTERS[kind] + "".join(choose(ALPHABET) for _ in range(LENGTH - 2))
        check = check_character(body)
        if check in ALPHABET:
            return body + check


def grouped(number: str) -> str:
    """The number as printed: groups of four."""
    return " ".join(number[i : i + 4] for i in range(0, len(number), 4))


def kind_of(number: str) -> Kind | None:
    """Which kind the first letter says, if any."""
    return _KINDS.get(number[:1])


def read(text: str, kind: Kind | None = None) -> str:
    """The stored form of a scanned or typed number.

    Accepts lower case, spaces, hyphens, and the address of a label (`HTTPS://HOST/S/S7K3…`). Raises
    `BadNumber` naming what is wrong, with `facts["position"]` (1 = first character) when it can be known.
    """
    typed = re.sub(r"[\s-]", "", text.strip().rstrip("/").rsplit("/", 1)[-1])
    wanted = _NAMES[kind] if kind else "a number"
    number = typed.upper().translate(_READ_AS)
    # ASCII first: upper() would make S of a long s and two letters of a sharp one.
    if not typed.isascii() or not _ALLOWED.issuperset(number):
        position, character = next((at, each) for at, each in enumerate(typed, 1) if not _may_appear(each))
        raise BadNumber(
            f"Character {position} of {_shortly(text)} is {character!r}, which never appears in {wanted}:"
            " read the label again.",
            number=text,
            position=position,
        )
    if len(number) != LENGTH:
        raise BadNumber(
            f"{_shortly(text)} has {len(number)} character{'s' * (len(number) != 1)} and {wanted} has"
            f" {LENGTH}: scan it again or type all of it.",
            number=text,
            length=len(number),
        )
    found = kind_of(number)
    if kind and found != kind:
        said = _NAMES[found] if found else f"a number starting with {number[0]!r}"
        raise BadNumber(
            f"{grouped(number)} is {said}, and {wanted} is needed here: scan the other label.",
            number=number,
            position=1,
            kind=found,
        )
    if found is None:
        raise BadNumber(
            f"{grouped(number)} starts with {number[0]!r}, which is no kind of number used here.",
            number=number,
            position=1,
        )
    if check_character(number[:-1]) != number[-1]:
        _refuse_check(number)
    return number


def _may_appear(character: str) -> bool:
    return character.isascii() and character.upper().translate(_READ_AS) in _ALLOWED


def require(text: str, kind: Kind) -> str:
    """`text`, which must already be in stored form. Raises `BadNumber`."""
    number = read(text, kind)
    if number != text:
        raise BadNumber(f"{text!r} must be written {number}.", number=text)
    return number


def read_seal(text: str) -> str:
    """A custody seal number: one of ours, or as printed by another maker (3 to 24 of 0-9, A-Z, hyphen).

    Twelve characters that begin with C are one of ours and must check; a maker's seal that looks like that is
    written with a hyphen after its first character. A label of another kind is no seal. Raises `BadNumber`.
    """
    tidy = _printed(text)
    if _OWN_SEAL.fullmatch(tidy):
        return read(tidy, "seal")
    if not _FOREIGN_SEAL.fullmatch(tidy):
        raise BadNumber(
            f"{_shortly(text)} cannot be a seal number: write the 3 to 24 letters, digits or hyphens printed"
            " on the seal.",
            number=text,
        )
    if label := label_number(tidy):
        raise BadNumber(
            f"{on_label(label)}, not of a seal: scan the seal.",
            number=label,
            position=1,
            kind=kind_of(label),
        )
    return tidy


def label_number(text: str) -> str | None:
    """The number of one of our labels that was scanned where a seal is read; None for anything else."""
    tidy = _printed(text)
    is_number = len(tidy) == LENGTH and _ALLOWED.issuperset(tidy) and check_character(tidy[:-1]) == tidy[-1]
    return tidy if is_number and kind_of(tidy) not in (None, "seal") else None


def on_label(number: str) -> str:
    """`S7K3 M9Q2 XF4P is the number of a cassette label`."""
    kind = kind_of(number)
    return f"{grouped(number)} is the number of {_LABELS[kind] if kind else 'no label'}"


def _printed(text: str) -> str:
    """What a scanner read of a label or a seal, in capitals; empty where no number could be printed so."""
    printed = re.sub(r"\s", "", text.strip().rstrip("/").rsplit("/", 1)[-1])
    return printed.upper() if printed.isascii() else ""


def _shortly(text: str) -> str:
    """What was typed, quoted, and cut when somebody scanned a whole page into the field."""
    return repr(text if len(text) <= 60 else f"{text[:57]}...")


def _refuse_check(number: str) -> None:
    swaps = list(_valid_swaps(number))
    if len(swaps) == 1:
        position, better = swaps[0]
        raise BadNumber(
            f"{grouped(number)} has a wrong check character. Characters {position} and {position + 1} look"
            f" swapped: if the label reads {grouped(better)}, enter that.",
            code="wrong-check-character",
            number=number,
            position=position,
            perhaps=better,
        )
    raise BadNumber(
        f"{grouped(number)} has a wrong check character, so at least one character is wrong: "
        "scan the label, or type it again.",
        code="wrong-check-character",
        number=number,
    )


def _valid_swaps(number: str) -> Iterator[tuple[int, str]]:
    """Swaps of two neighbors after the kind letter that would make the number right."""
    for i in range(1, LENGTH - 1):
        swapped = number[:i] + number[i + 1] + number[i] + number[i + 2 :]
        if swapped != number and check_character(swapped[:-1]) == swapped[-1]:
            yield i + 1, swapped


assert set(get_args(Kind)) == set(LETTERS)
