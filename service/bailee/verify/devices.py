"""What devices say about order: steps 7 and 8 of the verifier.

A device counts its statements, names the one before, the newest entry it had seen of the chain, and the
newest tree head it had checked. Each of these is a witness against whoever removed, exchanged or re-told
something afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from bailee.errors import BaileeError
from bailee.frozen import frozen
from bailee.ledger import proof
from bailee.ledger.base64url import unb64u
from bailee.ledger.checkpoint import Checkpoint
from bailee.ledger.merkle import EMPTY_ROOT
from bailee.signing.signed_statement import SignedStatement
from bailee.verify.authorship import Heard
from bailee.verify.bundle import Earlier
from bailee.verify.evidence import Notes, ReadEntry
from bailee.verify.result import PlaceInFile

Head = tuple[int, bytes]


@frozen
class RefusedAct:
    """A refused statement of administration that shows by itself why (`refusals`): it has used up a counter,
    and takes its place in the count of its device.
    """

    statement: SignedStatement
    place: PlaceInFile

    @property
    def digest(self) -> str:
        """Its id."""
        return self.statement.digest


Counted = Heard | RefusedAct


def check_order(
    heard: Sequence[Heard], items: Sequence[ReadEntry], notes: Notes, refused: Iterable[RefusedAct] = ()
) -> None:
    """Step 7: one count per device without a fork, and everything a device had seen is here."""
    by_device: dict[str, list[Counted]] = {}
    counted: list[Counted] = [*heard, *refused]
    for each in sorted(counted, key=_in_count):
        by_device.setdefault(each.statement.kid, []).append(each)
    between = sum(_check_device(said, notes) for said in by_device.values())
    if between:
        notes.not_checked(
            "counters",
            f"{between} {('entry is' if between == 1 else 'entries are')} between those shown here,"
            " by the numbers of the devices that made them: on other forms, never sent, or missing here."
            " Only the whole log shows which.",
        )
    _check_after(heard, items, notes)
    _check_refs(heard, notes)


def _in_count(each: Counted) -> tuple[int, int]:
    index = each.item.index if isinstance(each, Heard) else -1
    return each.statement.claims.seq, index


def _check_device(said: Sequence[Counted], notes: Notes) -> int:
    """One device, in the order of its count; how many of its statements are not here."""
    first = said[0].statement.claims
    between = first.seq - 1
    if (first.seq == 1) != (first.prev is None):
        _fork(said[0], "It does not begin its device's numbers as it must", notes)
    for before, each in pairwise(said):
        claims, gap = each.statement.claims, each.statement.claims.seq - before.statement.claims.seq
        between += max(gap - 1, 0)
        if gap == 0 and each.digest == before.digest:
            notes.fault(7, "statement-twice", each.place, f"This entry is also at {before.place}.")
        elif gap == 0:
            _fork(
                each,
                f"Its device used the number {claims.seq} for another entry too ({before.place})",
                notes,
            )
        elif gap == 1 and claims.prev != before.digest:
            _fork(each, f"It does not continue what its device signed before ({before.place})", notes)
        elif claims.prev is None:
            _fork(each, "It is marked as the first of its device", notes)
        elif claims.iat < before.statement.claims.iat:
            notes.remark(
                "clock-backwards",
                each.place,
                f"By its device's clock it was made before the one its device made earlier ({before.place}).",
            )
    return between


def _fork(each: Counted, why: str, notes: Notes) -> None:
    notes.fault(
        7,
        "device-fork",
        each.place,
        f"{why}: a copied key or a restored backup can cause this, or an entry was exchanged.",
    )


def _check_after(heard: Iterable[Heard], items: Iterable[ReadEntry], notes: Notes) -> None:
    numbers = {(item.entry.chain, item.leaf): item.entry.n for item in items}
    for each in heard:
        after, entry = each.statement.claims.after, each.item.entry
        if after is not None and numbers.get((entry.chain, after), entry.n) >= entry.n:
            notes.fault(
                7,
                "unknown-entry",
                each.place,
                "The device saw an entry that is not here: an earlier entry is missing here, or differs.",
            )


def _check_refs(heard: Sequence[Heard], notes: Notes) -> None:
    here = {each.digest for each in heard}
    for each in heard:
        missing = [ref for ref in each.statement.claims.refs if ref not in here]
        if missing:
            notes.not_checked(
                "refs",
                f"The entry at {each.place} refers to {len(missing)} that"
                f" {('is' if len(missing) == 1 else 'are')} not here: on another form, never sent, or missing"
                " here.",
            )


def check_seen(
    heard: Sequence[Heard], earlier: Iterable[Earlier], checkpoint: Checkpoint | None, notes: Notes
) -> set[Head]:
    """Step 8: the checkpoint continues every tree head that a device had seen.

    Returns the heads it provably continues.

    A head that the file brings no proof for is a fault: whoever exports writes them all.
    """
    if checkpoint is None:
        return set()
    heads = list(earlier)
    proven = _prove(heads, checkpoint, notes)
    brought = proven | {(each.size, each.root) for each in heads}
    roots = dict(proven)
    unproven: dict[Head, PlaceInFile] = {}
    for each in heard:
        seen = each.statement.claims.seen
        if seen is None:
            continue
        place = each.place
        if seen.size > each.item.index:
            said = (
                f"The device had seen a log of {seen.size} entries, and this was recorded at an index below:"
                " the log does not continue what it showed."
            )
            notes.fault(8, "seen-later", place, said)
            continue
        root = _root(seen.root)
        if roots.get(seen.size, root) != root:
            said = (
                f"The device had seen another log of {seen.size} entries than this one: there are two"
                " histories."
            )
            notes.fault(8, "two-histories", place, said)
        elif (seen.size, root) not in brought:
            unproven.setdefault((seen.size, root), place)
    if unproven:
        said = "; ".join(f"{size} entries, seen at {place}" for (size, _), place in sorted(unproven.items()))
        notes.fault(
            8,
            "proof-missing",
            PlaceInFile(),
            f"Proofs are missing that the log still holds what devices had seen of it: {said}.",
        )
    return proven


def _prove(earlier: Iterable[Earlier], checkpoint: Checkpoint, notes: Notes) -> set[Head]:
    proven = {(0, EMPTY_ROOT), (checkpoint.size, checkpoint.root)}
    for each in earlier:
        try:
            proof.check_consistency(each.size, checkpoint.size, each.proof, each.root, checkpoint.root)
        except BaileeError as error:
            said = (
                f"The log of {checkpoint.size} entries is not shown to continue the checkpoint of {each.size}"
                " entries that was seen before."
            )
            notes.fault(8, error.code, PlaceInFile(), said)
        else:
            proven.add((each.size, each.root))
    return proven


def _root(text: str) -> bytes:
    """A root as statements write it; one that is not canonical equals no root at all."""
    try:
        return unb64u(text)
    except BaileeError:
        return b""
