"""SE: how an envelope is closed, and whether everything that belongs together lies in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from types import EllipsisType
from typing import Final

from bailee.domain.acts.form import Received, Sealed, Shipped
from bailee.domain.custody import Envelope, Form, Sample, Sealing
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.pairing import Pair, pairs
from bailee.domain.policy import Policy
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.registry import Hit, alike, rule
from bailee.rules.remedies import Remedy, advice, by, do, scanned_into_closed
from bailee.rules.wording import clock, clock_at, listed, printed, samples, start


@frozen
class Closing:
    """One form's part of an envelope about to be closed, or closed; `entries` are empty before the fact."""

    form: Form
    said: Sealed
    kid: str
    inside: Sequence[str]
    entries: tuple[int, ...] = ()

    @property
    def name(self) -> str:
        """The envelope as printed."""
        return f"envelope {grouped(self.said.envelope)}"

    def policy(self, case: Case) -> Policy:
        """The thresholds that count for it."""
        return case.policy(self.form)

    def cure(self, case: Case, sealed: Remedy) -> Remedy | None:
        """The remedy for an envelope that is closed and still here.

        None where the rule's own fits, before and after that.
        """
        return sealed if self.entries and not case.is_past(self.said.envelope) else None


def _close_again(how: str, **facts: bool | EllipsisType) -> Remedy:
    return advice(
        f"Open it, and close it again {how} and under a new number.",
        do("unsealed", "envelope", reason="wrong_seal"),
        do("sealed", "envelope", seal=..., **facts),
    )


_NO_RECORD: Final = advice(
    "If it is inside, the person who sealed it corrects that. Otherwise open it, put it in and close it under"
    " a new number.",
    do("corrected", "form", of="sealed", field="record_enclosed", new=True, reason="misread"),
    do("unsealed", "envelope", reason="other"),
    do("sealed", "envelope", record_enclosed=True),
)


@rule(
    "SE-05",
    "Seal not across the opening",
    "warn",
    "custody",
    "county-filed air sampling plans: opening breaks the seal",
    advice(
        "Close it with a numbered seal that opening must break, take a photo, and ask again.",
        do("sealed", "envelope", across_opening=True, photo=...),
    ),
    afterwards="Nothing to fix any more: on opening, check the flap as well as the seal, and take a photo.",
)
def across_the_opening(case: Case) -> Iterator[Hit]:
    """As the sealer said; and, where the policy wants one, a photo of the closed envelope."""
    for closing in closings(case):
        if not closing.said.across_opening:
            said = f"The seal of {closing.name} is not across the opening."
            cure = closing.cure(case, _close_again("with the seal across the opening", across_opening=True))
            yield Hit(closing.said.envelope, said, entries=closing.entries, remedy=cure)
        if closing.policy(case).seal_photo_wanted and closing.said.photo is None:
            said = f"No photo of the closed {closing.name} is on record."
            cure = closing.cure(case, _close_again("with a photo", photo=...))
            yield Hit(
                closing.said.envelope, said, entries=closing.entries, by=("seal_photo_wanted",), remedy=cure
            )


@rule(
    "SE-06",
    "Plain tape instead of a numbered seal",
    "warn",
    "custody",
    "Kentucky OSH knowledge wiki, standing unclear; common practice",
    advice(
        "Close the envelope with a numbered seal that opening must break, and enter its number.",
        do("sealed", "envelope", seal=...),
    ),
    afterwards="Nothing to fix any more: on opening, check the envelope on all sides, and take a photo.",
)
def tape(case: Case) -> Iterator[Hit]:
    """A number written on tape is not the number of a seal."""
    for closing in closings(case):
        if closing.said.plain_tape:
            said = f"{start(closing.name)} is closed with plain tape, which shows no opening."
            cure = closing.cure(case, _close_again("with a numbered seal"))
            yield Hit(closing.said.envelope, said, entries=closing.entries, remedy=cure)


@rule(
    "SE-08", "Custody record not enclosed", "warn", "custody",
    "OSHA Technical Manual II:4: paperwork travels with the samples; Cal/OSHA P&P C-1H: page _ of _",
    advice(
        "Print the custody record, put all its pages in, and ask again.",
        do("print_record", "form"), do("sealed", "envelope", record_enclosed=True, record_pages=...),
    ),
    afterwards=advice(
        "Send it after the envelope, or let the laboratory print it. Correct a number of pages that was "
        "miscounted.",
        do("print_record", "form"), do("corrected", "form", of=..., field=..., new=..., reason="misread"),
    ),
)  # fmt: skip
def record_inside(case: Case) -> Iterator[Hit]:
    """Left out, or fewer pages found on opening than were put in.

    A box without any record is RC-05 for the dock.
    """
    for closing in closings(case):
        if not closing.said.record_enclosed and closing.policy(case).record_enclosed_required:
            said = f"The custody record is not enclosed in {closing.name}."
            yield Hit(
                closing.said.envelope,
                said,
                entries=closing.entries,
                by=("record_enclosed_required",),
                remedy=closing.cure(case, _NO_RECORD),
                names=(closing.form.number,),
            )
    for _, envelope in case.envelopes():
        arrival = envelope.arrivals[0] if envelope.arrivals else None
        dock = arrival.said.of(Received).dock if arrival else None
        put_in = arrival.sealing.body.record_pages if arrival and arrival.sealing else None
        if arrival and dock and None not in (put_in, dock.record_pages) and put_in != dock.record_pages:
            said = (
                f"Custody record of envelope {grouped(envelope.number)}: {put_in} pages enclosed,"
                f" {dock.record_pages} on receipt."
            )
            yield Hit(envelope.number, said, entries=(arrival.said.entry.n,))


@rule(
    "SE-11",
    "Covers not confirmed on",
    "warn",
    "media",
    "EPA Region 6: the inlet cover keeps dust and moisture out; common practice",
    advice(
        "Put both covers on now, and check the trace for dust and moisture. If they were on, correct that.",
        do("corrected", "sample", field="covers_on", new=True, reason="misread"),
    ),
    afterwards=advice(
        "The laboratory checks the trace for dust and moisture. If they were on, correct that.",
        do("corrected", "sample", field="covers_on", new=True, reason="misread"),
    ),
)
def covered(case: Case) -> Iterator[Hit]:
    """Said at the end of the run. What a receiver finds is RC-07."""
    return alike(
        ((form, sample, "") for form, sample in case.air() if not sample.taken.covers_on),
        lambda found, _: (
            f"The covers of {samples([each.number for each in found])} were not put back after the run."
        ),
    )


@rule(
    "SE-12",
    "Sealed before a run had ended",
    "block",
    "custody",
    "21 CFR 11.10(f): checks of sequence; FDA guidance on time stamps, withdrawn, by summary",
    advice(
        "Check both clocks. Not sealed yet: enter the true time. Otherwise the person who entered the wrong"
        " time corrects it.",
        do("sealed", "sample", "envelope", at=...),
        do("corrected", "form", of="sealed", field="at", new=..., reason="clock"),
        do("corrected", "sample", field="started", new=..., reason="clock"),
    ),
)
def sealed_after_the_runs(case: Case) -> Iterator[Hit]:
    """A cassette cannot lie in the envelope while air is drawn through it.

    Two people's clocks may differ by the clock limit.
    """
    for closing in closings(case):
        limit, at = timedelta(seconds=closing.policy(case).clock_warn_s), closing.said.at
        early = [
            sample
            for sample in map(closing.form.samples.__getitem__, closing.inside)
            if sample.stopped and sample.stopped.instant - at.instant > _apart(sample, closing.kid, limit)
        ]
        if early:
            last = max(early, key=_end)
            names = samples([sample.number for sample in early])
            verb = "was" if closing.entries else "is to be"
            said = (
                f"{start(closing.name)} {verb} sealed on {clock(at)}, before the run of {names} ended on"
                f" {clock_at(_end(last).instant, at)}."
            )
            runs = tuple(claim.entry.n for sample in early for claim in sample.claims)
            yield Hit(closing.said.envelope, said, entries=(*closing.entries, *runs), by=("clock_warn_s",))


_NOT_ANALYZED: Final = advice("If it will not be analyzed, void it.", do("voided", "sample", reason=...))


@rule(
    "SE-13", "Sample of the visit not in this envelope", "warn", "comparison", "common practice, no source",
    advice("Scan it in, so the laboratory gets the set together.", do("sealed", "envelope")) + _NOT_ANALYZED,
    last=True,
    afterwards=by(
        ("clerk", "inspector"),
        "Seal it into another envelope, ship that, and call the laboratory: the set comes in two parts.",
        do("sealed", "sample", envelope=...), do("shipped", envelope=...),
    )
    + _NOT_ANALYZED,
)  # fmt: skip
def set_together(case: Case) -> Iterator[Hit]:
    """The control an indoor sample is paired with lies elsewhere; a blank lies in no envelope of its visit;
    while it is asked, any other lies in none.

    An outdoor control without which nothing may be sealed is said by OC-01 alone.
    """
    leaving = case.draft(Shipped)
    for closing in closings(case):
        inside, ranks = set(closing.inside), case.once(_pairs)[closing.form.number]
        here = sorted((ranks[each] for each in inside if each in ranks), key=lambda each: each[0])
        controls = {
            pair.outdoor.number: pair.outdoor
            for _, pair in here
            if pair.outdoor and pair.outdoor.number not in inside
        }
        blanks = case.once(_loose_blanks)[closing.form.number] if inside else ()
        is_asked = not closing.entries or (
            leaving is not None and leaving.body.envelope == closing.said.envelope
        )
        left = [*controls.values(), *(s for s in blanks if s.number not in inside)]
        left += (
            s
            for s in (closing.form.live if is_asked else ())
            if s.kind != "blank" and s.status == "collected" and s.number not in inside | controls.keys()
        )
        said_already = "OC-01" in case.blocked.get(closing.form.number, ())
        for sample in left:
            if not (said_already and sample.kind == "outdoor"):
                is_control = sample.number in controls
                yield _left_out(
                    case,
                    closing,
                    sample,
                    "outdoor control" if is_control else _KINDS[sample.kind or "indoor"],
                )


@rule(
    "SE-14",
    "Samples for two laboratories in one envelope",
    "block",
    "custody",
    "county-filed air sampling plans: coolers by the laboratory they go to",
    advice(
        "Pack one envelope for each laboratory, each under its own number and seal. One that is closed is "
        "opened first.",
        do("unsealed", "envelope", reason="remove_sample"),
        do("sealed", envelope=..., seal=...),
    ),
    afterwards=(
        "Call both laboratories before it arrives: the one that opens it counts all of it, and the other gets"
        " its samples sealed, with a record of custody until then."
    ),
)
def one_laboratory(case: Case) -> Iterator[Hit]:
    """An envelope is opened by one laboratory; it may hold samples of several visits, and of one that is
    sent on.
    """
    together: dict[str, list[Closing]] = {}
    for closing in closings(case):
        together.setdefault(closing.said.envelope, []).append(closing)
    for envelope, parts in together.items():
        bound: dict[str, list[str]] = {}
        for part in parts:
            for number in part.inside:
                bound.setdefault(part.form.bound_for(part.form.samples[number]), []).append(number)
        if len(bound) > 1:
            whose = listed([f"{lab} ({len(inside)}: {printed(inside)})" for lab, inside in bound.items()])
            yield Hit(
                envelope,
                f"{start(parts[0].name)} holds samples for {whose}: it can be opened by one of them only.",
                entries=tuple(n for part in parts for n in part.entries),
                is_proposed=not parts[0].entries,
            )


def _left_out(case: Case, closing: Closing, sample: Sample, kind: str) -> Hit:
    where = f"is in envelope {grouped(sample.envelope)}" if sample.envelope else "is in no envelope"
    if not sample.envelope and sample.holder:
        where += f"; holder on record: {case.person(sample.holder.org, sample.holder.kid)}"
    stops = case.blocked.get(sample.number, ())
    where += f"; {listed(stops)} must be fixed before it goes" if stops else ""
    said = (
        f"The {kind} {grouped(sample.number)} of visit {grouped(closing.form.number)} is not in"
        f" {closing.name}: it {where}."
    )
    is_elsewhere = sample.envelope and case.is_past(closing.said.envelope)
    cure = _IN_TWO_PARTS if is_elsewhere else closing.cure(case, _ADD)
    return Hit(closing.said.envelope, said, entries=closing.entries, remedy=cure, names=(sample.number,))


_ADD: Final = scanned_into_closed("so the laboratory gets the set together") + _NOT_ANALYZED
_IN_TWO_PARTS: Final = by(
    ("clerk", "inspector"),
    "Call the laboratory: the set is in two parts.",
)
_KINDS: Final = {
    "indoor": "sample",
    "outdoor": "outdoor control",
    "blank": "field blank",
    "cavity": "cavity sample",
}


def closings(case: Case) -> Iterator[Closing]:
    """What is about to be closed, and every closing that still stands or stood on arrival.

    A seal opened since is history.
    """
    closing = case.draft(Sealed)
    if closing:
        for form in case.forms.values():
            inside = [number for number in closing.body.samples if number in form.samples]
            if inside:
                yield Closing(form, closing.body, closing.kid, inside)
    for form, envelope in case.envelopes():
        standing = _standing(envelope)
        if standing and not (closing and closing.body.envelope == envelope.number):
            entry = standing.said.entry
            yield Closing(form, standing.body, entry.kid, standing.body.samples, (entry.n,))


def _standing(envelope: Envelope) -> Sealing | None:
    """The seal on arrival, or else the newest one unless it was opened again."""
    if envelope.arrivals:
        return envelope.arrivals[0].sealing
    newest = envelope.sealing
    return newest if newest and not newest.opened else None


def _pairs(case: Case) -> dict[str, dict[str, tuple[int, Pair]]]:
    """By form and indoor sample, its pair, and which one it is in order of time."""
    return {
        form.number: {pair.indoor.number: (rank, pair) for rank, pair in enumerate(pairs(form))}
        for form in case.forms.values()
    }


def _loose_blanks(case: Case) -> dict[str, list[Sample]]:
    """By form, the blanks that lie in no envelope with others of it."""
    packed = case.once(_packed)
    return {
        form.number: [s for s in form.live if s.kind == "blank" and s.number not in packed[form.number]]
        for form in case.forms.values()
    }


def _packed(case: Case) -> dict[str, set[str]]:
    """By form, the samples that lie in an envelope together with others of it."""
    found: dict[str, set[str]] = {form.number: set() for form in case.forms.values()}
    for form, envelope in case.envelopes():
        sealing = _standing(envelope)
        if sealing and len(sealing.body.samples) > 1:
            found[form.number].update(sealing.body.samples)
    return found


def _apart(sample: Sample, kid: str, limit: timedelta) -> timedelta:
    """How far two clocks may differ: not at all when one person's device gave both times."""
    return timedelta() if any(claim.entry.kid == kid for claim in sample.claims) else limit


def _end(sample: Sample) -> Moment:
    assert sample.stopped
    return sample.stopped
