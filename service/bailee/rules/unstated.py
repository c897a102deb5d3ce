"""What was left empty and no finding asks for: it stands under *not checked*, so that silence is no answer.

Each of these is compared by a rule once it is stated, and left alone until then. What a rule itself misses
(VP-05, VP-13, SL-13, OC-15, PV-17, …) is a finding and is not said here again. No hours of cleaning, works or
air cleaners may mean that there was none of it: `null` says both.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from bailee.domain.acts.form import Collected, Opened, Preparation
from bailee.domain.custody import Form
from bailee.domain.numbers import grouped
from bailee.domain.policy import Policy
from bailee.rules.case import Case
from bailee.rules.registry import Area
from bailee.rules.wording import listed, samples, start

_HOURS: Final = {
    "windows_closed_h": "windows and doors closed",
    "purifiers_off_h": "air cleaners off",
    "cleaned_h_ago": "cleaning",
    "works_h_ago": "painting, demolition or construction",
}
_OF_A_VISIT: Final = {
    "notice_sent": "when the preparation notice was sent",
    "kit": "cassettes in the kit",
    "visible_growth": "visible growth",
    "remediator": "whether the firm is the remediator too",
}
_AREA: Final = "complaint area or not"
_NEAR: Final = "what was near the inlet"
_OF_A_SAMPLE: Final[tuple[tuple[Area, str, Callable[[Collected], bool]], ...]] = (
    ("media", _AREA, lambda body: body.kind == "indoor" and body.area is None),
    ("media", "kind of space", lambda body: body.kind == "indoor" and not (body.space or _is_a_space(body))),
    ("media", _NEAR, lambda body: body.kind == "indoor" and not body.near),
    ("media", "dust", lambda body: body.kind != "blank" and body.dust is None),
    ("media", "pump", lambda body: body.kind != "blank" and body.pump is None),
    ("comparison", "snow on the ground", lambda body: _silent_of_weather(body, "snow_cover")),
    ("comparison", "mowing nearby", lambda body: _silent_of_weather(body, "mowing")),
)  # fmt: skip
"""By verdict: words, and whether a sample that needs it lacks it. An outdoor control without anything near
is OC-05, one without any weather OC-07."""


def unstated(case: Case, area: Area) -> Iterator[str]:
    """What nobody stated that this verdict would have compared, a sentence for all that lack the same."""
    if area == "media":
        yield from _of_visits(case)
    lacking: dict[tuple[str, ...], list[str]] = {}
    for where, what, lacks in _OF_A_SAMPLE:
        if where == area and (found := tuple(_lacking(case, what, lacks))):
            lacking.setdefault(found, []).append(what)
    live = sum(len(live) for _, live in case.air_visits())
    for numbers, whats in lacking.items():
        who = f"All {live} samples" if 1 < len(numbers) == live else start(samples(numbers))
        yield f"{who}, not stated: {listed(whats)}."


def labels_unstated(case: Case) -> bool:
    """Whether a label may be printed twice or on a cover, as no entry says of it how it is."""
    return any(None in (sample.taken.label_on, sample.taken.label_prints) for _, sample in case.air())


def air_unstated(case: Case) -> bool:
    """Whether a flow may have to be corrected (PV-07) for an air of which something is not on record."""
    return any(
        body.mean_flow is not None
        and not body.flow_corrected
        and None in (body.temperature_c, body.pressure_hpa)
        for body in (sample.taken for _, sample in case.air())
    )


def _lacking(case: Case, what: str, lacks: Callable[[Collected], bool]) -> Iterator[str]:
    for form, live in case.air_visits():
        if what == _AREA and _is_sl_03(form, case.policy(form)):
            continue
        asked = (sample for sample in live if not (what == _NEAR and sample.cavity))
        yield from (sample.number for sample in asked if lacks(sample.taken))


def _of_visits(case: Case) -> Iterator[str]:
    for form in case.forms.values():
        opened, policy = form.opened.of(Opened), case.policy(form)
        which = f", form {grouped(form.number)}" if len(case.forms) > 1 else ""
        if hours := list(_hours(opened.preparation, policy)):
            yield f"Preparation{which}: no hours on record for {listed(hours)} (none, or not known)."
        empty = [what for name, what in _OF_A_VISIT.items() if getattr(opened, name) is None]
        if opened.preparation and not policy.fresh_air_off and opened.preparation.fresh_air is None:
            empty.append("fresh air drawn in")
        if empty:
            yield f"Visit{which}, not stated: {listed(empty)}."


def _hours(answers: Preparation | None, policy: Policy) -> Iterator[str]:
    """That nothing at all was stated is VP-05, as is fresh air where the policy asks for it."""
    if answers:
        yield from (what for name, what in _HOURS.items() if getattr(answers, name) is None)
        if not policy.fresh_air_off and answers.fresh_air == "off" and answers.fresh_air_off_h is None:
            yield "fresh air off"


def _is_sl_03(form: Form, policy: Policy) -> bool:
    """Whether SL-03 says itself that no indoor sample has an area."""
    indoor = [sample.taken for sample in form.air if sample.kind == "indoor"]
    return policy.min_reference > 0 and not any(body.area for body in indoor)


def _is_a_space(body: Collected) -> bool:
    """A room tells what space it is, unless it is some other room."""
    return body.room not in (None, "other")


def _silent_of_weather(body: Collected, name: str) -> bool:
    return body.kind == "outdoor" and body.weather is not None and name not in body.weather.given
