"""What was signed with an organization's keys and refused, because it contradicts what the same key had said:
its own list.
"""

from __future__ import annotations

from typing import Annotated

from flask import Blueprint
from pydantic import BaseModel, Field

from bailee.api.asking import ledger
from bailee.api.layer import Query, operation
from bailee.operations.visibility import Asker
from bailee.store import conflict_table
from bailee.store.conflict_table import RefusedStatement

blueprint = Blueprint("contradictions", __name__)


class ContradictionsQuery(Query):
    """The newest so many, or with `before` those that came before the one with this digest."""

    limit: Annotated[int, Field(ge=1, le=500)] = 50
    before: str | None = None


class ContradictionOut(BaseModel):
    """One refused statement, whole.

    `after_end`: its key had been ended by then, so anybody may have made it and no file tells of it.
    """

    digest: str
    kid: str
    person: str
    seq: int
    chain: str
    recorded: str
    after_end: bool
    statement: str

    @classmethod
    def of(cls, refused: RefusedStatement, person: str) -> ContradictionOut:
        """As its organization is told."""
        return cls(
            digest=refused.digest,
            kid=refused.kid,
            person=person,
            seq=refused.seq,
            chain=refused.chain,
            recorded=refused.rec,
            after_end=refused.late,
            statement=refused.text,
        )


class ContradictionsOut(BaseModel):
    """At most 200 are kept of one key."""

    contradictions: list[ContradictionOut]


@blueprint.get("/contradictions")
@operation(
    "What was signed with your keys and contradicts them",
    tag="questions",
    query=ContradictionsQuery,
    answers={200: ContradictionsOut},
)
def contradictions(query: ContradictionsQuery, asker: Asker) -> ContradictionsOut:
    """The asker's own organization's alone: two hands have used a key, or a device went on from an old copy
    of itself.
    """
    with ledger().database.reading() as connection:
        found = conflict_table.of_organization(connection, asker.org, query.limit, query.before)
        own = ledger().books.organization(connection, asker.org) if found else None
    return ContradictionsOut(
        contradictions=[ContradictionOut.of(each, own.person(each.kid) if own else "") for each in found]
    )
