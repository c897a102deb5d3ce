"""RC: what the dock found, against what was sealed.

A block found here means: hold, call the sender, qualify or sample again.

The first opening counts; a later statement of the dock says what was found afterwards, and never unsays the
first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from bailee.domain import numbers
from bailee.domain.acts.form import Dock, Received, TakenIn
from bailee.domain.custody import Arrival, Envelope, Form
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import BadNumber
from bailee.rules import qualified
from bailee.rules.case import Case
from bailee.rules.registry import Hit, Severity, refusal, rule, shared
from bailee.rules.remedies import Remedy, advice, by, do, for_all
from bailee.rules.wording import clock, listed, printed, samples, start

refusal(
    "RC-12", "Condition not recorded for a cassette or package",
    "ISO/IEC 17025:2017 7.8.2.1; common practice",
    "bailee.domain.statements.parse",
)  # fmt: skip
HOLD: Final = advice(
    "Put the samples on hold, photograph, and call the sampling firm, unless that is on record; then agree on"
    " a qualified result or new samples.",
    do("on_hold", "envelope", reason=..., called=...),
)
_AGREE: Final = for_all("The laboratory and the sampling firm agree on a qualified result or new samples.")
SEAL_STATES: Final = {
    "intact": "intact",
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
            yield Hit(envelope.number, said, entries=(n,), remedy=held(case, envelope.number))
    for _, envelope, body, dock, n in openings(case):
        if dock.seal_state != "intact" and envelope.number not in spoilt:
            state = SEAL_STATES[dock.seal_state]
            said = f"Seal of envelope {grouped(envelope.number)}: {state} at opening, {clock(body.at)}."
            yield Hit(envelope.number, said, entries=(n,), remedy=held(case, envelope.number))


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
            yield Hit(
                envelope.number,
                said,
                entries=(sealing.said.entry.n, n),
                remedy=held(case, envelope.number),
            )
    for _, envelope, _, dock, n in openings(case):
        if envelope.number in other:
            continue
        sealing = envelope.arrivals[0].sealing
        if sealing and dock.seal_state != "missing" and not same_seal(dock.seal, sealing.body.seal):
            read = f"{dock.seal}" if dock.seal else "not read"
            said = (
                f"Envelope {grouped(envelope.number)}: seal on record {sealing.body.seal}; on receipt {read}."
            )
            yield Hit(
                envelope.number,
                said,
                entries=(sealing.said.entry.n, n),
                remedy=held(case, envelope.number),
            )


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
            yield Hit(envelope.number, said, entries=(n,), remedy=held(case, envelope.number))
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
            yield Hit(
                envelope.number,
                said,
                severity,
                entries=(sealing.said.entry.n, n),
                remedy=held(case, envelope.number),
            )


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
                yield Hit(item.sample, said, entries=entries, remedy=held(case, envelope.number))
            if expected and item.sample not in expected.body.samples:
                said = (
                    f"Sample {grouped(item.sample)} was in envelope {grouped(envelope.number)} and is not on"
                    " its manifest."
                )
                yield Hit(item.sample, said, entries=(n,), remedy=held(case, envelope.number))
        if dock.extra:
            said = (
                f"Envelope {grouped(envelope.number)} held cassettes that are on no manifest:"
                f" {listed(dock.extra)}."
            )
            yield Hit(envelope.number, said, entries=(n,), remedy=held(case, envelope.number))


@rule(
    "RC-05",
    "No custody record or sealing entry for the envelope",
    "block",
    "custody",
    "49 CFR 40.199, by analogy",
    HOLD,
)
def record_there(case: Case) -> Iterator[Hit]:
    """In the box on paper, and in the ledger."""
    for _, envelope, _, dock, n in openings(case):
        if not dock.record_enclosed:
            yield Hit(
                envelope.number,
                f"No custody record was enclosed in envelope {grouped(envelope.number)}.",
                entries=(n,),
                remedy=held(case, envelope.number),
            )
        if envelope.arrivals[0].sealing is None:
            said = (
                f"Envelope {grouped(envelope.number)} was received; no sealing entry and no manifest are on"
                " record here."
            )
            yield Hit(envelope.number, said, entries=(n,), remedy=held(case, envelope.number))


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
                f"{{samples}} {{was}} on the manifest of envelope {grouped(envelope.number)} and not in it at"
                f" opening, {clock(body.at)}.{closed}"
            )
            yield replace(shared(form, form.samples[number], said), entries=(n,))


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
    for form, sample in case.samples():
        faults = [each for each in sample.condition if each not in ("intact", "not_looked_at")]
        if faults:
            severity: Severity = "block" if _SPOILT & set(faults) else "warn"
            said = f"{{samples}} {{was}} received {listed([each.replace('_', ' ') for each in faults])}."
            hit = shared(form, sample, said, severity)
            yield replace(hit, entries=(sample.links[-1].received.n,))


def held(case: Case, envelope: str) -> Remedy | None:
    """What is left where all that came is on hold and the sampling firm was called; None: `HOLD`."""
    return _AGREE if qualified.on_hold_and_called(case, envelope) else None


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
