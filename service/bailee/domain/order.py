"""The order in which statements are given a meaning.

Entries are recorded as they arrive; people act in basements without a network. So the fold does not read a form in the order of
recording `n`, but in an order that is the same whichever phone uploads first:

1. a device's statements come in its own counting order (`seq`);
2. a statement comes after everything its device had seen of the form (`after`: that entry and all before it);
3. a statement comes after the ones it names in `refs`;
4. otherwise the earlier claimed time comes first, and equal times by digest.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heappop, heappush

from bailee.domain.statements import Recorded


def causal(entries: Sequence[Recorded]) -> list[Recorded]:
    """All `entries` of one chain in the order above. A cycle (only forged data has one) falls back on `n`."""
    by_leaf = {entry.leaf: position for position, entry in enumerate(entries)}
    by_digest = {entry.digest: position for position, entry in enumerate(entries)}
    waits: list[set[int]] = []
    for position, (entry, previous) in enumerate(zip(entries, _previous_of_device(entries), strict=True)):
        before = set(range(by_leaf.get(entry.after, -1) + 1)) if entry.after else set()
        before |= {by_digest[ref] for ref in entry.refs if ref in by_digest}
        before |= {previous} if previous is not None else set()
        waits.append(before - {position})
    return [entries[i] for i in _topological(waits, [(e.at.instant, e.digest) for e in entries])]


def _previous_of_device(entries: Sequence[Recorded]) -> list[int | None]:
    previous: list[int | None] = [None] * len(entries)
    last: dict[str, int] = {}
    for position in sorted(range(len(entries)), key=lambda i: (entries[i].seq, i)):
        kid = entries[position].kid
        previous[position] = last.get(kid)
        last[kid] = position
    return previous


def _topological(waits: list[set[int]], rank: list[tuple[object, str]]) -> list[int]:
    followers: dict[int, list[int]] = {}
    missing = [len(before) for before in waits]
    for position, before in enumerate(waits):
        for earlier in before:
            followers.setdefault(earlier, []).append(position)
    ready: list[tuple[tuple[object, str], int]] = []
    for position, count in enumerate(missing):
        if not count:
            heappush(ready, (rank[position], position))
    ordered: list[int] = []
    while ready:
        _, position = heappop(ready)
        ordered.append(position)
        for follower in followers.get(position, ()):
            missing[follower] -= 1
            if not missing[follower]:
                heappush(ready, (rank[follower], follower))
    placed = set(ordered)
    return ordered + [position for position in range(len(waits)) if position not in placed]
