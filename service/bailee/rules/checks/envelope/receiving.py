"""RC: what the dock found, against what was sealed.

A block found here means: hold, call the sender, qualify or sample again.

The first opening counts; a later statement of the dock says what was found afterwards, and never unsays the
first.

RC: the dock itself: who opened the envelope, when, and what is said of it before anything is counted.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from bailee.domain import numbers
from bailee.domain.acts.form import Disposed, Dock, Opened, Received, Shipped, TakenIn
from bailee.domain.custody import Arrival, Envelope, Form
from bailee.domain.moments import Moment, duration_words, hours
from bailee.domain.numbers import grouped
from bailee.errors import BadNumber, Malformed
from bailee.rules import transit
from bailee.rules.case import Case
from bailee.rules.registry import Hit, Severity, refusal, rule
from bailee.rules.remedies import advice, by, do, for_all
from bailee.rules.wording import clock, clock_at, listed, printed, samples, start

refusal(
    "RC-12", "Condition not recorded for a cassette or package",
    "ISO/IEC 17025:2017 7.8.2.1; common practice",
    "bailee.domain.statements.parse",
)  # fmt: skip

HOLD: Final = advice(
    "Put the samples on hold, photograph, and call the sampling firm; agree on a qualified result or new"
    " samples.",
    do("on_hold", "envelope", reason=..., called=...),
)
SEAL_STATES: Final = {
    "intact": "whole",
    "broken": "broken",
    "missing": "missing",
    "void_showing": "with VOID showing",
}
_SPOILT: Final = frozenset({"cracked", "cover_off", "opened", "label_missing"})
"""Conditions that leave the sample or its name in doubt; the others (wet, label unreadable) are warned of."""


@rule(
    "RC-01",
    "Seal not intact on receipt",
    "block",
    "custody",
    "49 CFR 40.199, by analogy; 15A NCAC 02H .0805",
    HOLD,
)
def seal_whole(case: Case) -> Iterator[Hit]:
    """Broken, missing, or showing that it was lifted: when it was taken in, else when it was opened."""
    spoilt = set()
    for _, envelope, taken, n in takings(case):
        if taken.seal_state in SEAL_STATES and taken.seal_state != "intact":
            spoilt.add(envelope.number)
            said = (
                f"Seal of envelope {grouped(envelope.number)}: {SEAL_STATES[taken.seal_state]} when taken in,"
                f" {clock(taken.at)}."
            )
            yield Hit(envelope.number, said, entries=(n,))
    for _, envelope, body, dock, n in openings(case):
        if dock.seal_state != "intact" and envelope.number not in spoilt:
            state = SEAL_STATES[dock.seal_state]
            said = f"Seal of envelope {grouped(envelope.number)}: {state} at opening, {clock(body.at)}."
            yield Hit(envelope.number, said, entries=(n,))


@rule(
    "RC-02",
    "Seal number does not match the record",
    "block",
    "custody",
    "49 CFR 40.199, by analogy",
    HOLD,
)
def seal_agrees(case: Case) -> Iterator[Hit]:
    """Compared as seals are read: without spaces, small letters and the letters that look like digits."""
    other = set()
    for _, envelope, body, n in takings(case):
        sealing = envelope.taken_in.sealing if envelope.taken_in else None
        if sealing and body.seal and not same_seal(body.seal, sealing.body.seal):
            other.add(envelope.number)
            said = (
                f"Envelope {grouped(envelope.number)}: seal on record {sealing.body.seal}; when taken in"
                f" {body.seal}."
            )
            yield Hit(envelope.number, said, entries=(sealing.said.entry.n, n))
    for _, envelope, _, dock, n in openings(case):
        if envelope.number in other:
            continue
        sealing = envelope.arrivals[0].sealing
        if sealing and dock.seal_state != "missing" and not same_seal(dock.seal, sealing.body.seal):
            read = f"{dock.seal}" if dock.seal else "not read"
            said = (
                f"Envelope {grouped(envelope.number)}: seal on record {sealing.body.seal}; on receipt {read}."
            )
            yield Hit(envelope.number, said, entries=(sealing.said.entry.n, n))


@rule(
    "RC-03",
    "Count on receipt does not match the manifest",
    "block",
    "custody",
    "49 CFR 40.199, by analogy",
    HOLD,
)
def count_on_arrival(case: Case) -> Iterator[Hit]:
    """Names what is missing. When all of it was found later, the first count stays as a warning."""
    for form, envelope, body, dock, n in openings(case):
        sealing, name = envelope.arrivals[0].sealing, f"envelope {grouped(envelope.number)}"
        if body.count not in (None, len(body.items)):
            said = f"{name}, form {grouped(form.number)}: {body.count} counted, {len(body.items)} scanned."
            yield Hit(envelope.number, said, entries=(n,))
        lacking = (
            [number for number in sealing.body.samples if number not in {i.sample for i in body.items}]
            if sealing
            else []
        )
        if sealing and (dock.total != sealing.body.total or lacking):
            gone = set(_missing(form, envelope))
            still = [number for number in lacking if number in gone]
            names = (
                f" {start(samples(lacking))} {'is' if len(lacking) == 1 else 'are'} missing."
                if lacking
                else ""
            )
            found = (
                f" Found later: {printed([each for each in lacking if each not in still])}."
                if len(still) < len(lacking)
                else ""
            )
            said = (
                f"{start(name)}: manifest {sealing.body.total}, counted on receipt"
                f" {dock.total}.{names}{found}"
            )
            severity: Severity | None = "warn" if lacking and not still else None
            yield Hit(envelope.number, said, severity, entries=(sealing.said.entry.n, n))


@rule("RC-04", "Cassette does not match the manifest", "block", "custody", "49 CFR 40.199, by analogy", HOLD)
def identity_agrees(case: Case) -> Iterator[Hit]:
    """The maker's serial against the one bound at collection; numbers no list of this envelope names."""
    for form, envelope, body, dock, n in openings(case):
        expected = envelope.arrivals[0].sealing
        for item in body.items:
            sample = form.samples[item.sample]
            bound = sample.collected.serial if sample.collected else None
            if item.serial and bound and item.serial != bound:
                said = (
                    f"Sample {grouped(item.sample)}: serial at collection {bound}, on receipt {item.serial}."
                )
                entries = (sample.origin.entry.n, n) if sample.origin else (n,)
                yield Hit(item.sample, said, entries=entries)
            if expected and item.sample not in expected.body.samples:
                said = (
                    f"Sample {grouped(item.sample)} was in envelope {grouped(envelope.number)} and is not on"
                    " its manifest."
                )
                yield Hit(item.sample, said, entries=(n,))
        if dock.extra:
            said = (
                f"Envelope {grouped(envelope.number)} held cassettes that are on no manifest:"
                f" {listed(dock.extra)}."
            )
            yield Hit(envelope.number, said, entries=(n,))


@rule("RC-05", "No sealing entry for the envelope", "block", "custody", "49 CFR 40.199, by analogy", HOLD)
def record_there(case: Case) -> Iterator[Hit]:
    """In the box on paper, and in the ledger."""
    for _, envelope, _, dock, n in openings(case):
        if not dock.record_enclosed:
            yield Hit(
                envelope.number,
                f"No custody record was enclosed in envelope {grouped(envelope.number)}.",
                entries=(n,),
            )
        if envelope.arrivals[0].sealing is None:
            said = (
                f"Envelope {grouped(envelope.number)} was received; no sealing entry and no manifest are on"
                " record here."
            )
            yield Hit(envelope.number, said, entries=(n,))


@rule(
    "RC-06", "On the manifest, not in the envelope", "block", "custody", "49 CFR 40.199, by analogy",
    by(
        ("custodian", "quality"),
        "Search the packing and the bench, and call the sampling firm. If it is found, receive it.",
        do("received", "envelope", "sample", dock=True),
    )
    + by(("inspector", "clerk"), "Search the kit, the vehicle and every envelope open that day.")
    + advice("If it stays lost, void it.", do("voided", "sample", reason="lost")),
)  # fmt: skip
def nothing_lost(case: Case) -> Iterator[Hit]:
    """Flags the missing sample alone; the others of the envelope stay what they are."""
    for form, envelope, body, _, n in openings(case):
        for number in _missing(form, envelope):
            void = form.samples[number].void
            closed = f" It was voided (entry {void.entry.n})." if void else ""
            said = (
                f"Sample {grouped(number)} is on the manifest of envelope {grouped(envelope.number)} and was"
                f" not in it at opening, {clock(body.at)}.{closed}"
            )
            yield Hit(number, said, entries=(n,))


@rule(
    "RC-07",
    "Cassette or label damaged on receipt",
    "warn",
    "media",
    "common practice; laboratories' published acceptance lists",
    advice(
        "Photograph it, put the sample on hold, and ask the sampling firm whether to analyze it with a"
        " qualified result.",
        do("on_hold", "sample", reason="condition", called=...),
    ),
    may_be_excepted=True,
)
def undamaged(case: Case) -> Iterator[Hit]:
    """The condition as the last receiver found it."""
    for _, sample in case.samples():
        faults = [each for each in sample.condition if each not in ("intact", "not_looked_at")]
        if faults:
            severity: Severity = "block" if _SPOILT & set(faults) else "warn"
            said = (
                f"Sample {grouped(sample.number)} was received"
                f" {listed([each.replace('_', ' ') for each in faults])}."
            )
            yield Hit(sample.number, said, severity, entries=(sample.links[-1].received.n,))


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


def same_seal(read: str | None, recorded: str) -> bool:
    """Whether what the dock read is the recorded seal number."""
    if read is None:
        return False
    try:
        return numbers.read_seal(read) == recorded
    except BadNumber:
        return read.strip() == recorded


def seal_held(envelope: Envelope) -> bool:
    """Whether the first opening found the recorded seal, whole."""
    arrival = envelope.arrivals[0] if envelope.arrivals else None
    dock = arrival.said.of(Received).dock if arrival else None
    return bool(arrival and dock and _found_whole(arrival, dock))


def seal_whole_until(envelope: Envelope) -> Moment | None:
    """When somebody took the envelope in and saw the recorded seal on it, whole; None when nobody did."""
    arrival = envelope.taken_in
    body = arrival.said.of(TakenIn) if arrival else None
    return body.at if arrival and body and _found_whole(arrival, body) else None


def _found_whole(arrival: Arrival, seen: Dock | TakenIn) -> bool:
    sealing = arrival.sealing
    return bool(sealing and seen.seal_state == "intact" and same_seal(seen.seal, sealing.body.seal))


def takings(case: Case) -> Iterator[tuple[Form, Envelope, TakenIn, int]]:
    """Every envelope that was signed for unopened, as each form of it tells it."""
    for form, envelope in case.envelopes():
        if envelope.taken_in:
            yield form, envelope, envelope.taken_in.said.of(TakenIn), envelope.taken_in.said.entry.n


def openings(case: Case) -> Iterator[tuple[Form, Envelope, Received, Dock, int]]:
    """The first opening of every envelope at a dock, as each form of it tells it."""
    for form, envelope in case.envelopes():
        if envelope.docked:
            body = envelope.docked.of(Received)
            assert body.dock
            yield form, envelope, body, body.dock, envelope.docked.entry.n


def _missing(form: Form, envelope: Envelope) -> list[str]:
    """Samples on the list that no opening of this envelope brought to light, and nobody took over since."""
    sealing = envelope.arrivals[0].sealing
    found = {item.sample for arrival in envelope.arrivals for item in arrival.said.of(Received).items}
    listed_in = sealing.body.samples if sealing else ()
    return [each for each in listed_in if each not in found and form.samples[each].found is None]


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
            if odd.code == "taken-elsewhere" and isinstance(odd.entry.body, TakenIn):
                entry, number = odd.entry, odd.detail
                said = (
                    f"{case.person(entry.org, entry.kid)} of {entry.org} took envelope {grouped(number)} in"
                    f" on {clock(odd.entry.body.at)}; it was addressed to {form.addressed_to(number)}."
                    " This entry is not a receipt."
                )
                yield Hit(number, said, entries=(entry.n,))
    for form, envelope, body, _, n in openings(case):
        entry = next(arrival.said.entry for arrival in envelope.arrivals)
        organization = case.organizations.get(entry.org)
        key = organization.keys.get(entry.kid) if organization else None
        who, name = case.person(entry.org, entry.kid), f"envelope {grouped(envelope.number)}"
        if entry.org not in form.laboratories:
            said = (
                f"{who} of {entry.org} opened {name} on {clock(body.at)}; it was addressed to"
                f" {form.addressed_to(envelope.number)}."
            )
            yield Hit(envelope.number, said, entries=(n,))
        elif key and key.role not in LISTED:
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
        "If it was read, add it. Not needed? The quality role or an administrator sets temperature_wanted to"
        " false in the policy.",
        do("corrected", "form", of="received", field="dock.temperature_c", new=..., reason="left_out"),
        do("policy_set"),
    ),
)
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
