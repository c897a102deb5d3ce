"""Who opened the envelope, when, and what is kept meanwhile."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.rules.registry import Finding
from builders import ANALYST, CLERK, CUSTODIAN, DAY, LAB, LAB_QUALITY, Person, Story, findings, visit


def found(story: Story, rule: str, at: str | None = None) -> list[Finding]:
    """What one rule says of the story, asked at some time."""
    return findings(story.case(at=at), rule)


# RC-09


@pytest.mark.parametrize(("at", "count"), [("15:28:00", 0), ("15:27:59", 1)])
def test_received_before_it_was_handed_over(at: str, count: int) -> None:
    """One of two clocks is wrong, and the record says which two times collide. 120 s between two phones:
    common practice.
    """
    story = visit("shipped")
    story.docked(at=f"{DAY}T{at}-05:00", said="2026-12-02T10:40:00-06:00", dock={"delivered": None})
    hits = found(story, "RC-09")
    assert [(each.severity, each.about) for each in hits] == [("flag", story.envelope)] * count
    for each in hits:
        assert "before it was shipped on 2026-12-01 15:30 (-05:00)" in each.sentence
        assert each.sentence.startswith(f"Envelope {grouped(story.envelope)} was received")


@pytest.mark.parametrize(("at", "count"), [("09:45:00", 0), ("09:44:59", 1)])
def test_received_before_the_last_run_ended(at: str, count: int) -> None:
    """A result for air that had not been drawn yet; the last run ends at 09:47."""
    story = visit("collected")
    story.docked(
        story.samples, at=f"{DAY}T{at}-05:00", said="2026-12-02T10:40:00-06:00", dock={"delivered": None}
    )
    hits = [each for each in found(story, "RC-09") if "the run of" in each.sentence]
    assert len(hits) == count
    assert all(grouped(story.samples[2]) in each.sentence for each in hits)


@pytest.mark.parametrize(
    ("delivered", "count"),
    [
        ("2026-12-02T10:42:00-06:00", 0),
        ("2026-12-02T10:42:01-06:00", 1),
        (f"{DAY}T15:28:00-05:00", 0),
        (f"{DAY}T15:27:59-05:00", 1),
    ],
)
def test_delivered_outside_its_journey(delivered: str, count: int) -> None:
    """A delivery after the opening, or before the pick-up, was read off the wrong line of
    the carrier's list.
    """
    story = visit("shipped")
    story.docked(dock={"delivered": delivered})
    assert len(found(story, "RC-09")) == count


# RC-11


def unsigned() -> Story:
    """Three cassettes arrive, and for one nobody ever signed a collection."""
    story = visit("opened")
    story.collected(0)
    story.collected(2, "outdoor")
    story.docked(story.samples)
    return story


@pytest.mark.parametrize(
    ("at", "severity"), [("2026-12-09T17:00:00-06:00", "warn"), ("2026-12-09T17:00:01-06:00", "flag")]
)
def test_a_sample_nobody_signed_for_is_kept_five_working_days(at: str, severity: str) -> None:
    """49 CFR 40.83 by analogy: received Wednesday 2 December, so it is kept until the dock shuts on Wednesday
    the 9th.
    """
    story = unsigned()
    (hit,) = found(story, "RC-11", at)
    assert (hit.severity, hit.about) == (severity, story.samples[1])
    assert "2026-12-09 17:00 (-06:00)" in hit.sentence


def test_signed_late_it_is_cured() -> None:
    """49 CFR 40.205 by analogy: the person who left it out supplies it, and says so."""
    story = unsigned()
    story.collected(1, said="2026-12-03T09:00:00-05:00")
    assert found(story, "RC-11") == []


def test_thrown_away_before_the_time_it_is_a_flag() -> None:
    """The statement arrives on Friday, and there is nothing left to analyze."""
    story = unsigned()
    story.disposed([story.samples[1]], how="destroyed", at="2026-12-03T09:00:00-06:00")
    assert [each.severity for each in found(story, "RC-11")] == ["flag"]


# RC-13


@pytest.mark.parametrize(
    ("who", "words"),
    [(CUSTODIAN, None), (LAB_QUALITY, None), (ANALYST, "as analyst"), (CLERK, f"it was addressed to {LAB}")],
)
def test_opened_by_somebody_not_listed(who: Person, words: str | None) -> None:
    """Whoever was nearest cut it open.

    The custody of the laboratory begins with somebody who may not begin it.
    """
    story = visit("shipped")
    story.docked(by=who)
    hits = found(story, "RC-13")
    assert [(each.severity, each.about) for each in hits] == ([("warn", story.envelope)] if words else [])
    for each in hits:
        assert str(words) in each.sentence


def test_before_the_dock_there_is_nobody_to_list() -> None:
    """A hand-over in the office is no opening."""
    assert found(visit("shipped"), "RC-13") == []


# RC-14


@pytest.mark.parametrize(
    ("wanted", "read", "count"), [(True, None, 1), (True, "-4.5", 0), (True, "18", 0), (False, None, 0)]
)
def test_the_temperature_on_opening(wanted: bool, read: Any, count: int) -> None:
    """Informative for spore traps, no limit: common practice, no source.

    A firm that does not want it turns it off.
    """
    story = visit("shipped", policy={"temperature_wanted": wanted})
    assert found(story, "RC-14") == []
    story.docked(dock={"temperature_c": read})
    assert [each.severity for each in found(story, "RC-14")] == ["note"] * count


# RC-22


@pytest.mark.parametrize(
    ("sealed", "taken_in", "opened", "told"),
    [
        (2, None, 1, "2 containers when sealed, 1 container at opening."),
        (2, 1, 2, "2 containers when sealed, 1 container when taken in, 2 containers at opening."),
        (2, 1, None, "2 containers when sealed, 1 container when taken in."),
        (None, 2, 1, "2 containers when taken in, 1 container at opening."),
        (2, 2, 2, ""),
        (2, None, None, ""),
        (None, None, 1, ""),
    ],
)
def test_a_box_that_did_not_come(
    sealed: int | None, taken_in: int | None, opened: int | None, told: str
) -> None:
    """The second bag stays in the van, and the count of the first one is believed. What nobody counted is
    not compared.
    """
    story = visit("shipped", sealed={"containers": sealed})
    if taken_in:
        story.taken_in(containers=taken_in)
    story.docked(dock={"containers": opened})
    hits = found(story, "RC-22")
    said = [f"Envelope {grouped(story.envelope)}: {told}"] if told else []
    assert [(each.severity, each.about, each.sentence) for each in hits] == [
        ("warn", story.envelope, each) for each in said
    ]


def test_a_miscounted_box_is_corrected() -> None:
    """If this fails, a slip of the finger stays a difference for good."""
    story = visit("shipped", sealed={"containers": 2})
    story.docked(dock={"containers": 1})
    opened = story.chains[f"form/{story.form}"][-1]
    assert [each.rule for each in found(story, "RC-22")] == ["RC-22"]
    story.corrected(opened, "dock.containers", 2)
    assert found(story, "RC-22") == []


def test_two_visits_in_one_envelope_are_one_difference() -> None:
    """The dock would read the same box missing twice, and look for two."""
    story = visit("opened")
    story.lot()
    for place in (0, 1):
        if place:
            story.opened()
        story.collected(place)
        story.relinquished()
        story.received()
    for form in story.forms:
        story.sealed(form=form, containers=2)
    for form in story.forms:
        story.shipped(form=form)
    for form in story.forms:
        story.docked(form=form, dock={"containers": 1})
    assert len(found(story, "RC-22")) == 1
