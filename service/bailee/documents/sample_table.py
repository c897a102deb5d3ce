"""The samples of a custody record: one row each, every figure of its run, and the outdoor control it is
compared with.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bailee.documents.letter import INNER, SMALL, Cell, Column, Line
from bailee.domain.acts.form import Collected
from bailee.domain.numbers import grouped
from bailee.presentation import on_site_words, words
from bailee.presentation.form_view import FormView
from bailee.presentation.sample_view import SampleView
from bailee.presentation.state_words import is_loud
from bailee.presentation.words import NONE, Heading
from bailee.rules.wording import clock

_COLUMNS: Final = (
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


CORRECTED: Final = "* Corrected by the entry named: the value as first entered stands under Corrections."
_CELLS: Final = (
    {"kind", "area", "serial", "duplicate_of", "medium"},
    {"room", "point", "unit", "height_m", "distance_m", "weather", "cavity", "serves", "material", "surface"},
    {"lot"},
    {"started", "at"},
    {"run_s", "planned_s"},
    {"flow_before", "flow_after", "pump", "meter"},
    {"run_s", "flow_before", "flow_after", "area_cm2", "mass_g"},
)
"""By column, the facts of a collection that stand there."""


def columns(form: FormView) -> Sequence[Column]:
    """Those of the record."""
    return of_media(_COLUMNS, form.samples)


def of_media(columns: Sequence[Column], samples: Sequence[SampleView]) -> Sequence[Column]:
    """The same; where nothing is of a surface, no area and no mass is spoken of."""
    if any(each.medium for each in samples):
        return columns
    return [replace(each, title="Vol., L") if each.title == words.AMOUNT else each for each in columns]


def rows(form: FormView) -> list[list[Cell]]:
    """A row for every sample the form knows, voided ones too."""
    return [_marked(each, _row(each)) for each in form.samples]


def _marked(sample: SampleView, row: list[Cell]) -> list[Cell]:
    """The row, with the entry of a correction in every cell whose value was corrected."""
    marks = [
        sorted({n for field, n in sample.corrected.items() if field.partition(".")[0] in facts})
        for facts in _CELLS
    ]
    return [
        [*cell, *(Line(f"*\u00a0{n}", bold=True, size=SMALL) for n in (marks[i] if i < len(marks) else ()))]
        for i, cell in enumerate(row)
    ]


def _row(sample: SampleView) -> list[Cell]:
    number = Line(grouped(sample.number), bold=True, struck=sample.void is not None)
    void = [Line(sample.state, bold=True)] if sample.void else []
    body = sample.collected
    if sample.surface:
        return [
            [number, Line(sample.kind), *void],
            parted(sample.where),
            _lot(sample, sample.surface.lot),
            [Line(clock(sample.surface.at))],
            [],
            [Line(words.NO_AIR)],
            [Line(sample.drawn, bold=True)],
            [],
            _at_the_laboratory(sample),
        ]
    if body is None:
        return [[number, Line(words.STATUSES["announced"]), *void], *([[]] * 8)]
    return [
        [number, Line(sample.kind), *void, *_serial(body)],
        [*parted(sample.where), *_weather(body)],
        _lot(sample, body.lot),
        [Line(clock(body.started))],
        [Line(str(body.run_s)), *_planned(body)],
        [*_flows(sample, body), *_instruments(body)],
        [Line(sample.volume, bold=True), *_once(sample)] if sample.volume else [],
        _outdoor(sample),
        _at_the_laboratory(sample),
    ]


def parted(said: Sequence[str]) -> list[Line]:
    """What is said of one place, each on lines of its own, with a sign between two of them."""
    return [Line(f"{each};" if n < len(said) else each) for n, each in enumerate(said, 1)]


def _lot(sample: SampleView, lot: str | None) -> Cell:
    if lot is None:
        return [Line(NONE)]
    maker = [Line(sample.lot.maker_lot)] if sample.lot else []
    kind = [Line(sample.cassette)] if sample.cassette else []
    expired = [Line("EXPIRED", bold=True)] if sample.is_expired else []
    return [Line(grouped(lot), size=SMALL), *kind, *maker, Line(sample.expiration), *expired]


def _at_the_laboratory(sample: SampleView) -> Cell:
    stopped = {words.STATUSES[each] for each in (*words.STOPPED, "missing")}
    return [Line(said, bold=said in stopped or is_loud(said)) for said in sample.at_the_laboratory]


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
