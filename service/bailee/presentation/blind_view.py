"""What an analyst is given to count by: numbers, medium, analysis, receipt; nothing that says what to expect.

Blind on this paper or page only: whoever may read the form reads kind, place and volume in the ledger.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.presentation import surface_words, words
from bailee.presentation.envelope_view import EnvelopeView
from bailee.presentation.form_view import FormView
from bailee.presentation.sample_view import SampleView
from bailee.presentation.signature_words import when
from bailee.presentation.words import NOT_RECORDED, Heading

LEFT_OUT: Final = (
    "Client, site, place, kind, duplicates, times, volume and outdoor control are left out of this copy. They"
    " stand in the ledger, for all who may read this form there."
)
HEADINGS: Final = (
    Heading.LAB_NUMBER,
    Heading.SAMPLE,
    "Serial",
    Heading.LOT,
    "Medium",
    "Analysis",
    Heading.CONDITION,
)


@frozen
class BlindCopy:
    """The samples of a form that a laboratory has, in the order of their numbers, which follows from nothing
    that was done on site; `received` are lines, one for each envelope. `rows` are under `HEADINGS`.
    """

    form: str
    laboratory: str
    rows: tuple[tuple[str, ...], ...]
    received: tuple[str, ...]


def blind_copy(form: FormView) -> BlindCopy:
    """The blind copy of a form. Raises `Malformed` ("not-received") where its laboratory has no sample."""
    here = sorted((each for each in form.live if each.status in words.ARRIVED), key=lambda each: each.number)
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
    )


def _row(sample: SampleView) -> tuple[str, ...]:
    body, lot = sample.collected, sample.lot
    serial = (body.serial if body else None) or NOT_RECORDED
    medium = sample.cassette or "cassette"
    if sample.surface:
        serial, medium = "", surface_words.MEDIA[sample.surface.medium]
    return (
        sample.lab_number or "",
        grouped(sample.number),
        serial,
        lot.maker_lot if lot else grouped(sample.lot_number or ""),
        medium,
        sample.requested.analysis or NOT_RECORDED,
        sample.condition_words,
    )


def _received(envelope: EnvelopeView) -> Iterator[str]:
    for body in envelope.arrivals:
        dock = body.dock
        assert dock
        seal = words.seal_as_read(dock.seal, dock.seal_state)
        yield f"Envelope {grouped(envelope.number)}, {when(body.at)}: {Heading.SEAL.lower()} {seal}"
