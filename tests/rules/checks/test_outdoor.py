"""The outdoor control. Minutes and distances: common practice, no source, unless a check says otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain import pairing
from bailee.domain.numbers import grouped
from bailee.presentation.form_view import no_outdoor
from bailee.rules.case import Elsewhere
from builders import CLERK, DAY, FAIR, INSPECTOR, QUALITY, SECOND_INSPECTOR, Story, findings, visit


def indoors_only(kind: str = "indoor") -> Story:
    """Two indoor samples, and a third of some kind, in the clerk's hands or still with the inspector."""
    story = Story()
    story.lot(samples=6)
    story.opened()
    story.collected(0)
    story.collected(1)
    if kind != "none":
        story.collected(2, kind)
    return story


def two_visits(*, second_has_outdoor: bool = True) -> Story:
    """Two visits of one day whose samples go into one envelope: samples 0 1 2 and 3 4 (5)."""
    story = Story()
    story.lot(samples=6)
    story.opened()
    story.collected(0)
    story.collected(1)
    story.collected(2, "outdoor")
    story.opened()
    story.collected(3)
    story.collected(4)
    if second_has_outdoor:
        story.collected(5, "outdoor")
    return story


def test_a_visit_without_an_outdoor_control_cannot_be_sealed() -> None:
    """Indoor counts without outdoor air say nothing, and it is noticed weeks later (NIOSH
    Method 0800, read).
    """
    story = indoors_only("none")
    (found,) = findings(story.case(sealing=story.sealing()), "OC-01")
    assert (found.severity, found.about, found.area) == ("block", story.form, "comparison")
    assert "None is on record here" in found.sentence
    for number in (story.form, *story.samples[:2]):
        assert grouped(number) in found.sentence


def test_the_banner_stays_until_an_outdoor_control_is_taken() -> None:
    """It is forgotten until the drive home."""
    story = indoors_only("none")
    assert [each.severity for each in findings(story.case(), "OC-01")] == ["block"]
    story.collected(2, "outdoor")
    assert findings(story.case(), "OC-01") == []


def test_a_blank_is_no_outdoor_control() -> None:
    """A blank draws no air at all."""
    story = indoors_only("blank")
    assert len(findings(story.case(sealing=story.sealing()), "OC-01")) == 1


def test_a_visit_without_indoor_samples_in_the_envelope_needs_none() -> None:
    """A forgotten outdoor control sent after the others would be held back for lack of itself."""
    story = indoors_only("outdoor")
    assert findings(story.case(sealing=story.sealing([story.samples[2]])), "OC-01", "OC-10") == []
    assert findings(visit("opened").case(), "OC-01") == []


def test_an_outdoor_control_left_out_of_the_envelope_is_asked_for() -> None:
    """It was taken, and lies in the vehicle."""
    story = visit("kept")
    (found,) = findings(story.case(sealing=story.sealing(story.samples[:2])), "OC-01")
    assert found.severity == "block"
    assert (
        f"{grouped(story.samples[2])} is on record and is not in this envelope: scan it in." in found.sentence
    )
    assert findings(story.case(sealing=story.sealing()), "OC-01") == []


def test_only_the_indoor_samples_in_the_envelope_are_named() -> None:
    """The clerk would look for samples that are not on the table."""
    story = visit("kept")
    (found,) = findings(story.case(sealing=story.sealing([story.samples[0]])), "OC-01")
    assert grouped(story.samples[0]) in found.sentence
    assert grouped(story.samples[1]) not in found.sentence


def test_an_outdoor_control_that_left_in_another_envelope_is_seen() -> None:
    """The rest of a visit could never be sent after its outdoor control went ahead."""
    story = visit("kept")
    story.sealed([story.samples[2]])
    ahead = story.envelope
    story.envelope, story.seal = story.number("envelope"), story.number("seal")
    (found,) = findings(story.case(sealing=story.sealing(story.samples[:2])), "OC-01")
    assert grouped(ahead) in found.sentence
    assert "is not shipped: ship that one first" in found.sentence
    story.shipped(envelope=ahead)
    assert findings(story.case(sealing=story.sealing(story.samples[:2])), "OC-01") == []


def test_a_hand_over_without_the_outdoor_control_is_stopped() -> None:
    """Both envelopes were sealed in time and only one is given to the carrier."""
    story = visit("kept")
    story.sealed(story.samples[:2])
    indoors = story.envelope
    story.envelope, story.seal = story.number("envelope"), story.number("seal")
    story.sealed([story.samples[2]])
    assert findings(story.case(), "OC-01") == []
    (found,) = findings(story.case(shipping=story.shipping(envelope=indoors)), "OC-01")
    assert grouped(story.envelope) in found.sentence
    assert findings(story.case(shipping=story.shipping()), "OC-01") == []
    story.shipped(envelope=indoors)
    (found,) = findings(story.case(), "OC-01")
    assert found.severity == "flag"


def test_a_hand_over_names_only_what_lies_in_the_envelope() -> None:
    """The clerk would open the envelope to look for a sample that was never in it."""
    story = visit("kept")
    story.sealed([story.samples[0]])
    (found,) = findings(story.case(shipping=story.shipping()), "OC-01")
    assert grouped(story.samples[0]) in found.sentence
    assert grouped(story.samples[1]) not in found.sentence


def test_indoor_samples_sealed_without_the_outdoor_control_are_noticed_before_the_hand_over() -> None:
    """The envelope can still be opened again."""
    story = visit("kept")
    story.sealed(story.samples[:2])
    (found,) = findings(story.case(), "OC-01")
    assert found.severity == "block"
    assert "is not on the manifest with the indoor samples" in found.sentence
    (found,) = findings(story.case(shipping=story.shipping()), "OC-01")
    assert "is not in this envelope" in found.sentence


@pytest.mark.parametrize(("reason", "words"), [("dropped", "dropped"), ("pump_fault", "pump fault")])
def test_a_voided_outdoor_control_is_none(reason: str, words: str) -> None:
    """The cassette broke; the form still lists an outdoor sample."""
    story = visit("kept")
    story.voided(2, reason=reason)
    (found,) = findings(story.case(sealing=story.sealing()), "OC-01")
    assert f"{grouped(story.samples[2])} was voided ({words})" in found.sentence


def test_a_contested_outdoor_control_is_not_seen() -> None:
    """Nobody can say which air is in it."""
    story = visit("kept")
    story.collected(2, "outdoor", by=SECOND_INSPECTOR, after=None)
    (found,) = findings(story.case(sealing=story.sealing()), "OC-01")
    assert f"{grouped(story.samples[2])} has more than one collection entry" in found.sentence
    other = visit("kept")
    claimed = Elsewhere(claims={other.samples[2]: (other.number("form"),)})
    assert len(findings(other.case(sealing=other.sealing(), elsewhere=claimed), "OC-01")) == 1


def test_each_visit_in_an_envelope_needs_its_own() -> None:
    """One outdoor control would be read as that of every house in the box."""
    story = two_visits()
    assert findings(story.case(sealing=story.sealing()), "OC-01") == []
    lacking = two_visits(second_has_outdoor=False)
    (found,) = findings(lacking.case(sealing=lacking.sealing()), "OC-01", "OC-10")
    assert (found.rule, found.about) == ("OC-01", lacking.forms[1])
    assert grouped(lacking.samples[3]) in found.sentence
    assert grouped(lacking.samples[0]) not in found.sentence


def test_a_visit_that_is_not_in_the_envelope_does_not_stop_it() -> None:
    """The clerk could not send the morning's samples until the afternoon's were complete."""
    story = two_visits(second_has_outdoor=False)
    assert findings(story.case(sealing=story.sealing(story.samples[:3])), "OC-01") == []


def test_after_the_fact_it_is_a_flag() -> None:
    """What has left must be shown as it is, not blocked."""
    story = indoors_only("none")
    story.relinquished()
    story.received()
    story.sealed()
    assert [each.severity for each in findings(story.case(), "OC-01")] == ["block"]
    story.shipped()
    (found,) = findings(story.case(), "OC-01")
    assert (found.severity, found.about) == ("flag", story.form)


@pytest.mark.parametrize("fate", ["missing", "rejected"])
def test_an_outdoor_control_lost_on_the_way_was_collected(fate: str) -> None:
    """The laboratory reads that there is no outdoor control of a visit that has one on record, and is told it
    twice: what became of it stands there once, and no comparison is reported.
    """
    story = visit("shipped")
    if fate == "missing":
        story.docked(story.samples[:2])
    else:
        story.docked()
        story.rejected([story.samples[2]])
    (found,) = findings(story.case(), "OC-01", "OC-11")
    assert (found.rule, found.severity, found.about) == ("OC-11", "flag", story.samples[2])
    says = {"missing": "was collected and not received", "rejected": "was rejected by the laboratory"}
    assert f"{grouped(story.samples[2])} {says[fate]}" in found.sentence
    assert no_outdoor(story.state(), [found]) == found.sentence


@pytest.mark.parametrize(
    ("wanted", "taken", "words"), [(0, 0, ""), (1, 1, ""), (2, 1, "1 of 2"), (2, 2, ""), (2, 0, "no ")]
)
def test_a_firm_may_want_more_outdoor_controls_or_none(wanted: int, taken: int, words: str) -> None:
    """A firm's own rule for long visits would not be kept."""
    story = Story()
    story.policy(min_outdoor=wanted)
    story.lot(samples=6)
    story.opened()
    story.collected(0)
    for index in range(taken):
        story.collected(1 + index, "outdoor")
    found = findings(story.case(sealing=story.sealing()), "OC-01")
    assert [each.about for each in found] == ([story.form] if words else [])
    assert all(f"has {words}" in each.sentence for each in found)
    assert all("No other is on record here" in each.sentence for each in found if taken)


def test_why_the_second_outdoor_control_does_not_count_is_said() -> None:
    """The inspector would look for a cassette that is in the bin."""
    story = Story()
    story.policy(min_outdoor=2)
    story.lot()
    story.opened()
    story.collected(0)
    story.collected(1, "outdoor")
    story.collected(2, "outdoor")
    story.voided(2)
    (found,) = findings(story.case(), "OC-01")
    assert "1 of 2" in found.sentence
    assert f"{grouped(story.samples[2])} was voided" in found.sentence
    assert "No other" not in found.sentence


def test_a_sample_that_is_only_named_does_not_disturb_the_others() -> None:
    """A late upload of one phone would make the whole visit unreadable."""
    story = visit("collected", lot={"samples": 4})
    story.relinquished(story.samples)
    case = story.case(sealing=story.sealing(story.samples))
    assert findings(case, "OC-01", "OC-10") == []


def test_an_impossible_outdoor_control_is_recorded_by_a_second_person_and_its_limit_printed() -> None:
    """In a storm the visit is still worth sending, but nobody may compare it with anything."""
    story = indoors_only("none")
    entry = story.excepted("OC-01", story.form, reason="outdoor_impossible")
    lack, limit = findings(story.case(sealing=story.sealing()), "OC-01", "OC-12")
    assert (lack.rule, lack.severity, lack.about) == ("OC-01", "warn", story.form)
    assert QUALITY.name in lack.excepted
    assert (limit.rule, limit.severity, limit.about, limit.entries) == (
        "OC-12",
        "warn",
        story.form,
        (entry.n,),
    )
    assert "No outdoor comparison" in limit.sentence
    assert QUALITY.name in limit.sentence


@pytest.mark.parametrize(
    "changes",
    [
        {"by": INSPECTOR, "reason": "outdoor_impossible"},  # opened the form and collected (SI-11)
        {"reason": "client_accepts"},  # that is no reason why none was possible
        {"rule": "OC-02", "reason": "outdoor_impossible"},
    ],
)
def test_not_everybody_and_not_every_reason_makes_it_impossible(changes: dict[str, Any]) -> None:
    """The person who forgot it would excuse himself."""
    story = indoors_only("none")
    story.excepted(**({"rule": "OC-01", "about": story.form} | changes))
    assert [(each.rule, each.severity) for each in findings(story.case(), "OC-01", "OC-12")] == [
        ("OC-01", "block")
    ]


def test_an_exception_for_one_visit_excuses_no_other() -> None:
    """The neighbor's visit would go without its outdoor control too."""
    story = Story()
    story.lot(samples=6)
    story.opened()
    story.collected(0)
    story.excepted("OC-01", story.form, reason="outdoor_impossible")
    story.opened()
    story.collected(1)
    found = {each.about: each.severity for each in findings(story.case(), "OC-01")}
    assert found == {story.forms[0]: "warn", story.forms[1]: "block"}


@pytest.mark.parametrize(
    ("indoor", "outdoor", "zone", "rules"),
    [
        # Midnight separates nothing: 20 minutes over it are 20 minutes, and 125 are not another day. The
        # limits, 120 and 720 min: common practice, no source.
        ("2026-12-02T00:10:00-05:00", "2026-12-01T23:50:00-05:00", "America/New_York", []),
        ("2026-12-02T01:00:00-05:00", "2026-12-01T23:00:00-05:00", "America/New_York", []),  # 120 min exactly
        ("2026-12-02T01:55:00-05:00", "2026-12-01T23:50:00-05:00", "America/New_York", ["OC-03"]),  # 125 min
        ("2026-12-02T02:20:00-05:00", "2026-12-01T23:50:00-05:00", "America/New_York", ["OC-03"]),  # 150 min
        ("2026-12-01T16:00:00-05:00", "2026-12-01T09:00:00-05:00", "America/New_York", ["OC-03"]),  # 420 min
        ("2026-12-01T20:00:00-05:00", "2026-12-01T08:00:00-05:00", "America/New_York", ["OC-03"]),  # 720 min
        ("2026-12-01T20:01:00-05:00", "2026-12-01T08:00:00-05:00", "America/New_York", ["OC-02"]),  # one day
        ("2026-12-01T22:30:00-05:00", "2026-12-01T06:30:00-05:00", "America/New_York", ["OC-02"]),  # 16 hours
        ("2026-12-02T08:00:00-05:00", "2026-12-01T19:00:00-05:00", "America/New_York", ["OC-02"]),  # 780 min
        ("2026-12-01T11:00:00-05:00", "2026-12-01T09:00:00-05:00", "America/New_York", []),
        ("2026-12-01T11:00:01-05:00", "2026-12-01T09:00:00-05:00", "America/New_York", ["OC-03"]),
        ("2026-12-02T09:00:00-05:00", "2026-12-01T09:00:00-05:00", "America/New_York", ["OC-02"]),
        # Clocks went back on 2026-11-01: 00:30 to 01:40 after the change are 130 real minutes.
        ("2026-11-01T01:40:00-05:00", "2026-11-01T00:30:00-04:00", "America/New_York", ["OC-03"]),
        ("2026-11-01T01:30:00-05:00", "2026-11-01T00:30:00-04:00", "America/New_York", []),
        # One device was set to universal time: the instants count.
        ("2026-12-01T20:00:00-05:00", "2026-12-01T22:30:00+00:00", "America/New_York", ["OC-03"]),
        ("2026-12-02T01:00:00+00:00", "2026-12-01T17:30:00-05:00", "America/New_York", ["OC-03"]),
    ],
)  # fmt: skip
def test_real_minutes_are_compared_and_one_fault_is_one_finding(
    indoor: str, outdoor: str, zone: str, rules: list[str]
) -> None:
    """A good pair would be torn apart by midnight, or the air of dawn pass for that of the late evening."""
    story = Story()
    story.lot()
    story.opened(zone=zone)
    story.collected(0, started=indoor)
    story.collected(2, "outdoor", started=outdoor)
    found = findings(story.case(), "OC-02", "OC-03")
    assert [each.rule for each in found] == rules
    assert {each.rule: each.severity for each in found} == {
        rule: {"OC-02": "block", "OC-03": "warn"}[rule] for rule in rules
    }
    for each in found:
        assert each.about == story.samples[0]
        assert grouped(story.samples[0]) in each.sentence
        assert grouped(story.samples[2]) in each.sentence
        assert {"OC-02": "at most 12 h", "OC-03": "at most 120 min"}[each.rule] in each.sentence


def test_minutes_apart_are_printed() -> None:
    """A gap without a figure cannot be judged."""
    story = visit("collected", outdoor={"started": "2026-12-01T12:15:00-05:00"})
    found = {each.about: each.sentence for each in findings(story.case(), "OC-03")}
    assert "3 h 3 min" in found[story.samples[0]]
    assert "2 h 48 min" in found[story.samples[1]]


def test_the_nearest_outdoor_control_is_judged_whatever_its_day() -> None:
    """One was taken four hours before midnight, and a later one of the same date would hide nothing of it."""
    story = Story()
    story.lot()
    story.opened()
    story.collected(0, started="2026-12-02T00:10:00-05:00")
    story.collected(1, "outdoor", started="2026-12-01T20:00:00-05:00")
    assert [each.rule for each in findings(story.case(), "OC-02", "OC-03")] == ["OC-03"]
    story.collected(2, "outdoor", started="2026-12-02T06:00:00-05:00")
    assert [each.rule for each in findings(story.case(), "OC-02", "OC-03")] == ["OC-03"]
    nearest = pairing.pairs(story.state())[0]
    assert nearest.outdoor is not None
    assert (nearest.outdoor.number, nearest.same_day) == (story.samples[1], False)


def test_the_firm_may_soften_and_a_second_person_except_the_other_day() -> None:
    """A rule that a firm set for itself must be the one that speaks."""
    far = {"started": "2026-12-02T09:00:00-05:00"}
    soft = visit("collected", policy={"outdoor_gap_block": False}, outdoor=far)
    assert {each.severity for each in findings(soft.case(), "OC-02")} == {"warn"}
    wide = visit("collected", policy={"outdoor_gap_min": 1440}, outdoor=far)  # wider than outdoor_far_min
    assert findings(wide.case(), "OC-02", "OC-03") == []
    story = visit("kept", outdoor=far)
    story.excepted("OC-02", story.samples[0])
    found = {each.about: each.severity for each in findings(story.case(sealing=story.sealing()), "OC-02")}
    assert found == {story.samples[0]: "warn", story.samples[1]: "block"}
    assert {each.severity for each in findings(visit("shipped", outdoor=far).case(), "OC-02")} == {"flag"}


def test_pairs_outside_the_envelope_are_not_asked_about() -> None:
    """The clerk would be stopped by a sample that stays behind."""
    story = visit("kept", first={"started": "2026-12-03T09:00:00-05:00"})
    packed = story.sealing(story.samples[1:])
    assert findings(story.case(sealing=packed), "OC-02", "OC-03") == []


@pytest.mark.parametrize(
    ("distance", "fires"),
    [
        ("3.048", False),  # 10 ft exactly
        ("3.04", False),
        ("3.038", False),
        ("3.037", True),
        ("0", True),
        (None, False),
    ],
)
def test_the_distance_to_a_building_is_compared_with_a_tolerance(distance: str | None, fires: bool) -> None:
    """The air beside a wall is the air of the house."""
    story = visit("collected", outdoor={"distance_m": distance})
    found = findings(story.case(), "OC-04")
    assert [(each.severity, each.about) for each in found] == [("warn", story.samples[2])] * fires
    for each in found:
        assert f"{distance} m" in each.sentence
        assert "3.048 m (10 ft)" in each.sentence
        assert grouped(story.samples[2]) in each.sentence


@pytest.mark.parametrize(
    ("weather", "rule", "words"),
    [
        (None, "OC-07", "No weather on record"),
        (FAIR, None, ""),
        ({**FAIR, "sky": "overcast", "wind": "calm"}, None, ""),
        ({**FAIR, "sky": "rain"}, "OC-08", "rain"),
        ({**FAIR, "sky": "fog"}, "OC-08", "fog"),
        ({**FAIR, "sky": "snow", "snow_cover": True}, "OC-08", "snow and snow cover"),
        ({**FAIR, "wind": "strong", "mowing": True}, "OC-08", "strong wind and mowing"),
        ({**FAIR, "snow_cover": True}, "OC-08", "snow cover"),
    ],
)
def test_weather_is_recorded_and_what_is_unusual_is_printed(
    weather: Any, rule: str | None, words: str
) -> None:
    """Rain washes the air clean, and every house looks bad beside it."""
    story = visit("collected", outdoor={"weather": weather})
    found = findings(story.case(), "OC-07", "OC-08")
    expected = [(rule, "warn", story.samples[2])] if rule else []
    assert [(each.rule, each.severity, each.about) for each in found] == expected
    assert all(words in each.sentence and grouped(story.samples[2]) in each.sentence for each in found)


def test_an_outdoor_control_claimed_by_two_visits_belongs_to_neither_yet() -> None:
    """Next door's outdoor control is attached to this house (domain catalog 8, scenario 7)."""
    story = two_visits(second_has_outdoor=False)
    story.collected(2, "outdoor", by=CLERK)
    found = findings(story.case(sealing=story.sealing()), "OC-10")
    assert [(each.severity, each.about) for each in found] == [("block", story.samples[2])] * 2
    told = " ".join(each.sentence for each in found)
    assert grouped(story.forms[0]) in told
    assert grouped(story.forms[1]) in told
    beyond = visit("shipped")
    number = beyond.number("form")
    (late,) = findings(beyond.case(elsewhere=Elsewhere(claims={beyond.samples[2]: (number,)})), "OC-10")
    assert late.severity == "flag"
    assert grouped(number) in late.sentence


def test_an_outdoor_duplicate_of_a_sample_elsewhere_belongs_elsewhere() -> None:
    """The parent was scanned on the other house's list."""
    story = two_visits(second_has_outdoor=False)
    story.collected(5, "outdoor", duplicate_of=story.samples[2])
    (found,) = findings(story.case(), "OC-10")
    assert (found.severity, found.about) == ("block", story.samples[5])
    assert grouped(story.samples[2]) in found.sentence
    good = visit("collected")
    good.samples.append(good.number("sample"))
    good.collected(3, "outdoor", duplicate_of=good.samples[2])
    assert findings(good.case(), "OC-10") == []


def test_an_outdoor_control_alone_on_its_form_cannot_stand_for_another() -> None:
    """It was entered on a form opened by mistake, and the envelope looks complete."""
    story = indoors_only("none")
    wrong = story.opened().chain.removeprefix("form/")
    story.collected(2, "outdoor")
    story.relinquished([story.samples[5]])  # a number that nobody collected is no indoor sample
    (found,) = findings(story.case(sealing=story.sealing()), "OC-10")
    assert (found.severity, found.about) == ("block", story.samples[2])
    assert grouped(wrong) in found.sentence
    assert grouped(story.forms[0]) in found.sentence
    assert findings(story.case(), "OC-10") == []  # nothing is about to be sealed with it
    story.voided(2)
    story.collected(2, "outdoor", form=story.forms[0])
    assert findings(story.case(sealing=story.sealing()), "OC-01", "OC-10", "CL-01") == []


def test_an_outdoor_control_excused_from_the_office_stops() -> None:
    """Whoever was never there excuses what the inspector forgot, and the record says that
    it was impossible.
    """
    story = indoors_only("none")
    story.excepted("OC-01", story.form, reason="outdoor_impossible")
    found = findings(story.case(sealing=story.sealing()), "OC-01", "OC-16")
    assert {each.rule: each.severity for each in found} == {"OC-01": "warn", "OC-16": "block"}
    stop = found[0]
    assert stop.sentence == (
        f"Quality One allowed OC-01 for visit {grouped(story.form)}; no entry of a person on site gives a"
        " reason."
    )
    assert [told["act"] for told in stop.acts] == ["outdoor_ruled_out", "excepted"]


def test_whoever_is_on_site_rules_it_out_and_somebody_else_allows_it() -> None:
    """In a storm nobody should go outdoors, and the samples would lie in the office for ever."""
    story = indoors_only("none")
    story.outdoor_ruled_out()
    assert [each.severity for each in findings(story.case(), "OC-01")] == ["block"]
    story.excepted("OC-01", story.form, reason="outdoor_impossible")
    found = findings(story.case(sealing=story.sealing()), "OC-01", "OC-12", "OC-16")
    assert [(each.rule, each.severity) for each in found] == [("OC-01", "warn"), ("OC-12", "warn")]


def test_what_is_ruled_out_only_after_it_was_allowed_is_allowed_once_more() -> None:
    """The second person allowed a guess. Once the word from the site is there they look again."""
    story = indoors_only("none")
    story.excepted("OC-01", story.form, reason="outdoor_impossible", said=f"{DAY}T09:20:00-05:00")
    story.outdoor_ruled_out()
    assert [each.severity for each in findings(story.case(), "OC-16")] == ["block"]
    story.excepted("OC-01", story.form, reason="outdoor_impossible")
    assert findings(story.case(), "OC-16") == []


def test_a_second_inspector_who_collected_there_knows_it() -> None:
    """Two inspectors stand in the same storm, and a third person in the office is asked."""
    story = indoors_only("none")
    second = story.collected(2, by=SECOND_INSPECTOR)
    story.say("witnessed", {"statements": [second.digest]}, {}, by=QUALITY, at=f"{DAY}T10:00:00-05:00")
    story.excepted("OC-01", story.form, reason="outdoor_impossible")
    assert findings(story.case(), "OC-16") == []
