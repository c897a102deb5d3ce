"""VP, OC: the air around the samples while they were collected: what was read of it, and rain before it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from bailee.domain import conditions
from bailee.domain.acts.form import ConditionsRead
from bailee.domain.moments import duration_words
from bailee.domain.numbers import grouped
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule
from bailee.rules.remedies import NOTHING_MORE, advice, do, on_site

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
    for form, found in case.visits():
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
    for form, found in case.visits():
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
