"""What a repair says that lacks entries."""

from __future__ import annotations

from pathlib import Path

import pytest

from bailee.errors import Unavailable
from bailee.ledger.checkpoint import Checkpoint
from bailee.operations.repair import repair
from bailee.store.database import Database
from grounds import migrated


@pytest.mark.parametrize(
    ("size", "said"),
    [
        (1, "Entry 0 of the log (counted from 0) is nowhere"),
        (3, "3 entries of the log (counted from 0), the first 0, the last 2, are nowhere"),
    ],
)
def test_what_no_source_has_is_told_by_its_place(tmp_path: Path, size: int, said: str) -> None:
    """Whoever holds a mirror or a file looks for the entry by its number (common practice, no source)."""
    database = Database(migrated(tmp_path / "ledger.sqlite"))
    with pytest.raises(Unavailable) as refused:
        repair(database, Checkpoint("ledger.example/log1", size, bytes(32)), "", [])
    database.close()
    assert refused.value.sentence.startswith(said)
