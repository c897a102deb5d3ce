"""The cautions.

Points from OSHA/CDC-NIOSH/EPA statements, EPA 402-K-01-001 chapter 3 and common practice; sources stand
beside each.
"""

from __future__ import annotations

import re

import pytest

from bailee.domain import cautions

EVERYTHING = [
    *cautions.ON_SITE, *cautions.OCCUPANTS, *cautions.SURFACE,
    cautions.OPENING, cautions.UNCONDITIONED, cautions.VISIBLE_GROWTH,
]  # fmt: skip


@pytest.mark.parametrize(
    "word",
    [
        # The twelve points of the trade that somebody must see before the first cassette is opened.
        "never disturb",
        "N-95",
        "fit-tested",
        "100 sq ft",
        "pregnancy",
        "live wires",
        "not alone",
        "wet floors",
        "Wash your hands",
        "no federal limit",
        "call the office",
        "culture plates",
    ],
)
def test_each_point_is_said_once_on_site(word: str) -> None:
    """Somebody walks into sewage water or stirs up growth because one line was lost in an edit."""
    assert sum(word in each.says for each in cautions.ON_SITE) == 1


def test_local_codes_and_licensed_practice_come_first() -> None:
    """A reminder on a screen is taken for the rule of the place."""
    said = cautions.in_words()

    assert "Local codes" in said
    assert "your license" in said
    assert said.index("Local codes") < said.index("  1. Look first.")
    assert " 13. " in said


@pytest.mark.parametrize("caution", EVERYTHING, ids=lambda each: each.says[:30])
def test_every_caution_says_where_it_comes_from(caution: cautions.Caution) -> None:
    """A remembered sentence is printed years later as if a standard had said it."""
    assert caution.source
    assert "from memory" not in caution.says
    assert not re.search(r"\b(OSHA|EPA|CFR)\b", caution.says), (
        "a source that was not read must not be cited to people"
    )


@pytest.mark.parametrize("caution", EVERYTHING, ids=lambda each: each.says[:30])
def test_nothing_is_called_safe_or_toxic(caution: cautions.Caution) -> None:
    """A sampler's reminder is read to an occupant as a statement about their health."""
    assert not re.search(
        r"\b(?:un)?safe\b|\btoxic|\bcertified\b|\bharmless\b|\bdangerous\b", caution.says, re.IGNORECASE
    )
