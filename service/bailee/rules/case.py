"""What the rules look at: folded forms, lots and organizations, one instant, and perhaps something about to
be done.

A `Case` is complete in itself. The service fills it from its database, the offline verifier from a bundle;
`elsewhere` is what only a whole ledger can know, and is None for the verifier, which then says that it was
not checked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, Final, TypeVar, get_args

from bailee.domain.acts.form import Opened, Sealed, Shipped
from bailee.domain.custody import CARRIER, COURIER, Envelope, Form, Sample, Status
from bailee.domain.fields import EDITION
from bailee.domain.joint_policy import Joint, together
from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.organizations import Organization
from bailee.domain.policy import Policy
from bailee.domain.statements import B, Draft
from bailee.frozen import field, frozen
from bailee.rules.readers import EVERYBODY, Audience, Side, Stage

T = TypeVar("T")

GONE: Final = frozenset(get_args(Status)) - {"announced", "collected", "sealed"}
"""States in which a sample has left the building: a block can only be a flag then."""


@frozen
class Bearing:
    """A live sample on another form, and its lot."""

    sample: str
    lot: str


@frozen
class Run:
    """A run of a live sample on another form."""

    sample: str
    form: str
    started: Moment
    run_s: int


@frozen
class Gap:
    """A stretch of a device's counters that never arrived, from the first to the last.

    `after` is when the statement before them was signed (None: there is none), `shown` when the ledger
    recorded the one after them, and so learned of it.
    """

    first: int
    last: int
    after: datetime | None
    shown: datetime


@frozen
class Elsewhere:
    """What the rest of the ledger says, as far as it may decide here.

    Only what an organization says that is itself a party of a form of the case which knows the number, and
    only on forms that whoever asks may see: a stranger's word about a number, and a word that the asker
    cannot look up, decides nothing.

    By an organization's own seal, as `mentions.own_seal` names it: the envelopes it was used on. By
    sample number, also of cassettes issued and never seen on the forms of the case: other forms that
    claim it and did not void it, and envelopes it lies in on other forms. `accounted` are numbers that a
    party said to have collected or voided on any form, seen or not: that excuses, and accuses nobody. By
    key: the counters missing from that device that no refused statement explains. By organization and its
    own laboratory number (`quill-lab/Q-17`): the samples that were given it, on any form. By hand-over,
    as `airbill` names it: the envelopes that an organization handed to one carrier under one tracking
    number. By collecting organization and maker's serial, as `glass` names it: the samples on other forms
    whose cassette bears it, with every correction followed. By collecting organization and pump (`harrow-
    field/PUMP-1`): its runs on other forms in the hours in which it ran here, likewise. `again` are samples
    here that their firm collected again on other forms, `stands` those on other forms that were collected
    again here and are neither void nor rejected.
    """

    seals: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    claims: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    envelopes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    gaps: Mapping[str, tuple[Gap, ...]] = field(default_factory=dict)
    accounted: frozenset[str] = frozenset()
    lab_numbers: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    airbills: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    serials: Mapping[str, tuple[Bearing, ...]] = field(default_factory=dict)
    runs: Mapping[str, tuple[Run, ...]] = field(default_factory=dict)
    again: frozenset[str] = frozenset()
    stands: frozenset[str] = frozenset()


@frozen
class Conflict:
    """A key that signed two statements which cannot both follow from what it said before; `seq` is the count
    of the refused one.
    """

    kid: str
    org: str
    seq: int


@frozen
class Case:
    """Everything one evaluation may look at. `at` is the instant of asking, never read from a clock here."""

    at: Moment
    forms: Mapping[str, Form]
    lots: Mapping[str, Lot]
    organizations: Mapping[str, Organization]
    drafts: tuple[Draft[Any], ...] = ()
    """What somebody is about to sign, unsigned: what lies in an envelope that is closed or handed over then
    is what is in question."""
    elsewhere: Elsewhere | None = None
    blocked: Mapping[str, Sequence[str]] = field(default_factory=dict)
    """Rules with an open block, by what it is about.

    Filled by `registry.evaluate` for the rules it asks last.
    """
    reader: Audience = EVERYBODY
    """Who is told: what they cannot do is told otherwise, and offers them no act."""
    conflicts: Mapping[str, Sequence[Conflict]] = field(default_factory=dict)
    """By form: keys in doubt that speak on it, or whose refused statement is about it."""
    _inside: list[frozenset[str] | None] = field(default_factory=list, init=False, repr=False, compare=False)
    _joints: dict[tuple[str, str, int], Joint] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    _made: dict[Callable[[Case], Any], Any] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def draft(self, kind: type[B]) -> Draft[B] | None:
        """The act of this kind that somebody is about to sign, if that is asked about."""
        return next((each for each in self.drafts if isinstance(each.body, kind)), None)

    def once(self, make: Callable[[Case], T]) -> T:
        """What `make` says of this case, asked once: an index, so that no rule looks at everything for every
        part of it.
        """
        if make not in self._made:
            self._made[make] = make(self)
        made: T = self._made[make]
        return made

    def about(self, number: str) -> Sequence[Form]:
        """Forms that know a number: their own, a sample's, an envelope's, or that of a lot their samples came
        from.
        """
        return self.once(_places).get(number, ())

    def policy(self, form: Form) -> Policy:
        """The thresholds that count for a form: the firm's, or the laboratory's where those are stricter."""
        return self.joint(form).policy

    def joint(self, form: Form) -> Joint:
        """The same, with whose each of them is. A laboratory that published no policy sets no limit."""
        parties, edition = form.opened.of(Opened).parties, form.edition
        if (parties.firm, parties.lab, edition) not in self._joints:
            firm, lab = self.organizations.get(parties.firm), self.organizations.get(parties.lab)
            own = firm.policy if firm and firm.policy_n else Policy.of(edition)
            published = lab.policy if lab and lab.policy_n and lab is not firm else None
            self._joints[parties.firm, parties.lab, edition] = together(own, published)
        return self._joints[parties.firm, parties.lab, edition]

    def edition(self, about: str) -> int:
        """The edition of the rule book by which a thing is judged: that of the newest form that knows it, or
        of all forms here.
        """
        forms = self.about(about) or self.forms.values()
        return max((form.edition for form in forms), default=EDITION)

    def lot_of(self, sample: Sample) -> Lot | None:
        """The lot a sample says it came from, when the ledger knows it."""
        return self.lots.get(sample.lot) if sample.lot else None

    def samples(self) -> Iterator[tuple[Form, Sample]]:
        """Live samples in question: those in the envelope about to be sealed or handed
        over, otherwise all.
        """
        for form, live in self.visits():
            for sample in live:
                yield form, sample

    def visits(self) -> Iterator[tuple[Form, list[Sample]]]:
        """Each form in question with its live samples in question: all forms, or those in the envelope about
        to be sealed or handed over.
        """
        inside = self.inside
        for form in self.forms.values():
            live = [sample for sample in form.live if inside is None or sample.number in inside]
            if live or inside is None:
                yield form, live

    def air(self) -> Iterator[tuple[Form, Sample]]:
        """Those of `samples` that are cassettes."""
        return ((form, sample) for form, sample in self.samples() if not sample.surface)

    def air_visits(self) -> Iterator[tuple[Form, list[Sample]]]:
        """`visits` with cassettes alone: of what was taken from a surface nothing of air is asked."""
        for form, live in self.visits():
            air = [sample for sample in live if not sample.surface]
            if air or not live:
                yield form, air

    @property
    def inside(self) -> frozenset[str] | None:
        """What lies in the envelope about to be sealed or handed over; None when neither is asked about."""
        if not self._inside:
            closing, leaving = self.draft(Sealed), self.draft(Shipped)
            listed: Iterable[str] | None = self._listed(leaving.body.envelope) if leaving else None
            listed = closing.body.samples if closing else listed
            self._inside.append(None if listed is None else frozenset(listed))
        return self._inside[0]

    def _listed(self, number: str) -> Iterator[str]:
        for _, envelope in self.envelopes():
            if envelope.number == number and envelope.sealing:
                yield from envelope.sealing.body.samples

    def lies_elsewhere(self, about: str) -> bool:
        """Whether this is a sample of a form here that does not lie in the envelope asked about."""
        if self.inside is None or about in self.inside:
            return False
        return any(about in form.samples for form in self.about(about))

    def also_on(self, form: Form, number: str) -> tuple[str, ...]:
        """Other forms on which parties of this one collected the same sample number, and did not void it."""
        parties = self.once(_parties)[form.number]
        here = {
            other.number
            for other in self.about(number)
            if other is not form
            and (sample := other.samples.get(number))
            and any(claim.entry.org in parties for claim in sample.claims)
            and not (sample.void and sample.void.entry.org in parties)
        }
        beyond = set(self.elsewhere.claims.get(number, ())) - set(self.forms) if self.elsewhere else set()
        return tuple(sorted(here | beyond))

    def envelopes(self) -> Iterator[tuple[Form, Envelope]]:
        """Each form's view of each of its envelopes."""
        for form in self.forms.values():
            for envelope in form.envelopes.values():
                yield form, envelope

    def owner(self, kid: str) -> str:
        """The first key of the same person."""
        return self.once(_owners).get(kid, kid)

    def hands(self, kids: Iterable[str]) -> set[str]:
        """These keys and every other key of the same persons."""
        persons, keys = {self.owner(kid) for kid in kids}, self.once(_keys)
        return persons.union(*(keys.get(person, ()) for person in persons))

    def person(self, org: str, kid: str | None) -> str:
        """Who a key belongs to, in words."""
        if kid is None:
            nobody = {COURIER: "the person who carries it", CARRIER: "the carrier"}
            return nobody.get(org, f"a store of {org}")
        organization = self.organizations.get(org)
        return organization.person(kid) if organization else f"key {kid[:8]}"

    def role(self, org: str, kid: str) -> str:
        """The role a key was enrolled in; empty when its organization is not here or never enrolled it."""
        organization = self.organizations.get(org)
        key = organization.keys.get(kid) if organization else None
        return key.role if key else ""

    def read_by(self, org: str, role: str) -> Case:
        """The same for somebody of this organization, in this role."""
        forms = self.forms.values()
        firms = {form.opened.of(Opened).parties.firm for form in forms}
        laboratories = {lab for form in forms for lab in form.laboratories}
        is_firm, is_laboratory = org in firms, org in laboratories
        side: Side | None = None if is_firm == is_laboratory else "firm" if is_firm else "laboratory"
        return replace(self, reader=Audience(role, side))

    def stage(self, about: str) -> Stage:
        """Where what a finding is about is, of several samples the least far one."""
        for form in self.about(about):
            if about in form.samples:
                return _stage(form, form.samples[about])
            if about in form.envelopes:
                envelope = form.envelopes[about]
                return "laboratory" if envelope.arrived else "sent" if envelope.shipped else "office"
            if about == form.number:
                stages = {_stage(form, sample) for sample in form.live} or {"site"}
                return min(stages, key=_IN_ORDER.index)
        return "office"

    def is_past(self, about: str) -> bool:
        """Whether what a finding is about has already left the building."""
        for form in self.about(about):
            if about in form.samples:
                return form.samples[about].status in GONE
            if about in form.envelopes:
                return bool(form.envelopes[about].shipped or form.envelopes[about].arrived)
            if about == form.number:
                return self.once(_gone)[form.number]
        return False


_IN_ORDER: Final = get_args(Stage)


def _stage(form: Form, sample: Sample) -> Stage:
    if sample.status == "shipped":
        return "sent"
    if sample.status in GONE:
        return "laboratory"
    holder, first = sample.holder, sample.links[0] if sample.links else None
    stays = holder is None or (
        first is not None and form.same(holder.kid, first.kid) and sample.given is None
    )
    return "site" if stays and sample.status != "sealed" else "office"


def _places(case: Case) -> dict[str, list[Form]]:
    places: dict[str, list[Form]] = {}
    for form in case.forms.values():
        lots = {sample.lot for sample in form.samples.values() if sample.lot}
        for each in {form.number, *form.samples, *form.envelopes, *lots}:
            places.setdefault(each, []).append(form)
    return places


def _parties(case: Case) -> dict[str, frozenset[str]]:
    return {form.number: form.parties for form in case.forms.values()}


def _gone(case: Case) -> dict[str, bool]:
    """Whether all live samples of a form have left the building, and there are any."""
    found = {form.number: [sample.status in GONE for sample in form.live] for form in case.forms.values()}
    return {number: bool(gone) and all(gone) for number, gone in found.items()}


def _owners(case: Case) -> dict[str, str]:
    owners: dict[str, str] = {}
    for org in case.organizations.values():
        for kid, key in org.keys.items():
            owners.setdefault(kid, key.owner or kid)
    return owners


def _keys(case: Case) -> dict[str, list[str]]:
    """By person, all keys."""
    keys: dict[str, list[str]] = {}
    for kid, person in case.once(_owners).items():
        keys.setdefault(person, []).append(kid)
    return keys
