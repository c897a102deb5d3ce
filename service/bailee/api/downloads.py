"""What is printed or taken away: the custody record, tables, the auditor's file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated

from flask import Blueprint, Response
from pydantic import Field

from bailee.api.asking import ledger
from bailee.api.layer import JSON, Query, operation
from bailee.asking import pen_sheet
from bailee.domain import numbers
from bailee.domain.acts.form import Opened
from bailee.domain.fields import TAG
from bailee.domain.moments import Moment
from bailee.errors import Malformed, Unknown
from bailee.ledger.checkpoint import parse_vkey
from bailee.operations import brief, export, queries, visibility
from bailee.operations.visibility import Asker
from bailee.presentation import blind_view, words
from bailee.presentation.form_view import FormView, form_view
from bailee.presentation.signature_words import when
from bailee.rules.registry import Finding
from bailee.signing import disclosures
from bailee.verify.bundle import Bundle

if TYPE_CHECKING:
    from bailee.documents.enclosed_record import Enclosing

blueprint = Blueprint("paper", __name__)

PDF = "application/pdf"
CSV = "text/csv"


class PrintQuery(Query):
    """`nth`: which print of this paper it is, as whoever prints counts; from 2 on the paper says so."""

    nth: Annotated[int, Field(ge=1, le=999)] = 1


class RecordQuery(PrintQuery):
    """To enclose: the envelope about to be sealed, its seal, bags or boxes if somebody counted them.

    `blind`: the copy for an analyst. `report`: what the laboratory states in its report.
    """

    envelope: Annotated[str, Field(max_length=40)] = ""
    seal: Annotated[str, Field(max_length=40)] = ""
    containers: Annotated[int | None, Field(ge=0, le=100_000)] = None
    blind: bool = False
    report: bool = False

    def enclosing(self) -> Enclosing | None:
        """What it is to lie in. Raises `Malformed` ("one-paper" where more than one paper is asked for)."""
        from bailee.documents.enclosed_record import Enclosing

        is_enclosed = bool(self.envelope or self.seal) or self.containers is not None
        if is_enclosed + self.blind + self.report > 1:
            raise Malformed(
                "Each is a paper of its own: ask for envelope with seal, for blind, or for report.",
                code="one-paper",
            )
        if not is_enclosed:
            return None
        envelope = numbers.read(self.envelope, "envelope")
        return Enclosing(envelope, numbers.read_seal(self.seal), self.containers)


@blueprint.get("/forms/<form>/record.pdf")
@operation("The custody record of a form", tag="paper", query=RecordQuery, answers={200: PDF}, errors=(409,))
def record(form: str, query: RecordQuery, asker: Asker) -> Response:
    """As it stands; or, with `envelope` and `seal`, the paper to enclose before that envelope is sealed.

    Refused when it is too late to enclose it, or the envelope or its seal is on record as another's.
    """
    from bailee.documents import custody_record, enclosed_record

    number, enclosing = numbers.read(form, "form"), query.enclosing()
    with ledger().database.reading() as connection:
        found, judged = queries.form(ledger(), connection, asker.org, number)
        if enclosing:
            into = asker.org, enclosing.envelope, enclosing.seal
            enclosed_record.require_unused(
                number, enclosing, *queries.used_before(ledger(), connection, *into)
            )
    if query.blind:
        return _blind(form_view(found, judged.case), query.nth)
    if query.report:
        return _for_report(form_view(found, judged.case, judged.findings), judged.findings)
    pdf = custody_record.pdf(
        found,
        judged.case,
        judged.findings,
        judged.verdicts,
        ledger().now(),
        parse_vkey(ledger().vkey),
        enclosing,
        nth=query.nth,
    )
    return file_answer(pdf, PDF, f"custody-record-{number}.pdf")


def _blind(form: FormView, nth: int) -> Response:
    from bailee.documents import blind_copy

    log = parse_vkey(ledger().vkey).name
    pdf = blind_copy.pdf(blind_view.blind_copy(form), ledger().now(), log, nth=nth)
    return file_answer(pdf, PDF, f"blind-copy-{form.number}.pdf")


def _for_report(form: FormView, findings: Sequence[Finding]) -> Response:
    from bailee.documents import for_report

    pdf = for_report.pdf(form, findings, ledger().now(), parse_vkey(ledger().vkey).name)
    return file_answer(pdf, PDF, f"for-report-{form.number}.pdf")


class PagesQuery(PrintQuery):
    """How many pages: six cassettes each."""

    pages: Annotated[int, Field(ge=1, le=20)] = 1


@blueprint.get("/forms/<form>/pen-form.pdf")
@operation("The sheet of a form, to go on by pen", tag="paper", query=PagesQuery, answers={200: PDF})
def pen_form(form: str, query: PagesQuery, asker: Asker) -> Response:
    """What is on record of the visit and of the cassettes that the asker carries stands on it."""
    from bailee.documents import pen_form as sheet

    number = numbers.read(form, "form")
    with ledger().database.reading() as connection:
        found, judged = queries.form(ledger(), connection, asker.org, number)
        lots = brief.carried(ledger(), connection, asker, found.opened.of(Opened).visit)
    parties = found.opened.of(Opened).parties
    names = {
        column: judged.case.organizations[org].name
        for column, org in (("firm", parties.firm), ("lab", parties.lab))
        if org in judged.case.organizations
    }
    opened = found.opened.of(Opened)
    reprint = words.reprint(query.nth, when(Moment.shown_in(ledger().now().instant, opened.zone)))
    known = pen_sheet.filled(opened) | sheet.kit(lots, opened.visit)
    return _sheets([number], query.pages, known, names, reprint)


class BlankSheetsQuery(Query):
    """New form numbers with commas between, each on a sheet of its own."""

    forms: Annotated[str, Field(min_length=12, max_length=2_000)]


@blueprint.get("/pen-forms.pdf")
@operation(
    "Sheets of new forms, to be filled in by pen", tag="paper", query=BlankSheetsQuery, answers={200: PDF}
)
def pen_forms(query: BlankSheetsQuery, asker: Asker) -> Response:  # noqa: ARG001 - who is known may print
    """Nothing is looked up, and nothing recorded: a form begins when its sheet is entered."""
    return _sheets([numbers.read(each, "form") for each in query.forms.split(",")], 1, {}, {})


def _sheets(
    forms: Sequence[str], pages: int, filled: Mapping[str, str], names: Mapping[str, str], reprint: str = ""
) -> Response:
    from bailee.documents import pen_form as sheet
    from bailee.labels import symbols

    address = ledger().settings.address
    demo = words.demo_in_latin(parse_vkey(ledger().vkey).name)
    drawn = [
        sheet.PenSheet(form, symbols.qr_text(address, form), page, pages, filled, names, reprint, demo)
        for form in forms
        for page in range(1, pages + 1)
    ]
    name = f"pen-form-{forms[0]}.pdf" if len(forms) == 1 else "pen-forms.pdf"
    return file_answer(sheet.pdf(drawn, ledger().clock()), PDF, name)


@blueprint.get("/envelopes/<envelope>/sealed-sheet.pdf")
@operation(
    "The sheet outside a sealed envelope, for its dock",
    tag="paper",
    query=PrintQuery,
    answers={200: PDF},
    errors=(409,),
)
def sealed_sheet(envelope: str, query: PrintQuery, asker: Asker) -> Response:
    """What was sealed, and room for what the dock finds; no client and no site."""
    from bailee.documents import sealed_sheet as sheet

    number = numbers.read(envelope, "envelope")
    with ledger().database.reading() as connection:
        judged = queries.envelope(ledger(), connection, asker.org, number)
    log = parse_vkey(ledger().vkey).name
    pdf = sheet.pdf(number, judged.case, ledger().now(), log, nth=query.nth)
    return file_answer(pdf, PDF, f"sealed-sheet-{number}.pdf")


class SlipQuery(PrintQuery):
    """The number of the slip, and the firm's telephone number, which is printed and kept nowhere."""

    slip: Annotated[str, Field(pattern=f"^{TAG}$")]
    telephone: Annotated[str, Field(max_length=40)] = ""


@blueprint.get("/envelopes/<envelope>/receipt-slip.pdf")
@operation(
    "The slip that a person signs who carries an envelope by hand",
    tag="paper",
    query=SlipQuery,
    answers={200: PDF},
    errors=(409,),
)
def receipt_slip(envelope: str, query: SlipQuery, asker: Asker) -> Response:
    """Two copies on a page: taken in ink, delivered in ink; no client and no site."""
    from bailee.documents import receipt_slip as slip

    number = numbers.read(envelope, "envelope")
    with ledger().database.reading() as connection:
        judged = queries.envelope(ledger(), connection, asker.org, number)
    log = parse_vkey(ledger().vkey).name
    pdf = slip.pdf(number, judged.case, ledger().now(), query.slip, query.telephone, log, nth=query.nth)
    return file_answer(pdf, PDF, f"receipt-slip-{number}.pdf")


@blueprint.get("/organizations/<org>/key-card.pdf")
@operation("The key card of an organization, for a letter to its auditor", tag="paper", answers={200: PDF})
def key_card(org: str, asker: Asker) -> Response:
    """85 x 120 mm: root key and the log's key, as lines to type and as QR codes.

    For those who may see the organization's keys.
    """
    from bailee.documents import key_card as card

    with ledger().database.reading() as connection:
        found = ledger().books.organization(connection, org)
        if found is None or not visibility.knows(ledger(), connection, asker, org):
            raise Unknown(
                f"No keys of {org!r} are shown to you: its own people print its key card.", organization=org
            )
    pdf = card.pdf(found.id, found.root, parse_vkey(ledger().vkey), ledger().now(), found.name)
    return file_answer(pdf, PDF, f"key-card-{found.id}.pdf")


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
    return file_answer(
        table.write(found, judged.case).encode(), f"{CSV}; charset=utf-8", f"{number}.samples.csv"
    )


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
    return file_answer(told.encode(), JSON, f"{number}.epcis.jsonld")


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
    return file_answer(text.encode(), JSON, f"{number}.bundle.json")


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


def file_answer(content: bytes, media: str, name: str | None = None) -> Response:
    """Content as it is; under `name` it is saved, without one it is shown."""
    headers = {"Content-Disposition": f'attachment; filename="{name}"'} if name else {}
    return Response(content, content_type=media, headers=headers)
