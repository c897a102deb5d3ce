"""Where everything goes on a cassette label and on an envelope label.

Sizes are chosen for the person who reads them: the number first, set as large as it fits, because a
smear over one corner stops any QR code, whatever its level. Minimum sizes are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.labels.drawing import (
    Drawing,
    Grid,
    Label,
    Mark,
    Separator,
    Symbol,
    Text,
    Typeface,
    fitted,
)
from bailee.labels.symbols import QR_QUIET, qr

SMALLEST_MODULE_MM = 0.375
"""Three dots at 203 dpi: below this, hand-held cameras fail in poor light.

Measured in simulation, not on paper.
"""

CAP_HEIGHT = 0.715
"""Height of a capital as a multiple of the type size: 0.714 in Noto Sans, 0.718 in Helvetica."""

_MARGIN_MM = 1.5
_SMALL_MM = (50, 25)
"""The small label is laid out on this size."""
_ROUNDED = 2
"""Dots by which twice a size in whole dots may miss it."""
_NUMBER_MM, _SMALLEST_NUMBER_MM = 4.6, 1.9
_LINE_PART, _SMALLEST_LINE_MM = 0.7, 1.9
_LEADING = 1.36

_ENVELOPE_MM = (100, 60)
"""The envelope label is laid out on this size; a larger or smaller one has the same make-up."""
_SIDE_MM, _HEAD_MM, _NUMBER_BASE_MM, _NUMBER_CAP_MM = 4, (3, 12), 21.8, 8
_SYMBOL_MM, _SYMBOL_TOP_MM, _FOOT_MM, _FOOT_BASE_MM = 24, 25.4, 53, 57
_HEAD_LINE_MM, _ENVELOPE_LINE_MM, _FOOT_LINE_MM = 4.2, 3.8, 3.4
_LEAST_LEADING, _MOST_LEADING = 1.15, 1.7

_HEAD = "CUSTODY ENVELOPE - NOT A SHIPPING LABEL"
_TO_DO = ("Open only at the addressee's dock.", "Read the seal first.")
_FOOT = "Where it goes stands on the carrier's label."


def cassette(label: Label, grid: Grid, module: int, face: Typeface, times: int = 1) -> Drawing:
    """Place a small label: the QR code at the left, the number and the lines beside it.

    `module` is in dots; everything is `times` as large.

    Raises Malformed: `label-module` below 0.375 mm, `label-room` when something does not fit.
    """
    refuse_small(grid, module)
    matrix = qr(label.url_text)
    module *= times
    side, quiet, margin = matrix.size * module, QR_QUIET * module, grid.dots(_MARGIN_MM)
    top = (grid.height - side) // 2
    left = quiet + side + quiet
    room = grid.width - left - margin
    if top < quiet or room <= 0:
        raise _no_room(grid)

    number = Text(left, 0, grid.dots(_NUMBER_MM * times), 0, grouped(label.number), bold=True)
    number = fitted(face, number, room, grid.dots(_SMALLEST_NUMBER_MM))
    size = max(round(_LINE_PART * number.size), grid.dots(_SMALLEST_LINE_MM))
    lines = _alike(face, label.lines, Text(left, 0, size, 0, ""), room, grid.dots(_SMALLEST_LINE_MM))
    size = lines[0].size if lines else size
    # The number hangs from the upper edge of the symbol and the last line stands on its lower edge.
    head, leading = top + round(CAP_HEIGHT * number.size), round(_LEADING * size)
    first = top + side - leading * (len(lines) - 1)
    if first - round(CAP_HEIGHT * size) < head + leading // 3:
        raise _no_room(grid)
    placed = [replace(line, y=first + leading * index) for index, line in enumerate(lines)]
    return _drawing(label, grid, [Symbol(quiet, top, module, matrix), replace(number, y=head), *placed])


def roomiest(label: Label, grid: Grid, module: int, face: Typeface) -> Drawing:
    """Place a small label with the largest modules that leave its lines room, `module` dots at most.

    On a label of twice the usual size everything is twice as large, and so on.

    Raises as `cassette` does when modules of 0.375 mm leave none.
    """
    try:
        return cassette(label, grid, module, face, _times(grid))
    except Malformed as error:
        if error.code != "label-room" or grid.mm(module - 1) < SMALLEST_MODULE_MM:
            raise
    return roomiest(label, grid, module - 1, face)


def _times(grid: Grid) -> int:
    """How often the usual small label goes into this one, in height and width."""
    sides = zip((grid.width, grid.height), map(grid.dots, _SMALL_MM), strict=True)
    return max(1, min((side + _ROUNDED) // small for side, small in sides))


def envelope(label: Label, grid: Grid, face: Typeface) -> Drawing:
    """Place an envelope label so that neither people nor sorters take it for a carrier's: white on black what
    it is, the number on one line, then the QR code with the lines beside it. No bars, address, mark or arrow.

    Raises Malformed: `label-module` when the QR code cannot reach 0.375 mm, `label-room` when something does
    not fit.
    """
    dots = _scaled(grid)
    side, left = dots(100 - 2 * _SIDE_MM), (grid.width - dots(100)) // 2 + dots(_SIDE_MM)
    smallest = grid.dots(_SMALLEST_LINE_MM)

    def line(words: str, base_mm: float, size: int, *, bold: bool = False, light: bool = False) -> Text:
        text = Text(left, dots(base_mm), size, 0, words, bold, light)
        return fitted(face, text, side - (dots(4) if light else 0), smallest)

    bar = Separator(left, dots(_HEAD_MM[0]), side, dots(_HEAD_MM[1]) - dots(_HEAD_MM[0]))
    head = line(_HEAD, 0, dots(_HEAD_LINE_MM), bold=True, light=True)
    drop = (bar.height + round(CAP_HEIGHT * head.size)) // 2
    head = replace(head, x=left + (side - head.width) // 2, y=bar.y + drop)
    number = line(grouped(label.number), _NUMBER_BASE_MM, round(dots(_NUMBER_CAP_MM) / CAP_HEIGHT), bold=True)
    symbol, beside = _symbol_and_lines(label, grid, face, left)
    rule = Separator(left, dots(_FOOT_MM), side, max(1, dots(0.3)))
    foot = line(_FOOT, _FOOT_BASE_MM, dots(_FOOT_LINE_MM))
    return _drawing(
        replace(label, lines=(_HEAD, *label.lines, *_TO_DO, _FOOT)),
        grid,
        [bar, head, number, symbol, *beside, rule, foot],
    )


def refuse_small(grid: Grid, module: int) -> None:
    """Raise Malformed `label-module` for a module below 0.375 mm."""
    if grid.mm(module) < SMALLEST_MODULE_MM:
        raise Malformed(
            f"A module of {float(grid.mm(module)):.3f} mm is too small to be read by hand-held cameras: "
            f"use at least {SMALLEST_MODULE_MM} mm, or a larger label.",
            code="label-module",
            module_dots=module,
            dpi=grid.dpi,
        )


def _scaled(grid: Grid) -> Callable[[float], int]:
    """From millimeters on the usual envelope label to dots on this one."""
    across, down = (
        float(grid.mm(side)) / usual
        for side, usual in zip((grid.width, grid.height), _ENVELOPE_MM, strict=True)
    )
    return lambda mm: grid.dots(mm * min(across, down))


def _symbol_and_lines(label: Label, grid: Grid, face: Typeface, left: int) -> tuple[Symbol, list[Text]]:
    dots = _scaled(grid)
    matrix = qr(label.url_text)
    module = dots(_SYMBOL_MM) // matrix.size
    refuse_small(grid, module)
    symbol = Symbol(left, dots(_SYMBOL_TOP_MM), module, matrix)
    height = matrix.size * module
    beside = left + height + QR_QUIET * module + dots(0.7)
    room = (grid.width + dots(100)) // 2 - dots(_SIDE_MM) - beside
    said, smallest = (*label.lines, *_TO_DO), grid.dots(_SMALLEST_LINE_MM)
    tall = int(height / (CAP_HEIGHT + _LEAST_LEADING * (len(said) - 1)))
    if tall < smallest:
        raise _no_room(grid)
    largest = Text(beside, 0, min(tall, dots(_ENVELOPE_LINE_MM)), 0, "")
    lines = _alike(face, said, largest, room, smallest)
    size, cap = lines[0].size, round(CAP_HEIGHT * lines[0].size)
    leading = min(round(_MOST_LEADING * size), (height - cap) // (len(lines) - 1))
    first = symbol.y + (height - cap - leading * (len(lines) - 1)) // 2 + cap
    return symbol, [replace(each, y=first + leading * index) for index, each in enumerate(lines)]


def _alike(face: Typeface, words: Sequence[str], largest: Text, room: int, smallest: int) -> list[Text]:
    """Set several lines in one size, the largest in which the longest of them fits.

    All on the same baseline.
    """
    each = [fitted(face, replace(largest, words=line), room, smallest) for line in words]
    size = min((line.size for line in each), default=largest.size)
    return [fitted(face, replace(line, size=size), room, smallest) for line in each]


def _drawing(label: Label, grid: Grid, marks: Sequence[Mark]) -> Drawing:
    number = grouped(label.number)
    return Drawing(grid, number, ". ".join((f"Number {number}", *label.lines)), tuple(marks))


def _no_room(grid: Grid) -> Malformed:
    return Malformed(
        "This label is too small for its symbol and lines: use fewer lines, a shorter address or a larger"
        " label.",
        code="label-room",
        width_mm=round(float(grid.mm(grid.width)), 1),
        height_mm=round(float(grid.mm(grid.height)), 1),
    )
