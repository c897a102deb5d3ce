"""JSON that means one thing (RFC 7493, I-JSON).

No duplicate members, no floats, no integers beyond 2**53, no half characters, and no nesting so deep that
only some readers follow it. U+0000 is refused too: databases that cannot hold it would keep another text than
was signed.
"""

from __future__ import annotations

import json
import re
from typing import Any, Final

from bailee.errors import Malformed

LARGEST: Final = 2**53 - 1
"""Largest integer every JSON reader keeps exactly (RFC 7493 2.2)."""

DEEPEST: Final = 32
"""Levels of nesting.

An act has five or six (RFC 8259 9 lets readers set a limit, so a signer must stay below any).
"""


def loads(data: bytes | str) -> Any:
    """Parse strictly. Raises `Malformed` (`not-canonical`) for anything the module docstring excludes."""
    try:
        text = data.decode("utf-8") if isinstance(data, bytes) else data
        # Only brackets can nest, and only an escape can smuggle in half a character or U+0000.
        if text.count("[") + text.count("{") > DEEPEST:
            _refuse_deep(text)
        value = _DECODER.decode(text)
        if "\\u" in text:
            _inspect(value)
    except (ValueError, RecursionError) as error:
        raise Malformed(
            f"This is not JSON in the strict form that is signed: {error}.", code="not-canonical"
        ) from error
    return value


def dumps(value: Any) -> bytes:
    """UTF-8 JSON, members sorted, no spaces: how this program writes what it signs.

    Raises `Malformed` (`not-canonical`) for what JSON cannot hold; what only strict JSON refuses, `loads`
    refuses.
    """
    try:
        return json.dumps(
            value, ensure_ascii=False, separators=(",", ":"), sort_keys=True, allow_nan=False
        ).encode("utf-8")
    except (TypeError, ValueError, RecursionError) as error:
        raise Malformed(f"This cannot be written as JSON: {error}.", code="not-canonical") from error


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise ValueError("a member appears twice")
    return members


def _no_float(text: str) -> Any:
    raise ValueError(f"{text} is a floating point number (write decimals as text)")


def _integer(text: str) -> int:
    # The length first: turning thousands of digits into a number takes long.
    if len(text) > 17 or abs(value := int(text)) > LARGEST:
        raise ValueError("an integer is too large")
    return value


def _refuse_deep(text: str) -> None:
    """Before parsing: a parser that calls itself for each level dies of ten thousand of them, in a browser
    past catching.
    """
    level = 0
    for found in _BRACKETS.finditer(text):
        match found[0]:
            case "[" | "{":
                level += 1
            case "]" | "}":
                level -= 1
        if level > DEEPEST:
            raise ValueError(f"it is nested more than {DEEPEST} levels deep")


def _inspect(value: Any) -> None:
    if isinstance(value, str):
        if _UNSPEAKABLE(value):
            raise ValueError("a text holds U+0000 or half a character")
    elif isinstance(value, (dict, list)):
        for part in [*value, *value.values()] if isinstance(value, dict) else value:
            _inspect(part)


_BRACKETS: Final = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"?|[\[\]{}]', re.DOTALL)
"""Brackets, and whole texts so that the brackets in them are passed over.

A text without an end goes to the end, once.
"""

_UNSPEAKABLE: Final = re.compile("[\x00\ud800-\udfff]").search

_DECODER: Final = json.JSONDecoder(
    object_pairs_hook=_members, parse_float=_no_float, parse_int=_integer, parse_constant=_no_float
)
