"""Signatures as paper and pages show them: printed name, organization, role, date and time, meaning (21 CFR
11.50).

A key that is not known, or whose owner's name was erased, is never given another name: the words say that it
is withheld.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bailee.domain.acts.form import Received, Shipped, on_paper
from bailee.domain.moments import Moment, clock_words
from bailee.domain.statements import Recorded
from bailee.frozen import frozen
from bailee.presentation.words import NAME_WITHHELD, plain
from bailee.rules import wording
from bailee.rules.case import Case

HAND_CARRIED: Final = "I gave this sealed envelope to the person who carries it"
AT_THE_DOCK: Final = "I opened this envelope and found it as written here"


@frozen
class Signature:
    """Who signed, when by their own clock, meaning what; `entries` are places on the form's chain.

    `since` is the first of several like signatures shown as one, `signed` the last. `skew`: by how many
    seconds the ledger's clock was ahead of the signer's, where the signer's device knew. `written`: when it
    was written by pen, first and last, where it was entered from paper.
    """

    name: str
    organization: str
    role: str
    signed: Moment
    meaning: str
    entries: tuple[int, ...]
    kid: str
    since: Moment | None = None
    skew: int = 0
    written: tuple[Moment, ...] = ()

    @property
    def time(self) -> str:
        """Date, time and offset; both ends for several. Of a clock known to be wrong it is said, and of what
        was entered from paper when it was written.
        """
        times = _both_ends(self.since or self.signed, self.signed)
        times += f" (by a clock {clock_words(self.skew)})" if self.skew else ""
        return f"{times}; written by pen {_both_ends(*self.written)}" if self.written else times


def signature(case: Case, *entries: Recorded) -> Signature:
    """The signature under an entry, or under several of one person that say the same."""
    first, last = min(entries, key=lambda e: e.at), max(entries, key=lambda e: e.at)
    organization = case.organizations.get(last.org)
    key = organization.keys.get(last.kid) if organization else None
    return Signature(
        name=(key.person if key else "") or NAME_WITHHELD,
        organization=organization.name if organization else last.org,
        role=plain(key.role) if key else "role not known",
        signed=last.at,
        meaning=_meaning(last),
        entries=tuple(sorted(entry.n for entry in entries)),
        kid=last.kid,
        since=first.at if len(entries) > 1 else None,
        skew=max((entry.skew for entry in entries), key=abs),
        written=_written(entries),
    )


def _written(entries: Sequence[Recorded]) -> tuple[Moment, ...]:
    papers = [on_paper(entry.body) for entry in entries]
    found = sorted(paper.written_at for paper in papers if paper)
    return (found[0], found[-1]) if found else ()


def _both_ends(first: Moment, last: Moment) -> str:
    return when(last) if first == last else f"{when(first)} to {when(last)}"


def when(moment: Moment) -> str:
    """`2026-12-01 09:12:30 (-05:00)`, on the clock it was read from; seconds only where they are not zero."""
    return wording.clock(moment)


def entry_numbers(found: Sequence[int]) -> str:
    """`entry 4`, or `entries 2-4, 7`: runs are drawn together."""
    runs: list[list[int]] = []
    for n in sorted(set(found)):
        if runs and n == runs[-1][-1] + 1:
            runs[-1] = [runs[-1][0], n]
        else:
            runs.append([n, n])
    words = ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)
    return f"{'entry' if len(set(found)) == 1 else 'entries'} {words}"


def _meaning(entry: Recorded) -> str:
    if isinstance(entry.body, Received) and entry.body.dock:
        return AT_THE_DOCK
    if isinstance(entry.body, Shipped) and entry.body.by_hand:
        return HAND_CARRIED
    return entry.row.signed
