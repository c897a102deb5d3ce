"""A question about a pump or flow meter: whether its certificate holds on the day of the visit."""

from __future__ import annotations

from datetime import date
from typing import Literal

from flask import Blueprint
from pydantic import BaseModel

from bailee.api.asking import ledger
from bailee.api.layer import Query, operation
from bailee.api.shapes import Tag
from bailee.errors import Unknown
from bailee.operations.visibility import Asker
from bailee.rules.checks import meter

blueprint = Blueprint("equipment", __name__)


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
        raise Unknown(f"No certificate of {query.kind} {query.id} was entered for that day.", id=query.id)
    most = firm.policy.meter_certificate_days if query.kind == "meter" else None
    return CertificateTold(
        kind=query.kind,
        id=query.id,
        certified=found.certified.isoformat() if found.certified else None,
        valid_to=found.valid_to.isoformat() if found.valid_to else None,
        expired=meter.expired(found, query.on, most),
    )
