"""One fault is said once, before it is signed, and about what is asked: the leading finding stays, its
consequences are silent.

Which finding leads is common practice, no source; that a count is exact and a link two-sided: 49 CFR 40.199
by analogy, Cal/OSHA P&P C-1H.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any, Final

import pytest

from bailee.domain.acts.form import Item, Received, Voided
from bailee.domain.acts.mentions import airbill
from bailee.domain.numbers import grouped
from bailee.domain.statements import Draft
from bailee.presentation.sample_view import sample_views
from bailee.rules.case import Case, Elsewhere
from bailee.rules.registry import Finding, evaluate
from builders import (
    CARRIER,
    CLERK,
    DAY,
    FIRM,
    INSPECTOR,
    LAB,
    QUALITY,
    SECOND_INSPECTOR,
    Person,
    Story,
    findings,
    visit,
)


def stops(case: Case) -> list[str]:
    """Rules that stop what is asked, each as often as it says so."""
    return [each.rule for each in evaluate(case) if each.severity == "block"]


def taking(story: Story, by: Person, *samples: str) -> list[Finding]:
    """What is said before somebody signs that they took samples."""
    case = story.case()
    items = [Item(sample=each, condition=["intact"]) for each in samples or story.samples]
    asked = Draft("received", Received.so_far(items=items, at=case.at), by.org, by.kid)
    return [each for each in evaluate(told(case, asked)) if each.is_proposed]


def told(case: Case, draft: Draft[Any]) -> Case:
    """The same case with something about to be said."""
    return replace(case, drafts=(draft,))


# A hand-over of which one half is missing


def test_cassettes_given_and_not_taken_are_one_fault() -> None:
    """The clerk reads three rules for one missing word, and does not see that one `take` cures them all."""
    story = visit("relinquished")
    found = evaluate(story.case(sealing=story.sealing()))
    assert {each.rule for each in found if each.severity == "block"} == {"CU-01"}
    assert all(
        each.acts == ({"act": "received", "sample": each.about, "condition": None, "at": None},)
        for each in found
        if each.rule == "CU-01"
    )
    story.received()
    story.held(by=CLERK)
    assert stops(story.case(sealing=story.sealing())) == []


def test_cassettes_given_to_somebody_else_are_two_faults() -> None:
    """Whoever seals was not meant at all: that one `take` by the right person would leave them without
    custody must be said.
    """
    story = visit("held")
    story.relinquished(to_kid=SECOND_INSPECTOR.kid)
    assert {"CU-01", "SE-07"} <= set(stops(story.case(sealing=story.sealing())))


def test_sealed_before_it_was_taken_is_one_flag_afterwards() -> None:
    """An auditor who counts two breaks of custody for one missing half holds the firm to more
    than was done.
    """
    story = visit("relinquished")
    story.sealed()
    assert findings(story.case(), "SE-07") == []
    assert len(findings(story.case(), "CU-01")) == 3


# The count, and what has no business in the envelope


def test_a_wrong_count_stops_once() -> None:
    """Two rules for one cassette too many send the clerk looking for two."""
    story = visit("kept")
    (found,) = [
        each for each in evaluate(story.case(sealing=story.sealing(total=4))) if each.severity == "block"
    ]
    assert (found.rule, found.about) == ("SE-02", story.envelope)
    assert "1 not scanned" in found.sentence
    assert [told["envelope"] for told in found.acts] == [story.envelope]


def test_a_spare_scanned_in_is_told_to_stay_out() -> None:
    """A cassette out of the kit that nobody used travels to the laboratory as a sample without a place."""
    story = visit("kept", lot={"samples": 4})
    spare = story.samples[3]
    found = evaluate(story.case(sealing=story.sealing(story.samples)))
    assert [(each.rule, each.about) for each in found if each.severity in ("block", "warn")] == [
        ("SE-02", spare)
    ]
    assert found[0].sentence.endswith(f"it is a spare of lot {grouped(story.lots[0])}, leave it out.")
    assert found[0].remedy.startswith("Leave it out of the envelope")
    without = evaluate(story.case(sealing=story.sealing(story.samples[:3])))
    assert [each.rule for each in without] == ["CL-13"]  # the spare is still to be accounted for


def test_a_voided_cassette_scanned_in_is_said() -> None:
    """The laboratory counts a cassette that the record calls dropped, and asks which of the two is true."""
    story = visit("kept")
    story.voided(0)
    (found,) = findings(story.case(sealing=story.sealing(story.samples)), "SE-02")
    assert (found.severity, found.about) == ("warn", story.samples[0])
    assert "was voided (dropped)" in found.sentence
    assert findings(story.case(sealing=story.sealing(story.samples[1:])), "SE-02") == []


# What lies outside the envelope


@pytest.mark.parametrize("step", ["sealing", "shipping"])
def test_a_fault_of_a_sample_left_outside_does_not_stop_the_envelope(step: str) -> None:
    """Sealing lets the good ones go and shipping holds them back: the clerk stands at the counter and cannot
    see why.
    """
    story = Story()
    story.lot(samples=4)
    story.opened()
    for place, kind in enumerate(("indoor", "indoor", "outdoor", "indoor")):
        story.collected(place, kind)
    story.collected(3, by=SECOND_INSPECTOR, room="attic", space="attic")
    story.held(since=f"{DAY}T10:10:00-05:00")
    story.relinquished()
    story.received()
    story.held(by=CLERK)
    inside = story.samples[:3]
    if step == "shipping":
        story.sealed(inside, total=3)
        case = story.case(shipping=story.shipping())
    else:
        case = story.case(sealing=story.sealing(inside))
    assert stops(case) == []
    (left,) = findings(case, "SE-13")
    assert left.severity == "warn"
    assert grouped(story.samples[3]) in left.sentence
    assert "CL-12" not in left.sentence
    assert "CU-12 must be fixed before it goes" in left.sentence
    assert left.acts[-1] == {"act": "voided", "sample": story.samples[3], "reason": None}
    whole = story.case(sealing=story.sealing(story.samples))
    assert "CU-12" in stops(whole)


def test_what_is_left_out_is_named_again_at_the_counter() -> None:
    """Between sealing and pick-up there is still time to open the envelope and put it in."""
    story = visit("kept", policy={"min_reference": 0, "min_indoor": 1, "min_cassettes": 2})
    story.sealed(story.samples[1:], total=2)
    (left,) = findings(story.case(shipping=story.shipping()), "SE-13")
    assert f"holder on record: {CLERK.name}" in left.sentence
    assert findings(story.case(), "SE-13") == []  # nobody asks: the visit may not be over
    story.voided(0)
    assert findings(story.case(shipping=story.shipping()), "SE-13") == []


def test_the_outdoor_control_left_out_stops_once() -> None:
    """OC-01 says to scan it in; that it also lies outside is the same sentence in other words."""
    story = visit("kept")
    case = story.case(sealing=story.sealing(story.samples[:2]))
    assert [each.rule for each in findings(case, "OC-01", "SE-13")] == ["OC-01"]
    story.excepted("OC-01", story.form, by=QUALITY, reason="outdoor_impossible")
    case = story.case(sealing=story.sealing(story.samples[:2]))
    assert [each.rule for each in findings(case, "OC-01", "SE-13")] == ["OC-01", "SE-13"]
    assert findings(case, "OC-01")[0].remedy.startswith("Nothing to fix")


@pytest.mark.parametrize("at", ["sealing", "shipping", "left behind"])
def test_what_brings_the_outdoor_control_along_can_be_done_then(at: str) -> None:
    """Whoever stands before a closed envelope is told to scan into it, and cannot."""
    story = visit("kept")
    inside = story.samples[:2]
    if at == "sealing":
        case = story.case(sealing=story.sealing(inside))
    else:
        story.sealed(inside, total=2)
        case = story.case(shipping=story.shipping()) if at == "shipping" else story.case()
    (found,) = findings(case.read_by(FIRM, "clerk"), "OC-01")
    if at == "sealing":
        assert found.remedy.startswith("Scan the outdoor control into this envelope.")
        assert found.acts[0] == {"act": "sealed", "envelope": story.envelope}
    else:
        assert found.remedy.startswith("Open the envelope, scan it in and close it under a new seal")
        assert [each["act"] for each in found.acts[:2]] == ["unsealed", "sealed"]
    assert "inspector" not in found.remedy


def test_who_has_no_outdoor_control_in_hand_is_not_told_to_scan_it() -> None:
    """The clerk looks for a cassette that nobody collected, when only a phone in the vehicle knows of it."""
    story = Story()
    story.policy(min_reference=0, min_indoor=1, min_cassettes=1)
    story.lot(samples=2)
    story.opened()
    story.collected(0)
    story.collected(1)
    story.held(since=f"{DAY}T10:10:00-05:00")
    story.relinquished()
    story.received()
    case = story.case(sealing=story.sealing())
    (found,) = findings(case.read_by(FIRM, "clerk"), "OC-01")
    assert "Ask the inspector: if one was collected, send what the device" in found.remedy
    (found,) = findings(case.read_by(FIRM, "inspector"), "OC-01")
    assert found.acts[0] == {"act": "send_waiting"}


def test_a_control_left_behind_is_sent_after_the_others_by_whoever_can() -> None:
    """The envelope has gone, and the remedy is to open it; the laboratory is to seal what the firm has."""
    story = visit("kept")
    story.excepted("OC-01", story.form, by=QUALITY, reason="outdoor_impossible")
    story.sealed(story.samples[:2], total=2)
    story.shipped()
    case = story.case()
    (clerk,) = findings(case.read_by(FIRM, "clerk"), "SE-13")
    assert clerk.remedy.startswith("Seal it into another envelope, ship that, and call the laboratory")
    assert "Ask the inspector: if it will not be analyzed, void it." in clerk.remedy
    assert [each["act"] for each in clerk.acts] == ["sealed", "shipped"]
    (inspector,) = findings(case.read_by(FIRM, "inspector"), "SE-13")
    assert [each["act"] for each in inspector.acts] == ["sealed", "shipped", "voided"]
    (dock,) = findings(case.read_by(LAB, "custodian"), "SE-13")
    assert "Ask the sampling firm: seal it into another envelope" in dock.remedy
    assert "sealed" not in [each["act"] for each in dock.acts]


# An envelope goes once


def test_an_envelope_that_left_is_not_handed_over_again() -> None:
    """Typed twice, the second hand-over would name another carrier's time for the same envelope."""
    story = visit("sealed")
    assert stops(story.case(shipping=story.shipping())) == []
    story.shipped()
    (found,) = [each for each in evaluate(story.case(shipping=story.shipping())) if each.severity == "block"]
    assert (found.rule, found.about) == ("CU-02", story.envelope)
    assert (
        f"shipped with {CARRIER} on 2026-12-01 15:30 (-05:00) already, tracking number TRACK-0001"
        in found.sentence
    )
    assert (found.acts[0]["act"], found.acts[0]["form"], found.acts[0]["of"]) == (
        "corrected",
        story.form,
        "shipped",
    )


def test_a_hand_over_recorded_twice_is_shown() -> None:
    """Two times for one hand-over, and the fold follows the first: whoever signed the second
    must read that.
    """
    story = visit("shipped")
    assert findings(story.case(), "CU-02") == []
    again = story.shipped(handed_over=f"{DAY}T16:10:00-05:00")
    (found,) = findings(story.case(), "CU-02")
    assert (found.severity, found.entries[-1]) == ("warn", again.n)
    assert "15:30" in found.sentence


def test_the_envelope_is_handed_over_by_whoever_holds_it() -> None:
    """The inspector has it in the car, and the clerk says it was collected at the office."""
    story = visit("collected")
    story.sealed(by=INSPECTOR)
    (found,) = findings(story.case(shipping=story.shipping()), "CU-02")
    assert found.severity == "block"
    assert INSPECTOR.name in found.sentence
    assert found.acts[0] == {"act": "relinquished", "envelope": story.envelope, "to": None}
    assert findings(story.case(shipping=story.shipping(kid=INSPECTOR.kid)), "CU-02") == []


def test_an_open_envelope_does_not_leave() -> None:
    """Opened to add one, put on the pile, collected by the driver: no seal speaks for the journey."""
    story = visit("sealed")
    assert findings(story.case(shipping=story.shipping()), "SE-04") == []
    story.unsealed()
    (found,) = findings(story.case(shipping=story.shipping()), "SE-04")
    assert found.severity == "block"
    assert "not closed again" in found.sentence


@pytest.mark.parametrize(("org", "severity"), [(FIRM, "block"), ("quill-lab", "warn")])
def test_a_number_that_has_traveled_is_said_before_it_is_sealed(org: str, severity: str) -> None:
    """The hand-over would be refused an hour later, with the seal on.

    A laboratory may close the envelope to keep it.
    """
    story = visit("docked")
    asked = story.sealing(story.samples, seal="NEW-0001", org=org)
    (found,) = findings(story.case(sealing=asked), "SE-09")
    assert found.severity == severity
    assert "cannot be shipped a second time" in found.sentence
    fresh = story.sealing(story.samples, seal="NEW-0001", envelope=story.number("envelope"))
    assert findings(story.case(sealing=fresh), "SE-09") == []


# One tracking number on several envelopes


def test_a_tracking_number_is_said_when_another_envelope_has_it() -> None:
    """A number typed from the airbill on top: the second envelope cannot be traced when it is lost."""
    story = visit("sealed")
    other = story.number("envelope")
    for tracking, count in (("TRACK-0001", 1), ("track-00 01", 1), ("TRACK-0002", 0)):
        known = Elsewhere(airbills={airbill(FIRM, CARRIER, "TRACK-0001"): (other,)})
        found = findings(story.case(shipping=story.shipping(tracking=tracking), elsewhere=known), "SH-06")
        assert [each.severity for each in found] == ["warn"] * count
        assert all(grouped(other) in each.sentence for each in found)
    own = Elsewhere(airbills={airbill(FIRM, CARRIER, "TRACK-0001"): (story.envelope,)})
    assert findings(story.case(shipping=story.shipping(), elsewhere=own), "SH-06") == []


def test_another_carrier_may_use_the_same_number() -> None:
    """Carriers number for themselves; a warning for that would be noise."""
    story = visit("sealed")
    known = Elsewhere(airbills={airbill(FIRM, "other-van", "TRACK-0001"): (story.number("envelope"),)})
    assert findings(story.case(shipping=story.shipping(), elsewhere=known), "SH-06") == []


# Taken twice, and voided by a role that may not


def test_nobody_takes_what_they_hold() -> None:
    """A `take` typed twice would leave a receipt that nobody gave for."""
    story = visit("handed_over")
    found = taking(story, CLERK)
    assert [(each.rule, each.severity, each.about) for each in found] == [
        ("CU-01", "block", number) for number in sorted(story.samples)
    ]
    assert all("holds sample" in each.sentence for each in found)
    assert taking(visit("relinquished"), CLERK) == []


def test_a_take_recorded_twice_is_a_note_and_stops_nothing() -> None:
    """Nothing changed hands; an envelope held back for it waits for a signature that nobody owes."""
    story = visit("handed_over")
    story.received(story.samples, at=f"{DAY}T11:39:00-05:00")
    story.held(by=CLERK)
    assert {each.severity for each in findings(story.case(), "CU-01")} == {"note"}
    assert stops(story.case(sealing=story.sealing())) == []


@pytest.mark.parametrize(
    ("upto", "by", "words"),
    [("held", CLERK, "No relinquishing entry of"), ("relinquished", SECOND_INSPECTOR, "another person")],
)
def test_what_nobody_gave_may_be_taken_with_a_warning(upto: str, by: Person, words: str) -> None:
    """The giver may sign later without a network; whoever takes must know that it is owed."""
    found = taking(visit(upto), by)  # type: ignore[arg-type]
    assert {(each.rule, each.severity) for each in found} == {("CU-01", "warn")}
    assert all(words in each.sentence for each in found)


@pytest.mark.parametrize(("by", "count"), [(CLERK, 1), (INSPECTOR, 0), (QUALITY, 0)])
def test_a_role_that_may_not_void_is_told_before(by: Person, count: int) -> None:
    """The warning comes after the signature, when it stands in the record for ever."""
    story = visit("kept")
    body = Voided(sample=story.samples[0], reason="dropped")
    case = told(story.case(), Draft("voided", body, by.org, by.kid))
    found = [each for each in evaluate(case) if each.is_proposed]
    assert [(each.rule, each.severity) for each in found] == [("SI-03", "warn")] * count
    assert all("custodian, inspector and quality may" in each.sentence for each in found)


def test_a_role_that_may_not_seal_is_told_before() -> None:
    """The same for the seal: a media keeper closes the envelope in good faith."""
    story = visit("kept")
    keeper = next(
        kid for kid, key in story.case().organizations[FIRM].keys.items() if key.role == "media_keeper"
    )
    assert findings(story.case(sealing=story.sealing()), "SI-03") == []
    assert [each.severity for each in findings(story.case(sealing=story.sealing(kid=keeper)), "SI-03")] == [
        "warn"
    ]


# Who may not except it


def test_whoever_seals_may_not_except_what_stops_the_seal() -> None:
    """The clerk would be the second person of her own envelope."""
    story = visit("kept")
    inside = story.samples[:2]
    story.excepted("OC-01", story.form, by=CLERK, reason="outdoor_impossible")
    assert findings(story.case(sealing=story.sealing(inside)), "OC-01")[0].severity == "block"
    other = story.sealing(inside, kid=SECOND_INSPECTOR.kid)
    assert findings(story.case(sealing=other), "OC-01")[0].severity == "warn"
    story.sealed(inside, total=2)
    assert findings(story.case(), "OC-01")[0].severity == "block"
    story.excepted("OC-01", story.form, by=QUALITY, reason="outdoor_impossible")
    assert findings(story.case(), "OC-01")[0].severity == "warn"


# One clock in one sentence


@pytest.mark.parametrize(
    "spoilt",
    [
        {"docked": {"dock": {"seal_state": "broken"}}},
        {"docked": {"at": "2026-12-07T09:00:00-06:00", "dock": {"delivered": "2026-12-04T18:15:00-06:00"}}},
        {"docked": {"at": "2026-12-01T10:00:00-06:00", "dock": {"delivered": "2026-12-01T09:00:00-06:00"}}},
        {"sealed": {"at": f"{DAY}T08:00:00-06:00"}},
        {"accepted": {"at": f"{DAY}T10:00:00-05:00"}},
    ],
)
def test_one_sentence_has_one_clock(spoilt: dict[str, Any]) -> None:
    """Sealed 14:00 (-05:00), received 10:40 (-06:00): whoever subtracts them by eye is an hour off."""
    found = evaluate(visit("accepted", **spoilt).case())
    assert any(_OFFSET.search(each.sentence) for each in found)
    for each in found:
        assert len(set(_OFFSET.findall(each.sentence))) < 2, each.sentence


_OFFSET: Final = re.compile(r"\([+-]\d\d:\d\d\)")


@pytest.mark.parametrize(
    ("rule", "changes", "issued_to"),
    [
        ("CL-03", {"serial": None}, None),
        ("CL-06", {"label_on": "bag"}, None),
        ("CL-11", {}, "nobody"),
        ("CL-12", {}, "another"),
        ("SE-11", {"covers_on": False}, None),
        ("SL-09", {"point": None}, None),
        ("PV-06", {"meter": "METER-9"}, None),
    ],
)
def test_what_is_so_of_every_sample_is_said_once(
    rule: str, changes: dict[str, Any], issued_to: str | None
) -> None:
    """Three cassettes without a serial are three warnings to acknowledge, and the fourth is not read."""
    lot: dict[str, Any] = {"issue": False} if issued_to == "nobody" else {}
    lot |= {"to": SECOND_INSPECTOR} if issued_to == "another" else {}
    story = Story()
    story.lot(**lot)
    story.samples += [story.number("sample") for _ in range(3)] if issued_to == "nobody" else []
    story.opened()
    for place, kind in enumerate(("indoor", "indoor", "outdoor")):
        story.collected(place, kind, **changes)
    (found,) = findings(story.case(), rule)
    assert (found.about, found.severity in ("warn", "note")) == (story.form, True)
    assert all(grouped(number) in found.sentence for number in story.samples)
    assert {told.get("sample") for told in found.acts} <= {None}
    story.voided(1)
    story.voided(2)
    (alone,) = findings(story.case(), rule)
    assert alone.about == story.samples[0]


@pytest.mark.parametrize(
    "spoilt",
    [
        {"lot": {"expiry": "2026-11-30"}},  # ML-02
        {"lot": {"expiry": None}},  # ML-03
        {"recalled": "2026-12-03T09:00:00-05:00"},  # ML-07
        {"lot": {"expiry": "2026-12-01"}},  # ML-05, ML-08
        {"flow_before": "15.0", "flow_after": "14.2"},  # PV-03, PV-04
        {"flow_before": "15.0", "flow_after": "13.4"},  # PV-05
        {"flow_before": None, "flow_after": None},  # PV-02
        {"run_s": 200, "planned_s": 300},  # PV-08
        {"run_s": 1200, "planned_s": 1200},  # PV-12
        {"pump_stop": "battery", "run_s": 200},  # PV-14
        {"temperature_c": "35", "pressure_hpa": "800"},  # PV-07
        {"run_s": 0},  # BD-04
        {"height_m": "0.50"},  # SL-04
        {"near": ["fan"], "near_m": "0.20"},  # SL-06
        {"room": None, "point": None},  # SL-07
        {"room": "attic", "space": "attic"},  # SL-05
        {"aggressive": True},  # SL-11
        {"dust": "heavy"},  # SL-12
        {"weather": None},  # OC-07
    ],
    ids="-".join,
)
def test_no_two_findings_differ_in_the_sample_alone(spoilt: dict[str, Any]) -> None:
    """Twelve cassettes out of one old box are twelve stops, and the thirteenth finding is never reached."""
    ran = {name: value for name, value in spoilt.items() if name not in ("lot", "recalled")}
    told = {"lot": spoilt.get("lot", {}), "first": ran, "second": ran, "outdoor": ran}
    story = visit("accepted", **told)
    if "recalled" in spoilt:
        story.on_lot("recalled", reason="maker", said=spoilt["recalled"])
    for case in (story.case(), visit("kept", **told).case()):
        said = [(each.rule, each.severity, _NUMBER.sub("…", each.sentence)) for each in evaluate(case)]
        assert len(said) == len(set(said)), [each for each in set(said) if said.count(each) > 1]


@pytest.mark.parametrize("condition", ["intact", "cracked", "wet"])
@pytest.mark.parametrize("decided", ["accepted", "rejected", "one laboratory number", "two are missing"])
def test_at_the_dock_too_no_two_findings_differ_in_the_sample_alone(condition: str, decided: str) -> None:
    """Twelve cassettes out of one crushed parcel are twelve flags, and the thirteenth finding is not read."""
    story = visit("shipped")
    there = story.samples[:1] if decided == "two are missing" else story.samples
    items = [{**each, "condition": [condition]} for each in story.items(there)]
    story.docked(items=items, dock={"seal_state": "broken", "total": len(there)})
    if decided == "rejected":
        story.rejected()
    else:
        alike = {"lab_numbers": dict.fromkeys(there, "Q-1")} if decided == "one laboratory number" else {}
        story.accepted(there, **alike)
    said = [(each.rule, each.severity, _NUMBER.sub("…", each.sentence)) for each in evaluate(story.case())]
    assert len(said) == len(set(said)), [each for each in set(said) if said.count(each) > 1]
    assert any(len(each.samples) > 1 for each in evaluate(story.case()))


_NUMBER: Final = re.compile(r"[SEFMC][0-9A-Z]{3} [0-9A-Z]{4} [0-9A-Z]{4}")


def test_a_finding_of_several_samples_bears_on_each_of_them() -> None:
    """Said once, the fault vanishes from the page of the second sample and from what its result must be read
    with.
    """
    story = visit("accepted", lot={"expiry": "2026-11-30"})
    case = story.case()
    found = evaluate(case)
    (expired,) = [each for each in found if each.rule == "ML-02"]
    form = case.forms[story.form]
    for number, view in sample_views(form, case, found).items():
        assert expired.concerns(number)
        assert view.worst == "flag"
        assert expired.sentence in view.qualification
