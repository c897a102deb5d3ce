"""The one write, and the entries it made."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal

from flask import Blueprint
from pydantic import BaseModel, Field, RootModel

from bailee.api.asking import ledger
from bailee.api.layer import Asked, operation
from bailee.api.problems import Problem, problem_of
from bailee.api.rate_limits import limits
from bailee.operations import correctable, queries, visibility
from bailee.operations.register import Outcome, Submission
from bailee.operations.visibility import Asker
from bailee.store import number_index, private

MOST: Final = 500
"""Statements in one request: a day's work of a large firm in one upload, and still one short transaction."""

blueprint = Blueprint("entries", __name__)


class StatementIn(Asked):
    """One signed statement (compact JWS) and the disclosures of its private fields."""

    statement: Annotated[str, Field(min_length=1, max_length=20_000)]
    disclosures: Annotated[list[Annotated[str, Field(max_length=8192)]], Field(max_length=64)] = Field(
        default_factory=list
    )


class StatementsIn(Asked):
    """Several statements, registered in this order; each gets an answer of its own."""

    statements: Annotated[list[StatementIn], Field(min_length=1, max_length=MOST)]


class EntriesIn(RootModel[StatementIn | StatementsIn]):
    """One statement, or a list of them."""


class AnswerOut(BaseModel):
    """What became of one statement. `gap`: counters of this device that are still missing before it.

    `note`: it is recorded and does not count, and why, as things stand: a correction that is not followed, an
    exception that allows nothing.
    """

    status: Literal["registered", "already", "refused"]
    chain: str | None = None
    n: int | None = None
    leaf: str | None = None
    index: int | None = None
    entry: str | None = None
    gap: int = 0
    note: str = ""
    problem: Problem | None = None

    @classmethod
    def of(cls, answer: Outcome, now: str, notes: Mapping[tuple[str, int], str]) -> AnswerOut:
        """The answer as told."""
        if answer.problem is not None:
            return cls(status="refused", problem=Problem.model_validate(problem_of(answer.problem, now)))
        logged = answer.logged
        assert logged is not None
        status: Literal["registered", "already"] = "already" if answer.again else "registered"
        return cls(
            status=status,
            chain=logged.chain,
            n=logged.n,
            leaf=logged.leaf,
            index=logged.index,
            entry=logged.text,
            gap=answer.gap,
            note=notes.get((logged.chain, logged.n), ""),
        )


class AnswersOut(BaseModel):
    """Answers in the order of the statements."""

    answers: list[AnswerOut]
    now: str


class EntryOut(BaseModel):
    """One entry of the log, exactly as its leaf was hashed."""

    index: int
    chain: str
    n: int
    leaf: str
    entry: str
    disclosures: list[str]


class RegisteredOut(RootModel[AnswerOut | AnswersOut]):
    """One answer, or a list of them, as was asked."""


@blueprint.post("/entries")
@operation(
    "Register signed statements",
    tag="write",
    body=EntriesIn,
    answers={201: AnswerOut, 200: RegisteredOut},
    errors=(403, 404, 409, 503),
    public=True,
)
def register(body: EntriesIn) -> Any:
    """The only write.

    One statement is answered 201 (new), 200 (it was there already) or with the problem that stopped it.

    A list is always answered 200, with one answer each. Nothing is acknowledged before it is durable; the
    same statement sent again gets the same answer.
    """
    asked, here = body.root, ledger()
    sent = [asked] if isinstance(asked, StatementIn) else asked.statements
    limits().admit_statements(len(sent))
    found = here.register.register(
        [Submission(each.statement, tuple(each.disclosures)) for each in sent], here.clock()
    )
    now = here.now().text()
    amended = [(each.logged.chain, each.logged.n) for each in found if each.logged and each.amends]
    notes = correctable.notes(here, amended)
    if isinstance(asked, StatementsIn):
        return AnswersOut(answers=[AnswerOut.of(each, now, notes) for each in found], now=now), 200
    (answer,) = found
    if answer.problem is not None:
        raise answer.problem
    return AnswerOut.of(answer, now, notes), 200 if answer.again else 201


class StatementOut(BaseModel):
    """A statement in the log, and the names of the private fields of it that are still kept."""

    statement: str
    chain: str
    n: int
    organization: str
    kid: str
    private: list[str]


@blueprint.get("/statements/<statement>")
@operation(
    "Where a statement is, and what private is still kept of it", tag="log", answers={200: StatementOut}
)
def statement(statement: str, asker: Asker) -> StatementOut:
    """For organizations that may see its chain; names of fields only, never what they say."""
    with ledger().database.reading() as connection:
        found = private.find(connection, statement, number_index.seen_by(asker.org))
    if found is None:
        raise visibility.nothing("statement", statement)
    return StatementOut(
        statement=statement, chain=found.chain, n=found.n, organization=found.org, kid=found.kid,
        private=[name for name, _ in found.fields],
    )  # fmt: skip


@blueprint.get("/entries/<int:index>")
@operation("One entry of the log", tag="log", answers={200: EntryOut}, errors=(404,))
def entry(index: int, asker: Asker) -> EntryOut:
    """The entry at a place of the log, for organizations that may see its chain.

    Beside it what is private and theirs to read; nothing of an organization, and nothing of others on a form
    on which samples were sent on to them.
    """
    with ledger().database.reading() as connection:
        logged = queries.entry(ledger(), connection, asker.org, index)
    assert logged.index is not None
    return EntryOut(
        index=logged.index,
        chain=logged.chain,
        n=logged.n,
        leaf=logged.leaf,
        entry=logged.text,
        disclosures=list(logged.disclosures),
    )
