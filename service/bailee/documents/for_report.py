"""What a laboratory's report has to say of sampling and receipt, in one place, by letters of the standard.

ISO/IEC 17025:2017 7.8.2.1 e, f, g, h, k and n; the other letters are the laboratory's own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bailee.documents.letter import INNER, Cell, Column, Letter, Line
from bailee.documents.one_clock import place
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.presentation import words
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
_DATES: Final = (
    Column(Heading.SAMPLE, 33),
    Column("Sampled", 45),
    Column("Run", 25),
    Column("Received by the laboratory", INNER - 103),
)
_GRAVE: Final = ("refuse", "block", "flag")


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
    letter.paragraph(Line(f"{Heading.REQUEST}: {form.request}"), *map(Line, form.requests))
    _clause(letter, "g")
    letter.table(_ITEMS, [_item(each) for each in form.live])
    _clause(letter, "h")
    letter.table(_DATES, [_dates(form, each) for each in form.live])
    _clause(letter, "k")
    letter.paragraph(*map(Line, _sampling(form)))
    _clause(letter, "n")
    letter.paragraph(*map(Line, _deviations(form, findings)))
    return letter.file()


def _clause(letter: Letter, letters: str) -> None:
    letter.heading(f"{letters})  {CLAUSES[letters]}", keep=18)


def _item(sample: SampleView) -> list[Cell]:
    serial = sample.collected.serial if sample.collected else None
    lot = f"lot {sample.lot.maker_lot}" if sample.lot else ""
    told = (sample.kind, sample.cassette, lot, f"serial {serial}" if serial else "")
    return [
        [Line(grouped(sample.number), bold=True), *([Line(sample.lab_number)] if sample.lab_number else [])],
        [Line(said) for said in told if said],
        [Line(said) for said in sample.where],
        [Line(sample.drawn)],
        [Line(said) for said in dict.fromkeys((sample.state, sample.condition_words)) if said],
    ]


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
        [Line(sample.run)],
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
    """What results must be reported with, what was allowed by exception, and what stops or flags the form."""
    said = [f"{grouped(each.number)}: {each.qualification}" for each in form.samples if each.qualification]
    for each in findings:
        if each.excepted:
            said.append(f"{each.rule}: {each.sentence} {wording.start(each.excepted)}.")
        elif each.severity in _GRAVE:
            said.append(f"{words.severity(each.severity)} {each.rule}: {each.sentence}")
    yield from said or (f"{NONE.capitalize()} on record; warnings and notes stand on the custody record.",)
