"""The samples of a custody record: one row each, every figure of its run, and the outdoor control it is compared with."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from bailee.documents.letter import INNER, SMALL, Cell, Column, Line
from bailee.domain import measures
from bailee.domain.acts.form import Collected, Voided
from bailee.domain.custody import Form, Sample
from bailee.domain.moments import offset_text
from bailee.domain.numbers import grouped
from bailee.domain.pairing import Pair, pairs
from bailee.rules.case import Case

COLUMNS: Final = (
    Column("Sample, kind", 28),
    Column("Where", 27.5),
    Column("Lot, last good day", 29),
    Column("Started, clock on site", 18.5),
    Column("Run, s", 12, right=True),
    Column("Flow before, after", 12.5, right=True),
    Column("Mean, L/min", 12, right=True),
    Column("Vol., L", 12, right=True),
    Column("Outdoor control", 26),
    Column("At the laboratory", INNER - 177.5),
)
_AT_THE_LAB: Final = frozenset({"received", "accepted", "on_hold", "rejected", "disposed"})
KINDS: Final = {"indoor": "indoor", "outdoor": "outdoor control", "blank": "field blank"}


def rows(form: Form, case: Case) -> list[list[Cell]]:
    """A row for every sample the form knows, voided ones too."""
    paired = {pair.indoor.number: pair for pair in pairs(form)}
    return [_row(case, sample, paired.get(sample.number)) for sample in form.samples.values()]


def _row(case: Case, sample: Sample, pair: Pair | None) -> list[Cell]:
    number = Line(grouped(sample.number), bold=True, struck=sample.void is not None)
    body = sample.collected
    if body is None:
        void = [Line(_void(sample), bold=True)] if sample.void else []
        return [[number, Line("not collected"), *void], *([[]] * 9)]
    kind = [Line(kind_words(body))]
    if sample.void:
        kind.append(Line(_void(sample), bold=True))
    return [
        [number, *kind],
        [Line(words) for words in where(sample, body)],
        _lot(case, sample, body),
        _started(body),
        [Line(str(body.run_s)), *_planned(body)],
        [Line(_figure(body.flow_before)), Line(_figure(body.flow_after))]
        if body.kind != "blank"
        else [Line("no air")],
        [Line(_figure(body.mean_flow))] if body.mean_flow is not None else [],
        [Line(_figure(body.volume_l), bold=True)] if body.volume_l is not None else [],
        _outdoor(sample, body, pair),
        [Line(words) for words in _at_the_lab(sample)],
    ]


def kind_words(body: Collected) -> str:
    """Kind of sample, and its area or the sample it duplicates."""
    said = [KINDS[body.kind]]
    if body.area:
        said.append(body.area.replace("_", "-"))
    if body.duplicate_of:
        said.append(f"duplicate of {grouped(body.duplicate_of)}")
    return ", ".join(said)


def where(sample: Sample, body: Collected) -> Iterator[str]:
    """Room and point, the place in words when it is disclosed, height and distance."""
    spot = [body.room.replace("_", " ") if body.room else "", body.point or ""]
    yield ", ".join(filter(None, spot)) or "room not stated"
    entry = sample.origin.entry if sample.origin else None
    if entry and (place := entry.disclosed.get("place")):
        yield place
    elif entry and entry.private > len(entry.disclosed):
        yield "place withheld"
    if body.height_m is not None:
        yield f"inlet {measures.length_text(body.height_m)}"
    if body.distance_m is not None:
        yield f"{measures.length_text(body.distance_m)} from building"


def _lot(case: Case, sample: Sample, body: Collected) -> Cell:
    lot = case.lot_of(sample)
    if lot is None:
        return [Line(grouped(body.lot), size=SMALL), Line("lot not known here")]
    day = f"to {lot.expires:%Y-%m-%d}" if lot.expires else "no last day on the box"
    return [Line(grouped(body.lot), size=SMALL), Line(lot.maker_lot), Line(day)]


def _started(body: Collected) -> Cell:
    local = body.started.local
    return [
        Line(f"{local:%Y-%m-%d}"),
        Line(f"{local:%H:%M:%S}"),
        Line(offset_text(body.started.offset_minutes), soft=True, size=SMALL),
    ]


def _planned(body: Collected) -> list[Line]:
    other = body.planned_s is not None and body.planned_s != body.run_s
    return [Line(f"of {body.planned_s}", soft=True, size=SMALL)] if other else []


def _outdoor(sample: Sample, body: Collected, pair: Pair | None) -> Cell:
    if sample.void or body.kind != "indoor":
        return []
    if pair is None or pair.outdoor is None or pair.apart is None:
        return [Line("none", bold=True)]
    return [Line(grouped(pair.outdoor.number), size=SMALL), Line(f"{apart(pair)} min apart")]


def apart(pair: Pair) -> str:
    """Minutes between the starts, to the nearest whole one, halves up."""
    assert pair.apart is not None
    return str(measures.rounded(Decimal(pair.apart.total_seconds()) / 60, 0))


def _at_the_lab(sample: Sample) -> Iterator[str]:
    if sample.status in _AT_THE_LAB or sample.status == "missing":
        yield sample.status.replace("_", " ")
    if words := condition(sample):
        yield words
    if sample.lab_number:
        yield sample.lab_number


def condition(sample: Sample) -> str:
    """Its condition as the laboratory received it; empty before that, and for a cassette that did not arrive."""
    arrived = sample.condition if sample.status in _AT_THE_LAB else ()
    return ", ".join(word.replace("_", " ") for word in arrived)


def _void(sample: Sample) -> str:
    assert sample.void
    return f"void: {sample.void.of(Voided).reason.replace('_', ' ')}"


def _figure(value: Decimal | None) -> str:
    return str(measures.rounded(value, 2)) if value is not None else "none"
