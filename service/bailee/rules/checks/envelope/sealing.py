"""SE: an envelope is about to be closed, or was.

After it only the seal and the custody record speak for the samples.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice
from typing import Final

from bailee.domain.acts.form import Relinquished, Sealed, Shipped, Unsealed, Voided
from bailee.domain.acts.mentions import own_seal
from bailee.domain.custody import Envelope, Form, Oddity, Sample, Sealing
from bailee.domain.numbers import grouped
from bailee.domain.statements import Draft
from bailee.rules import wording
from bailee.rules.case import Case
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import Remedy, advice, do
from bailee.rules.wording import clock, counted, listed, printed, samples

_SAYS_ITSELF: Final = frozenset({"CU-01", "SE-02", "SE-03"})
"""Blocks of a sample whose own words say what to do with it in this envelope: SE-01 adds nothing to them."""

_NOT_COUNTED: Final = advice(
    "Count the cassettes, and enter the number.",
    do("sealed", "sample", "envelope", total=...),
)
_ONE_MORE: Final = advice(
    "Scan every cassette again. One without a readable number stays outside until its serial or a photo shows"
    " which sample it is.",
    do("sealed", "sample", "envelope"),
)
_LEAVE_OUT: Final = advice(
    "Leave it out of the envelope, and scan and count the rest. If it was used, its inspector records that"
    " first.",
    do("sealed", "sample", "envelope", leave_out=True),
    do("collected", "sample"),
)
_COUNT_AGAIN: Final = advice(
    "Open the envelope, scan every cassette once, count again, and seal what is inside under a new seal"
    " number.",
    do("unsealed", "envelope", reason="inspection"),
    do("sealed", "envelope"),
)
_CLOSED_ALREADY: Final = advice(
    "Open the envelope, and close it with a seal whose number was never used.",
    do("unsealed", "envelope", reason="wrong_seal"),
    do("sealed", "sample", "envelope", seal=...),
)
_OPENED: Final = advice(
    "Close it with a new seal before it leaves.",
    do("sealed", "sample", "envelope", seal=...),
)
_ANOTHER: Final = advice(
    "Use an envelope with a new number: print its label, then seal.",
    do("print_label", envelope=...),
    do("sealed", "sample", envelope=...),
)


@rule(
    "SE-01", "A sample in the envelope has a stop", "block", "custody", "follows from the other rules",
    advice(
        "Fix what stops these samples, or leave them out and ask again. One that is sealed in already "
        "comes out first.",
        do("sealed", "envelope"), do("unsealed", "envelope", reason="remove_sample"),
    ), last=True,
)  # fmt: skip
def open_blocks(case: Case) -> Iterator[Hit]:
    """Asked only of an envelope about to be sealed or handed over.

    Afterwards the block itself stands as a flag.
    """
    for envelope, inside in _about_to_leave(case):
        stops = {
            each: [name for name in case.blocked.get(each, ()) if name not in _SAYS_ITSELF] for each in inside
        }
        stopped = [f"{grouped(each)} ({listed(names)})" for each, names in stops.items() if names]
        if stopped:
            said = f"Envelope {grouped(envelope)} holds {listed(stopped)}, which must be fixed first."
            yield Hit(envelope, said, is_proposed=True)


@rule(
    "SE-02", "Count does not match the manifest", "block", "custody", "49 CFR 40.199, by analogy",
    advice(
        "Empty the envelope, scan every cassette once, count again, and seal what is inside.",
        do("sealed", "envelope"),
    ),
    afterwards=advice(
        "The laboratory counts on receipt. Both counts are printed on the custody record.",
        do("received", "envelope", dock=True, total=...),
    ),
)  # fmt: skip
def counts_agree(case: Case) -> Iterator[Hit]:
    """Before sealing: counted by hand against scanned.

    Afterwards: the total stated against all forms of the envelope.
    """
    if closing := case.draft(Sealed):
        yield from _proposed_count(case, closing)
    for _, envelope, sealing in _sealings(case):
        body, name, entries = sealing.body, grouped(envelope.number), (sealing.said.entry.n,)
        if body.count != len(body.samples):
            said = f"Envelope {name}: {body.count} counted, {len(body.samples)} on the manifest."
            yield Hit(
                envelope.number, said, entries=entries, remedy=_still_closed(case, sealing, _COUNT_AGAIN)
            )
        if not set(body.forms) <= set(case.forms):
            continue  # the other forms of this envelope are not here: nothing can be added up
        inside = case.once(_inside)[body.envelope, body.seal]
        if body.total != len(inside):
            said = (
                f"Envelope {name} was sealed with a total of {body.total} cassettes; its forms list"
                f" {len(inside)}: {printed(inside)}."
            )
            yield Hit(
                envelope.number, said, entries=entries, remedy=_still_closed(case, sealing, _COUNT_AGAIN)
            )


@rule(
    "SE-03", "A sample in two envelopes", "block", "custody", "one thing is in one place",
    advice(
        "Check which envelope it is in. Open the other one, and seal it again without this sample and "
        "under a new number.",
        do("unsealed", envelope=..., reason="remove_sample"), do("sealed", envelope=...),
    ),
    afterwards=advice(
        "Ask the laboratory which envelope it was in, and check what it received. Both manifests stay on "
        "record.",
        do("look_up", "sample"),
    ),
)  # fmt: skip
def one_envelope(case: Case) -> Iterator[Hit]:
    """On this form, on the other forms of the case, and wherever else the ledger knows the sample."""
    for form in case.forms.values():
        for odd in form.oddities:
            if odd.code == "two-envelopes" and odd.sample:
                said = f"Sample {grouped(odd.sample)} was sealed into one envelope and is {odd.detail}."
                yield Hit(odd.sample, said, entries=(odd.entry.n,))
    for number, envelope in _packed(case).items():
        others = _listed_in(case, number) - {envelope}
        if others:
            said = (
                f"Sample {grouped(number)} is in envelope {grouped(envelope)} and also on the manifest of"
                f" {printed(sorted(others))}."
            )
            yield Hit(number, said)


@rule(
    "SE-04", "Seal number missing or used before", "block", "custody",
    "EPA 905R78115 (1978): container closed with a custody seal; Cal/OSHA P&P C-1H: seal number on the form",
    advice(
        "Use a seal with a number that was never used, and enter that number.",
        do("sealed", "sample", "envelope", seal=...),
    ),
    afterwards=advice(
        "Compare the number with the seal on the envelope; if it was typed wrongly, the person who sealed "
        "corrects it.",
        do("corrected", "form", of="sealed", field="seal", new=..., reason="misread"),
    ),
)  # fmt: skip
def fresh_seal(case: Case) -> Iterator[Hit]:
    """A re-opened envelope needs a new number too, or nobody could see that it was opened.

    Nothing leaves while it is open.
    """
    closing, leaving = case.draft(Sealed), case.draft(Shipped)
    seal, about = (closing.known("seal"), closing.body.envelope) if closing else (None, "")
    if closing and not seal:
        yield Hit(about, f"Envelope {grouped(about)} has no seal number yet.", is_proposed=True)
    elif closing and seal:
        here = [envelope.number for _, envelope, done in _sealings(case) if done.body.seal == seal]
        yield from _used_before(case, about, closing.org, seal, here, is_proposed=True)
    for _, envelope, sealing in _sealings(case):
        leaves = leaving is not None and leaving.body.envelope == envelope.number
        if leaves and sealing is envelope.sealing and sealing.opened:
            opened = clock(sealing.opened.of(Unsealed).at)
            said = (
                f"Envelope {grouped(envelope.number)} was opened on {opened} and not closed again: no seal is"
                " on it."
            )
            yield Hit(
                envelope.number, said, entries=(sealing.opened.entry.n,), remedy=_OPENED, is_proposed=True
            )
    for form, envelope, sealing in _sealings(case):
        here = _also_under(case, form, envelope.number, sealing)
        by, n = sealing.said.entry.org, sealing.said.entry.n
        for hit in _used_before(case, envelope.number, by, sealing.body.seal, here, (n,)):
            yield replace(hit, remedy=_still_closed(case, sealing, _CLOSED_ALREADY))


@rule(
    "SE-07", "Sealed without a recorded transfer", "block", "custody",
    "United States v. Rawlins, 606 F.3d 73 (3d Cir. 2010): every link shows receipt",
    advice(
        "The holder relinquishes them and the person who seals receives them, both with the true time. Or "
        "the holder seals.",
        do("relinquished", "sample", to=..., at=...), do("received", "sample", at=...),
    ),
    afterwards=advice(
        "Both sign the transfer now, with the true time. It is marked as late.",
        do("relinquished", "sample", to=..., at=...), do("received", "sample", at=...),
    ),
)  # fmt: skip
def sealer_holds(case: Case) -> Iterator[Hit]:
    """A hand-over nobody signed is a missing link, even across one desk.

    Given to the sealer and not taken yet is CU-01.
    """
    if closing := case.draft(Sealed):
        yield from _proposed_sealer(case, closing)
    not_held = case.once(_not_held)
    for form, envelope, sealing in _sealings(case):
        entry = sealing.said.entry
        others = [
            odd.sample
            for odd in not_held.get((form.number, entry.n), ())
            if odd.sample
            if not _is_given_to(form, form.samples[odd.sample], entry.org, entry.kid)
        ]
        if others:
            said = (
                f"{case.person(entry.org, entry.kid)} sealed {samples(others)} into envelope"
                f" {grouped(envelope.number)}; the holder on record is another person: no transfer is on"
                " record."
            )
            yield Hit(envelope.number, said, entries=(entry.n,), excuses=entry.kid, names=tuple(others))


@rule(
    "SE-09", "Opened again after sealing", "warn", "custody", "common practice, no source",
    advice(
        "Nothing to fix once it is closed again under a new number. No entry that it was opened? Sign that "
        "with the true time; then count again and close it.",
        do("unsealed", "envelope", reason=..., at=...), do("sealed", "envelope"),
    ),
    afterwards="Nothing to fix: who opened it, when and why is printed on the custody record.",
)  # fmt: skip
def opened_again(case: Case) -> Iterator[Hit]:
    """By the organization that sealed it; what a laboratory opens on arrival is its own affair.

    Nor does one number travel twice.
    """
    closing = case.draft(Sealed)
    yield from _traveled(case)
    for _, envelope, sealing in _sealings(case):
        name, opened, place = grouped(envelope.number), sealing.opened, _place(case, sealing)
        later = envelope.sealings[place + 1 : place + 2]
        about_to_close = closing is not None and closing.body.envelope == envelope.number
        arrived = bool(envelope.arrivals) and envelope.arrivals[0].sealing is sealing
        if opened and opened.entry.org == sealing.said.entry.org:
            body = opened.of(Unsealed)
            closed = f"closed again under seal {later[0].body.seal}" if later else "not closed again so far"
            said = (
                f"Envelope {name}, seal {sealing.body.seal}, was opened on {clock(body.at)} by"
                f" {case.person(opened.entry.org, opened.entry.kid)} ({body.reason.replace('_', ' ')}) and"
                f" {closed}."
            )
            yield Hit(envelope.number, said, entries=(opened.entry.n,))
        elif not opened and not arrived and (later or (about_to_close and not envelope.shipped)):
            said = (
                f"Envelope {name} has a second seal after seal {sealing.body.seal}; no entry shows that it"
                " was opened."
            )
            yield Hit(envelope.number, said, entries=(sealing.said.entry.n,))


def _about_to_leave(case: Case) -> Iterator[tuple[str, Sequence[str]]]:
    if closing := case.draft(Sealed):
        yield closing.body.envelope, closing.body.samples
    if leaving := case.draft(Shipped):
        inside = [
            number for _, envelope, sealing in _sealings(case)
            if envelope.number == leaving.body.envelope and sealing is envelope.sealing
            for number in sealing.body.samples
        ]  # fmt: skip
        yield leaving.body.envelope, inside


def _still_closed(case: Case, sealing: Sealing, remedy: Remedy) -> Remedy | None:
    """The remedy for an envelope that is closed and still here.

    None where the rule's own fits: it is open, or has left.
    """
    return None if sealing.opened or case.is_past(sealing.body.envelope) else remedy


def _sealings(case: Case) -> Iterator[tuple[Form, Envelope, Sealing]]:
    for form, envelope in case.envelopes():
        for sealing in envelope.sealings:
            yield form, envelope, sealing


def _naming(case: Case, number: str) -> Iterator[Form]:
    return (form for form in case.forms.values() if number in form.samples)


def _place(case: Case, sealing: Sealing) -> int:
    """Which seal of its envelope it is, from 0."""
    return case.once(_places)[id(sealing)]


def _places(case: Case) -> dict[int, int]:
    return {
        id(each): place for _, envelope in case.envelopes() for place, each in enumerate(envelope.sealings)
    }


def _inside(case: Case) -> dict[tuple[str, str], list[str]]:
    """What lies under each seal of each envelope, by all forms together."""
    found: dict[tuple[str, str], list[str]] = {}
    for _, _, sealing in _sealings(case):
        found.setdefault((sealing.body.envelope, sealing.body.seal), []).extend(sealing.body.samples)
    return {name: sorted(numbers) for name, numbers in found.items()}


def _also_under(case: Case, form: Form, envelope: str, sealing: Sealing) -> list[str]:
    """Other envelopes of this form or of the same sealer's organization that bore this seal.

    This one, if it bore it before.
    """
    org, seal = sealing.said.entry.org, sealing.body.seal
    users, joined = case.once(_under), case.once(_joined)
    if (form.number, org, seal) not in joined:
        both = users.get((form.number, seal), set()) | users.get((org, seal), set())
        joined[form.number, org, seal] = sorted(both)
    others = [each for each in islice(joined[form.number, org, seal], wording.NAMED + 2) if each != envelope]
    again = case.once(_first_under)[form.number, envelope, seal] is not sealing
    return [envelope, *others] if again else others


def _under(case: Case) -> dict[tuple[str, str], set[str]]:
    """By form, and by organization, and seal: the envelopes that bore it."""
    found: dict[tuple[str, str], set[str]] = {}
    for form, envelope, sealing in _sealings(case):
        for whose in (form.number, sealing.said.entry.org):
            found.setdefault((whose, sealing.body.seal), set()).add(envelope.number)
    return found


def _joined(_case: Case) -> dict[tuple[str, str, str], list[str]]:
    return {}


def _first_under(case: Case) -> dict[tuple[str, str, str], Sealing]:
    """By form, envelope and seal: the first closing with it."""
    found: dict[tuple[str, str, str], Sealing] = {}
    for form, envelope, sealing in _sealings(case):
        found.setdefault((form.number, envelope.number, sealing.body.seal), sealing)
    return found


def _not_held(case: Case) -> dict[tuple[str, int], list[Oddity]]:
    """By form and entry: samples that its signer did not hold."""
    found: dict[tuple[str, int], list[Oddity]] = {}
    for form in case.forms.values():
        for odd in form.oddities:
            if odd.code == "not-holder":
                found.setdefault((form.number, odd.entry.n), []).append(odd)
    return found


def _proposed_count(case: Case, closing: Draft[Sealed]) -> Iterator[Hit]:
    about, total = closing.body.envelope, closing.known("total")
    scanned, name = sorted(set(closing.body.samples)), grouped(about)
    if total != len(scanned):
        said = (
            f"{counted(len(scanned), 'cassette')} {'was' if len(scanned) == 1 else 'were'} scanned into"
            f" envelope {name}, and "
        )
        said += "no count was entered." if total is None else f"{total} counted"
        more = (total or 0) - len(scanned)
        if more > 0:
            said += f": {more} not scanned."
        elif total is not None:
            said += f": {-more} scanned and not counted."
        remedy = _NOT_COUNTED if total is None else _ONE_MORE if more > 0 else None
        yield Hit(about, said, remedy=remedy, is_proposed=True)
    for number in scanned:
        known = [form.samples[number] for form in _naming(case, number)]
        if why := _not_to_go(case, number, known):
            severity: Severity | None = "warn" if any(sample.void for sample in known) else None
            said = f"Sample {grouped(number)} was scanned into envelope {name}, and {why}"
            yield Hit(number, said, severity, remedy=_LEAVE_OUT, names=(about,), is_proposed=True)


def _not_to_go(case: Case, number: str, known: Sequence[Sample]) -> str:
    """Why a cassette has no business in the envelope, in words; empty when it has."""
    void = next((sample.void for sample in known if sample.void), None)
    if void:
        return f"was voided ({void.of(Voided).reason.replace('_', ' ')}): leave it out."
    if any(sample.claims or sample.parent for sample in known):
        return ""
    lot = next((lot for lot in case.lots.values() if number in lot.issued), None)
    if lot:
        return f"has no collection entry: it is a spare of lot {grouped(lot.number)}, leave it out."
    return "no collection entry is on record here: leave it out."


def _packed(case: Case) -> dict[str, str]:
    """The envelope each sample lies in, or is about to."""
    lies = {s.number: s.envelope for form in case.forms.values() for s in form.samples.values() if s.envelope}
    closing = case.draft(Sealed)
    return lies | (dict.fromkeys(closing.body.samples, closing.body.envelope) if closing else {})


def _listed_in(case: Case, number: str) -> set[str]:
    closed = (
        form.samples[number]
        for form in _naming(case, number)
        if form.samples[number].status in ("sealed", "shipped", "taken_in")
    )
    here = {sample.envelope for sample in closed if sample.envelope}
    return here | set(case.elsewhere.envelopes.get(number, ()) if case.elsewhere else ())


def _used_before(
    case: Case,
    envelope: str,
    org: str,
    seal: str,
    here: Sequence[str],
    entries: tuple[int, ...] = (),
    *,
    is_proposed: bool = False,
) -> Iterator[Hit]:
    """By the same organization; what another one closed under the same printed number is another seal."""
    elsewhere = case.elsewhere.seals.get(own_seal(org, seal), ()) if case.elsewhere else ()
    used = sorted({*here, *(other for other in elsewhere if other != envelope)})
    if used:
        said = f"Seal {seal} for envelope {grouped(envelope)} was used before, on {printed(used)}."
        yield Hit(envelope, said, entries=entries, is_proposed=is_proposed)


def _proposed_sealer(case: Case, closing: Draft[Sealed]) -> Iterator[Hit]:
    held: dict[tuple[str, str | None], list[str]] = {}
    for number in closing.body.samples:
        for form in _naming(case, number):
            sample = form.samples[number]
            holder = sample.holder
            is_coming = _is_given_to(form, sample, closing.org, closing.kid)
            if holder and not form.same(holder.kid, closing.kid) and not is_coming:
                held.setdefault((holder.org, holder.kid), []).append(number)
    for (org, kid), others in held.items():
        said = (
            f"{case.person(closing.org, closing.kid)} is about to seal envelope"
            f" {grouped(closing.body.envelope)}; the holder on record of {samples(others)} is"
            f" {case.person(org, kid)}: no transfer is on record."
        )
        yield Hit(closing.body.envelope, said, excuses=closing.kid, names=tuple(others), is_proposed=True)


def _is_given_to(form: Form, sample: Sample, org: str, kid: str) -> bool:
    """Whether somebody gave the sample to this person, who has not said yet that they took it."""
    given = sample.given.of(Relinquished) if sample.given else None
    return given is not None and given.to == org and (given.to_kid is None or form.same(given.to_kid, kid))


def _traveled(case: Case) -> Iterator[Hit]:
    """The envelope about to be closed was handed over before: its number cannot travel again."""
    closing, seen = case.draft(Sealed), set[str]()
    for _, envelope in case.envelopes():
        asks = closing and closing.body.envelope == envelope.number
        if not (asks and closing and envelope.shipped) or envelope.number in seen:
            continue
        seen.add(envelope.number)
        entry, when = envelope.shipped.entry, clock(envelope.shipped.of(Shipped).handed_over)
        severity: Severity = "block" if entry.org == closing.org else "warn"
        said = (
            f"Envelope {grouped(envelope.number)} was shipped on {when}; it cannot be shipped a second time"
            " under this number."
        )
        yield Hit(envelope.number, said, severity, (entry.n,), remedy=_ANOTHER, is_proposed=True)
