"""When a run began, by a clock that was ahead.

Common practice, no source: domain catalog, hard scenario 4.
"""

from __future__ import annotations

import pytest

from bailee.domain.moments import Moment
from bailee.rules import clock_bounds
from bailee.rules.transit import oldest_run
from builders import DAY, Story

SAID = f"{DAY}T10:00:00-05:00"
STARTED = f"{DAY}T09:50:00-05:00"


def ahead(rec: str, *, seen: bool = True) -> Story:
    """One run, started at 09:50 and signed at 10:00 by the collector's clock, and recorded at `rec`.

    The opening was recorded at 08:30:05.
    """
    story = Story()
    story.lot(samples=1)
    opening = story.opened()
    story.collected(0, started=STARTED, said=SAID, rec=rec, after=opening.leaf if seen else None)
    return story


def begun(story: Story) -> str:
    """The start that counts."""
    state = story.state()
    return clock_bounds.begun(state, state.samples[story.samples[0]]).text()


@pytest.mark.parametrize(
    ("rec", "seen", "expected"),
    [
        # Signed 5 minutes after it was recorded: clocks differ by as much.
        (f"{DAY}T09:55:00-05:00", True, STARTED),
        (f"{DAY}T18:00:00-05:00", True, STARTED),
        # One second more: signed at 08:30:05 at the earliest, ten minutes after the start.
        (f"{DAY}T09:54:59-05:00", True, f"{DAY}T08:20:05-05:00"),
        # Nothing of the form was seen: at least the 5 min 1 s between signing and recording.
        (f"{DAY}T09:54:59-05:00", False, f"{DAY}T09:44:59-05:00"),
    ],
)
def test_a_clock_that_was_ahead_makes_no_sample_younger(rec: str, seen: bool, expected: str) -> None:
    """A phone a day ahead gives every sample one day more to travel than the laboratory allows."""
    story = ahead(rec, seen=seen)
    assert begun(story) == expected
    assert oldest_run(story.case()) == Moment.parse(expected)
    state = story.state()
    told = clock_bounds.told(state, state.samples[story.samples[0]])
    assert bool(told) is (expected != STARTED)


def test_what_the_collector_corrected_counts_and_another_correction_does_not() -> None:
    """The inspector looks at the pump's own timer; from then on that is what is known."""
    story = ahead(f"{DAY}T09:00:00-05:00")
    run = story.state().entries[1]
    story.corrected(run, "room", "kitchen", said=f"{DAY}T11:00:00-05:00")
    assert begun(story) == f"{DAY}T08:20:05-05:00"
    story.corrected(run, "started", f"{DAY}T08:40:00-05:00", reason="clock", said=f"{DAY}T11:10:00-05:00")
    assert begun(story) == f"{DAY}T08:40:00-05:00"


def test_a_clock_that_was_behind_is_left_as_it_said() -> None:
    """It makes the sample older than it is, which loses nothing; CU-09 says that it cannot be."""
    story = Story()
    story.lot(samples=1)
    opening = story.opened()
    early = "2026-11-30T09:50:00-05:00"
    story.collected(0, started=early, said="2026-11-30T10:00:00-05:00", rec=SAID, after=opening.leaf)
    assert begun(story) == early
