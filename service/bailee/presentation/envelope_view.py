"""What is on record of one envelope: how it was closed, how it went, what docks found."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

from bailee.domain import measures
from bailee.domain.acts.form import Dock, Received, Sealed, Shipped, TakenIn, Unsealed
from bailee.domain.custody import Envelope, Form, Sealing
from bailee.domain.moments import Moment
from bailee.frozen import frozen
from bailee.presentation import courier_words, surface_words, words
from bailee.presentation.sample_view import SampleView
from bailee.presentation.signature_words import Signature, signature, when
from bailee.presentation.words import NONE, NOT_RECORDED, Heading
from bailee.rules.case import Case

Facts = Sequence[tuple[str, tuple[str, ...]]]
"""Headings, each with the lines under it."""


@frozen
class SealingView:
    """One seal on an envelope, by whom, and who opened it again."""

    body: Sealed
    by: Signature
    opened: Unsealed | None
    opener: Signature | None

    @property
    def count(self) -> tuple[str, str]:
        """How many cassettes, and how the envelope was closed."""
        body = self.body
        whole = f", {body.total} in the envelope" if body.total != body.count else ""
        if body.containers is not None:
            whole += f"; {words.containers(body.containers)}"
        how = "across the opening" if body.across_opening else "not across the opening"
        record = "custody record enclosed" if body.record_enclosed else "custody record not enclosed"
        return f"{body.count} of this form{whole}", f"{how}, {record}"

    @property
    def opening(self) -> str:
        """That it was opened again: when, by whom, why; empty when it was not."""
        if self.opened is None or self.opener is None:
            return ""
        seal, reason = words.number(self.opened.seal), words.plain(self.opened.reason)
        return f"{Heading.SEAL} {seal} was opened {when(self.opened.at)} by {self.opener.name}: {reason}."


@frozen
class EnvelopeView:
    """An envelope over all its forms, or as one form sees it. `arrivals` are what docks found, each once.

    `courier` says who carries it by hand; empty for a carrier. `taken_in` is what the laboratory signed when
    it took it in unopened, if it did. `sealings` are those of every form, in order; `inside` are the samples
    by form; `opened_again` counts the seals opened before receipt.
    """

    number: str
    sealings: tuple[SealingView, ...]
    opened_again: int
    shipped: Shipped | None
    courier: str
    taken_in: TakenIn | None
    arrivals: tuple[Received, ...]
    inside: tuple[tuple[str, tuple[SampleView, ...]], ...]

    @property
    def sealed(self) -> SealingView | None:
        """The newest seal that nobody opened before receipt."""
        closed = [each for each in self.sealings if not each.opened]
        return max(closed, key=lambda each: each.body.at, default=None)

    @property
    def seal(self) -> str:
        """The number of that seal."""
        return words.number(self.sealed.body.seal) if self.sealed else NONE

    @property
    def manifest(self) -> list[str]:
        """The samples under that seal, on all forms."""
        return sorted({s for each in self.sealings if not each.opened for s in each.body.samples})

    @property
    def samples(self) -> list[SampleView]:
        """What lies under that seal, form by form, as far as it is known here."""
        named = set(self.manifest)
        return [each for _, inside in self.inside for each in inside if each.number in named]

    @property
    def pieces(self) -> str:
        """How many cassettes and samples of surfaces were counted into it."""
        total = self.sealed.body.total if self.sealed else None
        return surface_words.pieces((each.medium for each in self.samples), total)

    @property
    def way(self) -> Facts:
        """By whom, how and when it went; nothing before that."""
        body = self.shipped
        if body is None:
            return ()
        who = words.carrier(body.carrier, body.service, by_hand=body.by_hand, saturday=body.saturday)
        by: Facts = (
            ((Heading.COURIER, (self.courier,)), (Heading.SLIP, (courier_words.slip(body),)))
            if body.by_hand
            else ((Heading.CARRIER, (who,)), (Heading.TRACKING, (words.tracking(body.tracking),)))
        )
        return (
            *by,
            (words.left(by_hand=body.by_hand), (when(body.handed_over),)),
            (Heading.EXPECTED, (_or_not(body.expected_receipt),)),
        )

    @property
    def next_time(self) -> tuple[str, Moment | None, str]:
        """The time that matters to whoever waits for it: its heading, the moment, or why there is none."""
        if self.arrivals:
            return Heading.RECEIVED, self.arrivals[0].at, ""
        if self.taken_in:
            return Heading.TAKEN_IN, self.taken_in.at, ""
        expected = self.shipped.expected_receipt if self.shipped else None
        return Heading.EXPECTED, expected, NOT_RECORDED if self.shipped else words.NOT_SHIPPED


def taken_in_facts(body: TakenIn | None) -> Facts:
    """What the laboratory signed when it took an envelope in unopened; nothing if it did not."""
    if body is None:
        return ()
    return (
        (Heading.DELIVERED, (_or_not(body.delivered),)),
        (Heading.TAKEN_IN, (when(body.at),)),
        (Heading.SEAL_TAKEN_IN, (words.seal_as_read(body.seal, body.seal_state),)),
        (Heading.PACKAGE, (words.listed(body.package),)),
        (Heading.SECURED, (words.way(body.secured, body.where),)),
        *_containers(body.containers),
    )


def _containers(counted: int | None) -> Facts:
    """How many bags or boxes were counted; nothing where nobody did."""
    return () if counted is None else ((Heading.CONTAINERS, (str(counted),)),)


def _warmth(dock: Dock) -> Facts:
    """The temperature inside on opening; nothing where nobody read it."""
    read = dock.temperature_c
    return () if read is None else ((Heading.TEMPERATURE, (measures.warmth_text(read),)),)


def arrival_facts(body: Received) -> Facts:
    """What a dock found."""
    dock = body.dock
    assert dock
    extra = f"; on no form of this envelope: {', '.join(dock.extra)}" if dock.extra else ""
    return (
        (
            Heading.SEAL_READ,
            (words.number(dock.seal) if dock.seal else NONE, words.SEAL_STATES[dock.seal_state]),
        ),
        (Heading.COUNTED, (f"{body.count} of this form, {dock.total} in all{extra}",)),
        (Heading.PACKAGE, (words.listed(dock.package),)),
        (Heading.DELIVERED, (_or_not(dock.delivered),)),
        (Heading.RECEIVED, (when(body.at),)),
        *_containers(dock.containers),
        *_warmth(dock),
        *_afterwards(body, dock),
    )


def _afterwards(body: Received, dock: Dock) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What was said of a later opening, and of the envelope's being shut again; nothing of most."""
    if body.found:
        yet = f", {words.number(body.found.other)}" if body.found.other else ""
        yield Heading.FOUND, (f"{words.plain(body.found.where)}{yet}",)
    if dock.closed_again:
        seal = words.number(dock.closed_again.seal) if dock.closed_again.seal else words.NO_SEAL_NUMBER
        yield Heading.CLOSED_AGAIN, (seal, when(dock.closed_again.at))


def of_forms(
    number: str, case: Case, views: Sequence[tuple[Form, Envelope, Mapping[str, SampleView]]]
) -> EnvelopeView:
    """The envelope as these forms see it, each with its samples.

    Their views agree unless a finding says otherwise.
    """
    sealings = chain.from_iterable(view.sealings for _, view, _ in views)
    once: dict[tuple[Moment, str | None], Received] = {}
    for _, view, _ in views:
        for body in (arrival.said.of(Received) for arrival in view.arrivals):
            once.setdefault((body.at, body.dock.seal if body.dock else None), body)
    shipped = next((view.shipped for _, view, _ in views if view.shipped), None)
    left = shipped.of(Shipped) if shipped else None
    return EnvelopeView(
        number=number,
        sealings=tuple(_sealing(case, each) for each in sealings),
        opened_again=max((sum(1 for s in view.sealings if s.opened) for _, view, _ in views), default=0),
        shipped=left,
        courier=courier_words.who(case, shipped.entry, left) if shipped and left and left.by_hand else "",
        taken_in=next((each.taken_in.said.of(TakenIn) for _, each, _ in views if each.taken_in), None),
        arrivals=tuple(sorted(once.values(), key=lambda body: body.at)),
        inside=tuple((form.number, tuple(_inside(view, samples))) for form, view, samples in views),
    )


def _sealing(case: Case, sealing: Sealing) -> SealingView:
    opened = sealing.opened
    return SealingView(
        body=sealing.body,
        by=signature(case, sealing.said.entry),
        opened=opened.of(Unsealed) if opened else None,
        opener=signature(case, opened.entry) if opened else None,
    )


def _inside(view: Envelope, samples: Mapping[str, SampleView]) -> Iterable[SampleView]:
    named = set(view.sealing.body.samples) if view.sealing else set()
    named |= {item.sample for arrival in view.arrivals for item in arrival.said.of(Received).items}
    return (each for each in samples.values() if each.number in named)


def _or_not(moment: Moment | None) -> str:
    return when(moment) if moment else NOT_RECORDED
