"""The log: appending statements, reading them back. What gives them their place in the tree is `store.tree`.

`append` runs inside one transaction, phases in the order things become true; a crash before the commit leaves
nothing, a crash after it leaves everything but the answer, and the same statement sent again gets that
answer.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.errors import Broken, Forged
from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u
from bailee.signing import signed_statement
from bailee.signing.signed_statement import SignedStatement, Unverified
from bailee.store import schema
from bailee.store.prepared import PreparedQuery


@frozen
class Head:
    """The newest entry of one chain, its row locked; a chain that has not begun has length 0 and no row."""

    chain_id: int | None = None
    length: int = 0
    leaf: str | None = None
    rec: str | None = None


@frozen
class Logged:
    """A stored entry: its exact text, chain position, leaf hash (base64url), place in the tree once it has
    one.
    """

    text: str
    chain: str
    n: int
    leaf: str
    index: int | None
    disclosures: tuple[str, ...] = ()


@frozen
class Appended:
    """A new entry, as written and as stored, the head of its chain from now on, how many counters of its
    device are missing before it, and whether one of administration was refused just before, at or just after
    it (`refused_table`).
    """

    entry: entries.Entry
    logged: Logged
    head: Head
    gap: int
    refused: bool


@frozen
class Neighbor:
    """A statement of a device: its counter, its entry's row, its digest, the digest before it, and what tells
    it from any other.
    """

    seq: int
    entry_id: int
    digest: str
    prev: str | None
    signing_input: bytes


@frozen
class Device:
    """What is known of a signer around one counter: its row, its statements just before, at and just after
    it.
    """

    signer_id: int | None
    near: Mapping[int, Neighbor]


def _insert(table: sa.Table, *columns: str) -> sa.Insert:
    return table.insert().values({name: sa.bindparam(name) for name in columns})


_CHAIN: Final = PreparedQuery(
    sa.select(schema.chain.c.id, schema.chain.c.length, schema.chain.c.head, schema.chain.c.rec)
    .where(schema.chain.c.name == sa.bindparam("name"))
    .with_for_update()
)
_DEVICE: Final = PreparedQuery(
    sa.select(
        schema.signer.c.id,
        schema.statement.c.seq,
        schema.statement.c.entry_id,
        schema.statement.c.digest,
        schema.statement.c.prev,
        schema.statement.c.signing_input,
    )
    .select_from(
        schema.signer.outerjoin(
            schema.statement,
            (schema.statement.c.signer_id == schema.signer.c.id)
            & schema.statement.c.seq.between(sa.bindparam("first"), sa.bindparam("last")),
        )
    )
    .where(schema.signer.c.kid == sa.bindparam("kid"))
)
_NEW_SIGNER: Final = PreparedQuery(_insert(schema.signer, "kid", "org").returning(schema.signer.c.id))
_NEW_CHAIN: Final = PreparedQuery(_insert(schema.chain, "name", "length").returning(schema.chain.c.id))
_NEW_ENTRY: Final = PreparedQuery(
    _insert(schema.entry, "chain_id", "n", "text", "leaf").returning(schema.entry.c.id)
)
_NEW_STATEMENT: Final = PreparedQuery(
    _insert(schema.statement, "signer_id", "seq", "entry_id", "digest", "prev", "signing_input")
)
_NEW_HEAD: Final = PreparedQuery(
    schema.chain.update()
    .where(schema.chain.c.id == sa.bindparam("this"))
    .values(length=sa.bindparam("n"), head=sa.bindparam("leaf"), rec=sa.bindparam("now"))
    .returning(
        sa.exists().where(
            schema.refused.c.kid == sa.bindparam("kid"),
            schema.refused.c.seq.between(sa.bindparam("first"), sa.bindparam("last")),
        )
    )
)
"""The last statement of an append, after its row was held against its signer's (`hold_signer`): what was
refused at the same moment is seen from one of the two sides.
"""
_SIGNER: Final = sa.select(schema.signer.c.id).with_for_update()


def lock_chain(connection: Connection, name: str) -> Head:
    """Lock the chain's row.

    A chain that has not begun has none: two who begin it at once meet at its unique name.
    """
    row = _CHAIN.row(connection, name=name)
    return Head(*row) if row else Head()


def device(connection: Connection, signed: SignedStatement | Unverified) -> Device:
    """The signer of a statement, with its neighbors in the device's own count."""
    seq = signed.claims.seq
    rows = _DEVICE.rows(connection, kid=signed.kid, first=seq - 1, last=seq + 1)
    if not rows:
        return Device(None, {})
    near = (Neighbor(*row[1:]) for row in rows if row[1] is not None)
    return Device(rows[0][0], {each.seq: each for each in near})


def hold_signer(connection: Connection, signed: SignedStatement) -> None:
    """Let nothing of this key be recorded before this transaction ends; what is being recorded is awaited."""
    found = connection.execute(_SIGNER.where(schema.signer.c.kid == signed.kid)).scalar()
    if found is None:
        _NEW_SIGNER.value(connection, kid=signed.kid, org=signed.claims.iss)


MOST_GAPS: Final = 100
"""Stretches of missing counters that are listed; more of them are counted all the same."""


@frozen
class Counters:
    """What of a key's counters is here: the highest, how many below it are missing, and the first stretches
    of these, each from its first counter to its last; the statement under the highest.
    """

    highest: int
    missing: int
    gaps: tuple[tuple[int, int], ...]
    newest: str | None = None


def counters(connection: Connection, kid: str) -> Counters:
    """The counters of a key; work grows with what it wrote, not with how far it says that it counted."""
    seq = schema.statement.c.seq
    of_key = sa.select(schema.signer.c.id).where(schema.signer.c.kid == kid).scalar_subquery()
    mine = schema.statement.c.signer_id == of_key
    here, highest = connection.execute(sa.select(sa.func.count(), sa.func.max(seq)).where(mine)).one()
    placed = sa.select(seq, sa.func.lag(seq, 1, 0).over(order_by=seq).label("before")).where(mine).subquery()
    jumps = (
        sa.select(placed.c.before, placed.c.seq)
        .where(placed.c.seq > placed.c.before + 1)
        .order_by(placed.c.seq)
        .limit(MOST_GAPS)
    )
    gaps = tuple((before + 1, after - 1) for before, after in connection.execute(jumps)) if here else ()
    newest = (
        sa.select(schema.entry.c.text)
        .join(schema.statement, schema.statement.c.entry_id == schema.entry.c.id)
        .where(mine, seq == highest)
    )
    text = connection.execute(newest).scalar() if here else None
    return Counters(highest or 0, (highest or 0) - here, gaps, entries.read(text).stmt if text else None)


def find_again(connection: Connection, signer: Device, signed: SignedStatement) -> Logged | None:
    """The entry this very statement already has.

    Raises `Forged` (`device-fork`) when its counter was used for another.
    """
    row = signer.near.get(signed.claims.seq)
    if row is None:
        return None
    if row.signing_input != signing_input(signed.text):
        raise Forged(
            f"This device already used its number {signed.claims.seq} for another entry. Stop signing with it"
            " and call your administrator: a copied key or a restored backup can cause this.",
            code="device-fork",
            seq=signed.claims.seq,
        )
    return _logged(connection, schema.entry.c.id == row.entry_id)


def contradicts(signer: Device, said: SignedStatement | Unverified) -> bool:
    """Whether one honest device cannot have signed both this and one of its neighbors here."""
    seq = said.claims.seq
    before, same, behind = (signer.near.get(each) for each in (seq - 1, seq, seq + 1))
    return (
        (before is not None and before.digest != said.claims.prev)
        or (same is not None and same.signing_input != signing_input(said.text))
        or (behind is not None and behind.prev != signed_statement.digest(said.text))
    )


def append(
    connection: Connection,
    head: Head,
    signer: Device,
    signed: SignedStatement,
    disclosures: Sequence[str],
    now: datetime,
) -> Appended:
    """Add one statement to the chain whose row is locked in `head`.

    Raises `Forged`: `device-fork` when it does not continue what its device said before, `unknown-entry` when
    it says it saw an entry this chain does not have.
    """
    claims = signed.claims
    gap = require_next(connection, head, signer, signed)
    entry = entries.Entry(
        claims.sub, head.length + 1, head.leaf, max(entries.recorded_at(now), head.rec or ""), signed.text
    )
    logged, new_head, refused = _store(connection, head, signer, signed, entry, disclosures)
    return Appended(entry, logged, new_head, gap, refused)


def require_next(connection: Connection, head: Head, signer: Device, signed: SignedStatement) -> int:
    """Raise as `append` does unless it may come next; how many counters of its device are missing before it.

    Writes nothing.
    """
    gap = _require_continues(connection, signer, signed)
    _require_seen(connection, head, signed.claims.after)
    return gap


def put_back(connection: Connection, text: str, disclosures: Sequence[str]) -> tuple[int, Logged]:
    """Store an entry that was part of this log before, byte for byte; its row and itself.

    Only for `operations.repair`.

    One that is here still, waiting for its place, is left as it is. Raises `Broken` ("conflict") when its
    chain went on differently.
    """
    entry = entries.read(text)
    statement = signed_statement.read(entry.stmt)
    head = lock_chain(connection, entry.chain)
    found = schema.entry.select().where(schema.entry.c.chain_id == head.chain_id, schema.entry.c.n == entry.n)
    row = connection.execute(found).one_or_none()
    if row is not None and row.text == text and row.log_index is None:
        return row.id, _logged(connection, schema.entry.c.id == row.id)
    if row is not None or (entry.n, entry.prev) != (head.length + 1, head.leaf):
        raise Broken(
            f"{entry.chain} went on differently after the old copy was put in place, at its entry {entry.n}:"
            " put the same backup in place again and repair it before the service is started. Devices send"
            " again what is lost by that.",
            code="conflict",
            chain=entry.chain,
            n=entry.n,
        )
    signer = device(connection, statement)
    logged, new_head, _ = _store(connection, head, signer, statement, entry, disclosures)
    return _row_of(connection, new_head), logged


def _store(
    connection: Connection,
    head: Head,
    signer: Device,
    said: SignedStatement | Unverified,
    entry: entries.Entry,
    disclosures: Sequence[str],
) -> tuple[Logged, Head, bool]:
    claims, text = said.claims, entries.write(entry)
    signer_id = signer.signer_id or _NEW_SIGNER.value(connection, kid=said.kid, org=claims.iss)
    chain_id = head.chain_id or _NEW_CHAIN.value(connection, name=entry.chain, length=0)
    leaf = entries.leaf_hash(text.encode("ascii"))
    entry_id = _NEW_ENTRY.value(connection, chain_id=chain_id, n=entry.n, text=text, leaf=leaf)
    _NEW_STATEMENT.rows(
        connection, signer_id=signer_id, seq=claims.seq, entry_id=entry_id,
        digest=signed_statement.digest(said.text), prev=claims.prev, signing_input=signing_input(said.text),
    )  # fmt: skip
    if disclosures:
        rows = [{"entry_id": entry_id, "position": at, "text": each} for at, each in enumerate(disclosures)]
        connection.execute(schema.disclosure.insert(), rows)
    name = b64u(leaf)
    moved = {"this": chain_id, "n": entry.n, "leaf": name, "now": entry.rec}
    near = {"kid": said.kid, "first": claims.seq - 1, "last": claims.seq + 1}
    refused = bool(_NEW_HEAD.value(connection, **moved, **near))
    logged = Logged(text, entry.chain, entry.n, name, None, tuple(disclosures))
    return logged, Head(chain_id, entry.n, name, entry.rec), refused


def _row_of(connection: Connection, head: Head) -> int:
    where = (schema.entry.c.chain_id == head.chain_id) & (schema.entry.c.n == head.length)
    return int(connection.execute(sa.select(schema.entry.c.id).where(where)).scalar_one())


_BEYOND: Final = (schema.chain.c.name == sa.bindparam("name")) & (schema.entry.c.n > sa.bindparam("after"))
_ENTRIES: Final = PreparedQuery(
    sa.select(
        schema.entry.c.id,
        schema.entry.c.text,
        schema.entry.c.n,
        schema.entry.c.leaf,
        schema.entry.c.log_index,
    )
    .join(schema.chain)
    .where(_BEYOND)
    .order_by(schema.entry.c.n)
)
_TOLD: Final = PreparedQuery(
    sa.select(schema.disclosure.c.entry_id, schema.disclosure.c.text)
    .select_from(schema.disclosure.join(schema.entry).join(schema.chain))
    .where(_BEYOND)
    .order_by(schema.disclosure.c.entry_id, schema.disclosure.c.position)
)


def chain(connection: Connection, name: str, *, after: int = 0) -> list[Logged]:
    """All entries of a chain beyond `after`, in order of `n`, with the disclosures still there."""
    told: dict[int, list[str]] = {}
    for entry_id, text in _TOLD.rows(connection, name=name, after=after):
        told.setdefault(entry_id, []).append(text)
    return [
        Logged(text, name, n, b64u(leaf), index, tuple(told.get(entry_id, ())))
        for entry_id, text, n, leaf, index in _ENTRIES.rows(connection, name=name, after=after)
    ]


_NAMED: Final = sa.select(schema.chain.c.length).where(schema.chain.c.name == sa.bindparam("name"))
_LENGTH: Final = PreparedQuery(_NAMED)
_STEADY_LENGTH: Final = PreparedQuery(_NAMED.with_for_update(read=True))


def chain_length(connection: Connection, name: str, *, steady: bool = False) -> int:
    """How many entries a chain has; 0 when there is none.

    `steady`: it cannot grow before this transaction ends.
    """
    return (_STEADY_LENGTH if steady else _LENGTH).value(connection, name=name) or 0


def by_index(connection: Connection, index: int, seen_by: sa.ColumnElement[bool]) -> Logged | None:
    """The entry at a place of the log, if it is on a chain that the asker may see."""
    where = (schema.entry.c.log_index == index) & seen_by
    return next(_stream(connection, where, schema.entry.c.id), None)


def everything(connection: Connection, first: int, size: int) -> Iterator[Logged]:
    """Entries `first` to `size` - 1 of the log in order, streamed in flat memory."""
    place = schema.entry.c.log_index
    yield from _stream(connection, (place >= first) & (place < size), place)


def texts(connection: Connection, first: int, size: int) -> list[bytes]:
    """The exact bytes of entries `first` to `size` - 1 of the log, and nothing beside them."""
    place = schema.entry.c.log_index
    query = sa.select(schema.entry.c.text).where(place >= first, place < size).order_by(place)
    return [text.encode("ascii") for text in connection.execute(query).scalars()]


def every_chain(connection: Connection) -> Iterator[tuple[int, Logged]]:
    """All entries with the id of their chain, as they arrived; those waiting for their place too."""
    chains = {
        row.name: row.id for row in connection.execute(sa.select(schema.chain.c.id, schema.chain.c.name))
    }
    for logged in _stream(connection, sa.true(), schema.entry.c.id):
        yield chains[logged.chain], logged


def _require_continues(connection: Connection, signer: Device, signed: SignedStatement) -> int:
    """Check `prev` against the neighbors that are here.

    How many counters are missing just before this one.
    """
    claims = signed.claims
    if (claims.seq == 1) != (claims.prev is None) or contradicts(signer, signed):
        raise Forged(
            "This entry does not continue what its device signed before. Stop signing with it and call your"
            " administrator: a copied key or a restored backup can cause this.",
            code="device-fork",
            seq=claims.seq,
        )
    if claims.seq - 1 in signer.near or claims.seq == 1:
        return 0
    last = sa.select(sa.func.max(schema.statement.c.seq)).where(
        schema.statement.c.signer_id == signer.signer_id, schema.statement.c.seq < claims.seq
    )
    return claims.seq - 1 - (connection.execute(last).scalar() or 0)


def _require_seen(connection: Connection, head: Head, after: str | None) -> None:
    if after is None or after == head.leaf:
        return
    leaves = connection.execute(
        sa.select(schema.entry.c.leaf)
        .where(schema.entry.c.chain_id == head.chain_id)
        .order_by(schema.entry.c.n.desc())
    ).scalars()
    if after not in map(b64u, map(bytes, leaves)):
        raise Forged(
            "This device saw an entry that this ledger does not have. Nothing was recorded; leave the device"
            " as it is and call the operator: the ledger may have lost entries.",
            code="unknown-entry",
            after=after,
        )


def _stream(
    connection: Connection, where: sa.ColumnElement[bool], order: sa.ColumnElement[int]
) -> Iterator[Logged]:
    columns = (
        schema.entry.c.id,
        schema.entry.c.text,
        schema.chain.c.name,
        schema.entry.c.n,
        schema.entry.c.leaf,
    )
    query = sa.select(*columns, schema.entry.c.log_index).join(schema.chain).where(where).order_by(order)
    for rows in connection.execute(query.execution_options(yield_per=500)).partitions():
        told = _disclosures(connection, [row.id for row in rows])
        for row in rows:
            yield Logged(
                row.text, row.name, row.n, b64u(bytes(row.leaf)), row.log_index, tuple(told.get(row.id, ()))
            )


def _logged(connection: Connection, where: sa.ColumnElement[bool]) -> Logged:
    found = next(_stream(connection, where, schema.entry.c.id), None)
    if found is None:
        raise Broken("An entry refers to one that is not there: run `bailee check-ledger`.", code="index")
    return found


def _disclosures(connection: Connection, entry_ids: Sequence[int]) -> dict[int, list[str]]:
    table = schema.disclosure
    told: dict[int, list[str]] = {}
    query = (
        sa.select(table).where(table.c.entry_id.in_(entry_ids)).order_by(table.c.entry_id, table.c.position)
    )
    for row in connection.execute(query):
        told.setdefault(row.entry_id, []).append(row.text)
    return told


def signing_input(text: str) -> bytes:
    """What tells a statement from any other, whatever its signature."""
    return hashlib.sha256(text.rpartition(".")[0].encode("ascii")).digest()
