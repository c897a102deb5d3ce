"""The auditor's file: one form with every chain it leans on, in one JSON file that needs nothing else beside
it.

    {"format": "bailee-bundle/2", "form": "F7K3…", "exported": "2026-12-03T09:00:00Z",
     "checkpoint": "<signed note>", "ends": "<signed note>", "roots": {"<organization>": "<thumbprint>"},
     "earlier": [{"size": 12, "root": "<b64>", "proof": ["<b64>", …]}, …],
     "entries": [{"index": 5, "entry": "<exact text>", "disclosures": ["WyJ…", …], "proof": ["<b64>", …]}, …],
     "conflicts": [["<statement in the log>", "<statement refused>"], …], "refused": ["<statement>", …],
     "tokens": [{"type": "rfc3161", "size": 12, "der": "<b64>"}, …]}

Hashes are base64 with padding, as in notes and proofs (C2SP). `entries` are the whole chains of the form, of
every lot it names and of every organization that signs or is a party, by index. `ends` is the log's own word
on where each of these chains ends (`ledger.ends`). `earlier` are tree heads that somebody saw before, each
with its consistency proof to the checkpoint. `conflicts`, left out when there are none, are statements of one
key that contradict each other, of which the log could take only one; each proves itself. `refused`, left out
likewise, are statements of administration that the log refused, each of which shows by itself why, and
explains a number missing from its device's count. `tokens`, left out likewise, are time stamps over
checkpoints (RFC 3161), whose sizes are in `earlier`. `roots` and `exported` are the exporter's own words:
shown, never trusted. Members this program does not know are left alone, and named as unauthenticated. Reading
decides only whether this can be a bundle; whether it holds together is the verifier's question.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from hashlib import sha256
from heapq import nsmallest
from typing import Any, Final, TypeVar

from bailee.domain import numbers
from bailee.errors import Malformed
from bailee.frozen import field, frozen
from bailee.ledger.base64url import b64, unb64
from bailee.ledger.checkpoint import MAX_SIZE
from bailee.ledger.entry import HASH_BYTES
from bailee.signing import disclosures, strict_json
from bailee.verify.file_limits import (
    MAX_BYTES,
    MAX_CONFLICTS,
    MAX_DISCLOSURES,
    MAX_ENTRIES,
    MAX_PARTS,
    MAX_PROOF,
    MAX_REFUSED,
    MAX_ROOTS,
    MAX_TOKENS,
    MAX_UNKNOWN,
)

FORMAT: Final = "bailee-bundle/2"
_BEFORE: Final = "bailee-bundle/1"

_THUMBPRINT: Final = re.compile(r"[A-Za-z0-9_-]{43}", re.ASCII)
_ORGANIZATION: Final = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,30}[a-z0-9])?", re.ASCII)
_EXPORTED: Final = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}Z", re.ASCII)
_MEMBERS: Final = frozenset(
    {
        "format",
        "form",
        "exported",
        "checkpoint",
        "ends",
        "roots",
        "earlier",
        "entries",
        "conflicts",
        "refused",
        "tokens",
    }
)
_PLACED: Final = frozenset({"index", "entry", "disclosures", "proof"})
_EARLIER: Final = frozenset({"size", "root", "proof"})

T = TypeVar("T")


@frozen
class Placed:
    """One log entry: its index (from 0), exact text, the disclosures still there, and its inclusion proof."""

    index: int
    text: str
    disclosures: tuple[str, ...]
    proof: tuple[bytes, ...]


@frozen
class Earlier:
    """A tree head that somebody saw, with the proof that the checkpoint continues it."""

    size: int
    root: bytes
    proof: tuple[bytes, ...]


@frozen
class TimeStampToken:
    """A time stamp over the checkpoint of `size` entries (RFC 3161, DER)."""

    size: int
    der: bytes


@frozen
class Bundle:
    """What the file says, believed by nobody yet.

    `unknown` are the places (RFC 6901) of members not known here, `sha256` is of its bytes.
    """

    form: str
    note: str
    ends: str
    entries: tuple[Placed, ...]
    earlier: tuple[Earlier, ...]
    roots: Mapping[str, str]
    exported: str
    unknown: tuple[str, ...] = field(default=(), compare=False)
    sha256: str = field(default="", compare=False)
    conflicts: tuple[tuple[str, str], ...] = ()
    tokens: tuple[TimeStampToken, ...] = ()
    refused: tuple[str, ...] = ()

    @property
    def unauthenticated(self) -> tuple[str, ...]:
        """Members that no signature and no proof covers: anybody may have changed them."""
        return ("/exported", "/roots", *(("/tokens",) if self.tokens else ()), *self.unknown)


def assemble(
    form_number: str,
    entries: Sequence[Placed],
    note: str,
    ends: str,
    earlier: Sequence[Earlier],
    roots: Mapping[str, str],
    exported: datetime,
    conflicts: Sequence[tuple[str, str]] = (),
    tokens: Sequence[TimeStampToken] = (),
    refused: Sequence[str] = (),
) -> Bundle:
    """A bundle of these parts, in its stable order: entries by index, tree heads by size.

    `exported` must be aware.
    """
    return Bundle(
        form=form_number,
        note=note,
        ends=ends,
        entries=tuple(sorted(entries, key=lambda each: each.index)),
        earlier=tuple(sorted(earlier, key=lambda each: (each.size, each.root))),
        roots=dict(sorted(roots.items())),
        exported=exported.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        conflicts=tuple(sorted(conflicts)),
        tokens=tuple(sorted(tokens, key=lambda each: each.size)),
        refused=tuple(sorted(refused)),
    )


def redacted(bundle: Bundle, names: frozenset[str]) -> Bundle:
    """The same bundle without the private fields of these names, or without any for `all`.

    It verifies all the same.
    """

    def kept(placed: Placed) -> Placed:
        told = placed.disclosures
        left = (
            () if "all" in names else tuple(each for each in told if disclosures.name_of(each) not in names)
        )
        return replace(placed, disclosures=left)

    return replace(bundle, entries=tuple(map(kept, bundle.entries)))


def write(bundle: Bundle) -> str:
    """The file's text: ASCII, so that no mail or editor can change an encoding.

    The same bundle gives the same text.
    """
    members: dict[str, Any] = {
        "format": FORMAT,
        "form": bundle.form,
        "exported": bundle.exported,
        "checkpoint": bundle.note,
        "ends": bundle.ends,
        "roots": dict(sorted(bundle.roots.items())),
        "earlier": [
            {"size": each.size, "root": b64(each.root), "proof": [b64(part) for part in each.proof]}
            for each in bundle.earlier
        ],
        "entries": [
            {
                "index": each.index,
                "entry": each.text,
                "disclosures": list(each.disclosures),
                "proof": [b64(part) for part in each.proof],
            }
            for each in bundle.entries
        ],
    }
    if bundle.conflicts:
        members["conflicts"] = [list(pair) for pair in bundle.conflicts]
    if bundle.refused:
        members["refused"] = list(bundle.refused)
    if bundle.tokens:
        members["tokens"] = [
            {"type": "rfc3161", "size": each.size, "der": b64(each.der)} for each in bundle.tokens
        ]
    return json.dumps(members, indent=1) + "\n"


def read(text: str | bytes) -> Bundle:
    """Read a bundle file.

    Raises `Malformed`: `too-large`, `not-canonical` for what is no JSON that means one thing, `bundle`.

    `facts["place"]` is the JSON pointer (RFC 6901) of what is wrong.
    """
    _require_bounded(text)
    members = _parsed(text)
    if isinstance(members, dict) and members.get("format") == _BEFORE:
        raise Malformed(
            "This file was made before the first release of Bailee, when no form had an edition of the rule"
            " book: no program verifies it any more. The paper record of its form is still valid.",
            code="bundle",
            place="/format",
        )
    if not isinstance(members, dict) or members.get("format") != FORMAT:
        raise _refused("/format", f"must be {FORMAT}: this is another file, or of a newer program")
    found = Bundle(
        form=_form(_of(members, "form", str, "")),
        note=_of(members, "checkpoint", str, ""),
        ends=_of(members, "ends", str, ""),
        entries=tuple(_placed(each, at) for each, at in _each(members, "entries", "", MAX_ENTRIES)),
        earlier=tuple(_earlier(each, at) for each, at in _each(members, "earlier", "", MAX_ENTRIES)),
        roots=_roots(_of(members, "roots", dict, "")),
        exported=_matching(_of(members, "exported", str, ""), _EXPORTED, "/exported"),
        unknown=tuple(_unknown(members)),
        sha256=sha256(text.encode() if isinstance(text, str) else text).hexdigest(),
        conflicts=_conflicts(members) if "conflicts" in members else (),
        tokens=(
            tuple(_token(each, at) for each, at in _each(members, "tokens", "", MAX_TOKENS))
            if "tokens" in members
            else ()
        ),
        refused=(
            tuple(_is(each, str, at) for each, at in _each(members, "refused", "", MAX_REFUSED))
            if "refused" in members
            else ()
        ),
    )
    if not found.entries:
        raise _refused("/entries", "is empty")
    return found


def _require_bounded(text: str | bytes) -> None:
    """Before parsing: a short text can say many values, and each of them takes memory."""
    if len(text) > MAX_BYTES:
        said, limit = f"at most {MAX_BYTES:,} bytes", MAX_BYTES
    elif _parts(text) > MAX_PARTS:
        said, limit = f"at most {MAX_PARTS:,} values", MAX_PARTS
    else:
        return
    raise Malformed(
        f"An auditor's file has {said}: this is another file, or it was made longer. Ask for it again.",
        code="too-large",
        limit=limit,
    )


def _parts(text: str | bytes) -> int:
    if isinstance(text, str):
        return text.count(",") + text.count("[") + text.count("{")
    return text.count(b",") + text.count(b"[") + text.count(b"{")


def _parsed(text: str | bytes) -> Any:
    try:
        return strict_json.loads(text)
    except Malformed as error:
        raise Malformed(
            f"This is no auditor's file, or not all of it: {_why(text, error)}. Ask for it again, and do not"
            " open and save it on the way.",
            code=error.code,
        ) from error


def _why(text: str | bytes, error: Malformed) -> str:
    """In the words of somebody to whom a file was mailed."""
    data = text.encode("utf-8", "replace") if isinstance(text, str) else text
    if not data.strip():
        return "it is empty"
    if data.startswith((b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")):
        return "a program that saved it has put a mark of its own before the text"
    if not data.lstrip().startswith(b"{"):
        return "it does not begin like one"
    if not data.rstrip().endswith(b"}"):
        return "it breaks off"
    return str(error.__cause__)


def _form(text: str) -> str:
    try:
        return numbers.require(text, "form")
    except Malformed as error:
        raise _refused("/form", "is not the number of a form as it must be written") from error


def _placed(member: Any, at: str) -> Placed:
    told = [(each, place) for each, place in _each(member, "disclosures", at, MAX_DISCLOSURES)]
    return Placed(
        index=_count(member, "index", at),
        text=_of(member, "entry", str, at),
        disclosures=tuple(_is(each, str, place) for each, place in told),
        proof=_hashes(member, "proof", at),
    )


def _earlier(member: Any, at: str) -> Earlier:
    root = _hash(_of(member, "root", str, at), f"{at}/root")
    return Earlier(_count(member, "size", at), root, _hashes(member, "proof", at))


def _token(member: Any, at: str) -> TimeStampToken:
    if _of(member, "type", str, at) != "rfc3161":
        raise _refused(f"{at}/type", "must be rfc3161")
    return TimeStampToken(_count(member, "size", at), _bytes(_of(member, "der", str, at), f"{at}/der"))


def _conflicts(members: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    found = []
    for pair, at in _each(members, "conflicts", "", MAX_CONFLICTS):
        if len(_is(pair, list, at)) != 2:
            raise _refused(at, "must hold two entries")
        found.append((_is(pair[0], str, f"{at}/0"), _is(pair[1], str, f"{at}/1")))
    return tuple(found)


def _roots(member: dict[str, Any]) -> dict[str, str]:
    if len(member) > MAX_ROOTS:
        raise _refused("/roots", f"has more than {MAX_ROOTS} members")
    return {
        _matching(org, _ORGANIZATION, "/roots"): _matching(
            _is(root, str, f"/roots/{org}"), _THUMBPRINT, "/roots"
        )
        for org, root in member.items()
    }


def _hashes(member: dict[str, Any], name: str, at: str) -> tuple[bytes, ...]:
    return tuple(_hash(each, place) for each, place in _each(member, name, at, MAX_PROOF))


def _hash(value: Any, at: str) -> bytes:
    data = _bytes(_is(value, str, at), at)
    if len(data) != HASH_BYTES:
        raise _refused(at, f"must be a hash of {HASH_BYTES} bytes")
    return data


def _bytes(text: str, at: str) -> bytes:
    try:
        return unb64(text)
    except Malformed as error:
        raise _refused(at, "is not base64 in its one spelling") from error


def _count(member: dict[str, Any], name: str, at: str) -> int:
    value = _of(member, name, int, at)
    if not 0 <= value <= MAX_SIZE:
        raise _refused(f"{at}/{name}", "must be a count")
    return value


def _each(member: Any, name: str, at: str, limit: int) -> Iterator[tuple[Any, str]]:
    found = _of(member, name, list, at)
    if len(found) > limit:
        raise _refused(f"{at}/{name}", f"has more than {limit:,} parts")
    for place, value in enumerate(found):
        yield value, f"{at}/{name}/{place}"


def _of(member: Any, name: str, kind: type[T], at: str) -> T:
    return _is(_is(member, dict, at).get(name), kind, f"{at}/{name}")


def _is(value: Any, kind: type[T], at: str) -> T:
    if type(value) is not kind:  # exactly: True is an int in Python
        raise _refused(at, f"must be {_WORDS[kind]}")
    return value


def _matching(value: str, pattern: re.Pattern[str], at: str) -> str:
    if not pattern.fullmatch(value):
        raise _refused(at, "is not written as it must be")
    return value


def _unknown(members: dict[str, Any]) -> list[str]:
    return nsmallest(MAX_UNKNOWN, (ascii(name[:80])[1:-1][:80] for name in _unknown_places(members)))


def _unknown_places(members: dict[str, Any]) -> Iterator[str]:
    yield from (f"/{name}" for name in members if name not in _MEMBERS)
    for part, known in (("entries", _PLACED), ("earlier", _EARLIER)):
        for place, member in enumerate(members[part]):
            yield from (f"/{part}/{place}/{name}" for name in member if name not in known)


def _refused(place: str, why: str) -> Malformed:
    return Malformed(
        f"This is no auditor's file ({FORMAT}): {place or 'it'} {why}. Ask for the file again.",
        code="bundle",
        place=place,
    )


_WORDS: Final[Mapping[type, str]] = {dict: "an object", list: "a list", str: "text", int: "a whole number"}
