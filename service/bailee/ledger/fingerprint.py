"""Hashes and keys as people copy them from paper: Crockford's base32, in groups of four; a key in five lines
that check themselves.

    1 XZC9 DZ11 1B2Z  V
    2 FB4P FF5D T3VC  Z
    3 SF8G B5DN 1DTV  W
    4 BM0B S74A N904  T
    5 MJ1G  D

A line is its own number, up to twelve characters of the key, and a check symbol over both: the line read as a
number in base 32, modulo 37 (Crockford, *Base 32*, check symbol). As 37 is prime and larger than 32, every
single wrong character is found, and every swap of two neighbors; because each line bears its number, so are
lines that changed places.
"""

from __future__ import annotations

import base64
import re
from typing import Final

from bailee.domain.numbers import ALPHABET, grouped
from bailee.errors import Malformed
from bailee.ledger.base64url import b64u, unb64u

THUMBPRINT: Final = "urn:ietf:params:oauth:jwk-thumbprint:sha-256:"
"""What stands before the name of a key inside a QR code (RFC 9278)."""

_RFC_4648: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"
_CROCKFORD: Final = str.maketrans(_RFC_4648, ALPHABET)
_BACK: Final = str.maketrans(ALPHABET, _RFC_4648)
_CHECKS: Final = ALPHABET + "*~$=U"
_READ_AS: Final = str.maketrans("ILO", "110")
_BETWEEN: Final = re.compile(r"[\s-]+")
_COUNT: Final = 5
_CHARACTERS: Final = 12
_LENGTH: Final = 52
"""Characters of 256 bits: the last holds one bit and four zeros."""
_NAME: Final = 43
"""Characters of 256 bits in base64url."""


def fingerprint(leaf: str) -> str:
    """All 256 bits of a base64url hash: 52 characters, the last holding one bit and four zeros (RFC 4648 6,
    other letters).

    Half of them, 26, are the least a person may compare: whoever can choose both histories finds two that
    agree in a shorter one.
    """
    return grouped(_characters(unb64u(leaf)))


def read_hash(text: str) -> str:
    """The base64url hash of a fingerprint as somebody typed it: in either case, with any spaces or hyphens.

    Raises `Malformed` ("bad-printed").
    """
    typed = _BETWEEN.sub("", text).upper().translate(_READ_AS)
    if len(typed) == _LENGTH and set(typed) <= set(ALPHABET):
        raw = base64.b32decode(f"{typed.translate(_BACK)}====")
        if _characters(raw) == typed:
            return b64u(raw)
    raise Malformed(
        f"A printed hash has {_LENGTH} characters in groups of four. This has {len(typed)}, or one that never"
        " appears in it: type it again.",
        code="bad-printed",
    )


def check_symbol(characters: str) -> str:
    """Check symbol of a number in Crockford's base32: one of its 32 characters, or `*~$=U`."""
    value = 0
    for each in characters:
        value = (value * 32 + ALPHABET.index(each)) % 37
    return _CHECKS[value]


def lines(key: bytes) -> tuple[str, ...]:
    """The five lines of 256 bits, as they are printed."""
    text = _characters(key)
    parts = (text[at : at + _CHARACTERS] for at in range(0, _LENGTH, _CHARACTERS))
    return tuple(f"{n} {grouped(part)}  {check_symbol(f'{n}{part}')}" for n, part in enumerate(parts, 1))


def read_lines(text: str) -> bytes:
    """The 256 bits of five lines, as somebody typed them: in either case, with any spaces, hyphens and line
    breaks, or none.

    Raises `Malformed` ("key-line") naming the first `line` (1 to 5) that cannot be right.
    """
    typed = "".join(each.upper() if each.isascii() else each for each in _BETWEEN.sub("", text))
    found, at = "", 0
    for line in range(1, _COUNT + 1):
        length = min(_CHARACTERS, _LENGTH - len(found))
        body = typed[at : at + 1 + length].translate(_READ_AS)
        check = typed[at + 1 + length : at + 2 + length]
        _require(line, body, check, length)
        found, at = found + body[1:], at + length + 2
    if at != len(typed):
        raise _wrong(_COUNT, "more was typed than five lines hold")
    key = base64.b32decode(f"{found.translate(_BACK)}====")
    if _characters(key) != found:
        raise _wrong(_COUNT, "its last character cannot end a key")
    return key


def read_name(text: str) -> str:
    """The name of a key (base64url of 256 bits), from that name, as in a QR code too, or its five lines.

    Raises `Malformed`: `key-line`, or `bad-key-name` for what is neither.
    """
    text = text.removeprefix(THUMBPRINT)
    if re.fullmatch(rf"[A-Za-z0-9_-]{{{_NAME}}}", text):
        try:
            unb64u(text)
        except Malformed as error:
            raise _no_name(text) from error
        return text
    if not looks_typed(text):
        raise _no_name(text)
    return b64u(read_lines(text))


def looks_typed(text: str) -> bool:
    """Whether this is meant as five lines: it begins with the number of the first, and no other way of
    writing a key is as long.
    """
    return _BETWEEN.sub("", text)[:1] in tuple("1IiLl") and len(_BETWEEN.sub("", text)) > _LENGTH


def _characters(key: bytes) -> str:
    return base64.b32encode(key).decode().rstrip("=").translate(_CROCKFORD)


def _require(line: int, body: str, check: str, length: int) -> None:
    if len(body) <= length or not check:
        raise _wrong(line, f"it has its number, {length} characters and a check symbol, and is shorter")
    if body[0] != str(line):
        raise _wrong(
            line,
            "it does not begin with its number: a line is missing, or one before it is too short or too long",
        )
    strange = next((each for each in body if each not in ALPHABET), None)
    if strange:
        raise _wrong(line, f"{strange!r} never appears in a key")
    if check.translate(_READ_AS) != check_symbol(body):
        raise _wrong(line, "its check symbol does not fit, so at least one character of it is wrong")


def _wrong(line: int, why: str) -> Malformed:
    return Malformed(
        f"Line {line} of the five lines of the key is not as it was printed: {why}. Type this line again.",
        code="key-line",
        line=line,
    )


def _no_name(text: str) -> Malformed:
    shown = repr(text if len(text) < 60 else f"{text[:57]}...")
    if len(text) == _NAME:
        told = (
            f"{shown} is as long as a key ID and is none: at least one character of it is wrong. Compare it"
            " with what its holder has, or type the key's five lines: a wrong one is then named."
        )
    else:
        told = (
            f"{shown} is not a key ID: type its {_NAME} characters, or its five lines, the number at the"
            " front of each and the check symbol at its end."
        )
    return Malformed(told, code="bad-key-name")
