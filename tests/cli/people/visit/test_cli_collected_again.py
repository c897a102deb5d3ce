"""A sample collected again: its form is looked up, and it stands on every paper."""

from __future__ import annotations

from bailee.domain.numbers import grouped
from town import INDOOR, OPEN, Town, collect, last


def test_the_form_of_the_earlier_sample_is_looked_up(settled: Town) -> None:
    """Whoever is back on site has the number on the client's letter, and no form at hand."""
    _, (first, second, third) = settled.lot(3)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, first, INDOOR)
    earlier = inspector.answer("show")["forms"][0]["form"]
    inspector.run("void", first, "--reason", "dropped", "--yes")
    inspector.run(*OPEN)
    collect(settled, second, (*INDOOR, "--replaces", first))
    said = last(settled)
    assert (said["replaces"], said["replaces_form"]) == (first, earlier)
    assert f"It replaces {grouped(first)}." in " ".join(inspector.run("show", second).split())
    surface = ("collect-surface", third, "--medium", "tape", "--room", "bedroom", "--material", "wood")
    inspector.run(*surface, "--presence", "--replaces", second, "--anyway")
    said = last(settled)
    assert (said["replaces"], said.get("replaces_form")) == (second, None)
