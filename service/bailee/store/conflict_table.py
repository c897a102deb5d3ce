"""Refused statements that contradict what their device said before or after: kept beside the log as evidence.

The service cannot sign for a person, and holds no key that an organization has enrolled, so nothing of this
can be an entry. It need not be: two texts that one key signed under one count prove the fork to anybody,
whoever kept them.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.signing import signed_statement
from bailee.signing.signed_statement import SignedStatement, Unverified
from bailee.store import log, schema

MOST: Final = 200
"""Kept of one key: enough to show what was done with it.

Whoever stole a key shall not fill the disk with it.
"""


@frozen
class ConflictingPair:
    """A refused statement, and another one that it cannot have followed from or stood beside: one in the log,
    or an act of administration that was refused under the same number.

    `chains` are what they are about.
    """

    kid: str
    org: str
    seq: int
    other: str
    refused: str
    chains: frozenset[str]


@frozen
class RefusedStatement:
    """A refused statement as its signer's organization is told of it.

    `late`: brought after its key had ended; `rec`: when (RFC 3339, UTC).
    """

    digest: str
    kid: str
    seq: int
    chain: str
    rec: str
    late: bool
    text: str


def keep(connection: Connection, signed: SignedStatement | Unverified, now: datetime, *, late: bool) -> bool:
    """Keep a refused statement, once, if its signer is known here and has not filled its share; whether it
    was kept now.

    `late`: its key had ended by then, so anybody may have made it.
    """
    signer = connection.execute(
        sa.select(schema.signer.c.id).where(schema.signer.c.kid == signed.kid)
    ).scalar()
    table, digest = schema.conflict, signed_statement.digest(signed.text)
    if signer is None:
        return False
    known = connection.execute(
        sa.select(sa.func.count(), sa.func.sum(sa.case((table.c.digest == digest, 1), else_=0))).where(
            table.c.signer_id == signer
        )
    ).one()
    if known[0] >= MOST or known[1]:
        return False
    connection.execute(
        table.insert().values(
            signer_id=signer,
            digest=digest,
            seq=signed.claims.seq,
            chain=signed.claims.sub,
            text=signed.text,
            late=late,
            rec=entries.recorded_at(now),
        )
    )
    return True


def about(
    connection: Connection, chain: str, kids: Collection[str], orgs: Collection[str]
) -> list[ConflictingPair]:
    """Contradictions of these keys, and of other keys of these organizations where a refused statement is
    about this chain.

    What was brought after a key's end is left out: whoever found the key can make as much of it as he likes.

    A refused statement stands beside the nearest entry that it contradicts, or an act of administration that
    was refused under its number; one that contradicts nothing here proves nothing and is left out.
    """
    asked = {"chain": chain, "kids": sorted(kids), "orgs": sorted(orgs)}
    found: dict[str, ConflictingPair] = {}
    for row in connection.execute(_ABOUT, asked):
        if row.text not in found and _contradicts(row):
            stmt = entries.read(row.entry).stmt
            found[row.text] = ConflictingPair(
                row.kid, row.org, row.seq, stmt, row.text, frozenset({row.chain, row.name})
            )
    for kid, named, seq, text, about_it, other in connection.execute(_REFUSED_TWICE, asked):
        if text not in found and log.signing_input(text) != log.signing_input(other):
            chains = frozenset({about_it, signed_statement.read(other).claims.sub})
            found[text] = ConflictingPair(kid, named, seq, other, text, chains)
    return list(found.values())


def of_organization(
    connection: Connection, org: str, limit: int, before: str | None = None
) -> list[RefusedStatement]:
    """The newest so many of one organization's keys, or those kept before the one with
    the digest `before`.
    """
    conflict = schema.conflict.c
    query = (
        sa.select(
            conflict.digest,
            schema.signer.c.kid,
            conflict.seq,
            conflict.chain,
            conflict.rec,
            conflict.late,
            conflict.text,
        )
        .select_from(schema.conflict.join(schema.signer))
        .where(schema.signer.c.org == org)
        .order_by(conflict.rec.desc(), conflict.digest.desc())
        .limit(limit)
    )
    if before is not None:
        there = sa.select(conflict.rec).where(conflict.digest == before).scalar_subquery()
        query = query.where((conflict.rec < there) | (conflict.rec == there) & (conflict.digest < before))
    return [RefusedStatement(*row) for row in connection.execute(query)]


_ASKED: Final = (
    schema.signer.c.kid.in_(sa.bindparam("kids", expanding=True))
    | (schema.conflict.c.chain == sa.bindparam("chain")),
    schema.signer.c.org.in_(sa.bindparam("orgs", expanding=True)),
    schema.conflict.c.late.is_(False),
)
_OF_THE_CONFLICT: Final = (
    schema.signer.c.kid,
    schema.signer.c.org,
    schema.conflict.c.seq,
    schema.conflict.c.text,
    schema.conflict.c.chain,
)
_ABOUT: Final = (
    sa.select(
        *_OF_THE_CONFLICT,
        schema.entry.c.text.label("entry"),
        schema.chain.c.name,
        schema.statement.c.seq.label("beside"),
        schema.conflict.c.digest.label("its"),
        schema.statement.c.digest.label("other"),
        schema.statement.c.signing_input,
        schema.statement.c.prev.label("follows"),
    )
    .select_from(
        schema.conflict.join(schema.signer)
        .join(
            schema.statement,
            (schema.statement.c.signer_id == schema.conflict.c.signer_id)
            & schema.statement.c.seq.in_(
                [schema.conflict.c.seq - 1, schema.conflict.c.seq, schema.conflict.c.seq + 1]
            ),
        )
        .join(schema.entry, schema.entry.c.id == schema.statement.c.entry_id)
        .join(schema.chain, schema.chain.c.id == schema.entry.c.chain_id)
    )
    .where(*_ASKED)
    .order_by(
        schema.signer.c.kid,
        schema.conflict.c.seq,
        schema.conflict.c.digest,
        sa.func.abs(schema.statement.c.seq - schema.conflict.c.seq),
    )
)
_TWIN: Final = schema.refused.alias("twin")
_REFUSED_TWICE: Final = (
    sa.select(
        *_OF_THE_CONFLICT,
        schema.refused.c.text.label("other"),
    )
    .select_from(
        schema.conflict.join(schema.signer).join(
            schema.refused,
            (schema.refused.c.kid == schema.signer.c.kid)
            & (
                schema.refused.c.digest
                == sa.select(sa.func.min(_TWIN.c.digest))
                .where(
                    _TWIN.c.kid == schema.signer.c.kid,
                    _TWIN.c.seq == schema.conflict.c.seq,
                    _TWIN.c.digest != schema.conflict.c.digest,
                )
                .scalar_subquery()
            ),
        )
    )
    .where(*_ASKED)
    .order_by(schema.signer.c.kid, schema.conflict.c.seq, schema.conflict.c.digest)
)


def _contradicts(row: sa.Row[*tuple[Any, ...]]) -> bool:
    """Whether one honest device cannot have signed both: of its neighbors here, a refused statement may well
    fit one and not the other.
    """
    if row.beside == row.seq:
        return bytes(row.signing_input) != log.signing_input(row.text)
    if row.beside > row.seq:
        return bool(row.follows != row.its)
    return bool(signed_statement.read(row.text).claims.prev != row.other)
