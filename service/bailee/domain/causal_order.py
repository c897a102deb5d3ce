"""The order in which statements are given a meaning.

Entries are recorded as they arrive; people act in basements without a network. So the fold does not read a
form in the order of recording `n`, but in an order that is the same whichever phone uploads first:

0. the entry that began the chain comes first;
1. a device's statements come in its own counting order (`seq`);
2. a statement comes after everything its device had seen of the form (`after`: that entry and all before it);
3. a statement comes after the ones it names in `refs`;
4. otherwise the earlier claimed time comes first, and equal times by digest.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heapify, heappop, heappush

from bailee.domain.statements import Recorded


def causal(entries: Sequence[Recorded]) -> list[Recorded]:
    """All `entries` of one chain, given as recorded, in the order above.

    Only forged data contradicts itself (1 to 3 form a circle); then the earliest recorded of what is left
    goes next.
    """
    return [entries[position] for position in _sorted(_waits(entries), [_rank(entry) for entry in entries])]


_Rank = tuple[int, object, str]


def _rank(entry: Recorded) -> _Rank:
    return (1, entry.at.instant, entry.digest)


def _waits(entries: Sequence[Recorded]) -> list[set[int]]:
    """For each entry the ones it comes after.

    Node `len(entries) + i` stands for everything recorded up to entry i.
    """
    count = len(entries)
    by_leaf = {entry.leaf: position for position, entry in enumerate(entries)}
    by_digest = {entry.digest: position for position, entry in enumerate(entries)}
    waits: list[set[int]] = []
    for position, (entry, previous) in enumerate(zip(entries, _previous_of_device(entries), strict=True)):
        before = {count + by_leaf[entry.after]} if entry.after in by_leaf else set()
        before |= {by_digest[ref] for ref in entry.refs if ref in by_digest}
        before |= {0} if previous is None else {0, previous}
        waits.append(before - {position} if position else set())
    return waits + [{position} | ({count + position - 1} if position else set()) for position in range(count)]


def _previous_of_device(entries: Sequence[Recorded]) -> list[int | None]:
    previous: list[int | None] = [None] * len(entries)
    last: dict[str, int] = {}
    # Without the first entry: it stands outside its device's order, and must not cut it in two.
    for position in sorted(range(1, len(entries)), key=lambda i: (entries[i].seq, _rank(entries[i]))):
        kid = entries[position].kid
        previous[position] = last.get(kid)
        last[kid] = position
    return previous


def _sorted(waits: list[set[int]], rank: list[_Rank]) -> list[int]:
    """Positions in topological order, the least rank first among those that are free."""
    count = len(rank)
    # "Everything up to i" is no entry: it goes through at once.
    ranks = rank + [(0, 0, "")] * count
    followers: list[list[int]] = [[] for _ in waits]
    missing = [len(before) for before in waits]
    for node, before in enumerate(waits):
        for earlier in before:
            followers[earlier].append(node)
    free = [(ranks[node], node) for node, number in enumerate(missing) if not number]
    heapify(free)
    placed: dict[int, None] = {}
    for stuck in range(count):
        if not free and stuck not in placed:
            heappush(free, (ranks[stuck], stuck))
        while free:
            _, node = heappop(free)
            if node in placed:
                continue
            placed[node] = None
            for follower in followers[node]:
                missing[follower] -= 1
                if not missing[follower]:
                    heappush(free, (ranks[follower], follower))
    return [node for node in placed if node < count]
