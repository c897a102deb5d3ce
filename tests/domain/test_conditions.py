"""Which reading of the air speaks for which sample."""

from __future__ import annotations

import pytest

from bailee.domain import conditions
from builders import DAY, Story, visit


def read(story: Story, place: int) -> str | None:
    """The temperature that speaks for a sample."""
    form = story.state()
    found = conditions.of_sample(conditions.readings(form), form.samples[story.samples[place]])
    return str(found.temperature_c) if found else None


@pytest.mark.parametrize(("unit", "temperature"), [(None, "20"), ("2", "22"), ("1", "20"), ("3", None)])
def test_the_nearest_reading_in_its_unit_speaks_for_a_sample(
    unit: str | None, temperature: str | None
) -> None:
    """The laboratory's table would show the heated flat beside the sample of the cold one."""
    story = visit("opened")
    story.collected(0, unit=unit)
    story.collected(1, "outdoor")
    late = f"{DAY}T10:30:00-05:00"
    for at, told, where in (("09:14", "20", "1"), ("09:20", "22", "2"), ("10:20", "23", "2")):
        moment = f"{DAY}T{at}:00-05:00"
        story.conditions_read(at=moment, said=late, temperature_c=told, unit=where)
    assert read(story, 0) == temperature
    assert read(story, 1) is None
    story.conditions_read("outdoors", said=late)
    assert read(story, 1) == "9.0"


def test_a_reading_of_no_unit_speaks_for_all() -> None:
    """Who read the air once for the whole house would have read it for nobody."""
    story = visit("opened")
    story.collected(0, unit="2")
    story.conditions_read()
    assert read(story, 0) == "21.0"
