"""Changes that a hostile hand makes to bytes: whatever can be taken apart is changed inside and put together
again.

JSON is changed as JSON and TLV as TLV (lengths fit again, mostly); a text inside that is itself JSON, base64
or a compact JWS is opened and changed in its turn. Everything else is changed by lines, by words and by
bytes. The same `Random` gives the same change.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Callable, Sequence
from random import Random
from typing import Any, Final

LARGEST: Final = 300_000
"""Bytes of a case: more only costs time, and limits are tried by numbers that claim to be large."""

HOSTILE: Final = (
    "null",
    "true",
    "false",
    "0",
    "-1",
    "-0",
    "1.5",
    "NaN",
    "Infinity",
    "-Infinity",
    "1e400",
    "-1e400",
    "1E9",
    "1e-999",
    "0x10",
    "00",
    "1000000000",
    "2147483648",
    "4294967296",
    "9007199254740991",
    "9007199254740992",
    "9223372036854775807",
    "9223372036854775808",
    "18446744073709551615",
    "18446744073709551616",
    "253402300799",
    "253402300800",
    "9" * 40,
    "9" * 5000,
    '""',
    '" "',
    '"\\u0000"',
    '"\\ud800"',
    '"\\udfff\\ud800"',
    '"\\u202e"',
    '"\\ufeff"',
    '"\N{COMBINING ACUTE ACCENT}"',
    '"\u00b2"',
    '"\u0663"',
    '"NaN"',
    '"-Infinity"',
    '"sNaN"',
    '"1e400"',
    '"1E+999999999"',
    '"0.1e-999999"',
    '"-0"',
    '"1_0"',
    '"9999-12-31T23:59:59Z"',
    '"9999-12-31T23:59:59-14:00"',
    '"0001-01-01T00:00:00+14:00"',
    '"10000-01-01T00:00:00Z"',
    '"2026-12-01T24:00:00Z"',
    '"2026-12-01T23:59:60Z"',
    '"2026-02-30"',
    '"0000-00-00"',
    '"9999-12-31"',
    '"0001-01-01"',
    '"-12:00"',
    '"+14:00"',
    '"24:00"',
    '"00:00-24:00"',
    '"24:00-24:00"',
    '"../../etc/passwd"',
    '"Etc/GMT+12"',
    '"America/"',
    '"UTC/../UTC"',
    '"Europe/\\u0000"',
    "[]",
    "{}",
    "[[]]",
    '[""]',
    "[null]",
    '{"":null}',
    "[" * 40 + "]" * 40,
    "[" * 20000,
    '{"a":' * 20000,
    '"' + "A" * 70000 + '"',
    '{"a":1,"a":2}',
    '{"__proto__":{}}',
    "[0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0]",
)
"""JSON as raw text, some of it none: what readers of numbers, times and texts trip over."""

_WORDS: Final = (
    "\x00",
    "\n",
    "\n\n",
    "\r\n",
    "\r",
    "\x85",
    "\u2028",
    "\x1c",
    "\ufeff",
    "\u00a0",
    "\u0663",
    "\u00b2",
    "\ud7ff",
    "+",
    "-",
    "=",
    ".",
    "/",
    "..",
    "%",
    "%00",
    "%ff",
    '"',
    "'",
    "\\",
    "#",
    "[",
    "]",
    "[[a]]",
    "{",
    "}",
    "\N{EM DASH} ",
    "e",
    "E",
    "_",
    "nan",
    "inf",
    "0",
    "-0",
    "1e999",
    "9" * 20,
    "9" * 5000,
    "1" * 400 + ".5",
    "1979-05-27T07:32:00Z",
    "9999-12-31",
    "24:00",
    "a.b.c = 1",
    "a" * 3000,
    "=" * 64,
    "[" * 3000,
    "{a=" * 2000,
    '"""',
)
_NUMBER: Final = re.compile(r"[0-9]+")
_WORD: Final = re.compile(r"[^\s,:=]+")
_B64URL: Final = re.compile(r"[A-Za-z0-9_-]{4,}")
_B64: Final = re.compile(r"[A-Za-z0-9+/]{4,}={0,2}")
_JWS: Final = re.compile(r"[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+")
_DEEP: Final = 3
"""Texts within texts within texts."""


def mutate(data: bytes, random: Random, others: Sequence[bytes]) -> bytes:
    """One to four changes; `others` lend their parts."""
    for _ in range(random.choice((1, 1, 1, 2, 2, 3, 4))):
        data = _once(data, random, others)[:LARGEST]
    return data


def _once(data: bytes, random: Random, others: Sequence[bytes]) -> bytes:
    if random.random() < 0.85:
        for change in (_as_json, _as_tlv):
            changed = change(data, random, others)
            if changed is not None:
                return changed
    if random.random() < 0.7:
        try:
            return _text(data.decode("utf-8", "surrogateescape"), random, others).encode(
                "utf-8", "surrogatepass" if random.random() < 0.1 else "replace"
            )
        except UnicodeError:
            pass
    return _raw(data, random, others)


# JSON


def _as_json(data: bytes, random: Random, others: Sequence[bytes], depth: int = 0) -> bytes | None:
    if data[:1] not in b"[{" or not data:
        return None
    try:
        value = json.loads(data)
    except (ValueError, RecursionError):
        return None
    raw: dict[str, str] = {}
    changed = _node(value, random, others, raw, depth)
    text = json.dumps(changed, ensure_ascii=random.random() < 0.8, separators=(",", ":"))
    for mark, fragment in raw.items():
        text = text.replace(f'"{mark}"', fragment, 1)
    return text.encode("utf-8", "surrogatepass")


def _places(value: Any) -> list[tuple[Any, Any]]:
    """Every container with every key of it."""
    found: list[tuple[Any, Any]] = []
    waiting = [value]
    while waiting:
        at = waiting.pop()
        keys = list(at) if isinstance(at, dict) else range(len(at)) if isinstance(at, list) else ()
        found += [(at, key) for key in keys]
        waiting += [at[key] for key in keys]
    return found


def _node(value: Any, random: Random, others: Sequence[bytes], raw: dict[str, str], depth: int) -> Any:
    places = _places(value)
    if not places or random.random() < 0.01:
        return _mark(random.choice(HOSTILE), raw)
    # Half of the time near the top: a bundle has a thousand hashes and ten members.
    few = _children(value) if random.random() < 0.4 else places
    at, key = random.choice(few or places)
    match random.randrange(8):
        case 0:
            del at[key]
        case 1:
            at[key] = _mark(random.choice(HOSTILE), raw)
        case 2:
            other, where = random.choice(places)
            at[key] = other[where] if other is not at[key] and not _holds(other[where], at) else None
        case 3:
            if isinstance(at, list):
                at.insert(key, at[key])
            else:
                at[random.choice(("", "x", "__class__", "self", f"{key}2", key.upper()))] = at[key]
        case 4 if isinstance(at, dict):
            other, where = random.choice(places)
            at[where if isinstance(where, str) else key] = at.pop(key)
        case _:
            at[key] = _leaf(at[key], random, others, raw, depth)
    return value


def _children(value: Any) -> list[tuple[Any, Any]]:
    if isinstance(value, dict):
        return [(value, key) for key in value]
    return [(value, key) for key in range(len(value))] if isinstance(value, list) else []


def _holds(outer: Any, inner: Any) -> bool:
    return outer is inner or any(at[key] is inner for at, key in _places(outer))


def _mark(fragment: str, raw: dict[str, str]) -> str:
    mark = f"~{len(raw)}~"
    raw[mark] = fragment
    return mark


def _leaf(value: Any, random: Random, others: Sequence[bytes], raw: dict[str, str], depth: int) -> Any:
    if isinstance(value, str):
        return opened(value, random, others, depth + 1)
    if isinstance(value, bool) or value is None:
        return _mark(random.choice(HOSTILE), raw)
    if isinstance(value, int):
        return random.choice(
            (value + 1, value - 1, -value, value * 2**32, 2**63 - 1, 2**53, value + 253402300800)
        )
    if isinstance(value, list) and value and random.random() < 0.3:
        return value * random.choice((2, 70))
    return [value] if random.random() < 0.5 else {"a": value}


def opened(text: str, random: Random, others: Sequence[bytes], depth: int = 0) -> str:
    """The text changed inside, when it is something that has an inside."""
    if depth <= _DEEP and random.random() < 0.85:
        if _JWS.fullmatch(text):
            parts = text.split(".")
            which = random.choice((0, 1, 1, 1, 2))
            parts[which] = _within(parts[which], random, others, url=True, depth=depth)
            return ".".join(parts)
        if text[:1] in ("{", "["):
            changed = _as_json(text.encode("utf-8", "surrogatepass"), random, others, depth)
            if changed is not None:
                return changed.decode("utf-8", "surrogatepass")
        if _B64URL.fullmatch(text) or _B64.fullmatch(text):
            return _within(
                text, random, others, url="+" not in text and "/" not in text and "=" not in text, depth=depth
            )
    return _text(text, random, others)


def _within(text: str, random: Random, others: Sequence[bytes], *, url: bool, depth: int) -> str:
    try:
        data = base64.b64decode(text + "=" * (-len(text) % 4), b"-_" if url else None)
    except ValueError:
        return _text(text, random, others)
    changed = (
        _as_json(data, random, others, depth) or _as_tlv(data, random, others) or _raw(data, random, others)
    )
    again = base64.urlsafe_b64encode(changed) if url else base64.b64encode(changed)
    return again.decode().rstrip("=") if url else again.decode()


# Tag, length, value (X.690)


def _as_tlv(data: bytes, random: Random, others: Sequence[bytes]) -> bytes | None:
    if len(data) < 8 or data[0] != 0x30:
        return None
    tree = _tree(data)
    if tree is None:
        return None
    nodes = [node for top in tree for node in _walk(top)]
    node = random.choice(nodes)
    match random.randrange(7):
        case 0:
            node[0] = random.choice(
                (0x02, 0x04, 0x05, 0x06, 0x18, 0x30, 0x31, 0xA0, 0xA1, 0x80, 0x1F, 0x00, 0xFF)
            )
        case 1:
            node[1] = b""
        case 2:
            node[1] = random.choice(
                (
                    b"\x00",
                    b"\xff" * 9,
                    b"\x80" * 3000,
                    b"99991231235959Z",
                    b"20261301000000Z",
                    b"0" * 15,
                    bytes(33),
                )
            )
        case 3 if isinstance(node[1], list) and node[1]:
            del node[1][random.randrange(len(node[1]))]
        case 4 if isinstance(node[1], list) and node[1]:
            node[1].append(random.choice(nodes) if random.random() < 0.3 else random.choice(node[1]))
        case 5:
            node[2] = random.choice(
                (
                    b"\x80",
                    b"\x84\xff\xff\xff\xff",
                    b"\x81\x01",
                    b"\x88" + b"\xff" * 8,
                    b"\x82",
                    b"\xff",
                    b"\x84\x3b\x9a\xca\x00",
                )
            )
        case _ if isinstance(node[1], bytes):
            node[1] = _raw(node[1], random, others)
        case _:
            node[1] = node[1] * 2
    try:
        return b"".join(map(_printed, tree))
    except RecursionError:
        return None


def _tree(data: bytes, depth: int = 0) -> list[list[Any]] | None:
    """Nodes of tag, content (nodes or bytes) and a length to write in the place of the true one.

    None for what is no TLV.
    """
    found: list[list[Any]] = []
    at = 0
    while at < len(data):
        if at + 2 > len(data):
            return None
        tag, length, at = data[at], data[at + 1], at + 2
        if length >= 0x80:
            digits = length & 0x7F
            length, at = int.from_bytes(data[at : at + digits], "big"), at + digits
        if at + length > len(data):
            return None
        content = data[at : at + length]
        inner = _tree(content, depth + 1) if (tag & 0x20 or tag == 0x04) and length and depth < 20 else None
        found.append([tag, content if inner is None else inner, None])
        at += length
    return found


def _walk(node: list[Any]) -> list[list[Any]]:
    return (
        [node, *(each for inner in node[1] for each in _walk(inner))] if isinstance(node[1], list) else [node]
    )


def _printed(node: list[Any]) -> bytes:
    content = node[1] if isinstance(node[1], bytes) else b"".join(map(_printed, node[1]))
    if node[2] is not None:
        return bytes([node[0]]) + node[2] + content
    if len(content) < 0x80:
        return bytes([node[0], len(content)]) + content
    digits = len(content).to_bytes((len(content).bit_length() + 7) // 8, "big")
    return bytes([node[0], 0x80 | len(digits)]) + digits + content


# Lines, words, bytes


def _text(text: str, random: Random, others: Sequence[bytes]) -> str:
    changes: tuple[Callable[[str, Random, Sequence[bytes]], str], ...] = (
        _line,
        _number,
        _word,
        _insert,
        _cut,
        _case,
    )
    return random.choice(changes)(text, random, others)


def _line(text: str, random: Random, others: Sequence[bytes]) -> str:
    lines = text.split("\n")
    at = random.randrange(len(lines))
    match random.randrange(5):
        case 0:
            del lines[at]
        case 1:
            lines.insert(at, lines[at])
        case 2:
            lines.insert(at, random.choice(lines))
        case 3 if others:
            other = random.choice(others).decode("utf-8", "replace").split("\n")
            lines[at] = random.choice(other)
        case _:
            lines[at] = (
                opened(lines[at], random, others, _DEEP)
                if _WORD.fullmatch(lines[at])
                else random.choice(_WORDS)
            )
    return "\n".join(lines)


def _number(text: str, random: Random, others: Sequence[bytes]) -> str:
    del others
    found = list(_NUMBER.finditer(text))
    if not found:
        return text + random.choice(_WORDS)
    at = random.choice(found)
    wild = random.choice(
        (
            "0",
            "-1",
            "00",
            "9" * 12,
            "9" * 19,
            "9" * 20,
            "9" * 4400,
            str(2**63),
            str(2**64 - 1),
            "253402300800",
            "1e9",
            "1.5",
            "\u0663",
            "",
        )
    )
    return text[: at.start()] + wild + text[at.end() :]


def _word(text: str, random: Random, others: Sequence[bytes]) -> str:
    found = list(_WORD.finditer(text))
    if not found:
        return random.choice(_WORDS)
    at = random.choice(found)
    if random.random() < 0.5:
        new = json.loads(chosen) if (chosen := random.choice(HOSTILE)).startswith('"') else chosen
    else:
        new = opened(at[0], random, others, _DEEP) if len(at[0]) < len(text) else random.choice(_WORDS)
    return text[: at.start()] + new + text[at.end() :]


def _insert(text: str, random: Random, others: Sequence[bytes]) -> str:
    del others
    at = random.randrange(len(text) + 1)
    return text[:at] + random.choice(_WORDS) * random.choice((1, 1, 1, 2, 40)) + text[at:]


def _cut(text: str, random: Random, others: Sequence[bytes]) -> str:
    del others
    one, two = sorted((random.randrange(len(text) + 1), random.randrange(len(text) + 1)))
    return text[:one] + text[two:] if random.random() < 0.7 else text[one:two] * random.choice((1, 2, 50))


def _case(text: str, random: Random, others: Sequence[bytes]) -> str:
    del others
    return random.choice((text.upper(), text.lower(), text[::-1], text.title(), text.strip(), f" {text} "))


def _raw(data: bytes, random: Random, others: Sequence[bytes]) -> bytes:  # noqa: PLR0911 - a change each
    if not data:
        return random.choice((b"\x00", b"\xff", b"{", b"\x30\x80"))
    at = random.randrange(len(data))
    match random.randrange(7):
        case 0:
            return data[:at] + bytes([data[at] ^ 1 << random.randrange(8)]) + data[at + 1 :]
        case 1:
            return data[:at] + random.randbytes(random.choice((1, 2, 4, 8, 32))) + data[at:]
        case 2:
            return data[:at] + data[at + random.choice((1, 2, 4, 32, 1000)) :]
        case 3:
            width = random.choice((1, 2, 4, 8))
            return (
                data[:at] + random.choice((b"\xff", b"\x00", b"\x80", b"\x7f")) * width + data[at + width :]
            )
        case 4:
            return data[:at]
        case 5 if others:
            other = random.choice(others)
            return data[:at] + other[random.randrange(len(other) + 1) :]
        case _:
            return data * 2
