"""One run of a pump in figures: mean flow, drift, volume, detection limit. Nothing is rounded here.

The source of the 5 % and 10 % that rules compare the drift with is county-filed air sampling plans; ±5 % of
the nominal flow is common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from bailee.domain import measures
from bailee.domain.fields import decimal_of
from bailee.errors import Malformed
from bailee.frozen import frozen

FRACTIONS: Final = (Decimal(1), Decimal("0.5"), Decimal("0.25"), Decimal("0.15"))
"""Parts of a trace that laboratories commonly read (common practice, no source)."""

NOMINAL_L_MIN: Final = Decimal(15)
"""What most slit cassettes are made for (common practice, no source); the lot says what counts."""

LONGEST_RUN_S: Final = 86_400


@frozen
class Flow:
    """Flows read before and after a run, L/min, and its actual seconds.

    No reading at all is a field blank: no air.
    """

    before: Decimal | None
    after: Decimal | None
    run_s: int
    nominal: Decimal = NOMINAL_L_MIN

    @property
    def readings(self) -> dict[str, Decimal]:
        """What was read, by when."""
        both = {"before": self.before, "after": self.after}
        return {when: flow for when, flow in both.items() if flow is not None}

    @property
    def mean(self) -> Decimal | None:
        """Mean of the readings, L/min; the one reading when there is only one; None for a blank."""
        flows = list(self.readings.values())
        return measures.mean_flow(flows[0], flows[-1]) if flows else None

    @property
    def volume_l(self) -> Decimal | None:
        """Liters drawn; None for a blank."""
        return measures.volume_liters(self.mean, Decimal(self.run_s)) if self.mean is not None else None

    @property
    def drift_pct(self) -> Decimal | None:
        """Signed change in percent of the reading before.

        None unless both were read and the first is above zero.
        """
        if self.before is None or self.after is None or self.before == 0:
            return None
        return measures.drift_percent(self.before, self.after)

    def drifted_beyond(self, limit_pct: Decimal) -> bool:
        """Whether the flow changed by strictly more than so many percent.

        A pump that started from nothing did.
        """
        if self.before is None or self.after is None:
            return False
        return abs(self.after - self.before) * 100 > limit_pct * self.before

    def range_of(self, tolerance_pct: Decimal) -> tuple[Decimal, Decimal]:
        """The lowest and the highest flow that lie within the tolerance of the nominal
        flow, both included.
        """
        slack = self.nominal * tolerance_pct / 100
        return self.nominal - slack, self.nominal + slack

    def limit(self, fraction: Decimal) -> Decimal | None:
        """What one counted structure stands for, fs/m³, when this part of the trace is read; None where no
        air was drawn.

        Raises `Malformed` unless the part is above 0 and at most 1.
        """
        return measures.detection_limit(self.volume_l or Decimal(0), fraction)


def read(before: str | None, after: str | None, run_s: int, nominal: str | None = None) -> Flow:
    """A run as people type it.

    Raises `Malformed` for what is no decimal number, lies below zero, or runs longer than a day.
    """
    flows = [None if text is None else decimal(text, "flow", "15.0") for text in (before, after)]
    made = NOMINAL_L_MIN if nominal is None else decimal(nominal, "nominal flow", "15.0")
    if any(flow is not None and flow < 0 for flow in (*flows, made)):
        raise Malformed("Read the flow again: it cannot be below zero.", code="bad-measure")
    if not 0 <= run_s <= LONGEST_RUN_S:
        raise Malformed(f"Check the run time: it lies between 0 and {LONGEST_RUN_S} s.", code="bad-measure")
    return Flow(flows[0], flows[1], run_s, made)


def read_fraction(text: str) -> Decimal:
    """The part of a trace that is read: `0.25` or `25 %`.

    Raises `Malformed` unless it is above 0 and at most 1.
    """
    share = text.strip().removesuffix("%")
    found = decimal(share.strip(), "part of the trace", "0.25 or 25 %")
    found = found / 100 if share != text.strip() else found
    if not 0 < found <= 1:
        raise Malformed(
            "Give the part of the trace that was read, above 0 up to 1.", code="bad-measure", fraction=text
        )
    return found


def decimal(text: str, what: str, like: str) -> Decimal:
    """A decimal as people type it.

    Raises `Malformed`, code `bad-measure`, naming what it should have been.
    """
    try:
        return decimal_of(text.strip())
    except Malformed as error:
        raise Malformed(
            f"Write the {what} as a number like {like}: {text!r} is none.", code="bad-measure", text=text
        ) from error
