"""Drawings as one-bit images, for thermal printers and for the symbols inside a PDF."""

from __future__ import annotations

import io
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from bailee.labels.drawing import Drawing, Separator, Symbol, Text

if TYPE_CHECKING:
    from PIL import Image
    from PIL.ImageFont import FreeTypeFont

_DARK, _LIGHT = 0, 1
_REGULAR, _BOLD = 400, 700
_UNITS = 1000


def font_path() -> Path:
    """Give the file of Noto Sans (SIL Open Font License 1.1), one variable font for all weights."""
    import fontpkg_noto_sans

    return Path(fontpkg_noto_sans.ROOT) / "files" / "NotoSans[wdth,wght].ttf"


class NotoSans:
    """The letters of one-bit images, SVG, and of PDF lines outside Latin-1."""

    @staticmethod
    @lru_cache(maxsize=4096)
    def ems(words: str, *, bold: bool) -> float:
        """Give the width of a text as a multiple of the type size."""
        return _font(_UNITS, bold=bold).getlength(words) / _UNITS


def symbol_image(symbol: Symbol) -> Image.Image:
    """Draw a symbol alone, without quiet zone: every module is exactly `module` dots wide."""
    from PIL import Image

    size, side = symbol.matrix.size, symbol.matrix.size * symbol.module
    stride = -(-size // 8)
    # In a one-bit image 1 is light, and a row is padded on the right to whole bytes.
    light = b"".join(
        (~row << stride * 8 - size & (1 << stride * 8) - 1).to_bytes(stride, "big")
        for row in symbol.matrix.rows
    )
    modules = Image.frombytes("1", (size, size), light)
    return modules.resize((side, side), Image.Resampling.NEAREST)


def png(drawing: Drawing) -> bytes:
    """Render a drawing as a one-bit PNG that names its resolution, one pixel a printer dot."""
    from PIL import Image, ImageDraw

    grid = drawing.grid
    paper = Image.new("1", (grid.width, grid.height), 1)
    pen = ImageDraw.Draw(paper)
    for mark in drawing.marks:
        match mark:
            case Symbol():
                paper.paste(symbol_image(mark), (mark.x, mark.y))
            case Text():
                pen.text(
                    (mark.x, mark.y),
                    mark.words,
                    fill=_LIGHT if mark.light else _DARK,
                    font=_font(mark.size, bold=mark.bold),
                    anchor="ls",
                )
            case Separator():
                pen.rectangle((mark.x, mark.y, mark.x + mark.width - 1, mark.y + mark.height - 1), fill=_DARK)
    file = io.BytesIO()
    paper.save(file, "PNG", dpi=(grid.dpi, grid.dpi))
    return file.getvalue()


@cache
def _font(size: int, *, bold: bool) -> FreeTypeFont:
    from PIL import ImageFont

    font = ImageFont.truetype(font_path(), size)
    weights = {b"Weight": _BOLD if bold else _REGULAR}
    font.set_variation_by_axes(
        [weights.get(axis["name"], axis["default"] or 0) for axis in font.get_variation_axes()]
    )
    return font
