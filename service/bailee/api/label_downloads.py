"""Labels as files: on sheets, on a roll, of one sample or envelope; and a page to set a printer by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Literal

from flask import Blueprint, Response
from pydantic import AfterValidator, Field

from bailee.api.asking import ledger
from bailee.api.downloads import PDF, file_answer
from bailee.api.layer import Query, operation
from bailee.domain import numbers
from bailee.domain.lots import Lot
from bailee.errors import Unknown
from bailee.labels import label_sizes
from bailee.ledger.checkpoint import parse_vkey
from bailee.operations import queries
from bailee.operations.queries import Judged
from bailee.operations.visibility import Asker
from bailee.presentation import surface_words, words
from bailee.rules.wording import clock

if TYPE_CHECKING:
    from bailee.labels.drawing import Label
    from bailee.labels.sheet import Sheet

blueprint = Blueprint("label", __name__)

PNG = "image/png"
SVG = "image/svg+xml"
DOTS_PER_INCH = (203, 300, 600)


def _printer(dpi: int) -> int:
    if dpi not in DOTS_PER_INCH:
        raise ValueError(f"label printers have {', '.join(map(str, DOTS_PER_INCH))} dots per inch")
    return dpi


Dpi = Annotated[int, AfterValidator(_printer), Field(json_schema_extra={"enum": list(DOTS_PER_INCH)})]
Size = Annotated[str, Field(max_length=20, json_schema_extra={"pattern": label_sizes.SIZE})]
Shift = Annotated[str, Field(max_length=20, json_schema_extra={"pattern": label_sizes.SHIFT})]


class SvgQuery(Query):
    """Width x height of a sample label in millimeters, at least 38x19."""

    size: Size = "50x25"

    @property
    def size_mm(self) -> tuple[float, float]:
        """As label_sizes. Raises `Malformed`."""
        return label_sizes.read_size(self.size, label_sizes.LEAST_SAMPLE)


class PngQuery(SvgQuery):
    """Size of the label, and dots per inch of the printer."""

    dpi: Dpi = 203


class RollQuery(PngQuery):
    """Size, dots per inch, and how far right and down this printer is to print, in millimeters."""

    shift: Shift = "0,0"

    @property
    def shift_mm(self) -> tuple[float, float]:
        """As label_sizes. Raises `Malformed`."""
        return label_sizes.read_shift(self.shift)


class AlignmentQuery(RollQuery):
    """Which sheet, or a roll of labels of that size."""

    layout: Literal["letter-30", "a4-24", "letter-70", "a4-75", "roll"] = "letter-30"

    @property
    def sheet(self) -> Sheet:
        """The sheet; a roll is a sheet of one label. Raises `Malformed`."""
        from bailee.labels import alignment, sheet

        if self.layout == "roll":
            return alignment.one_label(self.size_mm)
        return sheet.layout_named(self.layout)


class SheetQuery(AlignmentQuery):
    """Which numbers, which sheet or roll, and how many labels of the first sheet are already used.

    `newest` are the numbers that were issued together last; an older one printed again is a second label.
    """

    issue: Literal["newest", "all"] = "newest"
    skip: Annotated[int, Field(json_schema_extra={"minimum": 0, "maximum": 74})] = 0


class EnvelopeLabelQuery(Query):
    """Width x height of an envelope label in millimeters, at least 60x40."""

    size: Size = "100x60"

    @property
    def size_mm(self) -> tuple[float, float]:
        """As label_sizes. Raises `Malformed`."""
        return label_sizes.read_size(self.size, label_sizes.LEAST_ENVELOPE)


class EnvelopePngQuery(EnvelopeLabelQuery):
    """Size of the label, and dots per inch of the printer."""

    dpi: Dpi = 203


@blueprint.get("/lots/<lot>/labels.pdf")
@operation(
    "Labels for the numbers issued last on a lot, or for all of them, on sheets or on a roll",
    tag="paper",
    query=SheetQuery,
    answers={200: PDF},
    errors=(409,),
)
def sheet(lot: str, query: SheetQuery, asker: Asker) -> Response:
    """Each label: QR code, number, the maker's lot and last good day. A roll has a page a label, in the order
    of issue.
    """
    from bailee.labels import sheet as sheets
    from bailee.labels import single

    number = numbers.read(lot, "lot")
    with ledger().database.reading() as connection:
        found = queries.lot(ledger(), connection, asker.org, number)
    if not found.issued:
        raise Unknown(
            "No sample numbers were issued on this lot yet: issue some first.", code="nothing-issued"
        )
    chosen = found.issued if query.issue == "all" else found.newest_issue
    labels: Sequence[Label] = [_sample_label(each, found) for each in chosen]
    if query.layout == "roll":
        pdf = single.roll_pdf(labels, query.dpi, size_mm=query.size_mm, shift_mm=query.shift_mm)
    else:
        pdf = sheets.sheet_pdf(labels, query.sheet, skip=query.skip, shift_mm=query.shift_mm)
    return file_answer(pdf, PDF, f"labels-{number}.pdf")


@blueprint.get("/labels/test.pdf")
@operation("A page to set a printer by", tag="paper", query=AlignmentQuery, answers={200: PDF})
def alignment(query: AlignmentQuery, asker: Asker) -> Response:  # noqa: ARG001 — for those with a key, as labels
    """The layout's name, cross hairs, the frame of each label, rulers of 100 mm and 4 in: print at 100 %."""
    from bailee.labels import alignment as test_page

    return file_answer(test_page.alignment_pdf(query.sheet, query.layout, shift_mm=query.shift_mm), PDF)


@blueprint.get("/samples/<sample>/label.pdf")
@operation(
    "One sample label for a roll printer", tag="paper", query=RollQuery, answers={200: PDF}, errors=(409,)
)
def sample_pdf(sample: str, query: RollQuery, asker: Asker) -> Response:
    """A page of exactly the label's size."""
    from bailee.labels import single

    label = _label_of(sample, asker)
    pdf = single.roll_pdf([label], query.dpi, size_mm=query.size_mm, shift_mm=query.shift_mm)
    return file_answer(pdf, PDF)


@blueprint.get("/samples/<sample>/label.png")
@operation(
    "One sample label for a label printer", tag="paper", query=PngQuery, answers={200: PNG}, errors=(409,)
)
def sample_png(sample: str, query: PngQuery, asker: Asker) -> Response:
    """One bit a dot, at whole printer dots."""
    from bailee.labels import single

    return file_answer(single.png(_label_of(sample, asker), query.dpi, size_mm=query.size_mm), PNG)


@blueprint.get("/samples/<sample>/label.svg")
@operation("One sample label as a drawing", tag="paper", query=SvgQuery, answers={200: SVG}, errors=(409,))
def sample_svg(sample: str, query: SvgQuery, asker: Asker) -> Response:
    """In real millimeters."""
    from bailee.labels import single

    return Response(single.svg(_label_of(sample, asker), size_mm=query.size_mm), content_type=SVG)


@blueprint.get("/envelopes/<envelope>/label.pdf")
@operation("The envelope's label", tag="paper", query=EnvelopeLabelQuery, answers={200: PDF}, errors=(409,))
def envelope_pdf(envelope: str, query: EnvelopeLabelQuery, asker: Asker) -> Response:
    """QR code, counts, seal, when sealed; no address and no name, so that nobody takes it for a carrier's."""
    from bailee.labels import single

    return file_answer(single.envelope_pdf(_envelope_label(envelope, asker), size_mm=query.size_mm), PDF)


@blueprint.get("/envelopes/<envelope>/label.png")
@operation(
    "The envelope's label for a label printer",
    tag="paper",
    query=EnvelopePngQuery,
    answers={200: PNG},
    errors=(409,),
)
def envelope_png(envelope: str, query: EnvelopePngQuery, asker: Asker) -> Response:
    """One bit a dot, at whole printer dots."""
    from bailee.labels import single

    label = _envelope_label(envelope, asker)
    return file_answer(single.envelope_png(label, query.dpi, size_mm=query.size_mm), PNG)


def _label_of(sample: str, asker: Asker) -> Label:
    number = numbers.read(sample, "sample")
    with ledger().database.reading() as connection:
        told = queries.sample(ledger(), connection, asker.org, number)
    return _sample_label(number, told.lot)


def _sample_label(number: str, lot: Lot | None) -> Label:
    from bailee.labels import drawing, symbols

    demo = ", demo" if _demo() else ""
    lines = (f"Lot {lot.maker_lot}{demo}", f"Expires {lot.expires or words.NOT_STATED}") if lot else ()
    return drawing.Label(number, symbols.qr_text(ledger().settings.address, number), lines)


def _envelope_label(envelope: str, asker: Asker) -> Label:
    from bailee.labels import drawing, symbols

    number = numbers.read(envelope, "envelope")
    with ledger().database.reading() as connection:
        judged = queries.envelope(ledger(), connection, asker.org, number)
    lines = (*filter(None, (_demo(),)), *_envelope_lines(number, judged))
    return drawing.Label(number, symbols.qr_text(ledger().settings.address, number), lines)


def _demo() -> str:
    """The mark of a demonstration's log; a label of one could be stuck on a true cassette."""
    return words.demo_in_latin(parse_vkey(ledger().vkey).name)


def _envelope_lines(number: str, judged: Judged) -> tuple[str, ...]:
    views = [form.envelopes[number] for form in judged.case.forms.values() if number in form.envelopes]
    newest = max(
        (view.sealing.body for view in views if view.sealing), key=lambda body: body.at, default=None
    )
    if newest is None:
        return ()
    of_form = {each: form.samples[each] for form in judged.case.forms.values() for each in form.samples}
    inside = {each for view in views if view.sealing for each in view.sealing.body.samples}
    found = [each for number, each in of_form.items() if number in inside]
    media = [each.surface.medium if each.surface else None for each in found]
    held = surface_words.pieces(media, newest.total)
    if newest.containers:
        held += f", {words.containers(newest.containers)}"
    forms = [numbers.grouped(form.number) for form in judged.case.forms.values() if number in form.envelopes]
    named = (f"Form {each}" for each in forms) if len(forms) < 3 else (f"{len(forms)} forms",)
    return held, f"Seal {newest.seal}", f"Sealed {clock(newest.at)}", *named
