"""The text a log sends to a cosigner (C2SP tlog-witness, add-checkpoint).

old 20852014
PlRNCrwHpqhGrupue0L7gxbjbMiKA9temvuZZDDpkaw=        the consistency proof, one hash a line
                                                    (an empty line, then the signed checkpoint)
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.ledger.base64url import b64, unb64
from bailee.ledger.checkpoint import MAX_NOTE_BYTES, SignedNote, print_note, read_note
from bailee.ledger.entry import HASH_BYTES

PATH: Final = "/add-checkpoint"
NEWEST: Final = "/newest"
"""Ours, beside the protocol: `?origin=…` gives the whole note last cosigned, by which an
objection is proven."""
SIZE_MEDIA: Final = "text/x.tlog.size"
MAX_PROOF: Final = 63
"""C2SP tlog-witness: a client sends at most 63 hashes."""

MAX_BYTES: Final = MAX_NOTE_BYTES + 4096
"""63 lines of 45 bytes and the first line fit in the rest."""

_OLD: Final = re.compile(r"old (0|[1-9][0-9]{0,18})")


@frozen
class AddCheckpoint:
    """The size the cosigner is said to know, the proof from there, and the checkpoint."""

    old: int
    proof: tuple[bytes, ...]
    note: SignedNote


def write(old: int, proof: Sequence[bytes], note: str) -> bytes:
    """The request's body."""
    return "".join([f"old {old}\n", *(f"{b64(each)}\n" for each in proof), "\n", note]).encode()


def read(body: bytes) -> AddCheckpoint:
    """Read a request's body. Raises `Malformed`."""
    try:
        head, border, note = body[:MAX_BYTES].decode("utf-8").partition("\n\n")
    except UnicodeDecodeError:
        raise _refused() from None
    first, *lines = head.split("\n")
    old = _OLD.fullmatch(first)
    if not border or old is None or len(lines) > MAX_PROOF or len(body) > MAX_BYTES:
        raise _refused()
    proof = tuple(map(unb64, lines))
    if any(len(each) != HASH_BYTES for each in proof):
        raise _refused()
    return AddCheckpoint(int(old[1]), proof, read_note(note))


def read_lines(text: str, note: str) -> SignedNote:
    """The checkpoint with the signature lines that a cosigner answered. Raises `Malformed`."""
    return read_note(print_note(read_note(note)) + text)


def _refused() -> Malformed:
    return Malformed(
        "This is no request to cosign: send `old` and a size, the proof, an empty line and the checkpoint.",
        code="add-checkpoint",
    )
