"""JSON that means one thing (RFC 7493)."""

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.errors import Malformed
from bailee.signing import strict_json

_TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"))
_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | _TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_TEXT, inner, max_size=4),
    max_leaves=12,
)


@pytest.mark.slow
@given(_VALUES)
def test_what_is_written_is_read_back(value: Any) -> None:
    """A device would sign a statement that its own ledger cannot read."""
    text = strict_json.dumps(value)
    assert strict_json.loads(text) == value
    assert json.loads(text) == value  # reference: CPython json


@pytest.mark.parametrize(
    "text",
    [
        '{"a":1,"a":1}',
        '{"a":{"b":1,"c":2,"b":3}}',
        '{"a":1,"\\u0061":1}',
        "1.0",
        "[1.5]",
        "1e2",
        "1E400",
        "-0.0",
        "NaN",
        "Infinity",
        "-Infinity",
        "9007199254740992",
        "-9007199254740992",
        "1" * 5000,
        "",
        " ",
        "{",
        "{}{}",
        '{"a":1,}',
        "{'a':1}",
        '"\t"',
        "01",
        "+1",
        "\ufeff{}",
        '"\\ud800"',
        '{"\\udfff":1}',
        '"\\u0000"',
        '["\\ud83d"]',
        "[" * 33 + "]" * 33,
        '{"a":' * 40 + "1" + "}" * 40,
        "[" * 5000 + "]" * 5000,
    ],
)
def test_text_that_two_readers_could_read_differently_is_refused(text: str) -> None:
    """The phone would show one value and the auditor's program another, under one good signature."""
    with pytest.raises(Malformed) as refusal:
        strict_json.loads(text)
    assert refusal.value.code == "not-canonical"


@pytest.mark.parametrize("data", [b"\xff", b'"\xed\xa0\x80"', b'"\xc0\x80"', b'\xef\xbb\xbf"a"'])
def test_bytes_that_are_not_plain_utf8_are_refused(data: bytes) -> None:
    """Two programs would repair the broken text in two ways."""
    with pytest.raises(Malformed):
        strict_json.loads(data)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("9007199254740991", 2**53 - 1),
        ("-9007199254740991", -(2**53) + 1),
        ("-0", 0),
        ('"\\ud83d\\ude00"', "😀"),
        ('"\\\\u0000"', "\\u0000"),
        ("[" * 32 + "]" * 32, None),
        ("[" + ",".join(["[]"] * 500) + "]", [[]] * 500),
    ],
)
def test_the_last_values_inside_the_limits_are_read(text: str, value: Any) -> None:
    """A true statement at the edge would be refused."""
    found = strict_json.loads(text)
    assert value is None or found == value


@pytest.mark.parametrize("value", [float("nan"), float("inf"), {1, 2}, b"x", "\ud800", {("a",): 1}])
def test_what_json_cannot_hold_is_refused_when_written(value: Any) -> None:
    """A device would crash while a person waits to sign."""
    with pytest.raises(Malformed):
        strict_json.dumps(value)
