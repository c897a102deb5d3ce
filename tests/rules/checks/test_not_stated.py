"""What nobody stated. That analyses belong on a custody record: EPA guidance of November 1992, citing SW-846
chapter 1; the rest is common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.rules.registry import evaluate
from builders import Story, findings, visit

UNSTATED: tuple[str, ...] = ("VP-13", "SL-13", "OC-15", "PV-17")
UNMEASURED: dict[str, Any] = {"height_m": None, "distance_m": None, "meter": None}


def without_meters() -> Story:
    """A firm that keeps no list of its meters."""
    story = Story()
    for entries in story.chains.values():
        entries[:] = [each for each in entries if each.act != "equipment_set"]
    return story


def bare(story: Story) -> Story:
    """A visit of which nothing was stated that may be left out."""
    story.lot()
    story.opened(analysis=None, turnaround=None)
    for index, kind in enumerate(("indoor", "indoor", "outdoor")):
        story.collected(index, kind, **UNMEASURED)
    return story


def test_where_everything_was_stated_nothing_is_asked() -> None:
    """A tidy visit would be acknowledged line by line, and the next real warning with it."""
    assert findings(visit("accepted").case(), *UNSTATED) == []
    story = visit("collected")
    assert findings(story.case(sealing=story.sealing()), *UNSTATED) == []


def test_what_nobody_stated_is_said_once_for_all_samples() -> None:
    """A court reads a height, a distance and a request that nobody stated as if they had been in order."""
    story = bare(without_meters())
    found = {each.rule: each for each in findings(story.case(), *UNSTATED)}
    assert set(found) == set(UNSTATED)
    assert {(each.severity, each.about) for each in found.values()} == {("warn", story.form)}
    first, second, outdoor = map(grouped, story.samples)
    assert found["VP-13"].sentence == "No analysis and no turnaround is stated on the form."
    assert found["SL-13"].sentence == f"The inlet height of samples {first} and {second} was not stated."
    assert found["OC-15"].sentence == (
        f"The inlet height of sample {outdoor} and the distance from the nearest building of sample {outdoor}"
        " were not stated."
    )
    assert found["PV-17"].sentence == (
        f"The meter that read the flow of samples {first}, {second} and {outdoor} was not stated."
    )
    assert found["SL-13"].acts == (
        {"act": "corrected", "sample": None, "field": "height_m", "new": None, "reason": "left_out"},
    )


def test_where_meters_are_listed_the_rule_on_certificates_speaks_alone() -> None:
    """One missing word would be two findings, and the clerk looks for the second fault."""
    found = findings(bare(Story()).case(), "PV-06", "PV-17")
    assert [each.rule for each in found] == ["PV-06"]


@pytest.mark.parametrize(
    ("spoilt", "rule", "words"),
    [
        ({"opened": {"turnaround": None}}, "VP-13", "No turnaround is stated"),
        ({"opened": {"analysis": None}}, "VP-13", "No analysis is stated"),
        ({"first": {"height_m": None}}, "SL-13", "The inlet height of sample "),
        ({"outdoor": {"height_m": None}}, "OC-15", "The inlet height of sample "),
        ({"outdoor": {"distance_m": None}}, "OC-15", "The distance from the nearest building of sample "),
    ],
)
def test_each_silence_is_told_by_its_own_rule(spoilt: dict[str, Any], rule: str, words: str) -> None:
    """Whoever can still add it would not learn what is missing."""
    story = visit("collected", **spoilt)
    (found,) = (each for each in evaluate(story.case()) if each.rule in UNSTATED)
    assert (found.rule, found.severity, words in found.sentence) == (rule, "warn", True), found.sentence


def test_a_field_blank_has_neither_inlet_nor_meter() -> None:
    """A cassette that drew no air would be asked for the height at which it drew none."""
    story = without_meters()
    story.lot(samples=4)
    story.opened()
    for index, kind in enumerate(("indoor", "indoor", "outdoor")):
        story.collected(index, kind)
    story.collected(3, "blank", **UNMEASURED)
    assert findings(story.case(), *UNSTATED) == []


def test_a_correction_ends_the_question() -> None:
    """What was added afterwards would be asked for on every paper for ever."""
    story = visit("opened", opened={"analysis": None})
    run = story.collected(0, height_m=None)
    assert {each.rule for each in findings(story.case(), *UNSTATED)} == {"VP-13", "SL-13"}
    story.corrected(run, "height_m", "1.5")
    story.corrected(story.state().opened.entry, "analysis", "direct-exam")
    assert findings(story.case(), *UNSTATED) == []


def test_a_request_answers_what_the_opening_left_out() -> None:
    """The office orders by request, and every paper goes on calling the order unstated."""
    story = visit("collected", opened={"analysis": None, "turnaround": None})
    first, second, outdoor = story.samples[:3]
    story.requested(turnaround="2 days")
    story.requested([first], analysis="direct exam")
    (found,) = findings(story.case(), "VP-13")
    assert found.sentence == f"No analysis is stated for samples {grouped(second)} and {grouped(outdoor)}."
    assert set(found.samples) == {second, outdoor}
    story.requested(analysis="spore count")
    assert findings(story.case(), "VP-13") == []
    assert found.acts[0] == {"act": "requested", "form": story.form, "analysis": None, "turnaround": None}
