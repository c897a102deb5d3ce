"""Log entries: what the server adds around a signed statement, as one exact text.

    {"chain":"form/F7K3M9Q2XF4P","n":2,"prev":"<leaf hash of n=1>","rec":"<UTC>","stmt":"<compact JWS>"}

The text is RFC 8785 (JCS): members sorted, no spaces. Its bytes are the Merkle leaf, and the leaf hash is
also the link of the hash chain: one hash rule for everything. A stored text is never rebuilt.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from datetime import UTC, datetime
from hashlib import sha256
from typing import Final

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.ledger.base64url import b64u, unb64u

MAX_ENTRY_BYTES = 65_535
"""C2SP tlog-tiles: an entry tile gives each entry's length as a 16-bit number."""

MAX_N = 2**53 - 1
"""RFC 8785 numbers are IEEE 754 doubles: above this, two integers may share one spelling."""

HASH_BYTES = 32

_AGAIN: Final = "Fetch the entry again from the log, unaltered."
_SAY_LESS: Final = (
    "Split it into several entries; of a photograph only the digest is signed, and the picture stays with"
    " you."
)

_CHAIN = re.compile(r"[a-z]{1,16}/[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
# 1970 to 2199, as in every statement and cosignature: no reckoning with such a time leaves the calendar.
_REC = re.compile(
    r"(?:19[7-9]|2[01][0-9])[0-9]-[0-9]{2}-[0-9]{2}T(?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]\.[0-9]{3}Z"
)
# Shape only. Whether the three parts are canonical and the signature holds is the statement's question.
_STMT = re.compile(r"[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]{86}")


@frozen
class Entry:
    """One step of one hash chain. An `Entry` that exists can be written: every value is plain ASCII.

    `chain` is the statement's subject ("form/…", "lot/…", "org/…"), `n` counts from 1 within it, `prev` is
    the base64url leaf hash of entry n-1 (None at 1), `rec` the UTC moment of recording in milliseconds
    ("2026-11-25T04:46:56.123Z"; 1970 to 2199), `stmt` the compact JWS (RFC 7515 section 3.1) exactly as
    received. Raises `Malformed` ("not-canonical", `facts["member"]`).
    """

    chain: str
    n: int
    prev: str | None
    rec: str
    stmt: str

    def __post_init__(self) -> None:
        # The types are checked too: `read` passes on whatever JSON held, and True is an int in Python.
        _require("chain", type(self.chain) is str and bool(_CHAIN.fullmatch(self.chain)))
        _require("n", type(self.n) is int and 1 <= self.n <= MAX_N)
        _require("prev", self.prev is None if self.n == 1 else _is_hash(self.prev))
        _require("rec", type(self.rec) is str and _is_moment(self.rec))
        _require("stmt", type(self.stmt) is str and bool(_STMT.fullmatch(self.stmt)))


def write(entry: Entry) -> str:
    """Write the entry's exact text (RFC 8785). Raises `Malformed` ("too-large") above 65,535 bytes."""
    # For ASCII strings and safe integers the standard encoder and RFC 8785 3.2.2 agree to the byte.
    text = json.dumps(vars(entry), sort_keys=True, separators=(",", ":"))
    if len(text) > MAX_ENTRY_BYTES:  # a canonical entry is ASCII, so characters are bytes
        raise _too_large(_SAY_LESS)
    return text


_MOST_BRACKETS: Final = 32
"""Far more than the one that an entry has."""


def read(text: str) -> Entry:
    """Read an entry that is written exactly as `write` would write it.

    Raises `Malformed`: "not-canonical" for anything else (spaces, order, duplicate, missing or unknown
    members, wrong types), "too-large" above 65,535 bytes.
    """
    if len(text) > MAX_ENTRY_BYTES:
        raise _too_large(f"This is not one, or no longer one. {_AGAIN}")
    # An entry is flat. Parsing thousands of levels would overrun the stack, in a browser past catching.
    _require("text", text.count("[") + text.count("{") <= _MOST_BRACKETS)
    try:
        members = json.loads(text)
    except (ValueError, RecursionError):
        raise _refused("text") from None
    _require("text", type(members) is dict and members.keys() == Entry.__dataclass_fields__.keys())
    entry = Entry(**members)
    _require("text", write(entry) == text)
    return entry


def recorded_at(instant: datetime) -> str:
    """Write an instant as `rec` has it: UTC, in milliseconds."""
    return instant.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def leaf_hash(data: bytes) -> bytes:
    """Compute SHA-256(0x00 ‖ data): the Merkle leaf hash (RFC 9162 2.1.1)."""
    return sha256(b"\x00" + data).digest()


def link(text: str) -> str:
    """Give the `prev` of the entry that follows the one with this text: its leaf hash in base64url."""
    return b64u(leaf_hash(text.encode("ascii")))


def pack(entries: Iterable[bytes]) -> bytes:
    """Write an entry tile: each entry after its length, 16 bits, big-endian (C2SP tlog-tiles, Log entries).

    Raises `Malformed` ("too-large") when an entry is longer than 65,535 bytes.
    """
    parts = []
    for data in entries:
        if len(data) > MAX_ENTRY_BYTES:
            raise _too_large(_SAY_LESS)
        parts += [len(data).to_bytes(2, "big"), data]
    return b"".join(parts)


def unpack(tile: bytes) -> list[bytes]:
    """Read the entries of an entry tile. Raises `Malformed` ("entry-tile") when it ends inside an entry."""
    entries = []
    at = 0
    while at < len(tile):
        start = at + 2
        at = start + int.from_bytes(tile[at:start], "big")
        if at > len(tile):
            raise Malformed("An entry tile is cut short. Fetch it again.", code="entry-tile")
        entries.append(tile[start:at])
    return entries


def _is_hash(value: object) -> bool:
    return type(value) is str and len(unb64u(value)) == HASH_BYTES


def _is_moment(text: str) -> bool:
    if not _REC.fullmatch(text):
        return False
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def _require(member: str, holds: bool) -> None:  # noqa: FBT001 - the condition itself
    if not holds:
        raise _refused(member)


def _refused(member: str) -> Malformed:
    return Malformed(
        f"A log entry is not in its one exact form. {_AGAIN}",
        code="not-canonical",
        member=member,
    )


def _too_large(do: str) -> Malformed:
    return Malformed(
        f"A log entry has at most {MAX_ENTRY_BYTES:,} bytes. {do}",
        code="too-large",
        limit=MAX_ENTRY_BYTES,
    )
