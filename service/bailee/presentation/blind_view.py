"""What an analyst is given to count by: numbers, medium, analysis, state; nothing that says what to expect.

Blind on this paper or page only: whoever may read the form reads kind, place and volume in the ledger.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.presentation import surface_words, words
from bailee.presentation.envelope_view import EnvelopeView
from bailee.presentation.form_view import FormView
from bailee.presentation.sample_view import SampleView
from bailee.presentation.signature_words import when
from bailee.presentation.words import NOT_RECORDED, Heading
from bailee.rules import wording

LEFT_OUT: Final = (
    "Client, site, place, kind, duplicates, times, volume and outdoor control are left out of this copy. They"
    " stand in the ledger, for all who may read this form there."
)
HEADINGS: Final = (
    Heading.LAB_NUMBER,
    Heading.SAMPLE,
    Heading.LOT,
    "Medium",
    "Analysis",
    "Turnaround",
    "Due",
    "Priority",
    "State",
    Heading.CONDITION,
)
"""No serial: cassettes are used up in the order in which the maker numbered them, so serials give back the
order of collection, and with it the blank. The number on the label identifies a cassette without it.
"""
STATE: Final = HEADINGS.index("State")


@frozen
class BlindCopy:
    """The samples of a form that a laboratory has, in the order of the laboratory's numbers and then of their
    own, which follows from nothing that was done on site; `received` are lines, one for each envelope, the
    first of which `arrived` then, by the clock of the laboratory. `rows` are under `HEADINGS`.
    """

    form: str
    laboratory: str
    rows: tuple[tuple[str, ...], ...]
    received: tuple[str, ...]
    arrived: Moment | None


def blind_copy(form: FormView) -> BlindCopy:
    """The blind copy of a form. Raises `Malformed` ("not-received") where its laboratory has no sample."""
    here = sorted((each for each in form.live if each.status in words.ARRIVED), key=_place)
    if not here:
        raise Malformed(
            f"No sample of form {grouped(form.number)} was received: a blind copy is made of what is at the"
            " laboratory.",
            code="not-received",
        )
    return BlindCopy(
        form=form.number,
        laboratory=form.lab,
        rows=tuple(map(_row, here)),
        received=tuple(said for each in form.envelopes for said in _received(each)),
        arrived=next((body.at for each in form.envelopes for body in each.arrivals), None),
    )


def _place(sample: SampleView) -> tuple[bool, str, str]:
    """Those without a number of the laboratory last."""
    return (sample.lab_number is None, sample.lab_number or "", sample.number)


def _row(sample: SampleView) -> tuple[str, ...]:
    lot, order = sample.lot, sample.requested
    medium = surface_words.MEDIA[sample.surface.medium] if sample.surface else sample.cassette or "cassette"
    return (
        sample.lab_number or "",
        grouped(sample.number),
        lot.maker_lot if lot else grouped(sample.lot_number or ""),
        medium,
        order.analysis or NOT_RECORDED,
        order.turnaround or NOT_RECORDED,
        wording.day(order.due) if order.due else NOT_RECORDED,
        order.priority or NOT_RECORDED,
        words.STOPPED.get(sample.status, words.STATUSES[sample.status]),
        sample.condition_words,
    )


def _received(envelope: EnvelopeView) -> Iterator[str]:
    for body in envelope.arrivals:
        dock = body.dock
        assert dock
        seal = words.seal_as_read(dock.seal, dock.seal_state)
        yield f"Envelope {grouped(envelope.number)}, {when(body.at)}: {Heading.SEAL.lower()} {seal}"
