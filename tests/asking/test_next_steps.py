"""What is said to come next, where what was signed decides it."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.asking import next_steps

ENVELOPE = "EMF6T5CN17Y2"


@pytest.mark.parametrize(
    ("items", "following"),
    [
        ([{"sample": "SPNTF01RG0P5"}], {"act": "accepted", "envelope": ENVELOPE}),
        ([], {"act": "rejected"}),
    ],
)
def test_an_envelope_that_was_empty_is_called_about(
    items: list[dict[str, Any]], following: dict[str, str]
) -> None:
    """The dock was told to accept what was not there."""
    found = next_steps.after("received", {"items": items, "dock": {"envelope": ENVELOPE}})
    assert found is not None
    assert found[1] == following


def test_what_came_otherwise_is_put_on_hold_first() -> None:
    """A box with another seal and one cassette too few was said to be accepted next."""
    data = {"items": [{"sample": "SPNTF01RG0P5"}], "dock": {"envelope": ENVELOPE}}
    found = next_steps.after("received", data, differs=True)
    assert found is not None
    assert found[1] == {"act": "on_hold", "envelope": ENVELOPE}
