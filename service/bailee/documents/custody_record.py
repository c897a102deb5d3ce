"""The custody record of one form: the paper that is read in a dispute, and one without verdicts to enclose.

It shows what the statements say and nothing else. Each signature appears with printed name, date and time,
and meaning (21 CFR 11.50). A private field that is not disclosed is printed as withheld, never left out in
silence. Accessible reading is the page of the form; this is paper.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from typing import Final

from bailee.documents import dock_block, enclosed_record, pen, record_sections, sample_table
from bailee.documents.enclosed_record import Enclosing
from bailee.documents.letter import INNER, MARGIN, SMALL, WIDTH, Cell, Column, Letter, Line
from bailee.documents.one_clock import place
from bailee.domain.acts.form import Opened
from bailee.domain.custody import Form
from bailee.domain.moments import Moment, duration_words
from bailee.domain.numbers import grouped
from bailee.domain.requests import Order
from bailee.ledger import fingerprint
from bailee.ledger.base64url import unb64u
from bailee.ledger.checkpoint import VerifierKey
from bailee.presentation import custody_drawing, custody_line, request_words, words
from bailee.presentation.custody_line import CustodyLine
from bailee.presentation.envelope_view import EnvelopeView, arrival_facts, taken_in_facts
from bailee.presentation.form_view import FormView, form_view
from bailee.presentation.hand_overs import HandOver
from bailee.presentation.signature_words import Signature, when
from bailee.presentation.state_words import is_loud
from bailee.presentation.words import Heading
from bailee.rules import wording
from bailee.rules.case import Case
from bailee.rules.registry import Finding
from bailee.rules.verdicts import Verdict

FOOT: Final = "This record shows what was signed, by whose key and when. It is not a health finding."
_DOCK_ROW: Final = 7.6
"""Millimeters of a line on which a dock writes."""
_UNITS: Final = 740
"""Width of the line of time: its smallest words are then of 8 points."""
_BESIDE: Final = 4
"""Answers of a visit beside one another; the license has a line of its own where that row is full."""
_COLLECTED_BY: Final = "Collected by"
_HAND_OVERS: Final = (
    Column("", 7),
    Column(Heading.RELINQUISHED, 58),
    Column(Heading.RECEIVED_BY, 58),
    Column("Samples, purpose, how secured", INNER - 123),
)


def pdf(
    form: Form,
    case: Case,
    findings: Sequence[Finding],
    verdicts: Sequence[Verdict],
    at: Moment,
    log: VerifierKey | None = None,
    enclosing: Enclosing | None = None,
    *,
    nth: int = 1,
) -> bytes:
    """The record as a PDF on letter paper, as it stood at `at`; `log` is the log's name and key.

    With `enclosing` it is the one that goes into that envelope, before it is sealed: without verdicts.
    `nth`: which print of this paper it is. The same input gives the same bytes. Raises `Refused` when it is
    too late to enclose it.
    """
    view = form_view(form, case, findings)
    if enclosing:
        enclosed_record.require_time(view, enclosing)
    stops = [each for each in findings if each.severity == "block"]
    number = grouped(form.number)
    running, zone = f"Chain-of-custody record {number}, continued", form.opened.of(Opened).zone
    letter = Letter(f"Chain-of-custody record {number}", running, FOOT, at.instant, zone)
    _head(letter, form, at, [enclosing.envelope] if enclosing else list(form.envelopes))
    if log and words.demo(log.name):
        letter.box(Line(words.demo(log.name), bold=True))
    pen.mark_reprint(letter, nth, Moment.shown_in(at.instant, zone))
    if enclosing:
        enclosed_record.to_be_sealed(letter, view, enclosing, stops)
    _visit(letter, view, is_enclosed=bool(enclosing))
    record_sections.at_a_glance(letter, view, findings)
    _samples(letter, view)
    if enclosing:
        enclosed_record.collectors(letter, view)
    lines = [] if enclosing else custody_line.custody_lines(view.samples, custody_line.bounds_of(form))
    _custody(letter, view, lines, is_closing=bool(enclosing and not stops), is_enclosed=bool(enclosing))
    if enclosing:
        dock_block.on_the_record(letter, _DOCK_ROW, surfaces=enclosed_record.surfaces(view))
    for envelope in view.envelopes:
        _envelope(letter, envelope)
    record_sections.other_acts(letter, form, case)
    record_sections.list_corrections(letter, form, case)
    record_sections.qualifications(letter, view)
    record_sections.list_findings(letter, form, findings, judged=not enclosing)
    if not enclosing:
        record_sections.list_verdicts(letter, verdicts)
    record_sections.private(letter, form)
    record_sections.signers(letter, form, case)
    _seal_of_the_log(letter, form, log.name if log else None)
    _keys(letter, form, case, log)
    return letter.file()


def _head(letter: Letter, form: Form, at: Moment, envelopes: Sequence[str]) -> None:
    from bailee.labels import symbols

    side = 21.0
    top = letter.y
    letter.say(MARGIN, top + 4.2, Line("CHAIN-OF-CUSTODY RECORD", bold=True, size=9))
    letter.say(MARGIN, top + 13.2, Line(grouped(form.number), bold=True, size=24))
    opened = form.opened.of(Opened)
    visit = f"Visit of {wording.day(opened.visit)}; {words.local_time(place(opened.zone))}"
    letter.say(MARGIN, top + 19.6, Line(visit, size=9))
    letter.qr(symbols.qr(form.number), WIDTH - MARGIN - side, top + 0.5, side)
    printed = f"As it stood {wording.clock_at(at.instant, Moment.shown_in(at.instant, opened.zone))}"
    beside = WIDTH - MARGIN - side - 62
    letter.say(beside, top + 4.2, Line(printed, soft=True, size=SMALL))
    if len(envelopes) == 1:  # two would not stand side by side, and a scanner takes the first it sees
        (envelope,) = envelopes
        letter.bars(symbols.code128(envelope), beside, top + 6, 10.5)
        letter.say(beside, top + 19.6, Line(f"Envelope {grouped(envelope)}", size=SMALL))
    letter.y = top + side + 2.2


def _visit(letter: Letter, form: FormView, *, is_enclosed: bool) -> None:
    """What the visit was opened with; on the paper to enclose, lines for what is not on record of it."""
    tags, private = form.tags, dict(form.private)
    open_lines = enclosed_record.not_on_record(form) if is_enclosed else ()
    told = [
        (Heading.FIRM, [Line(form.firm)]),
        (Heading.LABORATORY, [Line(form.lab)]),
        *((words.TAGS[name], [Line(tags[name])]) for name in ("project", "method")),
        *((name, [Line(private[name])]) for name in ("Client", "Site", "Contact")),
        (Heading.REQUEST, [Line(form.request)]),
    ]
    told = [each for each in told if each[0] not in open_lines]
    beside = [(Heading.LICENSE, list(map(Line, form.license)))] if len(told) % _BESIDE else []
    letter.fields(_BESIDE, [*told, *beside])
    enclosed_record.to_write_in(letter, open_lines)
    if not beside:
        letter.fields(1, [(Heading.LICENSE, [Line("; ".join(form.license))])])
    letter.fields(1, [(Heading.BUILDING, [Line(form.building)])])
    if more := _requested(form):
        letter.fields(1, [(Heading.REQUESTED, list(map(Line, more)))])
    if form.on_site:
        letter.fields(1, [(Heading.CONDITIONS, list(map(Line, form.on_site)))])
    letter.paragraph(Line(f"Opened by {record_sections.in_one_line(form.opened_by)}"))


def _requested(form: FormView) -> Sequence[str]:
    """What is asked for besides what stands at the head already."""
    asked = {each.requested for each in form.live}
    if len(asked) != 1:
        return form.requests
    (order,) = asked
    more = replace(order, analysis=None, turnaround=None)
    return [request_words.said(more)] if more != Order() else []


def _counted(form: FormView) -> str:
    of_air = sum(each.medium is None for each in form.live)
    if of_air in (0, len(form.live)):
        return str(len(form.live))
    others = len(form.live) - of_air
    return f"{wording.counted(of_air, 'air sample')} and {wording.counted(others, 'surface sample')}"


def _samples(letter: Letter, form: FormView) -> None:
    letter.heading("Samples", f"{_counted(form)} collected, not void")
    if form.samples:
        letter.table(sample_table.columns(form), sample_table.rows(form))
        if any(each.corrected for each in form.samples):
            letter.paragraph(Line(sample_table.CORRECTED, size=SMALL))
    else:
        letter.paragraph(Line(words.NOTHING_COLLECTED))


def _custody(
    letter: Letter, form: FormView, lines: Sequence[CustodyLine], *, is_closing: bool, is_enclosed: bool
) -> None:
    """`is_closing`: the envelope is about to be sealed, and nothing forbids it."""
    if not form.hand_overs:
        return
    sealing = {each.holders[-1].entry.n for each in enclosed_record.in_hand(form)} if is_closing else set()
    letter.heading(Heading.CUSTODY, "each signature: printed name, date and time, meaning", keep=42)
    letter.table(
        _HAND_OVERS,
        [
            [
                [Line(str(n), bold=True)],
                _side(row.given),
                [*([Line(_COLLECTED_BY)] if row.step == "collected" else []), *_side(row.taken)],
                [Line(said) for said in _about(form, row, sealing)],
            ]
            for n, row in enumerate(form.hand_overs, 1)
        ],
    )
    if form.now and not is_enclosed:
        letter.space(0.8)
        letter.paragraph(*(Line(f"{words.NOW}: {said}", bold=True) for said in form.now))
    _lines_of_time(letter, lines)
    pen.section_of_hands(letter, "beside the signatures of the ledger, above")


def _lines_of_time(letter: Letter, lines: Sequence[CustodyLine]) -> None:
    """The same drawn, a line for all samples that went together; each is kept on one page."""
    samples = [each for line in lines for each in line.samples]
    for n, line in enumerate(lines[: custody_line.MOST_LINES]):
        drawn = custody_drawing.drawing(line, _UNITS, legend=n == 0)
        letter.need(drawn.height * INNER / _UNITS + 12)
        letter.space(1)
        letter.paragraph(
            Line(
                f"{line.title}: {line.named}" if 1 < len(line.samples) < len(samples) else line.title,
                bold=True,
            )
        )
        letter.draw(drawn)
    if (left := len(lines) - custody_line.MOST_LINES) > 0:
        letter.paragraph(Line(f"{left} more ways are not drawn; the rows above have them.", soft=True))


def _side(side: Signature | str) -> Cell:
    return [Line(side, soft=True)] if isinstance(side, str) else record_sections.signed_by(side)


def _about(form: FormView, row: HandOver, sealing: Collection[int]) -> Iterator[str]:
    """What moved, why, how it was counted and secured; `sealing` are the entries of those who hold what is
    being sealed.
    """
    step = f" {row.words.capitalize()}{_other_time(row)}." if row.step != "collected" else ""
    yield f"{form.moved(row)}.{step}"
    if row.purpose:
        yield f"{Heading.PURPOSE}: {row.purpose}."
    if row.counted:
        yield f"{row.counted.capitalize()}."
    if row.gap is not None and row.gap.total_seconds():
        yield words.gap(duration_words(row.gap))
    is_last = isinstance(row.taken, Signature) and set(row.taken.entries) <= set(sealing)
    for said in (words.secured(words.BEING_SEALED),) if is_last and not row.kept else row.secured:
        yield said if said.endswith(".") else f"{said}."


def _other_time(row: HandOver) -> str:
    """When it happened, if that is neither time of signing."""
    signed = [side.signed for side in (row.given, row.taken) if isinstance(side, Signature)]
    return "" if row.at in signed else f" {when(row.at)}"


def _envelope(letter: Letter, envelope: EnvelopeView) -> None:
    letter.heading(f"Envelope {grouped(envelope.number)}", keep=24)
    for each in envelope.sealings:
        count, how = each.count
        letter.fields(
            3,
            [
                (Heading.SEAL, [Line(words.number(each.body.seal), bold=True)]),
                (Heading.COUNT, [Line(count, bold=True), Line(how)]),
                ("Sealed by", record_sections.signed_by(each.by)),
            ],
        )
        if each.opening:
            letter.paragraph(Line(each.opening))
    arrivals = (taken_in_facts(envelope.taken_in), *map(arrival_facts, envelope.arrivals))
    for facts in (envelope.way, *arrivals):
        if facts:
            letter.fields(
                4,
                [(label, [Line(said, bold=is_loud(said)) for said in lines]) for label, lines in facts],
            )


def _seal_of_the_log(letter: Letter, form: Form, origin: str | None) -> None:
    newest = max(form.entries, key=lambda entry: entry.n)
    letter.heading("To compare with the log", f"form {grouped(form.number)}, entry {newest.n}", keep=10)
    letter.paragraph(
        Line(fingerprint.fingerprint(newest.leaf), bold=True, size=9.5),
        Line(
            "Leaf hash of the newest entry, Crockford base32. Log: "
            + (origin or "see the auditor's file")
            + f". Compare it by `bailee verify --printed {newest.n}=HASH`; by eye, at least the first 26"
            " characters.",
            soft=True,
            size=SMALL,
        ),
    )


def _keys(letter: Letter, form: Form, case: Case, log: VerifierKey | None) -> None:
    """What an auditor types, so that a wrong letter is told with its line.

    Good only where the paper came apart from the file.
    """
    parties = form.opened.of(Opened).parties
    keys = {
        f"Root key of {org}": (org, unb64u(case.organizations[org].root))
        for org in dict.fromkeys((parties.firm, parties.lab))
        if org in case.organizations
    }
    if log:
        keys[f"Key of the log {log.name}"] = (log.name, log.public)
    if keys:
        letter.heading("Keys to check an auditor's file with", "as `bailee verify` asks for them", keep=28)
        letter.fields(
            3,
            [
                (title, [Line(line, size=SMALL) for line in (f"{name}=", *fingerprint.lines(key))])
                for title, (name, key) in keys.items()
            ],
        )
