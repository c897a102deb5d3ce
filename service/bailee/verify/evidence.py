"""What lies in a bundle, looked at without asking who signed it: steps 3, 4 and 5 of the verifier.

A fault is noted and the rest is looked at all the same, so that an auditor sees everything that is wrong, not
only the first of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from bailee.domain import numbers
from bailee.domain.moments import Moment
from bailee.errors import BadMoment, BaileeError
from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.ledger import proof
from bailee.ledger.checkpoint import Checkpoint
from bailee.ledger.ends import Ends
from bailee.ledger.entry import Entry
from bailee.rules.wording import clock_at
from bailee.signing import signed_statement
from bailee.signing.signed_statement import Unverified
from bailee.verify.bundle import Placed
from bailee.verify.result import Fault, PlaceInFile, Remark, Unchecked, UnreachedKey

MISSING: Final = frozenset({"broken-chain", "chain-missing", "entry-missing", "unknown-entry", "wrong-end"})
"""Codes of faults that say: something that was recorded is not here."""


@dataclass(slots=True)
class Notes:
    """What the steps found so far."""

    faults: list[Fault] = field(default_factory=list)
    other_keys: list[UnreachedKey] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    unchecked: list[Unchecked] = field(default_factory=list)
    unknown: list[tuple[PlaceInFile, str]] = field(default_factory=list)
    """Where something stands that this program does not know, or that rests on such a thing; and its act."""

    def fault(self, step: int, code: str, place: PlaceInFile, sentence: str) -> None:
        """Note what must not be."""
        self.faults.append(Fault(step, code, place, sentence))

    def other_key(self, code: str, place: PlaceInFile, sentence: str) -> None:
        """Note a key that was brought and that this file does not lead to."""
        self.other_keys.append(UnreachedKey(code, place, sentence))

    @property
    def is_missing(self) -> bool:
        """Whether something that was recorded is not here."""
        return any(each.code in MISSING for each in self.faults)

    def remark(self, code: str, place: PlaceInFile, sentence: str) -> None:
        """Note what must be weighed."""
        self.remarks.append(Remark(code, place, sentence))

    def not_checked(self, code: str, sentence: str) -> None:
        """Note what this file cannot show."""
        self.unchecked.append(Unchecked(code, sentence))


@frozen
class ReadEntry:
    """One readable entry and its place in the log; `leaf` is its hash in base64url."""

    placed: Placed
    entry: Entry
    leaf: str

    @property
    def index(self) -> int:
        """Its place in the log, from 0."""
        return self.placed.index

    @property
    def place(self) -> PlaceInFile:
        """Where to look for it."""
        return PlaceInFile(self.index, self.entry.chain, self.entry.n)


@frozen
class ClaimedEntry:
    """An entry and what its statement claims, not yet believed."""

    item: ReadEntry
    statement: Unverified

    @property
    def place(self) -> PlaceInFile:
        """Where to look for it, with the sample it is about when it names one."""
        return of_sample(self.item.place, self.statement)


def shown(time: str, beside: str = "") -> str:
    """A time of the file in the one form of a report, on the clock of `beside` or its own."""
    try:
        return clock_at(Moment.parse(time).instant, Moment.parse(beside or time))
    except BadMoment:  # one that no clock shows is told as it stands there
        return time


def of_sample(place: PlaceInFile, statement: Unverified) -> PlaceInFile:
    """The place, with the sample that the statement is about when it names exactly one."""
    sample = statement.claims.data.get("sample")
    if isinstance(sample, str) and sample.isalnum() and numbers.kind_of(sample) == "sample":
        return replace(place, sample=sample[: numbers.LENGTH])
    return place


def read_entries(placed: Sequence[Placed], checkpoint: Checkpoint | None, notes: Notes) -> list[ReadEntry]:
    """Step 3: each entry in its one exact form, and proven to be in the log.

    Items come in the order of the log.

    Without a readable checkpoint nothing can be proven; that is already a fault of step 2.
    """
    items: list[ReadEntry] = []
    taken: set[int] = set()
    for each in sorted(placed, key=lambda one: one.index):
        if each.index in taken:
            notes.fault(
                3,
                "index-twice",
                PlaceInFile(each.index),
                f"Two entries have the index {each.index} of the log.",
            )
        taken.add(each.index)
        try:
            item = ReadEntry(each, entries.read(each.text), entries.link(each.text))
        except BaileeError as error:
            notes.fault(3, error.code, PlaceInFile(each.index), error.sentence)
            continue
        items.append(item)
        if checkpoint:
            _check_inclusion(item, checkpoint, notes)
    return items


def _check_inclusion(item: ReadEntry, checkpoint: Checkpoint, notes: Notes) -> None:
    leaf = entries.leaf_hash(item.placed.text.encode("ascii"))
    try:
        proof.check_inclusion(leaf, item.index, checkpoint.size, item.placed.proof, checkpoint.root)
    except BaileeError as error:
        if item.placed.proof or checkpoint.size == 1:
            said = (
                "This entry, as it is here, is not at that place of the log: it was altered, moved or never"
                " logged."
            )
            notes.fault(3, error.code, item.place, said)
        else:
            notes.fault(3, "proof-missing", item.place, "The proof that this entry is in the log is missing.")


def check_chains(items: Iterable[ReadEntry], notes: Notes) -> None:
    """Step 4: within each chain, 1 to the last without a gap, each entry naming the one before, times never
    running back.
    """
    for chain, links in by_chain(items).items():
        if links[0].entry.n > 1:
            _missing(chain, 1, links[0].entry.n - 1, notes)
        before = links[0]
        for item in links[1:]:
            if item.entry.n == before.entry.n:
                said = f"Two entries of {chain} have number {item.entry.n}: only one can be real."
                notes.fault(4, "number-twice", item.place, said)
                continue
            _check_link(before, item, notes)
            before = item


def check_ends(items: Iterable[ReadEntry], ends: Ends | None, notes: Notes) -> None:
    """Step 4: each chain ends where the log said that it ends under this checkpoint, and none is left out
    that it spoke of.
    """
    if ends is None:  # already a fault of step 2
        return
    chains = by_chain(items)
    for chain, links in chains.items():
        last, end = links[-1], ends.chains.get(chain)
        if end is None:
            said = (
                f"The log's signed list of chain ends does not have {chain}: it was not in this file when the"
                " log made it."
            )
            notes.fault(4, "chain-added", PlaceInFile(chain=chain), said)
        elif end.n > last.entry.n:
            _missing(chain, last.entry.n + 1, end.n, notes)
        elif (end.n, end.leaf) != (last.entry.n, last.leaf):
            said = (
                f"By the log's signed list, {chain} ends with"
                f" {(f'another entry {end.n}' if end.n else 'no entry')}, not with this one."
            )
            notes.fault(4, "wrong-end", last.place, said)
    for chain, end in ends.chains.items():
        if end.n and chain not in chains:
            said = f"{chain} is not here, and by the log's signed list it has {end.n} entries."
            notes.fault(4, "chain-missing", PlaceInFile(chain=chain), said)


def by_chain(items: Iterable[ReadEntry]) -> dict[str, list[ReadEntry]]:
    """The entries of each chain by their number."""
    chains: dict[str, list[ReadEntry]] = {}
    for item in sorted(items, key=lambda each: (each.entry.n, each.index)):
        chains.setdefault(item.entry.chain, []).append(item)
    return chains


def _check_link(before: ReadEntry, item: ReadEntry, notes: Notes) -> None:
    chain, n = item.entry.chain, item.entry.n
    if n > before.entry.n + 1:
        _missing(chain, before.entry.n + 1, n - 1, notes)
    elif item.entry.prev != before.leaf:
        notes.fault(
            4,
            "broken-chain",
            item.place,
            f"This entry does not follow from entry {n - 1} of {chain} as it is here.",
        )
    if item.index <= before.index:
        notes.fault(4, "log-order", item.place, "This entry is earlier in the log than the one it follows.")
    if item.entry.rec < before.entry.rec:  # one fixed form, so text order is time order
        notes.fault(
            4,
            "recorded-backwards",
            item.place,
            f"Its recording time is {item.entry.rec}, before that of the entry it follows"
            f" ({before.entry.rec}).",
        )


def _missing(chain: str, first: int, last: int, notes: Notes) -> None:
    which = f"Entry {first}" if first == last else f"Entries {first} to {last}"
    verb = "is" if first == last else "are"
    notes.fault(
        4,
        "entry-missing",
        PlaceInFile(chain=chain, n=first),
        f"{which} of {chain} {verb} not here, or cannot be read.",
    )


def read_statements(items: Iterable[ReadEntry], origin: str | None, notes: Notes) -> list[ClaimedEntry]:
    """Step 5: each statement in its one exact form, said to this log about this chain.

    Others are noted and left out.
    """
    told = []
    for item in items:
        try:
            statement = signed_statement.read(item.entry.stmt)
        except BaileeError as error:
            notes.fault(5, error.code, item.place, error.sentence)
            continue
        claims, place = statement.claims, of_sample(item.place, statement)
        if origin is not None and claims.aud != origin:
            notes.fault(
                5,
                "wrong-audience",
                place,
                f"This entry was signed for the log {claims.aud}, not for {origin}.",
            )
        elif claims.sub != item.entry.chain:
            notes.fault(
                5,
                "wrong-form",
                place,
                f"This entry was signed about {claims.sub}, not about {item.entry.chain}.",
            )
        else:
            told.append(ClaimedEntry(item, statement))
    return told
