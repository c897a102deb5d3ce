"""SE: an envelope is about to be closed, or was. After it only the seal and the custody record speak for the samples."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bailee.domain.custody import Envelope, Form, Sealing
from bailee.domain.form_acts import Unsealed
from bailee.domain.numbers import grouped
from bailee.rules import case as asked
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule
from bailee.rules.wording import clock, listed, printed, samples


@rule(
    "SE-01", "A sample in the envelope has an open block", "block", "custody", "follows from the other rules",
    "Cure what blocks these samples, or take them out of the envelope.", last=True,
)  # fmt: skip
def open_blocks(case: Case) -> Iterator[Hit]:
    """Asked only of an envelope about to be sealed or handed over; afterwards the block itself stands as a flag."""
    for envelope, inside in _about_to_leave(case):
        stopped = [
            f"{grouped(each)} ({listed(case.blocked[each])})" for each in inside if each in case.blocked
        ]
        if stopped:
            yield Hit(
                envelope,
                f"Envelope {grouped(envelope)} holds {listed(stopped)}, which must be settled first.",
            )


@rule(
    "SE-02", "Cassettes counted differ from those listed", "block", "custody", "49 CFR 40.199, by analogy",
    "Empty the envelope, scan every cassette once, count again, and correct the list.",
)  # fmt: skip
def counts_agree(case: Case) -> Iterator[Hit]:
    """Before sealing: counted by hand against scanned. Afterwards: the total stated against all forms of the envelope."""
    if case.sealing:
        yield from _proposed_count(case, case.sealing)
    for _, envelope, sealing in _sealings(case):
        body, name, entries = sealing.body, grouped(envelope.number), (sealing.said.entry.n,)
        if body.count != len(body.samples):
            said = f"{body.count} cassettes were counted into envelope {name}, and its list names {len(body.samples)}."
            yield Hit(envelope.number, said, entries=entries)
        if not set(body.forms) <= set(case.forms):
            continue  # the other forms of this envelope are not here: nothing can be added up
        inside = sorted(
            number for _, _, other in _sealings(case)
            if (other.body.envelope, other.body.seal) == (body.envelope, body.seal)
            for number in other.body.samples
        )  # fmt: skip
        if body.total != len(inside):
            said = f"Envelope {name} was sealed as holding {body.total} cassettes, and its forms name {len(inside)}: {printed(inside)}."
            yield Hit(envelope.number, said, entries=entries)


@rule(
    "SE-03", "A sample in two envelopes", "block", "custody", "one thing is in one place",
    "Look in which envelope it lies; open the other one, or correct its list.",
)  # fmt: skip
def one_envelope(case: Case) -> Iterator[Hit]:
    """On this form, on the other forms of the case, and wherever else the ledger knows the sample."""
    for form in case.forms.values():
        for odd in form.oddities:
            if odd.code == "two-envelopes" and odd.sample:
                said = f"Sample {grouped(odd.sample)} was sealed into one envelope while it was {odd.detail}."
                yield Hit(odd.sample, said, entries=(odd.entry.n,))
    for number, envelope in _packed(case).items():
        others = _listed_in(case, number) - {envelope}
        if others:
            said = f"Sample {grouped(number)} belongs to envelope {grouped(envelope)} and is also listed in {printed(sorted(others))}."
            yield Hit(number, said)


@rule(
    "SE-04", "Seal number missing or used before", "block", "custody",
    "EPA 905R78115 (1978): container closed with a custody seal; Cal/OSHA P&P C-1H: seal number on the form",
    "Take a new numbered seal and enter its number.",
)  # fmt: skip
def fresh_seal(case: Case) -> Iterator[Hit]:
    """A re-opened envelope needs a new number too, or nobody could see that it was opened."""
    proposed = case.sealing
    if proposed and not proposed.seal:
        yield Hit(proposed.envelope, f"Envelope {grouped(proposed.envelope)} has no seal number yet.")
    elif proposed and proposed.seal:
        here = [envelope.number for _, envelope, done in _sealings(case) if done.body.seal == proposed.seal]
        yield from _used_before(case, proposed.envelope, proposed.seal, here)
    for form, envelope, sealing in _sealings(case):
        here = [
            used.number for used_by, used, done in _sealings(case)
            if done.body.seal == sealing.body.seal and done is not sealing
            and (used.number != envelope.number or (used_by is form and done in envelope.sealings[: _place(envelope, sealing)]))
        ]  # fmt: skip
        yield from _used_before(case, envelope.number, sealing.body.seal, here, (sealing.said.entry.n,))


@rule(
    "SE-07", "Sealed by somebody who does not hold the samples", "block", "custody",
    "United States v. Rawlins, 606 F.3d 73 (3d Cir. 2010): every link shows receipt",
    "The holder signs relinquished and the sealer signs received, both with the true time; or the holder seals.",
)  # fmt: skip
def sealer_holds(case: Case) -> Iterator[Hit]:
    """A hand-over nobody signed is a missing link, even across one desk."""
    if case.sealing:
        yield from _proposed_sealer(case, case.sealing)
    for form, envelope, sealing in _sealings(case):
        entry = sealing.said.entry
        others = [
            odd.sample
            for odd in form.oddities
            if odd.code == "not-holder" and odd.entry is entry and odd.sample
        ]
        if others:
            said = (
                f"{case.person(entry.org, entry.kid)} sealed {samples(others)} into envelope {grouped(envelope.number)} "
                "without holding them: no hand-over is recorded."
            )
            yield Hit(envelope.number, said, entries=(entry.n,), excuses=entry.kid)


@rule(
    "SE-09", "Opened again after sealing", "warn", "custody", "common practice, no source",
    "Say why it was opened, count again, and close it with a new seal number.",
)  # fmt: skip
def opened_again(case: Case) -> Iterator[Hit]:
    """By the organisation that sealed it; what a laboratory opens on arrival is its own affair."""
    for _, envelope, sealing in _sealings(case):
        name, opened, later = (
            grouped(envelope.number),
            sealing.opened,
            envelope.sealings[_place(envelope, sealing) + 1 :],
        )
        about_to_close = case.sealing is not None and case.sealing.envelope == envelope.number
        arrived = bool(envelope.arrivals) and envelope.arrivals[0].sealing is sealing
        if opened and opened.entry.org == sealing.said.entry.org:
            body = opened.of(Unsealed)
            closed = f"closed again under seal {later[0].body.seal}" if later else "not closed again so far"
            said = (
                f"Envelope {name}, seal {sealing.body.seal}, was opened on {clock(body.at)} by "
                f"{case.person(opened.entry.org, opened.entry.kid)} ({body.reason.replace('_', ' ')}) and {closed}."
            )
            yield Hit(envelope.number, said, entries=(opened.entry.n,))
        elif not opened and not arrived and (later or about_to_close):
            said = f"Envelope {name} bears seal {sealing.body.seal}; it is closed a second time, and nobody says that it was opened."
            yield Hit(envelope.number, said, entries=(sealing.said.entry.n,))


def _about_to_leave(case: Case) -> Iterator[tuple[str, Sequence[str]]]:
    if case.sealing:
        yield case.sealing.envelope, case.sealing.samples
    if case.shipping:
        inside = [
            number for _, envelope, sealing in _sealings(case)
            if envelope.number == case.shipping.envelope and sealing is envelope.sealing
            for number in sealing.body.samples
        ]  # fmt: skip
        yield case.shipping.envelope, inside


def _sealings(case: Case) -> Iterator[tuple[Form, Envelope, Sealing]]:
    for form, envelope in case.envelopes():
        for sealing in envelope.sealings:
            yield form, envelope, sealing


def _naming(case: Case, number: str) -> Iterator[Form]:
    return (form for form in case.forms.values() if number in form.samples)


def _place(envelope: Envelope, sealing: Sealing) -> int:
    return next(place for place, each in enumerate(envelope.sealings) if each is sealing)


def _proposed_count(case: Case, proposed: asked.Sealing) -> Iterator[Hit]:
    scanned, name = sorted(set(proposed.samples)), grouped(proposed.envelope)
    if proposed.counted != len(scanned):
        counted = "nobody counted them" if proposed.counted is None else f"{proposed.counted} were counted"
        yield Hit(
            proposed.envelope, f"{len(scanned)} cassettes were scanned into envelope {name}, and {counted}."
        )
    for number in scanned:
        known = [form.samples[number] for form in _naming(case, number)]
        if not any(sample.claims or sample.parent for sample in known):
            said = f"Sample {grouped(number)} was scanned into envelope {name}, and no form here says that it was collected."
            yield Hit(number, said)


def _packed(case: Case) -> dict[str, str]:
    """The envelope each sample lies in, or is about to."""
    lies = {s.number: s.envelope for form in case.forms.values() for s in form.samples.values() if s.envelope}
    return lies | (dict.fromkeys(case.sealing.samples, case.sealing.envelope) if case.sealing else {})


def _listed_in(case: Case, number: str) -> set[str]:
    closed = (
        form.samples[number]
        for form in _naming(case, number)
        if form.samples[number].status in ("sealed", "shipped")
    )
    here = {sample.envelope for sample in closed if sample.envelope}
    return here | set(case.elsewhere.envelopes.get(number, ()) if case.elsewhere else ())


def _used_before(
    case: Case, envelope: str, seal: str, here: Sequence[str], entries: tuple[int, ...] = ()
) -> Iterator[Hit]:
    elsewhere = case.elsewhere.seals.get(seal, ()) if case.elsewhere else ()
    used = sorted({*here, *(other for other in elsewhere if other != envelope)})
    if used:
        said = f"Seal {seal} for envelope {grouped(envelope)} was used before, on {printed(used)}."
        yield Hit(envelope, said, entries=entries)


def _proposed_sealer(case: Case, proposed: asked.Sealing) -> Iterator[Hit]:
    held: dict[tuple[str, str | None], list[str]] = {}
    for number in proposed.samples:
        for form in _naming(case, number):
            holder = form.samples[number].holder
            if holder and not form.same(holder.kid, proposed.kid):
                held.setdefault((holder.org, holder.kid), []).append(number)
    for (org, kid), others in held.items():
        said = (
            f"{case.person(proposed.org, proposed.kid)} is about to seal envelope {grouped(proposed.envelope)}, and "
            f"{case.person(org, kid)} holds {samples(others)}: no hand-over is recorded."
        )
        yield Hit(proposed.envelope, said, excuses=proposed.kid)
