"""The tree over the log: giving entries their places, and what is known of each tree head.

Three words for three states, never mixed: an entry is *recorded* when its transaction has committed
(`log.append`), *integrated* when it has a place and a tree head covers it (`integrate`, here), and
*published* when a signed checkpoint over it lies in the public folder (`operations.publishing.publish`). A
tree head is first size and root; its note comes when it was read back and signed.

How far the log had come at an instant: for replaying a check as it was asked then. Reads only.

The recorded time never runs back within a chain, so what a chain held at an instant is a beginning of what it
holds now.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.store import leases, schema
from bailee.store.leases import Lead
from bailee.store.prepared import PreparedQuery

GROUP: Final = 4096
"""Entries integrated in one transaction: keeps the write lock short while catching up."""


@frozen
class TreeHead:
    """Size and root (32 bytes) of the tree, and the signed note over it once there is one."""

    size: int
    root: bytes
    note: str | None


class StoredTiles:
    """The tree's tiles in the database, as `ledger.merkle` reads them."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def read(self, level: int, index: int) -> bytes:
        """All hashes of one row."""
        where = (schema.tile.c.level == level) & (schema.tile.c.place == index)
        return self._connection.execute(sa.select(schema.tile.c.hashes).where(where)).scalar() or b""


_SIZE: Final = PreparedQuery(sa.select(sa.func.max(schema.tree_head.c.size)))


def size(connection: Connection) -> int:
    """Entries that have a place in the log."""
    return _SIZE.value(connection) or 0


def root_at(connection: Connection, past: int) -> bytes | None:
    """Root of the log's first `past` entries; None when it has fewer."""
    return merkle.root(StoredTiles(connection), past) if past <= size(connection) else None


def is_waiting(connection: Connection) -> bool:
    """Whether any entry has no place yet."""
    waiting = sa.select(schema.entry.c.id).where(schema.entry.c.log_index.is_(None)).limit(1)
    return connection.execute(waiting).first() is not None


def newest_head(connection: Connection) -> TreeHead | None:
    """The newest tree head, signed or not; None while the log is empty."""
    head = schema.tree_head
    row = connection.execute(sa.select(head).order_by(head.c.size.desc()).limit(1)).one_or_none()
    return TreeHead(row.size, bytes(row.root), row.note) if row else None


def heads(connection: Connection) -> Iterator[TreeHead]:
    """All tree heads, the newest first."""
    for row in connection.execute(sa.select(schema.tree_head).order_by(schema.tree_head.c.size.desc())):
        yield TreeHead(row.size, bytes(row.root), row.note)


def newest_note(connection: Connection) -> str | None:
    """The newest signed checkpoint."""
    head = schema.tree_head.c
    query = sa.select(head.note).where(head.note.is_not(None)).order_by(head.size.desc()).limit(1)
    return connection.execute(query).scalar()


def note_at(connection: Connection, past: int, *, to_change: bool = False) -> str | None:
    """The signed checkpoint of exactly this size; `to_change` keeps others from changing it until the
    transaction ends.
    """
    query = sa.select(schema.tree_head.c.note).where(schema.tree_head.c.size == past)
    return connection.execute(query.with_for_update() if to_change else query).scalar()


def note_over(connection: Connection, least: int) -> str | None:
    """The signed checkpoint over at least so many entries that has the most cosignatures.

    Of several the newest.
    """
    head = schema.tree_head.c
    query = (
        sa.select(head.note)
        .where(head.size >= least, head.note.is_not(None))
        .order_by(head.cosigned.desc(), head.size.desc())
        .limit(1)
    )
    return connection.execute(query).scalar()


def keep_note(connection: Connection, past: int, note: str, cosigned: int) -> None:
    """Keep the note of a tree head in place of the one it had, with the number of its cosignatures."""
    head = schema.tree_head
    connection.execute(head.update().where(head.c.size == past).values(note=note, cosigned=cosigned))


def keep_first_note(connection: Connection, lead: Lead, past: int, note: str, cosigned: int) -> str:
    """Keep the note of a tree head that had none; the note it has then.

    Raises `Unavailable` ("not-leading") when the lead is gone, or the tree head with it.
    """
    leases.lock(connection, lead)
    head = schema.tree_head
    connection.execute(
        head.update().where(head.c.size == past, head.c.note.is_(None)).values(note=note, cosigned=cosigned)
    )
    kept = note_at(connection, past)
    if kept is None:
        raise leases.lost()
    return kept


@frozen
class Extent:
    """All that was recorded at one moment: the newest entry that had no place, if any, and how
    many had one.
    """

    waiting: int | None
    size: int


def extent(connection: Connection) -> Extent:
    """What is recorded now."""
    waiting = sa.select(sa.func.max(schema.entry.c.id)).where(schema.entry.c.log_index.is_(None))
    return Extent(connection.execute(waiting).scalar(), size(connection))


def is_under(connection: Connection, past: Extent, published: int) -> bool:
    """Whether all that was recorded then is among the first `published` entries."""
    if past.waiting is not None:
        place = sa.select(schema.entry.c.log_index).where(schema.entry.c.id == past.waiting)
        index = connection.execute(place).scalar()
        if index is None or index >= published:
            return False
    return past.size <= published


def signed_size(connection: Connection) -> int:
    """How many entries are under a signed checkpoint."""
    head = schema.tree_head.c
    query = sa.select(head.size).where(head.note.is_not(None)).order_by(head.size.desc()).limit(1)
    return connection.execute(query).scalar() or 0


def integrate(connection: Connection, lead: Lead) -> int:
    """Give waiting entries their places and note the new tree head; how many there were.

    Rows are found by having no place, never by being newer than the last one: a slow transaction may commit a
    lower id after a higher one. All in one transaction, so the tree and its head cannot part. Raises
    `Unavailable` ("not-leading").
    """
    leases.lock(connection, lead)
    waiting = connection.execute(
        sa.select(schema.entry.c.id, schema.entry.c.leaf)
        .where(schema.entry.c.log_index.is_(None))
        .order_by(schema.entry.c.id)
        .limit(GROUP)
    ).all()
    place(connection, [each.id for each in waiting], [bytes(each.leaf) for each in waiting], lead)
    return len(waiting)


def place(
    connection: Connection, entry_ids: list[int], leaves: list[bytes], lead: Lead | None = None
) -> None:
    """Put these entries at the end of the tree, in this order; without `lead` whoever leads (a repair)."""
    if not entry_ids:
        return
    old = leases.lock(connection, lead)
    tiles = StoredTiles(connection)
    for row in merkle.grow(tiles, old, leaves):
        _keep_tile(connection, row)
    _give_places(connection, entry_ids, old)
    new = old + len(entry_ids)
    root = merkle.root(tiles, new)
    connection.execute(schema.tree_head.insert().values(size=new, root=root, cosigned=0))
    leases.advance(connection, lead, old, new, root)


def _give_places(connection: Connection, entry_ids: list[int], first: int) -> None:
    connection.execute(
        schema.entry.update()
        .where(schema.entry.c.id == sa.bindparam("this"))
        .values(log_index=sa.bindparam("place")),
        [{"this": each, "place": first + offset} for offset, each in enumerate(entry_ids)],
    )


def _keep_tile(connection: Connection, row: merkle.Tile) -> None:
    where = (schema.tile.c.level == row.level) & (schema.tile.c.place == row.index)
    changed = connection.execute(schema.tile.update().where(where).values(hashes=row.hashes))
    if not changed.rowcount:
        connection.execute(schema.tile.insert().values(level=row.level, place=row.index, hashes=row.hashes))


_AT_ONCE: Final = 500


def length_at(connection: Connection, chain: str, at: datetime) -> int:
    """How many entries of a chain were recorded by an instant; 0 when it did not exist.

    By halving: few rows are read.
    """
    row = connection.execute(
        sa.select(schema.chain.c.id, schema.chain.c.length).where(schema.chain.c.name == chain)
    ).one_or_none()
    if row is None:
        return 0
    low, high = 0, row.length
    while low < high:
        middle = (low + high + 1) // 2
        where = (schema.entry.c.chain_id == row.id) & (schema.entry.c.n == middle)
        text = connection.execute(sa.select(schema.entry.c.text).where(where)).scalar_one()
        if _recorded(text) <= at:
            low = middle
        else:
            high = middle - 1
    return low


def recorded_by(
    connection: Connection, places: Collection[tuple[str, int]], at: datetime
) -> set[tuple[str, int]]:
    """Which of these entries (chain, number) were recorded by an instant.

    One question in any case, so that its time tells nothing of them.
    """
    where = sa.tuple_(schema.chain.c.name, schema.entry.c.n).in_(sorted(places))
    query = (
        sa.select(schema.chain.c.name, schema.entry.c.n, schema.entry.c.text).join(schema.chain).where(where)
    )
    return {(row.name, row.n) for row in connection.execute(query) if _recorded(row.text) <= at}


def _recorded(text: str) -> datetime:
    return datetime.fromisoformat(entries.read(text).rec)
