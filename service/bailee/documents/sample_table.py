"""The samples of a custody record: one row each, every figure of its run, and the outdoor control it is
compared with.
"""

from __future__ import annotations

from typing import Final

from bailee.documents.letter import INNER, SMALL, Cell, Column, Line
from bailee.domain.acts.form import Collected
from bailee.domain.numbers import grouped
from bailee.presentation import on_site_words, words
from bailee.presentation.form_view import FormView
from bailee.presentation.sample_view import SampleView
from bailee.presentation.words import NONE, Heading
from bailee.rules.wording import clock

COLUMNS: Final = (
    Column("Sample, kind", 24.5),
    Column(Heading.WHERE, 22),
    Column("Lot, cassette, expiration date", 24.3),
    Column("Started, clock on site", 35),
    Column("Run, s", 10, right=True),
    Column("Flow, L/min: before, after; mean", 22.5),
    Column(words.AMOUNT, 10, right=True),
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
    if sample.surface:
        return [
            [number, Line(sample.kind), *void],
            [Line(said) for said in sample.where],
            _lot(sample, sample.surface.lot),
            [Line(clock(sample.surface.at))],
            [],
            [Line(words.NO_AIR)],
            [Line(sample.drawn, bold=True)],
            [],
            [Line(said) for said in sample.at_the_laboratory],
        ]
    if body is None:
        return [[number, Line(words.STATUSES["announced"]), *void], *([[]] * 8)]
    return [
        [number, Line(sample.kind), *void, *_serial(body)],
        [*(Line(said) for said in sample.where), *_weather(body)],
        _lot(sample, body.lot),
        [Line(clock(body.started))],
        [Line(str(body.run_s)), *_planned(body)],
        [*_flows(sample, body), *_instruments(body)],
        [Line(sample.volume, bold=True), *_once(sample)] if sample.volume else [],
        _outdoor(sample),
        [Line(said) for said in sample.at_the_laboratory],
    ]


def _lot(sample: SampleView, lot: str | None) -> Cell:
    if lot is None:
        return [Line(NONE)]
    maker = [Line(sample.lot.maker_lot)] if sample.lot else []
    kind = [Line(sample.cassette)] if sample.cassette else []
    return [Line(grouped(lot), size=SMALL), *kind, *maker, Line(sample.expiration)]


def _planned(body: Collected) -> list[Line]:
    other = body.planned_s is not None and body.planned_s != body.run_s
    return [Line(f"of {body.planned_s}", soft=True, size=SMALL)] if other else []


def _serial(body: Collected) -> Cell:
    return [Line(f"serial {body.serial or words.NOT_RECORDED}", soft=True, size=SMALL)]


def _weather(body: Collected) -> Cell:
    return [Line(on_site_words.weather(body.weather), soft=True, size=SMALL)] if body.weather else []


def _flows(sample: SampleView, body: Collected) -> Cell:
    if body.kind == "blank":
        return [Line(words.NO_AIR)]
    read = ", ".join(words.figure(each) or NONE for each in (body.flow_before, body.flow_after))
    return [Line(read), *([Line(f"mean {sample.flow}")] if sample.flow else [])]


def _instruments(body: Collected) -> Cell:
    """With what it was drawn, and what the flow was read on."""
    named = (("pump", body.pump), ("meter", body.meter))
    return [Line(f"{what} {name}", soft=True, size=SMALL) for what, name in named if name]


def _once(sample: SampleView) -> list[Line]:
    how = words.DAY_CHECK if sample.by_checks else words.ONE_READING if sample.read_once else ""
    return [Line(how, soft=True, size=SMALL)] if how else []


def _outdoor(sample: SampleView) -> Cell:
    if not sample.needs_outdoor:
        return []
    if sample.outdoor is None:
        return [Line(NONE, bold=True)]
    return [Line(grouped(sample.outdoor), size=SMALL), Line(words.apart(sample.minutes_apart))]
