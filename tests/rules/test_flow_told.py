"""What is told of one run.

Worked figures: arithmetic; 5 % and 10 % from county-filed air sampling plans; ±5 % common practice.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from bailee.domain import flow
from bailee.domain.policy import Policy
from bailee.rules.checks.flow import faults, findings, told
from bailee.rules.registry import RULES

D = Decimal
DEFAULTS = Policy()

# Drift as a share of the reading before, to two decimals, half up (arithmetic); what follows by the three
# thresholds.
WORKED = [
    ("15.0", "14.4", "-4.00", "14.7", "73.50", {}),
    ("15.0", "14.25", "-5.00", "14.625", "73.13", {}),
    ("15.0", "14.2", "-5.33", "14.6", "73.00", {"PV-03": "warn", "PV-04": "warn"}),
    ("15.0", "15.8", "+5.33", "15.4", "77.00", {"PV-03": "warn", "PV-04": "warn"}),
    ("14.6", "15.3", "+4.79", "14.95", "74.75", {}),
    ("14.2", "14.2", "+0.00", "14.2", "71.00", {"PV-03": "warn"}),
    ("15.0", "13.4", "-10.67", "14.2", "71.00", {"PV-03": "warn", "PV-05": "block"}),
]


@pytest.mark.parametrize(("before", "after", "drift", "mean", "volume", "expected"), WORKED)
def test_worked_runs(
    before: str, after: str, drift: str, mean: str, volume: str, expected: dict[str, str]
) -> None:
    """An inspector who asks on site is told something else than the envelope will be."""
    run = flow.read(before, after, 300)
    figures = told(run, [D(1)])
    found = findings(run, DEFAULTS)

    assert (figures.drift_pct, figures.mean_l_min, figures.volume_l) == (drift, mean, volume)
    assert {each.rule: each.severity for each in found} == expected
    assert all(each.remedy == RULES[each.rule].remedy.words for each in found)


@pytest.mark.parametrize(
    ("mean", "run_s", "fraction", "exact", "reported"),
    # Arithmetic: 1 / (cubic meters x part read), rounded half up.
    [
        ("15", 300, "1", "13.33", "13"),
        ("15", 300, "0.5", "26.67", "27"),
        ("15", 300, "0.25", "53.33", "53"),
        ("15", 300, "0.15", "88.89", "89"),
        ("15", 600, "1", "6.67", "7"),
        ("15", 120, "1", "33.33", "33"),
        ("15", 60, "1", "66.67", "67"),
        ("14.7", 300, "1", "13.61", "14"),
        ("15", 200, "1", "20.00", "20"),
    ],
)
def test_worked_limits(mean: str, run_s: int, fraction: str, exact: str, reported: str) -> None:
    """A client is told that the method sees less, or more, than it does."""
    (limit,) = told(flow.read(mean, mean, run_s), [D(fraction)]).limits

    assert (limit.fraction, limit.fs_m3, limit.reported) == (fraction, exact, reported)


def test_both_units_are_told() -> None:
    """A figure in liters is copied into a field that wants cubic feet (28.316846592 L each, exact by the foot
    of 1959).
    """
    figures = told(flow.read("15", "15", 300), [D(1)])

    assert (figures.volume_ft3, figures.mean_cfm) == ("2.6486", "0.5297")


def test_halves_go_up() -> None:
    """73.125 L becomes 73.12 in one program and 73.13 in the other (arithmetic, round half up)."""
    assert told(flow.read("15.0", "14.25", 300), [D(1)]).volume_l == "73.13"


def test_a_blank_is_told_without_figures() -> None:
    """A field blank gets a concentration."""
    figures = told(flow.read(None, None, 0), flow.FRACTIONS)

    assert {
        figures.mean_l_min,
        figures.mean_cfm,
        figures.drift_pct,
        figures.volume_l,
        figures.volume_ft3,
    } == {None}
    assert [limit.fs_m3 for limit in figures.limits] == [None] * 4
    assert "draws no air" in " ".join(figures.notes)
    assert findings(flow.read(None, None, 0), DEFAULTS) == []


@pytest.mark.parametrize(
    ("before", "after", "run_s", "words"),
    [
        ("15", None, 300, "One flow reading"),
        (None, "15", 300, "One flow reading"),
        ("0", "15", 300, "read 0"),
        ("15", "15", 0, "No air was drawn"),
    ],
)
def test_what_is_missing_is_said(before: str | None, after: str | None, run_s: int, words: str) -> None:
    """An empty field on the screen is taken for a drift of nothing."""
    assert words in " ".join(told(flow.read(before, after, run_s), [D(1)]).notes)


def test_the_firm_s_own_thresholds_are_used() -> None:
    """A firm that holds its pumps to 2 % is told 4 % is fine."""
    strict = Policy(drift_warn_pct=D(2), drift_block_pct=D(3), flow_tolerance_pct=D(1))

    assert [each.rule for each in faults(flow.read("15.0", "14.4", 300), strict)] == ["PV-03", "PV-05"]


def test_another_nominal_flow_has_another_range() -> None:
    """A cassette made for 5 L/min is warned about at its own flow."""
    assert list(faults(flow.read("5.0", "5.0", 300, "5.0"), DEFAULTS)) == []
    (fault,) = faults(flow.read("5.0", "5.0", 300), DEFAULTS)
    assert "5.0 L/min before and 5.0 L/min after" in fault.sentence
