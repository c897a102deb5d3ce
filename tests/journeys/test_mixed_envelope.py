"""A mixed envelope: three spore traps, two tape lifts and a piece of drywall of one visit, one of them in the
wrong place. What is said of the tape is said of the tape, and the comparison of the air stands.
"""

from __future__ import annotations

from bailee.domain.numbers import grouped
from bailee.rules.registry import Finding, evaluate
from bailee.rules.verdicts import Verdict, verdicts
from builders import CLERK, CUSTODIAN, DAY, Story, findings, visit


def judged(story: Story) -> tuple[list[Finding], dict[str, str]]:
    """All findings, and the four states by area."""
    case = story.case()
    found = evaluate(case)
    told: tuple[Verdict, ...] = verdicts(case, found, records_state="complete")
    return found, {each.area: each.state for each in told}


def packed() -> Story:
    """The visit up to the clerk's table: cassettes, tapes, and what was cut out of the wall."""
    story = visit("collected")
    story.surface_collected("tape")
    story.surface_collected("tape", room="bedroom", point="Point 8", at=f"{DAY}T09:52:00-05:00")
    story.surface_collected("bulk", area_cm2=..., mass_g="3.5", at=f"{DAY}T09:55:00-05:00")
    for where in ("indoors", "outdoors"):
        story.conditions_read(where, at=f"{DAY}T10:00:00-05:00")
    story.held(since=f"{DAY}T10:05:00-05:00")
    story.relinquished()
    story.received()
    story.held(by=CLERK)
    return story


def two_envelopes(*, second_holds: list[str], arrives: list[str]) -> Story:
    """Cassettes and tapes in one envelope, the drywall in another, by the manifests; and what the dock finds
    in each.
    """
    story = packed()
    air_and_tapes, bulk = story.samples[:5], story.samples[5:]
    second, seal = story.number("envelope"), story.number("seal")
    story.sealed(air_and_tapes, total=5)
    story.sealed(bulk, envelope=second, seal=seal, total=1, at=f"{DAY}T14:05:00-05:00")
    story.shipped()
    story.shipped(envelope=second, tracking="TRACK-0002")
    story.docked(arrives, dock={"total": len(arrives)})
    there = {"envelope": second, "seal": seal, "total": len(second_holds)}
    story.docked(second_holds, dock=there, at="2026-12-02T10:46:00-06:00")
    story.accepted([*arrives, *second_holds])
    return story


def test_drywall_beside_cassettes_is_warned_of_before_the_envelope_closes_and_not_in_its_own() -> None:
    """The clerk seals all six together because nothing asked, and the wall is counted with the air."""
    story = packed()
    warned = findings(story.case(sealing=story.sealing()), "SE-15")
    assert [grouped(story.samples[5]) in each.sentence for each in warned] == [True]
    assert not [
        each
        for each in evaluate(story.case(sealing=story.sealing(story.samples[:5])))
        if each.severity in ("block", "refuse") or each.rule == "SE-15"
    ]


def test_apart_and_complete_a_mixed_visit_has_no_stop_and_no_flag() -> None:
    """Two tapes and a bulk sample bring stops about pumps, controls and serials that they never had."""
    story = packed()
    story = two_envelopes(second_holds=story.samples[5:], arrives=story.samples[:5])
    found, states = judged(story)
    assert not [each for each in found if each.severity in ("block", "flag")]
    assert states["comparison"] == "no fault found"
    assert {each.status for each in story.state().live} == {"accepted"}


def test_a_tape_in_the_wrong_envelope_is_flagged_alone_and_the_air_stands() -> None:
    """A tape slid into the other envelope would cost the visit its outdoor comparison, or nobody's notice."""
    story = packed()
    astray = story.samples[4]
    story = two_envelopes(second_holds=[astray, story.samples[5]], arrives=story.samples[:4])
    found, states = judged(story)
    flagged = [each for each in found if each.severity in ("block", "flag")]
    assert flagged
    assert all(
        astray in (each.about, *each.samples) or each.about in story.state().envelopes for each in flagged
    )
    assert not any(set(each.samples) & set(story.samples[:4]) for each in flagged)
    assert (states["comparison"], states["custody"]) == ("no fault found", "broken")
    tape = story.state().samples[astray]
    assert (tape.status, tape.holder and tape.holder.kid) == ("accepted", CUSTODIAN.kid)
