"""Questions about pump and flow meter: whether a certificate holds on the day of the visit, and what follows
from one run, by the asker's own thresholds.
"""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Annotated, Literal

from flask import Blueprint
from pydantic import BaseModel, Field

from bailee.api.answers import FindingOut
from bailee.api.asking import ledger
from bailee.api.layer import Query, operation
from bailee.api.shapes import Tag
from bailee.domain import flow as runs
from bailee.domain.policy import Policy
from bailee.errors import Unknown
from bailee.operations.visibility import Asker
from bailee.rules.checks import flow as rules
from bailee.rules.checks import meter

blueprint = Blueprint("equipment", __name__)

Figure = Annotated[str, Field(min_length=1, max_length=14)]
"""A decimal as text."""


class CertificateQuery(Query):
    """An instrument by the number it bears, and the day on which it will be used."""

    kind: Literal["pump", "meter"]
    id: Tag
    on: date


class CertificateTold(BaseModel):
    """Its newest certificate by that day.

    `expired` says in words why it does not hold then, and is empty when it does.
    """

    kind: str
    id: str
    certified: str | None
    valid_to: str | None
    expired: str


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


@blueprint.get("/certificate")
@operation(
    "Does a certificate hold that day?",
    tag="questions",
    query=CertificateQuery,
    answers={200: CertificateTold},
    errors=(404,),
)
def certificate(query: CertificateQuery, asker: Asker) -> CertificateTold:
    """By the asker's own list and thresholds; a pump's age is not limited, only its last good day.

    Raises `Unknown`.
    """
    with ledger().database.reading() as connection:
        firm = ledger().books.organization(connection, asker.org)
    found = firm.certificate(query.kind, query.id, query.on) if firm else None
    if firm is None or found is None or (found.certified is None and found.valid_to is None):
        raise Unknown(f"No certificate of {query.kind} {query.id} is on record for that day.", id=query.id)
    most = firm.policy.meter_certificate_days if query.kind == "meter" else None
    return CertificateTold(
        kind=query.kind,
        id=query.id,
        certified=found.certified.isoformat() if found.certified else None,
        valid_to=found.valid_to.isoformat() if found.valid_to else None,
        expired=meter.expired(found, query.on, most),
    )


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
