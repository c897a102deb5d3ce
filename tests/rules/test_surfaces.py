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
