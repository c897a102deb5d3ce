"""Questions asked before somebody corrects or allows something: what stands there now, who may, and whether
it would count.
"""

from __future__ import annotations

from typing import Annotated, Any

from flask import Blueprint
from pydantic import BaseModel, Field

from bailee.api.asking import ledger
from bailee.api.layer import Query, operation
from bailee.domain import numbers
from bailee.operations import correctable
from bailee.operations.correctable import Correctable
from bailee.operations.visibility import Asker

blueprint = Blueprint("amending", __name__)


class FactsQuery(Query):
    """A sample or envelope that statements of the form name; left out, the form itself."""

    about: Annotated[str, Field(min_length=1, max_length=64)] | None = None


class FactOut(BaseModel):
    """One fact: its name, the value in force (null: nothing is said), whether the asker may correct it, why
    not, and who may.
    """

    field: str
    value: Any
    may: bool
    why_not: str
    who: str


class StatedOut(BaseModel):
    """One statement as it counts now, after the corrections that were followed: who made it, the numbers it
    names, its facts.
    """

    statement: str
    act: str
    entry: int
    at: str
    by: str
    organization: str
    names: list[str]
    data: dict[str, Any]
    facts: list[FactOut]

    @classmethod
    def of(cls, stated: Correctable) -> StatedOut:
        """The statement as told."""
        entry = stated.entry
        return cls(
            statement=entry.digest,
            act=entry.act,
            entry=entry.n,
            at=entry.at.text(),
            by=stated.person,
            organization=entry.org,
            names=list(stated.names),
            data=dict(entry.data),
            facts=[
                FactOut(field=f.field, value=f.value, may=not f.why_not, why_not=f.why_not, who=f.who)
                for f in stated.facts
            ],
        )


class FactsOut(BaseModel):
    """What may be corrected of a sample, an envelope or a form, oldest statement first."""

    form: str
    about: str
    statements: list[StatedOut]


class ExceptionQuery(Query):
    """A rule and the number its finding names; `form` where the number does not tell."""

    rule: Annotated[str, Field(min_length=1, max_length=16)]
    about: Annotated[str, Field(min_length=1, max_length=64)]
    reason: Annotated[str, Field(min_length=1, max_length=64)] | None = None
    form: Annotated[str, Field(min_length=12, max_length=12)] | None = None


class ExceptionOut(BaseModel):
    """What the rule finds about it now, which other numbers it finds something about, whether the asker's
    exception would count, who may; `holds`: the asker has a sample it is about, and may not seal or ship it.

    An exception of a finding that is not there yet is judged as far as it can be; it counts once the finding
    is.
    """

    rule: str
    title: str
    about: str
    forms: list[str]
    findings: list[str]
    others: list[str]
    counts: bool
    why_not: str
    who: str
    holds: bool


@blueprint.get("/forms/<form>/facts")
@operation(
    "What may be corrected, and by whom?",
    tag="questions",
    query=FactsQuery,
    answers={200: FactsOut},
    errors=(404, 409),
)
def facts(form: str, query: FactsQuery, asker: Asker) -> FactsOut:
    """The statements about a number with every fact that may be corrected.

    Values are those in force: the `old` of a correction.
    """
    number = numbers.read(form, "form")
    about = numbers.read(query.about) if query.about else number
    with ledger().database.reading() as connection:
        found = correctable.stated(ledger(), connection, asker, number, about)
    return FactsOut(form=number, about=about, statements=[StatedOut.of(each) for each in found])


@blueprint.get("/exceptions")
@operation(
    "Would this exception count?",
    tag="questions",
    query=ExceptionQuery,
    answers={200: ExceptionOut},
    errors=(404, 409),
)
def exception(query: ExceptionQuery, asker: Asker) -> ExceptionOut:
    """Whether the asker may allow a finding.

    A rule that may not be excepted is answered with those that may (`not-excepted`).
    """
    form = numbers.read(query.form, "form") if query.form else None
    with ledger().database.reading() as connection:
        found = correctable.allowed(ledger(), connection, asker, query.rule, query.about, query.reason, form)
    return ExceptionOut(
        rule=found.rule,
        title=found.title,
        about=query.about,
        forms=list(found.forms),
        findings=[hit.sentence for hit in found.found],
        others=list(found.others),
        counts=not found.why_not,
        why_not=found.why_not,
        who=found.who,
        holds=found.holds,
    )
