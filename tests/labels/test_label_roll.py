"""Labels on a roll and the page to set a printer by: measured in millimeters, decoded by zxing-cpp."""

import io

import pypdf
import pypdfium2
import pytest
from label_scanner import label, page_text, pages, scan
from PIL import Image
from pypdfium2 import raw
from test_label_sheet import batch

from bailee.errors import Malformed
from bailee.labels import label_sizes
from bailee.labels.alignment import alignment_pdf, one_label
from bailee.labels.sheet import Layout, Sheet, sheet_pdf
from bailee.labels.single import roll_pdf

pytestmark = pytest.mark.slow  # left out between two saves of a file

MM = 72 / 25.4
SIZES = [(50, 25), (38, 19), (57.5, 32), (76, 51), (100, 50), (100, 60)]


def ink(page: Image.Image) -> Image.Image:
    """What is dark, white on black, as `getbbox` wants it."""
    return page.point(lambda gray: 255 if gray < 128 else 0)


def dark(page: Image.Image) -> int:
    """How many pixels are dark."""
    return ink(page).histogram()[255]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_a_page_is_a_label(size: tuple[float, float], dpi: int) -> None:
    """A page larger or smaller than the label walks along the roll: the tenth print lies between two."""
    reader = pypdf.PdfReader(io.BytesIO(roll_pdf([label(n) for n in batch(3)], dpi, size_mm=size)))
    assert len(reader.pages) == 3
    for page in reader.pages:
        for box in (page.mediabox, page.cropbox, page.trimbox):
            assert (box.left, box.bottom) == (0, 0)
            assert float(box.width) / MM == pytest.approx(size[0], abs=0.1)
            assert float(box.height) / MM == pytest.approx(size[1], abs=0.1)


def test_nobody_is_to_scale_it() -> None:
    """A print dialog that fits pages to paper makes symbols of part dots, and labels that walk."""
    for pdf in (roll_pdf([label()]), sheet_pdf([label()]), alignment_pdf(Layout.A4_24.value, "a4-24")):
        assert pypdf.PdfReader(io.BytesIO(pdf)).root_object["/ViewerPreferences"]["/PrintScaling"] == "/None"


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("dpi", [203, 300])
def test_labels_come_in_the_order_of_issue_and_are_read_back(size: tuple[float, float], dpi: int) -> None:
    """Who sticks them one after the other on numbered boxes would stick them on others."""
    labels = [label(number) for number in reversed(batch(5))]
    for printer in (203, 300):
        read = [scan(page) for page in pages(roll_pdf(labels, printer, size_mm=size), dpi)]
        assert [[seen.text for seen in page] for page in read] == [[each.url_text] for each in labels]


def test_a_label_of_100_x_50_mm_is_read_from_further_off() -> None:
    """Who buys large labels for a shelf gets a symbol and a number of a thumbnail's size in a corner."""
    for dpi in (203, 300, 600):
        for size, least in (((50, 25), 0.41), ((100, 50), 0.82)):
            (page,) = pages(roll_pdf([label()], dpi, size_mm=size), dpi)
            (seen,) = scan(page)
            module = (seen.corners[2] - seen.corners[0]) / 29 / dpi * 25.4
            assert module >= least, (dpi, size)
            assert page.size == tuple(pytest.approx(side / 25.4 * dpi, abs=2) for side in size)


def test_the_least_label_is_read_by_hand_held_cameras() -> None:
    """A module below 0.375 mm is not read in poor light; nor is a symbol without 4 light modules around."""
    for dpi, least in ((203, 3), (300, 5), (600, 9)):
        (page,) = pages(roll_pdf([label()], dpi, size_mm=label_sizes.LEAST_SAMPLE), dpi)
        (seen,) = scan(page)
        module = (seen.corners[2] - seen.corners[0]) / 29
        assert seen.version == 3
        assert module >= least - 0.1
        around = (
            seen.corners[0],
            seen.corners[1],
            page.width - seen.corners[2],
            page.height - seen.corners[3],
        )
        assert min(around) >= 4 * least - 1


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_a_roll_may_be_off_by_a_millimeter(size: tuple[float, float], dpi: int) -> None:
    """A roll runs a little aside, and the symbol or the last digit is on the backing paper."""
    plain, *moved = (
        pages(roll_pdf([label()], dpi, size_mm=size, shift_mm=by), 300)[0]
        for by in [(0, 0), (1, 1), (-1, -1), (1, -1), (-1, 1)]
    )
    left, top, right, bottom = ink(plain).getbbox()
    millimeter = 300 / 25.4
    assert min(left, top, plain.width - right, plain.height - bottom) >= millimeter
    for page in moved:
        assert dark(page) == pytest.approx(dark(plain), rel=0.02)
        assert len(scan(page)) == 1


@pytest.mark.parametrize("layout", Layout)
@pytest.mark.parametrize("shift", [(1, 1), (-1, -1), (1, -1), (-1, 1)])
def test_a_sheet_may_be_off_by_a_millimeter(layout: Layout, shift: tuple[float, float]) -> None:
    """A printer feeds a little aside, and print runs over into the next label."""
    sheet = layout.value
    labels = [label(number) for number in batch(sheet.places)]
    (page,) = pages(sheet_pdf(labels, sheet, shift_mm=shift), 300)
    (plain,) = pages(sheet_pdf(labels, sheet), 300)
    boxes = [
        tuple(round(side * 300 / 25.4) for side in (x, y, x + sheet.label[0], y + sheet.label[1]))
        for x, y in map(sheet.corner_of, range(sheet.places))
    ]
    for box in boxes:
        assert dark(page.crop(box)) == pytest.approx(dark(plain.crop(box)), rel=0.02)
        page.paste(255, box)
    assert dark(page) == 0
    moved, still = (
        min(scan(p), key=lambda seen: seen.text)
        for p in (*pages(sheet_pdf(labels, sheet, shift_mm=shift), 300), plain)
    )
    by = [(a - b) / 300 * 25.4 for a, b in zip(moved.corners, still.corners, strict=True)]
    assert by == [pytest.approx(way, abs=2 * 25.4 / 300) for way in (*shift, *shift)]


@pytest.mark.parametrize(
    "text", ["37x19", "38x18", "50", "50 x 25", "50x25mm", "-50x25", "301x30", "", "５０x25"]
)
def test_a_size_no_label_can_have_is_answered_in_a_sentence(text: str) -> None:
    """A label too small comes out cut, and who typed the size learns nothing of it."""
    with pytest.raises(Malformed) as caught:
        label_sizes.read_size(text, label_sizes.LEAST_SAMPLE)
    assert caught.value.code == "label-size"
    assert caught.value.sentence == (
        f"This label cannot be {text!r}: write width x height in millimeters, like 50x25, at least 38x19"
        " and at most 300x300."
    )


@pytest.mark.parametrize("text", ["1", "0.6", "0.6,-0.4mm", "6,0", "0,-5.1", "1;1", "", "nan,0"])
def test_a_shift_that_is_none_is_answered_in_a_sentence(text: str) -> None:
    """A slip would move all labels off the sheet."""
    with pytest.raises(Malformed) as caught:
        label_sizes.read_shift(text)
    assert caught.value.code == "label-shift"


def test_what_is_typed_is_what_is_measured() -> None:
    """Width for height, or right for left, would be found on the paper."""
    assert label_sizes.read_size("57.5x32", label_sizes.LEAST_SAMPLE) == (57.5, 32)
    assert label_sizes.read_shift("0.6,-0.4") == (0.6, -0.4)


@pytest.mark.parametrize("sheet", [*(each.value for each in Layout), one_label((102, 51))])
def test_rulers_and_frames_measure_true(sheet: object) -> None:
    """Who sets a printer by a wrong ruler prints every label wrong."""
    pdf = alignment_pdf(sheet, "example")
    name = "" if sheet.places == 1 else "example: "
    assert f"{name}{sheet.label[0]:g} x {sheet.label[1]:g} mm" in page_text(pdf), "whose test page it is"
    assert "Print at 100 %." in page_text(pdf)
    (page,) = pages(pdf, 600)
    millimeter = 600 / 25.4
    assert page.size == tuple(pytest.approx(side * millimeter, abs=3) for side in sheet.paper)
    left, top = sheet.corner_of(0)
    x, y = round((left + sheet.label[0] / 2) * millimeter), round((top + sheet.label[1] - 1) * millimeter)
    assert ink(page).getpixel((x, round((top + 0.1) * millimeter))) == 255, "no frame at its upper edge"
    assert ink(page).getpixel((x, y)) == 0
    narrow = sheet.paper[0] < 120
    middle = sheet.corner_of(sheet.rows // 2 * sheet.columns)[1] + sheet.label[1] / 2
    for base, length in (
        (middle - 1.5, 80 if narrow else 100),
        (middle + 5.5, 76.2 if narrow else 101.6),
    ):
        row = page.crop((0, round(base * millimeter), page.width, round(base * millimeter) + 1))
        inside = ink(row).load()
        marks = [x for x in range(row.width) if inside[x, 0]]
        edges = [sheet.paper[0] / 2 - length / 2, sheet.paper[0] / 2 + length / 2]
        for edge in edges:
            assert min(abs(x / millimeter - edge) for x in marks) < 0.25


@pytest.mark.parametrize("sheet", [each.value for each in Layout])
def test_no_frame_runs_through_a_ruler(sheet: Sheet) -> None:
    """A line of a frame beside a tick is read as the tick, and the printer set by a millimeter too much."""
    (page,) = pages(alignment_pdf(sheet, "example"), 600)
    millimeter, middle = 600 / 25.4, sheet.corner_of(sheet.rows // 2 * sheet.columns)[1] + sheet.label[1] / 2
    left, right = (sheet.paper[0] / 2 + side * 51 for side in (-1, 1))
    for y in (middle - 6.6, middle + 6.5):  # above the caption of the upper one, under the lower one
        box = [round(side * millimeter) for side in (left, y, right, y + 0.3)]
        assert dark(page.crop(box)) == 0, y
    for place in ((sheet.rows // 2 + 1) * sheet.columns, sheet.places - 1):
        x, y = sheet.corner_of(place)
        corner = round((x + sheet.label[0] / 2) * millimeter), round((y + 0.1) * millimeter)
        assert ink(page).getpixel(corner) == 255, "all others are framed"


@pytest.mark.parametrize("size", [(38, 19), (50, 25), (57, 32), (102, 51)])
def test_words_of_a_small_test_page_lie_apart(size: tuple[float, float]) -> None:
    """On the smallest roll the size would be printed into the ruler and the cross hairs."""
    page = pypdfium2.PdfDocument(alignment_pdf(one_label(size), "roll"))[0]
    words = [each.get_bounds() for each in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT])]
    lines = [each.get_bounds() for each in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH])]
    whole = [each for each in lines if each[2] - each[0] < 0.9 * page.get_width()]
    assert len(words) == 3
    for n, one in enumerate(words):
        for other in (*words[:n], *whole):
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            assert apart, (one, other)


@pytest.mark.parametrize("size", [(38, 19), (50, 25), (102, 51)])
def test_cross_hairs_stay_on_a_label_that_is_shifted(size: tuple[float, float]) -> None:
    """Who looks for a cross hair that fell off the label sets the printer by nothing."""
    for shift in [(0, 0), (1, 1), (-1, -1)]:
        (page,) = pages(alignment_pdf(one_label(size), "roll", shift_mm=shift), 300)
        millimeter, off = 300 / 25.4, min(6, size[1] / 6)
        for x in (off, size[0] - off):
            for y in (off, size[1] - off):
                middle = round((x + shift[0]) * millimeter), round((y + shift[1]) * millimeter)
                box = (middle[0] - 3, middle[1] - 3, middle[0] + 4, middle[1] + 4)
                assert dark(page.crop(box)) >= 7, (x, y, shift)
