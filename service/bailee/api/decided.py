"""The laboratory's answers about a sample, as told: what, when, by whom, and what the sender said."""

from __future__ import annotations

from pydantic import BaseModel

from bailee.domain.custody import Said
from bailee.domain.form_acts import Decision
from bailee.rules.case import Case


class DecisionOut(BaseModel):
    """One answer. `whom` was called and the `answer` are private and null when withheld or never said."""

    decision: str
    at: str
    by: str
    reasons: list[str]
    called: str | None
    whom: str | None
    answer: str | None
    qualified: bool
    resample: str | None
    entry: int

    @classmethod
    def of(cls, case: Case, said: Said) -> DecisionOut:
        """The answer as told."""
        body, entry = said.of(Decision), said.entry
        return cls(
            decision=entry.act, at=body.at.text(), by=case.person(entry.org, entry.kid), reasons=list(body.reasons),
            called=body.called.text() if body.called else None, whom=entry.disclosed.get("called_person"),
            answer=entry.disclosed.get("answer"), qualified=body.qualified, resample=body.resample, entry=entry.n,
        )  # fmt: skip
