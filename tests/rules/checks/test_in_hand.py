"""CU-20: collected and forgotten: on both sides of its hours, and silent where something else speaks.

Hours: common practice, no source. The states in which a sample is secured: EPA 905R78115 (1978).
"""

from __future__ import annotations

import pytest

from bailee.domain.numbers import grouped
from bailee.rules.registry import Finding
from builders import CLERK, DAY, INSPECTOR, Story, findings, visit


def said(story: Story, clock: str) -> list[Finding]:
    """What CU-20 says at a time of the day of the visit."""
    return findings(story.case(at=f"{DAY}T{clock}-05:00"), "CU-20")


@pytest.mark.parametrize(
    ("clock", "severity"),
    [("11:47:00", []), ("11:48:00", ["warn"]), ("21:47:00", ["warn"]), ("21:48:00", ["flag"])],
)
def test_samples_forgotten_in_the_vehicle_are_named_with_since_when(clock: str, severity: list[str]) -> None:
    """Thirty hours passed without a word, and the chase list was empty; the last run ended at 09:47."""
    story = visit("collected")
    found = said(story, clock)
    assert [each.severity for each in found] == severity
    for each in found:
        assert each.about == story.form
        named = ", ".join(grouped(number) for number in story.samples[:2])
        assert each.sentence == (
            f"Samples {named} and {grouped(story.samples[2])} have been with Inspector One since"
            " 2026-12-01 09:47 (-05:00), and no entry shows how they are secured."
        )


def test_who_locked_them_up_is_not_asked_until_that_ends() -> None:
    """A locked vehicle answers the question for as long as it was locked, and no longer."""
    assert said(visit("held"), "21:48:00") == []
    story = visit("collected")
    story.held(samples=story.samples, until=f"{DAY}T12:00:00-05:00", said=f"{DAY}T12:00:00-05:00")
    assert said(story, "14:00:00") == []
    (found,) = said(story, "14:01:00")
    assert "since 2026-12-01 12:00 (-05:00)" in found.sentence


def test_a_clerk_who_took_them_over_is_asked_from_then_on() -> None:
    """The inspector has given them away, and answers for them no more."""
    story = visit("handed_over")
    (found,) = said(story, "13:40:00")
    assert f"with {CLERK.name} since 2026-12-01 11:36 (-05:00)" in found.sentence


def test_given_and_not_yet_taken_only_the_missing_half_is_told() -> None:
    """One fault, one finding: CU-01 asks who has them."""
    story = visit("collected")
    story.relinquished(at=f"{DAY}T10:00:00-05:00")
    at = f"{DAY}T15:00:00-05:00"
    assert {each.rule for each in findings(story.case(at=at), "CU-01", "CU-20")} == {"CU-01"}


def test_of_what_is_about_to_be_sealed_and_of_what_is_sealed_nothing_is_said() -> None:
    """SE-10 asks the clerk who seals; two findings for one silence are one too many."""
    story = visit("handed_over")
    case = story.case(at=f"{DAY}T18:00:00-05:00", sealing=story.sealing())
    assert findings(case, "CU-20") == []
    assert said(visit("sealed"), "23:00:00") == []


def test_one_that_was_voided_is_asked_for_by_nobody() -> None:
    """What will not be analyzed need not be locked up."""
    story = visit("collected")
    for sample in story.samples:
        story.voided(sample, by=INSPECTOR)
    assert said(story, "21:48:00") == []
