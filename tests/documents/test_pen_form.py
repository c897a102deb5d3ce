"""The sheet for the pen: measured in millimeters, decoded by zxing-cpp, held to what is entered from it."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from PIL import Image
from pypdfium2 import raw

from bailee.asking import pen_sheet
from bailee.documents import pen_form
from bailee.documents.pen_form import PenSheet
from bailee.domain.lots import Lot
from bailee.labels.symbols import qr_text
from bailee.presentation import words

pytestmark = pytest.mark.slow  # left out between two saves of a file

FORM = "F7K3M9Q2XF4P"
ADDRESS = qr_text("https://ledger.example", FORM)
KNOWN = {"visit": "2026-12-01", "zone": "America/New_York", "firm": "harrow-field", "lab": "quill-lab"}
AT = datetime(2026, 11, 30, tzinfo=UTC)
A4, LETTER = (210.0, 297.0), (215.9, 279.4)
CUT = 4.2
"""Millimeters at an edge that an office printer leaves white (common practice, no source)."""


def sheet(**changes: Any) -> bytes:
    """One sheet of an invented form: front and back."""
    return pen_form.pdf([PenSheet(FORM, ADDRESS, **{"filled": KNOWN, **changes})], AT)


def picture(pdf: bytes, dpi: int = 300) -> Image.Image:
    """Its first page as a printer of so many dots puts it on paper."""
    return pypdfium2.PdfDocument(pdf)[0].render(scale=dpi / 72).to_pil().convert("L")


def text(pdf: bytes, page: int = 0) -> str:
    """All that can be read on a page."""
    return " ".join(pypdfium2.PdfDocument(pdf)[page].get_textpage().get_text_range().split())


def rules(pdf: bytes, n: int = 0) -> list[tuple[float, float, float, float]]:
    """Every line and bar: left, top, width, height in millimeters, from the upper left corner."""
    page = pypdfium2.PdfDocument(pdf)[n]
    found = []
    for each in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        left, bottom, right, top = (side / 72 * 25.4 for side in each.get_bounds())
        found.append((left, LETTER[1] - top, right - left, top - bottom))
    return found


def test_it_is_as_high_and_wide_as_it_was_drawn() -> None:
    """A row too low for handwriting, or a sheet whose last line falls off the page."""
    across = sorted({round(top, 1) for left, top, wide, _ in rules(sheet()) if wide > 189})
    heights = [22, 5, *[7] * 9, *[16] * 6, 15.5, 7, 9, 9, 7, 7]
    wanted, top = [], 12.7
    for high in heights:
        top += high
        wanted.append(top)
    wanted.remove(wanted[1])  # under the black bar the first line begins
    assert [each for each in wanted if not any(abs(each - other) < 0.2 for other in across)] == []
    assert across[-1] == pytest.approx(wanted[-1], abs=0.15)
    assert across[-1] <= 12.7 + 254


def blanks(pdf: bytes, top: float, high: float) -> list[float]:
    """Millimeters to write on, from left to right, on the line that begins at `top` of the drawing."""
    base = 12.7 + top + high - 1.5
    return [wide for left, at, wide, _ in sorted(rules(pdf)) if abs(at - base) < 0.3 and 4 < wide < 189]


def test_a_hand_has_room_on_the_lines_of_pump_and_air() -> None:
    """14.9 or 11:05 written into 6 mm is read as something else."""
    pump = blanks(sheet(), 27 + 6 * 7, 7)
    assert (len(pump), min(pump) >= 12) == (6, True), pump
    air = blanks(sheet(), 27 + 7 * 7, 7)
    assert (len(air), min(air[i] for i in (1, 2, 4, 5)) >= 10, min(air[0], air[3]) >= 12) == (9, True, True)


def columns(top: float, high: float, pdf: bytes, page: int = 0) -> list[float]:
    """Widths between the upright lines of a row that begins at `top` of the drawing."""
    found = [
        each for each in rules(pdf, page) if abs(each[1] - 12.7 - top) < 0.2 and abs(each[3] - high) < 0.2
    ]
    lefts = sorted({round(left, 2) for left, _, wide, _ in found if wide < 1})
    return [after - before for before, after in zip(lefts, [*lefts[1:], 12.7 + 190], strict=True)]


def test_a_row_has_room_for_number_kind_and_signatures() -> None:
    """Twelve characters in 30 mm, or a signature in 24, run into the next column."""
    sample, serial, kind, *_ = columns(27 + 9 * 7, 8, sheet())
    assert (sample >= 48, serial >= 20, kind >= 8) == (True, True, True)
    start, run, *_ = columns(27 + 9 * 7 + 8, 8, sheet())
    assert (start >= 15, run >= 11) == (True, True)
    boxes = [
        left for left, top, wide, high in rules(sheet())
        if wide < 0.5 and abs(top - 12.7 - 27 - 63 - 3) < 0.2 and abs(high - 5) < 0.2
    ]  # fmt: skip
    assert len(boxes) == 11, "between twelve characters"
    assert min(b - a for a, b in zip(sorted(boxes), sorted(boxes)[1:], strict=False)) >= 3.9
    for row in range(6):
        sign, date, time, _, _ = columns(22 + 9 * row, 9, sheet(), 1)
        assert (sign >= 40, date >= 24.8, time >= 14.8) == (True, True, True)


@pytest.mark.parametrize("paper", [LETTER, A4])
def test_it_prints_at_100_percent_on_letter_and_on_a4(paper: tuple[float, float]) -> None:
    """Scaled to fit, or cut at an edge, there is no room to write, and a column is gone."""
    pdf = sheet(page=20, pages=20, filled=dict.fromkeys(KNOWN, "w" * 60))
    for page in pypdfium2.PdfDocument(pdf):
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


def test_where_two_units_may_be_meant_both_stand_there_to_circle_one() -> None:
    """4 in the cell of a height is read as meters by one person and as feet by the next."""
    said = text(sheet())
    assert said.count("ft or m") == 2 * pen_sheet.LINES
    assert said.count("C or F") == 2
    assert "Circle the unit." in said


def test_everything_that_is_asked_stands_on_it() -> None:
    """A person with the sheet is asked for what it had no place for."""
    said = f"{text(sheet())} {text(sheet(), 1)}"
    assert "F7K3 M9Q2 XF4P" in said
    assert "sheet F7K3M9Q2XF4P-1, page 1 of 1" in said, "as enter-paper takes it"
    for letter, cells in {**pen_sheet.HEAD, **pen_sheet.FOOT}.items():
        assert f" {letter} " in f" {said} "
        for cell in cells:
            assert cell.caption in said, (letter, cell.column)
    for cell in pen_sheet.TABLE:
        assert cell.caption in said, cell.column
    for codes in (pen_sheet.ROOMS, pen_sheet.NEAR, pen_sheet.SKY, pen_sheet.WHERE):
        for key, code in codes.items():
            assert (key if key.lower() == code else f"{key} {code.replace('_', ' ')}") in said
    for ticked in (
        "normal off fan only none other", "none off running", "yes no", "indoor outdoor blank",
        "possession view locked restricted sealed",
    ):  # fmt: skip
        assert ticked in said
    for blank in ("client (kept private)", "site (kept private)", "lot number", "expires", "cassettes: type",
                  "envelope number", "custody seal number", "containers", "Collected by: name",
                  "receiving: on the back", "No label here", "contact (kept private)", "report to",
                  "carrier", "tracking number"):  # fmt: skip
        assert blank in said
    for known in KNOWN.values():
        assert known in said
    for rule in ("one line through it, initials, date; never overwrite", "Ink only", "One pump a page"):
        assert rule in said


def test_it_is_black_on_white() -> None:
    """Gray rules vanish in a copy, and colors on the office printer."""
    colors = picture(sheet(), 600).resize((1275, 1650), Image.Resampling.NEAREST).histogram()
    assert sum(colors[64:192]) < 0.1 * sum(colors[:64]), "edges of letters, and no more"


def test_each_page_says_which_it_is() -> None:
    """Two pages of six cassettes would be entered as one."""
    pdf = pen_form.pdf([PenSheet(FORM, ADDRESS, n, 2) for n in (1, 2)], AT)
    first, _, second, back = (text(pdf, n) for n in range(4))
    assert "sheet F7K3M9Q2XF4P-1, page 1 of 2" in first
    assert "sheet F7K3M9Q2XF4P-2, page 2 of 2" in second
    assert "sheet F7K3M9Q2XF4P-2, page 2 of 2, back" in back
    rows = [n for n in range(1, 14) if f" {n} sample:" in second or f" {n} start" in second]
    assert rows == pytest.approx([7, 8, 9, 10, 11, 12]), second
    assert pdf == pen_form.pdf([PenSheet(FORM, ADDRESS, n, 2) for n in (1, 2)], AT)


def test_a_dock_without_power_receives_on_the_back() -> None:
    """Seal and temperature as they were found would be told from memory the next day."""
    said = text(sheet(), 1)
    for each in (
        "custody seal number as read", "intact broken missing VOID showing",
        "temperature inside, circle C or F",
        "containers, how many", "cassettes, how many", "received by: name", "package", "entered by",
        "SHA-256 of the photograph of this sheet, first 16 characters",
        "cassettes intact cracked cover off wet label unreadable label missing opened not received",
        "which, remarks", "accepted on hold rejected reason",
        "firm called: who when decided by date, time",
    ):  # fmt: skip
        assert each in said
    assert "12 Invented Lane" not in said
    assert "--" not in said, "whoever writes by pen types nothing"


def test_an_organization_stands_there_by_its_name() -> None:
    """A dock looks for a firm, and reads an identifier."""
    said = text(sheet(names={"firm": "Harrow Field Inspection", "lab": "Quill Laboratory"}))
    assert "Harrow Field Inspection (harrow-field)" in said
    assert "Quill Laboratory (quill-lab)" in said
    long = text(sheet(names={"firm": "Harrow Field " * 9}))
    assert "harrow-field" in long
    assert "Harrow" not in long


def lots(*told: tuple[str, str, str | None]) -> list[Lot]:
    """Lots of a kit: kind of cassette, the maker's number, last day."""
    return [Lot("M" * 12, "harrow-field", n, kind, day, Decimal(15), 300, 4) for kind, n, day in told]


def test_lot_and_last_day_of_the_kit_are_printed_where_they_are_known() -> None:
    """Somebody in the dark copies the lot from a box, or uses an expired one that the ledger knew of."""
    known = pen_form.kit(
        lots(("slit", "42-0117", "2027-12"), ("circular", "39-0042", "2026-09-30")), date(2026, 12, 1)
    )
    pdf = sheet(filled=KNOWN | known)
    said = text(pdf)
    assert "cassettes: type slit, circular" in said
    assert "lot number 42-0117, 39-0042" in said
    assert "expires 2027-12-31, 2026-09-30 EXPIRED" in said
    (code,) = zxingcpp.read_barcodes(picture(pdf, 203), formats=zxingcpp.BarcodeFormat.QRCode)
    assert code.text == "HTTPS://LEDGER.EXAMPLE/F/F7K3M9Q2XF4P"
    assert pen_form.kit([], date(2026, 12, 1)) == {}
    many = pen_form.kit(lots(*[("slit", f"lot-{'w' * 12}-{n}", None) for n in range(6)]), date(2026, 12, 1))
    assert "lot-w" not in text(sheet(filled=many)), "no half of a list"


def test_what_has_no_room_is_left_to_the_pen() -> None:
    """A long project would be cut to another one, or the whole sheet refused in a power cut."""
    assert "w" * 10 not in text(sheet(filled={"project": "w" * 60}))
    assert "P-001" in text(sheet(filled={"project": "P-001"}))


def test_a_sheet_of_a_demonstration_says_so_on_both_sides() -> None:
    """Filled in, it could be shown to somebody as evidence."""
    mark = words.demo_in_latin("demo.custody.example")
    marked = sheet(demo=mark)
    assert [mark in text(marked, side) for side in (0, 1)] == [True, True]
    assert [mark in text(sheet(), side) for side in (0, 1)] == [False, False]
