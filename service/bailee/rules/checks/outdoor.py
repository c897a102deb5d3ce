"""The outdoor control: indoor air means nothing without the air it is compared with.

Rules:
1. An envelope is ready only if the outdoor control of every visit in it is *seen*: live, claimed once, and
   among the scanned samples, or already on its way in another envelope.
2. Each visit needs its own, however many visits share an envelope.
3. Real minutes are compared, whatever the calendar says: midnight separates nothing.
4. Whoever is on site says that none is possible, and a second person allows it. Then the comparison is
   void, and that is printed.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from bailee.domain import pairing
from bailee.domain.acts.form import (
    BuildingChanged,
    Collected,
    ConditionsRead,
    Excepted,
    Opened,
    OutdoorRuledOut,
    Sealed,
    Shipped,
    Voided,
    Witnessed,
)
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.custody import Form, Said, Sample
from bailee.domain.moments import duration_words
from bailee.domain.numbers import grouped
from bailee.domain.policy import Policy
from bailee.rules import registry
from bailee.rules.case import GONE, Case
from bailee.rules.checks.comparison import lost
from bailee.rules.checks.location import MISREAD_HEIGHT, heights, length
from bailee.rules.registry import Hit, rule, shared
from bailee.rules.remedies import (
    NOTHING_MORE,
    Remedy,
    advice,
    before_it_left,
    do,
    for_all,
    on_site,
    scanned_into_closed,
)
from bailee.rules.wording import day, listed, printed

_LOST: Final = frozenset({"missing", "rejected"})
_WRONG_TIME: Final = advice(
    "Correct a time that is wrong.", do("corrected", "sample", field="started", new=..., reason="clock")
)
_MISREAD_DISTANCE: Final = advice(
    "Correct a distance that was misread.",
    do("corrected", "sample", field="distance_m", new=..., reason="misread"),
)


@rule(
    "OC-01", "No outdoor control", "block", "comparison",
    "NIOSH Method 0800, by analogy (complaint, non-complaint and outdoor sites); common practice",
    on_site(
        "Still on site: if it is safe outdoors, collect an outdoor control. If none is possible, record "
        "why before you leave.",
        do("collected", "form", kind="outdoor"),
        do("outdoor_ruled_out", "form", reason=...),
    )
    + before_it_left(
        "If one was collected, send what the device that collected it has signed, and relinquish it with the "
        "others.",
        do("send_waiting"),
        roles=("inspector",),
    ),
    may_be_excepted=True,
    reasons=("outdoor_impossible",),
    afterwards=(
        "None can be collected any more: no outdoor comparison, unless the control is on its way and arrives."
    ),
)  # fmt: skip
def no_outdoor(case: Case) -> Iterator[Hit]:
    """A visit has indoor samples in question and fewer outdoor controls seen than wanted: rule 1 above.

    Of controls that were lost after they had left, and of nothing else, OC-11 speaks alone.
    """
    for form, in_question in case.air_visits():
        indoor = [sample for sample in in_question if sample.kind == "indoor" and _leaving(case, sample)]
        wanted = case.policy(form).min_outdoor
        outdoor = [s for s in form.samples.values() if s.claims and s.kind == "outdoor"]
        troubles = [_trouble(case, form, sample, indoor) for sample in outdoor]
        seen = troubles.count("")
        left = sum(bool(lost(sample)) for sample, trouble in zip(outdoor, troubles, strict=True) if trouble)
        if indoor and seen + left < wanted:
            lack = f"{seen} of {wanted} outdoor controls" if seen or left else "no outdoor control"
            why = " ".join(trouble for trouble in troubles if trouble) or "None is on record here."
            if seen and not any(troubles):
                why = "No other is on record here."
            elif left:
                why += " No other is on record here."
            yield Hit(
                form.number,
                f"Form {grouped(form.number)} has {lack}. {why} Indoor samples without one:"
                f" {printed(sample.number for sample in indoor)}.",
                "flag" if all(sample.status in GONE for sample in indoor) else None,
                by=("min_outdoor",),
                remedy=next(filter(None, (_fetched(case, each, indoor) for each in outdoor)), None),
            )


def _fetched(case: Case, outdoor: Sample, indoor: list[Sample]) -> Remedy | None:
    """What brings an outdoor control that is here to the indoor samples; None where its trouble is another,
    or where nothing can be put in any more.
    """
    is_here = not (outdoor.void or len(outdoor.claims) > 1 or outdoor.status in GONE | _LOST)
    if not is_here or _with(case, outdoor, indoor) or all(each.status in GONE for each in indoor):
        return None
    if outdoor.status == "sealed":
        return advice("Ship the envelope with the outdoor control first.", do("shipped", envelope=...))
    if case.draft(Sealed):
        return advice("Scan the outdoor control into this envelope.", do("sealed", "envelope"))
    return scanned_into_closed("so the laboratory gets the set together")


@rule(
    "OC-02", "Outdoor control too far apart in time", "block", "comparison", "common practice, no source",
    on_site(
        "Still on site: collect an outdoor control beside this sample.",
        do("collected", "form", kind="outdoor"),
    )
    + _WRONG_TIME,
    may_be_excepted=True,
    afterwards=for_all("It cannot be collected again: this sample is reported without a comparison.")
    + _WRONG_TIME,
)  # fmt: skip
def too_far_apart(case: Case) -> Iterator[Hit]:
    """The nearest outdoor control began too long before or after the indoor sample to be a comparison."""
    for form, indoor, nearest, apart in _pairs(case):
        policy, far = case.policy(form), _far(case.policy(form))
        if apart > far:
            yield Hit.on(
                indoor,
                f"{_dated(form, indoor)} and the nearest outdoor control {_dated(form, nearest)} started"
                f" {duration_words(apart)} apart; the limit is at most {duration_words(far)}.",
                None if policy.outdoor_gap_block else "warn",
                by=("outdoor_far_min", "outdoor_gap_block"),
            )


@rule(
    "OC-03", "Outdoor control not close in time", "warn", "comparison", "common practice, no source",
    on_site(
        "Still on site: collect a second outdoor control nearer in time. Otherwise there is nothing to "
        "fix: it is printed on the custody record.",
        do("collected", "form", kind="outdoor"),
    ),
    afterwards="Nothing to fix any more: it is printed on the custody record.",
)  # fmt: skip
def far_apart(case: Case) -> Iterator[Hit]:
    """The nearest outdoor control began more than the wanted minutes before or after the indoor sample.

    Of one that is too far apart OC-02 speaks alone.
    """
    for form, indoor, nearest, apart in _pairs(case):
        limit = case.policy(form).outdoor_gap_min
        if timedelta(minutes=limit) < apart <= _far(case.policy(form)):
            yield Hit.on(
                indoor,
                f"{grouped(indoor.number)} and its outdoor control {grouped(nearest.number)} started"
                f" {duration_words(apart)} apart; the limit is at most {limit} min.",
                by=("outdoor_gap_min",),
            )


@rule(
    "OC-04", "Outdoor control near a building", "warn", "comparison", "common practice, no source",
    on_site(
        "Still on site: collect the outdoor control again in the open.",
        do("collected", "form", kind="outdoor"),
    )
    + _MISREAD_DISTANCE,
    afterwards=NOTHING_MORE
    + _MISREAD_DISTANCE,
)  # fmt: skip
def near_building(case: Case) -> Iterator[Hit]:
    """Nearer to a structure than wanted, the limit itself being enough; not measured is left alone."""
    for form, sample in _outdoor(case):
        policy, distance = case.policy(form), sample.taken.distance_m
        if distance is not None and distance < policy.outdoor_distance_m - policy.length_tolerance_m:
            yield Hit.on(
                sample,
                f"Outdoor control {grouped(sample.number)} was {length(distance)} from a building; the policy"
                f" asks for at least {length(policy.outdoor_distance_m)}.",
                by=("outdoor_distance_m", "length_tolerance_m"),
            )


@rule(
    "OC-06", "Outdoor inlet height outside limits", "warn", "comparison", "common practice, no source",
    on_site(
        "Still on site: collect it again at the height of the indoor samples.",
        do("collected", "form", kind="outdoor"),
    )
    + MISREAD_HEIGHT,
    afterwards=NOTHING_MORE
    + MISREAD_HEIGHT,
)  # fmt: skip
def height_outdoors(case: Case) -> Iterator[Hit]:
    """The inlet of an outdoor sample below or above the wanted heights, both included."""
    return heights(case, "outdoor", "above the ground")


@rule(
    "OC-07", "Weather not recorded", "warn", "comparison", "field lists of county-filed sampling plans",
    advice(
        "Record sky and wind during the run.",
        do("corrected", "sample", field="weather.sky", new=..., reason="left_out"),
        do("corrected", "sample", field="weather.wind", new=..., reason="left_out"),
    ),
)  # fmt: skip
def no_weather(case: Case) -> Iterator[Hit]:
    """An outdoor control without the weather of its run."""
    for form, sample in _outdoor(case):
        if sample.taken.weather is None:
            yield shared(form, sample, "No weather on record for outdoor control {these}.")


@rule(
    "OC-08", "Unusual weather", "warn", "comparison", "common practice, no source",
    on_site(
        "Still on site: collect another outdoor control once it is safe and the weather has passed. "
        "Otherwise there is nothing to fix: it is printed on the custody record.",
        do("collected", "form", kind="outdoor"),
    ),
    afterwards="Nothing to fix any more: it is printed on the custody record.",
)  # fmt: skip
def unusual_weather(case: Case) -> Iterator[Hit]:
    """Rain, fog or snow falling, snow on the ground, strong wind, or mowing nearby during the outdoor
    control.
    """
    for _, sample in _outdoor(case):
        weather = sample.taken.weather
        if weather:
            signs = {
                weather.sky: weather.sky in ("rain", "fog", "snow"),
                "snow cover": weather.snow_cover,
                "strong wind": weather.wind == "strong",
                "mowing": weather.mowing,
            }
            told = [sign for sign, there in signs.items() if there]
            if told:
                yield Hit.on(
                    sample,
                    f"Unusual weather during outdoor control {grouped(sample.number)}: {listed(told)}.",
                )


@rule(
    "OC-10", "Outdoor control of another visit", "block", "comparison", "derived",
    advice(
        "Find out for which visit it was collected. Void it on the wrong form, or correct its number or "
        "its parent.",
        do("voided", "sample", form=..., reason="wrong_place"),
        do("corrected", "sample", field="sample", new=..., reason="wrong_item"),
        do("corrected", "sample", field="duplicate_of", new=..., reason="wrong_item"),
    ),
)  # fmt: skip
def other_visit(case: Case) -> Iterator[Hit]:
    """An outdoor control that belongs elsewhere.

    It is claimed on another form too; or a duplicate of a sample that is not on its form; or alone on its
    form, in an envelope where another visit lacks one (it was entered on the wrong form).
    """
    lacking = [hit.about for hit in no_outdoor(case)] if case.draft(Sealed) else []
    for form, sample in _outdoor(case):
        parent, others = sample.taken.duplicate_of, case.also_on(form, sample.number)
        alone = form.number in case.once(_without_indoor)
        if others:
            why = f"was also recorded on form {printed(others)}"
        elif parent and parent not in form.samples:
            why = f"is recorded as a duplicate of {grouped(parent)}, which is not a sample of this visit"
        elif alone and lacking:
            why = (
                f"is on form {grouped(form.number)}, which has no indoor samples, and does not count for"
                " form "
            )
            why += printed(lacking)
        else:
            continue
        yield Hit.on(sample, f"Outdoor control {grouped(sample.number)} {why}.")


@rule(
    "OC-12", "No outdoor control, allowed by exception", "warn", "comparison", "common practice, no source",
    for_all("The laboratory states this with every result of the visit."),
)  # fmt: skip
def impossible(case: Case) -> Iterator[Hit]:
    """What an exception to OC-01 costs, said as its own finding so that it is printed."""
    for hit in no_outdoor(case):
        for said in registry.exceptions(case, registry.RULES["OC-01"], hit):
            who = case.person(said.entry.org, said.entry.kid)
            yield Hit(
                hit.about,
                f"No outdoor comparison for form {grouped(hit.about)}: {who} recorded that an outdoor control"
                " was impossible.",
                entries=(said.entry.n,),
            )
            break


@rule(
    "OC-16", "No outdoor control, no reason from a person on site", "block", "comparison",
    "common practice, no source",
    for_all(
        "A person on site records why none is possible; then the second person allows it again.",
        do("outdoor_ruled_out", "form", reason=...),
        do("excepted", "about", rule="OC-01", reason="outdoor_impossible"),
    ),
    afterwards=for_all(
        "The person who was on site records, as a late entry, why none was possible; then the second "
        "person allows it again.",
        do("outdoor_ruled_out", "form", reason=..., at=...),
        do("excepted", "about", rule="OC-01", reason="outdoor_impossible"),
    ),
)  # fmt: skip
def nobody_on_site(case: Case) -> Iterator[Hit]:
    """OC-01 was allowed by somebody who signed nothing on site, and not after another person had ruled an
    outdoor control out.
    """
    for hit in no_outdoor(case):
        allowed = list(registry.exceptions(case, registry.RULES["OC-01"], hit))
        for form in case.about(hit.about) if allowed else ():
            impossible = [said for said in form.exceptions if _is_impossible(said, hit.about)]
            barred = {said.entry.kid for said in impossible} - {said.entry.kid for said in allowed}
            standing = (said for said in impossible if said.entry.kid not in barred)
            if not any(_knows(form, said) for said in standing):
                first = allowed[0].entry
                who = case.person(first.org, first.kid)
                said = (
                    f"{who} allowed OC-01 for visit {grouped(hit.about)}; no entry of a person on site gives"
                    " a reason."
                )
                yield Hit(hit.about, said, entries=(first.n,))


def _is_impossible(said: Said, about: str) -> bool:
    body = said.of(Excepted)
    return (body.rule, body.about, body.reason) == ("OC-01", about, "outdoor_impossible")


def _knows(form: Form, said: Said) -> bool:
    """Whether whoever allows it was on site, or goes by the word of another person of the firm, given before,
    who was.

    Who watched something else, a packing or a shipment, has not seen the site.
    """
    firm = form.opened.of(Opened).parties.firm
    before = form.ordered[: form.ordered.index(said.entry)]
    there = {
        entry.digest: entry.named
        for entry in form.ordered
        if isinstance(entry.body, ON_SITE) and entry.org == firm
    }
    own = (entry for entry in form.ordered if form.same(entry.kid, said.entry.kid))
    others = (entry for entry in before if entry.org == firm and not form.same(entry.kid, said.entry.kid))
    was_there = any(
        entry.digest in there
        or (isinstance(seen := entry.body, Witnessed) and any(seen.saw(*each) for each in there.items()))
        for entry in own
    )
    return was_there or any(isinstance(entry.body, OutdoorRuledOut) for entry in others)


ON_SITE: Final = (Collected, SurfaceCollected, OutdoorRuledOut, ConditionsRead, BuildingChanged)
"""Acts that are signed where the samples are collected; a pump is checked in the office too."""


def _without_indoor(case: Case) -> set[str]:
    """Forms on which nobody collected an indoor sample."""
    return {
        form.number
        for form in case.forms.values()
        if not any(each.claims and each.kind == "indoor" for each in form.samples.values())
    }


def _trouble(case: Case, form: Form, outdoor: Sample, indoor: list[Sample]) -> str:
    """Why this outdoor control does not count, in a sentence; empty when it is seen."""
    name, why = grouped(outdoor.number), ""
    if outdoor.void:
        why = lost(outdoor) or f"was voided ({outdoor.void.of(Voided).reason.replace('_', ' ')})"
    elif len(outdoor.claims) > 1 or case.also_on(form, outdoor.number):
        why = "has more than one collection entry"
    elif outdoor.status in _LOST:
        why = lost(outdoor) or f"is {outdoor.status}"
    elif outdoor.status not in GONE and not _with(case, outdoor, indoor):
        why = _left_behind(case, outdoor)
    return f"{name} {why}." if why else ""


def _left_behind(case: Case, outdoor: Sample) -> str:
    if outdoor.status == "sealed":
        return f"is in envelope {grouped(outdoor.envelope or '')}, which is not shipped: ship that one first"
    if case.inside is not None:
        return "is on record and is not in this envelope: scan it in"
    return "is on record and is not on the manifest with the indoor samples"


def _with(case: Case, outdoor: Sample, indoor: list[Sample]) -> bool:
    """Whether an outdoor control in the building goes where the indoor samples go, or at least stays with
    them.
    """
    if closing := case.draft(Sealed):
        return outdoor.number in closing.body.samples
    if leaving := case.draft(Shipped):
        return outdoor.envelope == leaving.body.envelope
    return all(_progress(outdoor) >= _progress(sample) for sample in indoor)


def _progress(sample: Sample) -> int:
    return 2 if sample.status in GONE else int(sample.status == "sealed")


def _leaving(case: Case, indoor: Sample) -> bool:
    """While an envelope is handed over, only what lies in it is in question."""
    leaving = case.draft(Shipped)
    return leaving is None or indoor.envelope == leaving.body.envelope


def _outdoor(case: Case) -> Iterator[tuple[Form, Sample]]:
    return ((form, sample) for form, sample in case.air() if sample.taken.kind == "outdoor")


def _pairs(case: Case) -> Iterator[tuple[Form, Sample, Sample, timedelta]]:
    """Indoor samples in question, each with its nearest outdoor control, if any, and how far apart they
    began.
    """
    for form, in_question in case.air_visits():
        asked = {sample.number for sample in in_question}
        for pair in pairing.pairs(form):
            if pair.outdoor and pair.apart is not None and pair.indoor.number in asked:
                yield form, pair.indoor, pair.outdoor, pair.apart


def _far(policy: Policy) -> timedelta:
    """From when on a control is no comparison: never sooner than it is warned of."""
    return timedelta(minutes=max(policy.outdoor_far_min, policy.outdoor_gap_min))


def _dated(form: Form, sample: Sample) -> str:
    return f"{grouped(sample.number)} ({day(form.day_of(sample.taken.started))})"
