"""RC: the dock itself: who opened the envelope, when, and what is said of it before anything is counted."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from bailee.domain.custody import Form
from bailee.domain.form_acts import Disposed, Opened, Shipped
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.rules import transit
from bailee.rules.case import Case
from bailee.rules.receiving import openings
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.wording import clock, clock_at, samples

LISTED: Final = frozenset({"custodian", "quality"})
"""Roles of a laboratory that may open what arrives."""


@rule(
    "RC-09", "Received before it was shipped or collected", "flag", "custody",
    "21 CFR 11.10(f): checks of sequence; FDA guidance on time stamps, withdrawn, by summary",
    "Whoever gave the wrong time corrects it; the old one stays visible: `bailee correct FORM --act … --field … --new … "
    "--reason clock`.",
)  # fmt: skip
def received_last(case: Case) -> Iterator[Hit]:
    """The clocks of two people may differ by the clock limit; also a delivery before the hand-over or after the opening."""
    for form, envelope, body, dock, n in openings(case):
        apart, name = (
            timedelta(seconds=case.policy(form).clock_warn_s),
            f"envelope {grouped(envelope.number)}",
        )
        received = f"{name.capitalize()} was received on {clock(body.at)}"
        shipped = envelope.shipped.of(Shipped).handed_over if envelope.shipped else None
        if envelope.shipped and shipped and shipped.instant - body.at.instant > apart:
            said = f"{received}, before it was handed over on {clock(shipped)}."
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
                f"{received}, before the run of {names} ended on {clock(ended)}.",
                entries=(n,),
                by=("clock_warn_s",),
            )
        if dock.delivered and dock.delivered.instant - body.at.instant > apart:
            said = f"{received}, before the carrier delivered it on {clock(dock.delivered)}."
            yield Hit(envelope.number, said, entries=(n,), by=("clock_warn_s",))
        if dock.delivered and shipped and shipped.instant - dock.delivered.instant > apart:
            said = f"The carrier delivered {name} on {clock(dock.delivered)}, before it was handed over on {clock(shipped)}."
            yield Hit(envelope.number, said, entries=(n,), by=("clock_warn_s",))


@rule(
    "RC-11", "No sampler has signed for a sample received", "warn", "custody",
    "49 CFR 40.83 and 40.205, by analogy: keep it and let the person who left it out sign",
    "Keep the sample. Ask the firm for the sampler's own statement of the collection, signed late: `bailee collect SAMPLE "
    "…`.",
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
                f"Sample {grouped(sample.number)} came out of envelope {grouped(envelope.number)}, and nobody has signed for collecting "
                f"it. It is kept at least until {clock_at(keep, body.at)}."
            )
            yield Hit(sample.number, said, severity, (n,), by=("keep_working_days",))


@rule(
    "RC-13", "Opened by somebody not listed for it", "warn", "custody", "21 CFR 11.10(g): authority checks",
    "Nothing to cure if it is so: the laboratory tells the sender why. Next time a sample custodian opens what arrives.",
)  # fmt: skip
def opener_listed(case: Case) -> Iterator[Hit]:
    """Listed are sample custodians and the quality role of the laboratory the envelope is addressed to."""
    for form, envelope, body, _, n in openings(case):
        entry = next(arrival.said.entry for arrival in envelope.arrivals)
        organisation = case.organisations.get(entry.org)
        key = organisation.keys.get(entry.kid) if organisation else None
        who, name = case.person(entry.org, entry.kid), f"envelope {grouped(envelope.number)}"
        if entry.org not in form.laboratories:
            said = f"{who} of {entry.org} opened {name} on {clock(body.at)}; it was addressed to {form.addressed_to(envelope.number)}."
            yield Hit(envelope.number, said, entries=(n,))
        elif key and key.role not in LISTED:
            said = f"{who} opened {name} on {clock(body.at)} as {key.role.replace('_', ' ')}, and is not a sample custodian."
            yield Hit(envelope.number, said, entries=(n,))


@rule(
    "RC-14", "Temperature on opening not stated", "note", "media", "common practice; no source gives a limit for spore traps",
    "If it was read, add it: `bailee correct FORM --act received --field dock.temperature_c --new … --reason left_out`. "
    "Where nobody wants it, leave it out of the policy (temperature_wanted): `bailee policy …`.",
)  # fmt: skip
def temperature_read(case: Case) -> Iterator[Hit]:
    """Only for information: spore traps do not grow, and no limit is judged."""
    for form, envelope, _, dock, n in openings(case):
        if dock.temperature_c is None and case.policy(form).temperature_wanted:
            said = (
                f"The temperature inside envelope {grouped(envelope.number)} was not read when it was opened."
            )
            yield Hit(envelope.number, said, entries=(n,), by=("temperature_wanted",))


def close_of_day(case: Case, form: Form, n: int, since: Moment, days: int) -> datetime:
    """When the dock of whoever signed entry `n` closes on so many working days after that day.

    A dock without hours, or shut for good, is reckoned with ordinary ones.
    """
    org = next(entry.org for entry in form.ordered if entry.n == n)
    zone = form.opened.of(Opened).zone
    organisation = case.organisations.get(org)
    own = organisation.calendars.get("lab") if organisation else None
    ordinary = transit.assumed(zone, since, transit.DOCK_HOURS)
    try:
        return (own or ordinary).close_of_working_day(since.instant, days)
    except Malformed:
        return since.instant + timedelta(days=days)


def _disposed_at(form: Form, number: str) -> datetime | None:
    return next(
        (
            entry.body.at.instant
            for entry in form.ordered
            if isinstance(entry.body, Disposed) and number in entry.body.samples
        ),
        None,
    )
