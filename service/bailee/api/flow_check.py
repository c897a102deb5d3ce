"""A calculation, answered like any other question: what follows from one run of a pump, by the asker's own
thresholds.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

from flask import Blueprint
from pydantic import BaseModel, Field

from bailee.api.answers import FindingOut
from bailee.api.asking import ledger
from bailee.api.layer import Query, operation
from bailee.domain import flow as runs
from bailee.domain.policy import Policy
from bailee.operations.visibility import Asker
from bailee.rules.checks import flow as rules

blueprint = Blueprint("flow", __name__)

Figure = Annotated[str, Field(min_length=1, max_length=14)]
"""A decimal as text."""


class FlowQuery(Query):
    """Flows read before and after, L/min; actual seconds.

    Neither reading: a field blank. `fraction`: parts of the trace, `1,0.5`.
    """

    before: Figure | None = None
    after: Figure | None = None
    run_s: Annotated[int, Field(ge=0, le=runs.LONGEST_RUN_S)] = 300
    fraction: Annotated[str, Field(min_length=1, max_length=100)] | None = None
    nominal: Figure | None = None


class LimitOut(BaseModel):
    """What one counted structure stands for when this part of the trace is read.

    Null where no air was drawn.
    """

    fraction: str
    fs_m3: str | None
    reported: str | None


class FlowTold(BaseModel):
    """Figures rounded half up for people; null means there is no such figure."""

    mean_l_min: str | None
    mean_cfm: str | None
    drift_pct: str | None
    volume_l: str | None
    volume_ft3: str | None
    limits: list[LimitOut]
    notes: list[str]
    findings: list[FindingOut]


@blueprint.get("/flow")
@operation("What follows from one run of a pump?", tag="questions", query=FlowQuery, answers={200: FlowTold})
def flow(query: FlowQuery, asker: Asker) -> FlowTold:
    """Volume, mean flow, drift, detection limits, and what the rules about flow would say. Writes nothing."""
    run = runs.read(query.before, query.after, query.run_s, query.nominal)
    given = query.fraction.split(",") if query.fraction is not None else []
    fractions = [runs.read_fraction(each) for each in given] or runs.FRACTIONS
    with ledger().database.reading() as connection:
        firm = ledger().books.organization(connection, asker.org)
    found = rules.findings(run, firm.policy if firm else Policy())
    return FlowTold(
        **asdict(rules.told(run, fractions)), findings=[FindingOut.of(finding) for finding in found]
    )
