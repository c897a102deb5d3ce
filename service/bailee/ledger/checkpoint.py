"""Checkpoints and the signed notes that carry them: text only, no cryptography (that is `signing`).

    example.org/log1                          origin
    20852163                                  size
    CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=    root
                                              (an empty line, then one line per signature)
    — example.org/log1 Az3grlgtzPI…

C2SP signed-note, tlog-checkpoint and tlog-cosignature. Whatever is read here is not trusted until a
signature by a known key has been verified; lines by unknown keys are carried along untouched.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import IntEnum
from hashlib import sha256

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.ledger.base64url import b64, unb64
from bailee.ledger.entry import HASH_BYTES

MAX_SIGNATURES = 32
"""C2SP signed-note asks verifiers for a limit and for at least 16; twice that leaves room for cosigners."""

MAX_NOTE_BYTES = 256 * 1024
"""32 signatures of nearly 5 kB (post-quantum, C2SP signed-note) in base64 are 213 kB; the text is short."""

MAX_SIZE = 2**63 - 1
"""Sizes fit a signed 64-bit integer in every implementation."""

LAST_TIME = 7_258_118_400 - 1
"""The last second of the year 2199: a cosignature says when somebody saw a log, and no later time can be
reckoned with everywhere."""

KEY_ID_BYTES = 4
ED25519_KEY_BYTES = 32
ED25519_SIGNATURE_BYTES = 64
TIME_BYTES = 8

_SIZE = re.compile(r"0|[1-9][0-9]{0,18}")
_CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f]")
_MARK = "\N{EM DASH} "
_OTHER_TEXTS = re.compile(r"(bailee-[a-z-]+|cosignature|subtree)/v?[0-9]+", re.IGNORECASE)
"""How other texts that are signed begin: ours, like `ends`, and those of cosigners (C2SP tlog-cosignature;
subtree from memory)."""
_NOT_IN_NAMES = frozenset(map(chr, (*range(0x20), ord("+"), *range(0xD800, 0xE000))))


class KeyType(IntEnum):
    """The signature types Bailee reads (C2SP signed-note, Signature types)."""

    ED25519 = 0x01
    COSIGNATURE_V1 = 0x04


@frozen
class Checkpoint:
    """The state of a log: `size` entries under `root` (32 bytes), as told by the log named `origin`.

    Raises `Malformed` ("checkpoint") for an origin that is no key name, a size outside 0..2**63-1, a root
    that is not 32 bytes.
    """

    origin: str
    size: int
    root: bytes

    def __post_init__(self) -> None:
        _require_name(self.origin, "checkpoint")
        if not (0 <= self.size <= MAX_SIZE and len(self.root) == HASH_BYTES):
            raise _bad_checkpoint()

    def body(self) -> str:
        """Give the text that is signed: three lines (C2SP tlog-checkpoint, Note text)."""
        return f"{self.origin}\n{self.size}\n{b64(self.root)}\n"


def parse(text: str) -> Checkpoint:
    """Read a checkpoint's text; raises `Malformed` ("checkpoint" or "not-canonical").

    Extension lines are refused: the specification recommends against them and nobody can audit them.
    """
    match text.split("\n"):
        case [origin, size, root, ""] if _SIZE.fullmatch(size):
            return Checkpoint(origin, int(size), unb64(root))
    raise _bad_checkpoint()


@frozen
class NoteSignature:
    """One signature line: who says it signed (`name`, 4-byte `key_id`) and the signature's bytes."""

    name: str
    key_id: bytes
    signature: bytes

    def __post_init__(self) -> None:
        _require_name(self.name, "note")
        if len(self.key_id) != KEY_ID_BYTES or not self.signature:
            raise _bad_note("signature")


@frozen
class SignedNote:
    """A text and its signatures, in the order of the lines (C2SP signed-note, Format).

    Raises `Malformed` ("note") for a text without final newline or with control characters, and for fewer
    than 1 or more than 32 signatures.
    """

    text: str
    signatures: tuple[NoteSignature, ...]

    def __post_init__(self) -> None:
        if not self.text.endswith("\n") or _CONTROL.search(self.text):
            raise _bad_note("text")
        if not 1 <= len(self.signatures) <= MAX_SIGNATURES:
            raise _bad_note("signatures")

    def by(self, key: VerifierKey) -> tuple[NoteSignature, ...]:
        """Pick the lines that this key may have signed: name and key ID both match.

        Nothing is verified yet.
        """
        return tuple(each for each in self.signatures if (each.name, each.key_id) == (key.name, key.key_id))

    def with_signatures(self, more: Iterable[NoteSignature]) -> SignedNote:
        """Give the same text with these lines added at the end, each line at most once."""
        return SignedNote(self.text, tuple(dict.fromkeys((*self.signatures, *more))))


def print_note(note: SignedNote) -> str:
    """Write the note's exact text."""
    lines = [f"{_MARK}{each.name} {b64(each.key_id + each.signature)}\n" for each in note.signatures]
    return f"{note.text}\n{''.join(lines)}"


def read_note(note: str) -> SignedNote:
    """Read a signed note; `print_note` gives the very same text back.

    Raises `Malformed`: "note" for a broken form, "not-canonical" for a signature with another spelling,
    "too-large" above 256 KiB.
    """
    try:
        length = len(note.encode())
    except UnicodeEncodeError:  # half a surrogate pair, possible in text that came through JSON
        raise _bad_note("text") from None
    if length > MAX_NOTE_BYTES:
        raise Malformed(
            f"A signed note may be at most {MAX_NOTE_BYTES:,} bytes. Send the note alone.",
            code="too-large",
            limit=MAX_NOTE_BYTES,
        )
    # The last empty line is the border: the text itself may have empty lines.
    text, border, block = note.rpartition("\n\n")
    lines = block.split("\n")
    if not border or lines.pop():
        raise _bad_note("signatures")
    return SignedNote(f"{text}\n", tuple(_read_signature(line) for line in lines))


def _read_signature(line: str) -> NoteSignature:
    match line.removeprefix(_MARK).split(" "):
        case [name, encoded] if line.startswith(_MARK):
            data = unb64(encoded)
            return NoteSignature(name, data[:KEY_ID_BYTES], data[KEY_ID_BYTES:])
    raise _bad_note("signature")


@frozen
class VerifierKey:
    """A public key an auditor brings along: `name`, type and 32 raw Ed25519 bytes (RFC 8032 5.1.5).

    Raises `Malformed` ("vkey").
    """

    name: str
    type: KeyType
    public: bytes

    def __post_init__(self) -> None:
        _require_name(self.name, "vkey")
        if len(self.public) != ED25519_KEY_BYTES:
            raise _bad_vkey()

    @property
    def key_id(self) -> bytes:
        """The 4 bytes that stand for this key in a signature line."""
        return key_id(self.name, self.type, self.public)


def key_id(name: str, type_byte: int, public: bytes) -> bytes:
    """Take the first 4 bytes of SHA-256(name ‖ newline ‖ type ‖ public key)
    (C2SP signed-note, Signatures).
    """
    return sha256(name.encode() + b"\n" + bytes([type_byte]) + public).digest()[:KEY_ID_BYTES]


def format_vkey(key: VerifierKey) -> str:
    """Write "name+key id in hex+base64(type ‖ public key)", the form in which keys are handed around."""
    return f"{key.name}+{key.key_id.hex()}+{b64(bytes([key.type]) + key.public)}"


def parse_vkey(text: str) -> VerifierKey:
    """Read a vkey as text; whether its key may be believed is `signing.vkeys`' question, through which every
    key from outside comes.

    Raises `Malformed` ("vkey", or "not-canonical" for the base64).
    The key ID in it must be the one the key gives: a mistyped character in any part is noticed.
    """
    match text.split("+", 2):  # base64 may hold a plus, a name may not
        case [name, _, encoded]:
            data = unb64(encoded)
            if data and data[0] in tuple(KeyType):
                key = VerifierKey(name, KeyType(data[0]), data[1:])
                if format_vkey(key) == text:
                    return key
    raise _bad_vkey()


@frozen
class Cosignature:
    """What a cosigner's signature line holds: POSIX `time` in seconds, and 64 bytes of Ed25519 signature.

    Raises `Malformed` ("cosignature"), also for a time after `LAST_TIME`: the field would hold 584 billion
    years (C2SP tlog-cosignature).
    """

    time: int
    signature: bytes

    def __post_init__(self) -> None:
        if not 0 <= self.time <= LAST_TIME or len(self.signature) != ED25519_SIGNATURE_BYTES:
            raise _bad_cosignature()

    def to_bytes(self) -> bytes:
        """8-byte big-endian time ‖ signature (C2SP tlog-cosignature, Format)."""
        return self.time.to_bytes(TIME_BYTES, "big") + self.signature


def read_cosignature(data: bytes) -> Cosignature:
    """Read the bytes of a cosignature/v1 signature line; raises `Malformed` ("cosignature")."""
    return Cosignature(int.from_bytes(data[:TIME_BYTES], "big"), data[TIME_BYTES:])


def cosignature_message(time: int, text: str) -> bytes:
    """Give the bytes a cosigner signs for a checkpoint's text at POSIX `time` (tlog-cosignature, Ed25519
    message).
    """
    return f"cosignature/v1\ntime {time}\n{text}".encode()


def _require_name(name: str, code: str) -> None:
    """Refuse what is no key name or origin: empty, with spaces of any script, a plus, or control characters,
    or what begins another text.
    """
    # Half surrogate pairs, possible in text that came through JSON, have no UTF-8 form to sign.
    if not name or any(each.isspace() or each in _NOT_IN_NAMES for each in name):
        raise Malformed(
            "The name of a log or cosigner has no spaces and no plus, like example.org/log1. Correct the"
            " name.",
            code=code,
            part="name",
        )
    if _OTHER_TEXTS.fullmatch(name):
        raise Malformed(
            f"{name} is how another kind of signed text begins, and no name for a log or cosigner. Choose one"
            " like example.org/log1.",
            code=code,
            part="name",
        )


def _bad_checkpoint() -> Malformed:
    return Malformed(
        "A checkpoint is three lines: origin, size, root. Fetch the checkpoint again, unaltered.",
        code="checkpoint",
    )


def _bad_note(part: str) -> Malformed:
    return Malformed(
        "A signed note is a text, an empty line and signature lines. Fetch the note again, unaltered.",
        code="note",
        part=part,
    )


def _bad_vkey() -> Malformed:
    return Malformed(
        "A verifier key reads name+id+key, and the id must fit the key; or it is typed as the name of the log"
        " or cosigner, = and the five lines, the number at the front of each. Copy the whole key again.",
        code="vkey",
    )


def _bad_cosignature() -> Malformed:
    return Malformed(
        "A cosignature is a time that a clock can show, before the year 2200, and 64 bytes. Ask the cosigner"
        " again.",
        code="cosignature",
    )
