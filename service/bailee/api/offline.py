"""What a device asks before it works where there is no network: how the ledger knows it, and what to take
along.
"""

from __future__ import annotations

import hashlib
from datetime import datetime
from typing import Any, Final

from flask import Blueprint, Response, request
from pydantic import BaseModel

from bailee.api.asking import holder, ledger
from bailee.api.layer import JSON, operation
from bailee.domain.acts.form import Opened, OutdoorRuledOut, Relinquished
from bailee.domain.acts.organization import Revoked
from bailee.domain.acts.table import ROWS, name_of
from bailee.domain.custody import Form, Sample
from bailee.domain.fields import EDITION
from bailee.domain.organizations import Key, Organization
from bailee.errors import Forged, Unknown
from bailee.operations import brief as briefs
from bailee.operations.visibility import Asker
from bailee.store import log
from bailee.store.log import Counters

blueprint = Blueprint("offline", __name__)
_ASKED_AGAIN: Final = "private, no-cache"
"""Kept by the device, and asked about again with If-None-Match every time (RFC 9111 5.2.2.4)."""


class EndOut(BaseModel):
    """How a key ended: when the ledger heard of it, since when, and up to which counter its word stands."""

    recorded: str
    since: str
    last_good_seq: int
    reason: str
    successor: str | None


class DeviceOut(BaseModel):
    """A key: the asker's own, or a colleague's. `end` is null while it stands.

    `highest` is the highest counter the ledger has of it, `missing` how many below that never arrived,
    `gaps` the first hundred stretches of them, each from its first counter to its last. `newest` is the
    statement under `highest` (null: none): a device that remembers fewer and finds its own signature under it
    was restored from an old copy and signs no more.
    """

    kid: str
    organization: str
    origin: str
    person: str
    device: str
    role: str
    end: EndOut | None
    highest: int
    missing: int
    gaps: list[tuple[int, int]]
    newest: str | None
    now: str

    @classmethod
    def of(cls, organization: Organization, key: Key, counters: Counters, origin: str, now: str) -> DeviceOut:
        """The key as told to its owner."""
        ended = key.revocation
        return cls(
            kid=key.kid,
            organization=organization.id,
            origin=origin,
            person=key.person,
            device=key.device,
            role=key.role,
            end=EndOut(
                recorded=_shown(ended.rec),
                since=ended.since,
                last_good_seq=ended.last_good_seq,
                reason=ended.reason,
                successor=ended.successor,
            )
            if ended
            else None,
            highest=counters.highest,
            missing=counters.missing,
            gaps=list(counters.gaps),
            newest=counters.newest,
            now=now,
        )


class CassettesOut(BaseModel):
    """A lot: its numbers, the last day on which they may be used (null: none on the box), its flow and
    time.
    """

    lot: str
    cassette: str
    expires: str | None
    recalled: bool
    nominal_flow: str
    run_s: int
    issued: list[str]


class PersonOut(BaseModel):
    """A key that something can be given to, and its owner's printed name; empty where that was erased."""

    kid: str
    person: str
    role: str


class InstrumentOut(BaseModel):
    """A pump or flow meter by the number it bears, and its newest certificate."""

    kind: str
    id: str
    certified: str | None
    valid_to: str | None


class SampleLine(BaseModel):
    """A cassette of a form under way, or what was taken from a surface (`kind` is its medium), and the key
    that holds it (null: nobody is known); the envelope that it is in, as far as it is in one. `given_to` is
    the key of the asker's organization to which it was relinquished, and which has not received it yet
    (empty: any of them; null: none).
    """

    sample: str
    kind: str
    status: str
    holder: str | None
    envelope: str | None
    given_to: str | None


class FormUnderWay(BaseModel):
    """A form on which something is still to be done, with its newest entry. `outdoor_ruled_out` is the reason
    that somebody on site signed why no outdoor control could be collected.
    """

    form: str
    visit: str
    zone: str
    lab: str
    length: int
    head: str
    outdoor_ruled_out: str | None
    samples: list[SampleLine]

    @classmethod
    def of(cls, form: Form, org: str) -> FormUnderWay:
        """The form as far as a device of this organization needs it."""
        opened = form.opened.of(Opened)
        newest = max(form.entries, key=lambda entry: entry.n)
        return cls(
            form=form.number,
            visit=opened.visit.isoformat(),
            zone=opened.zone,
            lab=opened.parties.lab,
            length=newest.n,
            head=newest.leaf,
            outdoor_ruled_out=form.ruled_out[-1].of(OutdoorRuledOut).reason if form.ruled_out else None,
            samples=[
                SampleLine(
                    sample=each.number,
                    kind=each.surface.medium if each.surface else each.kind or "",
                    status=each.status,
                    holder=each.holder.kid if each.holder else None,
                    envelope=each.envelope,
                    given_to=_given_to(each, org),
                )
                for each in form.live
            ],
        )


def _given_to(sample: Sample, org: str) -> str | None:
    given = sample.given.of(Relinquished) if sample.given else None
    return given.to_kid or "" if given and given.to == org else None


class ErasedOut(BaseModel):
    """A form, those of its statements of which private fields were erased, and when the newest of it was
    recorded: what a device keeps of them, and typed before, goes.
    """

    form: str
    statements: list[str]
    recorded: str

    @classmethod
    def of(cls, form: briefs.ErasedForm) -> ErasedOut:
        """The form, under way or not."""
        return cls(form=form.number, statements=list(form.statements), recorded=_shown(form.recorded))


class BriefOut(BaseModel):
    """What to take along. `edition` is that of the rule book, `policy` all thresholds in force, `licensing`
    where an inspector needs a license by the organization's own list. `erased` names every form on which
    the organization signed, however old, of the newest 5000 statements of which private fields were erased.
    """

    organization: str
    name: str
    edition: int
    policy: dict[str, Any]
    licensing: list[str]
    lots: list[CassettesOut]
    people: list[PersonOut]
    instruments: list[InstrumentOut]
    laboratories: list[str]
    forms: list[FormUnderWay]
    erased: list[ErasedOut]


@blueprint.get("/devices/me")
@operation(
    "How does the ledger know this device?",
    tag="questions",
    answers={200: DeviceOut},
    errors=(401, 403),
    public=True,
)
def own_device() -> DeviceOut:
    """For the holder of a key alone, by its token; a key that has ended is answered too."""
    organization, key = holder()
    with ledger().database.reading() as connection:
        counters = log.counters(connection, key.kid)
    return DeviceOut.of(organization, key, counters, ledger().settings.origin, ledger().now().text())


@blueprint.get("/devices/<kid>")
@operation(
    "How does the ledger know a colleague's device?",
    tag="questions",
    answers={200: DeviceOut},
    errors=(403, 404),
)
def colleague(kid: str, asker: Asker) -> DeviceOut:
    """For those who may end a key of their organization: how far the ledger has the count of a lost one."""
    if asker.role not in ROWS[name_of(Revoked)].may:
        raise Forged("Only those who may end a key are shown how far it has signed.", code="wrong-role")
    with ledger().database.reading() as connection:
        organization = ledger().books.organization(connection, asker.org)
        key = organization.keys.get(kid) if organization else None
        if organization is None or key is None:
            raise Unknown(f"{asker.org} has no such key.", kid=kid)
        counters = log.counters(connection, kid)
    return DeviceOut.of(organization, key, counters, ledger().settings.origin, ledger().now().text())


@blueprint.get("/brief")
@operation("What to take along", tag="questions", answers={200: BriefOut}, errors=(404,))
def brief(asker: Asker) -> Response:
    """Cassettes with their dates, people to give to, instruments, laboratories, thresholds, forms under way.

    With If-None-Match an unchanged brief is answered 304, without a body (RFC 9110 13.1.2).
    """
    with ledger().database.reading() as connection:
        found = briefs.brief(ledger(), connection, asker)
    text = _told(found).model_dump_json()
    answer = Response(text, content_type=JSON)
    answer.set_etag(hashlib.sha256(text.encode()).hexdigest()[:32])
    answer.headers["Cache-Control"] = _ASKED_AGAIN
    answer.make_conditional(request)
    return answer


def _shown(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds").replace("+00:00", "Z")


def _told(found: briefs.Brief) -> BriefOut:
    organization = found.organization
    return BriefOut(
        organization=organization.id,
        name=organization.name,
        edition=EDITION,
        policy=organization.policy.to_data(),
        licensing=sorted(organization.licensing or ()),
        lots=[
            CassettesOut(
                lot=each.number,
                cassette=each.cassette,
                expires=each.expires.isoformat() if each.expires else None,
                recalled=each.recalled is not None,
                nominal_flow=str(each.nominal_flow),
                run_s=each.run_s,
                issued=list(each.issued),
            )
            for each in found.lots
        ],
        people=[PersonOut(kid=each.kid, person=each.person, role=each.role) for each in found.people],
        instruments=[
            InstrumentOut(
                kind=each.kind,
                id=each.id,
                certified=each.certified.isoformat() if each.certified else None,
                valid_to=each.valid_to.isoformat() if each.valid_to else None,
            )
            for each in found.instruments
        ],
        laboratories=list(found.laboratories),
        forms=[FormUnderWay.of(each, found.organization.id) for each in found.forms],
        erased=[ErasedOut.of(each) for each in found.erased],
    )
