"""Drawings on PDF pages, with a text layer, small and the same bytes for the same labels.

Each symbol is one 1-bit image with as many pixels as it has printer dots, placed on whole dots and
never interpolated; so a printer neither resamples it nor has a thousand small rectangles to fill.
Text is Helvetica, one of the fonts every PDF reader has (ISO 32000-1 9.6.2.2); a text outside Latin-1
is set in embedded Noto Sans instead.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from bailee.errors import Malformed
from bailee.labels.drawing import Drawing, Grid, Label, Separator, Symbol, Text, Typeface
from bailee.labels.raster import NotoSans, font_path, symbol_image

if TYPE_CHECKING:
    from fpdf import FPDF
    from fpdf.fonts import TTFFont

DPI = 300
"""The dots of our sheets: 0.24 points each, and a whole divisor of the dots of 600 and
1200 dpi printers."""

_INCH = 72
_NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)
_WIDTHS_SIZE = 1000
_NOT_DRAWN = ("GDEF", "GPOS", "GSUB", "HVAR", "MVAR", "STAT", "avar", "fvar", "gvar")
"""Tables for other weights and for signs that join: no reader of a PDF needs them (ISO 32000-1 9.9), and with
them a paper was three times as large and took twice as long to make."""


class Paper:
    """A PDF under construction; all pages have the size of `page`, and nobody is to scale them: /PrintScaling
    /None (ISO 32000-1 table 150).
    """

    def __init__(self, page: Grid, title: str, printed: datetime | None) -> None:
        from fpdf import FPDF
        from fpdf.prefs import ViewerPreferences

        self._point = point = _INCH / page.dpi
        self._pdf: FPDF = FPDF(unit="pt", format=(page.width * point, page.height * point))
        self._pdf.viewer_preferences = ViewerPreferences(print_scaling="None")
        self._pdf.set_auto_page_break(auto=False)
        self._pdf.set_margin(0)
        self._pdf.set_title(title)
        self._pdf.set_lang("en")
        self._pdf.set_creation_date(printed or _NO_DATE)
        self._helvetica = _Helvetica(self._pdf)
        self._noto = _Noto(self._helvetica)
        self._embedded = False

    def face(self, label: Label) -> Typeface:
        """Choose the letters for a label: one face for all its lines."""
        return self._helvetica if _latin("".join(label.lines)) else self._noto

    def add_page(self) -> None:
        """Start the next page."""
        self._pdf.add_page()

    def draw(self, drawing: Drawing, left: int = 0, top: int = 0) -> None:
        """Draw with the upper left corner of the drawing at `left`, `top`, in dots."""
        latin = _latin(drawing.description)
        for mark in drawing.marks:
            x, y = (left + mark.x) * self._point, (top + mark.y) * self._point
            match mark:
                case Symbol():
                    image = symbol_image(mark)
                    self._pdf.image(image, x, y, image.width * self._point, image.height * self._point)
                case Text():
                    self._set_font(mark, latin=latin)
                    self._pdf.set_text_color(255 if mark.light else 0)
                    self._pdf.text(x, y, mark.words)
                case Separator():
                    self._pdf.set_fill_color(0)
                    self._pdf.rect(x, y, mark.width * self._point, mark.height * self._point, style="F")

    def file(self) -> bytes:
        """Give the finished PDF."""
        return bytes(self._pdf.output())

    def _set_font(self, text: Text, *, latin: bool) -> None:
        if text.bold or latin:
            self._pdf.set_font("Helvetica", "B" if text.bold else "", text.size * self._point)
            return
        if not self._embedded:
            embed_noto(self._pdf)
            self._embedded = True
        self._pdf.set_font("Noto", "", text.size * self._point)


def embed_noto(pdf: FPDF) -> TTFFont:
    """Let a PDF be set in Noto Sans, of which it keeps the regular outlines of the signs it uses."""
    from fpdf.fonts import TTFFont

    pdf.add_font("Noto", fname=font_path())
    font = pdf.fonts["noto"]
    assert isinstance(font, TTFFont)
    for table in _NOT_DRAWN:
        if table in font.ttfont:
            del font.ttfont[table]
    return font


def counted_labels(labels: Sequence[Label]) -> str:
    """The title of a PDF of so many labels."""
    return f"{len(labels)} label{'s' * (len(labels) != 1)}"


def no_labels() -> Malformed:
    """Refuse to print nothing."""
    return Malformed("There is no label to print: ask for at least one.", code="label-none")


class _Helvetica:
    def __init__(self, pdf: FPDF) -> None:
        self._pdf = pdf
        self._widths: dict[tuple[str, bool], float] = {}

    def ems(self, words: str, *, bold: bool) -> float:
        return sum(self._widths.get((sign, bold)) or self._width(sign, bold=bold) for sign in words)

    def _width(self, sign: str, *, bold: bool) -> float:
        self._pdf.set_font("Helvetica", "B" if bold else "", _WIDTHS_SIZE)
        width = self._widths[sign, bold] = self._pdf.get_string_width(sign) / _WIDTHS_SIZE
        return width


class _Noto:
    """Noto Sans for the lines; a number is plain ASCII and stays in bold Helvetica."""

    def __init__(self, helvetica: _Helvetica) -> None:
        self._helvetica = helvetica

    def ems(self, words: str, *, bold: bool) -> float:
        return self._helvetica.ems(words, bold=True) if bold else NotoSans.ems(words, bold=False)


def _latin(words: str) -> bool:
    return words.isascii() or all(sign <= "\xff" for sign in words)
