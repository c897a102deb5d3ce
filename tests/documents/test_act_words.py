"""What the custody record prints of acts that have no place of their own on it."""

from __future__ import annotations

from typing import Final

import pytest

from bailee.documents import record_sections
from bailee.domain.acts.table import ON_CHAIN
from bailee.presentation.act_words import says
from builders import DAY, INSPECTOR, visit
from domain.test_statements import LEAST

PRINTED: Final = [
    name for name, row in ON_CHAIN["form"].items() if row.facts not in record_sections._ELSEWHERE
]


@pytest.mark.parametrize("act", PRINTED)
def test_every_act_that_the_record_prints_is_put_into_words(act: str) -> None:
    """A signature would stand on the paper, and beside it nothing of what was signed, or
    another act's words.
    """
    story = visit("collected")
    entry = story.add(f"form/{story.form}", act, LEAST[act], by=INSPECTOR, said=f"{DAY}T11:00:00-05:00")
    try:
        lines = list(says(entry))
    except NotImplementedError:
        pytest.fail(f"service/bailee/presentation/act_words.py: write a case of {act!r} into `says`")
    assert lines
    assert all(lines), "service/bailee/presentation/act_words.py: `says` prints an empty line"
