"""Sheets of labels, rendered by PDFium at printer resolutions and decoded by zxing-cpp."""

import io
import time
from datetime import UTC, datetime

import pypdf
import pytest
from label_scanner import BASE, CROCKFORD, LINES, label, page_text, pages, placed_images, scan
from PIL import Image
from test_label_single import assert_whole_dots, dark
from test_label_symbols import LONGEST_BASE

from bailee.errors import Malformed
from bailee.labels.sheet import Layout, layout_named, sheet_pdf
from waiting import until

pytestmark = pytest.mark.slow  # left out between two saves of a file


def batch(count: int) -> list[str]:
    """Make different numbers, plainly invented."""
    return [f"S7K3M9Q2{CROCKFORD[i // 32]}{CROCKFORD[i % 32]}4P" for i in range(count)]


@pytest.mark.parametrize("name", ["letter-70", "a4-75"])
def test_a_sheet_of_small_labels_has_them_where_they_are_cut(name: str) -> None:
    """Labels of 38 x 19 mm would walk over the sheet, and the last row lies on its edge."""
    sheet = layout_named(name)
    assert sheet.label == (38, 19)
    right, bottom = (
        corner + side for corner, side in zip(sheet.corner_of(sheet.places - 1), sheet.label, strict=True)
    )
    printer = 4.2  # left white at an edge by an office printer (common practice, no source)
    assert min(*sheet.corner, sheet.paper[0] - right, sheet.paper[1] - bottom) >= printer
    labels = [label(number) for number in batch(sheet.places)]
    (page,) = pages(sheet_pdf(labels, sheet), 600)
    assert page.size == tuple(pytest.approx(side / 25.4 * 600, abs=1) for side in sheet.paper)
    where = {seen.text: seen.corners for seen in scan(page)}
    for place, printed in enumerate(labels):
        left, top, wide, high = (side * 25.4 / 600 for side in where[printed.url_text])
        x, y = sheet.corner_of(place)
        assert x + 1 <= left < wide <= x + 38 - 1, place
        assert y + 1 <= top < high <= y + 19 - 1, place
        assert (wide - left) / 29 >= 0.375, "millimeters of a module"


@pytest.mark.parametrize("layout", Layout)
@pytest.mark.parametrize("dpi", [203, 300])
def test_every_label_of_every_page_is_read_back(layout: Layout, dpi: int) -> None:
    """Some places of the sheet would carry symbols that do not scan, or the wrong number of labels."""
    places = layout.value.places
    labels = [label(number) for number in batch(places + 2)]
    read = [{seen.text: seen for seen in scan(page)} for page in pages(sheet_pdf(labels, layout.value), dpi)]
    assert [len(page) for page in read] == [places, 2]
    assert set(read[0]) | set(read[1]) == {printed.url_text for printed in labels}
    assert all(seen.level in {"Q", "H"} and seen.unharmed for page in read for seen in page.values())


@pytest.mark.parametrize("layout", Layout)
def test_modules_are_whole_dots_on_paper(layout: Layout) -> None:
    """An office printer of 300, 600 or 1200 dpi would resample the symbols and blur their edges.

    The file is judged, not a rendering: PDFium widens an image by a pixel where a float is a hair too large.
    """
    dot = 72 / 300
    images = placed_images(sheet_pdf([label(number) for number in batch(layout.value.places)], layout.value))
    assert len(images) == layout.value.places
    for picture, matrix in images:
        wide, _, _, high, left, bottom = (side / dot for side in matrix)
        assert (round(wide), round(high)) == picture.size == (29 * 6, 29 * 6)
        assert [wide, high, left, bottom] == pytest.approx(
            [round(s) for s in (wide, high, left, bottom)], abs=1e-3
        )
        paper = Image.new("L", (37 * 6, 37 * 6), 255)
        paper.paste(picture, (24, 24))
        assert_whole_dots(paper, (24, 24, 0, 0), 29, 6)


def test_quiet_zone_on_paper() -> None:
    """Print beside the symbol would keep a phone from finding it: ISO/IEC 18004 asks for
    four light modules.
    """
    (page,) = pages(sheet_pdf([label(number) for number in batch(30)]), 600)
    for seen in scan(page):
        left, top, right, bottom = seen.corners
        quiet, blur = 4 * 12, 2
        around = (left - quiet + blur, top - quiet + blur, right + quiet - blur, bottom + quiet - blur)
        symbol = (left - blur, top - blur, right + blur, bottom + blur)
        assert dark(page, around) == dark(page, symbol)


def test_an_address_too_long_for_a_small_label_is_refused() -> None:
    """A symbol cut at the edge of its label scans as nothing."""
    with pytest.raises(Malformed) as caught:
        sheet_pdf([label(base=LONGEST_BASE)], layout_named("letter-70"))
    assert caught.value.code == "label-room"


@pytest.mark.parametrize("layout", Layout)
def test_labels_stay_inside_their_places(layout: Layout) -> None:
    """Print would run over the edge of a die-cut label.

    The sheet's measures are common practice, no source.
    """
    sheet = layout.value
    base = BASE if sheet.label == (38, 19) else LONGEST_BASE
    (page,) = pages(sheet_pdf([label(n, base=base) for n in batch(sheet.places)], sheet), 300)
    ink = page.point(lambda gray: 255 if gray > 127 else 0)
    for place in range(sheet.places):
        row, column = divmod(place, sheet.columns)
        left = sheet.corner[0] + column * sheet.pitch[0]
        top = sheet.corner[1] + row * sheet.pitch[1]
        edges = [
            round(side * 300 / 25.4) for side in (left, top, left + sheet.label[0], top + sheet.label[1])
        ]
        whole = ink.crop(edges).histogram()[0]
        inside = ink.crop((edges[0] + 12, edges[1] + 12, edges[2] - 12, edges[3] - 12)).histogram()[0]
        assert whole == inside > 5000
        ink.paste(255, tuple(edges))
    assert ink.histogram()[0] == 0


def test_numbers_are_text() -> None:
    """A number could be neither searched for nor read aloud, and a smeared symbol would lose the sample."""
    pdf = sheet_pdf([label(number) for number in batch(31)])
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    printed = "\n".join(page.extract_text() for page in reader.pages)
    for number in batch(31):
        assert f"{number[:4]} {number[4:8]} {number[8:]}" in printed
    assert printed.count(LINES[0]) == printed.count(LINES[1]) == 31
    assert "S7K3 M9Q2 004P" in page_text(pdf)


def test_symbols_are_uninterpolated_one_bit_images() -> None:
    """A printer would smooth the symbols, or take minutes over a thousand small rectangles."""
    (page,) = pypdf.PdfReader(io.BytesIO(sheet_pdf([label(number) for number in batch(30)]))).pages
    images = [item.get_object() for item in page["/Resources"]["/XObject"].values()]
    assert len(images) == 30
    for image in images:
        assert (image["/Width"], image["/Height"], image["/BitsPerComponent"]) == (174, 174, 1)
        assert not image.get("/Interpolate", False)
    assert " re" not in page.get_contents().get_data().decode("latin-1")


@pytest.mark.parametrize("skip", [0, 1, 29])
def test_used_places_are_left_out(skip: int) -> None:
    """A half-used sheet would be printed over its empty places, or wasted."""
    printed = pages(sheet_pdf([label(number) for number in batch(2)], skip=skip), 203)
    found = [[(seen.text, seen.corners) for seen in scan(page)] for page in printed]
    assert [len(page) for page in found] == ([1, 1] if skip == 29 else [2])
    _, (left, top, _, _) = min(found[0], key=lambda seen: (seen[1][1] // 50, seen[1][0]))
    sheet = Layout.LETTER_30.value
    row, column = divmod(skip, sheet.columns)
    x = (sheet.corner[0] + column * sheet.pitch[0]) / 25.4 * 203
    y = (sheet.corner[1] + row * sheet.pitch[1]) / 25.4 * 203
    assert 0 < left - x < 40
    assert 0 < top - y < 60


@pytest.mark.parametrize(
    ("count", "skip", "code"), [(0, 0, "label-none"), (1, -1, "label-start"), (1, 30, "label-start")]
)
def test_impossible_sheets_are_refused(count: int, skip: int, code: str) -> None:
    """An empty sheet would be fed and thrown away."""
    with pytest.raises(Malformed) as caught:
        sheet_pdf([label(number) for number in batch(count)], skip=skip)
    assert caught.value.code == code


def test_same_labels_same_bytes() -> None:
    """Nobody could check that a sheet printed again is the sheet printed first."""
    labels = [label(number) for number in batch(3)]
    noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    first = sheet_pdf(labels, printed=noon), sheet_pdf(labels)
    drawn = int(time.time())
    until(lambda: int(time.time()) > drawn)  # the resolution of a PDF date is one second
    assert (sheet_pdf(labels, printed=noon), sheet_pdf(labels)) == first
    created = [pypdf.PdfReader(io.BytesIO(pdf)).metadata.creation_date for pdf in first]
    assert created == [noon, datetime(2000, 1, 1, tzinfo=UTC)]
