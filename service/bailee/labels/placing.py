"""Where everything goes on a cassette label and on an envelope label.

Sizes are chosen for the person who reads them: the number first, set as large as it fits, because a
smear over one corner stops any QR code, whatever its level. Minimum sizes are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from bailee.errors import Malformed
from bailee.labels.drawing import (
    Drawing,
    Grid,
    Label,
    Mark,
    Separator,
    Stripes,
    Symbol,
    Text,
    Typeface,
    fitted,
)
from bailee.labels.symbols import BARS_QUIET, QR_QUIET, code128, qr

SMALLEST_MODULE_MM = 0.375
"""Three dots at 203 dpi: below this, hand-held cameras fail in poor light.

Measured in simulation, not on paper.
"""

CAP_HEIGHT = 0.715
"""Height of a capital as a multiple of the type size: 0.714 in Noto Sans, 0.718 in Helvetica."""

_MARGIN_MM = 1.5
_NUMBER_MM, _SMALLEST_NUMBER_MM = 4.6, 1.9
_LINE_PART, _SMALLEST_LINE_MM = 0.7, 1.9
_LEADING = 1.36

_ENVELOPE_MARGIN_MM = 6
_ENVELOPE_MODULE_MM = 1.02
_ENVELOPE_LINE_MM, _ENVELOPE_SMALLEST_LINE_MM = 5.4, 3.0
_ENVELOPE_LEADING = 1.7
_ENVELOPE_GAP_MM = 6
_BARS_WIDTH_MM, _BARS_HEIGHT_MM = 90, 20


def grouped(number: str) -> str:
    """Give a number in groups of four, as people read it aloud: "S7K3 M9Q2 XF4P"."""
    return " ".join(_groups(number))


def cassette(label: Label, grid: Grid, module: int, face: Typeface) -> Drawing:
    """Place a small label: the QR code at the left, the number and the lines beside it.

    `module` is in dots. Raises Malformed: `label-module` below 0.375 mm, `label-room` when something does not
    fit.
    """
    refuse_small(grid, module)
    matrix = qr(label.url_text)
    side, quiet, margin = matrix.size * module, QR_QUIET * module, grid.dots(_MARGIN_MM)
    top = (grid.height - side) // 2
    left = quiet + side + quiet
    room = grid.width - left - margin
    if top < quiet or room <= 0:
        raise _no_room(grid)

    number = Text(left, 0, grid.dots(_NUMBER_MM), 0, grouped(label.number), bold=True)
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


def envelope(label: Label, grid: Grid, face: Typeface) -> Drawing:
    """Place an envelope label: QR code and number on top, the lines below, a Code 128 for hand scanners at
    the foot.

    The bars are 20 mm high and at most 90 mm wide: a wide, low symbol fails under tilt.
    Raises Malformed: `label-module` when the bars cannot reach 0.375 mm, `label-room` when something does not
    fit.
    """
    margin, gap, hair = grid.dots(_ENVELOPE_MARGIN_MM), grid.dots(_ENVELOPE_GAP_MM), max(1, grid.dots(0.35))
    room = grid.width - 2 * margin
    symbol, groups = _envelope_head(label, grid, face, margin)
    stripes, number = _envelope_foot(label, grid, face, margin)
    above, below = symbol.y + symbol.matrix.size * symbol.module + gap, stripes.y - gap
    rules = (Separator(margin, above, room, hair), Separator(margin, below, room, hair))

    largest = Text(margin, 0, grid.dots(_ENVELOPE_LINE_MM), 0, "")
    lines = _alike(face, label.lines, largest, room, grid.dots(_ENVELOPE_SMALLEST_LINE_MM))
    size = lines[0].size if lines else largest.size
    leading, first = round(_ENVELOPE_LEADING * size), above + gap + round(CAP_HEIGHT * size)
    if first + leading * (len(lines) - 1) > below - gap // 2:
        raise _no_room(grid)
    placed = [replace(line, y=first + leading * index) for index, line in enumerate(lines)]
    return _drawing(label, grid, [symbol, *groups, *rules, *placed, stripes, number])


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


def _envelope_head(label: Label, grid: Grid, face: Typeface, margin: int) -> tuple[Symbol, list[Text]]:
    matrix = qr(label.url_text)
    module = int(Fraction(_ENVELOPE_MODULE_MM) / grid.mm(1))
    side = matrix.size * module
    # Three groups, one above the other, span the height of the symbol: readable across a receiving bench.
    left, cap = margin + side + QR_QUIET * module + grid.dots(3), side // 4
    size, pitch, room = round(cap / CAP_HEIGHT), (side - cap) // 2, grid.width - margin - left
    stacked = _alike(face, _groups(label.number), Text(left, 0, size, 0, "", bold=True), room, 1)
    groups = [replace(group, y=margin + cap + pitch * index) for index, group in enumerate(stacked)]
    return Symbol(margin, margin, module, matrix), groups


def _envelope_foot(label: Label, grid: Grid, face: Typeface, margin: int) -> tuple[Stripes, Text]:
    bars = code128(label.number)
    module = grid.dots(_BARS_WIDTH_MM) // (bars.size + 2 * BARS_QUIET)
    refuse_small(grid, module)
    high, size = grid.dots(_BARS_HEIGHT_MM), grid.dots(5.2)
    baseline = grid.height - margin
    top = baseline - round(CAP_HEIGHT * size) - grid.dots(2.2) - high
    stripes = Stripes((grid.width - bars.size * module) // 2, top, module, high, bars)
    words = Text(0, baseline, size, 0, grouped(label.number), bold=True)
    number = fitted(face, words, grid.width - 2 * margin, 1)
    return stripes, replace(number, x=(grid.width - number.width) // 2)


def _groups(number: str) -> list[str]:
    return [number[at : at + 4] for at in range(0, len(number), 4)]


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
