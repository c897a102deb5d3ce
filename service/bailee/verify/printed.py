"""An entry as a paper shows it, brought by the auditor: whoever rewrites the log does not reach the paper.

The custody record and the page of a form end with the number of its newest entry and the hash of its leaf. A
file of the same form made later has that very entry (step 8). A hash that is nearly that of the entry, or
that of another one, was mistyped and is no fault of the file.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from bailee.errors import Malformed
from bailee.ledger.fingerprint import fingerprint, read_hash
from bailee.verify.evidence import Notes, ReadEntry
from bailee.verify.result import PlaceInFile

_TYPED: Final = re.compile(r"\s*(?P<n>[1-9][0-9]{0,8})\s*=(?P<hash>.*)", re.DOTALL)
_ALIKE: Final = 26
"""So many of 52 characters in the same place are a slip: two histories agree in one or two by chance."""


def brought(texts: Iterable[str]) -> dict[int, str]:
    """Leaf hashes (base64url) by the number of the entry, from `N=HASH` as it is printed.

    Raises `Malformed` (`bad-printed`).
    """
    found: dict[int, str] = {}
    for text in texts:
        typed = _TYPED.fullmatch(text)
        if not typed:
            raise Malformed(
                f"{text!r} is not an entry as it is printed: write its number, = and the 52 characters of its"
                " hash.",
                code="bad-printed",
            )
        n, leaf = int(typed["n"]), read_hash(typed["hash"])
        if found.setdefault(n, leaf) != leaf:
            raise Malformed(
                f"Two hashes were entered for entry {n}: keep the papers apart, and compare one at a time.",
                code="bad-printed",
            )
    return found


def check(printed: Mapping[int, str], items: Iterable[ReadEntry], chain: str, notes: Notes) -> None:
    """Step 8, for the entries of the form that the auditor has on paper."""
    here = [(item.entry.n, item.leaf) for item in items if item.entry.chain == chain] if printed else []
    for n, leaf in sorted(printed.items()):
        if (n, leaf) in here:
            continue
        place, head = PlaceInFile(chain=chain, n=n), fingerprint(leaf)[:34]
        others = sorted(number for number, each in here if each == leaf)
        near = max((_alike(leaf, each) for number, each in here if number == n), default=0)
        if others:
            said = f"The hash {head} … brought for entry {n} is that of entry {others[0]}."
            notes.other_key("printed-entry", place, said)
        elif near >= _ALIKE:
            said = (
                f"The hash {head} … brought for entry {n} differs from this file's in {52 - near} of 52"
                " characters: compare it with the paper."
            )
            notes.other_key("printed-entry", place, said)
        else:
            there = (
                "this file has another entry of that number, so there are two histories"
                if any(number == n for number, _ in here)
                else f"this file ends at entry {max((number for number, _ in here), default=0)}: entries were"
                " removed, or it was made before the paper was printed"
            )
            notes.fault(8, "printed-entry", place, f"The paper shows entry {n} as {head} …, and {there}.")


def _alike(one: str, other: str) -> int:
    pairs = zip(*(fingerprint(each).replace(" ", "") for each in (one, other)), strict=True)
    return sum(a == b for a, b in pairs)
