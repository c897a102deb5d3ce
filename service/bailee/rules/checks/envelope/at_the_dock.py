"""RC: the dock itself: who opened the envelope and when, in how many containers it came, and until when the
dock is to act.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from bailee.domain.acts.form import Disposed, Opened, Received, Shipped, TakenIn
from bailee.domain.custody import Envelope, Form
from bailee.domain.moments import Moment, duration_words, hours
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.rules import transit
from bailee.rules.case import Case
from bailee.rules.checks.envelope.receiving import openings, seal_held, seal_whole_until, takings
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import advice, by, do, for_all
from bailee.rules.wording import clock, clock_at, counted, samples, start


@rule(
    "RC-08", "Received long after delivery", "warn", "custody", "common practice, no source",
    advice(
        "The laboratory enters where the envelope was from delivery on, and how it was secured. Correct a "
        "delivery time that was misread.",
        do("held", "envelope", secured=..., where="laboratory", since=..., until=...),
        do("corrected", "form", of="received", field="dock.delivered", new=..., reason="misread"),
    ),
)  # fmt: skip
def scanned_in_time(case: Case) -> Iterator[Hit]:
    """From the delivery until somebody of the laboratory signed for it, opened or not.

    A seal found whole covers the time. Without it custody is not shown for it.
    """
    for form, envelope, delivered, at, n in _received(case):
        waited = at.instant - delivered.instant
        if hours(waited) > case.policy(form).receipt_lag_h:
            whole = seal_held(envelope) or seal_whole_until(envelope) is not None
            covered = (
                "The seal was intact, which secures that time."
                if whole
                else "No entry shows how it was secured for that time."
            )
            said = (
                f"Envelope {grouped(envelope.number)} was delivered on {clock(delivered)} and received on"
                f" {clock_at(at.instant, delivered)}, {duration_words(waited)} later. {covered}"
            )
            yield Hit(envelope.number, said, "warn" if whole else "flag", (n,), by=("receipt_lag_h",))


def _received(case: Case) -> Iterator[tuple[Form, Envelope, Moment, Moment, int]]:
    """Of every envelope that came: when the carrier delivered it, when it was signed for, by which entry."""
    for form, envelope, body, n in takings(case):
        if body.delivered:
            yield form, envelope, body.delivered, body.at, n
    for form, envelope, opened, dock, n in openings(case):
        if dock.delivered and not (envelope.taken_in and envelope.taken_in.said.of(TakenIn).delivered):
            yield form, envelope, dock.delivered, envelope.arrived or opened.at, n


LISTED: Final = frozenset({"custodian", "quality"})
"""Roles of a laboratory that may open what arrives."""


@rule(
    "RC-09", "Receipt dated before shipment or collection", "flag", "custody",
    "21 CFR 11.10(f): checks of sequence; FDA guidance on time stamps, withdrawn, by summary",
    advice(
        "The person who entered the wrong time corrects it; the old one stays visible.",
        do("corrected", "form", of=..., field=..., new=..., reason="clock"),
    ),
)  # fmt: skip
def received_last(case: Case) -> Iterator[Hit]:
    """The clocks of two people may differ by the clock limit.

    Also a delivery before the hand-over or after the opening.
    """
    yield from _taken_in_too_soon(case)
    for form, envelope, body, dock, n in openings(case):
        apart, name = (
            timedelta(seconds=case.policy(form).clock_warn_s),
            f"envelope {grouped(envelope.number)}",
        )
        received = f"{start(name)} was received on {clock(body.at)}"
        taken_in = envelope.taken_in.said if envelope.taken_in else None
        if taken_in and taken_in.of(TakenIn).at.instant - body.at.instant > apart:
            said = f"{received}, before it was taken in unopened on {clock(taken_in.of(TakenIn).at)}."
            yield Hit(envelope.number, said, entries=(taken_in.entry.n, n), by=("clock_warn_s",))
        shipped = envelope.shipped.of(Shipped).handed_over if envelope.shipped else None
        if envelope.shipped and shipped and shipped.instant - body.at.instant > apart:
            said = f"{received}, before it was shipped on {clock_at(shipped.instant, body.at)}."
            yield Hit(envelope.number, said, entries=(envelope.shipped.entry.n, n), by=("clock_warn_s",))
        late = [
            sample
            for sample in map(form.samples.__getitem__, (item.sample for item in body.items))
            if sample.stopped and sample.stopped.instant - body.at.instant > apart
        ]
        if late:
            ended = max(sample.stopped for sample in late if sample.stopped)
            names = samples([sample.number for sample in late])
            yield Hit(
                envelope.number,
                f"{received}, before the run of {names} ended on {clock_at(ended.instant, body.at)}.",
                entries=(n,),
                by=("clock_warn_s",),
            )
        if dock.delivered and dock.delivered.instant - body.at.instant > apart:
            said = f"{received}, before it was delivered on {clock_at(dock.delivered.instant, body.at)}."
            yield Hit(envelope.number, said, entries=(n,), by=("clock_warn_s",))
        if dock.delivered and shipped and shipped.instant - dock.delivered.instant > apart:
            said = (
                f"{start(name)}: delivery dated {clock(dock.delivered)}, before it was shipped on"
                f" {clock_at(shipped.instant, dock.delivered)}."
            )
            yield Hit(envelope.number, said, entries=(n,), by=("clock_warn_s",))


def _taken_in_too_soon(case: Case) -> Iterator[Hit]:
    """Signed for before it left, or before the carrier brought it."""
    for form, envelope, body, n in takings(case):
        apart = timedelta(seconds=case.policy(form).clock_warn_s)
        taken_in = f"Envelope {grouped(envelope.number)} was taken in on {clock(body.at)}"
        shipped = envelope.shipped.of(Shipped).handed_over if envelope.shipped else None
        if envelope.shipped and shipped and shipped.instant - body.at.instant > apart:
            said = f"{taken_in}, before it was shipped on {clock(shipped)}."
            yield Hit(envelope.number, said, entries=(envelope.shipped.entry.n, n), by=("clock_warn_s",))
        if body.delivered and body.delivered.instant - body.at.instant > apart:
            said = f"{taken_in}, before it was delivered on {clock(body.delivered)}."
            yield Hit(envelope.number, said, entries=(n,), by=("clock_warn_s",))


@rule(
    "RC-11", "Sample received, no collection entry", "warn", "custody",
    "49 CFR 40.83 and 40.205, by analogy: hold the sample and obtain the missing signature",
    by(("custodian", "analyst", "quality"), "Keep the sample.")
    + for_all("The inspector who collected it enters that now, as a late entry.", do("collected", "sample")),
)  # fmt: skip
def sampler_signed(case: Case) -> Iterator[Hit]:
    """A warning as long as it is to be kept; afterwards, or when it was disposed of before, a flag."""
    for form, envelope, body, _, n in openings(case):
        unsigned = [
            sample
            for sample in map(form.samples.__getitem__, (item.sample for item in body.items))
            if not sample.claims and not sample.parent
        ]
        keep = close_of_day(case, form, n, body.at, case.policy(form).keep_working_days) if unsigned else None
        for sample in unsigned if keep else ():
            assert keep
            ended = _disposed_at(form, sample.number)
            severity: Severity = "block" if case.at.instant > keep or (ended and ended < keep) else "warn"
            said = (
                f"No collection entry for sample {grouped(sample.number)}, received in envelope"
                f" {grouped(envelope.number)}, could be verified here. Hold it until"
                f" {clock_at(keep, body.at)}."
            )
            yield Hit(sample.number, said, severity, (n,), by=("keep_working_days",))


@rule(
    "RC-13", "Opened without the sample custodian role", "warn", "custody",
    "21 CFR 11.10(g): authority checks",
    "Nothing to fix if it is so: it is printed on the custody record.",
)  # fmt: skip
def opener_listed(case: Case) -> Iterator[Hit]:
    """Listed are sample custodians and the quality role of the laboratory the envelope is addressed to.

    Anybody of that laboratory may take it in unopened.
    """
    for form in case.forms.values():
        for odd in form.oddities:
            if odd.code == "taken-elsewhere" and isinstance(odd.entry.body, TakenIn | Received):
                entry, name = odd.entry, f"envelope {grouped(odd.detail)}"
                done = f"took {name} in" if isinstance(entry.body, TakenIn) else f"opened {name}"
                said = (
                    f"{case.person(entry.org, entry.kid)} of {entry.org} {done} on"
                    f" {clock(odd.entry.body.at)}; it was addressed to {form.addressed_to(odd.detail)}. This"
                    " entry is not a receipt."
                )
                yield Hit(odd.detail, said, entries=(entry.n,))
    for _, envelope, body, _, n in openings(case):
        entry = next(arrival.said.entry for arrival in envelope.arrivals)
        organization = case.organizations.get(entry.org)
        key = organization.keys.get(entry.kid) if organization else None
        who, name = case.person(entry.org, entry.kid), f"envelope {grouped(envelope.number)}"
        if key and key.role not in LISTED:
            said = (
                f"{who} opened {name} on {clock(body.at)} as {key.role.replace('_', ' ')}, not as sample"
                " custodian."
            )
            yield Hit(envelope.number, said, entries=(n,))


@rule(
    "RC-14",
    "Temperature on opening not recorded",
    "note",
    "media",
    "common practice; we found no published limit for spore traps",
    advice(
        "If it was read, add it. Where it is not needed, the quality role or an administrator turns this note"
        " off.",
        do("corrected", "form", of="received", field="dock.temperature_c", new=..., reason="left_out"),
        do("policy_set"),
    ),
)
def temperature_read(case: Case) -> Iterator[Hit]:
    """Only for information: spore traps do not grow, and no limit is judged."""
    for form, envelope, _, dock, n in openings(case):
        if dock.temperature_c is None and case.policy(form).temperature_wanted:
            said = f"No temperature inside envelope {grouped(envelope.number)} is on record for its opening."
            yield Hit(envelope.number, said, entries=(n,), by=("temperature_wanted",))


@rule(
    "RC-22", "Number of containers differs", "warn", "custody",
    "EPA, guidance of November 1992, citing SW-846 chapter 1: a custody record has the number of containers",
    advice(
        "Count the bags and boxes again, and ask the carrier for one that did not come. Correct a number that"
        " was miscounted.",
        do("corrected", "form", of=..., field=..., new=..., reason="misread"),
    ),
)  # fmt: skip
def containers_agree(case: Case) -> Iterator[Hit]:
    """Bags or boxes as sealed, as signed for unopened, as opened first: compared where somebody counted."""
    for form, envelope in case.envelopes():
        counts = list(_containers(envelope))
        if len({number for number, _, _ in counts}) > 1:
            told = ", ".join(f"{counted(number, 'container')} {when}" for number, when, _ in counts)
            said = f"Envelope {grouped(envelope.number)}: {told}."
            yield Hit(envelope.number, said, entries=tuple(n for _, _, n in counts), names=(form.number,))


def _containers(envelope: Envelope) -> Iterator[tuple[int, str, int]]:
    """How many were counted, at which step, by which entry; nothing of a step at which nobody did."""
    taken_in, opened = envelope.taken_in, envelope.arrivals[0] if envelope.arrivals else None
    arrived = taken_in or opened
    sealing = arrived.sealing if arrived else None
    dock = opened.said.of(Received).dock if opened else None
    if sealing and sealing.body.containers is not None:
        yield sealing.body.containers, "when sealed", sealing.said.entry.n
    if taken_in and (number := taken_in.said.of(TakenIn).containers) is not None:
        yield number, "when taken in", taken_in.said.entry.n
    if opened and dock and dock.containers is not None:
        yield dock.containers, "at opening", opened.said.entry.n


def close_of_day(case: Case, form: Form, n: int, since: Moment, days: int) -> datetime:
    """When the dock of whoever signed entry `n` closes on so many working days after that day.

    A dock without hours, or shut for good, is reckoned with ordinary ones.
    """
    org = next(entry.org for entry in form.ordered if entry.n == n)
    zone = form.opened.of(Opened).zone
    organization = case.organizations.get(org)
    own = organization.calendars.get("lab") if organization else None
    ordinary = transit.assumed(zone, since, transit.DOCK_HOURS)
    try:
        return (own or ordinary).close_of_working_day(since.instant, days)
    except Malformed:
        return since.moved(timedelta(days=days)).instant


def _disposed_at(form: Form, number: str) -> datetime | None:
    return next(
        (
            entry.body.at.instant
            for entry in form.ordered
            if isinstance(entry.body, Disposed) and number in entry.body.samples
        ),
        None,
    )
