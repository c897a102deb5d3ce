"""What was taken from surfaces, beside the cassettes: what is asked of it, and what of air is not.

Location and material of each sample: 16 Tex. Admin. Code 78.100(d)(3). A defined area for a count: ASTM D7910
and D7789, scope and significance. That loose material goes in an envelope of its own: common practice, no
source.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain import statements
from bailee.domain.numbers import grouped
from bailee.errors import BadStatement
from bailee.rules.registry import Finding, evaluate
from builders import CUSTODIAN, DAY, QUALITY, Story, findings, visit

OF_AIR = ("PV", "OC", "BD")


def mixed(*media: str, **changes: Any) -> Story:
    """An ordinary visit of cassettes, and samples of surfaces beside them."""
    story = visit("relinquished")
    for medium in media:
        story.surface_collected(medium, **changes)
    return story


def surfaces(*media: str, **changes: Any) -> Story:
    """A visit on which no air was sampled."""
    story = Story()
    story.opened()
    for medium in media:
        story.surface_collected(medium, **changes)
    return story


def rules(story: Story) -> set[str]:
    """Every rule that finds something."""
    return {each.rule for each in evaluate(story.case())}


def said(story: Story, rule: str) -> list[Finding]:
    """What one rule says of the story."""
    return findings(story.case(), rule)


def test_nothing_of_air_is_asked_of_a_surface() -> None:
    """Three swabs of a wall are stopped for want of a pump, a flow, and an outdoor control."""
    found = rules(surfaces("swab", "tape", "bulk"))
    assert not {each for each in found if each[:2] in OF_AIR or each in ("SL-01", "SL-02", "SL-03", "VP-15")}


@pytest.mark.parametrize("medium", ["tape", "swab", "bulk", "contact_plate", "dust"])
def test_a_tape_beside_the_cassettes_changes_nothing_of_what_is_said_of_them(medium: str) -> None:
    """A tape more, and the cassettes of the visit suddenly lack a control, or have one too many."""
    without, with_it = evaluate(visit("relinquished").case()), evaluate(mixed(medium).case())
    of_air = [(f.rule, f.sentence) for f in without if f.rule[:2] in OF_AIR or f.rule[:2] == "SL"]
    assert of_air == [(f.rule, f.sentence) for f in with_it if f.rule[:2] in OF_AIR or f.rule[:2] == "SL"]


@pytest.mark.parametrize(
    ("left_out", "lacking"),
    [((), ""), (("material",), "material"), (("room",), "room"), (("material", "room"), "material and room")],
)
def test_of_what_and_where_it_was_taken_stops_the_envelope(left_out: tuple[str, ...], lacking: str) -> None:
    """Growth is found on a swab, and nobody knows of which wall of which room."""
    story = surfaces("swab", **dict.fromkeys(left_out, ...))
    hits = [(each.severity, each.sentence) for each in said(story, "SL-14")]
    name = f"Sample {grouped(story.samples[-1])}"
    assert hits == ([("block", f"{name}: {lacking} not stated.")] if lacking else [])


def test_material_that_was_left_out_is_added_by_correction() -> None:
    """The one thing that would cure the stop is refused, and the swab never leaves."""
    story = surfaces("swab", material=...)
    first = story.chains[f"form/{story.form}"][-1]
    story.corrected(first, "material", "wood", reason="left_out")
    assert said(story, "SL-14") == []


@pytest.mark.parametrize(
    ("facts", "warns"),
    [
        ({"quantified": True, "area_cm2": ...}, True),
        ({"quantified": True, "area_cm2": "4"}, False),
        ({"quantified": True, "area_cm2": ..., "mass_g": "0.5"}, False),
        ({"area_cm2": ...}, False),
    ],
)
def test_a_count_is_asked_for_of_an_area_that_nobody_measured(facts: dict[str, Any], warns: bool) -> None:
    """The laboratory is to report a count per square centimeter, and nobody says of how many."""
    assert [each.severity for each in said(surfaces("tape", **facts), "SL-15")] == ["warn"] * warns


@pytest.mark.parametrize(
    ("media", "warns"),
    [(("tape", "swab"), 0), (("bulk",), 1), (("dust",), 1), (("contact_plate", "tape"), 1)],
)
def test_loose_material_goes_in_an_envelope_of_its_own(media: tuple[str, ...], warns: int) -> None:
    """Drywall crumbles over the cassettes on the way, and the laboratory counts the wall."""
    story = mixed(*media)
    drafted = findings(story.case(sealing=story.sealing(story.samples)), "SE-15")
    assert [each.severity for each in drafted] == ["warn"] * warns
    alone = findings(story.case(sealing=story.sealing(story.samples[-len(media) :])), "SE-15")
    assert alone == []


def test_loose_material_is_told_after_the_envelope_was_closed() -> None:
    """The dock opens the envelope without knowing that the wall lies among the cassettes."""
    story = mixed("bulk")
    story.sealed(story.samples)
    assert [each.severity for each in said(story, "SE-15")] == ["warn"]


def test_a_surface_changes_hands_as_a_cassette_does() -> None:
    """A bulk sample is sealed and received, and its record ends at the inspector's car."""
    story = visit("opened")
    for place, kind in enumerate(("indoor", "indoor", "outdoor")):
        story.collected(place, kind)
    story.surface_collected("tape")
    for tell in (story.held, story.relinquished, story.received, story.sealed, story.shipped, story.docked):
        tell()
    story.accepted()
    tape = story.state().samples[story.samples[-1]]
    assert (tape.status, tape.holder and tape.holder.kid) == ("accepted", CUSTODIAN.kid)
    assert len(tape.links) == len(story.state().samples[story.samples[0]].links)


def test_one_number_on_a_cassette_and_on_a_swab_is_one_number_twice() -> None:
    """A label is stuck on a swab that a cassette bears already, and both count as one sample."""
    story = visit("collected")
    story.surface_collected("swab", sample=story.samples[0])
    assert [each.severity for each in said(story, "CL-01")] == ["block"]


def test_who_took_a_tape_on_site_was_there() -> None:
    """Who lifted a tape in the house allows a missing control, and is told that they signed nothing there."""
    story = visit("opened")
    story.collected(0, "indoor")
    story.excepted("OC-01", story.form, reason="outdoor_impossible", by=QUALITY)
    assert [each.rule for each in said(story, "OC-16")] == ["OC-16"]
    story.surface_collected("tape", by=QUALITY)
    assert said(story, "OC-16") == []


def test_only_a_swab_is_wetted() -> None:
    """A tape is said to be wetted with buffer: of one of the two facts it is not true."""
    data = {"sample": Story().number("sample"), "medium": "tape", "at": f"{DAY}T09:50:00-05:00"}
    with pytest.raises(BadStatement, match="wetted is for a swab"):
        statements.parse(f"form/{Story().number('form')}", "surface_collected", data | {"wetted": "buffer"})


DRILLED = {"opening": "drilled", "tube": "new", "tube_m": "0.6", "tube_mm": "6", "purge_s": 10}
"""A cavity sample without fault."""


def cavity(run_s: int = 20, **changes: Any) -> Story:
    """An ordinary visit, and air drawn from a wall for so many seconds at 15 L/min."""
    story = visit("collected")
    facts = {
        "cavity": DRILLED,
        "run_s": run_s,
        "planned_s": run_s,
        "flow_before": "15.0",
        "flow_after": "15.0",
    }
    more = {
        "room": "wall_cavity",
        "space": ...,
        "space_reason": "source_there",
        "height_m": ...,
        "serial": "C-1",
    }
    started = {"started": f"{DAY}T10:20:00-05:00"}
    story.samples.append(story.number("sample"))
    story.collected(len(story.samples) - 1, **(facts | more | started | changes))
    return story


@pytest.mark.parametrize(("run_s", "warns"), [(20, []), (19, ["warn"])])
def test_of_a_cavity_five_liters_are_enough(run_s: int, warns: list[str]) -> None:
    """15 L/min for 20 s are 5.0 L, for 19 s 4.75 L (arithmetic): the limit of a room would warn of both."""
    assert [each.severity for each in said(cavity(run_s), "PV-12")] == warns


def test_air_of_a_cavity_is_none_of_a_room() -> None:
    """It is compared with the air outdoors, counted as a place, and its tube measured from the floor."""
    with_it, without = cavity(area="reference"), visit("collected")
    for rule in ("OC-01", "OC-02", "OC-03", "OC-09", "PV-13", "SL-01", "SL-03", "SL-04", "SL-13"):
        found = [each.sentence for each in said(with_it, rule)]
        assert found == [each.sentence for each in said(without, rule)], rule


def test_a_visit_of_cavities_alone_needs_no_outdoor_control() -> None:
    """Who drills into one wall is sent out into the garden for a control that nothing is compared with."""
    story = visit("opened")
    story.collected(0, cavity=DRILLED, room="wall_cavity", height_m=...)
    case = story.case(sealing=story.sealing())
    assert findings(case, "OC-01") == []
    story.collected(1)
    assert [each.rule for each in findings(story.case(sealing=story.sealing()), "OC-01")] == ["OC-01"]


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({}, ""),
        ({"tube": "cleaned"}, ""),
        ({"opening": None}, "no opening is on record"),
        ({"tube": "used"}, "the tube was used before"),
        (
            {"opening": None, "tube": None},
            "no opening is on record and no entry shows that the tube was clean",
        ),
    ],
)
def test_opening_and_tube_are_asked_for(facts: dict[str, Any], told: str) -> None:
    """What the last wall left in the tube is counted as growth in this one."""
    hits = said(cavity(cavity=DRILLED | facts), "SL-16")
    assert [each.sentence.partition(": ")[2] for each in hits] == ([f"{told}."] if told else [])


def test_a_cavity_outdoors_is_refused() -> None:
    """An outdoor control with a tube in a wall would be one that is compared with rooms."""
    with pytest.raises(BadStatement, match="a cavity is inside the building"):
        visit("opened").collected(0, "outdoor", cavity=DRILLED)


@pytest.mark.parametrize(
    ("kind", "expiry", "stops"), [("container", None, 0), ("tape", None, 1), ("tape", "2027-11", 0)]
)
def test_a_bag_has_no_date_and_a_tape_has_one(kind: str, expiry: str | None, stops: int) -> None:
    """Bulk material is stopped for want of a date that no bag bears, or an old tape passes without one."""
    story = visit("opened")
    story.lot(cassette=kind, nominal_flow="0", expiry=expiry, samples=1)
    story.surface_collected("bulk", sample=story.samples.pop(), lot=story.lots[-1])
    assert len(said(story, "ML-03")) == stops
    assert said(story, "CL-11") == []


def test_a_flow_through_a_tape_is_refused() -> None:
    """A box of tapes is entered as cassettes of 15 L/min, and a pump's flow is judged by it."""
    with pytest.raises(BadStatement, match="no air is drawn through tape"):
        Story().lot(cassette="tape")


def test_a_cassette_said_to_be_from_a_box_of_tapes_is_judged_all_the_same() -> None:
    """A flow of nothing would stop every rule of the form, not only the one about this cassette."""
    story = visit("opened")
    story.lot(cassette="tape", nominal_flow="0", samples=1)
    story.collected(story.samples[-1], lot=story.lots[-1])
    assert "PV-03" in rules(story)


def test_a_cassette_said_to_duplicate_a_tape_has_no_parent() -> None:
    """One number read off the wrong label, and no rule of the form can be asked any more."""
    story = visit("opened")
    tape = story.surface_collected("tape").data["sample"]
    story.collected(0, duplicate_of=tape, duplicate="side_by_side")
    assert "BD-05" in rules(story)


def test_a_number_of_a_box_of_another_kind_is_named() -> None:
    """A tape bears the number of a cassette, and nobody looks which of the two labels is wrong."""
    story = Story()
    story.opened()
    lot = story.lot(samples=1)
    story.surface_collected("tape", sample=story.samples.pop(), lot=lot)
    (found,) = said(story, "ML-14")
    assert (found.severity, "from a surface" in found.sentence) == ("warn", True)
    tapes = Story()
    tapes.opened()
    lot = tapes.lot(samples=1, cassette="tape", nominal_flow="0")
    tapes.surface_collected("tape", sample=tapes.samples.pop(), lot=lot)
    assert not said(tapes, "ML-14")
    tapes.lot(samples=1, cassette="swab", nominal_flow="0")
    tapes.collected(len(tapes.samples) - 1)
    (found,) = said(tapes, "ML-14")
    assert "with a cassette" in found.sentence
