"""The chain of custody as rows: who gave, who took, why, and how it was kept from then on.

The fold keeps links by sample. Samples that moved together are one row here, as on a paper form. A hand-over that only one
side signed stays visible as such: the empty side says why it is empty.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final, Literal

from bailee.documents import signature_blocks
from bailee.documents.signature_blocks import Signature
from bailee.domain.acts.form import Collected, Forwarded, Received, Relinquished, Shipped
from bailee.domain.custody import Form, Link, Sample
from bailee.domain.moments import Moment, offset_text
from bailee.domain.numbers import grouped
from bailee.frozen import frozen
from bailee.rules.case import Case

Step = Literal["collected", "handed over", "shipped", "received at the dock", "sent on", "not yet received"]

ON_SITE: Final = "Nobody: taken from the air on site"
NOT_SIGNED: Final = "Not signed"
SIGNS_NOTHING: Final = "The carrier signs nothing: seal and tracking number speak for this stretch"
PENDING: Final = "Not yet received"
SAME_GLASS: Final = "the same glass under a new number"

WAYS: Final = {
    "possession": "on the person",
    "view": "in sight",
    "locked": "locked away",
    "restricted": "in a restricted room",
    "sealed": "under a seal",
}
"""The five ways of keeping custody, in words."""

_PLACE_ENOUGH: Final = frozenset({"possession", "sealed"})
"""Ways that already say where: with the holder, or inside the envelope."""


@frozen
class HandOver:
    """One row. A side without a signature has words in its place.

    `kept` says how the receiver kept the samples; `at` is when it happened, and orders the rows.
    """

    step: Step
    samples: tuple[str, ...]
    at: Moment
    given: Signature | str
    taken: Signature | str
    purpose: str = ""
    gap: timedelta | None = None
    kept: tuple[str, ...] = ()


@frozen
class _Move:
    """A sample arriving at a link, or leaving the last one with nobody there yet (`link` is then None)."""

    sample: Sample
    before: Link | None
    link: Link | None

    @property
    def entry(self) -> int:
        """The entry that made this move, which orders moves of one moment."""
        if self.link:
            return self.link.received.n
        return self.sample.given.entry.n if self.sample.given else 0

    def alike(self) -> tuple[object, ...]:
        """What samples that moved together have in common."""
        if self.link is None:
            return ("pending", self.entry)
        given = self.before.given.entry.n if self.before and self.before.given else None
        kept = tuple(k.n for k in self.link.keeping)
        if isinstance(self.link.received.body, Collected):
            return ("collected", self.link.kid, kept)
        return (given, self.before.kid if self.before else "", self.link.received.n, kept)


def hand_overs(form: Form, case: Case) -> list[HandOver]:
    """Every row of the form's chain of custody, in order of time."""
    together: dict[tuple[object, ...], list[_Move]] = {}
    for move in _moves(form):
        together.setdefault(move.alike(), []).append(move)
    rows = [(_row(form, case, moves), moves[0].entry) for moves in together.values()]
    return [row for row, n in sorted(rows, key=lambda each: (each[0].at, each[1]))]


def _moves(form: Form) -> Iterator[_Move]:
    for sample in form.samples.values():
        before = None
        for link in sample.links:
            yield _Move(sample, before, link)
            before = link
        if before and sample.given:
            yield _Move(sample, before, None)


def _row(form: Form, case: Case, moves: list[_Move]) -> HandOver:
    first, samples = moves[0], tuple(move.sample.number for move in moves)
    given = first.before.given if first.before else None
    if first.link is None:
        given = first.sample.given  # even when its giver did not hold it
        assert given is not None
        at, purpose = given.of(Relinquished).at, given.of(Relinquished).purpose
        return HandOver(
            "not yet received",
            samples,
            at,
            signature_blocks.signature(case, given.entry),
            PENDING,
            _said(purpose),
        )
    link, entry = first.link, first.link.received
    row = HandOver(
        "handed over",
        samples,
        link.since,
        NOT_SIGNED,
        "",
        gap=link.gap,
        kept=tuple(_kept([move.link for move in moves if move.link], form)),
    )
    if given:
        row = replace(row, given=signature_blocks.signature(case, given.entry))
    match entry.body:
        case Collected():
            took = [move.sample.claims[0].entry for move in moves if move.sample.claims]
            taken = signature_blocks.signature(case, *took)
            return replace(row, step="collected", given=ON_SITE, taken=taken)
        case Forwarded() as body:
            parents = [move.sample.parent.number for move in moves if move.sample.parent]
            was = f"Was {', '.join(map(grouped, parents))}: {SAME_GLASS}"
            taken = signature_blocks.signature(case, entry)
            return replace(row, step="sent on", given=was, taken=taken, purpose=_said(body.purpose))
        case Shipped() as body:
            shipper = signature_blocks.signature(case, entry)
            carrier = f"{body.carrier}, {body.service}" + (", by hand" if body.by_hand else "")
            tracking = f"Tracking {body.tracking}" if body.tracking else "No tracking number"
            words = f"{carrier}. {tracking}. {SIGNS_NOTHING}."
            return replace(row, step="shipped", given=shipper, taken=words, purpose="transport")
        case Received() as body if body.dock:
            if not given and first.before and first.before.by_carrier:
                row = replace(row, given=SIGNS_NOTHING)
            taken = signature_blocks.signature(case, entry)
            return replace(row, step="received at the dock", taken=taken, purpose=_said(body.purpose))
        case Received() as body:
            return replace(row, taken=signature_blocks.signature(case, entry), purpose=_said(body.purpose))
        case _:  # pragma: no cover - the fold makes links of these five acts only
            raise AssertionError(entry.act)


def _kept(links: list[Link], form: Form) -> Iterator[str]:
    """How the samples of one row were kept. An end is told only when it is the same for all of them."""
    places = {entry.n: entry.disclosed.get("place", "") for entry in form.entries}
    for stretches in zip(*(link.keeping for link in links), strict=True):
        each = stretches[0]
        ends = {kept.until or link.until for kept, link in zip(stretches, links, strict=True)}
        where = f", {each.where}" if each.where and each.secured not in _PLACE_ENOUGH else ""
        where += f" ({places[each.n]})" if places.get(each.n) else ""
        until = ends.pop() if len(ends) == 1 else None
        yield f"{WAYS[each.secured]}{where}, {_stretch(each.since, until)} (entry {each.n})"


def _stretch(since: Moment, until: Moment | None) -> str:
    words = f"from {_short(since)}"
    if until is None:
        return words
    same_day = since.local_date == until.local_date and since.offset_minutes == until.offset_minutes
    return f"{words} to {_clock(until.local) if same_day else _short(until)}"


def _short(moment: Moment) -> str:
    return f"{moment.local:%Y-%m-%d} {_clock(moment.local)} {offset_text(moment.offset_minutes)}"


def _clock(local: datetime) -> str:
    return f"{local:%H:%M}" if local.second == 0 else f"{local:%H:%M:%S}"


def _said(purpose: str | None) -> str:
    return purpose or "not stated"
