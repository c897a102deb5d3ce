"""The chain of custody, told twice: as rows for a form, and holder by holder for one sample.

The fold keeps links by sample. Samples that moved together are one row here, as on a paper form. A transfer
that only one side signed stays visible as such: the empty side says why it is empty.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import zip_longest
from typing import Literal

from bailee.domain.acts.form import (
    Collected,
    Forwarded,
    Received,
    Relinquished,
    Shipped,
    Stored,
    TakenIn,
    Withdrawn,
)
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.custody import COURIER, Form, Keeping, Link, Sample
from bailee.domain.fields import Secured
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.statements import Recorded
from bailee.frozen import frozen
from bailee.presentation import courier_words, store_words, words
from bailee.presentation.signature_words import Signature, signature, when
from bailee.rules.case import Case

Step = Literal[
    "collected",
    "transferred",
    "shipped",
    "taken_in",
    "received",
    "forwarded",
    "put_away",
    "taken_out",
    "pending",
]


@frozen
class StretchView:
    """A stretch of time and the way the holder secured the sample, by entry `n` of the form."""

    secured: Secured
    where: str
    since: Moment
    until: Moment | None
    n: int

    @property
    def words(self) -> str:
        """The way, and where, unless the way says it."""
        return words.way(self.secured, self.where)


@frozen
class HolderView:
    """One holder of one sample: from when to when, how it came and how it went, in words; how it was secured.

    `person` is whose key it is, `name` that with the organization; `kid` is None for a carrier. `gap` lies
    between relinquished and received, where both are signed.
    """

    person: str
    name: str
    org: str
    kid: str | None
    since: Moment
    until: Moment | None
    received: str
    entry: Recorded
    given: str | None
    given_entry: int | None
    gap: timedelta | None
    kept: tuple[StretchView, ...]


@frozen
class HandOver:
    """One row. A side without a signature has words in its place.

    `kept` says how the receiver secured the samples; `at` is when it happened, and orders the rows.
    `counted` says which side did not count, and nothing where the counts are those of the samples or a
    finding.
    """

    step: Step
    samples: tuple[str, ...]
    at: Moment
    given: Signature | str
    taken: Signature | str
    purpose: str = ""
    gap: timedelta | None = None
    kept: tuple[str, ...] = ()
    counted: str = ""

    @property
    def words(self) -> str:
        """The step as people read it."""
        return words.STEPS[self.step]

    @property
    def is_in_order(self) -> bool:
        """Whether nothing of it is to be looked at first: received, by signature or as its step is, secured,
        and without time between the two sides.
        """
        is_signed = self.step != "pending" and words.NOT_SIGNED not in (self.given, self.taken)
        return is_signed and not self.counted and not self.gap and words.NO_WAY_RECORDED not in self.secured

    @property
    def who(self) -> str:
        """Whoever signed it as its receiver, else as its giver."""
        signed = [side.name for side in (self.taken, self.given) if isinstance(side, Signature)]
        return signed[0] if signed else ""

    @property
    def secured(self) -> tuple[str, ...]:
        """How the receiver secured the samples, or that no entry shows it.

        Nothing where nobody has received them yet.
        """
        if self.kept:
            return tuple(words.secured(each) for each in self.kept)
        return () if self.step == "pending" else (words.NO_WAY_RECORDED,)


def holders(case: Case, sample: Sample) -> Iterator[HolderView]:
    """Everybody who held a sample, in order."""
    for link, following in zip_longest(sample.links, sample.links[1:]):
        yield HolderView(
            person=in_words(case, link),
            name=_holder(case, link),
            org=link.org,
            kid=link.kid,
            since=link.since,
            until=link.until,
            received=_received(link),
            entry=link.received,
            given=_given(case, link, following),
            given_entry=link.given.entry.n if link.given else None,
            gap=link.gap,
            kept=tuple(map(_view, link.keeping)),
        )


def _view(kept: Keeping) -> StretchView:
    return StretchView(kept.secured, kept.where, kept.since, kept.until, kept.n)


def _holder(case: Case, link: Link) -> str:
    if link.by_carrier:
        body = link.received.body
        assert isinstance(body, Shipped)
        if body.by_hand:
            return f"{courier_words.who(case, link.received, body)}, {words.HAND_CARRIED}"
        return f"the carrier {body.carrier}"
    return f"{in_words(case, link)} ({link.org})"


def in_words(case: Case, link: Link) -> str:
    """Who has it, or in which store it lies."""
    return f"store {link.store}" if link.store else case.person(link.org, link.kid)


def _received(link: Link) -> str:
    return store_words.came(link) or _came(link)


def _came(link: Link) -> str:
    match link.received.body:
        case Collected() | SurfaceCollected():
            return "collected the sample"
        case Forwarded() as body:
            return f"prepared it for forwarding to {body.to}, under this number"
        case Shipped() as body:
            number = f"tracking number {body.tracking}" if body.tracking else words.NO_TRACKING
            paper = courier_words.slip(body) if body.by_hand else number
            return f"was given envelope {grouped(body.envelope)}, {paper}"
        case TakenIn() as body:
            seal = words.seal_as_read(body.seal, body.seal_state)
            return f"took in envelope {grouped(body.envelope)} unopened, seal {seal}"
        case Received(dock=dock) if dock is not None:
            seal = (
                f"seal {words.number(dock.seal)} {words.SEAL_STATES[dock.seal_state]}"
                if dock.seal
                else "no seal"
            )
            return f"received it at the dock in envelope {grouped(dock.envelope)}, {seal}"
        case _:
            return "received it"


def _given(case: Case, link: Link, following: Link | None) -> str | None:
    """How the link ended; None while it lasts."""
    if following and not link.given and (following.store or link.store):
        how = "put into" if following.store else "withdrawn by"
        return f"{how} {_holder(case, following)}, entry {following.received.n}"
    return _relinquished(case, link, following)


def _relinquished(case: Case, link: Link, following: Link | None) -> str | None:
    given = link.given.body if link.given else None
    if link.given and isinstance(given, Relinquished):
        to = f"{case.person(given.to, given.to_kid)} ({given.to})" if given.to_kid else given.to
        purpose = f" for {given.purpose}" if given.purpose else ""
        return f"relinquished to {to}{purpose}, entry {link.given.entry.n}"
    if following is None:
        return None
    to, n = _holder(case, following), following.received.n
    if following.by_carrier:
        return f"shipped: given to {to}, entry {n}"
    if link.by_carrier:
        return f"delivered to {to}, entry {n}"
    if isinstance(link.received.body, TakenIn) and following.org == link.org:
        return f"held unopened until {to} opened it, entry {n}"
    return f"no relinquishing entry of this holder; the next is {to}, entry {n}"


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
        if isinstance(self.link.received.body, Collected | SurfaceCollected):
            return (self.link.received.act, self.link.kid, kept)
        return (given, self.before.kid if self.before else "", self.link.received.n, kept)


def hand_overs(form: Form, case: Case) -> list[HandOver]:
    """Every row of the form's chain of custody, in order of time."""
    together: dict[tuple[object, ...], list[_Move]] = {}
    for move in _moves(form):
        together.setdefault(move.alike(), []).append(move)
    places = {entry.n: entry.disclosed["place"] for entry in form.entries if entry.disclosed.get("place")}
    rows = [(_row(case, moves, places), moves[0].entry) for moves in together.values()]
    return [row for row, n in sorted(rows, key=lambda each: (each[0].at, each[1]))]


def _moves(form: Form) -> Iterator[_Move]:
    for sample in form.samples.values():
        before = None
        for link in sample.links:
            yield _Move(sample, before, link)
            before = link
        if before and sample.given:
            yield _Move(sample, before, None)


def _row(case: Case, moves: list[_Move], places: Mapping[int, str]) -> HandOver:
    first, samples = moves[0], tuple(move.sample.number for move in moves)
    given = first.before.given if first.before else None
    if first.link is None:
        given = first.sample.given  # even when its giver did not hold it
        assert given is not None
        by, told = signature(case, given.entry), given.of(Relinquished)
        counted = _counted(told, None)
        expected = f"; expected {when(told.expected)}" if told.expected else ""
        yet = f"{words.PENDING}{expected}"
        return HandOver("pending", samples, told.at, by, yet, _purpose(told.purpose), counted=counted)
    link, entry = first.link, first.link.received
    giver: Signature | str = signature(case, given.entry) if given else words.NOT_SIGNED
    row = HandOver(
        "transferred",
        samples,
        link.since,
        giver,
        "",
        gap=link.gap,
        kept=tuple(_kept([move.link for move in moves if move.link], places)),
        counted=_counted(given.body if given else None, entry.body),
    )
    match entry.body:
        case Collected() | SurfaceCollected() as body:
            took = [move.sample.claims[0].entry for move in moves if move.sample.claims]
            whence = words.FROM_THE_AIR if isinstance(body, Collected) else words.FROM_A_SURFACE
            return replace(row, step="collected", given=whence, taken=signature(case, *took))
        case Forwarded() as body:
            parents = [move.sample.parent.number for move in moves if move.sample.parent]
            was = f"Was {', '.join(map(grouped, parents))}: {words.SAME_TRACE}"
            taken = signature(case, entry)
            return replace(row, step="forwarded", given=was, taken=taken, purpose=_purpose(body.purpose))
        case Shipped() as body:
            carrier = courier_words.row(case, entry, body) if body.by_hand else _to_carrier(body)
            shipper = signature(case, entry)
            return replace(row, step="shipped", given=shipper, taken=carrier, purpose="transport")
        case Stored() | Withdrawn() as body:
            return _store_row(row, signature(case, entry), body)
        case TakenIn() | Received() as body:
            seal = _seal_for_giver(first.before) if not given and _is_arrival(body) else ""
            step: Step = "taken_in" if isinstance(body, TakenIn) else "received"
            return replace(
                row,
                step=step if _is_arrival(body) else "transferred",
                given=seal or giver,
                taken=signature(case, entry),
                purpose=_purpose_of(body, by_carrier=bool(seal)),
            )
        case _:  # pragma: no cover - the fold makes links of these eight acts only
            raise AssertionError(entry.act)


def _store_row(row: HandOver, signed: Signature, body: Stored | Withdrawn) -> HandOver:
    """Into a store or out of it: on the side of the store no one signs."""
    if isinstance(body, Withdrawn):
        return replace(row, step="taken_out", given=store_words.row(body), taken=signed, purpose=body.purpose)
    return replace(row, step="put_away", given=signed, taken=store_words.row(body), purpose="storage")


def _is_arrival(body: TakenIn | Received) -> bool:
    """Whether a dock has the envelope by it, opened or not."""
    return isinstance(body, TakenIn) or body.dock is not None


def _seal_for_giver(before: Link | None) -> str:
    """What stands where nobody gave an envelope to a dock, and its seal speaks; empty where it does not."""
    if before is None:
        return ""
    if isinstance(before.received.body, TakenIn):
        return words.UNTIL_OPENED
    if before.org == COURIER:
        return words.NO_COURIER_SIGNATURE
    return words.NO_CARRIER_SIGNATURE if before.by_carrier else ""


def _to_carrier(body: Shipped) -> str:
    who = words.carrier(body.carrier, body.service, by_hand=False, saturday=body.saturday)
    number = f"{words.Heading.TRACKING} {body.tracking}" if body.tracking else words.NO_TRACKING.capitalize()
    return ". ".join((who, number, f"{words.NO_CARRIER_SIGNATURE}."))


def _kept(links: Sequence[Link], places: Mapping[int, str]) -> Iterator[str]:
    """How the samples of one row were secured, never before they were held and never after. An end is told
    only when it is the same for all of them.
    """
    for stretches in zip(*(link.keeping for link in links), strict=True):
        both = list(zip(stretches, links, strict=True))
        since = {max(kept.since, link.since) for kept, link in both}
        ends = {_end(kept, link) for kept, link in both}
        begun = f"from {when(since.pop())}" if len(since) == 1 else words.SINCE_EACH
        until = ends.pop() if len(ends) == 1 else None
        yield _stretch(_view(stretches[0]), f"{begun} to {when(until)}" if until else begun, places)


def _end(kept: Keeping, link: Link) -> Moment | None:
    """When the stretch ended, and at the latest when the sample was handed on."""
    return min(filter(None, (kept.until, link.until)), default=None)


def _stretch(each: StretchView, told: str, places: Mapping[int, str]) -> str:
    place = f" ({places[each.n]})" if each.n in places else ""
    return f"{each.words}{place}, {told} (entry {each.n})"


def _counted(given: object, taken: object) -> str:
    return words.not_counted(
        giver=isinstance(given, Relinquished) and given.count is None,
        receiver=isinstance(taken, Received) and taken.dock is None and taken.count is None,
    )


def _purpose_of(body: TakenIn | Received, *, by_carrier: bool) -> str:
    """What a carrier brings was shipped: that is its purpose (CU-17), and it stands with the shipment."""
    if isinstance(body, TakenIn):
        return "storage"
    return body.purpose or ("" if by_carrier else words.NOT_RECORDED)


def _purpose(purpose: str | None) -> str:
    return purpose or words.NOT_RECORDED
