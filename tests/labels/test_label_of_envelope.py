"""The label outside on an envelope: decoded by zxing-cpp, rendered by PDFium and measured in millimeters."""

import pypdfium2
import pytest
from hypothesis import given, settings
from label_scanner import bars_in, label, numbers, opened, page_text, pages, scan
from PIL import Image
from test_label_single import assert_whole_dots, dark
from test_label_symbols import LONGEST_BASE

from bailee.errors import Malformed
from bailee.labels.single import envelope_pdf, envelope_png, envelope_svg
from thorough import often

LINES = ("4 cassettes, 1 container", "Seal HF-20417", "Sealed 2026-11-29 10:35 (+09:00)")
ENVELOPE = label("E70H7VR343Y9", LINES)
HEAD = "CUSTODY ENVELOPE - NOT A SHIPPING LABEL"
TO_DO = (
    "Open only at the addressee's dock.",
    "Read the seal first.",
    "Where it goes stands on the carrier's label.",
)


def rows_with_ink(picture: Image.Image, box: tuple[int, int, int, int]) -> list[tuple[int, int]]:
    """Give the bands of a picture that hold ink: first row, last row."""
    part = picture.crop(box).convert("L").point(lambda gray: 255 if gray < 128 else 0)
    inked = [part.crop((0, y, part.width, y + 1)).getbbox() is not None for y in range(part.height)]
    edges = [y for y in range(1, len(inked)) if inked[y] != inked[y - 1]]
    return [(edges[n], edges[n + 1] - 1) for n in range(0, len(edges) - 1, 2)]


@pytest.mark.slow
@settings(max_examples=often(4, thorough=10))
@given(numbers("E"))
def test_envelope_is_read_back(number: str) -> None:
    """The dock's scanner would read nothing, or a sorting machine would read our label as a carrier's: there
    is a QR code and no symbol besides.
    """
    printed = label(number, LINES)
    for dpi in (203, 300):
        picture = opened(envelope_png(printed, dpi))
        assert [seen.text for seen in scan(picture)] == [printed.url_text]
        assert bars_in(picture) == []


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_symbol_is_large_and_at_whole_dots(dpi: int) -> None:
    """Across a receiving bench a small or blurred code is not read: 21.5 to 24 mm, with light around it."""
    picture = opened(envelope_png(ENVELOPE, dpi))
    millimeter = dpi / 25.4
    assert picture.size == (round(100 * millimeter), round(60 * millimeter))
    (seen,) = scan(picture)
    modules, side = 17 + 4 * seen.version, seen.corners[2] - seen.corners[0]
    assert 21.5 <= side / millimeter <= 24.01
    assert_whole_dots(picture, seen.corners, modules, round(side / modules))


def test_head_is_white_on_black() -> None:
    """Somebody in a mail room would take the label for a carrier's and cover it, or sort by it."""
    (page,) = pages(envelope_pdf(ENVELOPE), 300)
    millimeter = 300 / 25.4
    bar = tuple(round(side * millimeter) for side in (4.2, 3.2, 95.8, 11.8))
    ink = dark(page, bar) / ((bar[2] - bar[0]) * (bar[3] - bar[1]))
    assert 0.75 < ink < 0.97, "black, with letters left white in it"
    assert all(dark(page, (x, bar[1], x + 8, bar[3])) == 8 * (bar[3] - bar[1]) for x in (bar[0], bar[2] - 8))
    assert HEAD in page_text(envelope_pdf(ENVELOPE))


@pytest.mark.parametrize("number", ["E70H7VR343Y9", "EWWWWWWWWWWW", "E11111111111"])
def test_number_stands_on_one_line(number: str) -> None:
    """A number of three lines is read aloud as three numbers; one too wide would be cut off."""
    pdf = envelope_pdf(label(number, LINES))
    assert f"{number[:4]} {number[4:8]} {number[8:]}" in page_text(pdf).splitlines()
    (page,) = pages(pdf, 300)
    millimeter = 300 / 25.4
    row = tuple(round(side * millimeter) for side in (0, 12.2, 100, 25.2))
    ((first, last),) = rows_with_ink(page, row)
    assert 5 <= (last - first + 1) / millimeter <= 8.4
    assert dark(page, (0, row[1], round(3.9 * millimeter), row[3])) == 0
    assert dark(page, (round(96.1 * millimeter), row[1], page.width, row[3])) == 0


def test_page_is_the_label() -> None:
    """A page of another size is scaled to the label by the printer, or printed on two."""
    pdf = envelope_pdf(ENVELOPE)
    width, height = (side / 72 * 25.4 for side in pypdfium2.PdfDocument(pdf)[0].get_size())
    assert (width, height) == (pytest.approx(100, abs=0.1), pytest.approx(60, abs=0.1))


@pytest.mark.parametrize("dpi", [203, 300])
def test_envelope_page_is_read_back(dpi: int) -> None:
    """An office printer would turn the label into something no scanner reads."""
    (page,) = pages(envelope_pdf(ENVELOPE), dpi)
    assert [seen.text for seen in scan(page)] == [ENVELOPE.url_text]
    assert bars_in(page) == []


def test_envelope_page_says_only_what_it_was_given() -> None:
    """The outside of an envelope would tell a stranger more than number, counts, seal and time, or look like
    a transport label by an address, a mark or an arrow.
    """
    words = page_text(envelope_pdf(ENVELOPE)).split()
    assert words == " ".join((HEAD, "E70H 7VR3 43Y9", *LINES, *TO_DO)).split()
    drawn = envelope_svg(ENVELOPE)
    assert (drawn.count("<path"), drawn.count("<image")) == (1, 0), "the QR code is the only drawing"


@pytest.mark.parametrize("size", [(100, 60), (102, 152), (76, 51), (60, 40), (100, 50)])
def test_other_sizes_keep_the_make_up(size: tuple[int, int]) -> None:
    """Whoever has another roll would get another label, which the dock does not know."""
    pdf = envelope_pdf(ENVELOPE, size_mm=size)
    assert page_text(pdf).split() == page_text(envelope_pdf(ENVELOPE)).split()
    (page,) = pages(pdf, 300)
    assert [seen.text for seen in scan(page)] == [ENVELOPE.url_text]
    edge = round(1.5 * 300 / 25.4)
    inside = (edge, edge, page.width - edge, page.height - edge)
    assert dark(page, inside) == dark(page, (0, 0, *page.size)) > 5000


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_envelope_takes_the_longest_address_and_seal(dpi: int) -> None:
    """An address or a seal that was accepted would later find no room on the envelope."""
    lines = ("500 cassettes, 20 containers", "Seal " + "W" * 24, "Sealed 2026-11-29 10:35 (+09:00)")
    printed = label("E" + "W" * 11, lines, LONGEST_BASE)
    assert [seen.text for seen in scan(opened(envelope_png(printed, dpi)))] == [printed.url_text]


def test_before_it_is_sealed_the_label_says_no_count() -> None:
    """A label printed for an envelope still open would claim a seal."""
    words = page_text(envelope_pdf(label("E70H7VR343Y9", ()))).split()
    assert words == " ".join((HEAD, "E70H 7VR3 43Y9", *TO_DO)).split()


def test_what_does_not_fit_is_refused() -> None:
    """A seal number would be cut off and compared with another one."""
    for lines, size in [(LINES * 4, (100, 60)), (("Seal " + "W" * 60,), (100, 60)), (LINES, (40, 25))]:
        with pytest.raises(Malformed) as caught:
            envelope_png(label("E70H7VR343Y9", lines), size_mm=size)
        assert caught.value.code in {"label-room", "label-module"}


def test_page_sets_other_scripts() -> None:
    """A lot number with a letter outside Latin-1 would stop the printing or come out as a question mark."""
    printed = label("E4T8W2N6JH3R", ("Partia Łódź 7", "Receive by 17:00 \N{MINUS SIGN}05:00"))
    assert "Partia Łódź 7" in page_text(envelope_pdf(printed))
    assert "\N{MINUS SIGN}05:00" in page_text(envelope_pdf(printed))
