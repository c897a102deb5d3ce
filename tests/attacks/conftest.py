"""Attacks are done to SQLite's file by Python's own driver: that is enough to try what the formats promise, on any database."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from operator_hands import Fields


@pytest.fixture
def make_field(tmp_path: Path) -> Iterator[Fields]:
    """As many services as the attack needs."""
    fields = Fields(tmp_path)
    yield fields
    for each in fields.made:
        each.ledger.database.close()
