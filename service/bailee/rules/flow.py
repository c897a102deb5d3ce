"""What the rules about flow say of one run, whether a sample was taken with it or somebody only asks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from bailee.domain import measures
from bailee.domain.flow import Flow
from bailee.domain.policy import Policy
from bailee.frozen import frozen
from bailee.rules.registry import RULES, Finding

ABOUT = "flow"
"""What such a finding is about when there is no sample."""


@frozen
class Fault:
    """A rule, its sentence, and the threshold that was crossed."""

    rule: str
    sentence: str
    by: str


def faults(run: Flow, policy: Policy, of: str = "") -> Iterator[Fault]:
    """PV-03, and PV-04 or PV-05, for these readings; `of` names the sample inside the sentence, as in ` of S7K3 …`."""
    low, high = run.range_of(policy.flow_tolerance_pct)
    out = [f"{flow} L/min {when}" for when, flow in run.readings.items() if not low <= flow <= high]
    if out:
        wanted = f"{plain(low)} to {plain(high)} L/min are wanted"
        yield Fault(
            "PV-03", f"The flow{of} read {' and '.join(out)} the run; {wanted}.", "flow_tolerance_pct"
        )
    if run.drifted_beyond(policy.drift_block_pct):
        yield Fault("PV-05", _drifted(run, policy.drift_block_pct, of), "drift_block_pct")
    elif run.drifted_beyond(policy.drift_warn_pct):
        yield Fault("PV-04", _drifted(run, policy.drift_warn_pct, of), "drift_warn_pct")


def findings(run: Flow, policy: Policy) -> list[Finding]:
    """The same as findings, before any sample exists."""
    return [
        Finding(rule.id, rule.severity, rule.area, ABOUT, fault.sentence, rule.remedy)
        for fault in faults(run, policy)
        for rule in (RULES[fault.rule],)
    ]


@frozen
class Limit:
    """A detection limit for one part of the trace read: fs/m³ to two decimals, and as reported; None where no air was drawn."""

    fraction: str
    fs_m3: str | None
    reported: str | None


@frozen
class Told:
    """Figures as people read them, rounded half up once, here. None means there is no such figure."""

    mean_l_min: str | None
    mean_cfm: str | None
    drift_pct: str | None
    volume_l: str | None
    volume_ft3: str | None
    limits: tuple[Limit, ...]
    notes: tuple[str, ...]


def told(run: Flow, fractions: Sequence[Decimal]) -> Told:
    """Everything that follows from one run. Raises `Malformed` for a part of the trace that cannot be."""
    return Told(
        mean_l_min=plain(run.mean) if run.mean is not None else None,
        mean_cfm=_text(run.mean, 4, measures.CUBIC_FOOT_IN_LITRES),
        drift_pct=f"{measures.rounded(run.drift_pct, 2):+}" if run.drift_pct is not None else None,
        volume_l=_text(run.volume_l, 2),
        volume_ft3=_text(run.volume_l, 4, measures.CUBIC_FOOT_IN_LITRES),
        limits=tuple(
            Limit(plain(each), _text(run.limit(each), 2), _text(run.limit(each), 0)) for each in fractions
        ),
        notes=tuple(_notes(run)),
    )


def plain(value: Decimal) -> str:
    """A decimal without trailing zeros and without an exponent."""
    return f"{value.normalize():f}"


def _text(value: Decimal | None, places: int, unit: Decimal = Decimal(1)) -> str | None:
    return f"{measures.rounded(value / unit, places):f}" if value is not None else None


def _notes(run: Flow) -> Iterator[str]:
    if not run.readings:
        yield "No flow was read: a field blank draws no air and has no volume; report structures per sample only."
    elif run.volume_l == 0:
        yield "No air was drawn: there is no concentration; report structures per sample only."
    if len(run.readings) == 1:
        yield "Only one flow was read: how far it drifted is not known, and the one reading is used as the mean."
    if run.before == 0 and run.after:
        yield "The flow before the run read 0: its drift has no percentage."


def _drifted(run: Flow, limit_pct: Decimal, of: str) -> str:
    by = f" ({measures.rounded(run.drift_pct, 2):+} %)" if run.drift_pct is not None else ""
    return (
        f"The flow{of} went from {run.before} to {run.after} L/min{by}; more than {limit_pct} % is too much. "
        f"The mean is {run.mean} L/min."
    )
