"""Field blanks and duplicates: cassettes that check the others, and only do so when they are what they are
called.

A duplicate whose kind nobody said is taken to be side by side when both runs share some time, otherwise one
after the other.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from bailee.domain.acts.form import Copied
from bailee.domain.custody import Form, Sample
from bailee.domain.moments import duration_words, hours
from bailee.domain.numbers import grouped
from bailee.rules.case import Case
from bailee.rules.registry import Hit, refusal, rule, shared
from bailee.rules.remedies import advice, do, on_site
from bailee.rules.wording import counted, printed

refusal(
    "BD-02",
    "Field blank with a volume",
    "field blanks with zero flow: county-filed sampling plans",
    "bailee.domain.acts.form.Collected",
)


@rule(
    "BD-01",
    "Too few field blanks",
    "note",
    "media",
    "common practice; ASTM D7391-20 covers blanks, and gives no ratio in its scope",
    on_site(
        "Still on site: open a cassette of the same lot without drawing air, cover it, and record it. "
        "Otherwise there is nothing to fix: it is printed on the custody record.",
        do("collected", "form", kind="blank", covers_on=True),
    ),
)
def no_blank(case: Case) -> Iterator[Hit]:
    """Fewer live blanks than wanted: so many a visit, and one for each begun number of air samples.

    Off by default.
    """
    for form, in_question in case.air_visits():
        policy = case.policy(form)
        air = sum(sample.taken.kind != "blank" for sample in form.air)
        there = sum(sample.taken.kind == "blank" for sample in form.air)
        wanted = (
            max(policy.min_blanks, -(-air // max(policy.samples_per_blank, 1))) if policy.min_blanks else 0
        )
        if in_question and air and there < wanted:
            yield Hit(
                form.number,
                f"{counted(there, 'field blank')} for {counted(air, 'air sample')}; the policy asks for at"
                f" least {wanted}.",
                by=("min_blanks", "samples_per_blank"),
            )


@rule(
    "BD-03", "Field blank from another lot", "warn", "media", "common practice, no source",
    on_site(
        "Still on site: collect a blank from the lot of the samples."
    )
    + advice(
        "Correct a lot that was typed wrongly.",
        do("corrected", "sample", field="lot", new=..., reason="typing"),
    ),
)  # fmt: skip
def blank_of_another_lot(case: Case) -> Iterator[Hit]:
    """No air sample of the visit comes from the lot of the blank, where the firm wants one lot."""
    for form, in_question in case.air_visits():
        lots = {each.taken.lot for each in form.air if each.taken.kind != "blank"}
        for sample in in_question if case.policy(form).same_lot_wanted and lots else ():
            if sample.taken.kind == "blank" and sample.taken.lot not in lots:
                yield Hit.on(
                    sample,
                    f"Field blank {grouped(sample.number)} comes from lot {grouped(sample.taken.lot)}; the"
                    f" air samples come from {printed(sorted(lots))}.",
                    by=("same_lot_wanted",),
                )


@rule(
    "BD-04", "No air drawn, and not recorded as a field blank", "block", "media",
    "derived: no volume, no concentration",
    advice(
        "Record what it is: a field blank, or a run whose seconds or flow were left out. If the pump never "
        "ran, void it.",
        do("corrected", "sample", field="kind", new="blank", reason="other"),
        do("corrected", "sample", field="run_s", new=..., reason="left_out"),
        do("voided", "sample", reason="pump_fault"),
    ),
)  # fmt: skip
def no_air(case: Case) -> Iterator[Hit]:
    """The run lasted no second, or both readings were zero.

    Cured by saying what it is, so nobody may except it.
    """
    for form, sample in case.air():
        body = sample.taken
        if body.kind != "blank" and (body.run_s == 0 or body.mean_flow == 0):
            why = "ran 0 s" if body.run_s == 0 else "{was} run at 0 L/min"
            said = f"{{these}} {why}, not recorded as a field blank: no air was drawn."
            yield shared(form, sample, said)


@rule(
    "BD-05", "Duplicate without its parent sample", "warn", "media", "common practice, no source",
    advice(
        "Record of which sample of this visit it is the duplicate.",
        do("corrected", "sample", field="duplicate_of", new=..., reason="left_out"),
    ),
)  # fmt: skip
def no_parent(case: Case) -> Iterator[Hit]:
    """Called a duplicate without naming a live sample of the same visit."""
    for form, sample in case.air():
        body = sample.taken
        if (body.duplicate or body.duplicate_of) and _parent(form, sample) is None:
            of = (
                f"of {grouped(body.duplicate_of)}, which is not a sample of this visit"
                if body.duplicate_of
                else "and its parent sample is not on record"
            )
            yield Hit.on(sample, f"{grouped(sample.number)} is recorded as a duplicate {of}.")


@rule(
    "BD-06", "Side-by-side duplicates not started together", "warn", "media",
    "EPA Region 6, custody guidelines for air canisters (note when two co-located samplers were not in step)",
    advice(
        "Nothing to fix if the times are right: it is printed on the custody record. Correct a wrong time.",
        do("corrected", "sample", field="started", new=..., reason="clock"),
    ),
)  # fmt: skip
def out_of_step(case: Case) -> Iterator[Hit]:
    """A side-by-side duplicate began strictly more seconds before or after its parent than the limit."""
    for form, sample, parent in _duplicates(case):
        apart, limit = _starts_apart(sample, parent), case.policy(form).side_by_side_s
        if _side_by_side(sample, parent) and apart > timedelta(seconds=limit):
            yield Hit.on(
                sample,
                f"{grouped(sample.number)} and {grouped(parent.number)} were collected side by side and"
                f" started {apart.total_seconds():.0f} s apart; the limit is at most {limit} s.",
                by=("side_by_side_s",),
            )


@rule(
    "BD-07", "Consecutive duplicate started early", "note", "media",
    "Health Canada, guidance on culturable fungi in air (1 to 2 h between duplicates)",
    "Nothing to fix: it is printed on the custody record.",
)  # fmt: skip
def soon_after(case: Case) -> Iterator[Hit]:
    """A duplicate taken one after the other began fewer hours from its parent than wanted, the limit being
    enough.
    """
    for form, sample, parent in _duplicates(case):
        apart, wanted = _starts_apart(sample, parent), case.policy(form).consecutive_h
        if not _side_by_side(sample, parent) and hours(apart) < wanted:
            yield Hit.on(
                sample,
                f"{grouped(sample.number)} and its duplicate {grouped(parent.number)} started"
                f" {duration_words(apart)} apart; the policy asks for at least {wanted} h.",
                by=("consecutive_h",),
            )


@rule(
    "BD-08",
    "The laboratory sees which cassette is the blank",
    "note",
    "media",
    "literature on blind quality control",
    advice(
        "The sample custodian prints a blind copy, gives that to the analyst, and signs it. Otherwise the"
        " laboratory states this with the result of the blank.",
        do("copied", "form", of="blind", version=...),
    ),
)
def not_blind(case: Case) -> Iterator[Hit]:
    """The firm wants blind blanks, and the kind of this one stands where the laboratory reads it.

    Silent where the newest copy that a laboratory gave its people is a blind one.
    """
    for form, sample in case.air():
        is_blank = sample.taken.kind == "blank" and case.policy(form).blind_blanks
        if is_blank and not _given_blind(form):
            said = f"{grouped(sample.number)} is recorded as a field blank where the laboratory can read it."
            yield Hit.on(sample, said, by=("blind_blanks",))


def _given_blind(form: Form) -> bool:
    """Whether the newest copy of the form that one of its laboratories gave out, results aside, is blind."""
    copies = (said.of(Copied) for said in form.copies if said.entry.org in form.laboratories)
    return [body.of for body in copies if body.of != "result"][-1:] == ["blind"]


def _parent(form: Form, sample: Sample) -> Sample | None:
    parent = form.samples.get(sample.taken.duplicate_of or "")
    is_one = parent and parent is not sample and parent.claims and parent.kind and not parent.void
    return parent if is_one else None


def _duplicates(case: Case) -> Iterator[tuple[Form, Sample, Sample]]:
    for form, sample in case.air():
        parent = _parent(form, sample)
        if parent:
            yield form, sample, parent


def _side_by_side(sample: Sample, parent: Sample) -> bool:
    if sample.taken.duplicate:
        return sample.taken.duplicate == "side_by_side"
    first, second = sorted((sample, parent), key=lambda each: each.taken.started.instant)
    return second.taken.started.instant < first.taken.started.instant + timedelta(seconds=first.taken.run_s)


def _starts_apart(sample: Sample, parent: Sample) -> timedelta:
    return abs(sample.taken.started.instant - parent.taken.started.instant)
