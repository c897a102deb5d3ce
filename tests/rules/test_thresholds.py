"""A firm's form is judged by its laboratory's limits too, and the finding says whose limit it was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import pytest

from bailee.domain import numbers
from bailee.domain.policy import Policy
from bailee.rules import registry
from bailee.rules.case import Case
from bailee.rules.thresholds import figure
from builders import DAY, FIRM, LAB, LAB_ROOT, PREPARED, Step, Story, findings, visit

ON_PAPER: Final = {"dock_blind"}
"""What a paper leaves out, and no rule finds: `tests/documents/test_sealed_sheet.py`."""
LIMIT: Final = "This is the laboratory's limit of"
ANOTHER_DAY: Final = {"started": "2026-12-02T13:00:00-05:00"}
AHEAD: Final = {"said": f"{DAY}T09:40:00-05:00", "rec": f"{DAY}T09:30:00-05:00"}
NO_AIR: Final = {
    "run_s": 0,
    "planned_s": 0,
    "pump": None,
    "meter": None,
    "flow_before": None,
    "flow_after": None,
}
DUPLICATE: Final = {"duplicate_of": visit("opened").samples[0], "pump": "PUMP-2"}
UNREAD: Final = {"flow_before": None, "flow_after": None}
CHECKED_ONCE: Final = {"first": UNREAD, "second": UNREAD, "outdoor": UNREAD, "pump_checked": {}}
AIRED: Final = {"preparation": PREPARED | {"fresh_air": "running"}}
OTHER_LOT: Final = numbers.issue("lot", lambda _: "3")
NOBODY_S: Final = {"sample": numbers.issue("sample", lambda _: "3"), "condition": ["intact"]}

# One story for each threshold: what the firm set, what the laboratory published, what was spoilt, and the
# rule that speaks then.
# A whole visit without a fault has readings on both sides of any limit that is strict enough.
STORIES: Final[list[tuple[str, Mapping[str, Any], Any, Mapping[str, Any], str]]] = [
    ("min_cassettes", {}, 4, {}, "SL-02"),
    ("min_indoor", {}, 3, {}, "SL-01"),
    ("min_outdoor", {}, 2, {}, "OC-01"),
    ("outdoor_gap_min", {}, 1, {}, "OC-03"),
    ("outdoor_far_min", {"outdoor_gap_min": 1}, 2, {}, "OC-02"),
    ("outdoor_gap_block", {"outdoor_gap_block": False}, True, {"outdoor": ANOTHER_DAY}, "OC-02"),
    ("outdoor_distance_m", {}, "5", {}, "OC-04"),
    ("rain_h", {}, "31", {}, "OC-17"),
    ("height_min_m", {}, "1.6", {}, "SL-04"),
    ("height_max_m", {}, "1.4", {}, "OC-06"),
    ("length_tolerance_m", {"length_tolerance_m": "0.1"}, "0.01", {"first": {"height_m": "1.9"}}, "SL-04"),
    ("flow_tolerance_pct", {}, "0.1", {}, "PV-03"),
    ("drift_warn_pct", {}, "0.1", {}, "PV-04"),
    ("drift_block_pct", {}, "0.1", {}, "PV-05"),
    ("run_tolerance_s", {}, 0, {"first": {"run_s": 298}}, "PV-08"),
    ("run_warn_pct", {}, "1", {"first": {"run_s": 290}}, "PV-08"),
    ("preparation_h", {}, "100", {}, "VP-01"),
    ("day_check_after", {"day_check_after": False}, True, CHECKED_ONCE, "PV-02"),
    ("fresh_air_off", {"fresh_air_off": False}, True, {"opened": AIRED}, "VP-14"),
    ("expiry_grace_days", {"expiry_grace_days": 5}, 0, {"lot": {"expiry": "2026-11-30"}}, "ML-02"),
    ("expiry_near_days", {}, 1000, {}, "ML-05"),
    ("same_lot_wanted", {"same_lot_wanted": False}, True, {"second": {"lot": OTHER_LOT}}, "ML-11"),
    ("hand_over_warn_min", {}, 1, {}, "CU-03"),
    ("hand_over_break_min", {"hand_over_warn_min": 1}, 2, {}, "CU-03"),
    ("unsecured_h", {}, "0", {}, "SE-10"),
    ("unsecured_block_h", {"unsecured_h": "0"}, "0.01", {}, "SE-10"),
    ("clock_warn_s", {"clock_warn_s": 900}, 120, {"first": AHEAD}, "CU-08"),
    ("clock_flag_s", {}, 300, {"first": AHEAD}, "CU-08"),
    ("late_note_min", {}, 0, {}, "CU-15"),
    ("late_warn_h", {"late_note_min": 0}, "0", {}, "CU-15"),
    ("hold_warn_h", {}, "24", {}, "SH-02"),
    ("hold_block_h", {}, "24", {}, "SH-02"),
    ("receipt_lag_h", {}, "0.1", {}, "RC-08"),
    ("media_storage_min_c", {}, "10", {"lot": {"coldest_c": "8"}}, "ML-12"),
    ("media_storage_max_c", {}, "25", {"lot": {"warmest_c": "28"}}, "ML-12"),
    ("serial_required", {"serial_required": False}, True, {"first": {"serial": None}}, "CL-03"),
    ("typed_warn_pct", {"typed_warn_pct": "50"}, "20", {"first": {"entered": "typed"}}, "CL-07"),
    ("undisturbed_h", {}, "72", {"opened": {"preparation": PREPARED | {"works_h_ago": "48"}}}, "VP-04"),
    ("notice_h", {}, "100", {}, "VP-12"),
    (
        "license_block",
        {"license_block": False},
        True,
        {"opened": {"license": {"jurisdiction": "US-NY"}}},
        "VP-06",
    ),
    ("spare_cassettes", {}, 2, {}, "VP-09"),
    ("min_reference", {}, 2, {}, "SL-03"),
    ("draft_distance_m", {}, "2", {"first": {"near": ["fan"], "near_m": "1.5"}}, "SL-06"),
    ("picture_wanted", {"picture_wanted": False}, True, {"first": {"point": None}}, "SL-09"),
    ("gps_distance_m", {}, "10", {}, "SL-10"),
    ("flow_required", {"flow_required": False}, True, {"first": {"flow_after": None}}, "PV-02"),
    ("meter_certificate_days", {}, 100, {}, "PV-06"),
    (
        "meter_certificate_block",
        {"meter_certificate_block": False, "meter_certificate_days": 100},
        True,
        {},
        "PV-06",
    ),
    ("meter_effect_pct", {}, "0.5", {}, "PV-07"),
    ("walk_s", {}, 900, {}, "PV-11"),
    ("volume_min_l", {}, "100", {}, "PV-12"),
    ("cavity_volume_min_l", {}, "100", {"first": {"cavity": {}}}, "PV-12"),
    ("volume_max_l", {}, "60", {}, "PV-12"),
    ("volume_gap_pct", {}, "1", {"outdoor": {"run_s": 290}}, "PV-13"),
    ("outdoor_alike_pct", {}, "1", {"outdoor": {"run_s": 290}}, "OC-09"),
    ("long_visit_h", {}, "0.1", {}, "OC-13"),
    ("min_blanks", {}, 1, {}, "BD-01"),
    ("samples_per_blank", {"min_blanks": 1}, 1, {"second": {"kind": "blank", **NO_AIR}}, "BD-01"),
    ("side_by_side_s", {}, 30, {"second": {**DUPLICATE, "started": f"{DAY}T09:12:45-05:00"}}, "BD-06"),
    ("consecutive_h", {"consecutive_h": "0"}, "1", {"second": DUPLICATE}, "BD-07"),
    ("blind_blanks", {}, True, {"second": {"kind": "blank", **NO_AIR}}, "BD-08"),
    ("tracking_required", {"tracking_required": False}, True, {"shipped": {"tracking": None}}, "SH-06"),
    (
        "record_enclosed_required",
        {"record_enclosed_required": False},
        True,
        {"sealed": {"record_enclosed": False}},
        "SE-08",
    ),
    ("seal_photo_wanted", {}, True, {}, "SE-05"),
    ("transit_high_c", {}, "30", {"shipped": {"forecast_high_c": "35"}}, "SH-07"),
    ("transit_low_c", {}, "0", {"shipped": {"forecast_low_c": "-5"}}, "SH-07"),
    ("call_working_days", {}, 0, {"docked": {"dock": {"seal_state": "broken"}}}, "RC-10"),
    ("keep_working_days", {"keep_working_days": 0}, 5, {"docked": {"items": [NOBODY_S]}}, "RC-11"),
    (
        "temperature_wanted",
        {"temperature_wanted": False},
        True,
        {"docked": {"dock": {"temperature_c": None}}},
        "RC-14",
    ),
    ("most_hand_overs", {}, 2, {}, "CU-18"),
    ("copy_h", {}, "0", {"second": {"after": None}}, "SI-10"),
]
# Those that are only asked while the envelope waits or travels: the laboratory's limit, how far the story
# goes, when somebody asks.
ON_THE_WAY: Final[list[tuple[str, Any, Step, str, str]]] = [
    ("hours_age_days", 20, "shipped", f"{DAY}T15:40:00-05:00", "SH-08"),
    ("unshipped_h", "1", "sealed", f"{DAY}T15:30:00-05:00", "SH-09"),
    ("overdue_h", "1", "shipped", "2026-12-02T12:00:00-06:00", "SH-10"),
]


def published(story: Story, **limits: Any) -> Case:
    """The laboratory publishes what it accepts, and somebody asks."""
    said = "2026-01-06T10:00:00-06:00"
    story.add(f"org/{LAB}", "policy_set", {"policy": {"edition": 1, **limits}}, by=LAB_ROOT, said=said)
    return story.case()


@pytest.mark.parametrize(
    ("name", "firm", "lab", "spoilt", "rule"), STORIES, ids=[each[0] for each in STORIES]
)
def test_the_laboratory_s_stricter_limit_finds_and_is_named(
    name: str, firm: Mapping[str, Any], lab: Any, spoilt: Mapping[str, Any], rule: str
) -> None:
    """If this fails, the laboratory rejects what the check found good, or nobody can say by whose limit it
    was found.
    """
    story = visit("docked", policy=firm, **spoilt)
    before = findings(story.case(), rule)
    case = published(story, **{name: lab})
    found = [each for each in findings(case, rule) if LIMIT in each.sentence]
    assert found
    assert not any(LIMIT in each.sentence for each in before)
    assert {(each.about, each.severity) for each in found} - {(each.about, each.severity) for each in before}
    limit = getattr(Policy.from_data({"edition": 1, name: lab}), name)
    own = getattr(Policy.from_data({"edition": 1, **firm}), name)
    for each in found:
        assert f"{figure(name, limit)} ({name}); the firm's own is {figure(name, own)}." in each.sentence


@pytest.mark.parametrize(
    ("name", "lab", "upto", "at", "rule"), ON_THE_WAY, ids=[each[0] for each in ON_THE_WAY]
)
def test_on_the_way_the_laboratory_s_limit_finds_and_is_named(
    name: str, lab: Any, upto: Step, at: str, rule: str
) -> None:
    """If this fails, the office chases an envelope later than its laboratory expects, or does not know why it
    should.
    """
    story = visit(upto)
    assert findings(story.case(at), rule) == []
    published(story, **{name: lab})
    (found,) = findings(story.case(at), rule)
    own, theirs = (
        figure(name, getattr(each, name)) for each in (Policy(), Policy.from_data({"edition": 1, name: lab}))
    )
    assert f"{LIMIT} {theirs} ({name}); the firm's own is {own}." in found.sentence


def test_no_threshold_is_left_out_of_the_stories() -> None:
    """If this fails, a threshold was added and nobody tried whether the laboratory's is heard."""
    told = {each[0] for each in (*STORIES, *ON_THE_WAY)}
    assert told == set(Policy.keys) - {"edition", *ON_PAPER}
    spoken = {each[4] for each in (*STORIES, *ON_THE_WAY)}
    assert spoken <= set(registry.RULES)


def test_the_firm_s_own_stricter_limit_is_not_put_on_the_laboratory() -> None:
    """If this fails, a firm blames its laboratory for its own rule."""
    story = visit("docked", policy={"hold_warn_h": "12"})
    case = published(story, hold_warn_h="24")
    (found,) = findings(case, "SH-02")
    assert "limit at most 12 h" in found.sentence
    assert LIMIT not in found.sentence


def test_what_the_laboratory_did_not_say_stays_the_firm_s_affair() -> None:
    """If this fails, one published limit drags all the program's defaults with it."""
    story = visit("docked", policy={"min_cassettes": 1, "min_indoor": 1}, second={"kind": "outdoor"})
    assert findings(published(story, hold_warn_h="72"), "SL-01", "SL-02") == []


def test_an_unpublished_policy_is_no_limit() -> None:
    """If this fails, a firm that loosened a threshold is held to the default of a laboratory that never
    spoke.
    """
    assert findings(visit("docked", policy={"hold_warn_h": "900", "min_cassettes": 9}).case(), "SH-02") == []


def test_a_firm_that_analyzes_its_own_samples_has_one_policy() -> None:
    """If this fails, an in-house laboratory is told that its own limit is somebody else's."""
    story = Story()
    story.policy(min_cassettes=5)
    story.lot()
    story.opened(parties={"firm": FIRM, "lab": FIRM})
    story.collected(0)
    (found,) = findings(story.case(), "SL-02")
    assert LIMIT not in found.sentence


def test_an_envelope_about_to_be_sealed_is_judged_by_both() -> None:
    """If this fails, the clerk seals what the laboratory will send back."""
    story = visit("handed_over")
    case = replace(published(story, unsecured_block_h="0.1"), drafts=(story.sealing(),))
    (found,) = (each for each in findings(case, "SE-10") if each.severity == "block")
    assert (found.about, LIMIT in found.sentence) == (story.envelope, True)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("hold_warn_h", "48", "48 h"),
        ("drift_warn_pct", "5.5", "5.5 %"),
        ("outdoor_gap_min", 90, "90 min"),
        ("outdoor_gap_block", True, "yes"),
        ("same_lot_wanted", False, "no"),
        ("min_indoor", 3, "3"),
        ("clock_flag_s", 60, "60 s"),
        ("height_max_m", "1.8288", "1.8288 m"),
        ("expiry_near_days", 14, "14 days"),
    ],
)
def test_a_limit_is_said_with_its_unit(name: str, value: Any, words: str) -> None:
    """If this fails, a person reads a limit of 48 and does not know whether these are hours or minutes."""
    assert figure(name, getattr(Policy.from_data({"edition": 1, name: value}), name)) == words
