"""Before the first cassette: a question, a plan, people told in time, a building left alone, a sampler
trained and licensed.

What a firm keeps no list of cannot be looked up: the verdict on sampling then says that it was not checked.

The building on arrival: closed up, purifiers off and normally ventilated for long enough.

An answer of `null` means none, or not known, and is nothing to warn about.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Final

from bailee.domain.acts.form import License, Opened, Preparation
from bailee.domain.custody import Form
from bailee.domain.moments import duration_words, hours
from bailee.domain.organizations import Organization
from bailee.rules.case import Case
from bailee.rules.readers import Step
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import advice, do, off_site, on_site
from bailee.rules.wording import clock, counted, day

_BEFORE_SAMPLING: Final = on_site(
    "Before sampling: call the office; reschedule, or sample and record why. After it there is nothing to "
    "fix: it is printed on the custody record.",
    is_asked_for=False,
) + off_site("Nothing to fix any more: it is printed on the custody record.")


@rule(
    "VP-04", "Cleaning, painting or construction shortly before", "warn", "media",
    "common practice, no source",
    _BEFORE_SAMPLING
    + advice(
        "Correct an answer that is wrong.",
        do("corrected", "form", of="opened", field="preparation.cleaned_h_ago", new=..., reason="misread"),
    ),
)  # fmt: skip
def disturbed(case: Case) -> Iterator[Hit]:
    """Cleaned, painted or torn down fewer hours before than wanted, the limit itself being enough."""
    for form, opened in _opened(case):
        found, wanted = opened.preparation, case.policy(form).undisturbed_h
        if found is None:
            continue
        for what, ago in (
            ("cleaned", found.cleaned_h_ago),
            ("painted or under construction", found.works_h_ago),
        ):
            if ago is not None and ago < wanted:
                yield _hit(
                    form,
                    f"The building had been {what} {ago} h before; the policy asks for at least {wanted} h.",
                    "undisturbed_h",
                )


@rule(
    "VP-06",
    "License not on record, or expired",
    "block",
    "media",
    "16 Tex. Admin. Code 78.100 and laws like it, where they hold; the table of jurisdictions is the"
    " firm's own",
    advice(
        "Add what the license shows: number and expiration date. Or record in which jurisdiction the site is."
        " Your administrator decides under the rules that apply.",
        do("corrected", "form", of="opened", field="license.number", new=..., reason="left_out"),
        do("corrected", "form", of="opened", field="license.valid_to", new=..., reason="left_out"),
        do("corrected", "form", of="opened", field="license.jurisdiction", new=..., reason="left_out"),
    ),
    may_be_excepted=True,
)
def licensed(case: Case) -> Iterator[Hit]:
    """By the firm's table of jurisdictions: one is needed and none was given, or its last good day was before
    the visit.
    """
    for form, opened in _opened(case):
        firm = case.organizations.get(opened.parties.firm)
        needing = firm.licensing if firm else None
        severity, said = _license_fault(opened.license, needing, form.visit)
        if severity == "block" and not case.policy(form).license_block:
            severity = "warn"
        if severity:
            yield Hit(form.number, said, severity, (form.opened.entry.n,), by=("license_block",))


@rule(
    "VP-07",
    "Firm declared as remediator too",
    "warn",
    "media",
    "Texas Occ. Code 1958 and laws like it; common practice",
    advice(
        "Ask your administrator which rules apply, and notify the client in writing. Declared by mistake?"
        " Correct it.",
        do("corrected", "form", of="opened", field="remediator", new=False, reason="misread"),
    ),
)
def remediator(case: Case) -> Iterator[Hit]:
    """Declared when the visit was opened."""
    for form, opened in _opened(case):
        if opened.remediator:
            yield _hit(
                form,
                f"{opened.parties.firm} is declared as sampling firm and as remediator.",
            )


@rule(
    "VP-08", "Inspector not on the firm's training list", "warn", "media",
    "NYC DOHMH 2008 guidelines (trained sampler); 21 CFR 11.10(i), by summary",
    advice(
        "If this person was trained, an administrator enters it. Otherwise the quality role reviews how "
        "these samples were collected.",
        do("trained", kid=..., on=...),
    ),
)  # fmt: skip
def trained(case: Case) -> Iterator[Hit]:
    """No training of the collector counted on the day.

    Asked only of an organization that keeps such a list.
    """
    for form, in_question in case.visits():
        seen: set[str] = set()
        for claim in (claim for sample in in_question for claim in sample.claims):
            organization = case.organizations.get(claim.entry.org)
            if organization is None or not organization.training or claim.entry.kid in seen:
                continue
            seen.add(claim.entry.kid)
            why = _untrained(organization, claim.entry.kid, form.visit)
            if why:
                who = case.person(claim.entry.org, claim.entry.kid)
                yield Hit(form.number, f"{who} collected here and {why}.", entries=(claim.entry.n,))


@rule(
    "VP-09", "Too few cassettes in the kit", "note", "media", "common practice, no source",
    on_site(
        "Before you start, fetch more: one that is dropped cannot be replaced on site.",
        do("check_kit"),
    ),
)  # fmt: skip
def kit(case: Case) -> Iterator[Hit]:
    """Fewer than planned indoors, outdoors and as blanks, with the spares the firm wants."""
    for form, opened in _opened(case):
        if opened.kit:
            carried, planned = (
                opened.kit.cassettes,
                opened.kit.indoor + opened.kit.outdoor + opened.kit.blanks,
            )
            spare = case.policy(form).spare_cassettes
            if carried < planned + spare:
                yield _hit(
                    form,
                    f"{counted(carried, 'cassette')} in the kit for {opened.kit.indoor} indoors,"
                    f" {opened.kit.outdoor} outdoors and {counted(opened.kit.blanks, 'blank')}; with {spare}"
                    f" to spare, the policy asks for at least {planned + spare}.",
                    "spare_cassettes",
                )


@rule(
    "VP-10", "No sampling question or plan on record", "warn", "media",
    "NYC DOHMH 2008 guidelines (a sampling plan with a clear purpose); ASTM D7788-14, scope",
    advice(
        "Record by which plan they were collected, or that the question was written down.",
        do("corrected", "form", of="opened", field="plan", new=..., reason="left_out"),
        do("corrected", "form", of="opened", field="question_given", new=True, reason="left_out"),
    ),
)  # fmt: skip
def purpose(case: Case) -> Iterator[Hit]:
    """Neither a question was written down nor a plan named.

    The question itself is private and may have been erased.
    """
    for form, opened in _opened(case):
        told = opened.question_given or opened.plan or "question" in form.opened.entry.disclosed
        if not told:
            yield _hit(form, "No sampling question or plan is on record for these samples.")


@rule(
    "VP-11", "Visible growth, no reason for air sampling on record", "note", "media",
    "OSHA, NIOSH and EPA statements, by summary: where growth is visible, sampling is usually unnecessary",
    advice(
        "Record why air was sampled (hidden extent, spread, clearance, a dispute, the client's request).",
        do("corrected", "form", of="opened", field="growth_reason", new=..., reason="left_out"),
    ),
)  # fmt: skip
def growth(case: Case) -> Iterator[Hit]:
    """Visible growth was declared without a reason for an air sample."""
    for form, opened in _opened(case):
        if opened.visible_growth and opened.growth_reason is None:
            yield _hit(form, "Visible growth is on record, and no reason for air sampling.")


@rule(
    "VP-12", "Preparation notice sent late", "note", "media", "common practice, no source",
    on_site("Ask the occupants what they could still do, and record the answers found on arrival.")
    + advice(
        "Next time send the page in time.",
        do("write_notice", visit=..., zone=...),
    ),
)  # fmt: skip
def notice(case: Case) -> Iterator[Hit]:
    """Fewer hours than wanted from the notice to the first run (before any run: to the opening).

    The limit is enough.
    """
    for form, opened in _opened(case):
        if opened.notice_sent:
            first = min((each.taken_at for each in form.live), default=None, key=lambda at: at.instant)
            what = "the first run" if first else "the form was opened"
            since = (first or form.opened.entry.at).instant
            ahead, wanted = since - opened.notice_sent.instant, case.policy(form).notice_h
            if hours(ahead) < wanted:
                how = (
                    f"{duration_words(ahead)} before"
                    if hours(ahead) >= 0
                    else f"{duration_words(-ahead)} after"
                )
                yield _hit(
                    form,
                    f"Notice how to prepare sent on {clock(opened.notice_sent)}, {how} {what}; the policy"
                    f" asks for at least {wanted} h.",
                    "notice_h",
                )


def _opened(case: Case) -> Iterator[tuple[Form, Opened]]:
    return ((form, form.opened.of(Opened)) for form, _ in case.visits())


def _license_fault(
    license: License | None, needing: frozenset[str] | None, visit: date
) -> tuple[Severity | None, str]:
    if license is None:
        said = "No jurisdiction of the site on record; the firm's table lists some that need a license."
        return ("warn" if needing else None), said
    where = license.jurisdiction
    if license.number is None:
        said = f"The firm's table lists {where}; no license number is on record."
        if needing is None:
            return (
                "warn",
                f"No license for {where} on record, and the firm has no table of where one is needed.",
            )
        return ("block" if where in needing else None), said
    if license.valid_to and license.valid_to < visit:
        late = counted((visit - license.valid_to).days, "day")
        return (
            "block",
            (
                f"License {license.number} for {where}: expiration date {day(license.valid_to)}, {late}"
                f" before the visit on {day(visit)}."
            ),
        )
    if license.valid_to is None and needing and where in needing:
        return "warn", f"License {license.number} for {where} has no expiration date on record."
    return None, ""


def _untrained(organization: Organization, kid: str, on: date) -> str:
    """Why a person does not count as trained on a day; empty when they do."""
    found = organization.trained(kid, on)
    if found is None:
        later = organization.training.get(kid)
        return (
            f"was first trained on {day(later[0].on)}"
            if later
            else f"is not on the training list of {organization.id}"
        )
    if found.valid_to and found.valid_to < on:
        return f"was trained on {day(found.on)}, valid to {day(found.valid_to)}"
    return ""


def _hit(form: Form, sentence: str, *by: str) -> Hit:
    return Hit(form.number, sentence, entries=(form.opened.entry.n,), by=by)


_VENTILATION: Final = {
    "off": "the ventilation was off",
    "fan_only": "the ventilation ran its fan only",
    "other": "the ventilation was not in its normal mode",
}


@rule(
    "VP-01", "Windows and doors not closed long enough", "warn", "media", "common practice, no source",
    _BEFORE_SAMPLING
    + advice(
        "Correct an answer that is wrong.",
        do("corrected", "form", of="opened", field="preparation.windows_closed_h", new=..., reason="misread"),
    ),
)  # fmt: skip
def windows(case: Case) -> Iterator[Hit]:
    """Windows and doors closed for fewer hours than wanted, the limit itself being enough."""
    for form, found in _answers(case):
        yield from _too_short(case, form, "windows and doors had been closed for", found.windows_closed_h)


@rule(
    "VP-02", "Air cleaners not off long enough", "warn", "media", "common practice, no source",
    _BEFORE_SAMPLING
    + advice(
        "Correct an answer that is wrong.",
        do("corrected", "form", of="opened", field="preparation.purifiers_off_h", new=..., reason="misread"),
    ),
)  # fmt: skip
def purifiers(case: Case) -> Iterator[Hit]:
    """Purifiers and ozone devices off for fewer hours than wanted, the limit itself being enough."""
    for form, found in _answers(case):
        yield from _too_short(case, form, "air cleaners had been off for", found.purifiers_off_h)


@rule(
    "VP-03", "Ventilation not in its normal mode", "warn", "media",
    "Health Canada, guidance on culturable fungi in air (ventilation in operation); common practice",
    _BEFORE_SAMPLING
    + advice(
        "Correct an answer that is wrong.",
        do("corrected", "form", of="opened", field="preparation.ventilation", new=..., reason="misread"),
    ),
)  # fmt: skip
def ventilation(case: Case) -> Iterator[Hit]:
    """Off, fan only, or otherwise unusual. A building without ventilation (`none`) is in its normal state."""
    for form, found in _answers(case):
        if found.ventilation in _VENTILATION:
            yield _hit(form, f"On arrival {_VENTILATION[found.ventilation]}.")


@rule(
    "VP-14", "Fresh air drawn in before the visit", "warn", "media", "common practice, no source",
    _BEFORE_SAMPLING
    + advice(
        "Correct an answer that is wrong.",
        do("corrected", "form", of="opened", field="preparation.fresh_air", new=..., reason="misread"),
        do("corrected", "form", of="opened", field="preparation.fresh_air_off_h", new=..., reason="misread"),
    ),
)  # fmt: skip
def fresh_air(case: Case) -> Iterator[Hit]:
    """An exchanger, a whole-house or an attic fan was running, or off for fewer hours than wanted.

    The limit is enough. Not asked is VP-05.
    """
    for form, found in _answers(case):
        if not case.policy(form).fresh_air_off:
            continue
        if found.fresh_air == "running":
            yield _hit(form, f"On arrival {_FRESH_AIR} was running.", "fresh_air_off")
        yield from _too_short(case, form, f"{_FRESH_AIR} had been off for", found.fresh_air_off_h)


_FRESH_AIR: Final = "a fresh-air exchanger, whole-house or attic fan"


def _answered(field: str) -> Step:
    return do("corrected", "form", of="opened", field=field, new=..., reason="left_out")


@rule(
    "VP-05", "Preparation not recorded", "warn", "media", "ISO/IEC 17025:2017 7.3.3(f)",
    advice(
        "Add what was found on arrival: how long windows were closed and air cleaners off, what the "
        "ventilation did.",
        _answered("preparation.windows_closed_h"),
        _answered("preparation.purifiers_off_h"),
        _answered("preparation.ventilation"),
        _answered("preparation.cleaned_h_ago"),
        _answered("preparation.fresh_air"),
    ),
)  # fmt: skip
def unanswered(case: Case) -> Iterator[Hit]:
    """The visit was opened without saying how the building was found; of fresh air alone a note."""
    for form, _ in case.visits():
        found = form.opened.of(Opened).preparation
        if found is None:
            yield _hit(form, "No entry shows how the building was prepared.")
        elif case.policy(form).fresh_air_off and (said := _unasked(found)):
            yield replace(_hit(form, said, "fresh_air_off"), severity="note", remedy=_ASK_FRESH_AIR)


def _unasked(found: Preparation) -> str:
    """What was not said of fresh air, in a sentence; empty when all of it was."""
    if found.fresh_air is None:
        return f"Whether {_FRESH_AIR} was running is not on record."
    if found.fresh_air == "off" and found.fresh_air_off_h is None:
        return f"For how long {_FRESH_AIR} had been off is not on record."
    return ""


_ASK_FRESH_AIR: Final = advice(
    "Add what was found on arrival.",
    _answered("preparation.fresh_air"),
    _answered("preparation.fresh_air_off_h"),
)


def _answers(case: Case) -> Iterator[tuple[Form, Preparation]]:
    for form, _ in case.visits():
        found = form.opened.of(Opened).preparation
        if found:
            yield form, found


def _too_short(case: Case, form: Form, what: str, hours: Decimal | None) -> Iterator[Hit]:
    wanted = case.policy(form).preparation_h
    if hours is not None and hours < wanted:
        yield _hit(
            form, f"On arrival {what} {hours} h; the policy asks for at least {wanted} h.", "preparation_h"
        )
