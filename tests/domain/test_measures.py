"""Measures.

Oracles: exact fractions, the arithmetic tables of the trade, NIST SP 811 factors (from memory).
"""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.domain import measures
from bailee.domain.measures import (
    concentration,
    detection_limit,
    drift_percent,
    feet_text,
    mean_flow,
    parse_length,
    rotameter_factor,
    rounded,
    volume_liters,
)
from bailee.errors import Malformed
from published import rows

D = Decimal
FLOWS = st.decimals("0.1", "40", places=2)


@pytest.mark.parametrize(
    ("flow", "seconds", "liters"),
    # Arithmetic: flow x time; the fifth is a pump that stopped at 3 min 20 s.
    [
        ("15", 300, "75"),
        ("15", 600, "150"),
        ("15", 120, "30"),
        ("15", 60, "15"),
        ("15", 200, "50"),
        ("14.7", 300, "73.5"),
        ("15", 0, "0"),
    ],
)
def test_volume(flow, seconds, liters):
    """Every concentration of the report would be wrong by the same factor."""
    assert volume_liters(D(flow), D(seconds)) == D(liters)


@pytest.mark.parametrize(
    ("volume", "fraction", "exact", "reported"),
    # Arithmetic: 1 / (m3 x part read).
    [
        ("75", "1", "13.33", 13),
        ("75", "0.5", "26.67", 27),
        ("75", "0.25", "53.33", 53),
        ("75", "0.15", "88.89", 89),
        ("150", "1", "6.67", 7),
        ("30", "1", "33.33", 33),
        ("15", "1", "66.67", 67),
        ("73.5", "1", "13.61", 14),
    ],
)
def test_detection_limit(volume, fraction, exact, reported):
    """A client would be told that the method sees less, or more, than it does."""
    limit = detection_limit(D(volume), D(fraction))
    assert (rounded(limit, 2), rounded(limit, 0)) == (D(exact), reported)


@pytest.mark.parametrize("fraction", ["0.15", "1"])
def test_a_blank_has_no_concentration(fraction):
    """A field blank would stop the report with a division by zero, or appear with an infinite limit."""
    assert detection_limit(D(0), D(fraction)) is None
    assert concentration(3, D("0.0"), D(fraction)) is None


@pytest.mark.parametrize(("raw", "reported"), [(0, 0), (1, 13), (2, 27), (3, 40), (7, 93), (100, 1333)])
def test_concentration_comes_from_the_exact_limit(raw, reported):
    """Seven spores would become 91 instead of 93 per cubic meter (arithmetic)."""
    assert rounded(concentration(raw, D(75), D(1)), 0) == reported


@pytest.mark.parametrize(
    ("before", "after", "drift", "mean", "liters"),
    # Arithmetic: (after - before) / before, mean x 5 min.
    [
        ("15.0", "14.4", "-4.00", "14.7", "73.50"),
        ("15.0", "14.25", "-5.00", "14.625", "73.13"),
        ("15.0", "14.2", "-5.33", "14.6", "73.00"),
        ("15.0", "15.8", "5.33", "15.4", "77.00"),
        ("14.6", "15.3", "4.79", "14.95", "74.75"),
        ("14.2", "14.2", "0.00", "14.2", "71.00"),
        ("15.0", "13.4", "-10.67", "14.2", "71.00"),
    ],
)
def test_flow_drift(before, after, drift, mean, liters):
    """A pump that sagged would count as steady, or the volume would follow the better reading."""
    assert rounded(drift_percent(D(before), D(after)), 2) == D(drift)
    assert mean_flow(D(before), D(after)) == D(mean)
    assert rounded(volume_liters(mean_flow(D(before), D(after)), D(300)), 2) == D(liters)


def test_exactly_five_percent_is_not_more_than_five_percent():
    """The limit says "more than": a hair of rounding would flag a pump that is just inside (arithmetic)."""
    assert drift_percent(D("15.0"), D("14.25")) == -5
    assert drift_percent(D("15.0"), D("14.2499")) < -5
    assert drift_percent(D("15.0"), D("15.75")) == 5


def test_figures_of_the_trade():
    """The phone, the service and the lab would compute different figures from the same readings."""
    for flow, minutes, liters in rows("trade", "volume"):
        assert rounded(volume_liters(D(flow), D(minutes) * 60), 1) == D(liters)
    for volume, part, *expected in rows("trade", "detection_limit"):
        limit = detection_limit(D(volume), D(part))
        assert [str(rounded(limit, places)) for places in (2, 0)] == expected
    for raw, volume, part, *expected in rows("trade", "concentration"):
        found = concentration(int(raw), D(volume), D(part))
        assert [str(rounded(found, places)) for places in (2, 0)] == expected
    for before, after, _, minutes, drift, mean, liters, _ in rows("trade", "drift"):
        assert rounded(drift_percent(D(before), D(after)), 2) == D(drift)
        assert mean_flow(D(before), D(after)) == D(mean)
        assert rounded(volume_liters(mean_flow(D(before), D(after)), D(minutes) * 60), 2) == D(liters)


def test_units_of_the_trade():
    """A height or a volume would change its meaning with its unit."""
    to_si = {
        "ft": measures.FOOT_IN_METERS,
        "L": 1 / measures.CUBIC_FOOT_IN_LITERS,
        "L/min": 1 / measures.CUBIC_FOOT_IN_LITERS,
        "inHg": measures.INCH_OF_MERCURY_IN_KILOPASCALS,
        "sq ft": measures.SQUARE_FOOT_IN_SQUARE_METERS,
        "mph": measures.MILE_PER_HOUR_IN_METERS_PER_SECOND,
    }
    for told, wanted in rows("trade", "unit"):
        number, unit = told.split(" ", 1)
        expected = D(wanted.split()[0])
        assert rounded(D(number) * to_si[unit], -expected.as_tuple().exponent) == expected, told


@pytest.mark.parametrize(
    ("found", "expected"),
    # NIST SP 811 appendix B (from memory), to the digits shown.
    [
        (3 * measures.FOOT_IN_METERS, "0.9144"),
        (6 * measures.FOOT_IN_METERS, "1.8288"),
        (10 * measures.FOOT_IN_METERS, "3.048"),
        (D("1.5") / measures.FOOT_IN_METERS, "4.921"),
        (75 / measures.CUBIC_FOOT_IN_LITERS, "2.6486"),
        (15 / measures.CUBIC_FOOT_IN_LITERS, "0.5297"),
        (1 * measures.CUBIC_FOOT_IN_LITERS, "28.317"),
        (D("29.92") * measures.INCH_OF_MERCURY_IN_KILOPASCALS, "101.32"),
        (25 * measures.SQUARE_FOOT_IN_SQUARE_METERS, "2.3226"),
        (measures.celsius(D(104)), "40"),
        (measures.celsius(D(-40)), "-40"),
        (measures.celsius(D(32)), "0"),
    ],
)
def test_unit_conversions(found, expected):
    """An inspector who thinks in feet and a lab that thinks in meters would mean different heights."""
    assert rounded(found, -D(expected).as_tuple().exponent) == D(expected)


def test_unit_factors_agree_with_each_other():
    """A digit mistyped in one factor would stay unseen.

    Exact by definition: 12 in = 1 ft, 5280 ft = 1 mile.
    """
    foot = Fraction(measures.FOOT_IN_METERS)
    assert Fraction(measures.INCH_IN_METERS) * 12 == foot
    assert Fraction(measures.SQUARE_FOOT_IN_SQUARE_METERS) == foot**2
    assert Fraction(measures.CUBIC_FOOT_IN_LITERS) == foot**3 * 1000
    assert Fraction(measures.MILE_PER_HOUR_IN_METERS_PER_SECOND) == foot * 5280 / 3600


@pytest.mark.parametrize(
    ("value", "places", "expected"),
    [
        ("73.125", 2, "73.13"),
        ("73.1249", 2, "73.12"),
        ("-5.335", 2, "-5.34"),
        ("0.5", 0, "1"),
        ("1.5", 0, "2"),
        ("2.5", 0, "3"),
        ("75", 1, "75.0"),
    ],
)
def test_halves_round_up(value, places, expected):
    """Binary floats and banker's rounding print 73.12 where the paper form says 73.13 (worked table)."""
    assert str(rounded(D(value), places)) == expected
    assert str(round(73.125, 2)) == "73.12"


@given(
    before=FLOWS,
    after=FLOWS,
    seconds=st.integers(1, 3600),
    raw=st.integers(0, 5000),
    percent=st.integers(1, 100),
)
def test_against_exact_fractions(before, after, seconds, raw, percent):
    """A figure would depend on the order of the arithmetic.

    Oracle: rational numbers, rounded once at the end.
    """
    liters = volume_liters(mean_flow(before, after), D(seconds))
    exact_liters = (Fraction(before) + Fraction(after)) / 2 * seconds / 60
    _same(liters, exact_liters)
    _same(drift_percent(before, after), (Fraction(after) - Fraction(before)) * 100 / Fraction(before))
    _same(concentration(raw, liters, D(percent) / 100), raw * 1000 / (exact_liters * Fraction(percent, 100)))


def _same(found: Decimal, exact: Fraction) -> None:
    assert abs(Fraction(found) - exact) <= abs(exact) * Fraction(1, 10**25)
    scaled = exact * 100
    half_up = (abs(scaled) + Fraction(1, 2)).__floor__() * (-1 if exact < 0 else 1)
    # Only a value within 1e-20 of a half could round the other way after 28 digits; such a one must be exact.
    assert rounded(found, 2) == D(half_up).scaleb(-2) or abs(abs(scaled) % 1 - Fraction(1, 2)) < Fraction(
        1, 10**20
    )
    assert rounded(found, 2) == found.quantize(D("0.01"), ROUND_HALF_UP)


@pytest.mark.parametrize(
    ("text", "meters"),
    [
        ("3 ft", "0.9144"),
        ("3ft", "0.9144"),
        ("3'", "0.9144"),
        ("36 in", "0.9144"),
        ('36"', "0.9144"),
        ("0.91 m", "0.91"),
        ("91 cm", "0.91"),
        ("5 ft 6 in", "1.6764"),
        ("5'6\"", "1.6764"),
        (" 10 ft ", "3.048"),
        ("4.5 ft", "1.3716"),
        ("0 m", "0"),
    ],
)
def test_lengths_as_people_write_them(text, meters):
    """A height typed in feet would be stored as meters. Exact: foot 0.3048 m, inch 0.0254 m."""
    assert parse_length(text) == D(meters)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "3",
        "ft",
        "-3 ft",
        "3,500 ft",
        "1e3 m",
        "3 yd",
        "3 m 2 in",
        "36 in 3 ft",
        "٣ ft",
        "NaN m",
        "3 ft\n4 in",
    ],
)
def test_lengths_that_are_none(text):
    """A number without a unit would be guessed, and the guess be wrong by a factor of three."""
    with pytest.raises(Malformed) as refused:
        parse_length(text)
    assert refused.value.code == "bad-length"


@pytest.mark.parametrize(
    ("meters", "text"),
    [
        ("0.9144", "3 ft"),
        ("0.91", "2.99 ft"),
        ("1.5", "4.92 ft"),
        ("3.048", "10 ft"),
        ("0", "0 ft"),
        ("30.48", "100 ft"),
    ],
)
def test_feet_for_a_person(meters, text):
    """The printed height would differ from the measured one (arithmetic)."""
    assert feet_text(D(meters)) == text


def test_rotameter_away_from_its_calibration():
    """At altitude a rotameter reads low and the volume would be off by a tenth (textbook formula, from
    memory).
    """
    for case in rows("trade", "rotameter"):
        indicated, *conditions, expected, actual = map(D, case)
        factor = rotameter_factor(*conditions)
        assert (rounded(factor, 4), rounded(indicated * factor, 2)) == (expected, actual)


def test_rotameter_as_it_was_calibrated():
    """A reading that needs no correction would get one."""
    assert rotameter_factor(D(760), D(760), D(298), D(298)) == 1


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: mean_flow(D("-0.1"), D(15)),
        lambda: mean_flow(D(15), D("-0.1")),
        lambda: volume_liters(D(-1), D(300)),
        lambda: volume_liters(D(15), D(-1)),
        lambda: drift_percent(D(0), D(15)),
        lambda: drift_percent(D(15), D(-1)),
        lambda: detection_limit(D(-1), D(1)),
        lambda: detection_limit(D(75), D(0)),
        lambda: detection_limit(D(75), D("1.01")),
        lambda: concentration(-1, D(75), D(1)),
        lambda: rotameter_factor(D(760), D(0), D(298), D(293)),
    ],
)
def test_readings_that_cannot_be(impossible):
    """A slip of the keyboard would end in a stack trace or a negative concentration."""
    with pytest.raises(Malformed) as refused:
        impossible()
    assert refused.value.code == "bad-measure"
    assert all(isinstance(fact, str) for fact in refused.value.facts.values())


@pytest.mark.parametrize(
    ("meters", "words"),
    [("1.2192", "1.22 m (4 ft)"), ("3.048", "3.05 m (10 ft)"), ("1.5", "1.5 m (4.92 ft)")],
)
def test_a_length_is_shown_in_both_units(meters: str, words: str) -> None:
    """People on site think in feet and the method in meters.

    One of them alone gets misread (foot: exactly 0.3048 m).
    """
    assert measures.length_text(Decimal(meters)) == words


@pytest.mark.parametrize(
    ("value", "limit", "shown"),
    [
        ("14.95", "15", "14.95"),
        ("15.04", "15", "15.04"),
        ("14.94", "15", "14.9"),
        ("15.0", "15", "15.0"),
        ("14.9996", "15", "14.9996"),
        ("5.004", "5", "5.004"),
    ],
)
def test_a_value_beyond_a_limit_is_not_rounded_to_the_limit(value: str, limit: str, shown: str) -> None:
    """*15.0 L, and 15 L are wanted* makes a person doubt the tool, or the pump."""
    assert str(measures.rounded_beside(Decimal(value), Decimal(limit), 1)) == shown
