"""What a page shows of samples, envelopes and lots: words and figures made ready, so that templates only place them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from bailee.documents import hand_overs, printed, sample_table, signature_blocks
from bailee.documents.signature_blocks import Signature
from bailee.domain import measures, private_fields
from bailee.domain.acts.form import Opened, Received, Sealed, Shipped, Voided
from bailee.domain.custody import Arrival, Envelope, Form, Sample
from bailee.domain.lots import Freshness, Lot
from bailee.domain.moments import Moment
from bailee.domain.pairing import Pair, of_kind, pairs
from bailee.frozen import frozen
from bailee.rules import qualified, wording
from bailee.rules.case import Case
from bailee.rules.registry import ORDER, Finding, Severity

STATUS: Final = {"on_hold": "on hold", "announced": "not collected"}
STILL_STANDS: Final = frozenset({"refuse", "block", "flag"})


@frozen
class SampleShown:
    """One cassette. Empty text means that nothing of the kind is recorded."""

    number: str
    kind: str
    status: str
    where: tuple[str, ...]
    lot: str
    lot_words: str
    started: str
    run: str
    flow: str
    volume: str
    outdoor: str
    apart: str
    needs_outdoor: bool
    holder: str
    kept: str
    condition: str
    lab_number: str
    void: str
    qualification: str
    worst: Severity | None


@frozen
class FormShown:
    """The head of a visit."""

    number: str
    visit: str
    zone: str
    firm: str
    lab: str
    facts: tuple[tuple[str, str], ...]
    no_outdoor: str


@frozen
class EnvelopeShown:
    """An envelope over all its forms. `inside` are samples by form; `shipped` and `arrivals` as some form has them."""

    number: str
    total: int | None
    seal: str
    sealed: Signature | None
    opened_again: int
    shipped: Shipped | None
    receive_by: Moment | None
    arrivals: tuple[Received, ...]
    inside: tuple[tuple[str, tuple[SampleShown, ...]], ...]


@frozen
class LotShown:
    """A lot. `left` are cassettes not yet issued; `past` says that its last good day is over, `grace` that it may be used all the same."""

    number: str
    facts: tuple[tuple[str, str], ...]
    count: int
    left: int
    past: bool
    grace: bool
    recalled: str
    issued: tuple[tuple[str, str, str], ...]


def samples(form: Form, case: Case, findings: Sequence[Finding]) -> list[SampleShown]:
    """Every sample of the form, voided ones too."""
    paired = {pair.indoor.number: pair for pair in pairs(form)}
    return [sample(case, each, paired.get(each.number), findings) for each in form.samples.values()]


def sample(case: Case, each: Sample, pair: Pair | None, findings: Sequence[Finding]) -> SampleShown:
    """One sample of a form."""
    body, holder, lot = each.collected, each.holder, case.lot_of(each)
    keeping = holder.keeping[-1] if holder and holder.keeping else None
    kept = f"{hand_overs.WAYS[keeping.secured]} since {wording.clock(keeping.since)}" if keeping else ""
    own = [found.severity for found in findings if found.about == each.number]
    return SampleShown(
        number=each.number,
        kind=sample_table.kind_words(body) if body else "",
        status="void" if each.void else STATUS.get(each.status, each.status),
        where=tuple(sample_table.where(each, body)) if body else (),
        lot=body.lot if body else "",
        lot_words=_lot_words(lot),
        started=wording.clock(body.started) if body else "",
        run=f"{body.run_s} s" if body else "",
        flow=f"{measures.rounded(body.mean_flow, 2)} L/min" if body and body.mean_flow is not None else "",
        volume=f"{measures.rounded(body.volume_l, 2)} L" if body and body.volume_l is not None else "",
        outdoor=pair.outdoor.number if pair and pair.outdoor else "",
        apart=f"{sample_table.apart(pair)} min apart" if pair and pair.apart is not None else "",
        needs_outdoor=bool(body and body.kind == "indoor" and not each.void),
        holder=case.person(holder.org, holder.kid) if holder and each.status != "disposed" else "",
        kept=kept,
        condition=sample_table.condition(each),
        lab_number=each.lab_number or "",
        void=printed.plain(each.void.of(Voided).reason) if each.void else "",
        qualification=_qualification(case, each, findings),
        worst=min(own, key=ORDER.index, default=None),
    )


def form(found: Form, case: Case, findings: Sequence[Finding]) -> FormShown:
    """The head of a form."""
    opened = found.opened.of(Opened)
    tags = {
        "Project": opened.project,
        "Method": opened.method,
        "Analysis": opened.analysis,
        "Turnaround": opened.turnaround,
    }
    said = {name.capitalize(): printed.private(found, name) for name in private_fields.OF_A_VISIT}
    facts = {name: tag for name, tag in tags.items() if tag}
    facts |= {name: words for name, words in said.items() if words != "not stated"}
    facts["Found on arrival"] = ", ".join(printed.arrival(opened))
    return FormShown(
        number=found.number,
        visit=wording.day(opened.visit),
        zone=opened.zone,
        firm=printed.organization(case, opened.parties.firm),
        lab=printed.organization(case, opened.parties.lab),
        facts=tuple(facts.items()),
        no_outdoor=no_outdoor(found, findings),
    )


def no_outdoor(found: Form, findings: Sequence[Finding]) -> str:
    """Why the banner stands: the finding's own sentence, or that none was collected yet; empty when one is there."""
    missing = next((f for f in findings if f.rule == "OC-01" and f.about == found.number), None)
    if missing:
        return missing.sentence + (f" {wording.start(missing.excepted)}." if missing.excepted else "")
    return "" if of_kind(found, "outdoor") else "None was collected yet."


def envelope(number: str, case: Case, findings: Sequence[Finding]) -> EnvelopeShown:
    """An envelope over all its forms; their views agree unless a finding says otherwise."""
    views = [(each, each.envelopes[number]) for each in case.forms.values() if number in each.envelopes]
    sealings = [view.sealing for _, view in views if view.sealing]
    newest = max(sealings, key=lambda sealing: sealing.body.at, default=None)
    body: Sealed | None = newest.body if newest else None
    shipped = next((view.shipped.of(Shipped) for _, view in views if view.shipped), None)
    return EnvelopeShown(
        number=number,
        total=body.total if body else None,
        seal=body.seal if body else "",
        sealed=signature_blocks.signature(case, newest.said.entry) if newest else None,
        opened_again=max((sum(1 for s in view.sealings if s.opened) for _, view in views), default=0),
        shipped=shipped,
        receive_by=shipped.expected_receipt if shipped else None,
        arrivals=tuple(_arrivals(view.arrivals for _, view in views)),
        inside=tuple((each.number, _inside(each, view, case, findings)) for each, view in views),
    )


def lot(found: Lot, today: Freshness | None, people: dict[str, str]) -> LotShown:
    """A lot as the media keeper sees it, and how it stands today; `people` are names by key."""
    facts = {
        "Maker's lot": found.maker_lot,
        "Cassette": f"{found.cassette}, {found.nominal_flow} L/min for {found.run_s} s",
        "Last good day": wording.day(found.expires) if found.expires else "not on the box",
    }
    if found.counted:
        facts["Counted by hand"] = str(found.counted.remaining)
    return LotShown(
        number=found.number,
        facts=tuple(facts.items()),
        count=found.count,
        left=found.count - len(found.issued),
        past=today is not None and not today.in_date,
        grace=today is not None and today.may_be_used and not today.in_date,
        recalled=printed.plain(found.recalled.reason) if found.recalled else "",
        issued=tuple(
            (number, people.get(to.to or "", "") if to.to else "", wording.day(to.visit) if to.visit else "")
            for number, to in found.issued.items()
        ),
    )


def _inside(found: Form, view: Envelope, case: Case, findings: Sequence[Finding]) -> tuple[SampleShown, ...]:
    named = set(view.sealing.body.samples) if view.sealing else set()
    named |= {item.sample for arrival in view.arrivals for item in arrival.said.of(Received).items}
    return tuple(each for each in samples(found, case, findings) if each.number in named)


def _arrivals(found: Iterable[Sequence[Arrival]]) -> list[Received]:
    """What docks said, each once: several forms of one envelope tell of the same opening."""
    once = {
        (body.at, body.dock.seal if body.dock else None): body
        for arrivals in found
        for body in (arrival.said.of(Received) for arrival in arrivals)
    }
    return [once[key] for key in sorted(once, key=lambda key: key[0])]


def _lot_words(lot: Lot | None) -> str:
    if lot is None:
        return "not known here"
    return f"to {wording.day(lot.expires)}" if lot.expires else "no last day on the box"


def _qualification(case: Case, each: Sample, findings: Sequence[Finding]) -> str:
    on = next((found for found in case.forms.values() if found.samples.get(each.number) is each), None)
    return qualified.wording(on, each, findings) if on else ""
