"""Who held samples, as a line of time: the stages of those that went together, and the table that says all
of it in words.

Of each holder: the time that was claimed, the window in which the log can tell that it was signed (not
before, recorded), how the samples were secured, and what lies between two hands.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from bailee.domain.acts.form import Collected
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.custody import Form
from bailee.domain.moments import Moment, duration_words
from bailee.domain.numbers import grouped
from bailee.frozen import frozen
from bailee.presentation import words
from bailee.presentation.hand_overs import HolderView, StretchView
from bailee.presentation.sample_view import SampleView
from bailee.presentation.signature_words import entry_numbers, when
from bailee.presentation.words import NOT_RECORDED, Heading
from bailee.rules.wording import clock_at

MOST_LINES: Final = 6
"""Samples that went other ways have a line each; more of them are told, not drawn."""
HEADINGS: Final = (
    Heading.HOLDER, "Claimed", "Not before", "Recorded", Heading.SECURED, "Until", "Entries",
)  # fmt: skip

Bounds = Mapping[int, datetime]
"""By entry of the form, before when it cannot have been signed."""


@frozen
class TimeHeld:
    """One holder of samples that went together. `claimed` is when it began by the earliest of the entries;
    `recorded` is when the log had the last of them, `not_before` what it shows of the first.
    """

    who: str
    entries: tuple[int, ...]
    claimed: Moment
    until: Moment | None
    not_before: datetime | None
    recorded: datetime
    kept: tuple[StretchView, ...]
    gap: timedelta | None
    ended: str

    @property
    def secured(self) -> str:
        """How it was secured, in words."""
        return "; ".join(dict.fromkeys(each.words for each in self.kept)) or words.NO_WAY_NOW

    @property
    def cells(self) -> tuple[str, ...]:
        """The stage as a row of the table under `HEADINGS`."""
        gap = (words.gap(duration_words(self.gap)),) if self.gap else ()
        return (
            self.who,
            when(self.claimed),
            clock_at(self.not_before, self.claimed) if self.not_before else NOT_RECORDED,
            clock_at(self.recorded, self.claimed),
            self.secured,
            " ".join((when(self.until) if self.until else self.ended, *gap)),
            entry_numbers(self.entries),
        )


@frozen
class CustodyLine:
    """The way of samples that went together from hand to hand."""

    samples: tuple[str, ...]
    stages: tuple[TimeHeld, ...]

    @property
    def title(self) -> str:
        """Whose line it is."""
        if len(self.samples) == 1:
            return f"{Heading.SAMPLE} {grouped(self.samples[0])}"
        return f"{len(self.samples)} samples that went together"

    @property
    def named(self) -> str:
        """Their numbers."""
        return ", ".join(map(grouped, self.samples))

    @property
    def told(self) -> str:
        """What a screen reader says in place of the picture."""
        return f"{self.title}: {', then '.join(each.who for each in self.stages)}. The table has the times."


def bounds_of(form: Form) -> Bounds:
    """What the chain of the form shows: an entry follows one that had been recorded by then."""
    recorded = {entry.leaf: entry.rec for entry in form.entries}
    return {entry.n: recorded[entry.after] for entry in form.entries if entry.after in recorded}


def custody_lines(samples: Iterable[SampleView], bounds: Bounds) -> list[CustodyLine]:
    """A line for all samples that went the same way, in the order in which they were collected."""
    together: dict[tuple[object, ...], list[SampleView]] = {}
    for sample in samples:
        if sample.holders:
            together.setdefault(tuple(map(_alike, sample.holders)), []).append(sample)
    return [
        CustodyLine(
            tuple(each.number for each in alike),
            tuple(
                _stage(same, bounds, alike[0]) for same in zip(*(each.holders for each in alike), strict=True)
            ),
        )
        for alike in together.values()
    ]


def _alike(holder: HolderView) -> tuple[object, ...]:
    is_first = isinstance(holder.entry.body, Collected | SurfaceCollected)
    kept = tuple((each.secured, each.where, each.until) for each in holder.kept)
    entry = 0 if is_first else holder.entry.n
    return holder.name, holder.kid, entry, holder.until, holder.gap, holder.given_entry, kept


def _stage(same: Sequence[HolderView], bounds: Bounds, sample: SampleView) -> TimeHeld:
    first = min(same, key=lambda each: each.since)
    numbers = {each.entry.n for each in same}
    known = [bounds[n] for n in numbers if n in bounds]
    is_last = first.until is None
    waits = words.STEPS["pending"] if sample.given else words.NOW.lower()
    return TimeHeld(
        who=first.name,
        entries=tuple(sorted(numbers)),
        claimed=first.since,
        until=first.until,
        not_before=min(known, default=None),
        recorded=max(each.entry.rec for each in same),
        kept=first.kept,
        gap=first.gap,
        ended=(words.status(sample.status) if sample.status == "missing" else waits) if is_last else "",
    )
