"""Single labels, decoded by zxing-cpp from what a printer would print."""

import io
import re
from xml.etree import ElementTree as ET

import fpdf
import pytest
from hypothesis import given, settings
from label_scanner import LINES, label, numbers, opened, pages, rasterised, scan
from PIL import Image
from test_label_symbols import LONGEST_BASE

from bailee.errors import Malformed
from bailee.labels.single import envelope_png, envelope_svg, png, svg
from thorough import often

SVG = "{http://www.w3.org/2000/svg}"


def dark(picture: Image.Image, box: tuple[int, int, int, int]) -> int:
    """Count the dark pixels inside left, top, right, bottom."""
    return sum(picture.crop(box).convert("L").histogram()[:128])


def assert_whole_dots(
    picture: Image.Image, corners: tuple[int, int, int, int], modules: int, dots: int
) -> None:
    """Every module is a square of `dots` equal pixels, and four modules around the symbol are light."""
    left, top = corners[:2]
    side, quiet = modules * dots, 4 * dots
    symbol = picture.crop((left, top, left + side, top + side)).convert("L")
    small = symbol.resize((modules, modules), Image.Resampling.NEAREST)
    assert small.resize((side, side), Image.Resampling.NEAREST).tobytes() == symbol.tobytes()
    around = (left - quiet, top - quiet, left + side + quiet, top + side + quiet)
    assert around[0] >= 0
    assert around[1] >= 0
    assert dark(picture, around) == dark(picture, (left, top, left + side, top + side))


@pytest.mark.slow
@settings(max_examples=often(8, thorough=25))
@given(numbers("S"))
def test_small_label_is_read_back(number: str) -> None:
    """An inspector's phone would not read the cassette."""
    printed = label(number)
    for dpi in (203, 300):
        (seen,) = scan(opened(png(printed, dpi)))
        assert (seen.text, seen.unharmed) == (printed.url_text, True)
        assert seen.level in {"Q", "H"}


@pytest.mark.parametrize(
    ("dpi", "dots", "size"), [(203, 4, (400, 200)), (300, 5, (591, 295)), (600, 12, (1181, 591))]
)
def test_small_label_has_whole_dots(dpi: int, dots: int, size: tuple[int, int]) -> None:
    """A thermal printer would round modules to uneven widths, and cameras fail."""
    picture = opened(png(label(), dpi))
    assert (picture.mode, picture.size, picture.format) == ("1", size, "PNG")
    assert picture.info["dpi"] == pytest.approx((dpi, dpi), abs=0.05)
    (seen,) = scan(picture)
    assert_whole_dots(picture, seen.corners, 17 + 4 * seen.version, dots)


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_longest_address_fits_the_small_label(dpi: int) -> None:
    """An address that was accepted would later find no room on the label."""
    printed = label(base=LONGEST_BASE)
    (seen,) = scan(opened(png(printed, dpi)))
    assert seen.text == printed.url_text


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_widest_number_fits_the_small_label(dpi: int) -> None:
    """A number of wide letters could not be printed; the print run stops in its middle."""
    printed = label("S" + "W" * 11, base=LONGEST_BASE)
    assert [seen.text for seen in scan(opened(png(printed, dpi)))] == [printed.url_text]


def test_number_is_printed_beside_the_symbol() -> None:
    """With a scratched symbol nobody could tell which sample it is."""
    picture = opened(png(label(lines=())))
    (seen,) = scan(picture)
    beside = picture.crop((seen.corners[2] + 16, 0, picture.width, picture.height))
    other = opened(png(label("S7K3M9Q2XF4R", lines=()))).crop(
        (seen.corners[2] + 16, 0, picture.width, picture.height)
    )
    assert dark(beside, (0, 0, *beside.size)) > 500
    assert beside.tobytes() != other.tobytes()
    margin = (picture.width - 8, 0, picture.width, picture.height)
    assert dark(picture, margin) == 0


@pytest.mark.parametrize(("dpi", "smallest"), [(203, 3), (300, 5), (600, 9)])
def test_module_floor(dpi: int, smallest: int) -> None:
    """Labels would be printed that hand-held cameras do not read: 0.375 mm is our measured floor."""
    assert scan(opened(png(label(), dpi, module_dots=smallest)))
    with pytest.raises(Malformed) as caught:
        png(label(), dpi, module_dots=smallest - 1)
    assert caught.value.code == "label-module"


@pytest.mark.parametrize("dpi", [0, 72, 202, 204, 299, 1200])
def test_unknown_resolution_is_refused(dpi: int) -> None:
    """A label drawn for another printer would be scaled, and its modules blurred."""
    for draw in (png, envelope_png):
        with pytest.raises(Malformed) as caught:
            draw(label(), dpi)
        assert caught.value.code == "label-resolution"


def test_what_does_not_fit_is_refused() -> None:
    """A date would be cut off and read as another one."""
    for lines, size in [
        (("Use by 2027-03-31 " * 4,), (50, 25)),
        (LINES * 4, (50, 25)),
        (LINES, (50, 13)),
        (LINES, (15, 25)),
    ]:
        with pytest.raises(Malformed) as caught:
            png(label(lines=lines), size_mm=size)
        assert caught.value.code == "label-room"


def test_svg_is_in_millimeters() -> None:
    """The label would print at a size that depends on the program that opens it."""
    root = ET.fromstring(svg(label()))
    assert (root.attrib["width"], root.attrib["height"], root.attrib["viewBox"]) == (
        "50mm",
        "25mm",
        "0 0 500 250",
    )
    picture = rasterised(svg(label()))
    (seen,) = scan(picture)
    assert seen.text == label().url_text
    assert_whole_dots(picture, seen.corners, 17 + 4 * seen.version, 5)
    texts = [element.text for element in root.iter(f"{SVG}text")]
    assert texts == ["S7K3 M9Q2 XF4P", *LINES]


def test_svg_says_what_it_shows() -> None:
    """A person with a screen reader could not tell one label from another.

    A stray sign would break the file.
    """
    root = ET.fromstring(svg(label(lines=("Lot <A&B> \x07",))))
    named = root.attrib["aria-labelledby"].split()
    assert [root.find(f".//*[@id='{name}']").text for name in named] == [
        "S7K3 M9Q2 XF4P",
        "Number S7K3 M9Q2 XF4P. Lot <A&B>  ",
    ]


def test_svg_is_read_by_another_program() -> None:
    """Only our own drawing code could read the vectors: fpdf2 reads them here, PDFium renders them."""
    envelope = label("E4T8W2N6JH3R")
    for drawn, expected in [(svg(label()), label().url_text), (envelope_svg(envelope), envelope.url_text)]:
        width, height = (float(side) for side in re.findall(r'(?:width|height)="([\d.]+)mm"', drawn))
        document = fpdf.FPDF(unit="mm", format=(width, height))
        document.add_page()
        document.image(io.BytesIO(drawn.encode()), 0, 0, width, height)
        (page,) = pages(bytes(document.output()), 300)
        assert [seen.text for seen in scan(page)] == [expected]
