"""The window of a hand-over asked about by itself, before there is an envelope: what SH-01 to SH-05 and SH-12
would say.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from bailee.domain.moments import Moment
from bailee.domain.opening_hours.delivery_window import DeliveryPlan, Route
from bailee.domain.policy import Policy
from bailee.rules import transit
from bailee.rules.registry import RULES, Finding, Severity

_NAME: Final = "the envelope"
_LAB: Final = "the laboratory"


def of_a_window(at: Moment, plan: DeliveryPlan, route: Route, oldest: Moment | None) -> Iterator[Finding]:
    """What speaks against a hand-over at `at`; the hold is judged when `oldest`, start of the oldest run, is
    told.
    """
    said: list[tuple[str, str, Severity | None]] = [
        ("SH-01", transit.dock_shut(_NAME, _LAB, plan, route), None),
        ("SH-03", transit.after_cutoff(_NAME, at, plan, route), None),
        ("SH-04", transit.days_off(_NAME, plan), None),
        ("SH-05", transit.saturday_for_nothing(_NAME, _LAB, plan, route), None),
        ("SH-12", transit.unlisted_years(_NAME, plan), None),
    ]
    if oldest:
        said += list(_too_old(oldest, plan))[:1]
    for number, sentence, severity in said:
        if sentence:
            each = RULES[number]
            yield Finding(
                number,
                severity or each.severity,
                each.area,
                "",
                sentence,
                each.remedy.words,
                acts=each.remedy.acts({}),
            )


def _too_old(oldest: Moment, plan: DeliveryPlan) -> Iterator[tuple[str, str, Severity | None]]:
    policy = Policy()
    limits: tuple[tuple[Severity, Decimal], ...] = (
        ("block", policy.hold_block_h),
        ("warn", policy.hold_warn_h),
    )
    for severity, limit in limits:
        if sentence := transit.too_old(_NAME, oldest, plan.received, limit, is_past=False):
            yield "SH-02", sentence, severity
