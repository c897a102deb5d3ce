"""That a service does not grow: what `tests/crash/soak.py` measured, held in every run without a clock."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import pytest

from bailee.serving.connections import Server


@pytest.fixture
def as_a_command() -> Iterator[None]:
    """Waste is looked for as seldom as `bailee` does for a command that lives for a moment."""
    before = gc.get_threshold()
    gc.set_threshold(50_000)
    yield
    gc.set_threshold(*before)


@pytest.mark.usefixtures("as_a_command")
def test_a_service_looks_for_waste_as_often_as_python_does() -> None:
    """Papers leave fonts whose parts point at each other: a service begun at a terminal grew by 10 % from the
    second to the tenth minute, and did not stop (tests/crash/soak.py).
    """
    seen: list[tuple[int, int, int]] = []

    def turn() -> None:
        seen.append(gc.get_threshold())
        raise SystemExit

    Server(lambda *_: [], threads=1, largest_body=1, listen="127.0.0.1:0").run(turn)
    assert seen == [(700, 10, 10)]
