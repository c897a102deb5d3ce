"""What a laboratory's report has to say of sampling and receipt, in one place, by letters of the standard.

ISO/IEC 17025:2017 7.8.2.1 e, f, g, h, k and n; the other letters are the laboratory's own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from bailee.documents.letter import INNER, Cell, Column, Letter, Line
from bailee.documents.one_clock import place
from bailee.documents.record_sections import for_results
from bailee.documents.sample_table import parted
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.presentation.envelope_view import arrival_facts
from bailee.presentation.form_view import FormView
from bailee.presentation.sample_view import SampleView
from bailee.presentation.signature_words import when
from bailee.presentation.words import NONE, NOT_RECORDED, Heading
from bailee.rules import wording
from bailee.rules.registry import Finding

FOOT: Final = "For the laboratory to take into its report. It shows what was signed, and states no result."
CLAUSES: Final = {
    "e": "Customer",
    "f": "Method of analysis",
    "g": "Items: description, identification, condition",
    "h": "Dates of sampling and of receipt",
    "k": "Sampling plan and method",
    "n": "Additions, deviations, exclusions",
}
"""Of ISO/IEC 17025:2017 7.8.2.1, in our words."""
_ITEMS: Final = (
    Column("Sample, laboratory's number", 33),
    Column("Description", 38),
    Column(Heading.WHERE, 45),
    Column(Heading.VOLUME, 36),
    Column("State, condition on receipt", INNER - 152),
)
_AMOUNT: Final = f"{Heading.VOLUME}; {Heading.AMOUNT.lower()}"
_DATES: Final = (
    Column(Heading.SAMPLE, 33),
    Column("Sampled", 45),
    Column("Run", 25),
    Column("Received by the laboratory", INNER - 103),
)
_ON_RECEIPT: Final = (
    Heading.SEAL_READ,
    Heading.COUNTED,
    Heading.PACKAGE,
    Heading.CONTAINERS,
    Heading.TEMPERATURE,
)
_ON_RESULTS: Final = ("media", "comparison")
"""Areas whose notes, too, bear on a result: how it was drawn, and with what it is compared."""


def pdf(form: FormView, findings: Sequence[Finding], at: Moment, log: str = "") -> bytes:
    """The page as a PDF on letter paper, as it stood at `at`; `log` is the log's name.

    The same input gives the same bytes.
    """
    number = grouped(form.number)
    title = f"For the report on {number}"
    letter = Letter(title, f"{title}, continued", FOOT, at.instant, form.zone)
    letter.paragraph(
        Line("FOR THE REPORT (ISO/IEC 17025:2017 7.8.2.1)", soft=True, size=9),
        Line(f"Form {number}", bold=True, size=16),
        Line(
            f"As it stood {wording.clock_at(at.instant, Moment.shown_in(at.instant, form.zone))};"
            f" {words.local_time(place(form.zone))}"
        ),
    )
    letter.space(1.5)
    if demo := words.demo(log):
        letter.box(Line(demo, bold=True))
    private = dict(form.private)
    _clause(letter, "e")
    letter.fields(
        4,
        [
            (Heading.FIRM, [Line(form.firm)]),
            *((name, [Line(private[name])]) for name in ("Client", "Contact", "Site")),
        ],
    )
    _clause(letter, "f")
    letter.paragraph(*map(Line, _analyses(form)))
    _clause(letter, "g")
    letter.table(_items(form), [_item(each) for each in form.live])
    letter.space(0.8)
    letter.paragraph(*map(Line, _as_received(form)))
    _clause(letter, "h")
    letter.table(_DATES, [_dates(form, each) for each in form.live])
    _clause(letter, "k")
    letter.paragraph(*map(Line, _sampling(form)))
    _clause(letter, "n")
    for said in _deviations(form, findings):
        letter.paragraph(Line(said))
        letter.space(0.8)
    return letter.file()


def _clause(letter: Letter, letters: str) -> None:
    letter.heading(f"{letters})  {CLAUSES[letters]}", keep=18)


def _items(form: FormView) -> Sequence[Column]:
    """Where something is of a surface, area and mass are spoken of too."""
    if not any(each.surface for each in form.live):
        return _ITEMS
    return [replace(each, title=_AMOUNT) if each.title == Heading.VOLUME else each for each in _ITEMS]


def _item(sample: SampleView) -> list[Cell]:
    serial = sample.collected.serial if sample.collected else None
    lot = f"lot {sample.lot.maker_lot}" if sample.lot else ""
    expires = f"{'EXPIRED' if sample.is_expired else 'expires'} {sample.expiration}" if _dated(sample) else ""
    told = (sample.kind, sample.cassette, lot, expires, f"serial {serial}" if serial else "")
    return [
        [Line(grouped(sample.number), bold=True), *([Line(sample.lab_number)] if sample.lab_number else [])],
        [Line(said) for said in told if said],
        parted(sample.where),
        [Line(sample.drawn)],
        [Line(said) for said in dict.fromkeys((sample.state, sample.condition_words)) if said],
    ]


def _dated(sample: SampleView) -> bool:
    return bool(sample.lot and sample.lot.expires)


def _analyses(form: FormView) -> Iterator[str]:
    """Which analysis is asked for; turnaround and due date, priority and orders are no matter of a method."""
    alike: dict[str, list[str]] = {}
    for each in form.live:
        alike.setdefault(each.requested.analysis or NOT_RECORDED, []).append(each.number)
    if len(alike) < 2:
        yield f"Analysis asked for: {form.tags['analysis']}"
        return
    for analysis, numbers in alike.items():
        yield f"Analysis asked for, {wording.samples(numbers)}: {analysis}"


def _as_received(form: FormView) -> Iterator[str]:
    """In what condition envelopes came: seal as read, package, containers, temperature."""
    for envelope in form.envelopes:
        for body in envelope.arrivals:
            told = [
                f"{label.lower()} {', '.join(lines)}"
                for label, lines in arrival_facts(body)
                if label in _ON_RECEIPT
            ]
            yield f"Envelope {grouped(envelope.number)}: {'; '.join(told)}"


def _dates(form: FormView, sample: SampleView) -> list[Cell]:
    came = [
        body.at
        for envelope in form.envelopes
        for body in envelope.arrivals
        if sample.number in {item.sample for item in body.items}
    ]
    return [
        [Line(grouped(sample.number), bold=True)],
        [Line(when(sample.started) if sample.started else NOT_RECORDED)],
        [Line(words.NO_AIR if sample.air == "blank" else sample.run)],
        [Line(when(came[0]) if came else NOT_RECORDED)],
    ]


def _sampling(form: FormView) -> Iterator[str]:
    tags = form.tags
    yield f"Sampling plan: {form.body.plan or NOT_RECORDED}; method of sampling: {tags['method']}"
    named = ((each.collected.pump, each.collected.meter) for each in form.live if each.collected)
    for pump, meter in dict.fromkeys(named):
        if pump:
            yield f"Pump {pump}, flow read on {meter or NOT_RECORDED}"
    yield f"{Heading.BUILDING}: {form.building}"
    yield from form.on_site


def _deviations(form: FormView, findings: Sequence[Finding]) -> Iterator[str]:
    """What results must be reported with; what else was found that bears on them, with what was allowed by
    exception; values that were corrected. The rules behind it stand once, at the end.
    """
    said = [f"{wording.printed(numbers)}: {text}" for text, numbers in for_results(form)]
    told = " ".join(said)
    bearing = [each for each in findings if _bears(each)]
    for each in bearing:
        if each.excepted or each.sentence not in told:
            allowed = f" {wording.start(each.excepted)}." if each.excepted else ""
            said.append(f"{each.sentence}{allowed}")
    for sample in form.live:
        said += [
            f"{grouped(sample.number)}: {words.plain(field)} was corrected (entry {n})."
            for field, n in sample.corrected.items()
        ]
    if bearing:
        said.append(f"({', '.join(sorted({each.rule for each in bearing}))})")
    yield from said or (f"{NONE.capitalize()} on record.",)


def _bears(found: Finding) -> bool:
    return found.severity != "note" if found.area not in _ON_RESULTS else True
