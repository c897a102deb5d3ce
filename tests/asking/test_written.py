"""Numbers and times as people write them are understood, and what may mean two things is asked back.

A cubic foot is 28.316846592 L and a foot 0.3048 m exactly (international foot of 1959); degrees Celsius are
(F - 32) * 5/9 (NIST SP 811). Zones: tz database. Month first or day first depends on the country (Unicode
CLDR, date patterns of en-US and en-GB).
"""

from __future__ import annotations

from datetime import date

import pytest

from bailee.asking import written, written_times
from bailee.errors import BadMoment, Malformed

TODAY = date(2026, 12, 1)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("9:12", "2026-12-01T09:12"),
        ("9:12 am", "2026-12-01T09:12"),
        ("9:12 PM", "2026-12-01T21:12"),
        ("12:05 am", "2026-12-01T00:05"),
        ("12 pm", "2026-12-01T12:00"),
        ("9 a.m.", "2026-12-01T09:00"),
        ("2026-11-28 9:12 am", "2026-11-28T09:12"),
        ("2026-11-28T09:12:30", "2026-11-28T09:12:30"),
        ("28 Nov 2026 14:00", "2026-11-28T14:00"),
        ("Nov 28, 2026 2 pm", "2026-11-28T14:00"),
    ],
)
def test_a_time_is_read_as_it_is_written(said: str, meant: str) -> None:
    """Whoever writes nine twelve as everybody does would be told that it is not a time."""
    assert written_times.local(said, TODAY) == meant


@pytest.mark.parametrize(
    "said", ["14", "9", "13:05 pm", "0 am", "25:00", "9:60", "2026-02-30 09:00", "9:12 xm"]
)
def test_what_is_no_time_is_refused(said: str) -> None:
    """A slip would become some other time without a word."""
    with pytest.raises(BadMoment):
        written_times.local(said, TODAY)


@pytest.mark.parametrize(
    ("said", "offers"),
    [
        ("11/12/2026", ["2026-11-12", "2026-12-11"]),
        ("12.11.26", ["2026-11-12", "2026-12-11"]),
    ],
)
def test_which_is_the_month_is_asked_back(said: str, offers: list[str]) -> None:
    """A run of 11 December would be recorded on 12 November."""
    for reader in (written_times.day, lambda text: written_times.local(f"{text} 9:12 am", TODAY)):
        with pytest.raises(BadMoment) as raised:
            reader(said)
        assert raised.value.code == "which-month"
        assert all(each in raised.value.sentence for each in offers)
        assert raised.value.sentence.count("2026-") == len(offers)


@pytest.mark.parametrize("said", ["11/28/2026", "28/11/2026", "28.11.26"])
def test_the_only_reading_of_a_day_is_taken(said: str) -> None:
    """Who types the day as the box shows it would be asked which is the month where no month is 28."""
    assert written_times.day(said) == "2026-11-28"
    assert written_times.local(f"{said} 9:12 am", TODAY) == "2026-11-28T09:12"
    with pytest.raises(BadMoment, match="no calendar has that day"):
        written_times.day("31/31/2026")


@pytest.mark.parametrize(
    ("said", "meant"),
    [("14.8", "14.8"), ("14,8", "14.8"), ("14.8 L/min", "14.8"), ("14,8 lpm", "14.8"), ("15", "15")],
)
def test_a_flow_is_read_with_a_comma_and_its_unit(said: str, meant: str) -> None:
    """Whoever grew up with a decimal comma could record no flow."""
    assert written.flow(said) == meant


def test_cubic_feet_a_minute_are_refused_with_what_they_are() -> None:
    """0.53 would be recorded as liters, or a conversion as a reading."""
    with pytest.raises(Malformed) as raised:
        written.flow("0.53 cfm")
    assert raised.value.code == "other-unit"
    assert "0.53 cfm is 15.01 L/min" in raised.value.sentence


def test_a_comma_before_three_digits_is_asked_back() -> None:
    """One thousand two hundred would become 1.2."""
    with pytest.raises(Malformed, match=r"1\.200 or 1200"):
        written.decimal("1,200")


@pytest.mark.parametrize(
    ("said", "meant"),
    [("20", "20"), ("20,5 C", "20.5"), ("68 F", "20.0"), ("68°F", "20.0"), ("-40 f", "-40.0")],
)
def test_a_temperature_is_read_in_both_units(said: str, meant: str) -> None:
    """68 °F would be recorded as 68 °C."""
    assert written.degrees_celsius(said) == meant


@pytest.mark.parametrize(
    ("said", "seconds"), [("5", 300), ("5:00", 300), ("30", 1800), ("300", 300), ("5 min", 300)]
)
def test_a_bare_number_asked_for_in_minutes_is_minutes(said: str, seconds: int) -> None:
    """Who is asked for minutes and types 5 would have run the pump five seconds."""
    assert written.run(said, bare_minutes_to=30) == seconds
    assert written.run("5") == 5


def test_a_bare_number_that_may_be_either_is_asked_back() -> None:
    """55 would be 55 seconds without a word, where 30 is half an hour."""
    for said, either in (("30", False), ("31", True), ("55", True), ("119", True), ("120", False)):
        assert isinstance(written.run_as_typed(said), written.BareRun) is either
        if either:
            with pytest.raises(Malformed, match=f"Type {said} min or {said} s") as raised:
                written.run(said, bare_minutes_to=30)
            assert raised.value.code == "which-unit"
    assert not isinstance(written.run_as_typed("55 s"), written.BareRun)


@pytest.mark.parametrize(
    ("said", "meters"),
    [
        ("4 ft", "1.2192"),
        ("4'", "1.2192"),
        ("4 feet", "1.2192"),
        ("4 foot 6", "1.3716"),
        ("4' 6\"", "1.3716"),
        ("4\N{RIGHT SINGLE QUOTATION MARK}6\N{RIGHT DOUBLE QUOTATION MARK}", "1.3716"),
        ("4 ft 6 in", "1.3716"),
        ("48 inches", "1.2192"),
        ("1,2 m", "1.2"),
        ("120cm", "1.2"),
        ("1.2 meters", "1.2"),
    ],
)
def test_feet_and_inches_are_read_as_they_are_written(said: str, meters: str) -> None:
    """A height would be left out, because nobody finds the way to write it."""
    assert written.length(said) == meters


@pytest.mark.parametrize("said", ["4", "4 yards", "ft", "4 ft 13 m", "4 6"])
def test_a_length_without_a_unit_is_never_guessed(said: str) -> None:
    """Four feet would be four meters."""
    with pytest.raises(Malformed):
        written.length(said)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("Denver", ["America/Denver"]),
        ("MST", ["America/Denver", "America/Phoenix"]),
        ("new york", ["America/New_York"]),
        ("Atlantis", []),
    ],
)
def test_a_city_or_the_letters_of_a_clock_get_the_zones_they_may_mean(said: str, meant: list[str]) -> None:
    """Nobody knows the name of a zone by heart, and MST is two."""
    with pytest.raises(BadMoment) as raised:
        written_times.zone(said)
    assert raised.value.code == "unknown-zone"
    assert raised.value.facts["candidates"] == meant
    assert all(each in raised.value.sentence for each in meant)
    assert written_times.zone("America/Denver") == "America/Denver"


@pytest.mark.parametrize("text", ["06/2039", "06-2039", "6.2039", "2039-06", "Jun 2039"])
def test_a_month_as_a_box_prints_it(text: str) -> None:
    """The month that stands on the box would be refused, and a day be made up for it."""
    assert written_times.last_day(text) == "2039-06"


@pytest.mark.parametrize("text", ["13-2039", "06/39", "soon"])
def test_what_is_no_expiration_date_is_told_that_a_month_will_do(text: str) -> None:
    """A person with a month on the box would be told to write a day."""
    with pytest.raises(BadMoment, match="or 2027-03 for the end of that month"):
        written_times.last_day(text)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("1013", "1013"),
        ("1013.2 hPa", "1013.2"),
        ("1013 mbar", "1013"),
        ("29.9 inHg", "1012.5"),
        ("29,92 in. Hg", "1013.2"),
        ("101.3 kPa", "1013.0"),
    ],
)
def test_a_pressure_is_read_in_the_unit_of_the_barometer(said: str, meant: str) -> None:
    """A pressure as every barometer in the United States shows it would be refused as no number (an inch of
    mercury is 33.86389 hPa: NIST SP 811 appendix B, from memory).
    """
    assert written.hectopascals(said) == meant


def test_a_pressure_in_no_known_unit_says_how_it_is_written() -> None:
    """Whoever types another unit would not learn which are read."""
    with pytest.raises(Malformed, match="1013 hPa"):
        written.hectopascals("14.7 psi")


@pytest.mark.parametrize("text", ["3", "-20", "14.9", "3,5"])
def test_a_cold_envelope_is_asked_for_its_unit(text: str) -> None:
    """3 read in Fahrenheit would stand as 3 degrees Celsius: an envelope that froze as one that was cool."""
    with pytest.raises(Malformed, match="Write the unit") as caught:
        written.degrees_by_unit(text)
    assert caught.value.code == "no-unit"


@pytest.mark.parametrize(("text", "read"), [("3 C", "3"), ("3 F", "-16.1"), ("15", "15"), ("20", "20")])
def test_a_temperature_with_its_unit_is_read(text: str, read: str) -> None:
    """Who wrote the unit, or the warmth of a room, would be asked for it again."""
    assert written.degrees_by_unit(text) == read


def test_days_are_no_number_of_hours() -> None:
    """Whoever typed 3 days for the last cleaning would be shown the example of a flow."""
    with pytest.raises(Malformed, match=r"'3 days' is not a number of hours: write it like 48\."):
        written.hours("3 days")
    assert written.hours("1,5") == "1.5"
