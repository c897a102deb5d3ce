"""What is kept in memory of chains that were read."""

from __future__ import annotations

import pytest

from bailee.operations import snapshots
from field import Field


def test_a_service_keeps_no_more_lots_in_memory_than_it_says(
    field: Field, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each box of cassettes ever received would stay in memory until the service is started again (common
    practice, no source).
    """
    books = snapshots.Books()
    monkeypatch.setattr(snapshots, "MOST_KEPT", 2)
    lots = [field.lot(1)[0] for _ in range(4)]
    with field.ledger.database.reading() as connection:
        for number in (*lots, lots[2], lots[0]):
            found = books.lot(connection, number)
            assert found
            assert (found.number, found.length) == (number, 2)
    assert list(books._lots) == [f"lot/{lots[2]}", f"lot/{lots[0]}"]
