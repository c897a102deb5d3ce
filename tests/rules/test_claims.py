"""CL-16: only the firm of a form collects on it; what another organization signs there moves nothing.

That each party accounts for its own part: common practice, no source.
"""

from __future__ import annotations

from typing import Any

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from bailee.rules.registry import evaluate
from bailee.rules.verdicts import verdicts
from builders import FIRM, LAB, SECOND_INSPECTOR, Person, Step, Story, findings, visit

OBLIGING = Person(LAB, "inspector", "Inspector Quill")
STEPS: tuple[Step, ...] = ("opened", "collected", "relinquished", "sealed", "shipped", "accepted")
ON_SITE = (
    "collected", "surface_collected", "outdoor_ruled_out", "pump_checked", "conditions_read",
    "building_changed", "requested", "corrected", "witnessed",
)  # fmt: skip
TOLD_OF_OTHERS = {"CL-16", "CU-03", "CU-09", "CU-15", "CU-16", "CU-22", "SI-03", "SI-07", "SI-10"}
"""What may be said of such an entry itself: that it counts for nothing, its time, its key."""


def told(story: Story) -> Any:
    """What anybody reads of the samples on the form, and of the form but for the entries of others."""
    case = story.case(at="2026-12-04T12:00:00-06:00")
    found = [each for each in evaluate(case) if each.rule not in TOLD_OF_OTHERS]
    state = story.state()
    samples = {
        number: (each.status, each.kind, len(each.claims), [(link.org, link.kid) for link in each.links])
        for number, each in state.samples.items()
    }
    words = [(each.area, each.state) for each in verdicts(case, found, records_state="complete")]
    return samples, sorted(state.envelopes), [(each.rule, each.about, each.sentence) for each in found], words


def oblige(story: Story, act: str, dice: int) -> None:
    """The laboratory's inspector says it, of a sample of the firm or of one that nobody knows."""
    known = story.samples[dice % 3]
    by: dict[str, Any] = {"by": OBLIGING, "said": "2026-12-03T09:00:00-06:00"}
    number = known if dice % 2 else story.number("sample")
    if act == "collected":
        kind = ("indoor", "outdoor", "blank")[dice % 3]
        story.collected(number, kind, **({"replaces": known} if number != known else {}), **by)
    elif act == "surface_collected":
        story.surface_collected(sample=number, **by)
        story.samples.pop()
    elif act == "requested":
        story.requested([number], priority="rush", **by)
    elif act == "corrected":
        target = story.state().entries[-1]
        story.corrected(target, "sample", known, old=target.data.get("sample"), **by)
    elif act == "witnessed":
        seen = story.state().entries[-1].digest
        story.say("witnessed", {"statements": [seen]}, {}, by=OBLIGING, at="2026-12-03T09:00:00-06:00")
    else:
        getattr(story, act)(**by)


@given(
    step=st.sampled_from(STEPS),
    said=st.lists(st.tuples(st.sampled_from(ON_SITE), st.integers(0, 11)), min_size=1, max_size=4),
)
@settings(max_examples=25, derandomize=True, phases=(Phase.generate,), deadline=None)
def test_no_inspector_of_another_organization_changes_a_word_about_the_samples_of_a_firm(
    step: Step, said: list[tuple[str, int]]
) -> None:
    """The laboratory's own inspector signs a second claim on the outdoor control, and it counts no more."""
    story = visit(step)
    if step == "opened":
        story.collected(0)
    story.enrolled(OBLIGING)
    before = told(story)
    for act, dice in said:
        oblige(story, act, dice)
    assert told(story) == before


def test_what_another_organization_collects_is_named_once() -> None:
    """The firm would wonder where a sample of the laboratory's went, or whose claim stands."""
    story = visit("collected")
    story.collected(story.samples[0], by=SECOND_INSPECTOR)
    assert [each.rule for each in findings(story.case(), "CL-16")] == []
    story.enrolled(OBLIGING)
    entries = [story.collected(story.samples[0], by=OBLIGING).n, story.surface_collected(by=OBLIGING).n]
    (hit,) = findings(story.case(), "CL-16")
    assert (hit.severity, hit.about, hit.entries) == ("warn", story.form, tuple(entries))
    assert f"Inspector Quill of {LAB} signed that samples" in hit.sentence
    assert f"{FIRM} collects on this form. This counts for nothing." in hit.sentence


def test_who_collected_for_another_house_knows_no_reason_for_a_missing_control() -> None:
    """An obliging laboratory signs a cassette at its bench, and with that was on site in the storm."""
    story = visit("opened")
    story.collected(0)
    story.enrolled(OBLIGING)
    story.collected(1, by=OBLIGING)
    story.excepted("OC-01", story.form, reason="outdoor_impossible", by=OBLIGING)
    assert [each.rule for each in findings(story.case(), "OC-16")] == ["OC-16"]
