"""The line of time as shapes, the same for page, auditor's page and paper.

Longer times are drawn shorter, or an hour in a car would vanish beside a week in a store. Nothing is said by
a color alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from html import escape
from itertools import pairwise
from math import log2
from typing import Final, Literal

from bailee.domain.moments import duration_words
from bailee.frozen import frozen
from bailee.presentation import words
from bailee.presentation.custody_line import CustodyLine, TimeHeld
from bailee.presentation.hand_overs import StretchView
from bailee.presentation.signature_words import when
from bailee.presentation.words import NOT_RECORDED, Heading
from bailee.rules.wording import clock_at

NO_WAY_THEN: Final = "held, not recorded how just then"
COMPRESSED: Final = "Longer times are drawn shorter."

Tone = Literal["ink", "soft", "gap"]


@frozen
class Stroke:
    """A straight line."""

    x: float
    y: float
    to_x: float
    to_y: float
    width: float = 1.2
    is_dashed: bool = False
    tone: Tone = "ink"


@frozen
class Bar:
    """A rectangle: filled, or an outline."""

    x: float
    y: float
    width: float
    height: float
    is_filled: bool = True
    is_dashed: bool = False


@frozen
class Dot:
    """A filled circle around a place."""

    x: float
    y: float
    radius: float


@frozen
class LineText:
    """Words on a base line that begin there, or end there."""

    x: float
    y: float
    says: str
    size: float = 12
    is_bold: bool = False
    ends: bool = False
    tone: Tone = "ink"


Shape = Stroke | Bar | Dot | LineText


@frozen
class LineDrawing:
    """Shapes on a sheet of so many units."""

    width: float
    height: float
    shapes: tuple[Shape, ...]


_EDGE, _ROW, _END = 8.0, 58.0, 26.0
"""Units: the margin, a holder's row, and what is left for a line that goes on."""
_AXIS: Final = 19.0
"""For the first time and the last under the rows."""
_BOTH_TIMES: Final = 324.0
"""Two times side by side."""
_WIDE: Final = 600
"""Units from which what is said of a holder stands in one line, and saves that of the second."""
_SECOND: Final = 16.0
_NAME: Final = 13.0
_MOST_NAMED: Final = 0.42
"""Size of a name, and how much of the width it may take where something stands beside it."""
_LETTER: Final = 0.56
"""Mean width of a character in its size, on the wide side (measured on DejaVu Sans and Noto Sans)."""


def drawing(line: CustodyLine, width: float = 340, *, legend: bool = True) -> LineDrawing:
    """The line as shapes, `width` units wide; `legend`: with what its signs mean, once for several."""
    place, named = _scale(line, width), _named(line, width)
    high = _ROW - (_SECOND if width >= _WIDE else 0)
    shapes: list[Shape] = []
    for n, stage in enumerate(line.stages):
        shapes += _row(n, stage, n * high, place, width, named)
    bottom = len(line.stages) * high + 4
    shapes += _axis(bottom, line, place)
    bottom += _AXIS
    if not legend:
        return LineDrawing(width, bottom, tuple(shapes))
    signs = list(_legend(bottom, width))
    return LineDrawing(width, max(each.y for each in signs) + 8, (*shapes, *signs))


def _scale(line: CustodyLine, width: float) -> Mapping[datetime, float]:
    """Where each instant lies: from one to the next as the logarithm of the minutes between them."""
    times = sorted({each for stage in line.stages for each in _instants(stage)})
    steps = [1 + log2(1 + (b - a).total_seconds() / 60) for a, b in pairwise(times)]
    goes_on = any(stage.until is None for stage in line.stages)
    room = width - 2 * _EDGE - (_END if goes_on else 0)
    place, found = _EDGE, {times[0]: _EDGE}
    for time, step in zip(times[1:], steps, strict=True):
        place += room * step / sum(steps)
        found[time] = place
    return found


def _instants(stage: TimeHeld) -> Iterator[datetime]:
    yield stage.claimed.instant
    yield stage.recorded
    if stage.not_before:
        yield stage.not_before
    if stage.until:
        yield stage.until.instant
    if stage.gap:
        yield stage.claimed.instant - stage.gap
    for each in stage.kept:
        yield from _within(stage, each)


def _within(stage: TimeHeld, kept: StretchView) -> Iterator[datetime]:
    """When a stretch began and ended, never before its holder had the samples and never after."""
    begun = stage.claimed.instant
    yield max(kept.since.instant, begun)
    if ends := [each.instant for each in (kept.until, stage.until) if each]:
        yield max(min(ends), begun)


def _named(line: CustodyLine, width: float) -> float:
    """What the widest name takes, where what is said of its holder stands beside it; a long one is cut."""
    longest = max(len(f"{n}  {stage.who}") for n, stage in enumerate(line.stages, 1))
    return min(width * _MOST_NAMED, (longest + 1) * _NAME * _LETTER + 2 * _EDGE)


def _row(
    n: int, stage: TimeHeld, top: float, place: Mapping[datetime, float], width: float, named: float
) -> Iterator[Shape]:
    gap = f"{Heading.GAP.lower()} {duration_words(stage.gap)}, " if stage.gap else ""
    how = stage.secured if stage.kept else f"{Heading.SECURED.lower()}: {NOT_RECORDED}"
    says, is_wide = f"{when(stage.claimed)}, {gap}{how}", width >= _WIDE
    room = named if is_wide else width
    yield LineText(_EDGE, top + 13, _fits(f"{n + 1}  {stage.who}", room, _NAME), _NAME, is_bold=True)
    if is_wide:
        yield LineText(room, top + 13, _fits(says, width - room, 11.5), 11.5)
    else:
        yield LineText(_EDGE, top + 28, _fits(says, width, 11.5), 11.5)
    bar = top + (35 - _SECOND if is_wide else 33)
    yield from _held(bar, stage, place, width)
    yield from _window(bar + 16, stage, place)


def _held(bar: float, stage: TimeHeld, place: Mapping[datetime, float], width: float) -> Iterator[Shape]:
    """From when to when by what was claimed, how secured, and the gap before it."""
    left, middle = place[stage.claimed.instant], bar + 4
    right = max(place[stage.until.instant], left) if stage.until else width - _EDGE
    if stage.gap:
        yield Stroke(
            place[stage.claimed.instant - stage.gap], middle, left, middle, 3, is_dashed=True, tone="gap"
        )
    yield Bar(left, bar, max(right - left, 2), 8, is_filled=False, is_dashed=not stage.kept)
    for kept in stage.kept:
        begin, *ends = (place[each] for each in _within(stage, kept))
        end = ends[0] if ends else right
        if end > begin:
            yield Bar(begin, bar + 2, end - begin, 4)
    if stage.until is None:
        yield Stroke(right - 6, bar - 3, right, middle)
        yield Stroke(right - 6, bar + 11, right, middle)
    yield Dot(left, middle, 4.5)


def _window(y: float, stage: TimeHeld, place: Mapping[datetime, float]) -> Iterator[Shape]:
    """Between which times of the log it was signed."""
    end = place[stage.recorded]
    if stage.not_before:
        begin = place[stage.not_before]
        yield Stroke(begin, y, end, y, 1, is_dashed=True, tone="soft")
        yield from _bracket(begin, y)
    yield Bar(end - 3, y - 3, 6, 6, is_filled=False)


def _bracket(x: float, y: float) -> Iterator[Stroke]:
    yield Stroke(x, y - 4, x, y + 4)
    yield Stroke(x, y - 4, x + 3, y - 4)
    yield Stroke(x, y + 4, x + 3, y + 4)


def _axis(top: float, line: CustodyLine, place: Mapping[datetime, float]) -> Iterator[Shape]:
    """The first and the last time that is drawn, under the place of each, on the clock of the first."""
    clock = line.stages[0].claimed
    first, last = min(place), max(place)
    begin, end = place[first], max(place[last], _EDGE + _BOTH_TIMES)
    yield Stroke(begin, top, place[last], top, 0.8, tone="soft")
    for x in (begin, place[last]):
        yield Stroke(x, top - 3, x, top + 3, 0.8, tone="soft")
    yield LineText(begin, top + 13, clock_at(first, clock), 11)
    if last > first:
        yield LineText(end, top + 13, clock_at(last, clock), 11, ends=True)


def _legend(top: float, width: float) -> Iterator[Shape]:
    yield Stroke(_EDGE, top, width - _EDGE, top, 0.8, tone="soft")
    x, y = _EDGE, top + 14
    for sign, says, wide in (
        ((Dot(6, 0, 4.5),), "claimed", 16),
        (tuple(_bracket(4, 0)), "not before", 12),
        ((Bar(2, -3, 6, 6, is_filled=False),), "recorded", 14),
        ((Stroke(0, 0, 18, 0, 3, is_dashed=True, tone="gap"),), Heading.GAP.lower(), 24),
        ((Bar(0, -4, 20, 8, is_filled=False), Bar(2, -2, 16, 4)), Heading.SECURED.lower(), 26),
        ((Bar(0, -4, 20, 8, is_filled=False),), NO_WAY_THEN, 26),
        ((Bar(0, -4, 20, 8, is_filled=False, is_dashed=True),), words.NO_WAY_NOW, 26),
        ((), COMPRESSED, 0),
    ):
        room = wide + len(says) * 11 * _LETTER + 10
        if x > _EDGE and x + room > width:
            x, y = _EDGE, y + 20
        yield from (_moved(each, x, y) for each in sign)
        yield LineText(x + wide, y + 4, says, 11, tone="ink" if sign else "soft")
        x += room


def _moved(shape: Shape, x: float, y: float) -> Shape:
    if isinstance(shape, Stroke):
        return replace(shape, x=shape.x + x, y=shape.y + y, to_x=shape.to_x + x, to_y=shape.to_y + y)
    return replace(shape, x=shape.x + x, y=shape.y + y)


def _fits(said: str, width: float, size: float) -> str:
    """As much as fits into the width; the table has all of it."""
    most = int((width - 2 * _EDGE) / (size * _LETTER))
    return said if len(said) <= most else said[: most - 1].rstrip() + "…"


def svg(drawn: LineDrawing, told: str) -> str:
    """The drawing for a page: attributes alone, no style and no script."""
    inside = "".join(map(_element, drawn.shapes))
    return (
        f'<svg class="custody-line" viewBox="0 0 {_n(drawn.width)} {_n(drawn.height)}" role="img"'
        f' aria-label="{escape(told)}" fill="none" stroke="none">{inside}</svg>'
    )


def _element(shape: Shape) -> str:
    match shape:
        case Stroke():
            dashed = ' stroke-dasharray="4 3"' if shape.is_dashed else ""
            way = f"M{_n(shape.x)} {_n(shape.y)}L{_n(shape.to_x)} {_n(shape.to_y)}"
            width = _n(shape.width)
            return (
                f'<path class="{shape.tone}" d="{way}" stroke="currentColor" stroke-width="{width}"{dashed}/>'
            )
        case Bar():
            dashed = ' stroke-dasharray="3 3"' if shape.is_dashed else ""
            how = 'fill="currentColor"' if shape.is_filled else f'stroke="currentColor"{dashed}'
            return (
                f'<rect x="{_n(shape.x)}" y="{_n(shape.y)}" width="{_n(shape.width)}"'
                f' height="{_n(shape.height)}" {how}/>'
            )
        case Dot():
            return (
                f'<circle cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(shape.radius)}" fill="currentColor"/>'
            )
        case LineText():
            bold = ' font-weight="600"' if shape.is_bold else ""
            end = ' text-anchor="end"' if shape.ends else ""
            return (
                f'<text class="{shape.tone}" x="{_n(shape.x)}" y="{_n(shape.y)}" font-size="{_n(shape.size)}"'
                f' fill="currentColor"{bold}{end}>{escape(shape.says)}</text>'
            )


def _n(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
