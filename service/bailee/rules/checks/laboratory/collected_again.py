"""CL-15 and RC-24: a sample collected again in the place of another: which one that was, and whether it came
when the laboratory asked for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.domain.acts.form import Decision, Opened
from bailee.domain.acts.table import ACCEPTED, REJECTED
from bailee.domain.custody import Form, Said, Sample
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.checks.envelope.at_the_dock import close_of_day
from bailee.rules.registry import Hit, rule
from bailee.rules.remedies import advice, by, do
from bailee.rules.wording import clock, samples

WORKING_DAYS: Final = 5
"""Within so many a firm collects again, or says when it will (common practice, no source)."""


@frozen
class AskedAgain:
    """Samples of which the laboratory asked for new ones in one entry, and none is on record; by when."""

    form: Form
    said: Said
    samples: tuple[str, ...]
    due: Moment

    @property
    def what(self) -> str:
        """That it was asked, in words."""
        new = "A new sample was" if len(self.samples) == 1 else "New samples were"
        at = clock(self.said.of(Decision).at)
        return f"{new} asked for on {at} in the place of {samples(self.samples)}"


def asked_again(case: Case) -> Iterator[AskedAgain]:
    """By the newest answer of the laboratory, of what is not void."""
    again = case.once(_collected_again)
    for form in case.forms.values():
        found: dict[int, tuple[Said, list[str]]] = {}
        for sample in form.samples.values():
            said = sample.decision
            if said and is_asked(said) and not sample.void and (form.number, sample.number) not in again:
                found.setdefault(said.entry.n, (said, []))[1].append(sample.number)
        for n, (said, named) in found.items():
            at = said.of(Decision).at
            due = Moment(close_of_day(case, form, n, at, WORKING_DAYS), at.offset_minutes)
            yield AskedAgain(form, said, tuple(named), due)


def is_asked(said: Said) -> bool:
    """Whether a decision asks for a new sample."""
    return said.entry.act != ACCEPTED and said.of(Decision).resample == "asked"


def _collected_again(case: Case) -> set[tuple[str, str]]:
    """Form and number of the samples that their own firm collected again, here or elsewhere."""
    found: set[tuple[str, str]] = set()
    for form in case.forms.values():
        for sample in form.live:
            number, where = sample.replaces or ("", None)
            other = case.forms.get(where or form.number)
            if number and other and sample.claims[0].entry.org == other.opened.of(Opened).parties.firm:
                found.add((other.number, number))
        if case.elsewhere:
            found |= {(form.number, number) for number in case.elsewhere.again & form.samples.keys()}
    return found


@rule(
    "RC-24", "New sample asked for, none on record", "warn", "media",
    "15A NCAC 02H .0805: get another sample if possible; the days are common practice",
    by(
        ("inspector",), "Collect a new sample on another visit, and name the one that it replaces.",
        do("collected", sample=..., replaces=...),
    )
    + by(
        ("custodian", "quality"), "Where it is not possible any more, record that.",
        do("rejected", "sample", resample="not_possible"),
    ),
)  # fmt: skip
def not_collected_again(case: Case) -> Iterator[Hit]:
    """From the end of the fifth working day of the laboratory on; until then the chase list has it."""
    for each in asked_again(case):
        if case.at > each.due:
            said = f"{each.what}; none is on record (due by {clock(each.due)})."
            yield Hit(each.form.number, said, entries=(each.said.entry.n,), names=each.samples)


@rule(
    "CL-15", "Replaces a sample that is neither void nor rejected", "warn", "custody",
    "15A NCAC 02H .0805: get another sample of one that is not analyzed; common practice",
    advice(
        "Correct the number of the earlier sample; or void that one, so that one result is reported.",
        do("corrected", "sample", field="replaces", new=..., reason="wrong_item"),
        do("voided", sample=..., reason=...),
    ),
)  # fmt: skip
def replaced_stands(case: Case) -> Iterator[Hit]:
    """Of the earlier sample on a form here, or on another that is seen. Of one that nobody sees nothing is
    said.
    """
    for form, live in case.visits():
        for sample in live:
            number, where = sample.replaces or ("", None)
            if number and (why := _stands(case, form, number, where)):
                said = f"Sample {grouped(sample.number)} replaces {grouped(number)}, which {why}."
                yield Hit(sample.number, said, entries=tuple(claim.entry.n for claim in sample.claims))


def _stands(case: Case, form: Form, number: str, where: str | None) -> str:
    """Why the earlier sample is none that is replaced, in words; empty where it is, or nobody sees it."""
    on = case.forms.get(where or form.number)
    if on is None:
        is_known = case.elsewhere is not None and number in case.elsewhere.stands
        return f"is neither void nor rejected on form {grouped(where or '')}" if is_known else ""
    earlier = on.samples.get(number)
    if earlier is None or not earlier.claims:
        return f"has no collection entry on form {grouped(on.number)}"
    return "is neither void nor rejected" if stands(earlier) else ""


def stands(sample: Sample) -> bool:
    """Whether a sample may have a result of its own: not void, not missing, not rejected, not asked for
    again.
    """
    asked = sample.decision is not None and is_asked(sample.decision)
    return not (sample.void or asked or sample.status in (REJECTED, "missing"))
