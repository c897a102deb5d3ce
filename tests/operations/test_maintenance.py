"""The operator's check of a database, and the rebuilding of its indexes."""

from __future__ import annotations

import shutil
from contextlib import nullcontext

import pytest
import sqlalchemy as sa

from bailee.ledger.checkpoint import parse_vkey
from bailee.operations import maintenance
from bailee.store import number_index, schema, tree
from field import Field
from grounds import After


def troubles(field: Field) -> list[maintenance.Trouble]:
    """What the check finds."""
    with field.ledger.database.reading() as connection:
        return list(maintenance.check(connection, parse_vkey(field.ledger.vkey)))


def placed(field: Field) -> None:
    """A whole visit, all of it in the tree."""
    field.faultless()
    field.ledger.sequencer.integrate()


@pytest.fixture
def full(after: After) -> Field:
    """A ledger with that."""
    return after(placed)[0]


def test_a_sound_ledger_has_no_trouble(full: Field) -> None:
    """A check that cries wolf would be switched off."""
    assert troubles(full) == []


@pytest.mark.parametrize(
    ("table", "change", "says"),
    [
        (schema.tile, {"hashes": b"0" * 32}, "Tile"),
        (schema.tree_head, {"note": "no note"}, "note"),
        (schema.disclosure, {"text": "WyJzYWx0IiwibmFtZSIsInZhbHVlIl0"}, "private field"),
        (schema.chain, {"length": 7}, "table of chains"),
        (schema.chain, {"head": "A" * 43}, "table of chains"),
        (schema.signer, {"org": "somebody-else"}, "table of signers"),
    ],
)
def test_what_was_changed_behind_the_service_is_found(
    full: Field, table: sa.Table, change: dict[str, object], says: str
) -> None:
    """Somebody with rights on the database must not be able to change what proves custody unseen."""
    with full.ledger.database.engine.begin() as connection:
        connection.execute(table.update().values(**change))
    assert any(says in trouble.says for trouble in troubles(full))


def test_an_entry_changed_with_the_locks_taken_off_is_found(full: Field) -> None:
    """The database's own locks can be removed by its administrator; the hashes cannot."""
    locks = {
        "sqlite": ["DROP TRIGGER entry_no_change"],
        "postgresql": ["ALTER TABLE entry DISABLE TRIGGER ALL"],
    }
    with full.ledger.database.engine.begin() as connection:
        for lock in locks[connection.dialect.name]:
            connection.execute(sa.text(lock))
        text = connection.execute(
            sa.select(schema.entry.c.text).where(schema.entry.c.log_index == 20)
        ).scalar_one()
        changed = text.replace('"rec":"2026', '"rec":"2025')
        connection.execute(schema.entry.update().where(schema.entry.c.log_index == 20).values(text=changed))
    found = troubles(full)
    assert any("no longer refuses to change entries" in trouble.says for trouble in found)
    assert 20 in {trouble.index for trouble in found}
    assert any("checkpoint" in trouble.says for trouble in found)


def test_a_rebuilt_index_is_the_same_index(full: Field) -> None:
    """A lost or doubtful index must be replaceable without asking anybody."""

    def index() -> list[tuple[object, ...]]:
        with full.ledger.database.reading() as connection:
            return [
                *sorted(tuple(row) for row in connection.execute(sa.select(schema.party))),
                *sorted(tuple(map(str, row)) for row in connection.execute(sa.select(schema.mention))),
            ]

    before = index()
    with full.ledger.database.engine.begin() as connection:
        connection.execute(schema.mention.delete())
    count = full.ledger.database.write(maintenance.rebuild)
    assert count > 0
    assert index() == before


def test_nothing_is_entered_beside_an_index_that_is_made_anew(full: Field) -> None:
    """What another host records in that moment would be missing in the index: a party would read nothing."""
    database = full.ledger.database
    waits_for_nobody, enters = (
        ("PRAGMA busy_timeout = 0", "UPDATE party SET spoke = TRUE")
        if database.is_sqlite
        else ("SET lock_timeout = 0", "LOCK TABLE party IN ACCESS SHARE MODE NOWAIT")
    )
    with database.engine.begin() as rebuilding, database.engine.connect() as recording:
        number_index.clear(rebuilding)
        recording.exec_driver_sql(waits_for_nobody)
        with pytest.raises(sa.exc.OperationalError):
            recording.exec_driver_sql(enters)


def test_long_work_tells_how_far_it_has_come(full: Field) -> None:
    """An operator who hears nothing for an hour takes a check or a repair for dead, and stops it."""
    told: list[tuple[int, int]] = []

    def steps(done: int, in_all: int) -> None:
        told.append((done, in_all))

    def all_told() -> list[tuple[int, int]]:
        found = list(told)
        told.clear()
        return found

    with full.ledger.database.reading() as connection:
        size = tree.size(connection)
        assert list(maintenance.check(connection, parse_vkey(full.ledger.vkey), steps)) == []
    each = [(done, size) for done in range(1, size + 1)]
    assert all_told() == each
    full.ledger.database.write(lambda connection: maintenance.rebuild(connection, steps))
    assert all_told() == each
    full.ledger.publisher.watch = lambda: nullcontext(steps)
    full.ledger.publisher.write_again()
    assert all_told()[-1] == (size, size)
    shutil.rmtree(full.ledger.settings.tiles)
    full.open_form()
    full.ledger.sequencer.integrate()
    assert all_told()
