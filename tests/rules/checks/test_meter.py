"""The flow meter.

That both readings are taken is from county-filed air sampling plans (read); intervals are common practice.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.errors import BadStatement
from bailee.rules.registry import REFUSALS
from builders import BEFORE_AND_AFTER, DAY, INSPECTOR, QUALITY, Story, findings, visit
from published import rows

UNREAD = {"flow_before": None, "flow_after": None}


@pytest.mark.parametrize(
    ("flows", "words"),
    [
        ({}, ""),
        ({"flow_before": None}, "No flow on record before"),
        ({"flow_after": None}, "No flow on record after"),
        (UNREAD, "its volume cannot be computed"),
    ],
)
def test_a_sample_without_both_readings_is_stopped(flows: dict[str, Any], words: str) -> None:
    """The count would be divided by a volume nobody measured."""
    for upto, severity in BEFORE_AND_AFTER:
        story = visit(upto, first=flows)
        found = findings(story.case(), "PV-02")
        assert [(each.severity, each.about) for each in found] == (
            [(severity, story.samples[0])] if words else []
        )
        assert all(words in each.sentence and grouped(story.samples[0]) in each.sentence for each in found)


def test_an_outdoor_control_needs_its_flow_and_a_blank_has_none() -> None:
    """A control of unknown volume compares with nothing; a true blank would be stopped for drawing no air."""
    story = visit("collected", outdoor=UNREAD)
    story.collected(story.number("sample"), "blank")
    assert [each.about for each in findings(story.case(), "PV-02")] == [story.samples[2]]


def test_a_missing_flow_is_excepted_by_a_second_person_and_cured_by_saying_it() -> None:
    """A reading that was taken and left out could not be put right, or one person alone would wave it
    through.
    """
    story = visit("kept", first=UNREAD)
    story.excepted("PV-02", story.samples[0], by=INSPECTOR)
    assert [each.severity for each in findings(story.case(sealing=story.sealing()), "PV-02")] == ["block"]
    story.excepted("PV-02", story.samples[0])
    (found,) = findings(story.case(sealing=story.sealing()), "PV-02")
    assert (found.severity, QUALITY.name in found.excepted) == ("warn", True)
    cured = visit("kept", first=UNREAD)
    claim = cured.state().samples[cured.samples[0]].claims[0].entry
    cured.corrected(claim, "flow_before", "15.0", reason="left_out")
    assert len(findings(cured.case(), "PV-02")) == 1
    cured.corrected(claim, "flow_after", "15.0", reason="left_out")
    assert findings(cured.case(), "PV-02") == []


def test_a_firm_may_be_content_with_a_warning_about_missing_flow() -> None:
    """A firm that checks its pumps by the week would be stopped on every envelope."""
    story = visit("shipped", policy={"flow_required": False}, first=UNREAD)
    assert [each.severity for each in findings(story.case(), "PV-02")] == ["warn"]


@pytest.mark.parametrize(
    ("meter", "severity", "words"),
    [
        ({"certified": "2025-12-01"}, None, ""),  # 365 days before the visit: the limit itself is in order
        ({"certified": "2025-11-30"}, "block", "366 days old; the limit is at most 365"),
        ({"certified": "2020-01-01", "valid_to": "2026-11-30"}, "block", "valid to 2026-11-30"),
        ({"certified": "2026-06-15", "valid_to": DAY}, None, ""),
        ({"certified": None, "valid_to": DAY}, None, ""),
        ({"certified": None, "valid_to": None}, "warn", "no calibration certificate"),
        ({"certified": "2026-12-02"}, "warn", "no calibration certificate"),  # certified the day after
    ],
)
def test_a_meter_out_of_certificate_stops_what_was_read_with_it(
    meter: dict[str, Any], severity: str | None, words: str
) -> None:
    """Every volume of a year rests on a meter that may read a tenth too high (AIHA Synergist 2018, read)."""
    for upto, grave in (("collected", severity), ("shipped", "flag" if severity == "block" else severity)):
        story = visit("opened")
        story.equipment("METER-7", **meter)
        story = told_with(story, upto, "METER-7")
        found = findings(story.case(), "PV-06")
        assert [(each.severity, each.about) for each in found] == (
            [(grave, story.samples[0])] if severity else []
        )
        assert all(words in each.sentence and "METER-7" in each.sentence for each in found)


def told_with(story: Story, upto: str, meter: str | None) -> Story:
    """The rest of a visit whose first cassette was read with another meter."""
    story.collected(0, meter=meter)
    story.collected(1)
    story.collected(2, "outdoor")
    if upto == "shipped":
        story.relinquished()
        story.received()
        story.sealed()
        story.shipped()
    return story


@pytest.mark.parametrize(
    ("meter", "words"),
    [("METER-8", "METER-8, for which no calibration certificate"), (None, "a meter that is not named")],
)
def test_a_meter_that_nobody_listed_is_a_warning(meter: str | None, words: str) -> None:
    """The borrowed meter would pass because nobody knows anything about it."""
    story = told_with(visit("opened"), "collected", meter)
    (found,) = findings(story.case(), "PV-06")
    assert (found.severity, found.about) == ("warn", story.samples[0])
    assert words in found.sentence


def test_a_new_certificate_does_not_make_last_year_s_readings_good() -> None:
    """The meter comes back from calibration, and everything read with it before looks certified."""
    story = visit("opened")
    story.equipment("METER-7", certified="2025-01-10")
    story.equipment("METER-7", certified="2026-12-15")
    (found,) = findings(told_with(story, "collected", "METER-7").case(), "PV-06")
    assert (found.severity, "2025-01-10" in found.sentence) == ("block", True)


def test_a_certificate_is_excepted_by_a_second_person_or_only_warned_of_by_policy() -> None:
    """The only meter is away, and the firm must still be able to say so and send."""
    story = visit("kept", policy={"meter_certificate_days": 100})
    assert {each.severity for each in findings(story.case(), "PV-06")} == {"block"}
    story.excepted("PV-06", story.samples[0], by=INSPECTOR)
    story.excepted("PV-06", story.samples[1])
    stops, allowed = findings(story.case(), "PV-06")
    assert (stops.severity, stops.samples) == ("block", (story.samples[0], story.samples[2]))
    assert (allowed.severity, allowed.about) == ("warn", story.samples[1])
    loose = visit("kept", policy={"meter_certificate_days": 100, "meter_certificate_block": False})
    assert {each.severity for each in findings(loose.case(), "PV-06")} == {"warn"}


# The textbook square root of the density ratio, from memory. 760 mmHg = 1013.25 hPa and 630 mmHg = 839.93 hPa
# (conventional).
MOUNTAIN = {"temperature_c": "19.85", "pressure_hpa": "839.93", "flow_before": "15.0", "flow_after": "15.0"}
SEA_LEVEL = {"calibrated_c": "24.85", "calibrated_hpa": "1013.25"}


def on_a_mountain(**changes: Any) -> Story:
    """One cassette at altitude, with a meter calibrated at sea level."""
    story = visit("opened")
    story.equipment("METER-7", **SEA_LEVEL)
    story.collected(0, **{"meter": "METER-7", **MOUNTAIN, **changes})
    return story


def test_a_meter_at_altitude_is_a_warning_with_the_real_flow() -> None:
    """A sixth more air was drawn than the report says, and every concentration is too high."""
    ((*_, actual),) = rows("trade", "rotameter")
    story = on_a_mountain()
    (found,) = findings(story.case(), "PV-07")
    assert (found.severity, found.about) == ("warn", story.samples[0])
    assert f"{actual} L/min" in found.sentence
    assert "+8.9 %" in found.sentence
    # 1 inHg = 33.8639 hPa (NIST SP 811 appendix B, from memory): both units, for whoever reads one alone.
    assert "839.93 hPa (24.80 inHg)" in found.sentence
    assert "19.85 °C (68 °F)" in found.sentence


@pytest.mark.parametrize(
    "known",
    [
        {"flow_corrected": True},
        {"temperature_c": None},
        {"pressure_hpa": None},
        {"meter": None},
        {"meter": "METER-0"},
        UNREAD,
    ],
)
def test_a_corrected_reading_or_an_unknown_condition_is_not_judged(known: dict[str, Any]) -> None:
    """Somebody who corrected his readings would be told to correct them again."""
    assert findings(on_a_mountain(**known).case(), "PV-07") == []


@pytest.mark.parametrize(
    ("calibrated", "used", "fires"),
    # Exactly +5 % and -5 %: 1102.5 / 1000 is 1.05 squared, 902.5 / 1000 is 0.95 squared.
    [
        ("1102.5", "1000", False),
        ("1102.5", "999.9", True),
        ("902.5", "1000", False),
        ("902.5", "1000.1", True),
        ("1000", "1000", False),
    ],
)
def test_the_error_must_be_strictly_more_than_the_limit(calibrated: str, used: str, fires: bool) -> None:
    """A city at some height would be warned of every day, or one above it never."""
    story = visit("opened")
    story.equipment("METER-7", calibrated_c="20", calibrated_hpa=calibrated)
    story.collected(0, meter="METER-7", temperature_c="20", pressure_hpa=used)
    assert bool(findings(story.case(), "PV-07")) is fires


def test_the_altitude_warning_stays_a_warning_after_shipping() -> None:
    """A remark about a figure would become a flag on custody."""
    story = on_a_mountain()
    story.collected(1)
    story.collected(2, "outdoor")
    story.relinquished()
    story.received()
    story.sealed()
    story.shipped()
    assert [each.severity for each in findings(story.case(), "PV-07")] == ["warn"]


@pytest.mark.parametrize(
    ("outdoor", "words"),
    [
        ({}, ""),
        ({"pump": "PUMP-2"}, "PUMP-1 was used indoors and PUMP-2 outdoors ("),
        ({"meter": "METER-2"}, "METER-1 was used indoors and METER-2 outdoors ("),
        ({"pump": None, "meter": None}, ""),
    ],
)
def test_another_instrument_outdoors_is_noted(outdoor: dict[str, Any], words: str) -> None:
    """Two instruments differ as much as two airs, and nobody would think of it."""
    for upto in ("collected", "accepted"):
        story = visit(upto, outdoor=outdoor)
        found = findings(story.case(), "PV-15")
        assert [(each.severity, each.about, each.area) for each in found] == (
            [("note", story.form, "comparison")] if words else []
        )
        for each in found:
            assert words in each.sentence
            assert all(grouped(number) in each.sentence for number in story.samples)


@pytest.mark.parametrize(
    ("typed", "words"),
    [({"volume_l": "75"}, "PV-01"), ({"stopped": f"{DAY}T09:15:20-05:00"}, "PV-09")],
)
def test_what_cannot_be_true_is_refused_before_it_is_recorded(typed: dict[str, Any], words: str) -> None:
    """`75` on every line, and five minutes of a pump that stopped after three, would stand signed in the
    ledger.
    """
    story = visit("opened")
    with pytest.raises(BadStatement, match=words):
        story.collected(0, flow_before="14.0", flow_after="14.0", **typed)
    assert REFUSALS[words].by == "bailee.domain.acts.form.Collected"
    agreeing = {"volume_l": "75.0", "stopped": f"{DAY}T09:17:30-05:00"}
    story.collected(0, flow_before="15.0", flow_after="15.0", **agreeing)
    assert findings(story.case(), "PV-02", "PV-08", "PV-12") == []
