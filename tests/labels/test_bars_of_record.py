"""The envelope's number in bars at the head of its custody record, read back from the page by ZXing.

A dock's older hand scanners read bars and no QR code.
"""

from functools import cache

import pypdfium2
import pytest
from label_scanner import page_text, pages, scan_bars
from PIL import Image

from bailee.documents import custody_record
from bailee.documents.letter import HEIGHT, MARGIN, WIDTH
from bailee.domain.numbers import grouped
from bailee.labels.symbols import code128
from bailee.presentation import words
from bailee.presentation.words import Heading
from builders import DAY, Story, visit

pytestmark = pytest.mark.slow

DPI = 300
MM = DPI / 25.4
MODULE = 4
"""Dots at 300 to the inch: 0.34 mm."""


def record(story: Story) -> bytes:
    """The PDF of a story's form; what the rules find stands below the head and is left out."""
    case = story.case()
    return custody_record.pdf(case.forms[story.form], case, [], [], case.at)


@cache
def plain() -> bytes:
    """The record of a faultless visit."""
    return record(visit("accepted"))


def head(pdf: bytes) -> Image.Image:
    """The first page as a printer of 300 dots to the inch has it."""
    return pages(pdf, DPI)[0]


def in_two_envelopes() -> Story:
    """One sample of three goes into an envelope of its own."""
    story = visit("kept")
    story.sealed(story.samples[1:3])
    other, seal = story.number("envelope"), story.number("seal")
    story.sealed(story.samples[:1], envelope=other, seal=seal, at=f"{DAY}T14:10:00-05:00", total=1)
    return story


@pytest.mark.parametrize("step", ["sealed", "shipped", "accepted"])
def test_the_bars_are_the_number_of_the_envelope(step) -> None:
    """The desk would open another envelope than the paper's, and bars on a later page would be scanned for
    this one.
    """
    story = visit(step)
    first, *others = pages(record(story), DPI)
    assert [said for said, _ in scan_bars(first)] == [story.envelope]
    assert [scan_bars(page) for page in others] == [[] for _ in others]


def test_the_bars_are_large_sharp_and_stand_alone() -> None:
    """A worn scanner passes over bars that are low, fine, blurred or close to other print."""
    page, story = head(plain()), visit("accepted")
    ((_, (left, top, right, bottom)),) = scan_bars(page)
    modules = code128(story.envelope).modules
    wide, quiet = len(modules) * MODULE, 10 * MODULE
    assert MODULE / MM >= 0.25
    assert right - left == pytest.approx(wide, abs=2)
    assert (wide + 2 * quiet) / MM <= 90
    middle = (top + bottom) // 2
    first = next(x for x in range(left - 3, left + 4) if page.getpixel((x, middle)) < 128)
    expected = [255] * quiet + [255 * (m == "0") for m in modules for _ in range(MODULE)] + [255] * quiet
    rows = [
        y
        for y in range(top - 40, bottom + 40)
        if [page.getpixel((x, y)) for x in range(first - quiet, first + wide + quiet)] == expected
    ]
    assert rows == list(range(rows[0], rows[-1] + 1))
    assert len(rows) / MM >= 10
    assert min(first - quiet, rows[0]) >= MARGIN * MM
    assert first + wide + quiet <= (WIDTH - MARGIN) * MM
    assert rows[-1] <= (HEIGHT - MARGIN) * MM


def test_the_number_stands_below_its_bars() -> None:
    """Where the scanner fails the number is typed, and the form's beside it is the wrong one."""
    page = pypdfium2.PdfDocument(plain())[0]
    number = visit("accepted").envelope
    ((_, (left, _, right, bottom)),) = scan_bars(head(plain()))
    layer = page.get_textpage()
    start, count = layer.search(f"Envelope {grouped(number)}").get_next()
    boxes = [layer.get_charbox(start + i) for i in range(count)]
    high = (page.get_height() - max(box[3] for box in boxes)) / 72 * DPI
    assert 0 < high - bottom < 3 * MM
    assert left - MM < boxes[0][0] / 72 * DPI
    assert boxes[-1][2] / 72 * DPI < right


def test_before_an_envelope_is_on_record_there_are_no_bars() -> None:
    """Bars of any other number would be scanned as the envelope's."""
    assert scan_bars(head(record(visit("kept")))) == []


def test_of_two_envelopes_neither_has_bars() -> None:
    """The desk would scan the one that is printed for the other, which is in hand."""
    story = in_two_envelopes()
    assert len(story.state().envelopes) == 2
    assert scan_bars(head(record(story))) == []


def test_the_bars_take_no_room_from_the_record() -> None:
    """A record would grow by a page over a scanner's convenience."""

    def below(pdf: bytes) -> float:
        layer = pypdfium2.PdfDocument(pdf)[0].get_textpage()
        place = layer.search(Heading.LABORATORY).get_next()
        return float(layer.get_charbox(place[0])[1])

    assert below(plain()) == pytest.approx(below(record(visit("kept"))))


def test_the_widest_head_leaves_the_bars_their_quiet_zone(monkeypatch: pytest.MonkeyPatch) -> None:
    """The form's number or a long time zone would run into the bars, and nothing would be read."""
    longest = words.local_time("ComodRivadavia")
    story = visit("sealed", opened={"zone": "America/Argentina/ComodRivadavia"})
    monkeypatch.setattr("bailee.documents.custody_record.grouped", lambda n: f"{n[0]}WWW WWWW WWWW")
    pdf = record(story)
    assert longest in page_text(pdf)
    page = head(pdf)
    ((_, (left, top, _, bottom)),) = scan_bars(page)
    assert page.crop((left - 10 * MODULE, top, left - 1, bottom)).getextrema() == (255, 255)
    layer = pypdfium2.PdfDocument(pdf)[0].get_textpage()
    zone, count = layer.search(longest).get_next()
    assert layer.get_charbox(zone + count - 1)[2] / 72 * DPI < left - MM
