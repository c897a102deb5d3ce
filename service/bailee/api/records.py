"""Questions about samples, lots, forms, envelopes and organizations: reads only, and only of what the asker
is a party to.
"""

from __future__ import annotations

from datetime import time
from typing import Annotated, Any, Final

from flask import Blueprint
from pydantic import BaseModel, Field

from bailee.api.answers import EnvelopeOut, FindingOut, FormOut, LotOut, SampleOut
from bailee.api.asking import ledger
from bailee.api.layer import Query, operation
from bailee.api.replayed import AsOfQuery, SealingOut
from bailee.domain import numbers
from bailee.domain.acts.form import Opened, Relinquished
from bailee.domain.custody import Sample
from bailee.domain.organizations import Key, Organization
from bailee.errors import Unknown
from bailee.operations import number_lookup, queries, replay, visibility
from bailee.operations.number_lookup import Claimed
from bailee.operations.visibility import Asker
from bailee.presentation.sample_view import sample_views
from bailee.store import number_index

blueprint = Blueprint("custody", __name__)

NEWEST: Final = 50


class ListQuery(Query):
    """The newest so many, or with `before` those that began before the one of this number: so nobody can fill
    a list up.
    """

    limit: Annotated[int, Field(ge=1, le=500)] = NEWEST
    before: str | None = None


class EnvelopeQuery(AsOfQuery):
    """Which is meant where several senders used one number: `form` names one of its forms, `samples` what was
    read inside, with commas between.

    Cassettes that are of none of the senders, or of several, are answered with 409 and the forms to choose
    from.
    """

    form: str | None = None
    samples: Annotated[str, Field(max_length=8000)] | None = None

    def held(self) -> list[str] | None:
        """The sample numbers that were read inside; None when nobody says what was.

        Raises `Malformed` for another number.
        """
        if self.samples is None:
            return None
        return [numbers.read(each, "sample") for each in self.samples.split(",") if each.strip()]


class LotsOut(BaseModel):
    """Lots of the asker's organization, the newest first."""

    lots: list[LotOut]


class ClaimedOut(BaseModel):
    """A number of the lot that somebody whose it is not wrote on a form of their own, the day (UTC) of that,
    and what to do.
    """

    sample: str
    on: str
    sentence: str
    remedy: str

    @classmethod
    def of(cls, claimed: Claimed) -> ClaimedOut:
        """As the lot's owner is told."""
        return cls(
            sample=claimed.sample, on=claimed.on.isoformat(), sentence=claimed.sentence, remedy=claimed.remedy
        )


class LotTold(LotOut):
    """A lot with the numbers that were claimed elsewhere, at most a hundred: that changes nothing on any form
    of yours.
    """

    claimed_elsewhere: list[ClaimedOut]


class FormLine(BaseModel):
    """One form in a list. `given`: samples on it that were relinquished to a key of the asker's, and were not
    received yet.
    """

    form: str
    visit: str
    firm: str
    lab: str
    samples: int
    status: str
    given: list[str]


class FormsOut(BaseModel):
    """Forms the asker's organization is a party of, the newest first."""

    forms: list[FormLine]


class IssuedOut(BaseModel):
    """To whose key a number was handed, whether that is a key of the asker's, and for which day.

    Null where nobody said.
    """

    to: str | None
    yours: bool | None
    visit: str | None


class SampleTold(BaseModel):
    """What is known of one sample number; `form` and `state` are null until it was collected or
    voided.

    `issued` is null to whoever does not own the lot.
    """

    sample: str
    lot: LotOut | None
    issued: IssuedOut | None
    form: str | None
    state: SampleOut | None
    findings: list[FindingOut]


class KeyOut(BaseModel):
    """An enrolled key. `owner` is the first key of the same person, `until` when it ended.

    `person` is the printed name, for their own organization alone; null when erased.
    """

    kid: str
    role: str
    revoked: bool
    owner: str
    until: str | None
    person: str | None


class CarrierTimes(BaseModel):
    """Until when a carrier takes envelopes, and when it brings them; null where the usual time is assumed."""

    cutoff: str | None
    delivery: str | None


class OrganizationOut(BaseModel):
    """An organization: its name and calendars for every enrolled key, and the thresholds of one that takes
    samples in.

    `policy` are all thresholds in force, `stated` those the organization named itself, which is what a
    laboratory binds others by. `licensing` is where it says that an inspector needs a license, null when it
    says nothing. `recovery` is the key ID that may replace every root, null when none was named. These,
    `root`, `length`, `head`, `keys` and a firm's own thresholds are null for whom they are not meant: they
    are read by the organization, by those on whose forms it has spoken, and by monitors.
    """

    organization: str
    name: str
    root: str | None
    recovery: str | None
    length: int | None
    head: str | None
    policy: dict[str, Any] | None
    policy_digest: str | None
    stated: dict[str, Any] | None
    calendars: dict[str, Any]
    carrier_times: dict[str, CarrierTimes]
    licensing: list[str] | None
    keys: list[KeyOut] | None


@blueprint.get("/organizations/<org>")
@operation("An organization's calendars, limits and keys", tag="custody", answers={200: OrganizationOut})
def organization(org: str, asker: Asker) -> OrganizationOut:
    """Hours and limits for every enrolled key, so that a first shipment can be planned.

    The rest for those who lean on it.
    """
    with ledger().database.reading() as connection:
        found = ledger().books.organization(connection, org)
        if found is None:
            raise Unknown(f"No organization {org!r} was founded here.", organization=org)
        _, head = queries.head(connection, f"org/{org}")
        known = visibility.knows(ledger(), connection, asker, org)
    limits = found.policy if known or found.receives else None
    return OrganizationOut(
        organization=found.id,
        name=found.name,
        root=found.root if known else None,
        recovery=found.recovery if known else None,
        length=found.length if known else None,
        head=head if known else None,
        policy=limits.to_data() if limits else None,
        policy_digest=limits.digest if limits else None,
        stated=limits.stated if limits else None,
        calendars={name: calendar.to_data() for name, calendar in found.calendars.items()},
        carrier_times={
            name: CarrierTimes(cutoff=_clock(cutoff), delivery=_clock(delivery))
            for name, (cutoff, delivery) in found.carrier_times.items()
            if name in found.calendars and name.startswith("carrier/")
        },
        licensing=sorted(found.licensing) if known and found.licensing is not None else None,
        keys=([_key(each, named=asker.org == org) for each in found.keys.values()] if known else None),
    )


def _key(key: Key, *, named: bool) -> KeyOut:
    return KeyOut(
        kid=key.kid,
        role=key.role,
        revoked=key.revocation is not None,
        owner=key.owner or key.kid,
        until=key.revocation.since if key.revocation else None,
        person=(key.person or None) if named else None,
    )


def _clock(time_of_day: time | None) -> str | None:
    return f"{time_of_day:%H:%M}" if time_of_day else None


def _before(kind: numbers.Kind, query: ListQuery) -> str | None:
    return f"{kind}/{numbers.read(query.before, kind)}" if query.before else None


@blueprint.get("/lots")
@operation("The newest lots", tag="custody", query=ListQuery, answers={200: LotsOut})
def lots(query: ListQuery, asker: Asker) -> LotsOut:
    """Lots this organization received."""
    with ledger().database.reading() as connection:
        chains = number_index.chains_of(connection, asker.org, "lot", query.limit, _before("lot", query))
        found = [ledger().books.lot(connection, chain.removeprefix("lot/")) for chain in chains]
    return LotsOut(lots=[LotOut.of(each) for each in found if each])


@blueprint.get("/lots/<lot>")
@operation("One lot", tag="custody", answers={200: LotTold})
def one_lot(lot: str, asker: Asker) -> LotTold:
    """Expiry, numbers issued, recall; which numbers were claimed elsewhere."""
    number = numbers.read(lot, "lot")
    with ledger().database.reading() as connection:
        found = queries.lot(ledger(), connection, asker.org, number)
        _, head = queries.head(connection, f"lot/{number}")
        claimed = number_lookup.claimed_elsewhere(connection, ledger().books, found)
    told = LotOut.of(found, head).model_dump()
    return LotTold(**told, claimed_elsewhere=[ClaimedOut.of(each) for each in claimed])


@blueprint.get("/forms")
@operation("The newest forms", tag="custody", query=ListQuery, answers={200: FormsOut})
def forms(query: ListQuery, asker: Asker) -> FormsOut:
    """Forms this organization is a party of."""
    lines = []
    with ledger().database.reading() as connection:
        firm = ledger().books.organization(connection, asker.org)
        for chain in number_index.chains_of(
            connection, asker.org, "form", query.limit, _before("form", query)
        ):
            form = ledger().books.form(connection, chain.removeprefix("form/"))
            opened = form.opened.of(Opened)
            live = [sample for sample in form.samples.values() if not sample.void]
            states = sorted({str(sample.status) for sample in live}) or ["opened"]
            lines.append(
                FormLine(
                    form=form.number,
                    visit=opened.visit.isoformat(),
                    firm=opened.parties.firm,
                    lab=opened.parties.lab,
                    samples=len(form.samples),
                    status=", ".join(states),
                    given=[sample.number for sample in live if _is_given(sample, asker, firm)],
                )
            )
    return FormsOut(forms=lines)


def _is_given(sample: Sample, asker: Asker, firm: Organization | None) -> bool:
    """Whether it was relinquished to this very person, by whichever of their keys, and nobody has it yet."""
    said = sample.given.of(Relinquished) if sample.given else None
    if said is None or firm is None or said.to != asker.org or said.to_kid is None:
        return False
    return firm.owners.get(said.to_kid) == firm.owners.get(asker.kid)


@blueprint.get("/forms/<form>")
@operation("Custody of one visit", tag="custody", query=AsOfQuery, answers={200: FormOut})
def one_form(form: str, query: AsOfQuery, asker: Asker) -> FormOut:
    """Every sample with its links, every finding, the four verdicts: now, or `as_of` a moment, with what was
    recorded by then.
    """
    number = numbers.read(form, "form")
    with ledger().database.reading() as connection:
        found, judged = queries.form(ledger(), connection, asker.org, number, query.as_of, asker.role)
    return FormOut.of(judged.case, found, list(judged.findings), judged.verdicts)


@blueprint.get("/samples/<sample>")
@operation("What is known of one sample", tag="custody", answers={200: SampleTold}, errors=(409,))
def one_sample(sample: str, asker: Asker) -> SampleTold:
    """Its lot from the day it was issued; its custody once it was collected.

    When several organizations collected a sample under this number, and nothing decides which is meant, 409
    names their forms.
    """
    number = numbers.read(sample, "sample")
    with ledger().database.reading() as connection:
        told = queries.sample(ledger(), connection, asker.org, number, asker.role)
        firm = ledger().books.organization(connection, asker.org)
    state, findings = None, []
    if told.judged and told.form and told.sample:
        view = sample_views(told.form, told.judged.case, told.judged.findings)[number]
        state = SampleOut.of(told.judged.case, view)
        findings = [FindingOut.of(f) for f in told.concerning()]
    return SampleTold(
        sample=number,
        lot=LotOut.of(told.lot) if told.lot else None,
        issued=_issued(told, asker, firm),
        form=told.form.number if told.form else None,
        state=state,
        findings=findings,
    )


def _issued(told: queries.SampleAnswer, asker: Asker, firm: Organization | None) -> IssuedOut | None:
    issued = told.lot.issued.get(told.number) if told.lot and told.lot.org == asker.org else None
    if issued is None or firm is None:
        return None
    owners = firm.owners
    yours = owners.get(issued.to) == owners.get(asker.kid) if issued.to else None
    return IssuedOut(to=issued.to, yours=yours, visit=issued.visit.isoformat() if issued.visit else None)


@blueprint.get("/envelopes/<envelope>")
@operation(
    "One envelope over all its forms",
    tag="custody",
    query=EnvelopeQuery,
    answers={200: EnvelopeOut},
    errors=(409,),
)
def one_envelope(envelope: str, query: EnvelopeQuery, asker: Asker) -> EnvelopeOut:
    """Manifest, seal, shipping, receipt, findings and verdicts of everything in it: now, or
    `as_of` a moment.
    """
    number = numbers.read(envelope, "envelope")
    form = numbers.read(query.form, "form") if query.form else None
    held = query.held()
    with ledger().database.reading() as connection:
        judged = queries.envelope(
            ledger(), connection, asker.org, number, query.as_of, form=form, held=held, role=asker.role
        )
    return EnvelopeOut.of(number, judged.case, list(judged.findings), judged.verdicts)


@blueprint.get("/envelopes/<envelope>/sealing")
@operation("The newest sealing, asked again", tag="custody", answers={200: SealingOut}, errors=(409,))
def sealing(envelope: str, asker: Asker) -> SealingOut:
    """Judges the envelope from what was recorded before it was sealed, and compares with what its sealer
    acknowledged then.
    """
    number = numbers.read(envelope, "envelope")
    with ledger().database.reading() as connection:
        found = replay.as_sealed(ledger(), connection, asker.org, number)
    return SealingOut.of(number, found)
