"""When there is no room left: nothing is acknowledged that is not kept, and the same statement is taken once
there is room.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy import event

from bailee.store import schema
from field import Field, make_home
from grounds import migrated

HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


@pytest.fixture
def cramped(tmp_path: Path) -> Any:
    """A ledger whose file may grow by a few pages only, as on a full disk (SQLite answers both alike:
    SQLITE_FULL).
    """
    url = migrated(tmp_path / "ledger.sqlite")
    field = Field(make_home(tmp_path / "home", url))
    field.room = None  # type: ignore[attr-defined]

    def limit(connection: Any, *_: Any) -> None:
        if field.room:  # type: ignore[attr-defined]
            connection.execute(f"PRAGMA max_page_count={field.room}")  # type: ignore[attr-defined]

    event.listen(field.ledger.database.engine, "checkout", limit)
    yield field
    field.ledger.database.close()


def test_a_full_disk_refuses_and_loses_nothing(cramped: Any) -> None:
    """A hand-over that was answered must be there.

    One that was not must be sent again and then be there once.
    """
    form = cramped.open_form()
    inspector = cramped.people["inspector"]
    with cramped.ledger.database.reading() as connection:
        cramped.room = connection.exec_driver_sql("PRAGMA page_count").scalar() + 3
    acknowledged, refused = [], None
    for _ in range(60):
        signed = inspector.sign(f"form/{form}", "held", HELD, {"note": "x" * 3000}, after=None)
        answer = cramped.send(signed)
        if answer.status_code == 503:
            refused = signed
            break
        acknowledged.append(answer.get_json()["leaf"])
    assert refused is not None
    told = answer.get_json()
    assert (told["code"], answer.content_type) == ("store-failed", "application/problem+json")
    assert "try again" in told["detail"]
    assert cramped.get("inspector", f"/forms/{form}").status_code == 200, "reads go on"
    cramped.room = 1_000_000
    again = cramped.ok(cramped.send(refused))
    assert again["status"] == "registered"
    with cramped.ledger.database.reading() as connection:
        kept = connection.execute(sa.select(schema.entry.c.leaf).order_by(schema.entry.c.id)).scalars().all()
    from bailee.ledger.base64url import b64u

    assert [*acknowledged, again["leaf"]] == [b64u(bytes(leaf)) for leaf in kept][-len(acknowledged) - 1 :]
