"""A yes is typed in one way, whatever asks for it.

Our own promise (the guide on typing); common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import bailee_cli
from bailee_cli.terminal import yes_no


@pytest.mark.parametrize(
    ("text", "means"),
    [("y", True), (" YES ", True), ("n", False), ("No", False), ("", None), ("1", None), ("yesno", None)],
)
def test_only_the_letters_and_the_words_are_a_yes_or_a_no(text: str, means: bool | None) -> None:
    """If this fails, whoever leans on Enter has agreed to something."""
    assert yes_no.means(text) is means


def test_no_verb_asks_for_a_yes_in_its_own_way() -> None:
    """If this fails, Enter is a yes at one question, and a no at the next."""
    program = Path(bailee_cli.__file__).parent
    own = [each for each in program.rglob("*.py") if "click.confirm" in each.read_text()]
    assert [each.name for each in own] == []
