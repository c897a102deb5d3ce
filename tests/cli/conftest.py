"""Towns, empty and settled."""

from pathlib import Path

import pytest
from town import Town


@pytest.fixture
def town(tmp_path: Path) -> Town:
    """A service nobody has joined yet."""
    return Town(tmp_path)


@pytest.fixture
def settled(town: Town) -> Town:
    """A service with a firm and a laboratory at work."""
    town.settle()
    return town
