"""What is printed or taken away: labels, the custody record, the auditor's file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

from flask import Blueprint, Response
from pydantic import AfterValidator, Field

from bailee.api.asking import ledger
from bailee.api.layer import JSON, Query, operation
from bailee.domain import numbers
from bailee.domain.acts.form import TakenIn
from bailee.domain.lots import Lot
from bailee.errors import Malformed, Unknown
from bailee.ledger.checkpoint import parse_vkey
from bailee.operations import export, queries, visibility
from bailee.operations.queries import Judged
from bailee.operations.visibility import Asker
from bailee.presentation import words
from bailee.rules.wording import clock, counted
from bailee.signing import disclosures
from bailee.verify.bundle import Bundle

if TYPE_CHECKING:
    from bailee.labels.drawing import Label

blueprint = Blueprint("paper", __name__)

PDF = "application/pdf"
PNG = "image/png"
SVG = "image/svg+xml"
CSV = "text/csv"
DOTS_PER_INCH = (203, 300, 600)


class SheetQuery(Query):
    """Which numbers, which sheet, and how many of its labels are already used.

    `newest` are the numbers that were issued together last; an older one printed again is a second label.
    """

    issue: Literal["newest", "all"] = "newest"
    layout: Literal["letter-30", "a4-24"] = "letter-30"
    skip: Annotated[int, Field(json_schema_extra={"minimum": 0, "maximum": 29})] = 0


def _printer(dpi: int) -> int:
    if dpi not in DOTS_PER_INCH:
        raise ValueError(f"label printers have {', '.join(map(str, DOTS_PER_INCH))} dots per inch")
    return dpi


class PngQuery(Query):
    """Dots per inch of the printer."""

    dpi: Annotated[int, AfterValidator(_printer), Field(json_schema_extra={"enum": list(DOTS_PER_INCH)})] = (
        203
    )


@blueprint.get("/lots/<lot>/labels.pdf")
@operation(
    "Sheets of labels for the numbers issued last on a lot, or for all of them",
    tag="paper",
    query=SheetQuery,
    answers={200: PDF},
    errors=(409,),
)
def sheet(lot: str, query: SheetQuery, asker: Asker) -> Response:
    """Each label: QR code, number, the maker's lot and last good day."""
    from bailee.labels import sheet as sheets

    number = numbers.read(lot, "lot")
    with ledger().database.reading() as connection:
        found = queries.lot(ledger(), connection, asker.org, number)
    if not found.issued:
        raise Unknown(
            "No sample numbers were issued on this lot yet: issue some first.", code="nothing-issued"
        )
    chosen = found.issued if query.issue == "all" else found.newest_issue
    labels = [_sample_label(each, found) for each in chosen]
    layout = sheets.Layout.LETTER_30 if query.layout == "letter-30" else sheets.Layout.A4_24
    return _file(sheets.sheet_pdf(labels, layout, skip=query.skip), PDF, f"labels-{number}.pdf")


@blueprint.get("/samples/<sample>/label.png")
@operation(
    "One sample label for a label printer", tag="paper", query=PngQuery, answers={200: PNG}, errors=(409,)
)
def sample_png(sample: str, query: PngQuery, asker: Asker) -> Response:
    """One bit a dot, at whole printer dots."""
    from bailee.labels import single

    return _file(single.png(_label_of(sample, asker), query.dpi), PNG)


@blueprint.get("/samples/<sample>/label.svg")
@operation("One sample label as a drawing", tag="paper", answers={200: SVG}, errors=(409,))
def sample_svg(sample: str, asker: Asker) -> Response:
    """In real millimeters."""
    from bailee.labels import single

    return Response(single.svg(_label_of(sample, asker)), content_type=SVG)


@blueprint.get("/envelopes/<envelope>/label.pdf")
@operation("The envelope's label", tag="paper", answers={200: PDF}, errors=(409,))
def envelope_pdf(envelope: str, asker: Asker) -> Response:
    """100 x 60 mm: QR code, counts, seal, when sealed; no address and no name, so that nobody takes it for a
    carrier's.
    """
    from bailee.labels import single

    return _file(single.envelope_pdf(_envelope_label(envelope, asker)), PDF)


@blueprint.get("/envelopes/<envelope>/label.png")
@operation(
    "The envelope's label for a label printer", tag="paper", query=PngQuery, answers={200: PNG}, errors=(409,)
)
def envelope_png(envelope: str, query: PngQuery, asker: Asker) -> Response:
    """One bit a dot, at whole printer dots."""
    from bailee.labels import single

    return _file(single.envelope_png(_envelope_label(envelope, asker), query.dpi), PNG)


@blueprint.get("/forms/<form>/record.pdf")
@operation("The custody record of a form", tag="paper", answers={200: PDF})
def record(form: str, asker: Asker) -> Response:
    """The paper that travels in the envelope, and stays in the file."""
    from bailee.documents import custody_record

    number = numbers.read(form, "form")
    with ledger().database.reading() as connection:
        found, judged = queries.form(ledger(), connection, asker.org, number)
    pdf = custody_record.pdf(
        found, judged.case, judged.findings, judged.verdicts, ledger().now(), parse_vkey(ledger().vkey)
    )
    return _file(pdf, PDF, f"custody-record-{number}.pdf")


@blueprint.get("/forms/<form>/samples.csv")
@operation("The samples of a form as a table", tag="paper", answers={200: CSV})
def samples_csv(form: str, asker: Asker) -> Response:
    """RFC 4180, one line a sample.

    Text that a spreadsheet would take for a formula has an apostrophe before it.
    """
    from bailee.documents import samples_csv as table

    number = numbers.read(form, "form")
    with ledger().database.reading() as connection:
        found, judged = queries.form(ledger(), connection, asker.org, number)
    return _file(table.write(found, judged.case).encode(), f"{CSV}; charset=utf-8", f"{number}.samples.csv")


@blueprint.get("/forms/<form>/epcis")
@operation("The events of a form for other systems", tag="paper", answers={200: JSON})
def epcis(form: str, asker: Asker) -> Response:
    """EPCIS 2.0 / CBV 2.0 in JSON-LD (ISO/IEC 19987, 19988), each event with the signed statement it stands
    for; nothing private.
    """
    from bailee.documents import epcis as events
    from bailee.labels import symbols

    number, address = numbers.read(form, "form"), ledger().settings.address
    with ledger().database.reading() as connection:
        found, _ = queries.form(ledger(), connection, asker.org, number)
        texts = export.statements(connection, found)
    names = events.Names(address, lambda each: symbols.qr_text(address, each))
    told = events.write(events.document(found, texts, names, ledger().clock()))
    return _file(told.encode(), JSON, f"{number}.epcis.jsonld")


class BundleQuery(Query):
    """Names of private fields to leave out, with commas between; `all` leaves out every one."""

    redact: Annotated[str, Field(max_length=500)] = ""


@blueprint.get("/forms/<form>/bundle")
@operation("The auditor's file", tag="paper", query=BundleQuery, answers={200: JSON}, errors=(503,))
def bundle(form: str, query: BundleQuery, asker: Asker) -> Response:
    """Everything an auditor needs to verify this form without network or account.

    What is left out is counted by the verifier.
    """
    from bailee.verify import bundle as bundles

    number = numbers.read(form, "form")
    here = ledger()
    with here.database.reading() as connection:
        visibility.require(connection, f"form/{number}", asker.org)  # before anything is done for a stranger
    here.sequencer.catch_up()
    with here.database.reading() as connection:
        here.guard.require(connection)  # what a frozen log has lost would be missing here without a word
        found, _ = queries.form(here, connection, asker.org, number)
        made = export.export(connection, here.books, found, asker.org, here.clock(), here.sign_ends)
        text = bundles.write(bundles.redacted(made, _names(query.redact, made)))
    return _file(text.encode(), JSON, f"{number}.bundle.json")


def _names(redact: str, made: Bundle) -> frozenset[str]:
    """The private fields to leave out.

    Raises `Malformed` for one that is not in the file: mistyped, it would stay in unnoticed.
    """
    names = frozenset(filter(None, (each.strip() for each in redact.split(","))))
    here = {disclosures.name_of(told) for each in made.entries for told in each.disclosures}
    if strange := sorted(names - here - {"all"}):
        raise Malformed(
            f"This file has no private field {', '.join(strange)}; it has"
            f" {', '.join(sorted(here)) or 'none'}. Nothing was made: write the names with commas between, or"
            " all.",
            code="no-such-field",
            fields=sorted(here),
        )
    return names


def _file(content: bytes, media: str, name: str | None = None) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'} if name else {}
    return Response(content, content_type=media, headers=headers)


def _label_of(sample: str, asker: Asker) -> Label:
    number = numbers.read(sample, "sample")
    with ledger().database.reading() as connection:
        told = queries.sample(ledger(), connection, asker.org, number)
    return _sample_label(number, told.lot)


def _sample_label(number: str, lot: Lot | None) -> Label:
    from bailee.labels import drawing, symbols

    lines = (f"Lot {lot.maker_lot}", f"Expires {lot.expires or words.NOT_STATED}") if lot else ()
    return drawing.Label(number, symbols.qr_text(ledger().settings.address, number), lines)


def _envelope_label(envelope: str, asker: Asker) -> Label:
    from bailee.labels import drawing, symbols

    number = numbers.read(envelope, "envelope")
    with ledger().database.reading() as connection:
        judged = queries.envelope(ledger(), connection, asker.org, number)
    return drawing.Label(
        number, symbols.qr_text(ledger().settings.address, number), _envelope_lines(number, judged)
    )


def _envelope_lines(number: str, judged: Judged) -> tuple[str, ...]:
    views = [form.envelopes[number] for form in judged.case.forms.values() if number in form.envelopes]
    newest = max(
        (view.sealing.body for view in views if view.sealing), key=lambda body: body.at, default=None
    )
    if newest is None:
        return ()
    bags = [n for view in views if view.taken_in and (n := view.taken_in.said.of(TakenIn).containers)]
    held = ", ".join((counted(newest.total, "cassette"), *(counted(n, "container") for n in bags[:1])))
    return held, f"Seal {newest.seal}", f"Sealed {clock(newest.at)}"
