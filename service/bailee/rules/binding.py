"""What ties a number to a piece of glass: the serial moulded on it, the label and where it sticks, and how the number was read.

The ledger binds records, not glass. A label on the wrong cassette stays wrong however often it is scanned.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.domain.custody import Form, Sample
from bailee.domain.form_acts import Collected, Opened
from bailee.domain.numbers import grouped
from bailee.rules.case import Case, glass
from bailee.rules.registry import Hit, rule
from bailee.rules.wording import counted, printed

_ALIKE: Final = (
    "Look whether the makers differ: `bailee lot show LOT`. If it is one cassette, whoever misread it corrects the serial: "
    "`bailee correct SAMPLE --field serial --new … --reason misread`."
)


@rule(
    "CL-03", "Serial of the cassette not recorded", "warn", "custody", "common practice, no source",
    "Read the serial moulded on the cassette, and add it: `bailee correct SAMPLE --field serial --new … --reason left_out`."
    " Without it only the label says which cassette this is.",
    afterwards="The laboratory can read the serial on the glass; the collector adds it only from a photo or a list of the time: "
    "`bailee correct SAMPLE --field serial --new … --reason left_out`.",
)  # fmt: skip
def no_serial(case: Case) -> Iterator[Hit]:
    """A cassette whose serial was not bound to its number, where the firm wants it."""
    for form, sample in case.samples():
        if sample.taken.serial is None and case.policy(form).serial_required:
            said = f"{grouped(sample.number)} was collected without the serial of its cassette: its identity rests on the label only."
            yield Hit.on(sample, said, by=("serial_required",))


@rule(
    "CL-04", "One cassette under two sample numbers", "block", "custody", "derived: a cassette has one serial",
    "Read the serials on both cassettes. Whoever is wrong corrects it: `bailee correct SAMPLE --field serial --new … "
    "--reason misread`; a label that was not used is voided: `bailee void … --reason other`.",
)  # fmt: skip
def one_serial_twice(case: Case) -> Iterator[Hit]:
    """Two live samples bear the same serial, on one visit or from one lot, wherever the ledger knows the firm collected it.

    Two makers may number alike: what comes from two lots on two visits is noted.
    """
    bearing: dict[str, list[tuple[Form, Sample]]] = {}
    for form in case.forms.values():
        for sample in form.live:
            if sample.taken.serial:
                bearing.setdefault(glass(sample.claims[0].entry.org, sample.taken.serial), []).append(
                    (form, sample)
                )
    for form, sample in case.samples():
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
            said = f"The cassette with serial {serial} was collected as {grouped(sample.number)} and as {printed(same)}."
            yield Hit.on(sample, said)
        if alike := sorted(each for each, is_same in others.items() if not is_same):
            said = f"Serial {serial} of {grouped(sample.number)} is also that of {printed(alike)} from another lot: two makers may number alike."
            yield Hit(sample.number, said, "note", tuple(c.entry.n for c in sample.claims), remedy=_ALIKE)


@rule(
    "CL-06", "Label not on the cassette itself", "warn", "custody", "common practice, no source",
    "Put a label on the body of the cassette before the cover or bag comes off (`bailee label sample SAMPLE --png …`), and "
    "say so: `bailee correct SAMPLE --field label_on --new body --reason other`.",
    afterwards="Tell the laboratory to label the body before the cover or bag comes off.",
)  # fmt: skip
def label_comes_off(case: Case) -> Iterator[Hit]:
    """Declared to stick on the removable cover or on the bag. Where nobody said is left alone."""
    for _, sample in case.samples():
        if sample.taken.label_on in ("cover", "bag"):
            yield Hit.on(
                sample,
                f"The label of {grouped(sample.number)} is on the {sample.taken.label_on}, which comes off.",
            )


@rule(
    "CL-07", "Numbers typed instead of scanned", "note", "custody",
    "0.29 % errors per field typed once: Garza 2025, 93 papers; the limit is common practice",
    "Hold every typed number against its label once more, with a second person. One that differs is corrected: `bailee "
    "correct SAMPLE --field sample --new … --reason typing`. Scan next time.",
)  # fmt: skip
def typed(case: Case) -> Iterator[Hit]:
    """Any typed number of a visit is noted; a share of its cassettes strictly above the limit is a warning."""
    for form, _ in case.visits():
        live = list(form.live)
        by_hand = [sample.number for sample in live if sample.taken.entered == "typed"]
        if by_hand:
            limit = case.policy(form).typed_warn_pct
            many = len(by_hand) * 100 > limit * len(live)
            yield Hit(
                form.number,
                f"{len(by_hand)} of {counted(len(live), 'number')} of this visit {'was' if len(by_hand) == 1 else 'were'} typed and not "
                f"scanned: {printed(by_hand)}; more than {limit} % is warned of.",
                "warn" if many else None,
                by=("typed_warn_pct",) if many else (),
            )


@rule(
    "CL-08", "Label printed more than once", "warn", "custody", "relabelling is dangerous: Karcher 2014, 78 laboratories",
    "Destroy every print that is not on the cassette, and say why it was printed again: `bailee correct SAMPLE --field "
    "label_reprinted --new … --reason left_out`.",
)  # fmt: skip
def printed_again(case: Case) -> Iterator[Hit]:
    """The collector says how often; where nobody said is left alone."""
    for _, sample in case.samples():
        prints, why = sample.taken.label_prints, sample.taken.label_reprinted
        if prints and prints > 1:
            reason = f"({why})" if why else "and no reason was given"
            yield Hit.on(
                sample, f"The label of {grouped(sample.number)} was printed {prints} times {reason}."
            )


@rule(
    "CL-09", "Cassette given another number after collection", "block", "custody",
    "relabelling is dangerous: Karcher 2014, 78 laboratories",
    "Let the quality role compare glass, serial and photo, with somebody who watches and says so: `bailee witness FORM …`.",
    may_be_excepted=True, signers=("quality",),
)  # fmt: skip
def relabelled(case: Case) -> Iterator[Hit]:
    """A correction changed the number of a collected cassette. Made by the quality role itself it is only warned of."""
    for form, live in case.visits():
        in_question = {sample.number for sample in live}
        for made in form.corrections:
            target, new = made.target, made.body.new
            renamed = (
                target
                and isinstance(target.body, Collected)
                and made.body.field == "sample"
                and not made.why_not
            )
            if renamed and new in in_question:
                by_quality = case.role(made.entry.org, made.entry.kid) == "quality"
                yield Hit(
                    new,
                    f"{case.person(made.entry.org, made.entry.kid)} changed the number of a collected cassette from "
                    f"{grouped(str(made.body.old))} to {grouped(new)} (entry {made.entry.n}, {made.body.reason.replace('_', ' ')}).",
                    "warn" if by_quality else None,
                    (made.entry.n,),
                    made.entry.kid,
                )


@rule(
    "CL-10", "Label of an organisation that is no party", "block", "custody", "derived: numbers are issued by whoever owns the lot",
    "Find out how this cassette came here. A lot that was typed wrongly is corrected: `bailee correct SAMPLE --field lot "
    "--new … --reason typing`; one that was lent may be allowed on the papers it was lent with.",
    may_be_excepted=True,
)  # fmt: skip
def foreign_label(case: Case) -> Iterator[Hit]:
    """The lot belongs neither to the firm nor to the laboratory of the form, which may supply the cassettes."""
    for form, sample in case.samples():
        lot, parties = case.lot_of(sample), form.opened.of(Opened).parties
        if lot and lot.org not in (parties.firm, parties.lab):
            yield Hit.on(
                sample,
                f"{grouped(sample.number)} comes from lot {grouped(lot.number)} of {lot.org}; this form is of {parties.firm} for "
                f"{parties.lab}.",
            )
