"""The samples of a custody record: one row each, every figure of its run, and the outdoor control it is
compared with.
"""

from __future__ import annotations

from typing import Final

from bailee.documents.letter import INNER, SMALL, Cell, Column, Line
from bailee.domain.acts.form import Collected
from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.presentation.form_view import FormView
from bailee.presentation.sample_view import SampleView
from bailee.presentation.words import NONE, Heading
from bailee.rules.wording import clock

COLUMNS: Final = (
    Column("Sample, kind", 24.5),
    Column(Heading.WHERE, 22),
    Column(Heading.LOT_DATED, 24.3),
    Column("Started, clock on site", 35),
    Column("Run, s", 10, right=True),
    Column("Flow before, after", 11.5, right=True),
    Column("Mean, L/min", 11, right=True),
    Column("Vol., L", 10, right=True),
    Column(Heading.OUTDOOR, 24.3),
    Column("At the laboratory", INNER - 172.6),
)


def rows(form: FormView) -> list[list[Cell]]:
    """A row for every sample the form knows, voided ones too."""
    return [_row(each) for each in form.samples]


def _row(sample: SampleView) -> list[Cell]:
    number = Line(grouped(sample.number), bold=True, struck=sample.void is not None)
    void = [Line(sample.state, bold=True)] if sample.void else []
    body = sample.collected
    if body is None:
        return [[number, Line(words.STATUSES["announced"]), *void], *([[]] * 9)]
    return [
        [number, Line(sample.kind), *void],
        [Line(said) for said in sample.where],
        _lot(sample, body),
        [Line(clock(body.started))],
        [Line(str(body.run_s)), *_planned(body)],
        _flows(body),
        [Line(sample.flow)] if sample.flow else [],
        [Line(sample.volume, bold=True), *_once(sample)] if sample.volume else [],
        _outdoor(sample),
        [Line(said) for said in sample.at_the_laboratory],
    ]


def _lot(sample: SampleView, body: Collected) -> Cell:
    maker = [Line(sample.lot.maker_lot)] if sample.lot else []
    return [Line(grouped(body.lot), size=SMALL), *maker, Line(sample.expiration)]


def _planned(body: Collected) -> list[Line]:
    other = body.planned_s is not None and body.planned_s != body.run_s
    return [Line(f"of {body.planned_s}", soft=True, size=SMALL)] if other else []


def _flows(body: Collected) -> Cell:
    if body.kind == "blank":
        return [Line(words.NO_AIR)]
    return [Line(words.figure(each) or NONE) for each in (body.flow_before, body.flow_after)]


def _once(sample: SampleView) -> list[Line]:
    how = words.DAY_CHECK if sample.by_checks else words.ONE_READING if sample.read_once else ""
    return [Line(how, soft=True, size=SMALL)] if how else []


def _outdoor(sample: SampleView) -> Cell:
    if not sample.needs_outdoor:
        return []
    if sample.outdoor is None:
        return [Line(NONE, bold=True)]
    return [Line(grouped(sample.outdoor), size=SMALL), Line(words.apart(sample.minutes_apart))]
