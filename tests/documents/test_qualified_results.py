"""What a laboratory must print with a result, on paper and in the browser."""

from __future__ import annotations

from test_custody_record import record, text

from bailee.domain.numbers import grouped
from builders import visit


def test_the_record_prints_the_qualification_and_the_call() -> None:
    """Whoever writes the report copies from this paper.

    What is not on it is not in the report (15A NCAC 02H .0805: qualified result).
    """
    story = visit("docked", docked={"dock": {"seal_state": "broken"}})
    story.accepted(
        qualified=True,
        reasons=["seal"],
        called="2026-12-02T10:50:00-06:00",
        disclosed={"called_person": "R. Example", "answer": "go on"},
    )
    said = text(record(story))
    assert "Qualified results" in said
    results = said.partition("Qualified results")[2].partition("Findings")[0]
    assert "broken at opening" in results
    assert all(grouped(each) in results for each in story.samples)
    assert "Sampling firm called on 2026-12-02 11:50 (-05:00) [10:50 (-06:00)]" in said
    assert "R. Example: go on" in said
    assert "Qualified results" not in text(record(visit("accepted")))


def test_samples_in_a_vehicle_have_no_results_to_qualify() -> None:
    """The client reads *qualified results* on the record of a visit whose samples nobody has analyzed."""
    said = text(record(visit("collected", lot={"expiry": "2026-11-30"})))
    assert "Qualified results" not in said
    assert "To be printed with results" in said


def test_the_record_shows_a_sample_sent_on_with_both_numbers() -> None:
    """The opponent asks how a slide with another number can be this sample."""
    story = visit("accepted")
    story.forwarded(0)
    said = text(record(story))
    assert f"{grouped(story.samples[0])} as {grouped(story.samples[3])}: slide, opened, stained" in said
    assert f"Was {grouped(story.samples[0])}: the same trace under a new number" in said
