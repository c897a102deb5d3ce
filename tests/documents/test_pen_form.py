"""The sheet for the pen: measured in millimeters, decoded by zxing-cpp, held to what is entered from it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from PIL import Image
from pypdfium2 import raw

from bailee.asking import pen_sheet
from bailee.documents import pen_form
from bailee.documents.pen_form import PenSheet
from bailee.labels.symbols import qr_text

FORM = "F7K3M9Q2XF4P"
ADDRESS = qr_text("https://ledger.example", FORM)
KNOWN = {"visit": "2026-12-01", "zone": "America/New_York", "firm": "harrow-field", "lab": "quill-lab"}
AT = datetime(2026, 11, 30, tzinfo=UTC)
A4, LETTER = (210.0, 297.0), (215.9, 279.4)
CUT = 4.2
"""Millimeters at an edge that an office printer leaves white (common practice, no source)."""


def sheet(**changes: Any) -> bytes:
    """One page of an invented form."""
    return pen_form.pdf([PenSheet(FORM, ADDRESS, **{"filled": KNOWN, **changes})], AT)


def picture(pdf: bytes, dpi: int = 300) -> Image.Image:
    """Its first page as a printer of so many dots puts it on paper."""
    return pypdfium2.PdfDocument(pdf)[0].render(scale=dpi / 72).to_pil().convert("L")


def text(pdf: bytes, page: int = 0) -> str:
    """All that can be read on a page."""
    return " ".join(pypdfium2.PdfDocument(pdf)[page].get_textpage().get_text_range().split())


def rules(pdf: bytes) -> list[tuple[float, float, float, float]]:
    """Every line and bar: left, top, width, height in millimeters, from the upper left corner."""
    page = pypdfium2.PdfDocument(pdf)[0]
    found = []
    for each in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        left, bottom, right, top = (side / 72 * 25.4 for side in each.get_bounds())
        found.append((left, LETTER[1] - top, right - left, top - bottom))
    return found


def test_it_is_as_high_and_wide_as_it_was_drawn() -> None:
    """A row too low for handwriting, or a sheet whose last line falls off the page."""
    across = sorted({round(top, 1) for left, top, wide, _ in rules(sheet()) if wide > 189})
    heights = [22, 5, *[8] * 5, 7, *[16] * 6, 18, 8, 9, 9, 9, 9, 9]
    wanted, top = [], 12.7
    for high in heights:
        top += high
        wanted.append(top)
    assert across == pytest.approx(wanted, abs=0.15)
    assert across[-1] + 8 == pytest.approx(12.7 + 249, abs=0.15)
    down = sorted({round(left, 1) for left, _, wide, high in rules(sheet()) if high > 100 and wide < 1})
    wanted, left = [], 12.7
    for wide in (5, 30, 18, 6, 12, 7, 15, 11, 10, 11, 16, 9):
        left += wide
        wanted.append(left)
    assert down == pytest.approx(wanted, abs=0.15)


@pytest.mark.parametrize("paper", [LETTER, A4])
def test_it_prints_at_100_percent_on_letter_and_on_a4(paper: tuple[float, float]) -> None:
    """Scaled to fit, or cut at an edge, there is no room to write, and a column is gone."""
    pdf = sheet(page=20, pages=20, filled=dict.fromkeys(KNOWN, "w" * 60))
    (page,) = pypdfium2.PdfDocument(pdf)
    assert [side / 72 * 25.4 for side in page.get_size()] == pytest.approx(LETTER, abs=0.1)
    assert b"/PrintScaling /None" in pdf
    inked = picture(pdf).point(lambda gray: 255 if gray < 200 else 0).getbbox()
    left, top, right, bottom = (dots / 300 * 25.4 for dots in inked)
    assert right - left <= 190.5
    assert bottom - top <= 254
    across, down = ((side - letter) / 2 for side, letter in zip(paper, LETTER, strict=True))
    assert min(left + across, paper[0] - right - across) >= CUT
    assert min(top + down, paper[1] - bottom - down) >= CUT


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_its_code_is_the_form(dpi: int) -> None:
    """The sheet would be scanned as another visit's, or as nothing."""
    (code,) = zxingcpp.read_barcodes(picture(sheet(), dpi), formats=zxingcpp.BarcodeFormat.QRCode)
    assert code.text == "HTTPS://LEDGER.EXAMPLE/F/F7K3M9Q2XF4P"
    side = (code.position.top_right.x - code.position.top_left.x) / dpi * 25.4
    assert 14 <= side <= 20


def test_everything_that_is_asked_stands_on_it() -> None:
    """A person with the sheet is asked for what it had no place for."""
    said = text(sheet())
    assert "F7K3 M9Q2 XF4P" in said
    assert "page 1 of 1" in said
    for letter, cells in {**pen_sheet.HEAD, **pen_sheet.FOOT}.items():
        assert f" {letter} " in f" {said} "
        for cell in cells:
            assert cell.caption in said, (letter, cell.column)
    for cell in pen_sheet.TABLE:
        assert cell.caption in said, cell.column
    for codes in (pen_sheet.ROOMS, pen_sheet.NEAR, pen_sheet.SKY, pen_sheet.WHERE):
        for key, code in codes.items():
            assert f"{key} {code.replace('_', ' ')}" in said
    for known in KNOWN.values():
        assert known in said
    for rule in ("one line through it, initials, time; never overwrite", "Ink only", "One pump a page"):
        assert rule in said


def test_it_is_black_on_white() -> None:
    """Gray rules vanish in a copy, and colors on the office printer."""
    colors = picture(sheet(), 600).resize((1275, 1650), Image.Resampling.NEAREST).histogram()
    assert sum(colors[64:192]) < 0.005 * sum(colors)


def test_each_page_says_which_it_is() -> None:
    """Two pages of six cassettes would be entered as one."""
    pdf = pen_form.pdf([PenSheet(FORM, ADDRESS, n, 2) for n in (1, 2)], AT)
    assert "page 1 of 2" in text(pdf)
    assert "page 2 of 2" in text(pdf, 1)
    assert pdf == pen_form.pdf([PenSheet(FORM, ADDRESS, n, 2) for n in (1, 2)], AT)


def test_what_has_no_room_is_left_to_the_pen() -> None:
    """A long project would be cut to another one, or the whole sheet refused in a power cut."""
    assert "w" * 10 not in text(sheet(filled={"project": "w" * 60}))
    assert "P-001" in text(sheet(filled={"project": "P-001"}))
