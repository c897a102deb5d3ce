"""What is on record of one cassette, and the words in which every surface shows it.

Made from the fold and the case, never written to. An answer for programs takes the facts, a paper or a page
the words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal

from bailee.domain import measures
from bailee.domain.acts.form import Collected, Stored, Voided, Withdrawn
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import ACCEPTED
from bailee.domain.custody import Form, Said, Sample, Status
from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.pairing import Pair, pairs
from bailee.domain.requests import Order, asked
from bailee.frozen import frozen
from bailee.presentation import cavity_words, surface_words, words
from bailee.presentation.hand_overs import HolderView, holders, in_words
from bailee.presentation.lot_view import expiration
from bailee.presentation.words import NONE, NOT_RECORDED, WITHHELD
from bailee.rules import qualified, wording
from bailee.rules.case import Case
from bailee.rules.registry import ORDER, Finding, Severity


@frozen
class SampleView:
    """One cassette, or one sample of a surface. `status`, `void` and `condition` are codes; `qualification`
    is empty when there is none.

    `place` is what its collector wrote privately of where it was; `place_withheld` that something was written
    which is not shown. `air`: which it is, as a code, that of a cavity being none of a room; None for what is
    no air. `by_checks`: its flow is that of checks of its pump for several runs. `given`: the
    entry that relinquished it, until somebody receives it. `store`: that of the laboratory in which it lies,
    `keep_until` the day until which it is kept. `requested`: what the laboratory is asked for. `corrected`:
    facts of its collection that were corrected, each with the entry that did so last.
    """

    number: str
    status: Status
    void: str | None
    collected: Collected | None
    surface: SurfaceCollected | None
    air: str | None
    by_checks: bool
    place: str | None
    place_withheld: bool
    lot: Lot | None
    outdoor: str | None
    apart: timedelta | None
    envelope: str | None
    holder: str | None
    store: str | None
    keep_until: date | None
    given: Said | None
    condition: tuple[str, ...]
    lab_number: str | None
    replaces: tuple[str, str | None] | None
    requested: Order
    parent: str | None
    child: str | None
    qualified: bool
    qualification: str
    corrected: Mapping[str, int]
    worst: Severity | None
    decisions: tuple[Said, ...]
    entries: tuple[int, ...]
    holders: tuple[HolderView, ...]

    @property
    def medium(self) -> str | None:
        """What it was taken with from a surface, as a code; None for a cassette."""
        return self.surface.medium if self.surface else None

    @property
    def kind(self) -> str:
        """Kind of sample, and its area or the sample it duplicates; empty when it was not collected."""
        body, surface = self.collected, self.surface
        told = surface or body
        area = told.area.replace("_", "-") if told and told.area else ""
        if surface:
            return ", ".join(filter(None, [surface_words.MEDIA[surface.medium], area, self._instead]))
        if body is None:
            return ""
        again = f"duplicate of {grouped(body.duplicate_of)}" if body.duplicate_of else ""
        return ", ".join(filter(None, [words.KINDS[self.air or ""], area, again, self._instead]))

    @property
    def _instead(self) -> str:
        return f"replaces {grouped(self.replaces[0])}" if self.replaces else ""

    @property
    def state(self) -> str:
        """Where it stands: void with its reason, or its status, with what was decided about its result."""
        return words.status(self.status, self.void, qualified=self.qualified)

    @property
    def where(self) -> tuple[str, ...]:
        """Unit, room and point, the place in words when it is disclosed, height of the inlet, distance, and
        for which units an outdoor control stands.
        """
        body = self.surface or self.collected
        return tuple(self._where(body)) if body else ()

    def _where(self, body: Collected | SurfaceCollected) -> Iterator[str]:
        unit = f"unit {body.unit}" if body.unit else ""
        yield ", ".join(filter(None, [unit, words.plain(body.room), body.point])) or f"room {NOT_RECORDED}"
        if self.place or self.place_withheld:
            yield self.place or f"place {WITHHELD}"
        if isinstance(body, SurfaceCollected):
            yield from filter(None, self.taken_from)
            return
        if body.cavity:
            yield from cavity_words.lines(body.cavity)
        if body.height_m is not None:
            yield f"inlet {measures.length_text(body.height_m)}"
        if body.distance_m is not None:
            yield f"{measures.length_text(body.distance_m)} from building"
        if body.serves:
            yield f"for units {', '.join(body.serves)}"

    @property
    def taken_from(self) -> tuple[str, ...]:
        """Of a surface: material and look, how it was taken and what is asked for; empty for a cassette."""
        if self.surface is None:
            return ()
        of_what = surface_words.of_what(self.surface.material, self.surface.surface)
        return (of_what, *surface_words.asked(self.surface))

    @property
    def started(self) -> Moment | None:
        """When its run began, or when it was taken from its surface."""
        if self.surface:
            return self.surface.at
        return self.collected.started if self.collected else None

    @property
    def lot_number(self) -> str | None:
        """The lot that it is said to come from."""
        body = self.surface or self.collected
        return body.lot if body else None

    @property
    def cassette(self) -> str:
        """Which kind of cassette it is, by its lot: a slit and a round trace are not counted alike. Empty of
        a surface, and where the lot is not known.
        """
        return f"{words.plain(self.lot.cassette)} cassette" if self.lot and not self.surface else ""

    @property
    def run(self) -> str:
        """Seconds it ran, and how many were planned if that differs."""
        body = self.collected
        if body is None:
            return ""
        other = body.planned_s is not None and body.planned_s != body.run_s
        return f"{body.run_s} s" + (f" of {body.planned_s} s" if other else "")

    @property
    def flow(self) -> str | None:
        """Mean flow, L/min, to two places."""
        return words.figure(self.collected.mean_flow) if self.collected else None

    @property
    def volume(self) -> str | None:
        """Liters drawn, computed exactly and rounded once; none for a blank or without a flow."""
        return words.figure(self.collected.volume_l) if self.collected else None

    @property
    def drawn(self) -> str:
        """Volume and mean flow, or why there is none; of a surface its area or mass."""
        body = self.collected
        if self.surface:
            return surface_words.amount(self.surface.area_cm2, self.surface.mass_g)
        if body is None:
            return NONE
        checked = words.day_check(body.flow_before, body.flow_after) if self.by_checks else ""
        return words.drawn(body.kind, self.volume, self.flow, once=self.read_once, checked=checked)

    @property
    def read_once(self) -> bool:
        """Whether flow and volume rest on one reading instead of two."""
        body = self.collected
        return bool(body and (body.flow_before is None) != (body.flow_after is None))

    @property
    def needs_outdoor(self) -> bool:
        """Whether it must be compared with an outdoor control."""
        return self.air == "indoor" and not self.void

    @property
    def minutes_apart(self) -> Decimal | None:
        """Between its start and that of its outdoor control, to the nearest whole minute, halves up."""
        if self.apart is None:
            return None
        return measures.rounded(Decimal(self.apart.total_seconds()) / 60, 0)

    @property
    def is_in_order(self) -> bool:
        """Whether nothing about it is to be looked at first: no finding but notes, not void, stopped or
        missing, and with its outdoor control where it needs one.
        """
        stops = self.status in words.STOPPED or self.status == "missing" or bool(self.void)
        lacks = self.needs_outdoor and not self.outdoor
        return not (stops or lacks or self.worst not in (None, "note"))

    @property
    def expiration(self) -> str:
        """When its lot expires."""
        return expiration(self.lot)

    @property
    def is_expired(self) -> bool:
        """Whether its lot had expired on the day on site, whatever days of grace a policy gives."""
        return bool(self.lot and self.started and self.lot.is_over(self.started.local_date))

    @property
    def condition_words(self) -> str:
        """Its condition on receipt; empty before that, and for a cassette that did not arrive."""
        return words.condition(self.status, self.condition)

    @property
    def at_the_laboratory(self) -> tuple[str, ...]:
        """What became of it there: where it stands, its condition, the laboratory's number for it."""
        there = self.status in words.ARRIVED or self.status == "missing"
        stands = words.status(self.status, qualified=self.qualified) if there else ""
        said = (stands, self.condition_words, self.lab_number or "")
        return tuple(filter(None, said))

    @property
    def held_by(self) -> str:
        """The holder on record.

        Empty before it was collected, after custody ended, and when it was not in its envelope.
        """
        return self.holder or "" if self.status not in ("disposed", "missing") else ""

    @property
    def limits(self) -> tuple[Decimal | None, Decimal | None]:
        """Between which temperatures, in degrees Celsius, the store in which it lies is kept."""
        body = self.holders[-1].entry.body if self.store else None
        return (body.low_c, body.high_c) if isinstance(body, Stored) else (None, None)

    @property
    def withdrawn_for(self) -> str | None:
        """For what its holder took it out of a store, as a code; None where that is not so."""
        body = self.holders[-1].entry.body if self.holders else None
        return body.purpose if isinstance(body, Withdrawn) else None

    @property
    def secured(self) -> str:
        """How its holder secures it now, and since when; empty when nobody is known to hold it."""
        kept = self.holders[-1].kept if self.held_by else ()
        return f"{words.SECURED[kept[-1].secured]} since {wording.clock(kept[-1].since)}" if kept else ""


def sample_views(form: Form, case: Case, findings: Sequence[Finding] = ()) -> dict[str, SampleView]:
    """Every sample of the form by its number, voided ones too."""
    paired, requests = {pair.indoor.number: pair for pair in pairs(form)}, asked(form)
    return {
        number: _view(form, case, each, paired.get(number), requests[number], findings)
        for number, each in form.samples.items()
    }


def _view(
    form: Form, case: Case, sample: Sample, pair: Pair | None, requested: Order, findings: Sequence[Finding]
) -> SampleView:
    """The read model of one sample of a form; `pair` is it with its outdoor control."""
    origin = sample.origin.entry if sample.origin else None
    own = [found.severity for found in findings if found.concerns(sample.number)]
    decision, claims = sample.decision, {said.entry.n for said in sample.claims}
    return SampleView(
        number=sample.number,
        status=sample.status,
        void=sample.void.of(Voided).reason if sample.void else None,
        collected=sample.collected,
        surface=sample.surface,
        air=sample.kind,
        by_checks=sample.day_check is not None and sample.completed is not None,
        place=origin.disclosed.get("place") if origin else None,
        place_withheld=bool(origin and origin.private > len(origin.disclosed)),
        lot=case.lot_of(sample),
        outdoor=pair.outdoor.number if pair and pair.outdoor else None,
        apart=pair.apart if pair else None,
        envelope=sample.envelope,
        holder=in_words(case, sample.holder) if sample.holder else None,
        store=sample.holder.store if sample.holder and sample.status != "disposed" else None,
        keep_until=sample.keep_until,
        given=sample.given,
        condition=sample.condition,
        lab_number=sample.lab_number,
        replaces=sample.replaces,
        requested=requested,
        parent=sample.parent.number if sample.parent else None,
        child=sample.child.number if sample.child else None,
        qualified=bool(decision and decision.entry.act == ACCEPTED and decision.entry.data.get("qualified")),
        qualification=qualified.wording(form, sample, findings),
        corrected={
            each.body.field: each.entry.n
            for each in form.corrections
            if each.target and not each.why_not and each.target.n in claims
        },
        worst=min(own, key=ORDER.index, default=None),
        decisions=tuple(sample.decisions),
        entries=tuple(said.entry.n for said in sample.claims),
        holders=tuple(holders(case, sample)),
    )
