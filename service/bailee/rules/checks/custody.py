"""CU: every link of custody, from the pump to the microscope, and whether one link fits the next.

A carrier signs nothing: a whole seal speaks for its leg, whatever the hours. A link that is not shown is said
with its length.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta
from itertools import pairwise
from typing import Final

from bailee.domain.acts.form import (  # fmt: skip
    Dock,
    Received,
    Relinquished,
    Sealed,
    Shipped,
    TakenIn,
    Unsealed,
)
from bailee.domain.custody import Envelope, Form, Link, Oddity, OddityCode, Said, Sample, Sealing
from bailee.domain.moments import Moment, duration_words
from bailee.domain.numbers import grouped
from bailee.domain.statements import Draft, Recorded
from bailee.rules import qualified
from bailee.rules.case import Case
from bailee.rules.checks.envelope.receiving import seal_held, seal_whole_until
from bailee.rules.registry import RULES, Hit, Severity, rule
from bailee.rules.remedies import Remedy, advice, do, for_all
from bailee.rules.wording import clock, clock_at, listed, samples, start

_WITH_THE_RESULT: Final = "The laboratory states this with the result."
_NOT_TAKEN: Final = advice(
    "The person who has it signs the receipt now; if it was received earlier, with the true time.",
    do("received", "sample", condition=..., at=...),
)
_NOT_GIVEN: Final = advice(
    "The person who relinquished it signs that now, with the true time. It is marked as late.",
    do("relinquished", "sample", to=..., at=...),
)
_NOT_COLLECTED: Final = advice(
    "The inspector who collected it signs that now, with the true times. If it was not collected, it is a"
    " spare: leave it out.",
    do("collected", "sample"),
)
_OTHER_TAKER: Final = advice(
    "Find out who has it. The person who has it relinquishes it, and the person it was meant for receives it;"
    " or the relinquishing entry is corrected.",
    do("relinquished", "sample", to=...),
    do("received", "sample"),
    do("corrected", "form", of="relinquished", field="to_kid", new=..., reason="wrong_item"),
)
_NOT_SENT: Final = advice(
    "The sampling firm signs now how it was shipped: with a carrier, or hand-carried.",
    do("shipped", "envelope", handed_over=...),
    do("relinquished", "envelope", to=..., at=...),
)
_HELD: Final = advice(
    "Nothing to receive: the holder is the same. Receive only what another person relinquished to you."
)
_SENT: Final = advice(
    "Nothing to ship. If the first entry is wrong, correct it. Another envelope has another number.",
    do("corrected", "form", of="shipped", field=..., new=..., reason=...),
)
_TAKEN_IN: Final = advice(
    "If what was signed the first time is wrong, correct it. Another person who has the envelope now "
    "receives it from the one who took it in.",
    do("corrected", "form", of="taken_in", field=..., new=..., reason=...),
    do("relinquished", "envelope", to=...),
    do("received", "envelope"),
)
_NOT_HELD: Final = advice(
    "The holder of the envelope ships it, or relinquishes it to the person who does, who receives it.",
    do("relinquished", "envelope", to=...),
    do("received", "envelope"),
)

_LEFT_WITH_THE_GIVER: Final = advice(
    "If it was received, the receiving person signs for it too; if it stayed behind, the relinquishing entry"
    " is corrected.",
    do("received", "sample", condition=..., at=...),
    do("corrected", "form", of="relinquished", field="samples", new=..., reason="wrong_item"),
)

_WHO_HELD: Final = advice(
    "Find out who held it then. That person signs what is missing, with the true time, and the person who"
    " acted signs the receipt.",
    do("relinquished", "sample", to=..., at=...),
    do("received", "sample", at=...),
)
_WRONG_SAMPLES: Final = "If the wrong samples were named, the signer corrects that."
_LINKS: Final = (
    "United States v. Rawlins, 606 F.3d 73 (3d Cir. 2010): receipt, disposition and safeguarding of every"
    " link"
)


@rule(
    "CU-01",
    "Transfer signed by one side only",
    "block",
    "custody",
    "OSHA Technical Manual II:4; Cal/OSHA P&P C-1H: both sides sign",
    advice(
        "The other person signs now, with the true time.",
        do("relinquished", "sample", to=..., at=...),
        do("received", "sample", at=...),
    ),
)
def both_halves(case: Case) -> Iterator[Hit]:
    """Received and never relinquished, relinquished and never received, or handed on by nobody who collected
    it.

    Who says once more that they received what they hold has changed nothing: a note, and before it is signed
    the reason not to.
    """
    if taking := case.draft(Received):
        yield from _about_to_take(case, taking)
    for form in case.forms.values():
        for sample in form.samples.values():
            yield from _unanswered(case, form, sample)
        for odd in form.oddities:
            who = case.person(odd.entry.org, odd.entry.kid)
            if odd.code == "not-relinquished" and odd.sample:
                if _held_already(form, form.samples[odd.sample], odd.entry):
                    said = (
                        f"{who} signed a second receipt of sample {grouped(odd.sample)}; the holder is the"
                        " same."
                    )
                    yield Hit(odd.sample, said, "note", entries=(odd.entry.n,), remedy=_HELD)
                    continue
                said = (
                    f"{who} received sample {grouped(odd.sample)}; no relinquishing entry is on record here."
                )
                yield Hit(odd.sample, said, entries=(odd.entry.n,), remedy=_NOT_GIVEN)
            if odd.code == "other-receiver" and odd.sample:
                said = (
                    f"{who} received sample {grouped(odd.sample)}, which was relinquished to another person."
                )
                yield Hit(odd.sample, said, entries=(odd.entry.n,), remedy=_OTHER_TAKER)
        for envelope in form.envelopes.values():
            yield from _received_from_nobody(form, envelope)


@rule(
    "CU-02", "Relinquished by a person who is not the holder on record", "flag", "custody", _LINKS,
    _WHO_HELD + advice(_WRONG_SAMPLES),
)  # fmt: skip
def giver_holds(case: Case) -> Iterator[Hit]:
    """Or said to be kept by somebody who did not hold it.

    Sealing without holding is SE-07. What a carrier has nobody hands over again.
    """
    if leaving := case.draft(Shipped):
        yield from _about_to_ship(case, leaving)
    for form in case.forms.values():
        for odd in form.oddities:
            if odd.code == "already-arrived":
                yield _taken_in_again(case, form, odd)
            envelope = form.envelopes.get(odd.detail) if odd.code == "already-shipped" else None
            if envelope and envelope.shipped:
                before, who = (
                    clock(envelope.shipped.of(Shipped).handed_over),
                    case.person(odd.entry.org, odd.entry.kid),
                )
                said = (
                    f"Second shipment entry for envelope {grouped(envelope.number)}, by {who}: the first, of"
                    f" {before}, counts."
                )
                yield Hit(
                    form.number,
                    said,
                    "warn",
                    (envelope.shipped.entry.n, odd.entry.n),
                    excuses=odd.entry.kid,
                    remedy=_SENT,
                    names=(envelope.number,),
                )
    for form in case.forms.values():
        for entry, found in _by_entry(form, "not-holder"):
            if not isinstance(entry.body, Sealed):
                said = (
                    f"{case.person(entry.org, entry.kid)} {entry.row.does} {samples(found)}; the holder on"
                    " record is another person."
                )
                yield Hit(
                    form.number,
                    said,
                    entries=(entry.n,),
                    excuses=entry.kid,
                    remedy=_WHO_HELD + _named_wrongly(entry),
                )


def _taken_in_again(case: Case, form: Form, odd: Oddity) -> Hit:
    """The first who signed for an envelope unopened has it; whoever has it next signs a transfer."""
    first, entry = form.envelopes[odd.detail].taken_in, odd.entry
    assert first
    said = (
        f"Second entry of taking in envelope {grouped(odd.detail)}, by {case.person(entry.org, entry.kid)}:"
        f" the first, of {clock(first.said.of(TakenIn).at)}, counts."
    )
    entries, names = (first.said.entry.n, entry.n), (odd.detail,)
    return Hit(form.number, said, "warn", entries, excuses=entry.kid, remedy=_TAKEN_IN, names=names)


@rule(
    "CU-03", "Gap between relinquished and received", "warn", "custody", "common practice, no source",
    advice(
        "The person who had the samples in between enters where they were and how they were secured. "
        "Correct a time that is wrong.",
        do("held", "sample", secured=..., where=..., since=..., until=...),
        do("corrected", "form", of="relinquished", field="at", new=..., reason="clock"),
        do("corrected", "form", of="received", field="at", new=..., reason="clock"),
    ),
)  # fmt: skip
def no_gap(case: Case) -> Iterator[Hit]:
    """From person to person: strictly more than the minutes of the policy.

    Beyond the second limit a break.
    """
    for form in case.forms.values():
        policy = case.policy(form)
        least = timedelta(minutes=min(policy.hand_over_warn_min, policy.hand_over_break_min))
        by_hand_over: dict[tuple[int, timedelta], list[tuple[str, Link]]] = {}
        for sample in form.samples.values():
            for link in sample.links:
                if link.gap is not None and link.gap > least:
                    by_hand_over.setdefault((link.received.n, link.gap), []).append((sample.number, link))
        for (n, gap), taken in by_hand_over.items():
            severity: Severity = "flag" if gap > timedelta(minutes=policy.hand_over_break_min) else "warn"
            link = taken[0][1]
            ends = "; this is a break in custody" if severity == "flag" else ""
            said = (
                f"Gap of {duration_words(gap)} from relinquished to received,"
                f" {samples([number for number, _ in taken])}: {case.person(link.org, link.kid)} received on"
                f" {clock(link.since)}{ends}."
            )
            limit = "hand_over_break_min" if severity == "flag" else "hand_over_warn_min"
            yield Hit(form.number, said, severity, (n,), by=(limit,))


@rule(
    "CU-05",
    "Seal does not secure the shipment",
    "flag",
    "custody",
    "EPA 905R78115 (1978): container closed with a custody seal",
    advice(
        f"Put the samples on hold and call the sampling firm, unless that is on record. {_WITH_THE_RESULT}",
        do("on_hold", "envelope", reason="seal", called=...),
    ),
)
def sealed_leg(case: Case) -> Iterator[Hit]:
    """Seal out against seal in: unequal, broken or missing breaks custody from the sealing, or from an
    unsealed hand-over, to the receipt.
    """
    for form, envelope in case.envelopes():
        arrival = envelope.arrivals[0] if envelope.arrivals else None
        if arrival is None:
            continue
        elsewhere = case.once(_opened_elsewhere).get((form.number, envelope.number))
        received, since, why = arrival.said.of(Received), None, ""
        begins = "shipment" if _shipped_open(envelope) else "sealing"
        unsealed = _shipped_open(envelope)
        if unsealed:
            since, why = unsealed, "no closed seal was on it when it was shipped"
        elif arrival.sealing and not seal_held(envelope):
            since, why = _lost_its_seal(envelope, arrival.sealing)
            begins = "sealing" if since == arrival.sealing.body.at else "taking in"
        elif elsewhere and elsewhere <= received.at:
            since, why = elsewhere, "it was opened on the way, and no seal secures it from then on"
            begins = "opening"
        if since:
            said = (
                f"Envelope {grouped(envelope.number)}: {begins}"
                f" {clock_at(since.instant, received.at)} to receipt {clock(received.at)}"
                f" ({duration_words(received.at.instant - since.instant)}): {why}."
            )
            is_done = qualified.on_hold_and_called(case, envelope.number)
            yield Hit(
                envelope.number,
                said,
                entries=(arrival.said.entry.n,),
                remedy=for_all(_WITH_THE_RESULT) if is_done else None,
            )


def _opened_elsewhere(case: Case) -> dict[tuple[str, str], Moment]:
    """By form and envelope: when somebody of no laboratory it is for signed first that they opened it."""
    found: dict[tuple[str, str], Moment] = {}
    for form in case.forms.values():
        for odd in form.oddities:
            if odd.code == "taken-elsewhere" and isinstance(odd.entry.body, Received):
                found.setdefault((form.number, odd.detail), odd.entry.body.at)
    return found


@rule(
    "CU-06", "Counts of a transfer do not agree", "block", "custody", "49 CFR 40.199, by analogy",
    advice(
        "Count again together. A number that was counted or typed wrongly is corrected; a cassette that "
        "changed hands is relinquished and received.",
        do("corrected", "form", "statement", field="count", new=..., reason=...),
        do("relinquished", "sample", to=...), do("received", "sample"),
    ),
)  # fmt: skip
def counts_at_hand_over(case: Case) -> Iterator[Hit]:
    """At every hand-over between people; the dock's count is RC-03, the sealer's SE-02."""
    for form in case.forms.values():
        for odd in form.oddities:
            if odd.code == "count" and isinstance(odd.entry.body, Relinquished | Received):
                said = (
                    f"{case.person(odd.entry.org, odd.entry.kid)} signed {odd.entry.act}; the counts do not"
                    f" agree: {odd.detail}."
                )
                remedy = _LEFT_WITH_THE_GIVER if odd.sample else None
                names = (odd.sample,) if odd.sample else ()
                yield Hit(form.number, said, entries=(odd.entry.n,), remedy=remedy, names=names)


@rule(
    "CU-12", "Collection of one number signed by two people", "block", "custody",
    "one thing is collected once",
    advice(
        "Both entries stay. Compare serials and photos; the one whose number is wrong corrects it.",
        do("corrected", "sample", field="sample", new=..., reason="wrong_item"),
    ),
)  # fmt: skip
def one_collector(case: Case) -> Iterator[Hit]:
    """Both statements stay; neither device is believed over the other."""
    claims: dict[str, list[Said]] = {}
    for form in case.forms.values():
        for sample in form.samples.values():
            claims.setdefault(sample.number, []).extend(() if sample.void else sample.claims)
    for number, said_by in claims.items():
        if len({said.entry.kid for said in said_by}) > 1:
            people = [
                f"{case.person(s.entry.org, s.entry.kid)} (entry {s.entry.n}, {clock(s.entry.at)})"
                for s in said_by
            ]
            said = f"Sample {grouped(number)} was collected by {listed(people)}."
            yield Hit(number, said, entries=tuple(s.entry.n for s in said_by))


@rule(
    "CU-13", "Entry after disposal", "flag", "custody", "ASTM D4840 scope: to disposal",
    advice(
        "Correct the entry that is wrong, the disposal or what followed.",
        do("corrected", "form", of="disposed", field="samples", new=..., reason="wrong_item"),
    ),
)  # fmt: skip
def nothing_after_the_end(case: Case) -> Iterator[Hit]:
    """Disposed, returned or archived is the last thing that happens to a sample."""
    for form in case.forms.values():
        for entry, found in _by_entry(form, "after-disposal"):
            said = (
                f"{case.person(entry.org, entry.kid)} signed {entry.act.replace('_', ' ')} for"
                f" {samples(found)}, after an entry of disposal."
            )
            remedy = RULES["CU-13"].remedy + _named_wrongly(entry)
            yield Hit(form.number, said, entries=(entry.n,), remedy=remedy)


@rule(
    "CU-19",
    "More entries than can be judged",
    "flag",
    "custody",
    "derived: entries without end would stop every reader",
    advice(
        "Find out with the signer what these entries are for; those not judged stay in the log. Samples"
        " still handled belong on a new form.",
        do("opened"),
    ),
)
def without_end(case: Case) -> Iterator[Hit]:
    """Of one sample more than a thousand statements.

    Or, by statements that name none, more samples than any visit has.
    """
    for form in case.forms.values():
        odd = [each for each in form.oddities if each.code == "not-followed"]
        if odd:
            named, n = [each.sample for each in odd if each.sample], odd[0].entry.n
            about = samples(named) if named else "all samples that have a holder"
            said = (
                f"There are so many entries on {about} that those from entry {n} on are not read: custody"
                " stands as it was before."
            )
            yield Hit(form.number, said, entries=(n,))


def _about_to_take(case: Case, taking: Draft[Received]) -> Iterator[Hit]:
    """What the taker holds already, and what nobody gave, or gave to somebody else."""
    who = case.person(taking.org, taking.kid)
    for form in case.forms.values():
        for number in (item.sample for item in taking.body.items if item.sample in form.samples):
            sample = form.samples[number]
            meant = sample.given.of(Relinquished) if sample.given else None
            if sample.holder and not meant and form.same(sample.holder.kid, taking.kid):
                said = f"{who} holds sample {grouped(number)} already, since {clock(sample.holder.since)}."
                yield Hit(number, said, remedy=_HELD, is_proposed=True)
            elif meant and (
                meant.to != taking.org or (meant.to_kid and not form.same(meant.to_kid, taking.kid))
            ):
                said = (
                    f"Sample {grouped(number)} was relinquished to another person of {meant.to}."
                    if meant.to == taking.org
                    else f"Sample {grouped(number)} was relinquished to {meant.to}."
                )
                yield Hit(number, said, "warn", remedy=_OTHER_TAKER, is_proposed=True)
            elif not meant and sample.holder and not sample.holder.by_carrier:
                said = (
                    f"No relinquishing entry of sample {grouped(number)} to {who}; the holder on record is"
                    f" {case.person(sample.holder.org, sample.holder.kid)}."
                )
                yield Hit(number, said, "warn", remedy=_NOT_GIVEN, is_proposed=True)


def _about_to_ship(case: Case, shipping: Draft[Shipped]) -> Iterator[Hit]:
    """An envelope that was handed over before, or that somebody else holds."""
    about = shipping.body.envelope
    name, who = f"envelope {grouped(about)}", case.person(shipping.org, shipping.kid)
    for form in case.forms.values():
        envelope = form.envelopes.get(about)
        if envelope and envelope.shipped:
            body = envelope.shipped.of(Shipped)
            tracking = f", tracking number {body.tracking}" if body.tracking else ""
            to = "the person who carries it" if body.by_hand else body.carrier
            said = f"{start(name)} was shipped with {to} on {clock(body.handed_over)} already{tracking}."
            yield Hit(
                about,
                said,
                "block",
                (envelope.shipped.entry.n,),
                remedy=_SENT,
                names=(form.number,),
                is_proposed=True,
            )
        elif envelope and envelope.sealing:
            inside = [form.samples[number].holder for number in envelope.sealing.body.samples]
            others = {
                (link.org, link.kid) for link in inside if link and not form.same(link.kid, shipping.kid)
            }
            for org, kid in sorted(others, key=str):
                said = (
                    f"{who} is about to ship {name}; the holder on record is {case.person(org, kid)}: no"
                    " transfer is on record."
                )
                yield Hit(about, said, "block", excuses=shipping.kid, remedy=_NOT_HELD, is_proposed=True)


def _named_wrongly(entry: Recorded) -> Remedy:
    """The correction of what an entry is about, where it can be corrected there."""
    member = next((each for each in _NAMING if each in entry.row.facts.keys), None)
    if member is None or entry.row.fixed:
        return advice("")
    words, again = _WRONG_SAMPLES, entry.act
    if entry.row.is_about_one_sample:
        return advice(words, do("corrected", "sample", of=again, field=member, new=..., reason="wrong_item"))
    return advice(words, do("corrected", "form", of=again, field=member, new=..., reason="wrong_item"))


_NAMING: Final = ("samples", "items", "sample")


def _held_already(form: Form, sample: Sample, entry: Recorded) -> bool:
    """Whether a receipt that nobody gave for came from the very person who held it."""
    return any(
        taker.received is entry and form.same(giver.kid, taker.kid) for giver, taker in pairwise(sample.links)
    )


def _unanswered(case: Case, form: Form, sample: Sample) -> Iterator[Hit]:
    if sample.links and not sample.claims and not sample.parent:
        first = sample.links[0].received
        said = (
            f"Sample {grouped(sample.number)}: the first entry is by {case.person(first.org, first.kid)}; no"
            " collection entry is on record here."
        )
        yield Hit(sample.number, said, entries=(first.n,), remedy=_NOT_COLLECTED)
    if sample.given:
        body, entry = sample.given.of(Relinquished), sample.given.entry
        waited = case.at.instant - body.at.instant
        acted_on = sample.status not in ("announced", "collected") or bool(case.draft(Sealed))
        if acted_on or waited > timedelta(minutes=case.policy(form).hand_over_warn_min):
            said = (
                f"{case.person(entry.org, entry.kid)} relinquished sample {grouped(sample.number)} to"
                f" {body.to} on {clock(body.at)}; no receiving entry is on record here."
            )
            by = () if acted_on else ("hand_over_warn_min",)
            yield Hit(sample.number, said, entries=(entry.n,), by=by, remedy=_NOT_TAKEN)


def _received_from_nobody(form: Form, envelope: Envelope) -> Iterator[Hit]:
    arrival = envelope.taken_in or (envelope.arrivals[0] if envelope.arrivals else None)
    if arrival and arrival.sealing and not envelope.shipped:
        how = "taken in unopened" if envelope.taken_in else "received at the dock"
        taken = [
            link
            for sample in form.samples.values()
            for link in sample.links
            if link.received is arrival.said.entry
        ]
        if any(link.gap is None for link in taken):
            said = (
                f"Envelope {grouped(envelope.number)} was {how}; no shipment or relinquishing entry is on"
                " record here."
            )
            yield Hit(envelope.number, said, entries=(arrival.said.entry.n,), remedy=_NOT_SENT)


def _by_entry(form: Form, code: OddityCode) -> Iterable[tuple[Recorded, list[str]]]:
    found: dict[str, tuple[Recorded, list[str]]] = {}
    for odd in form.oddities:
        if odd.code == code and odd.sample:
            found.setdefault(odd.entry.digest, (odd.entry, []))[1].append(odd.sample)
    return found.values()


def _lost_its_seal(envelope: Envelope, sealing: Sealing) -> tuple[Moment, str]:
    """From when on a seal that was not whole at the opening covers nothing: from when it was last seen whole
    by whoever took the envelope in, else from the sealing.
    """
    whole = seal_whole_until(envelope)
    if whole:
        return whole, "its seal was intact when it was taken in, and not when it was opened"
    dock = envelope.arrivals[0].said.of(Received).dock
    return sealing.body.at, _found_at(dock) if dock else "no seal was read on it"


def _found_at(dock: Dock) -> str:
    """What the opening found in place of the whole seal on record."""
    found = {"broken": "was broken", "missing": "was missing", "void_showing": "showed VOID"}
    if state := found.get(dock.seal_state):
        return f"its seal {state} on opening"
    return (
        "another seal than that on record was on it" if dock.seal else "the number of its seal was not read"
    )


def _shipped_open(envelope: Envelope) -> Moment | None:
    """When it was handed to the carrier, if no whole seal was on it then."""
    if envelope.shipped is None:
        return None
    handed_over = envelope.shipped.of(Shipped).handed_over
    sealing = envelope.arrivals[0].sealing
    if sealing is None:
        return handed_over
    opened = sealing.opened
    by_sender = opened is not None and opened.entry.org == sealing.said.entry.org
    return handed_over if opened and by_sender and opened.of(Unsealed).at <= handed_over else None
