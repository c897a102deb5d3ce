"""RFC 3161 requests and tokens, and the little DER they need."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from authority import Authority
from bailee.errors import BaileeError, Broken, Malformed
from bailee.signing import der, timestamp
from bailee.signing.der import Reader

TEXT = "ledger.example/log1\n27\nAAAA\n"


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    """One for all of these."""
    return Authority(tmp_path_factory.mktemp("tsa") / "authority")


def test_openssl_reads_our_request_and_we_read_its_token(authority: Authority, tmp_path: Path) -> None:
    """No authority would answer us, or we could not say what it answered (openssl ts is the other side)."""
    reply = authority.stamp(timestamp.request(TEXT, 2**63 - 1))
    token = timestamp.token_in(reply)
    stamp = timestamp.read(token)
    assert stamp.imprint == timestamp.imprint_of(TEXT)
    assert abs(stamp.at - datetime.now(UTC)).total_seconds() < 3600
    assert timestamp.token_in(token) == token
    (tmp_path / "t").write_bytes(token)
    (tmp_path / "d").write_text(TEXT)
    assert authority.verifies(tmp_path / "t", tmp_path / "d")


def test_a_refusal_is_said(authority: Authority) -> None:
    """An operator would believe the log to be stamped when it never was."""
    spoilt = timestamp.request(TEXT, 1).replace(timestamp._SHA256, bytes.fromhex("608648016503040203"))
    with pytest.raises(Broken, match="status 2"):
        timestamp.token_in(authority.stamp(spoilt))


def test_no_spoilt_token_does_more_than_be_refused(authority: Authority) -> None:
    """A damaged file could stop the verifier with an error of its own."""
    token = timestamp.token_in(authority.stamp(timestamp.request(TEXT, 1)))
    for cut in range(0, len(token), 7):
        with pytest.raises(Malformed):
            timestamp.read(token[:cut])
    for at in range(min(len(token), 400)):
        try:
            timestamp.read(token[:at] + bytes([token[at] ^ 0x41]) + token[at + 1 :])
        except BaileeError:
            continue
    with pytest.raises(Malformed):
        timestamp.read(bytes(timestamp.LIMIT + 1))


@given(st.integers(0, 2**70), st.binary(max_size=300))
def test_what_is_written_is_read_back(number: int, content: bytes) -> None:
    """A nonce or a certificate of some length would make the request unreadable (X.690 8.1.3, 8.3)."""
    data = der.value(der.SEQUENCE, der.integer(number), der.value(der.OCTET_STRING, content))
    inner = Reader(data).into(der.SEQUENCE)
    assert int.from_bytes(inner.take(der.INTEGER), "big") == number
    assert inner.take(der.OCTET_STRING) == content
    inner.end()


@pytest.mark.parametrize(
    "text", ["", "04", "0401", "0480aa0000", "048101aa", "04820001aa", "0485000000000100", "0201"]
)
def test_what_is_no_der_is_refused(text: str) -> None:
    """Two programs could read two different times from one token (X.690 10.1)."""
    with pytest.raises(Malformed):
        Reader(bytes.fromhex(text)).take(der.OCTET_STRING)


def test_what_is_left_over_is_refused() -> None:
    """A second token could hide behind the first."""
    with pytest.raises(Malformed):
        Reader(b"\x05\x00").end()


@pytest.mark.parametrize(
    ("text", "second"), [(b"20261201140509Z", "09"), (b"20261201140509.25Z", "09")]
)  # fmt: skip
def test_both_forms_of_time_are_read(text: bytes, second: str) -> None:
    """An authority that tells fractions of a second could not be used (RFC 3161 2.4.2)."""
    assert timestamp._time(text).strftime("%S") == second


@pytest.mark.parametrize("text", [b"20261301140509Z", b"20261201140509", b"261201140509Z", b"\xff"])
def test_no_other_form_of_time_is_guessed(text: bytes) -> None:
    """A local time would be taken for UTC."""
    with pytest.raises(Malformed):
        timestamp._time(text)
