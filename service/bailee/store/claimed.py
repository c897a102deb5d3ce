"""What the tables claim beside the entries' own bytes, held against them: where chains end, whose a key is,
that entries are append-only.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.ledger.base64url import b64u
from bailee.store import schema

_LOCKS: Final = {
    "sqlite": (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'",
        {"entry_no_delete", "entry_no_change"},
    ),
    "postgresql": (
        "SELECT tgname FROM pg_trigger WHERE tgrelid = 'entry'::regclass AND tgenabled <> 'D'",
        {"entry_append_only", "entry_no_truncate"},
    ),
}
"""How to ask which triggers stand, and those that must: the database itself refuses to change an entry
(migration 0001)."""


def wrong_heads(connection: Connection) -> Iterator[str]:
    """Chains that the table lets end elsewhere than with their last entry: the next statement would be joined
    to nothing.
    """
    chain, entry = schema.chain.c, schema.entry.c
    newest = sa.select(entry.chain_id, sa.func.max(entry.n).label("n")).group_by(entry.chain_id).subquery()
    query = (
        sa.select(chain.name, chain.length, chain.head, newest.c.n, entry.leaf)
        .select_from(
            schema.chain.outerjoin(newest, newest.c.chain_id == chain.id).outerjoin(
                schema.entry, (entry.chain_id == chain.id) & (entry.n == newest.c.n)
            )
        )
        .order_by(chain.name)
    )
    for name, length, head, n, leaf in connection.execute(query):
        if (length, head) != (n or 0, b64u(leaf) if leaf else None):
            yield name


def wrong_signers(connection: Connection, speakers: Mapping[str, str]) -> Iterator[str]:
    """Keys that the table gives to another organization than the one in whose name they signed.

    `speakers`: organizations by key.
    """
    rows = connection.execute(sa.select(schema.signer.c.kid, schema.signer.c.org))
    claimed: dict[str, str] = {row.kid: row.org for row in rows}
    yield from (kid for kid, org in sorted(speakers.items()) if claimed.get(kid) != org)


def locks_missing(connection: Connection) -> list[str]:
    """Triggers that keep entries append-only and that are gone or switched off."""
    query, wanted = _LOCKS[connection.dialect.name]
    return sorted(wanted - set(connection.execute(sa.text(query)).scalars()))
