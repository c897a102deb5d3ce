"""The list on a sealed sheet: what lies in the envelope, a row each, with boxes for what the dock sees of it.

Under it what is alike for many: day, inspector, pump and meter, sky and air. No place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Final

from bailee.documents.dock_block import CONDITIONS
from bailee.documents.kept_together import TIE
from bailee.documents.letter import INNER, SMALL, Cell, Column, Line
from bailee.documents.sample_table import of_media
from bailee.domain.acts.form import Opened
from bailee.domain.custody import Form
from bailee.domain.numbers import grouped
from bailee.presentation import on_site_words, surface_words, words
from bailee.presentation.sample_view import SampleView
from bailee.presentation.signature_words import signature
from bailee.presentation.words import NONE, NOT_RECORDED, Heading
from bailee.rules import wording
from bailee.rules.case import Case

_TICKED: Final = 5.7
"""Millimeters of a column of boxes to tick."""
_EXPIRED: Final = "EXPIRED"
_COLUMNS: Final = (
    Column("", 7, right=True),
    Column(Heading.SAMPLE, 28),
    Column(Heading.KIND, 13),
    Column("Serial", 16.5),
    Column(Heading.STARTED, 17.5),
    Column("Run, s", 9.5, right=True),
    Column(words.AMOUNT, 13, right=True),
    Column(Heading.LOT, 16),
    Column("Expires", 18.5),
    Column("", INNER - 139 - len(CONDITIONS) * _TICKED, right=True),
    *(Column(each, _TICKED, tick=True) for each in CONDITIONS),
)
_SURFACE: Final = "surface"


def numbered(rows: Sequence[int]) -> str:
    """Which rows of the table, counted from 1: `rows 1 to 3, 5`."""
    runs = [
        [n for _, n in alike] for _, alike in groupby(enumerate(rows), key=lambda each: each[1] - each[0])
    ]
    told = [f"{run[0]}{TIE}to{TIE}{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return f"{'row' if len(rows) == 1 else 'rows'} {', '.join(told)}"


def columns(samples: Sequence[SampleView]) -> Sequence[Column]:
    """Those of the table."""
    return of_media(_COLUMNS, samples)


def rows(samples: Sequence[SampleView], forms: Mapping[str, Form], case: Case) -> list[list[Cell]]:
    """A row for each, in the order in which they are numbered here."""
    days = {(each.started.local.date(), each.started.offset_minutes) for each in samples if each.started}
    homes = {number: form for form in forms.values() for number in form.samples}
    return [
        _sample(n, each, _expires(each, homes[each.number], case), one_day=len(days) == 1)
        for n, each in enumerate(samples, 1)
    ]


def _expires(sample: SampleView, form: Form, case: Case) -> Cell:
    """The last day of its lot, and whether it was past when the sample was taken."""
    if sample.lot is None:
        return [Line(NONE)]
    started = sample.started
    then = sample.lot.on(form.day_of(started), case.policy(form)) if started else None
    past = [Line(_EXPIRED, bold=True)] if then and not then.may_be_used else []
    return [Line(sample.expiration), *past]


def _sample(n: int, sample: SampleView, expires: Cell, *, one_day: bool) -> list[Cell]:
    body, surface = sample.collected, sample.surface
    medium = [Line(surface_words.MEDIA[surface.medium], soft=True, size=SMALL)] if surface else []
    number: list[Cell] = [
        [Line(str(n))],
        [Line(grouped(sample.number), bold=True), *medium],
        [Line(words.plain(sample.air) or (_SURFACE if surface else ""))],
    ]
    named = grouped(sample.lot_number) if sample.lot_number else NONE
    lot: Cell = [Line(sample.lot.maker_lot if sample.lot else named)]
    ticks: list[Cell] = [[Line(str(n))], *([[]] * len(CONDITIONS))]
    if sample.started is None:
        return [*number, *([[]] * 6), *ticks]
    begun = sample.started
    clock: Cell = [Line(f"{begun.local:%H:%M}")] if one_day else [Line(wording.clock(begun))]
    if body is None:
        return [*number, [Line(NONE)], clock, [], [Line(sample.drawn)], lot, expires, *ticks]
    return [
        *number,
        [Line(body.serial or NOT_RECORDED)],
        clock,
        [Line(str(body.run_s))],
        [Line(sample.volume or "")],
        lot,
        expires,
        *ticks,
    ]


def taken(samples: Sequence[SampleView], forms: Mapping[str, Form], case: Case) -> Iterator[str]:
    """On which day, by whom and in which role, with which pump and meter: rows where it is not all alike."""
    yield from _said_of(samples, _day)
    origins = {number: each.origin for form in forms.values() for number, each in form.samples.items()}

    def by(sample: SampleView) -> str:
        origin = origins[sample.number]
        signed = signature(case, origin.entry) if origin else None
        return f"collected by {signed.name}, {signed.role}" if signed else ""

    def drawn(sample: SampleView) -> str:
        body, opened = sample.collected, forms[homes[sample.number]].opened.of(Opened)
        if body is None or not body.pump:
            return ""
        meter = f", meter {body.meter}{_certificate(case, opened, body.meter)}" if body.meter else ""
        return f"pump {body.pump}{meter}"

    homes = {number: form.number for form in forms.values() for number in form.samples}
    yield from _said_of(samples, by)
    yield from _said_of(samples, drawn)


def _day(sample: SampleView) -> str:
    begun = sample.started
    return f"started on {wording.day(begun.local.date())}, clock {begun.text()[-6:]}" if begun else ""


def _said_of(samples: Sequence[SampleView], says: Callable[[SampleView], str]) -> Iterator[str]:
    """Each thing said once, with its rows where it is not said of all of which anything is said."""
    told: dict[str, list[int]] = {}
    for n, each in enumerate(samples, 1):
        if said := says(each):
            told.setdefault(said, []).append(n)
    for said, rows in told.items():
        yield said if len(rows) == len(samples) else f"{said}: {numbered(rows)}"


def air(samples: Sequence[SampleView], forms: Mapping[str, Form]) -> Iterator[str]:
    """How the sky was, and the air."""
    skies = [each.collected.weather for each in samples if each.collected and each.collected.weather]
    read = [on_site_words.line(body) for form in forms.values() for body in on_site_words.observed(form)]
    if said := [*dict.fromkeys(map(on_site_words.weather, skies)), *read]:
        yield wording.start("; ".join(said))


def _certificate(case: Case, opened: Opened, meter: str) -> str:
    firm = case.organizations.get(opened.parties.firm)
    found = firm.certificate("meter", meter, opened.visit) if firm else None
    if found is None:
        return ""
    return (
        f" (certificate valid to {found.valid_to})"
        if found.valid_to
        else f" (certificate of {found.certified})"
    )
