"""Questions asked before somebody signs a name or a number that cannot be meant. They write nothing."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from flask import Blueprint
from pydantic import BaseModel, Field

from bailee.api.answers import FindingOut
from bailee.api.layer import Query, operation
from bailee.api.session import ledger
from bailee.api.shapes import At
from bailee.domain import numbers
from bailee.operations import directory, issuing
from bailee.operations.access import Asker

blueprint = Blueprint("beforehand", __name__)


class LikeQuery(Query):
    """A short name as somebody typed it."""

    like: Annotated[str, Field(min_length=1, max_length=64)]


class NearestOut(BaseModel):
    """Founded organizations with a name like it, the likest first."""

    nearest: list[str]


class IssuingQuery(Query):
    """So many numbers, for a visit on that day. `at` is the clock of whoever hands them out."""

    count: Annotated[int, Field(ge=1, le=10_000)]
    visit: date | None = None
    at: At | None = None


class IssuingOut(BaseModel):
    """Ready unless something stops it; what warns is for the one who signs to decide."""

    ready: bool
    findings: list[FindingOut]


@blueprint.get("/organizations")
@operation("Which organization may be meant?", tag="questions", query=LikeQuery, answers={200: NearestOut})
def like(query: LikeQuery, asker: Asker) -> NearestOut:  # noqa: ARG001 - strangers do not get to list the organizations here
    """Names to choose from when one is not known here."""
    with ledger().database.reading() as connection:
        return NearestOut(nearest=directory.nearest(connection, query.like))


@blueprint.get("/lots/<lot>/issuing")
@operation(
    "May numbers of this lot be handed out?", tag="questions", query=IssuingQuery, answers={200: IssuingOut}, errors=(404,)
)  # fmt: skip
def before_issuing(lot: str, query: IssuingQuery, asker: Asker) -> IssuingOut:
    """Expiry, recall, and whether there are as many cassettes as numbers asked for."""
    number = numbers.read(lot, "lot")
    with ledger().database.reading() as connection:
        found = issuing.findings(
            ledger(), connection, asker.org, number, query.count, query.at or ledger().now(), query.visit
        )
    stops = any(each.severity in ("block", "refuse") for each in found)
    return IssuingOut(ready=not stops, findings=[FindingOut.of(each) for each in found])
