"""JSON that means one thing: no duplicate members, no floats, no huge integers (RFC 7493, I-JSON)."""

from __future__ import annotations

import json
from typing import Any, Final

from bailee.errors import Malformed

_LARGEST: Final = 2**53 - 1
"""Largest integer every JSON reader keeps exactly (RFC 7493 2.2)."""


def loads(data: bytes | str) -> Any:
    """Parse strictly. Raises `Malformed` (`not-canonical`) for duplicates, floats, NaN, or integers beyond 2**53."""
    try:
        text = data.decode("utf-8") if isinstance(data, bytes) else data
        return _DECODER.decode(text)
    except (ValueError, RecursionError) as error:
        raise Malformed(
            f"This is not JSON in the strict form that is signed: {error}.", code="not-canonical"
        ) from error


def dumps(value: Any) -> bytes:
    """UTF-8 JSON, members sorted, no spaces: how this program writes what it signs."""
    return json.dumps(
        value, ensure_ascii=False, separators=(",", ":"), sort_keys=True, allow_nan=False
    ).encode("utf-8")


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise ValueError("a member appears twice")
    return members


def _no_float(text: str) -> Any:
    raise ValueError(f"{text} is a floating point number (write decimals as text)")


def _integer(text: str) -> int:
    if len(text) > 17 or abs(value := int(text)) > _LARGEST:
        raise ValueError("an integer is too large")
    return value if text[0] != "-" else -abs(value)


_DECODER: Final = json.JSONDecoder(
    object_pairs_hook=_members, parse_float=_no_float, parse_int=_integer, parse_constant=_no_float
)
