"""Drawings as SVG in real millimeters, for printers and programs that take vectors."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape

from bailee.labels.drawing import Drawing, Mark, Separator, Symbol, Text

_FAMILY = "'Noto Sans', 'Liberation Sans', Arial, Helvetica, sans-serif"


def svg(drawing: Drawing) -> str:
    """Render a drawing as SVG 1.1: one path a symbol, text as text, title and description for screen readers.

    `textLength` holds every text to its measured width whatever font the viewer has.
    """
    grid = drawing.grid
    width, height = (
        f"{float(grid.mm(side)):.4f}".rstrip("0").rstrip(".") for side in (grid.width, grid.height)
    )
    size = f'width="{width}mm" height="{height}mm" viewBox="0 0 {grid.width} {grid.height}"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-labelledby="title desc">',
        f'<title id="title">{_plain(drawing.title)}</title>',
        f'<desc id="desc">{_plain(drawing.description)}</desc>',
        f'<rect width="{grid.width}" height="{grid.height}" fill="#fff"/>',
        *(_element(mark) for mark in drawing.marks),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _element(mark: Mark) -> str:
    match mark:
        case Symbol():
            k = mark.module
            return _path(_box(mark.x + x * k, mark.y + y * k, n * k, k) for x, y, n in mark.matrix.runs())
        case Separator():
            return f'<rect x="{mark.x}" y="{mark.y}" width="{mark.width}" height="{mark.height}"/>'
        case Text():
            weight = ' font-weight="700"' if mark.bold else ""
            weight += ' fill="#fff"' if mark.light else ""
            return (
                f'<text x="{mark.x}" y="{mark.y}" font-family="{_FAMILY}" font-size="{mark.size}"{weight} '
                f'textLength="{mark.width}" lengthAdjust="spacingAndGlyphs">{_plain(mark.words)}</text>'
            )


def _path(boxes: Iterable[str]) -> str:
    return f'<path shape-rendering="crispEdges" d="{"".join(boxes)}"/>'


def _box(x: int, y: int, width: int, height: int) -> str:
    return f"M{x} {y}h{width}v{height}h-{width}z"


def _plain(words: str) -> str:
    """Escape text for XML; control characters, which XML 1.0 2.2 cannot hold, become spaces."""
    return escape("".join(sign if sign.isprintable() else " " for sign in words))
