"""The chase list as a feed that a scheduler may poll: the same list has the same ETag."""

from __future__ import annotations

import hashlib
import json
from typing import Final

from flask import Blueprint, Response, request
from pydantic import BaseModel

from bailee.api.answers import NextAct
from bailee.api.asking import ledger
from bailee.api.layer import JSON, operation
from bailee.domain import numbers
from bailee.operations import follow_up, recall
from bailee.operations.visibility import Asker

blueprint = Blueprint("chasing", __name__)

_POLLED: Final = "private, no-cache"
"""Kept by whoever asked, and asked about again with If-None-Match every time (RFC 9111 5.2.2.4)."""


class DueOut(BaseModel):
    """One thing to chase.

    `due` is an RFC 3339 moment, or a day; `concerns` are the organizations that see it.
    """

    kind: str
    about: str
    due: str
    overdue: bool
    sentence: str
    remedy: str
    acts: list[NextAct]
    concerns: list[str]


class ChaseOut(BaseModel):
    """What waits, overdue first.

    `left_out`: so many more forms are open and were not read: beyond the oldest 500 of one organization, or
    beyond 20 of one to which you never answered.
    """

    overdue: int
    left_out: int
    items: list[DueOut]


class UsedOut(BaseModel):
    """One sample taken with a cassette of the lot."""

    sample: str
    form: str
    envelopes: list[str]
    laboratories: list[str]
    child: str | None


class UsesOut(BaseModel):
    """Where a lot went. `recalled` is null for whom the lot is not theirs."""

    lot: str
    recalled: bool | None
    uses: list[UsedOut]
    forms: list[str]
    envelopes: list[str]
    laboratories: list[str]


@blueprint.get("/chase")
@operation("What to chase", tag="custody", answers={200: ChaseOut})
def chase_list(asker: Asker) -> Response:
    """Collected and not secured or not sealed, sealed and not shipped, expected and not received, taken in
    and not opened, differences without a call, lots near their expiration date, kits not accounted for.

    With If-None-Match an unchanged list is answered 304, without a body (RFC 9110 13.1.2).
    """
    with ledger().database.reading() as connection:
        found = follow_up.chase(ledger(), connection, asker)
    out = ChaseOut(
        overdue=found.overdue,
        left_out=found.left_out,
        items=[
            DueOut(
                kind=each.due.kind,
                about=each.due.about,
                due=each.due.due,
                overdue=each.due.overdue,
                sentence=each.due.sentence,
                remedy=each.due.told(each.reader).words,
                acts=[NextAct.of(told) for told in each.due.offered(each.reader)],
                concerns=list(each.due.concerns),
            )
            for each in found.items
        ],
    )
    text = json.dumps(out.model_dump(), ensure_ascii=False, separators=(",", ":"))
    answer = Response(text, content_type=JSON)
    answer.set_etag(hashlib.sha256(text.encode()).hexdigest()[:32])
    answer.headers["Cache-Control"] = _POLLED
    answer.make_conditional(request)
    return answer


@blueprint.get("/lots/<lot>/uses")
@operation("Where a lot was used", tag="custody", answers={200: UsesOut})
def lot_uses(lot: str, asker: Asker) -> UsesOut:
    """Every sample, form, envelope and laboratory, in one answer: whom to tell when the lot is recalled."""
    number = numbers.read(lot, "lot")
    with ledger().database.reading() as connection:
        found = recall.uses(connection, ledger().books, asker.org, number)
    return UsesOut(
        lot=number,
        recalled=found.lot.recalled is not None if found.lot else None,
        uses=[
            UsedOut(
                sample=each.sample,
                form=each.form,
                envelopes=list(each.envelopes),
                laboratories=list(each.laboratories),
                child=each.child,
            )
            for each in found.uses
        ],
        forms=found.forms,
        envelopes=found.envelopes,
        laboratories=found.laboratories,
    )
