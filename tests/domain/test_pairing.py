"""Which outdoor control stands beside which indoor sample."""

from datetime import timedelta

from bailee.domain import pairing
from builders import Story, visit


def told(story: Story) -> list[tuple[str, str | None, float | None]]:
    """Pairs as (indoor, outdoor, minutes apart)."""
    return [
        (
            p.indoor.number,
            p.outdoor.number if p.outdoor else None,
            p.apart / timedelta(minutes=1) if p.apart is not None else None,
        )
        for p in pairing.pairs(story.state())
    ]


def test_the_nearest_outdoor_control_in_time() -> None:
    """An indoor count would be compared with the outdoor air of another hour."""
    story = visit("opened")
    story.lot(samples=3)
    a, b, c, d, e, _ = story.samples
    story.collected(0, started="2026-12-01T09:00:00-05:00")
    story.collected(1, started="2026-12-01T11:00:00-05:00")
    story.collected(2, "outdoor", started="2026-12-01T08:30:00-05:00")
    story.collected(3, "outdoor", started="2026-12-01T11:20:00-05:00")
    story.collected(4, "blank", started="2026-12-01T09:01:00-05:00")
    assert told(story) == [(a, c, 30.0), (b, d, 20.0)]
    assert [sample.number for sample in pairing.of_kind(story.state(), "outdoor")] == [c, d]
    assert [sample.number for sample in pairing.of_kind(story.state(), "blank")] == [e]


def test_instants_are_compared_and_not_clock_faces() -> None:
    """A control from next door across a zone border would look an hour away."""
    story = visit("opened")
    story.lot(samples=1)
    story.collected(0, started="2026-12-01T09:00:00-05:00")
    story.collected(1, "outdoor", started="2026-12-01T09:01:00-06:00")
    story.collected(2, "outdoor", started="2026-12-01T08:50:00-06:00")
    assert told(story) == [(story.samples[0], story.samples[2], 50.0)]


def test_no_outdoor_control() -> None:
    """A visit without a control would stop the check instead of being flagged."""
    story = visit("opened")
    story.collected(0)
    assert told(story) == [(story.samples[0], None, None)]
    assert not pairing.pairs(story.state())[0].same_day


def test_a_void_control_is_none() -> None:
    """A dropped cassette would serve as the outdoor control."""
    story = visit("collected")
    story.voided(2)
    assert {outdoor for _, outdoor, _ in told(story)} == {None}


def test_equally_near_controls_are_settled_by_number() -> None:
    """Two readers of one form would pair it differently."""
    story = visit("opened")
    story.collected(0, started="2026-12-01T09:30:00-05:00")
    story.collected(1, "outdoor", started="2026-12-01T09:00:00-05:00")
    story.collected(2, "outdoor", started="2026-12-01T10:00:00-05:00")
    assert told(story) == [(story.samples[0], min(story.samples[1:3]), 30.0)]


def test_the_same_day_is_the_day_on_site() -> None:
    """A control taken ten minutes after midnight would pass for the same day, or one before
    it for another.
    """
    story = visit("opened")
    story.collected(0, started="2026-12-01T23:55:00-05:00")
    story.collected(1, "outdoor", started="2026-12-02T00:05:00-05:00")
    pair = pairing.pairs(story.state())[0]
    assert pair.apart == timedelta(minutes=10)
    assert not pair.same_day
    story = visit("opened")
    story.collected(0, started="2026-12-01T23:35:00-05:00")  # 04:35 UTC the next day
    story.collected(1, "outdoor", started="2026-12-01T18:00:00-05:00")
    assert pairing.pairs(story.state())[0].same_day


def test_pairs_come_in_the_order_of_sampling() -> None:
    """The report would list rooms in the order in which phones happened to upload."""
    story = visit("opened")
    story.collected(1, started="2026-12-01T10:00:00-05:00")
    story.collected(0, started="2026-12-01T09:00:00-05:00")
    story.collected(2, started="2026-12-01T09:00:00-05:00")
    nine = sorted([story.samples[0], story.samples[2]])
    assert [indoor for indoor, _, _ in told(story)] == [*nine, story.samples[1]]
