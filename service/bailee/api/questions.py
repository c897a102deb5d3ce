"""Questions asked before somebody signs: may this be, when would it arrive, may numbers of a lot be handed
out, whose name is meant.

They write nothing. What is asked about is the very act that would be signed. A yes comes with the statements
to sign; a no comes with what is wrong and what to do about it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Annotated, Any, Final, Literal

from flask import Blueprint
from pydantic import BaseModel, Field, WithJsonSchema

from bailee.api.answers import FindingOut
from bailee.api.asking import ledger
from bailee.api.layer import Asked, Query, operation
from bailee.api.shapes import At, Tag, Zone, described
from bailee.domain import numbers, statements
from bailee.domain.acts.form import Collected, Decision, Received, Sealed, Shipped, Voided
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.moments import Moment
from bailee.errors import Malformed
from bailee.operations import issuing, prepare, queries, windows
from bailee.operations.visibility import Asker
from bailee.operations.windows import PlannedTrip
from bailee.planning.alternatives import Choice

blueprint = Blueprint("questions", __name__)
_KINDS: Final = (Collected, SurfaceCollected, Sealed, Shipped, Received, Voided, Decision)


class DraftIn(Asked):
    """An act that you are about to sign, and its data as far as they are known: a seal without its number,
    samples not counted yet.

    Data as in the statement, of all forms together: `samples` of a seal name all that lies in the envelope,
    `total` is what was counted by hand. `form` is where a cassette is collected, or
    voided that was collected on none.
    """

    act: Literal[
        "collected",
        "surface_collected",
        "sealed",
        "shipped",
        "received",
        "voided",
        "accepted",
        "on_hold",
        "rejected",
    ]
    data: Annotated[
        dict[str, Any], WithJsonSchema({"anyOf": [described(kind, is_draft=True) for kind in _KINDS]})
    ]
    form: Annotated[str, Field(min_length=12, max_length=12)] | None = None


class PreparedOut(BaseModel):
    """One statement to sign as it stands: chain, act, data."""

    sub: str
    act: str
    data: dict[str, Any]


class WindowOut(BaseModel):
    """When an envelope handed over then would be delivered and received.

    `latest_hand_over` is the latest that still meets the hold limit with the dock open. Null: nothing can be
    promised.
    """

    day0: str | None
    delivered: str | None
    received: str | None
    latest_hand_over: str | None

    @classmethod
    def of(cls, plan: Any, latest: Moment | None) -> WindowOut:
        """The window as told."""
        return cls(
            day0=plan.day0.isoformat() if plan else None,
            delivered=plan.delivered.text() if plan else None,
            received=plan.received.text() if plan else None,
            latest_hand_over=latest.text() if latest else None,
        )


class ReadinessOut(BaseModel):
    """Ready only if everything needed was seen; not ready means there is nothing to sign."""

    ready: bool
    findings: list[FindingOut]
    statements: list[PreparedOut]
    window: WindowOut | None = None


class WindowQuery(Query):
    """A hand-over by a service of so many working days: from `zone` to the dock of `lab`, or of `number`, a
    form or sealed envelope.

    `handed_over` is a local time of the zone, or a time with its offset. `collected`, the start of the oldest
    run, is known of a number. `carried`: when somebody who carries it instead would be at the dock.
    """

    number: Annotated[str, Field(min_length=12, max_length=12)] | None = None
    lab: Annotated[str, Field(min_length=1, max_length=32)] | None = None
    carrier: Tag
    handed_over: Annotated[str, Field(min_length=16, max_length=32)]
    zone: Zone | None = None
    service_days: Annotated[int, Field(ge=0, le=30)] = 1
    saturday: bool = False
    collected: Annotated[str, Field(min_length=16, max_length=32)] | None = None
    carried: Annotated[str, Field(min_length=16, max_length=32)] | None = None


class ChoiceOut(BaseModel):
    """Another way to send it: by when, how, when it is received, whether that is in time at an open dock, and
    why it stands here.
    """

    how: str
    by_hand: bool
    service_days: int
    saturday: bool
    hand_over: str
    delivered: str
    received: str
    fits: bool
    reasons: list[str]

    @classmethod
    def of(cls, choice: Choice) -> ChoiceOut:
        """The choice as told."""
        return cls(
            how=choice.how,
            by_hand=choice.by_hand,
            service_days=choice.route.service.days,
            saturday=choice.route.service.saturday,
            hand_over=choice.hand_over.text(),
            delivered=choice.plan.delivered.text(),
            received=choice.plan.received.text(),
            fits=choice.fits,
            reasons=list(choice.reasons),
        )


class WindowTold(BaseModel):
    """The window, what it rests on, and what else could be done, the best first."""

    window: WindowOut
    lab: str
    zone: str
    notes: list[str]
    alternatives: list[ChoiceOut]


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


@blueprint.post("/readiness")
@operation(
    "May this be signed?", tag="questions", body=DraftIn, answers={200: ReadinessOut}, errors=(404, 409)
)
def readiness(body: DraftIn, asker: Asker) -> ReadinessOut:
    """Judges what is recorded together with what is about to be signed.

    `statements` is what one gesture signs, one for each form.

    A time that is still to come is a problem, code `future`, and names the member.
    """
    draft = statements.draft("form", body.act, body.data, asker.org, asker.kid)
    with ledger().database.reading() as connection:
        found = prepare.readiness(connection, ledger().books, draft, now=ledger().instant(), form=body.form)
    return ReadinessOut(
        ready=found.ready,
        findings=[FindingOut.of(f) for f in found.findings],
        statements=[PreparedOut(sub=s.sub, act=s.act, data=s.data) for s in found.statements],
        window=WindowOut.of(found.plan, found.latest) if isinstance(draft.body, Shipped) else None,
    )


@blueprint.get("/window")
@operation(
    "When would it arrive?", tag="questions", query=WindowQuery, answers={200: WindowTold}, errors=(404, 409)
)
def window(query: WindowQuery, asker: Asker) -> WindowTold:
    """From a hand-over, a carrier service and the calendars of carrier, laboratory and office."""
    with ledger().database.reading() as connection:
        if query.number:
            trip = windows.trip_of(ledger(), connection, asker.org, numbers.read(query.number))
        elif query.lab and query.zone:
            queries.organization(connection, ledger().books, query.lab)
            trip = PlannedTrip(asker.org, query.lab, query.zone)
        else:
            raise Malformed(
                "Give the number of a form or envelope, or the laboratory and the zone.", code="missing"
            )
        if query.collected:
            trip = replace(trip, oldest=_moment(query.collected, trip.zone))
        found = windows.window(
            ledger(), connection, trip, _moment(query.handed_over, trip.zone),
            carrier=query.carrier, days=query.service_days, saturday=query.saturday,
            carried=_moment(query.carried, trip.zone) if query.carried else None,
        )  # fmt: skip
    return WindowTold(
        window=WindowOut.of(found.window.plan, found.window.latest), lab=trip.lab, zone=trip.zone,
        notes=list(found.window.notes), alternatives=[ChoiceOut.of(each) for each in found.choices],
    )  # fmt: skip


@blueprint.get("/organizations")
@operation("Which organization may be meant?", tag="questions", query=LikeQuery, answers={200: NearestOut})
def like(query: LikeQuery, asker: Asker) -> NearestOut:  # noqa: ARG001 - strangers do not get to list the organizations here
    """Names to choose from when one is not known here."""
    with ledger().database.reading() as connection:
        return NearestOut(nearest=queries.nearest(connection, query.like))


@blueprint.get("/lots/<lot>/issuing")
@operation(
    "May numbers of this lot be issued?",
    tag="questions",
    query=IssuingQuery,
    answers={200: IssuingOut},
    errors=(404,),
)
def before_issuing(lot: str, query: IssuingQuery, asker: Asker) -> IssuingOut:
    """Expiry, recall, and whether there are as many cassettes as numbers asked for."""
    number = numbers.read(lot, "lot")
    with ledger().database.reading() as connection:
        found = issuing.findings(
            ledger(), connection, asker.org, number, query.count, query.at or ledger().now(), query.visit
        )
    stops = any(each.severity in ("block", "refuse") for each in found)
    return IssuingOut(ready=not stops, findings=[FindingOut.of(each) for each in found])


def _moment(text: str, zone: str) -> Moment:
    """A local time of the zone, or a time with its offset, shown in the zone."""
    if text[-1:] in "Zz" or text[-6:-5] in ("+", "-"):
        return Moment.shown_in(Moment.parse(text).instant, zone)
    return Moment.in_zone(text, zone)
