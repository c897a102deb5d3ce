"""Whose a form is, read off its first entry."""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.domain.acts.form import Parties
from bailee.ledger import entry as entries
from bailee.signing import signed_statement
from bailee.store import schema
from bailee.store.prepared import PreparedQuery

_FIRST: Final = PreparedQuery(
    sa.select(schema.entry.c.text).where(
        schema.entry.c.chain_id == sa.bindparam("chain"), schema.entry.c.n == 1
    )
)


def parties(connection: Connection, chain_id: int) -> Parties:
    """Its sampling firm and its laboratory."""
    found = _FIRST.value(connection, chain=chain_id)
    named = signed_statement.read(entries.read(found).stmt).claims.data["parties"]
    return Parties(firm=named["firm"], lab=named["lab"])
