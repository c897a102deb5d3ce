"""The cassette and its number: one number for ever, on every cassette, from the shelf to the envelope.

A number whose check character is wrong never gets this far: it is refused where it is read (CL-05).
"""

from __future__ import annotations

from collections.abc import Iterator

from bailee.domain.custody import Form, Said
from bailee.domain.form_acts import Collected
from bailee.domain.numbers import grouped
from bailee.rules.case import Case, Elsewhere
from bailee.rules.registry import Hit, refusal, rule
from bailee.rules.wording import clock, day, listed, printed

refusal(
    "CL-05", "Check character of a number wrong", "ISO/IEC 7064 MOD 37-2; derived", "bailee.domain.numbers.read"
)  # fmt: skip


@rule(
    "CL-01", "One sample number collected twice", "block", "custody",
    "49 CFR 40.199(b)(4) by analogy; ISO/IEC 17025 7.4.2, from memory",
    "Compare glass, serial and photo. Whoever is wrong corrects the number: `bailee correct SAMPLE --field sample --new … "
    "--reason wrong_item`; what was recorded on the wrong form is voided there: `bailee void SAMPLE --form … --reason "
    "other`.",
)  # fmt: skip
def collected_twice(case: Case) -> Iterator[Hit]:
    """More than one statement says it collected this number, on this form or on another. Nobody may except this."""
    for form, sample in case.samples():
        others = case.also_on(form, sample.number)
        if len(sample.claims) + len(others) > 1:
            said = [_who_and_when(case, claim) for claim in sample.claims]
            said += [f"on form {grouped(other)}" for other in others]
            yield Hit.on(
                sample,
                f"{grouped(sample.number)} was recorded as collected {len(said)} times: {listed(said)}.",
            )


@rule(
    "CL-02", "Cassette without a readable number of its own", "block", "custody",
    "49 CFR 40.199(b) by analogy; acceptance lists of laboratories",
    "Find out by serial and photo which sample it is, print its label again (`bailee label sample SAMPLE --png …`), and "
    "leave it out of the envelope until then.",
    afterwards="Find out by serial and photo which sample it is. Until that is shown: `bailee put-on-hold SAMPLE --reason identity`.",
)  # fmt: skip
def unlabelled(case: Case) -> Iterator[Hit]:
    """The condition `label_missing` at a receipt, about the sample that the receiver took it for. More counted than scanned is SE-02."""
    for _, sample in case.samples():
        if "label_missing" in sample.condition:
            by = case.person(sample.links[-1].org, sample.links[-1].kid)
            yield Hit(
                sample.number,
                f"{grouped(sample.number)} was received by {by} without its label.",
                entries=(sample.links[-1].received.n,),
            )


@rule(
    "CL-11", "Collected but never issued", "warn", "custody", "common practice, no source",
    "Ask the media keeper where it came from. If its lot was typed wrongly, the collector corrects it: `bailee correct "
    "SAMPLE --field lot --new … --reason typing`. Otherwise nothing can be cured: it is printed.",
)  # fmt: skip
def never_issued(case: Case) -> Iterator[Hit]:
    """The lot is known and its issues do not list this number."""
    for _, sample in case.samples():
        lot = case.lot_of(sample)
        if lot and sample.number not in lot.issued:
            really = [grouped(other.number) for other in case.lots.values() if sample.number in other.issued]
            instead = f"; it was issued from lot {really[0]}" if really else ""
            yield Hit.on(
                sample, f"{grouped(sample.number)} was never issued from lot {grouped(lot.number)}{instead}."
            )


@rule(
    "CL-12", "Issued to one person, collected by another", "warn", "custody",
    "each link must show receipt and disposition: United States v. Rawlins, 606 F.3d 73",
    "Nothing to cure if it is so: it is printed. Next time let the cassettes be issued to whoever samples: `bailee lot "
    "issue … --count … --to …`.",
)  # fmt: skip
def issued_to_another(case: Case) -> Iterator[Hit]:
    """The key it was issued to did not sign the collection. Issued to nobody by name says nothing."""
    for _, sample in case.samples():
        lot = case.lot_of(sample)
        issued = lot.issued.get(sample.number) if lot else None
        for claim in sample.claims if issued and issued.to else ():
            assert issued
            if case.owner(claim.entry.kid) != case.owner(issued.to or ""):
                meant, did = (
                    case.person(claim.entry.org, issued.to),
                    case.person(claim.entry.org, claim.entry.kid),
                )
                yield Hit(
                    sample.number,
                    f"{grouped(sample.number)} was issued to {meant} and collected by {did}.",
                    entries=(claim.entry.n,),
                )


@rule(
    "CL-13", "Issued and not accounted for", "block", "custody", "common practice, no source",
    "Look for them in the kit, the vehicle and on site. One that was used is recorded by whoever ran it (`bailee collect "
    "…`); the others are voided: `bailee void … --form FORM --reason lost`.",
    may_be_excepted=True,
)  # fmt: skip
def unaccounted(case: Case) -> Iterator[Hit]:
    """A cassette issued for this visit day to somebody who collected here was neither collected nor voided anywhere.

    A visit closes when its day ends on site. Until then the rest of the kit may serve another visit: a warning when the
    envelope is about to be sealed, nothing before. From the next day on it blocks. Numbers issued without a visit day are
    spares and never asked for; of one that was scanned SE-02 speaks. Whether another visit used a cassette only a whole ledger knows: without `elsewhere`
    this is not judged.
    """
    if case.elsewhere is None:
        return
    asked = case.sealing.at if case.sealing else case.at
    for form, _ in case.visits():
        closed = form.day_of(asked) > form.visit
        scanned = case.sealing.samples if case.sealing else ()
        lost = [each for each in _unaccounted(case, form, case.elsewhere) if each not in scanned]
        if lost and (closed or case.sealing):
            yield Hit(
                form.number,
                f"{len(lost)} of the cassettes issued for {day(form.visit)} {'is' if len(lost) == 1 else 'are'} neither "
                f"collected nor voided: {printed(lost)}.",
                None if closed else "warn",
            )


def _unaccounted(case: Case, form: Form, beyond: Elsewhere) -> list[str]:
    collectors = {claim.entry.kid for sample in form.samples.values() for claim in sample.claims}
    return sorted(
        number
        for lot in case.lots.values()
        for number, issued in lot.issued.items()
        if issued.visit == form.visit and issued.to in collectors and not accounted(case, number, beyond)
    )


def accounted(case: Case, number: str, beyond: Elsewhere) -> bool:
    """Whether a number was collected or voided, on the forms here or elsewhere in the ledger."""
    seen = (form.samples.get(number) for form in case.about(number))
    here = any(sample is not None and (sample.claims or sample.void) for sample in seen)
    return here or number in beyond.accounted


def _who_and_when(case: Case, claim: Said) -> str:
    return f"by {case.person(claim.entry.org, claim.entry.kid)} on {clock(claim.of(Collected).started)}"
