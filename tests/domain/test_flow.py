"""A run of a pump in figures.

Oracles: arithmetic, figures of the trade, and exact fractions of the standard library.

5 % and 10 % of drift: county-filed air sampling plans (read). ±5 % of the nominal flow: common practice, no
source.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.domain import flow
from bailee.domain.flow import Flow
from bailee.errors import Malformed
from published import rows

D = Decimal
FLOWS = st.decimals("0.01", "40", places=2)
RUNS = st.integers(1, 3600)


@pytest.mark.parametrize(
    ("before", "after", "drift", "mean", "volume"),
    # Arithmetic, five minutes; a third of a liter is not lost on the way: 73.125 stays exact.
    [
        ("15.0", "14.4", "-4", "14.7", "73.5"),
        ("15.0", "14.25", "-5", "14.625", "73.125"),
        ("15.0", "15.0", "0", "15", "75"),
        ("14.2", "14.2", "0", "14.2", "71"),
    ],
)
def test_figures_of_a_run_are_exact(before: str, after: str, drift: str, mean: str, volume: str) -> None:
    """Every concentration of the report is wrong by the same factor."""
    run = flow.read(before, after, 300)

    assert (run.drift_pct, run.mean, run.volume_l) == (D(drift), D(mean), D(volume))


def test_drift_of_the_trade() -> None:
    """Two programs that read the same pump report two volumes."""
    for before, after, nominal, minutes, drift, mean, liters, _ in rows("trade", "drift"):
        run = flow.read(before, after, int(minutes) * 60, nominal)
        assert run.drift_pct is not None
        assert run.volume_l is not None
        assert run.drift_pct.quantize(D("0.01"), ROUND_HALF_UP) == D(drift)
        assert run.mean == D(mean)
        assert run.volume_l.quantize(D("0.01"), ROUND_HALF_UP) == D(liters)


@given(FLOWS, FLOWS, RUNS)
def test_volume_and_drift_agree_with_exact_fractions(before: Decimal, after: Decimal, run_s: int) -> None:
    """A run of odd seconds carries a hidden rounding into the report (oracle: fractions of the standard
    library).
    """
    run = Flow(before, after, run_s)
    volume = (Fraction(before) + Fraction(after)) / 2 * run_s / 60
    drift = (Fraction(after) - Fraction(before)) / Fraction(before) * 100

    assert run.volume_l is not None
    assert run.drift_pct is not None
    # 28 significant digits of the decimal context: what no pump can show
    assert abs(Fraction(run.volume_l) - volume) <= volume / 10**26
    assert abs(Fraction(run.drift_pct) - drift) <= abs(drift) / 10**26
    assert run.drifted_beyond(D(5)) == (abs(drift) > 5)


@pytest.mark.parametrize("fraction", flow.FRACTIONS)
def test_a_blank_has_no_volume_and_no_limit(fraction: Decimal) -> None:
    """A field blank stops the report with a division by zero."""
    blank, stopped = flow.read(None, None, 0), flow.read("15.0", "15.0", 0)

    assert (blank.mean, blank.volume_l, blank.drift_pct, blank.limit(fraction)) == (None, None, None, None)
    assert (stopped.volume_l, stopped.limit(fraction)) == (0, None)


def test_one_reading_is_used_as_the_mean_and_has_no_drift() -> None:
    """A pump read once is reported with a drift of nothing, as if it had been read twice."""
    run = flow.read("14.8", None, 300)

    assert (run.mean, run.drift_pct, run.drifted_beyond(D(0))) == (D("14.8"), None, False)


def test_a_pump_that_started_from_nothing_drifted_beyond_any_limit() -> None:
    """A reading of 0 before the run passes unseen because 0 cannot be divided by."""
    assert Flow(D(0), D(15), 300).drifted_beyond(D(1000))
    assert not Flow(D(0), D(0), 300).drifted_beyond(D(0))
    assert Flow(D(0), D(15), 300).drift_pct is None


@pytest.mark.parametrize(("limit", "beyond"), [("4.99", True), ("5", False), ("5.01", False)])
def test_the_drift_limit_itself_is_allowed(limit: str, beyond: bool) -> None:
    """A pump at exactly 5 % is called faulty (county-filed air sampling plans: more than 5 %)."""
    assert Flow(D("15.0"), D("14.25"), 300).drifted_beyond(D(limit)) is beyond


def test_the_range_is_that_of_the_nominal_flow() -> None:
    """A cassette made for another flow is judged by 15 L/min (14.25 to 15.75: common practice, no source)."""
    assert flow.read("15", "15", 300).range_of(D(5)) == (D("14.25"), D("15.75"))
    assert flow.read("5", "5", 300, "5").range_of(D(10)) == (D("4.5"), D("5.5"))


@pytest.mark.parametrize(
    ("before", "run_s", "nominal"),
    [
        ("15,0", 300, None),
        ("1e1", 300, None),
        ("fast", 300, None),
        ("-15", 300, None),
        ("15", -1, None),
        ("15", 86_401, None),
        ("15", 300, "-1"),
        ("15", 300, "x"),
        ("", 300, None),
    ],
)
def test_what_is_no_reading_is_refused(before: str, run_s: int, nominal: str | None) -> None:
    """A comma for a point becomes a flow of 150 L/min, or a crash on site."""
    with pytest.raises(Malformed) as raised:
        flow.read(before, None, run_s, nominal)

    assert raised.value.code == "bad-measure"


@pytest.mark.parametrize(
    ("text", "part"),
    [("1", "1"), ("0.25", "0.25"), ("25 %", "0.25"), ("25%", "0.25"), ("100 %", "1"), (" 15% ", "0.15")],
)
def test_the_part_read_may_be_a_share_or_per_cent(text: str, part: str) -> None:
    """A laboratory that writes 25 % is answered with the limit of reading 25 times the trace."""
    assert flow.read_fraction(text) == D(part)


@pytest.mark.parametrize("text", ["0", "1.01", "101 %", "-0.5", "25", "half", "", "%"])
def test_a_part_that_cannot_be_is_refused(text: str) -> None:
    """A quarter typed as 25 gives a detection limit no microscope has."""
    with pytest.raises(Malformed):
        flow.read_fraction(text)
