"""Single labels, decoded by zxing-cpp from what a printer would print."""

import io
import re
from xml.etree import ElementTree as ET

import fpdf
import pytest
from hypothesis import given, settings
from label_scanner import LINES, label, numbers, opened, page_text, pages, rasterised, scan, scan_bars
from PIL import Image
from test_label_symbols import LONGEST_BASE

from bailee.errors import Malformed
from bailee.labels.single import envelope_pdf, envelope_png, envelope_svg, png, svg
from thorough import often

ENVELOPE_LINES = ("3 samples + 1 outdoor control", "Seal K0042917", "Receive by 2026-03-04 17:00 (-05:00)")
ENVELOPE = label("E4T8W2N6JH3R", ENVELOPE_LINES)
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
        (LINES, (50, 15)),
        (LINES, (15, 25)),
    ]:
        with pytest.raises(Malformed) as caught:
            png(label(lines=lines), size_mm=size)
        assert caught.value.code == "label-room"
    with pytest.raises(Malformed) as caught:
        envelope_png(label("E4T8W2N6JH3R", ENVELOPE_LINES * 4))
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
    for drawn, expected in [(svg(label()), label().url_text), (envelope_svg(ENVELOPE), ENVELOPE.url_text)]:
        width, height = (float(side) for side in re.findall(r'(?:width|height)="([\d.]+)mm"', drawn))
        document = fpdf.FPDF(unit="mm", format=(width, height))
        document.add_page()
        document.image(io.BytesIO(drawn.encode()), 0, 0, width, height)
        (page,) = pages(bytes(document.output()), 300)
        assert [seen.text for seen in scan(page)] == [expected]


@pytest.mark.slow
@settings(max_examples=often(4, thorough=10))
@given(numbers("E"))
def test_envelope_is_read_back(number: str) -> None:
    """The dock could scan neither of the two symbols, or they would disagree."""
    printed = label(number, ENVELOPE_LINES)
    for dpi in (203, 300):
        picture = opened(envelope_png(printed, dpi))
        assert [seen.text for seen in scan(picture)] == [printed.url_text]
        assert [text for text, _ in scan_bars(picture)] == [number]


@pytest.mark.parametrize(("dpi", "dots"), [(203, 3), (300, 5), (600, 11)])
def test_envelope_bars_are_wide_and_high_enough(dpi: int, dots: int) -> None:
    """A hand scanner held at an angle would miss the bars: at least 0.375 mm a module, 16 mm high, 90 mm wide
    at most.
    """
    picture = opened(envelope_png(ENVELOPE, dpi))
    millimeter = dpi / 25.4
    assert picture.size == (round(102 * millimeter), round(152 * millimeter))
    ((text, (left, top, right, bottom)),) = scan_bars(picture)
    assert text == ENVELOPE.number
    assert dots / millimeter >= 0.375
    # 12 characters of code set B, start, check (11 modules each) and stop (13), ISO/IEC 15417 4.2, from
    # memory.
    width, quiet = (14 * 11 + 13) * dots, 10 * dots
    assert right - left == pytest.approx(width, abs=1)
    assert width + 2 * quiet <= 90 * millimeter
    assert bottom - top >= 16 * millimeter
    assert dark(picture, (left - quiet, top, left, bottom)) == 0
    assert dark(picture, (left + width, top, left + width + quiet, bottom)) == 0
    row = picture.crop((left, top, left + width, top + 1))
    stretched = row.resize((width // dots, 1), Image.Resampling.NEAREST).resize(
        (width, 1), Image.Resampling.NEAREST
    )
    assert stretched.tobytes() == row.tobytes()
    (seen,) = scan(picture)
    side = 17 + 4 * seen.version
    module = round((seen.corners[2] - seen.corners[0]) / side)
    assert_whole_dots(picture, seen.corners, side, module)


def test_envelope_takes_the_longest_address() -> None:
    """An address that was accepted would later find no room on the envelope."""
    printed = label("E" + "W" * 11, ENVELOPE_LINES, LONGEST_BASE)
    picture = opened(envelope_png(printed))
    assert [seen.text for seen in scan(picture)] == [printed.url_text]
    assert [text for text, _ in scan_bars(picture)] == [printed.number]


@pytest.mark.parametrize("dpi", [203, 300])
def test_envelope_page_is_read_back(dpi: int) -> None:
    """An office printer would turn the label into something no scanner reads."""
    (page,) = pages(envelope_pdf(ENVELOPE), dpi)
    assert [seen.text for seen in scan(page)] == [ENVELOPE.url_text]
    assert [text for text, _ in scan_bars(page)] == [ENVELOPE.number]


def test_envelope_page_says_only_what_it_was_given() -> None:
    """The outside of an envelope would tell a stranger more than number, counts, seal and time."""
    words = page_text(envelope_pdf(ENVELOPE)).split()
    number = ["E4T8", "W2N6", "JH3R"]
    assert words == [*number, *" ".join(ENVELOPE_LINES).split(), *number]


def test_page_sets_other_scripts() -> None:
    """A lot number with a letter outside Latin-1 would stop the printing or come out as a question mark."""
    printed = label("E4T8W2N6JH3R", ("Partia Łódź 7", "Receive by 17:00 \N{MINUS SIGN}05:00"))
    assert "Partia Łódź 7" in page_text(envelope_pdf(printed))
    assert "\N{MINUS SIGN}05:00" in page_text(envelope_pdf(printed))
