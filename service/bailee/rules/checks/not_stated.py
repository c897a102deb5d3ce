"""VP, SL, PV, OC: what nobody stated, where silence would read as if it had been in order.

A fact that was stated is judged by the rule that asks for it; here only its absence is said, once for a form.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.domain.custody import Form, Sample
from bailee.domain.requests import asked, asked_of_all
from bailee.rules.case import Case
from bailee.rules.readers import Step
from bailee.rules.registry import Hit, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import samples, start

_CP: Final = "common practice, no source"
_STAYS: Final = "not known, it stays not stated and is printed so on the custody record."


def _add(field: str) -> Step:
    return do("corrected", "sample", field=field, new=..., reason="left_out")


@rule(
    "VP-13", "Analysis or turnaround not stated", "warn", "media",
    "EPA, guidance of November 1992, citing SW-846 chapter 1: a custody record names the analyses requested",
    advice(
        "Add what the firm asks the laboratory for: on the form, or for some of its samples.",
        do("requested", "form", analysis=..., turnaround=...),
        do("corrected", "form", of="opened", field="analysis", new=..., reason="left_out"),
        do("corrected", "form", of="opened", field="turnaround", new=..., reason="left_out"),
    ),
)  # fmt: skip
def request(case: Case) -> Iterator[Hit]:
    """The laboratory is asked for no analysis, or not told how soon: on a form, or for one of its samples."""
    for form, found in case.visits():
        of_each, of_all = asked(form), asked_of_all(form)
        lacking: dict[tuple[str, ...], list[str]] = {}
        for number, said in {each.number: of_each[each.number] for each in found}.items() or [("", of_all)]:
            if missing := tuple(what for what in ("analysis", "turnaround") if not getattr(said, what)):
                lacking.setdefault(missing, []).append(number)
        entries = (form.opened.entry.n, *(said.entry.n for said in form.requests))
        for missing, numbers in lacking.items():
            where = "on the form" if len(numbers) == max(len(found), 1) else f"for {samples(numbers)}"
            names = tuple(filter(None, numbers)) if len(numbers) < len(found) else ()
            told = f"No {' and no '.join(missing)} is stated {where}."
            yield Hit(form.number, told, entries=entries, names=names)


@rule(
    "SL-13", "Inlet height indoors not stated", "warn", "media", _CP,
    advice(f"Add the height that was measured; {_STAYS}", _add("height_m")),
)  # fmt: skip
def height_indoors(case: Case) -> Iterator[Hit]:
    """Indoor samples without an inlet height: whether it was within the limits is not known."""
    for form, found in case.air_visits():
        lacking = [each for each in found if each.kind == "indoor" and each.taken.height_m is None]
        if lacking:
            yield _left_out(form, lacking, f"the inlet height of {_named(lacking)}")


@rule(
    "OC-15", "Height or distance of an outdoor control not stated", "warn", "comparison", _CP,
    advice(f"Add what was measured; {_STAYS}", _add("height_m"), _add("distance_m")),
)  # fmt: skip
def outdoors(case: Case) -> Iterator[Hit]:
    """Outdoor controls without an inlet height, or without a distance from the nearest building."""
    for form, found in case.air_visits():
        controls = [each for each in found if each.taken.kind == "outdoor"]
        low = [each for each in controls if each.taken.height_m is None]
        near = [each for each in controls if each.taken.distance_m is None]
        what = [f"the inlet height of {_named(low)}"] if low else []
        what += [f"the distance from the nearest building of {_named(near)}"] if near else []
        if what:
            yield _left_out(
                form, list({each.number: each for each in low + near}.values()), " and ".join(what)
            )


@rule(
    "PV-17", "Flow meter not named", "warn", "media", _CP,
    advice(f"Add the number of the meter; {_STAYS}", _add("meter")),
)  # fmt: skip
def meter(case: Case) -> Iterator[Hit]:
    """Flows read with a meter that nobody named, where no meter is listed at all.

    Where the organization lists any, PV-06 asks for the certificate and speaks alone.
    """
    for form, found in case.air_visits():
        lacking = [
            each
            for each in found
            if each.taken.mean_flow is not None and each.taken.meter is None and not _lists(case, each)
        ]
        if lacking:
            yield _left_out(form, lacking, f"the meter that read the flow of {_named(lacking)}")


def _lists(case: Case, sample: Sample) -> bool:
    """Whether the organization that collected it lists any flow meter."""
    organization = case.organizations.get(sample.claims[0].entry.org)
    return organization is not None and any(kind == "meter" for kind, _ in organization.equipment)


def _named(found: list[Sample]) -> str:
    return samples([each.number for each in found])


def _left_out(form: Form, found: list[Sample], what: str) -> Hit:
    """One finding for the form, which rests on the collections that lack it."""
    were = "were" if " and the " in what else "was"
    entries = tuple(claim.entry.n for each in found for claim in each.claims)
    numbers = tuple(each.number for each in found)
    return Hit(form.number, start(f"{what} {were} not stated."), entries=entries, names=numbers)
