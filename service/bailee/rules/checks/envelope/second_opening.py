"""RC: a cassette that was missed at the first opening and turns up afterwards, and an envelope that the dock
shut again.

Every opening counts: the seal of the journey ends with the first, and from then on only a whole seal of the
dock's own, or the word of whoever found it, speaks for a cassette.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from itertools import pairwise

from bailee.domain import numbers
from bailee.domain.acts.form import ClosedAgain, Dock, Received
from bailee.domain.custody import Arrival, Sample
from bailee.domain.moments import duration_words
from bailee.domain.numbers import grouped
from bailee.errors import BadNumber
from bailee.rules.case import Case
from bailee.rules.checks.envelope.receiving import HOLD, SEAL_STATES, held, same_seal
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import clock, clock_at


@rule(
    "RC-19",
    "Found after the first opening",
    "flag",
    "custody",
    "EPA 905R78115 (1978): in view, in possession, or secured, from hand to hand; the minutes are common "
    "practice",
    advice(
        "The person who found it enters where it was and how it was secured since the opening, if that is"
        " known. Put it on hold, and call the sampling firm.",
        do("held", "sample", secured=..., where="laboratory", since=..., until=...),
        do("on_hold", "sample", reason="count", called=...),
    ),
)
def found_afterwards(case: Case) -> Iterator[Hit]:
    """It was not there when the envelope was opened, so no seal speaks for it until somebody took it over.

    A warning where the dock's own whole seal, or the finder's word, leaves no more minutes than a hand-over
    may take.
    """
    for form in case.forms.values():
        limit = timedelta(minutes=case.policy(form).hand_over_break_min)
        for sample in form.samples.values():
            if not (sample.missed and sample.found):
                continue
            opened, found = sample.missed.of(Received), sample.found.of(Received)
            assert opened.dock
            closed = case.once(_closed_until)[form.number].get(sample.found.entry.n)
            open_time, kept = _unexplained(sample, closed)
            nobody = (
                f"for {duration_words(open_time)} no entry shows where it was"
                if open_time
                else "how it was secured until then is on record"
            )
            said = (
                f"Sample {grouped(sample.number)} was not in envelope {grouped(opened.dock.envelope)} at its"
                f" first opening on {clock(opened.at)} and was received on"
                f" {clock_at(found.at.instant, opened.at)}: {nobody} ({_where(found)})."
            )
            severity: Severity = "warn" if kept and open_time <= limit else "flag"
            entries = (sample.missed.entry.n, sample.found.entry.n)
            yield Hit(sample.number, said, severity, entries, by=("hand_over_break_min",))


@rule(
    "RC-20",
    "Opened again, the laboratory's own seal not intact",
    "block",
    "custody",
    "49 CFR 40.199, by analogy",
    HOLD,
)
def own_seal_whole(case: Case) -> Iterator[Hit]:
    """Asked only where the dock closed the envelope again and gave the number of its seal."""
    for _, envelope in case.envelopes():
        for before, after in pairwise(envelope.arrivals):
            closed, dock = _closed_again(before), after.said.of(Received).dock
            if closed and closed.seal and dock and not _is_whole(dock, closed.seal):
                read = f"was {dock.seal}, {SEAL_STATES[dock.seal_state]}" if dock.seal else "was missing"
                said = (
                    f"Envelope {grouped(envelope.number)} was closed again with seal {closed.seal} on"
                    f" {clock(closed.at)}; at the opening on"
                    f" {clock_at(after.said.of(Received).at.instant, closed.at)} the seal {read}."
                )
                inside = [item.sample for item in after.said.of(Received).items] or [envelope.number]
                for about in inside:
                    yield Hit(
                        about,
                        said,
                        entries=(before.said.entry.n, after.said.entry.n),
                        remedy=held(case, envelope.number),
                    )


def _unexplained(sample: Sample, closed: ClosedAgain | None) -> tuple[timedelta, bool]:
    """How long nobody shows where a sample was, from the first opening until it was found; and whether
    anything speaks for a part of that. `closed`: the dock's own seal, which was whole when it was found.
    """
    assert sample.missed
    assert sample.found
    begins, ends = sample.missed.of(Received).at.instant, sample.found.of(Received).at.instant
    stretches = [
        (keeping.since.instant, keeping.until.instant if keeping.until else ends)
        for link in sample.links
        if link.received is sample.found.entry
        for keeping in link.keeping
    ]
    if closed:
        stretches.append((closed.at.instant, ends))
    total, kept = timedelta(), False
    for since, until in sorted(stretches):
        if begins < min(since, ends):
            total += min(since, ends) - begins
        kept = kept or max(since, begins) < min(until, ends)
        begins = max(begins, until)
    return total + max(ends - begins, timedelta()), kept


def _closed_until(case: Case) -> dict[str, dict[int, ClosedAgain]]:
    """By form and later opening, how the dock had closed the envelope again, if that seal was then whole."""
    found: dict[str, dict[int, ClosedAgain]] = {number: {} for number in case.forms}
    for form, envelope in case.envelopes():
        for before, after in pairwise(envelope.arrivals):
            closed, dock = _closed_again(before), after.said.of(Received).dock
            if closed and dock and _is_whole(dock, closed.seal):
                found[form.number][after.said.entry.n] = closed
    return found


def _closed_again(arrival: Arrival) -> ClosedAgain | None:
    dock = arrival.said.of(Received).dock
    return dock.closed_again if dock else None


def _is_whole(dock: Dock, seal: str | None) -> bool:
    return bool(seal) and dock.seal_state == "intact" and same_seal(dock.seal, _tidy(seal or ""))


def _tidy(seal: str) -> str:
    try:
        return numbers.read_seal(seal)
    except BadNumber:
        return seal.strip()


def _where(received: Received) -> str:
    if received.found is None:
        return "no entry shows where it was found"
    if received.found.other:
        return f"found: in envelope {grouped(received.found.other)}"
    return f"found: {received.found.where}"
