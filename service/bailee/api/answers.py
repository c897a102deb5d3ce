"""Shapes of answers, and how the domain's states become them. Moments are RFC 3339 text, decimals are text.

The laboratory's answers about a sample, as told: what, when, by whom, and what the sender said.
"""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from bailee.domain import measures
from bailee.domain.acts.form import Decision, Relinquished
from bailee.domain.custody import Form, Said
from bailee.domain.facts import plain
from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.requests import MEMBERS, Order
from bailee.presentation.copy_words import issued
from bailee.presentation.form_view import envelope_view, form_view
from bailee.presentation.hand_overs import HolderView
from bailee.presentation.on_site_words import changes, observed
from bailee.presentation.request_words import requests
from bailee.presentation.sample_view import SampleView
from bailee.rules.case import Case
from bailee.rules.readers import ON_A_DEVICE, ToldAct
from bailee.rules.registry import Finding
from bailee.rules.verdicts import Verdict


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
            decision=entry.act,
            at=body.at.text(),
            by=case.person(entry.org, entry.kid),
            reasons=list(body.reasons),
            called=body.called.text() if body.called else None,
            whom=entry.disclosed.get("called_person"),
            answer=entry.disclosed.get("answer"),
            qualified=body.qualified,
            resample=body.resample,
            entry=entry.n,
        )


class NextAct(BaseModel):
    """Something to do now: a statement to sign, by the name of its act, or something done on a device; and
    what is known of it.

    Numbers are `sample`, `form`, `envelope`, `lot` and `about`; other members are facts as the statement
    names them. A null is for the person to give.
    """

    model_config = ConfigDict(extra="allow")

    act: str = Field(
        description="An act of custody, or what is done on a device and signs nothing: "
        + "; ".join(f"`{name}`: {meaning}" for name, meaning in ON_A_DEVICE.items())
    )

    @classmethod
    def of(cls, told: ToldAct) -> NextAct:
        """The act as told."""
        return cls.model_validate(told)


class FindingOut(BaseModel):
    """What a rule found, with what to do about it: in words, and as acts that a program can offer."""

    rule: str
    severity: str
    area: str
    about: str
    samples: list[str] = Field(description="The samples it names, where it is about their form.")
    sentence: str
    remedy: str
    acts: list[NextAct]
    entries: list[int]
    excepted: str

    @classmethod
    def of(cls, found: Finding) -> FindingOut:
        """The finding as told."""
        return cls(
            rule=found.rule,
            severity=found.severity,
            area=found.area,
            about=found.about,
            samples=list(found.samples),
            sentence=found.sentence,
            remedy=found.remedy,
            acts=[NextAct.of(told) for told in found.acts],
            entries=list(found.entries),
            excepted=found.excepted,
        )


class VerdictOut(BaseModel):
    """One of the four verdicts, and what it does not cover."""

    area: str
    state: str
    sentence: str
    not_checked: list[str]

    @classmethod
    def of(cls, verdict: Verdict) -> VerdictOut:
        """The verdict as told."""
        return cls(
            area=verdict.area,
            state=verdict.state,
            sentence=verdict.sentence,
            not_checked=list(verdict.not_checked),
        )


class KeptOut(BaseModel):
    """A stretch of time and the way the holder kept the sample."""

    secured: str
    where: str
    since: str
    until: str | None
    entry: int


class LinkOut(BaseModel):
    """One holder: from when to when, by which entries received and given, how kept."""

    holder: str
    organization: str
    kid: str | None
    since: str
    until: str | None
    received_entry: int
    given_entry: int | None
    gap_min: str | None
    kept: list[KeptOut]

    @classmethod
    def of(cls, link: HolderView) -> LinkOut:
        """The link as told."""
        kept = [
            KeptOut(secured=k.secured, where=k.where, since=k.since.text(), until=_text(k.until), entry=k.n)
            for k in link.kept
        ]
        return cls(
            holder=link.person,
            organization=link.org,
            kid=link.kid,
            since=link.since.text(),
            until=_text(link.until),
            received_entry=link.entry.n,
            given_entry=link.given_entry,
            gap_min=_minutes(link.gap),
            kept=kept,
        )


class GivenOut(BaseModel):
    """A relinquishing entry that nobody has answered yet: by whom, to which organization, to which key of it
    and for what purpose, if it names them.
    """

    by: str
    to: str
    kid: str | None
    purpose: str | None
    entry: int

    @classmethod
    def of(cls, case: Case, said: Said) -> GivenOut:
        """The entry as told."""
        body, entry = said.of(Relinquished), said.entry
        by = case.person(entry.org, entry.kid)
        return cls(by=by, to=body.to, kid=body.to_kid, purpose=body.purpose, entry=entry.n)


class SampleOut(BaseModel):
    """One cassette: what was collected, its outdoor control, where it is.

    Of what was taken from a surface `started` is when, and `medium`, `material`, `surface`, `area_cm2` and
    `mass_g` stand in the place of a run.

    `given`: it was relinquished, and nobody has received it yet. `parent` and `child`: its number before and
    after it was sent on to a second laboratory. `qualification` is what its result must be reported with;
    null when there is nothing.
    """

    sample: str
    status: str
    kind: str | None
    lot: str | None
    started: str | None
    run_s: int | None
    pump: str | None
    meter: str | None
    serial: str | None
    mean_flow: str | None
    volume_l: str | None
    medium: str | None
    material: str | None
    surface: str | None
    area_cm2: str | None
    mass_g: str | None
    cavity: dict[str, Any] | None = Field(description="Of what it was drawn, if of no room: opening, tube.")
    room: str | None
    point: str | None
    place: str | None
    outdoor: str | None
    minutes_apart: str | None
    envelope: str | None
    holder: str | None
    store: str | None = Field(description="The store of the laboratory in which it lies.")
    keep_until: str | None = Field(description="The day until which it is kept, by the newest word.")
    store_low_c: str | None = Field(description="The least temperature at which that store is kept.")
    store_high_c: str | None = Field(description="The highest temperature at which that store is kept.")
    withdrawn_for: str | None = Field(description="For what its holder took it out of a store.")
    given: GivenOut | None
    condition: list[str]
    lab_number: str | None
    replaces: str | None = Field(description="The sample in whose place it was collected.")
    requested: dict[str, str | None] = Field(description="What the laboratory is asked for, as it stands.")
    void: str | None
    parent: str | None
    child: str | None
    qualification: str | None
    decisions: list[DecisionOut]
    entries: list[int]
    links: list[LinkOut]

    @classmethod
    def of(cls, case: Case, sample: SampleView) -> SampleOut:
        """The sample as told."""
        body, surface = sample.collected, sample.surface
        told = surface or body
        low, high = sample.limits
        return cls(
            sample=sample.number,
            status=sample.status,
            kind=sample.air,
            lot=sample.lot_number,
            started=sample.started.text() if sample.started else None,
            run_s=body.run_s if body else None,
            pump=body.pump if body else None,
            meter=body.meter if body else None,
            serial=body.serial if body else None,
            mean_flow=sample.flow,
            volume_l=sample.volume,
            medium=surface.medium if surface else None,
            material=surface.material if surface else None,
            surface=surface.surface if surface else None,
            area_cm2=_number(surface.area_cm2) if surface else None,
            mass_g=_number(surface.mass_g) if surface else None,
            cavity=plain(body.cavity) if body and body.cavity and sample.air == "cavity" else None,
            room=told.room if told else None,
            point=told.point if told else None,
            place=sample.place,
            outdoor=sample.outdoor,
            minutes_apart=_number(sample.minutes_apart),
            envelope=sample.envelope,
            holder=sample.holder,
            store=sample.store,
            keep_until=sample.keep_until.isoformat() if sample.keep_until else None,
            store_low_c=_number(low),
            store_high_c=_number(high),
            withdrawn_for=sample.withdrawn_for,
            given=GivenOut.of(case, sample.given) if sample.given else None,
            condition=list(sample.condition),
            lab_number=sample.lab_number,
            replaces=sample.replaces[0] if sample.replaces else None,
            requested=_asked(sample.requested),
            void=sample.void,
            parent=sample.parent,
            child=sample.child,
            qualification=sample.qualification or None,
            decisions=[DecisionOut.of(case, said) for said in sample.decisions],
            entries=list(sample.entries),
            links=[LinkOut.of(link) for link in sample.holders],
        )


class RecallOut(BaseModel):
    """One recall: since when, why, and when it was lifted."""

    since: str
    reason: str
    until: str | None


class LotOut(BaseModel):
    """A lot of cassettes as it stands now; `recalls` are those lifted too."""

    lot: str
    organization: str
    maker_lot: str
    cassette: str
    expiry: str | None
    expires: str | None
    nominal_flow: str
    run_s: int
    count: int
    counted: int | None = Field(description="How many were left at the newest count.")
    issued: list[str]
    newest_issue: list[str]
    recalled: bool
    recalls: list[RecallOut]
    length: int
    head: str | None = None

    @classmethod
    def of(cls, lot: Lot, head: str | None = None) -> LotOut:
        """The lot as told."""
        return cls(
            lot=lot.number,
            organization=lot.org,
            maker_lot=lot.maker_lot,
            cassette=lot.cassette,
            expiry=lot.expiry,
            expires=lot.expires.isoformat() if lot.expires else None,
            nominal_flow=str(lot.nominal_flow),
            run_s=lot.run_s,
            count=lot.count,
            counted=lot.counted.remaining if lot.counted else None,
            issued=list(lot.issued),
            newest_issue=list(lot.newest_issue),
            recalled=lot.recalled is not None,
            recalls=[
                RecallOut(
                    since=each.since.isoformat(),
                    reason=each.reason,
                    until=each.until.isoformat() if each.until else None,
                )
                for each in lot.recalls
            ],
            length=lot.length,
            head=head,
        )


class EnvelopeOut(BaseModel):
    """An envelope over all its forms; `at` is the moment it was judged, which `as_of` replays.

    `containers`: bags or boxes that were sealed. `courier`: who carries it by hand, in words. `taken_in`:
    signed for by the laboratory, unopened; `received`: its first opening at the dock.
    """

    envelope: str
    at: str
    forms: list[str]
    samples: list[str]
    total: int | None
    containers: int | None
    seal: str | None
    sealed_at: str | None
    opened_again: int
    shipped: dict[str, Any] | None
    courier: str | None
    taken_in: dict[str, Any] | None
    received: dict[str, Any] | None
    findings: list[FindingOut]
    verdicts: list[VerdictOut]

    @classmethod
    def of(
        cls, number: str, case: Case, findings: list[Finding], verdicts: tuple[Verdict, ...]
    ) -> EnvelopeOut:
        """The envelope as told; every form's view of it agrees unless a finding says otherwise."""
        view = envelope_view(number, case)
        sealed = view.sealed.body if view.sealed else None
        return cls(
            envelope=number,
            at=case.at.text(),
            forms=sorted(form for form, _ in view.inside),
            samples=view.manifest,
            total=sealed.total if sealed else None,
            containers=sealed.containers if sealed else None,
            seal=sealed.seal if sealed else None,
            sealed_at=sealed.at.text() if sealed else None,
            opened_again=view.opened_again,
            shipped=plain(view.shipped),
            courier=view.courier or None,
            taken_in=plain(view.taken_in),
            received=plain(view.arrivals[0]) if view.arrivals else None,
            findings=[FindingOut.of(f) for f in findings],
            verdicts=[VerdictOut.of(v) for v in verdicts],
        )


class FormOut(BaseModel):
    """One visit: its samples, envelopes, findings and four verdicts; `at` is the moment it was judged, which
    `as_of` replays.
    """

    form: str
    at: str
    visit: str
    zone: str
    firm: str
    lab: str
    method: str | None
    project: str | None
    length: int
    head: str
    private: dict[str, str]
    withheld: int
    conditions: list[dict[str, Any]]
    changes: list[dict[str, Any]]
    copies: list[dict[str, Any]] = Field(
        description="Papers that were issued, in the order of their entries."
    )
    requests: list[dict[str, Any]] = Field(
        description="What is asked of the laboratory since the opening, by samples of which it is the same."
    )
    samples: list[SampleOut]
    envelopes: list[str]
    findings: list[FindingOut]
    verdicts: list[VerdictOut]

    @classmethod
    def of(cls, case: Case, form: Form, findings: list[Finding], verdicts: tuple[Verdict, ...]) -> FormOut:
        """The form as told."""
        view = form_view(form, case, findings)
        opened = view.body
        newest = max(form.entries, key=lambda entry: entry.n)
        return cls(
            form=view.number,
            at=case.at.text(),
            visit=view.visit.isoformat(),
            zone=view.zone,
            firm=opened.parties.firm,
            lab=opened.parties.lab,
            method=opened.method,
            project=opened.project,
            length=newest.n,
            head=newest.leaf,
            private=dict(form.opened.entry.disclosed),
            withheld=sum(entry.private - len(entry.disclosed) for entry in form.entries),
            conditions=[plain(each) for each in observed(form)],
            changes=[plain(each) for each in changes(form)],
            copies=[plain(each) for each in issued(form)],
            requests=[{"samples": each.samples, **_asked(each.asked)} for each in requests(form)],
            samples=[SampleOut.of(case, each) for each in view.samples],
            envelopes=sorted(form.envelopes),
            findings=[FindingOut.of(f) for f in findings],
            verdicts=[VerdictOut.of(v) for v in verdicts],
        )


def _minutes(gap: timedelta | None) -> str | None:
    return (
        None if gap is None else str(measures.rounded(Decimal(gap // timedelta(milliseconds=1)) / 60_000, 1))
    )


def _number(value: Decimal | None) -> str | None:
    return None if value is None else str(value)


def _asked(asked: Order) -> dict[str, str | None]:
    return {name: None if (said := getattr(asked, name)) is None else str(said) for name in MEMBERS}


def _text(moment: Moment | None) -> str | None:
    return moment.text() if moment else None
