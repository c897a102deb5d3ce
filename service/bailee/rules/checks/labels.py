"""What ties a number to a piece of glass: the serial molded on it, the label and where it sticks, and how the
number was read.

The ledger binds records, not glass. A label on the wrong cassette stays wrong however often it is scanned.

The cassette and its number: one number for ever, on every cassette, from the shelf to the envelope.

A number whose check character is wrong never gets this far: it is refused where it is read (CL-05).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bailee.domain.acts.form import Collected, Opened, Sealed
from bailee.domain.acts.mentions import glass
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.custody import Form, Said, Sample
from bailee.domain.numbers import grouped
from bailee.rules.case import Case, Elsewhere
from bailee.rules.registry import Hit, alike, refusal, rule
from bailee.rules.remedies import advice, by, do
from bailee.rules.wording import clock, counted, day, listed, printed, samples, start, were

refusal(
    "CL-05",
    "Check character of a number wrong",
    "ISO/IEC 7064 MOD 37-2; derived",
    "bailee.domain.numbers.read",
)


@rule(
    "CL-01", "One sample number collected twice", "block", "custody",
    "49 CFR 40.199(b)(4) by analogy; ISO/IEC 17025 7.4.2, from memory",
    advice(
        "Compare serials and photos; correct the wrong number. What was recorded on the wrong form is "
        "voided there.",
        do("corrected", "sample", field="sample", new=..., reason="wrong_item"),
        do("voided", "sample", form=..., reason="other"),
    ),
)  # fmt: skip
def collected_twice(case: Case) -> Iterator[Hit]:
    """More than one statement says it collected this number, on this form or on another.

    Nobody may except this.
    """
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
    "CL-02", "No readable label", "block", "custody",
    "49 CFR 40.199(b) by analogy; acceptance lists of laboratories",
    advice(
        "Identify it by serial and photo with a second person; only then print its label again. Leave it "
        "out of the envelope until then.",
        do("print_label", "sample"),
    ),
    afterwards=advice(
        "Find out by serial and photo which sample it is. Put it on hold until that is shown.",
        do("on_hold", "sample", reason="identity"),
    ),
)  # fmt: skip
def unlabeled(case: Case) -> Iterator[Hit]:
    """The condition `label_missing` at a receipt, about the sample that the receiver took it for.

    More counted than scanned is SE-02.
    """
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
    advice(
        "Ask the media keeper where it came from. If its lot was typed wrongly, the inspector who "
        "collected corrects it. Otherwise there is nothing to fix: it is printed on the custody record.",
        do("corrected", "sample", field="lot", new=..., reason="typing"),
    ),
)  # fmt: skip
def never_issued(case: Case) -> Iterator[Hit]:
    """The lot is known and its issues do not list this number."""
    return alike(
        (
            (form, sample, (lot.number, _really_of(case, sample)))
            for form, sample in case.samples()
            if (lot := case.lot_of(sample)) and sample.number not in lot.issued
        ),
        _say_never_issued,
    )


def _really_of(case: Case, sample: Sample) -> str:
    """The lot that issued it; empty when none did."""
    return next((lot.number for lot in case.lots.values() if sample.number in lot.issued), "")


def _say_never_issued(found: Sequence[Sample], lots: tuple[str, str]) -> str:
    said, really = lots
    it = "it was" if len(found) == 1 else "they were"
    instead = f"; {it} issued from lot {grouped(really)}" if really else ""
    return f"{_named(found)} {were(found)} never issued from lot {grouped(said)}{instead}."


def _named(found: Sequence[Sample]) -> str:
    """`Sample A`, `Samples A and B`."""
    return start(samples([sample.number for sample in found]))


@rule(
    "CL-12", "Issued to one person, collected by another person", "warn", "custody",
    "each link must show receipt and disposition: United States v. Rawlins, 606 F.3d 73",
    advice(
        "Nothing to fix if it is so: it is printed on the custody record.",
        do("issued", "lot", count=..., to=...),
    ),
)  # fmt: skip
def issued_to_another(case: Case) -> Iterator[Hit]:
    """The key it was issued to did not sign the collection. Issued to nobody by name says nothing."""
    return alike(
        _taken_by_another(case),
        lambda found, people: (
            f"{_named(found)} {were(found)} issued to {people[0]} and collected by {people[1]}."
        ),
    )


def _taken_by_another(case: Case) -> Iterator[tuple[Form, Sample, tuple[str, str]]]:
    for form, sample in case.samples():
        lot = case.lot_of(sample)
        issued = lot.issued.get(sample.number) if lot else None
        for claim in sample.claims if issued and issued.to else ():
            assert issued
            if case.owner(claim.entry.kid) != case.owner(issued.to or ""):
                org = claim.entry.org
                yield form, sample, (case.person(org, issued.to), case.person(org, claim.entry.kid))


@rule(
    "CL-13", "Cassettes not accounted for", "block", "custody", "common practice, no source",
    by(
        ("inspector", "clerk", "media_keeper", "quality"),
        "Search kit, vehicle and site. A used one is recorded by its inspector; a lost one is voided.",
        do("collected", sample=...), do("voided", "form", sample=..., reason="lost"),
    ),
    may_be_excepted=True,
)  # fmt: skip
def unaccounted(case: Case) -> Iterator[Hit]:
    """A cassette issued for this visit day to somebody who collected here was neither collected nor voided
    anywhere.

    A visit closes when its day ends on site. Until then the rest of the kit may serve another visit: a
    warning when the envelope is about to be sealed, nothing before. From the next day on it blocks. Numbers
    issued without a visit day are spares and never asked for; of one that was scanned SE-02 speaks. Whether
    another visit used a cassette only a whole ledger knows: without `elsewhere` this is not judged.
    """
    if case.elsewhere is None:
        return
    closing = case.draft(Sealed)
    asked, scanned = (closing.body.at, closing.body.samples) if closing else (case.at, [])
    for form, _ in case.visits():
        closed = form.day_of(asked) > form.visit
        lost = [each for each in _unaccounted(case, form, case.elsewhere) if each not in scanned]
        if lost and (closed or closing):
            yield Hit(
                form.number,
                f"{len(lost)} of the cassettes issued for {day(form.visit)}"
                f" {'has' if len(lost) == 1 else 'have'} no collection or void on record: {printed(lost)}.",
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
    body = claim.body
    at = body.at if isinstance(body, SurfaceCollected) else claim.of(Collected).started
    return f"by {case.person(claim.entry.org, claim.entry.kid)} on {clock(at)}"


_ALIKE: Final = advice(
    "Compare the makers. If it is one cassette, the person who misread it corrects the serial.",
    do("look_at_lots", "lot"),
    do("corrected", "sample", field="serial", new=..., reason="misread"),
)


@rule(
    "CL-03", "Maker's serial not recorded", "warn", "custody", "common practice, no source",
    advice(
        "Read the serial on the body of the cassette, and add it. Without it the label (and photo, if any) "
        "identifies it.",
        do("corrected", "sample", field="serial", new=..., reason="left_out"),
    ),
    afterwards=advice(
        "The laboratory can read the serial on the body; the inspector who collected adds it only from a "
        "photo or a note of that time.",
        do("corrected", "sample", field="serial", new=..., reason="left_out"),
    ),
)  # fmt: skip
def no_serial(case: Case) -> Iterator[Hit]:
    """A cassette whose serial was not bound to its number, where the firm wants it."""
    return alike(
        (
            (form, sample, "")
            for form, sample in case.air()
            if sample.taken.serial is None and case.policy(form).serial_required
        ),
        lambda found, _: (
            f"{_named(found)} {were(found)} collected without the serial of the cassette: identity rests on"
            " the label only."
        ),
        by=("serial_required",),
    )


@rule(
    "CL-04",
    "One cassette under two sample numbers",
    "block",
    "custody",
    "derived: a cassette has one serial",
    advice(
        "Read the serials on both cassettes, and correct the wrong one; a label that was not used is voided.",
        do("corrected", "sample", field="serial", new=..., reason="misread"),
        do("voided", sample=..., reason="other"),
    ),
)
def one_serial_twice(case: Case) -> Iterator[Hit]:
    """Two live samples bear the same serial, on one visit or from one lot, wherever the ledger knows the firm
    collected it.

    Two makers may number alike: what comes from two lots on two visits is noted.
    """
    bearing: dict[str, list[tuple[Form, Sample]]] = {}
    for form in case.forms.values():
        for sample in form.air:
            if sample.taken.serial:
                bearing.setdefault(glass(sample.claims[0].entry.org, sample.taken.serial), []).append(
                    (form, sample)
                )
    for form, sample in case.air():
        serial, lot = sample.taken.serial, sample.taken.lot
        if not serial:
            continue
        name = glass(sample.claims[0].entry.org, serial)
        here = [(s.number, where is form or s.taken.lot == lot) for where, s in bearing[name]]
        beyond = case.elsewhere.serials.get(name, ()) if case.elsewhere else ()
        others = {each: same for each, same in here if each != sample.number}
        others |= {
            each.sample: each.lot == lot for each in beyond if each.sample not in {sample.number, *others}
        }
        if same := sorted(each for each, is_same in others.items() if is_same):
            said = (
                f"The cassette with serial {serial} was collected as {grouped(sample.number)} and as"
                f" {printed(same)}."
            )
            yield Hit.on(sample, said)
        if alike := sorted(each for each, is_same in others.items() if not is_same):
            said = (
                f"Serial {serial} of {grouped(sample.number)} is also that of {printed(alike)} from another"
                " lot: two makers may use the same serial."
            )
            yield Hit(sample.number, said, "note", tuple(c.entry.n for c in sample.claims), remedy=_ALIKE)


@rule(
    "CL-06", "Label not on the cassette itself", "warn", "custody", "common practice, no source",
    advice(
        "Put a label on the body of the cassette before the cover or bag comes off, and record that.",
        do("print_label", "sample"),
        do("corrected", "sample", field="label_on", new="body", reason="other"),
    ),
    afterwards="Ask the laboratory to label the body before the cover or bag comes off.",
)  # fmt: skip
def label_comes_off(case: Case) -> Iterator[Hit]:
    """Declared to stick on the removable cover or on the bag. Where nobody said is left alone. What was taken
    from a surface has no other body than its bag.
    """
    return alike(
        (
            (form, sample, where)
            for form, sample in case.samples()
            if (where := (sample.surface or sample.taken).label_on) in ("cover", "bag")
            and not (sample.surface and where == "bag")
        ),
        lambda found, where: (
            f"The label of {samples([each.number for each in found])} is on the {where}, which comes off."
        ),
    )


@rule(
    "CL-07", "Numbers typed instead of scanned", "note", "custody",
    "0.29 % errors per field typed once: Garza 2025, 93 papers; the limit is common practice",
    advice(
        "Compare each typed number with its label, with a second person. Correct one that is wrong.",
        do("corrected", "sample", field="sample", new=..., reason="typing"),
    ),
)  # fmt: skip
def typed(case: Case) -> Iterator[Hit]:
    """Any typed number of a visit is noted.

    A share of its cassettes strictly above the limit is a warning.
    """
    for form, _ in case.visits():
        live = list(form.live)
        by_hand = [sample.number for sample in live if (sample.surface or sample.taken).entered == "typed"]
        if by_hand:
            limit = case.policy(form).typed_warn_pct
            many = len(by_hand) * 100 > limit * len(live)
            yield Hit(
                form.number,
                f"{len(by_hand)} of {counted(len(live), 'number')} of this visit"
                f" {('was' if len(by_hand) == 1 else 'were')} typed, not scanned: {printed(by_hand)} (warning"
                f" above {limit} %).",
                "warn" if many else None,
                by=("typed_warn_pct",) if many else (),
            )


@rule(
    "CL-08",
    "Label printed more than once",
    "warn",
    "custody",
    "relabeling is error-prone: Karcher 2014, 78 laboratories",
    advice(
        "Destroy every print that is not on the cassette, and record why it was printed again.",
        do("corrected", "sample", field="label_reprinted", new=..., reason="left_out"),
    ),
)
def printed_again(case: Case) -> Iterator[Hit]:
    """The collector says how often; where nobody said is left alone."""
    for _, sample in case.air():
        prints, why = sample.taken.label_prints, sample.taken.label_reprinted
        if prints and prints > 1:
            reason = f"({why})" if why else "and no reason is on record"
            yield Hit.on(
                sample, f"The label of {grouped(sample.number)} was printed {prints} times {reason}."
            )


@rule(
    "CL-09", "Cassette given another number after collection", "block", "custody",
    "relabeling is error-prone: Karcher 2014, 78 laboratories",
    advice(
        "The quality role compares serial and photo, and a second person who watches signs as witness.",
        do("witnessed", "form", statements=...),
    ),
    may_be_excepted=True, signers=("quality",),
)  # fmt: skip
def relabeled(case: Case) -> Iterator[Hit]:
    """A correction changed the number of a collected cassette.

    Made by the quality role itself it is only warned of.
    """
    for form, live in case.visits():
        in_question = {sample.number for sample in live}
        for made in form.corrections:
            target, new = made.target, made.body.new
            renamed = (
                target
                and isinstance(target.body, Collected | SurfaceCollected)
                and made.body.field == "sample"
                and not made.why_not
            )
            if renamed and new in in_question:
                by_quality = case.role(made.entry.org, made.entry.kid) == "quality"
                yield Hit(
                    new,
                    f"{case.person(made.entry.org, made.entry.kid)} changed the number of a collected"
                    f" cassette from {grouped(str(made.body.old))} to {grouped(new)} (entry {made.entry.n},"
                    f" {made.body.reason.replace('_', ' ')}).",
                    "warn" if by_quality else None,
                    (made.entry.n,),
                    made.entry.kid,
                )


@rule(
    "CL-10",
    "Cassette of an organization that is not a party",
    "block",
    "custody",
    "derived: the owner of a lot issues its numbers",
    advice(
        "Find out how this cassette came here. A lot that was typed wrongly is corrected; one that was lent"
        " may be allowed on the papers that came with it.",
        do("corrected", "sample", field="lot", new=..., reason="typing"),
    ),
    may_be_excepted=True,
)
def foreign_label(case: Case) -> Iterator[Hit]:
    """The lot belongs neither to the firm nor to the laboratory of the form, which may
    supply the cassettes.
    """
    for form, sample in case.samples():
        lot, parties = case.lot_of(sample), form.opened.of(Opened).parties
        if lot and lot.org not in (parties.firm, parties.lab):
            yield Hit.on(
                sample,
                f"{grouped(sample.number)} comes from lot {grouped(lot.number)} of {lot.org}; this form is of"
                f" {parties.firm} for {parties.lab}.",
            )
