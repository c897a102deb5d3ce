"""What is carried to a visit besides the cassettes."""

from __future__ import annotations

from decimal import Decimal

import pytest

from bailee.domain.policy import Policy
from bailee.planning import pack_list
from bailee.rules.checks.kit import Cassettes

USUAL = Cassettes(2, 1, 0, 0, 1)


def packed(wanted: Cassettes = USUAL, **limits: object) -> dict[str, int | None]:
    """The list, by what is carried."""
    return {each.what: each.count for each in pack_list.pack(wanted, Policy.of(**limits))}


@pytest.mark.parametrize(
    "what",
    [
        "spare battery",
        "pump, charged",
        "flow meter",
        "pen forms",
        "pens",
        "return envelope",
        "label of the envelope",
    ],
)
def test_nothing_is_left_at_the_shelf(what: str) -> None:
    """The pump stops at the third room, or the samples go home in a coat."""
    assert [each for each in packed() if what in each] != []


def test_cassettes_are_those_of_the_plan_with_a_spare() -> None:
    """One dropped cassette would end the visit."""
    (told,) = [each for each in packed() if each.startswith("cassettes")]
    assert "(2 indoor, 1 outdoor, 1 spare)" in told
    assert packed()[told] == 4


@pytest.mark.parametrize(("indoor", "pages"), [(2, 1), (4, 1), (5, 2), (12, 3)])
def test_there_is_a_line_of_the_pen_form_for_every_cassette(indoor: int, pages: int) -> None:
    """The seventh cassette of a power cut would have no line. Six a page: the drawing of the form."""
    found = packed(Cassettes(indoor, 1, 0, 0, 1))
    assert [count for what, count in found.items() if what.startswith("pen forms")] == [pages]


def test_a_second_seal_is_carried() -> None:
    """A torn seal would leave the envelope open, or be stuck on again."""
    (count,) = [count for what, count in packed().items() if "seals" in what]
    assert count == 2


def test_the_stand_reaches_as_high_as_the_firm_wants() -> None:
    """An inlet at knee height is found when the visit is over."""
    assert any(
        "reaches 3 ft to 6 ft" in each
        for each in packed(height_min_m=Decimal("0.9144"), height_max_m=Decimal("1.8288"))
    )
