"""What is surely a slip, on both sides of its edge. The edges are our own (common practice, no source); the
conversions are those of NIST SP 811 appendix B.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from bailee.asking import hand_over_slips, office_slips, opening_slips, run_slips, slips, written
from bailee.asking.slip import Slip, VisitSoFar
from bailee.domain import numbers

DAY = date(2026, 12, 1)
VISIT = VisitSoFar(DAY, "America/New_York")
RUN: dict[str, Any] = {
    "kind": "indoor",
    "started": "2026-12-01T09:00:00-05:00",
    "run_s": 300,
    "flow_before": "15.0",
    "flow_after": "14.9",
}


def of_run(visit: VisitSoFar = VISIT, flow: str | None = None, **said: Any) -> list[Slip]:
    """The slips of a cassette that is usual but for this."""
    return list(slips.collected(RUN | said, visit, Decimal(flow) if flow else None))


def codes(found: list[Slip]) -> list[str]:
    """Their codes."""
    return [each.code for each in found]


@pytest.mark.parametrize(
    ("said", "code", "meant"),
    [
        ({"run_s": 5}, "run-of-seconds", "5 min"),
        ({"run_s": 30}, "run-of-seconds", "30 min"),
        ({"run_s": 18_000}, "run-of-hours", ""),
        ({"run_s": written.run_as_typed("55")}, "run-without-unit", ""),
        ({"planned_s": written.run_as_typed("31")}, "run-without-unit", ""),
        ({"flow_after": "1.49"}, "flow-far-off", "14.9"),
        ({"flow_before": "150"}, "flow-far-off", "15"),
        ({"flow_before": "0.53"}, "flow-far-off", "15.0"),  # cfm; a cubic foot is 28.316846592 L
        ({"temperature_c": "68"}, "fahrenheit", "68 F"),
        ({"pressure_hpa": "29.9"}, "pressure-in-another-unit", "1012.5"),  # inHg
        ({"pressure_hpa": "101.3"}, "pressure-in-another-unit", "1013.0"),  # kPa
        ({"height_m": "14.6304"}, "far-up", ""),  # 48 ft, where 48 in were meant
        ({"started": "2026-12-02T09:00:00-05:00"}, "another-day", "2026-12-01 09:00"),
        ({"started": "2025-12-01T09:00:00-05:00"}, "another-day", "2026-12-01 09:00"),
        ({"started": "2026-12-01T09:00:00-06:00"}, "other-zone", "2026-12-01 10:00"),
    ],
)
def test_a_slip_is_known_and_what_it_may_mean(said: dict[str, Any], code: str, meant: str) -> None:
    """It would be signed for ever, and the volume, the day or the comparison with it."""
    assert [(each.code, each.meant) for each in of_run(**said)] == [(code, meant)]


@pytest.mark.parametrize("member", ["pump", "meter", "serial"])
@pytest.mark.parametrize("kind", ["sample", "envelope", "form"])
def test_a_label_is_no_pump_meter_or_serial(member: str, kind: numbers.Kind) -> None:
    """The scanner reads the label again, and a pump that nobody has would be on record for the run."""
    number = numbers.issue(kind, lambda _: "7")
    for text in (number, numbers.grouped(number).lower()):
        assert [(each.code, each.field) for each in of_run(**{member: text})] == [
            ("label-as-equipment", member)
        ]
    assert of_run(**{member: number[:-1]}) == []


@pytest.mark.parametrize(("pump", "meter", "is_slip"), [("P-6", "p-6 ", True), ("P-6", "M-6", False)])
def test_a_pump_is_not_its_own_flow_meter(pump: str, meter: str, is_slip: bool) -> None:
    """P-6 typed twice would be on record as the meter, and nobody finds the calibration of its flow."""
    wanted = ["pump-as-meter"] if is_slip else []
    assert codes(of_run(pump=pump, meter=meter)) == wanted
    assert codes(list(run_slips.pump_checked({"pump": pump, "meter": meter, "flow": "15"}))) == wanted


@pytest.mark.parametrize(
    "said",
    [
        {},
        {"run_s": 31},
        {"run_s": 3600},
        {"run_s": 5, "short_run": "dust"},
        {"run_s": 5, "pump_stop": "battery"},
        {"run_s": 0, "kind": "blank", "flow_before": None, "flow_after": None},
        {"flow_before": "3.75"},
        {"flow_before": "60"},
        {"temperature_c": "45"},
        {"pressure_hpa": "540"},
        {"pressure_hpa": "1084"},
        {"height_m": "5"},
        {"started": "2026-12-02T01:30:00-05:00"},  # the night after
        {"started": "2026-12-01T14:00:00+00:00"},  # a program's clock
        {"started": "no time at all"},
    ],
)
def test_what_may_well_be_true_is_no_slip(said: dict[str, Any]) -> None:
    """People would learn to press yes without reading."""
    assert of_run(**said) == []


@pytest.mark.parametrize(
    ("typed", "others", "is_slip"),
    [
        ("149", [], True),
        ("230", [], True),
        ("500", [300], True),
        ("149", [300, 147], False),
        ("150", [], False),
        ("300", [], False),
        ("302", [], False),
        ("199", [], False),
        ("149 s", [], False),
        ("2:29", [], False),
    ],
)
def test_digits_that_may_be_a_clock_are_asked_about(typed: str, others: list[int], is_slip: bool) -> None:
    """1:49 typed without its colon is 2:29, and every second run would be asked about if the edge were
    wrong.
    """
    run = written.run(typed, bare_minutes_to=30)
    known = [{"sample": f"S{each}", "form": "F", "run_s": each} for each in others]
    found = run_slips.beside({"sample": "S", "run_s": run}, "F", known)
    assert codes(list(found)) == ["run-of-digits"] * is_slip


@pytest.mark.parametrize(
    ("said", "is_slip"),
    [
        ({}, True),
        ({"point": "p1"}, True),
        ({"point": "P2"}, False),
        ({"duplicate_of": "S0"}, False),
        ({"point": None}, False),
        ({"sample": "S0"}, False),
    ],
)
def test_one_point_is_one_place(said: dict[str, Any], is_slip: bool) -> None:
    """Two samples would stand at one point, or every duplicate would be asked about (SL-08)."""
    there = {"sample": "S0", "form": "F", "kind": "indoor", "room": "bedroom", "point": "P1"}
    found = run_slips.at_one_point({**there, "sample": "S1", **said}, "F", [there])
    assert codes(list(found)) == ["point-twice"] * is_slip


@pytest.mark.parametrize(
    ("here", "there", "code"),
    [
        ({"room": "kitchen", "point": "p1"}, {"point": "P1"}, "point-in-two-rooms"),
        ({"kind": "outdoor", "room": "outdoors", "point": "P1"}, {"point": "P1"}, "point-in-two-rooms"),
        ({"kind": "outdoor", "point": "P1"}, {"kind": "outdoor", "point": "P1"}, None),
        ({"kind": "outdoor"}, {"kind": "outdoor"}, None),
        ({"room": "kitchen", "point": "P2"}, {"point": "P1"}, None),
        ({}, {}, "room-twice"),
        ({"room": "kitchen"}, {}, None),
        ({"point": "P2"}, {}, None),
        ({"duplicate_of": "S0"}, {}, None),
        ({"kind": "blank"}, {}, None),
    ],
)
def test_a_room_and_its_points_are_told_apart(
    here: dict[str, Any], there: dict[str, Any], code: str | None
) -> None:
    """The counts of two bedrooms would stand for one, or one point of the sketch would lie in two rooms."""
    usual = {"form": "F", "kind": "indoor", "room": "bedroom"}
    found = run_slips.at_one_point(
        {**usual, "sample": "S1", **here}, "F", [{**usual, "sample": "S0", **there}]
    )
    assert codes(list(found)) == ([code] if code else [])


def test_a_flow_is_held_against_that_of_its_lot() -> None:
    """Somebody with cassettes for 5 L/min would be asked at each of them."""
    assert of_run(flow_before="3.0", flow_after="3.0", flow="3.0") == []
    assert codes(of_run(flow="5.0", flow_before="50")) == ["flow-far-off"]


def test_a_cassette_for_a_visit_that_is_sealed_is_asked_back() -> None:
    """Today's cassette would go onto yesterday's form, in an envelope that has left."""
    (found,) = of_run(VisitSoFar(DAY, "America/New_York", {"E1": "shipped", "E2": "sealed"}))
    assert found.code == "visit-closed"
    assert found.sentence == (
        "Samples of this visit are closed up already: envelopes E1 (shipped), E2 (sealed)."
    )
    assert found.asks == "Add one more cassette to this visit all the same? [y/n]"


@pytest.mark.parametrize(
    ("said", "code", "meant"),
    [
        ({"parties": {"firm": "a", "lab": "a"}}, "own-firm-as-laboratory", ""),
        ({"visit": "2027-12-01"}, "far-day", "2026-12-01"),
        ({"visit": "2025-12-02"}, "far-day", "2026-12-02"),
        ({"visit": "2026-10-01"}, "far-day", ""),
        ({"visit": "2026-12-03"}, "far-day", ""),
        ({"visit": "2026-12-29"}, "far-day", ""),
    ],
)
def test_a_slip_in_a_visit_is_known(said: dict[str, Any], code: str, meant: str) -> None:
    """A form would be addressed to whoever sends it, or lie in another year."""
    usual = {"parties": {"firm": "a", "lab": "b"}, "visit": "2026-12-01"}
    assert [(each.code, each.meant) for each in opening_slips.opened(usual | said, DAY)] == [(code, meant)]
    assert list(opening_slips.opened(usual, DAY)) == []
    assert list(opening_slips.opened(usual | {"visit": "2026-12-02"}, DAY)) == []
    assert list(opening_slips.opened(usual | {"visit": "2026-10-02"}, DAY)) == []


@pytest.mark.parametrize(
    ("visit", "is_slip"),
    [("2026-11-13", True), ("2026-11-28", True), ("2026-11-29", False), ("2026-12-01", False)],
)
def test_where_somebody_can_be_asked_a_visit_is_of_these_days(visit: str, *, is_slip: bool) -> None:
    """The day of another visit, weeks ago, would stand on the form for ever."""
    said = {"parties": {"firm": "a", "lab": "b"}, "visit": visit}
    found = list(opening_slips.opened(said, DAY, opening_slips.DAYS_LATE))
    assert [(each.code, each.meant) for each in found] == [("far-day", "")] * is_slip


@pytest.mark.parametrize(
    ("client", "site", "is_slip"),
    [
        ("12 Invented Lane", "Ms. Alder", True),
        ("ms.  ALDER", "12 Invented Lane", False),
        ("Ms. Alder", "Old Mill House", False),
        ("Old Mill House", "Birch & Co", True),
        ("New client", "Ms. Alder", True),
        ("3 Rivers Clinic", "9 Made Up Street", False),
        (None, "12 Invented Lane", False),
        (None, None, False),
    ],
)
def test_client_and_address_are_not_each_other(
    client: str | None, site: str | None, *, is_slip: bool
) -> None:
    """The notice would go to a house, and the next inspector drive to a person."""
    found = opening_slips.swapped(client, site, ["Ms. Alder"], ["Old Mill House"])
    assert codes(list(found)) == ["client-as-site"] * is_slip


def test_what_is_prepared_is_for_a_day_to_come() -> None:
    """Labels would be issued, and a kit packed, for a visit that is over."""
    for visit, wanted in (("2026-11-12", 1), ("2028-12-01", 1), ("2026-12-01", 0), (None, 0)):
        assert len(codes(list(office_slips.planned_day(visit, DAY)))) == wanted


def test_a_count_that_is_not_what_is_named_is_asked_back() -> None:
    """Four would be signed for where three were given."""
    assert codes(list(hand_over_slips.counted(4, 3))) == ["count-differs"]
    assert list(hand_over_slips.counted(3, 3)) == list(hand_over_slips.counted(None, 3)) == []


def test_a_label_is_no_seal() -> None:
    """The cassette's own number would be on record as what closed the envelope."""
    for kind, what in (("sample", "a cassette label"), ("envelope", "an envelope label"), ("form", "a form")):
        number = numbers.issue(kind, lambda _: "7")
        for text in (number, numbers.grouped(number).lower(), f"HTTPS://LEDGER.EXAMPLE/X/{number}"):
            (found,) = hand_over_slips.read_on_seal(text)
            assert found.code == "label-as-seal"
            assert f"{numbers.grouped(number)} is the number of {what}" in found.sentence
    own = numbers.issue("seal", lambda _: "7")
    assert [each.code for each in hand_over_slips.read_on_airbill(number)] == ["label-as-tracking"]
    assert list(hand_over_slips.read_on_airbill("AF-1")) == []
    for seal in (own, "HF-20417", "none", "S-4711", None, number[:-1] + "Z"):
        assert list(hand_over_slips.read_on_seal(seal)) == []


def test_a_carrier_is_offered_by_the_name_it_is_like() -> None:
    """If this fails, one letter too few leaves the clerk with a list, or with another carrier."""
    known = ["acorn-freight", "birch-post"]
    like, unlike = (hand_over_slips.unknown_carrier(name, known) for name in ("acorn-fright", "n"))
    assert (like.meant, "birch-post" in like.remedy) == ("acorn-freight", False)
    assert (unlike.meant, unlike.remedy) == ("", "On record: acorn-freight, birch-post.")


@pytest.mark.parametrize(
    ("warmth", "found"),
    [("29.9", []), ("30", ["30 F"]), ("41", ["41 F"]), ("60", ["60 F"]), ("60.1", []), (None, [])],
)
def test_a_temperature_of_either_unit_is_asked_about(warmth: str | None, found: list[str]) -> None:
    """If this fails, an envelope from a cool van is on record as one from the sun, or every one is asked
    about.
    """
    said = {"temperature_c": warmth}
    assert [each.meant for each in hand_over_slips.of_either_unit(said, "temperature_c")] == found


def test_a_run_that_goes_on_is_told_by_a_clock_that_goes_on() -> None:
    """A machine's clock has microseconds, and no statement has: the question would end as a fault."""
    said = {"sample": "S", "pump": None, "run_s": 300, "started": "2026-12-01T08:59:00-05:00"}
    now = datetime(2026, 12, 1, 14, 0, 0, 95_042, tzinfo=UTC)
    (found,) = run_slips.not_over(said, now)
    assert found.sentence == "The run (08:59, 300 s) would end at 09:04, which is later than now, 09:00."
    assert list(run_slips.not_over(said, now + timedelta(minutes=3))) == []


def test_a_record_lies_in_the_envelope_that_it_names() -> None:
    """The dock would find a record that names an envelope nobody has."""
    one, other = (numbers.issue("envelope", lambda _, digit=digit: digit) for digit in "34")  # type: ignore[misc]
    (slip,) = hand_over_slips.enclosed_in(one, "HF-20401", other)
    assert (slip.code, slip.meant) == ("another-envelope", numbers.grouped(other))
    assert list(hand_over_slips.enclosed_in(one, "HF-20401", one)) == []
    assert list(hand_over_slips.enclosed_in(one, "HF-20401", None)) == []
