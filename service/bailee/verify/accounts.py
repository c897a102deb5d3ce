"""Custody in words: what the fold of a form says about each sample, link by link, with the two times of every hand-over."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from decimal import Decimal
from itertools import accumulate, zip_longest
from typing import Final

from bailee.domain import measures, numbers, private_fields
from bailee.domain.acts.form import Collected, Forwarded, Opened, Received, Relinquished, Shipped
from bailee.domain.custody import Form, Link, Sample
from bailee.domain.moments import Moment
from bailee.domain.organizations import Organization
from bailee.rules.case import Case
from bailee.verify.authorship import Heard
from bailee.verify.devices import Head
from bailee.verify.evidence import Item
from bailee.verify.result import Endorsement, Holding, Kept, Line, SampleAccount, Signer, Visit

HOW: Final = {
    "possession": "on the person",
    "view": "in sight",
    "locked": "locked away",
    "restricted": "in a restricted room",
    "sealed": "under a custody seal",
}
"""The five ways to keep custody, in words."""


def visit(form: Form) -> Visit:
    """What the form is about."""
    opened, said = form.opened.of(Opened), form.opened.entry.disclosed
    return Visit(
        day=opened.visit.isoformat(),
        zone=opened.zone,
        firm=opened.parties.firm,
        lab=opened.parties.lab,
        project=opened.project,
        told={name: said[name] for name in private_fields.OF_A_VISIT if name in said},
    )


def samples(case: Case, form: Form) -> Iterator[SampleAccount]:
    """Every sample of the form, by number."""
    for number in sorted(form.samples):
        yield _sample(case, form.samples[number])


def _sample(case: Case, sample: Sample) -> SampleAccount:
    body = sample.collected
    flow, volume = _drawn(body)
    return SampleAccount(
        number=sample.number,
        kind=body.kind if body else "unknown",
        status="voided" if sample.void else sample.status,
        lot=body.lot if body else None,
        started=body.started.text() if body else None,
        run_s=body.run_s if body else None,
        flow_lpm=flow,
        volume_l=volume,
        condition=sample.condition,
        void=sample.void is not None,
        holdings=tuple(
            _holding(case, link, following)
            for link, following in zip_longest(sample.links, sample.links[1:])
            if link is not None
        ),
    )


def _drawn(body: Collected | None) -> tuple[str | None, str | None]:
    """Mean flow and volume, computed exactly and rounded once, half up; none for a blank or without both readings."""
    if body is None or body.flow_before is None or body.flow_after is None:
        return None, None
    flow = measures.mean_flow(body.flow_before, body.flow_after)
    volume = measures.volume_liters(flow, Decimal(body.run_s))
    return str(measures.rounded(flow, 2)), str(measures.rounded(volume, 1))


def _holding(case: Case, link: Link, following: Link | None) -> Holding:
    entry = link.received
    return Holding(
        holder=_holder(case, link),
        org=link.org,
        received=_received(link),
        since=link.since.text(),
        claimed=entry.at.text(),
        recorded=utc(entry.rec),
        n=entry.n,
        kept=tuple(
            Kept(
                HOW[each.secured],
                each.where,
                each.since.text(),
                each.until.text() if each.until else None,
                each.n,
            )
            for each in link.keeping
        ),
        given=_given(case, link, following),
        until=link.until.text() if link.until else None,
        gap_s=None if link.gap is None else int(link.gap.total_seconds()),
    )


def _holder(case: Case, link: Link) -> str:
    if link.by_carrier:
        body = link.received.body
        return f"the carrier {body.carrier}" if isinstance(body, Shipped) else "the carrier"
    return f"{case.person(link.org, link.kid)} ({link.org})"


def _received(link: Link) -> str:
    match link.received.body:
        case Collected():
            return "took the sample"
        case Forwarded() as body:
            return f"took it out to send it on to {body.to}, under this number"
        case Shipped() as body:
            tracking = f", tracking number {body.tracking}" if body.tracking else ", no tracking number"
            return f"was handed envelope {numbers.grouped(body.envelope)}{tracking}"
        case Received(dock=dock) if dock is not None:
            seal = f"seal {dock.seal} {dock.seal_state.replace('_', ' ')}" if dock.seal else "no seal"
            return f"received it at the dock in envelope {numbers.grouped(dock.envelope)}, {seal}"
        case _:
            return "received it by hand"


def _given(case: Case, link: Link, following: Link | None) -> str | None:
    """How the link ended; None while it lasts."""
    given = link.given.body if link.given else None
    if link.given and isinstance(given, Relinquished):
        to = f"{case.person(given.to, given.to_kid)} ({given.to})" if given.to_kid else given.to
        purpose = f" for {given.purpose}" if given.purpose else ""
        return f"given to {to}{purpose}, entry {link.given.entry.n}"
    if following is None:
        return None
    if following.by_carrier:
        return f"handed to {_holder(case, following)}, entry {following.received.n}"
    if link.by_carrier:
        return f"delivered to {_holder(case, following)}, entry {following.received.n}"
    return f"no hand-over by this holder is recorded; the next is {_holder(case, following)}, entry {following.received.n}"


def lines(
    heard: Iterable[Heard],
    items: Sequence[Item],
    organizations: Mapping[str, Organization],
    proven: Iterable[Head],
    seen_by: Callable[[int], str | None],
) -> Iterator[Line]:
    """Every entry whose signature holds, in the order of the log, with its window of time.

    `seen_by` tells by when somebody else had seen the entry at an index: cosigners and time stamp authorities that the auditor believes.
    """
    by_leaf = {(item.entry.chain, item.leaf): item.entry.rec for item in items}
    indexes = [item.index for item in items]
    latest = list(accumulate((item.entry.rec for item in items), max))
    sizes = {size for size, _ in proven}
    for each in heard:
        claims, entry = each.statement.claims, each.item.entry
        known = by_leaf.get((entry.chain, claims.after or ""))
        bounds = [known] if known else []
        if claims.seen and claims.seen.size in sizes and (shown := bisect_left(indexes, claims.seen.size)):
            bounds.append(latest[shown - 1])
        organization = organizations.get(claims.iss)
        key = organization.keys.get(each.statement.kid) if organization else None
        yield Line(
            index=each.item.index,
            chain=entry.chain,
            n=entry.n,
            act=claims.act,
            org=claims.iss,
            kid=each.statement.kid,
            person=key.person if key else "",
            role=key.role if key else "",
            claimed=Moment.of(claims.iat, claims.tzo).text(),
            recorded=entry.rec,
            not_before=max(bounds, default=None),
            not_after=seen_by(each.item.index),
            redacted=each.hidden,
            told=dict(each.recorded.disclosed) if each.recorded else {},
        )


def signers(heard: Iterable[Heard], organizations: Mapping[str, Organization]) -> Iterator[Signer]:
    """Every key that speaks here, in the order in which they first do."""
    counts = Counter((each.statement.claims.iss, each.statement.kid) for each in heard)
    for (org, kid), count in counts.items():
        organization = organizations.get(org)
        key = organization.keys.get(kid) if organization else None
        if key is None:
            continue
        ended = key.revocation
        revoked = f"{ended.reason}, since {ended.since}, entry {ended.n} of org/{org}" if ended else None
        yield Signer(kid, org, key.role, key.person, key.enrolled_n, count, revoked)


def endorsements(
    organizations: Mapping[str, Organization], roots: Mapping[str, str]
) -> Iterator[Endorsement]:
    """What the organizations of this file say about each other's roots. `roots` are those the auditor brought."""
    for by in organizations.values():
        for org, root in sorted(by.endorsed.items()):
            if org in organizations:
                fits = organizations[org].root == root
                yield Endorsement(org, root, by.id, fits, roots.get(by.id) == by.root)


def utc(instant: datetime) -> str:
    """A recorded time as entries write it."""
    return instant.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
