"""What weakens a comparison although an outdoor control is there: what stood beside it, how it was taken,
what became of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from decimal import Decimal
from typing import Final

from bailee.domain import measures, pairing
from bailee.domain.acts.form import Decision, Voided
from bailee.domain.custody import Sample
from bailee.domain.moments import duration_words
from bailee.domain.numbers import grouped
from bailee.domain.policy import Policy
from bailee.rules.case import GONE, Case
from bailee.rules.registry import Hit, rule
from bailee.rules.remedies import advice, do, for_all, on_site
from bailee.rules.wording import counted, listed, printed

_BROKEN: Final = ("cracked", "cover_off", "opened")


@rule(
    "OC-05", "Outdoor control near plants, vents, bins, traffic or eaves", "warn", "comparison",
    "common practice, no source",
    on_site(
        "Still on site: collect the outdoor control again in the open.",
        do("collected", "form", kind="outdoor"),
    )
    + advice(
        "If something else or nothing was near it, correct that.",
        do("corrected", "sample", field="near", new=..., reason="misread"),
    ),
    afterwards=for_all("It cannot be collected again: this is printed on the custody record.")
    + advice(
        "If something else or nothing was near it, correct that.",
        do("corrected", "sample", field="near", new=..., reason="misread"),
    ),
)  # fmt: skip
def beside_a_source(case: Case) -> Iterator[Hit]:
    """Plants, compost, vents, bins, traffic or eaves were declared.

    And so is a warning that nobody declared none.
    """
    for _, sample in case.air():
        if sample.taken.kind == "outdoor":
            near = [each.replace("_", " ") for each in sample.taken.near if each != "none"]
            name = f"outdoor control {grouped(sample.number)}"
            if near:
                yield Hit.on(sample, f"Near {name} there was: {listed(near)}.")
            elif not sample.taken.near:
                yield Hit.on(sample, f"No entry shows what was near {name}, or that nothing was.")


@rule(
    "OC-09",
    "Outdoor control differs in flow, time or lot",
    "warn",
    "comparison",
    "common practice, no source",
    advice(
        "Nothing to fix if it is so: it is printed on the custody record. Correct a value that was misread.",
        do("corrected", "sample", field=..., new=..., reason="misread"),
    ),
)
def taken_otherwise(case: Case) -> Iterator[Hit]:
    """Mean flow or run differs from that of an indoor sample by strictly more than the limit.

    Or the lot, where one is wanted.
    """
    for form, in_question in case.air_visits():
        asked, policy = {sample.number for sample in in_question}, case.policy(form)
        told: dict[str, tuple[Sample, dict[str, str]]] = {}
        for pair in pairing.pairs(form):
            if pair.outdoor and pair.indoor.number in asked:
                said = told.setdefault(pair.outdoor.number, (pair.outdoor, {}))[1]
                for limit, difference in _differences(pair.outdoor, pair.indoor, policy):
                    said[f"{difference} ({grouped(pair.indoor.number)})"] = limit
        for outdoor, said in told.values():
            if said:
                sentence = f"Outdoor control {grouped(outdoor.number)} differs: {listed(list(said))}."
                yield Hit.on(outdoor, sentence, by=tuple(dict.fromkeys(said.values())))


@rule(
    "OC-11", "Outdoor control not usable after it was shipped", "block", "comparison",
    "common practice, no source",
    advice(
        "Release no comparison: report the indoor samples as qualified, or agree on new samples. If it was "
        "voided "
        "by mistake or found, record that first.",
        do("accepted", sample=..., qualified=True),
    ),
    may_be_excepted=True,
)  # fmt: skip
def lost_on_the_way(case: Case) -> Iterator[Hit]:
    """Voided, missing, rejected, broken or overloaded once it had left.

    With enough others left it is a warning.
    """
    for form in case.forms.values():
        outdoor = [s for s in form.samples.values() if s.claims and s.kind == "outdoor"]
        gone = {sample.number: why for sample in outdoor if (why := lost(sample))}
        indoor = [sample.number for sample in pairing.of_kind(form, "indoor")]
        sound = sum(sample.number not in gone and not sample.void for sample in outdoor)
        remain = f"{counted(sound, 'other remains', 'others remain')}" if sound else "No other remains"
        for sample in outdoor:
            if sample.number in gone and indoor:
                yield Hit.on(
                    sample,
                    f"Outdoor control {grouped(sample.number)} {gone[sample.number]}."
                    f" {remain} to compare with: {printed(indoor)}.",
                    "warn" if sound >= case.policy(form).min_outdoor else None,
                    by=("min_outdoor",),
                )


@rule(
    "OC-13",
    "Long visit with one outdoor control",
    "note",
    "comparison",
    "common practice; spore clouds vary more than the method does: Health Canada, guidance on culturable"
    " fungi in air",
    on_site(
        "Still on site: collect a second outdoor control near the end. Otherwise there is nothing to fix: it "
        "is printed on the custody record.",
        do("collected", "form", kind="outdoor"),
    ),
)
def long_visit(case: Case) -> Iterator[Hit]:
    """From the first start to the last stop strictly more than the limit, and one live outdoor control."""
    for form, _ in case.air_visits():
        air = [sample for sample in form.air if sample.taken.kind != "blank"]
        outdoor = [sample for sample in air if sample.taken.kind == "outdoor"]
        if len(outdoor) == 1:
            stops = [sample.stopped.instant for sample in air if sample.stopped]
            length = max(stops) - min(sample.taken.started.instant for sample in air)
            limit = case.policy(form).long_visit_h
            if length > timedelta(hours=float(limit)):
                yield Hit(
                    form.number,
                    f"Sampling lasted {duration_words(length)} with one outdoor control; above {limit} h the"
                    " policy asks for a second.",
                    by=("long_visit_h",),
                )


@rule(
    "OC-14", "One outdoor control for several units", "warn", "comparison", "common practice, no source",
    advice(
        "Record which units it serves.",
        do("corrected", "sample", field="serves", new=..., reason="left_out"),
    )
    + on_site(
        "Still on site: you may collect one for each instead.", do("collected", "form", kind="outdoor")
    ),
)  # fmt: skip
def shared(case: Case) -> Iterator[Hit]:
    """Indoor samples of more than one unit or building rest on one outdoor control.

    Says for which that was not declared.
    """
    for form, in_question in case.air_visits():
        asked = {sample.number for sample in in_question}
        units: dict[str, tuple[Sample, dict[str, timedelta]]] = {}
        for pair in pairing.pairs(form):
            if (
                pair.outdoor
                and pair.apart is not None
                and pair.indoor.taken.unit
                and pair.indoor.number in asked
            ):
                far = units.setdefault(pair.outdoor.number, (pair.outdoor, {}))[1]
                far[pair.indoor.taken.unit] = max(pair.apart, far.get(pair.indoor.taken.unit, timedelta()))
        for outdoor, far in units.values():
            if len(far) > 1:
                yield Hit.on(outdoor, _shared(outdoor, far, case.policy(form)), by=("outdoor_gap_min",))


def _shared(outdoor: Sample, far: dict[str, timedelta], policy: Policy) -> str:
    undeclared = sorted(set(far) - set(outdoor.taken.serves))
    late = sorted(unit for unit, apart in far.items() if apart > timedelta(minutes=policy.outdoor_gap_min))
    said = f"Outdoor control {grouped(outdoor.number)} serves {len(far)} units: {listed(sorted(far))}."
    if undeclared:
        said += f" This is not on record for {listed(undeclared)}."
    if late:
        said += f" It started more than {policy.outdoor_gap_min} min from {listed(late)}."
    return said


def _differences(outdoor: Sample, indoor: Sample, policy: Policy) -> Iterator[tuple[str, str]]:
    """The threshold that was crossed, and what is different."""
    ours, theirs, limit = outdoor.taken, indoor.taken, policy.outdoor_alike_pct
    one, other = ours.mean_flow, theirs.mean_flow
    if one is not None and other is not None and _apart(one, other, limit):
        yield (
            "outdoor_alike_pct",
            f"{measures.rounded(one, 2)} L/min against {measures.rounded(other, 2)} L/min indoors",
        )
    if _apart(Decimal(ours.run_s), Decimal(theirs.run_s), limit):
        yield "outdoor_alike_pct", f"a run of {ours.run_s} s against {theirs.run_s} s indoors"
    if policy.same_lot_wanted and ours.lot != theirs.lot:
        yield "same_lot_wanted", f"lot {grouped(ours.lot)} against lot {grouped(theirs.lot)} indoors"


def _apart(one: Decimal, other: Decimal, limit_pct: Decimal) -> bool:
    return abs(one - other) * 100 > limit_pct * other


def lost(outdoor: Sample) -> str:
    """What became of an outdoor control after it left, in words; empty when nothing did."""
    left = outdoor.status in GONE or any(link.by_carrier for link in outdoor.links)
    broken: Sequence[str] = [each.replace("_", " ") for each in _BROKEN if each in outdoor.condition]
    if not left:
        return ""
    if outdoor.void:
        return f"was voided after it was shipped ({outdoor.void.of(Voided).reason.replace('_', ' ')})"
    if outdoor.status == "missing":
        return "was collected and not received: it was missing when its envelope was opened"
    if outdoor.status == "rejected":
        return "was rejected by the laboratory"
    if broken:
        return f"was received {listed(broken)}"
    return "was received overloaded" if "overloaded" in _reasons(outdoor) else ""


def _reasons(sample: Sample) -> Iterable[str]:
    return sample.decision.of(Decision).reasons if sample.decision else ()
