"""VP, OC: what was around the samples while they were collected: the air as it was read, rain before it, a
building that changed between a sample and its control.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from datetime import timedelta
from typing import Final

from bailee.domain import conditions, pairing
from bailee.domain.acts.form import BuildingChanged, ConditionsRead
from bailee.domain.custody import Form, Said, Sample
from bailee.domain.moments import duration_words
from bailee.domain.numbers import grouped
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule
from bailee.rules.remedies import NOTHING_MORE, advice, do, on_site
from bailee.rules.wording import changed, clock, samples, start

_MISTAKEN: Final = advice(
    "Correct its time if that was mistaken.",
    do("corrected", "form", of="building_changed", field="at", new=..., reason="misread"),
)
_MISREAD_RAIN: Final = advice(
    "Correct the hours if they were misread.",
    do("corrected", "form", of="conditions_read", field="rain_ended_h", new=..., reason="misread"),
)


@rule(
    "VP-15", "Conditions on site not recorded", "note", "media",
    "ISO/IEC 17025:2017 7.3.3(f): environmental conditions during sampling; county-filed air sampling plans",
    advice(
        "Record temperature and humidity, indoors and outdoors, as they were read. Not read: nothing to fix.",
        do("conditions_read", "form", where=...),
    ),
)  # fmt: skip
def conditions_read(case: Case) -> Iterator[Hit]:
    """No reading of the air on the side on which samples were collected, indoors or outdoors."""
    for form, found in case.air_visits():
        read = {said.of(ConditionsRead).where for said in form.conditions}
        needed = {conditions.WHERE.get(sample.taken.kind) for sample in found} - {None}
        lacking = sorted(str(where) for where in needed - read)
        if lacking:
            said = f"No temperature, humidity or pressure {' or '.join(lacking)} is on record for the visit."
            yield Hit(form.number, said)


@rule(
    "OC-17", "Rain shortly before outdoor control", "warn", "comparison", "common practice, no source",
    on_site(
        "Still on site: collect another outdoor control once it has been dry for long enough.",
        do("collected", "form", kind="outdoor"),
    )
    + _MISREAD_RAIN,
    afterwards=NOTHING_MORE + _MISREAD_RAIN,
)  # fmt: skip
def after_rain(case: Case) -> Iterator[Hit]:
    """Rain had ended fewer hours before the outdoor control began than wanted, the limit itself being enough.

    Rain that fell during it is OC-08.
    """
    for form, found in case.air_visits():
        wanted, ends = case.policy(form).rain_h, conditions.rain_ends(form)
        for sample in found:
            is_control = sample.taken.kind == "outdoor"
            dry = conditions.last_rain(ends, sample.taken.started.instant) if is_control else None
            if dry and dry[0] < timedelta(hours=float(wanted)):
                said = (
                    f"Rain ended {duration_words(dry[0])} before outdoor control {grouped(sample.number)}"
                    f" started; the policy asks for at least {wanted} h."
                )
                entries = (*(claim.entry.n for claim in sample.claims), dry[1].entry.n)
                yield Hit(sample.number, said, entries=entries, by=("rain_h",))


@rule(
    "OC-18", "Building changed between sample and outdoor control", "warn", "comparison",
    "ISO/IEC 17025:2017 7.3.3(f): environmental conditions during sampling; Health Canada, guidance on"
    " culturable fungi in air (ventilation in operation)",
    on_site(
        "Still on site: once the building is as it was, collect the sample and an outdoor control anew.",
        do("collected", "form", kind="outdoor"),
    )
    + _MISTAKEN,
    afterwards=NOTHING_MORE + _MISTAKEN,
)  # fmt: skip
def building_changed(case: Case) -> Iterator[Hit]:
    """Ventilation, windows, people and the like changed after one of the two began, before the other ended.

    Of each kind the first change is told.
    """
    for form, found in case.air_visits():
        kinds = _by_kind(form)
        asked = {sample.number for sample in found} if kinds else set()
        apart: dict[tuple[str, str], tuple[Said, Sample, list[Sample]]] = {}
        for pair in pairing.pairs(form) if asked else ():
            if pair.outdoor and pair.indoor.number in asked:
                for said in _between(kinds, pair.indoor, pair.outdoor):
                    known = apart.setdefault(
                        (said.entry.digest, pair.outdoor.number), (said, pair.outdoor, [])
                    )
                    known[2].append(pair.indoor)
        for said, control, indoor in apart.values():
            yield _changed(form, said, control, indoor)


def _by_kind(form: Form) -> list[list[Said]]:
    """The changes of each kind, in order."""
    kinds: dict[str, list[Said]] = {}
    for said in sorted(form.changes, key=lambda said: said.of(BuildingChanged).at.instant):
        kinds.setdefault(said.of(BuildingChanged).what, []).append(said)
    return list(kinds.values())


def _between(kinds: Sequence[Sequence[Said]], one: Sample, other: Sample) -> Iterator[Said]:
    first, last = sorted((one, other), key=lambda each: each.taken.started.instant)
    assert last.stopped
    for told in kinds:
        begun = first.taken.started.instant
        place = bisect_right(told, begun, key=lambda said: said.of(BuildingChanged).at.instant)
        if place < len(told) and told[place].of(BuildingChanged).at.instant < last.stopped.instant:
            yield told[place]


def _changed(form: Form, said: Said, control: Sample, indoor: Sequence[Sample]) -> Hit:
    body = said.of(BuildingChanged)
    named = samples([each.number for each in indoor])
    starts = f"{'started' if len(indoor) == 1 else 'first started'} {clock(indoor[0].taken.started)}"
    claims = [claim.entry.n for each in (control, *indoor) for claim in each.claims]
    return Hit(
        form.number,
        f"{start(changed(body))} on {clock(body.at)}, between {named} ({starts}) and the outdoor control"
        f" {grouped(control.number)} (started {clock(control.taken.started)}).",
        entries=(said.entry.n, *claims),
        names=(control.number, *(each.number for each in indoor)),
    )
