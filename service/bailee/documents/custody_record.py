"""The custody record of one form: the paper that travels in the envelope, and that is read in a dispute.

It shows what the statements say and nothing else. Each signature appears with printed name, date and time, and meaning (21 CFR
11.50). A private field that is not disclosed is printed as withheld, never left out in silence. Accessible reading is the
page of the form; this is paper.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bailee.documents import hand_overs, printed, record_acts, record_findings, sample_table, signature_blocks
from bailee.documents.hand_overs import HandOver
from bailee.documents.letter import INNER, MARGIN, SMALL, WIDTH, Cell, Column, Letter, Line
from bailee.documents.signature_blocks import Signature
from bailee.domain.acts.form import Opened, Received, Sealed, Shipped, Unsealed
from bailee.domain.custody import Envelope, Form
from bailee.domain.moments import Moment, duration_words
from bailee.domain.numbers import grouped
from bailee.ledger import fingerprint
from bailee.ledger.base64url import unb64u
from bailee.ledger.checkpoint import VerifierKey
from bailee.rules import wording
from bailee.rules.case import Case
from bailee.rules.registry import Finding
from bailee.rules.verdicts import Verdict

FOOT: Final = "This record shows what was said, by whose key and when. It is not a health finding."
_HAND_OVERS: Final = (
    Column("", 7),
    Column("Relinquished by", 58),
    Column("Received by", 58),
    Column("Samples, purpose, how secured", INNER - 123),
)


def pdf(
    form: Form,
    case: Case,
    findings: Sequence[Finding],
    verdicts: Sequence[Verdict],
    at: Moment,
    log: VerifierKey | None = None,
) -> bytes:
    """The record as a PDF on letter paper, as it stood at `at`; `log` is the log's name and key. The same input gives the same bytes."""
    number = grouped(form.number)
    letter = Letter(f"Custody record {number}", f"Custody record {number}, continued", FOOT, at.instant)
    _head(letter, form, at)
    if log and printed.is_demo(log.name):
        letter.box(Line(printed.DEMO, bold=True))
    _visit(letter, form, case)
    record_findings.at_a_glance(letter, findings)
    _samples(letter, form, case)
    _custody(letter, form, case)
    for envelope in form.envelopes.values():
        _envelope(letter, envelope, case)
    record_acts.other_acts(letter, form, case)
    record_acts.corrections(letter, form, case)
    record_findings.qualifications(letter, form, findings)
    record_findings.list_findings(letter, findings)
    record_findings.list_verdicts(letter, verdicts)
    record_acts.private(letter, form)
    record_acts.signers(letter, form, case)
    _seal_of_the_log(letter, form, log.name if log else None)
    _keys(letter, form, case, log)
    return letter.file()


def _head(letter: Letter, form: Form, at: Moment) -> None:
    from bailee.labels import symbols

    side = 21.0
    top = letter.y
    letter.say(MARGIN, top + 4.2, Line("CUSTODY RECORD", soft=True, size=9))
    letter.say(MARGIN, top + 13.2, Line(grouped(form.number), bold=True, size=24))
    opened = form.opened.of(Opened)
    letter.say(
        MARGIN, top + 19.6, Line(f"Visit of {wording.day(opened.visit)}, clocks of {opened.zone}", size=9.5)
    )
    letter.qr(symbols.qr(form.number), WIDTH - MARGIN - side, top + 0.5, side)
    printed = f"As it stood {signature_blocks.when(at)}"
    letter.say(WIDTH - MARGIN - side - 62, top + 4.2, Line(printed, soft=True, size=SMALL))
    letter.y = top + side + 2.2


def _visit(letter: Letter, form: Form, case: Case) -> None:
    opened = form.opened.of(Opened)
    signed = signature_blocks.signature(case, form.opened.entry)
    tags = (opened.method, opened.project, opened.analysis, opened.turnaround)
    method, project, analysis, turnaround = (tag or "not stated" for tag in tags)
    letter.fields(
        4,
        [
            ("Firm", [Line(printed.organization(case, opened.parties.firm))]),
            ("Laboratory", [Line(printed.organization(case, opened.parties.lab))]),
            ("Project, method", [Line(f"{project}, {method}")]),
            ("Analysis, turnaround", [Line(f"{analysis}, {turnaround}")]),
            ("Client", [Line(printed.private(form, "client"))]),
            ("Site", [Line(printed.private(form, "site"))]),
            ("Contact", [Line(printed.private(form, "contact"))]),
            ("Found on arrival", [Line(", ".join(printed.arrival(opened)))]),
        ],
    )
    letter.paragraph(Line(f"Opened by {printed.in_one_line(signed)}"))


def _samples(letter: Letter, form: Form, case: Case) -> None:
    live = len(list(form.live))
    letter.heading("Samples", f"{live} collected and not voided")
    if form.samples:
        letter.table(sample_table.COLUMNS, sample_table.rows(form, case))
    else:
        letter.paragraph(Line("No sample was collected."))


def _custody(letter: Letter, form: Form, case: Case) -> None:
    rows = hand_overs.hand_overs(form, case)
    if not rows:
        return
    letter.heading("Chain of custody", "each signature: printed name, date and time, meaning (21 CFR 11.50)")
    everything = {sample.number for sample in form.live}
    letter.table(
        _HAND_OVERS,
        [
            [
                [Line(str(n), bold=True)],
                _side(row.given),
                _side(row.taken),
                [Line(words) for words in _about(row, everything)],
            ]
            for n, row in enumerate(rows, 1)
        ],
    )


def _side(side: Signature | str) -> Cell:
    return [Line(side, soft=True)] if isinstance(side, str) else printed.signed_by(side)


def _about(row: HandOver, everything: set[str]) -> Iterator[str]:
    named = set(row.samples)
    if named == everything and len(named) > 1:
        which = f"All {len(named)} samples"
    else:
        which = f"{len(row.samples)} of {len(everything)}: {', '.join(map(grouped, row.samples))}"
    if row.step == "collected":
        yield f"{which}."
    else:
        yield f"{which}. {row.step.capitalize()}{_other_time(row)}. Purpose: {row.purpose}."
    if row.gap is not None and row.gap.total_seconds():
        yield f"{duration_words(row.gap)} from given to received."
    for words in row.kept:
        yield f"Kept {words}."
    if not row.kept and row.step != "not yet received":
        yield "How it was kept is not stated."


def _other_time(row: HandOver) -> str:
    """When it happened, if that is neither time of signing."""
    signed = [side.signed for side in (row.given, row.taken) if isinstance(side, Signature)]
    return "" if row.at in signed else f" {signature_blocks.when(row.at)}"


def _envelope(letter: Letter, envelope: Envelope, case: Case) -> None:
    letter.heading(f"Envelope {grouped(envelope.number)}", keep=24)
    for sealing in envelope.sealings:
        body, signed = sealing.body, signature_blocks.signature(case, sealing.said.entry)
        letter.fields(3, [*_sealed(body), ("Sealed by", printed.signed_by(signed))])
        if sealing.opened:
            opened = sealing.opened.of(Unsealed)
            by = signature_blocks.signature(case, sealing.opened.entry)
            letter.paragraph(
                Line(
                    f"Seal {printed.seal(opened.seal)} was opened {signature_blocks.when(opened.at)} by {by.name}: {printed.plain(opened.reason)}."
                )
            )
    if envelope.shipped:
        letter.fields(4, list(_shipped(envelope.shipped.of(Shipped))))
    for arrival_ in envelope.arrivals:
        letter.fields(4, list(_arrived(arrival_.said.of(Received))))


def _sealed(body: Sealed) -> list[tuple[str, Cell]]:
    whole = f", {body.total} in the envelope" if body.total != body.count else ""
    how = "across the opening" if body.across_opening else "not across the opening"
    record = "record enclosed" if body.record_enclosed else "record not enclosed"
    return [
        ("Seal number", [Line(printed.seal(body.seal), bold=True)]),
        ("Count, and how", [Line(f"{body.count} of this form{whole}", bold=True), Line(f"{how}, {record}")]),
    ]


def _shipped(body: Shipped) -> Iterator[tuple[str, Cell]]:
    saturday = ", Saturday delivery" if body.saturday else ""
    yield "Carrier", [Line(body.carrier), Line(f"{body.service}{saturday}")]
    yield "Tracking number", [Line(body.tracking or ("carried by hand" if body.by_hand else "none"))]
    yield "Handed over", [Line(signature_blocks.when(body.handed_over))]
    yield "Expected at the dock", [Line(printed.moment_or_not(body.expected_receipt))]


def _arrived(body: Received) -> Iterator[tuple[str, Cell]]:
    dock = body.dock
    assert dock
    yield (
        "Seal as read at the dock",
        [Line(printed.seal(dock.seal) if dock.seal else "none"), Line(printed.plain(dock.seal_state))],
    )
    extra = f"; not named on any form: {', '.join(dock.extra)}" if dock.extra else ""
    yield "Counted at the dock", [Line(f"{body.count} of this form, {dock.total} in all{extra}")]
    yield "Package", [Line(", ".join(map(printed.plain, dock.package)))]
    yield (
        "Delivered; opened",
        [Line(printed.moment_or_not(dock.delivered)), Line(signature_blocks.when(body.at))],
    )


def _seal_of_the_log(letter: Letter, form: Form, origin: str | None) -> None:
    newest = max(form.entries, key=lambda entry: entry.n)
    letter.heading("To compare with the log", f"form {grouped(form.number)}, entry {newest.n}", keep=10)
    letter.paragraph(
        Line(fingerprint.fingerprint(newest.leaf), bold=True, size=9.5),
        Line(
            "Leaf hash of the newest entry, Crockford base32. Log: " + (origin or "see the bundle") + ". "
            "Who compares by eye compares at least the first 26 characters.",
            soft=True,
            size=SMALL,
        ),
    )


def _keys(letter: Letter, form: Form, case: Case, log: VerifierKey | None) -> None:
    """What an auditor types, so that a wrong letter is told with its line. Good only where the paper came apart from the file."""
    parties = form.opened.of(Opened).parties
    keys = {
        f"Root key of {org}": unb64u(case.organizations[org].root)
        for org in dict.fromkeys((parties.firm, parties.lab))
        if org in case.organizations
    }
    if log:
        keys[f"Key of the log {log.name}"] = log.public
    if keys:
        letter.heading("Keys to check an auditor's file with", "as `bailee verify` asks for them", keep=28)
        letter.fields(
            3,
            [
                (title, [Line(line, size=SMALL) for line in fingerprint.lines(key)])
                for title, key in keys.items()
            ],
        )
