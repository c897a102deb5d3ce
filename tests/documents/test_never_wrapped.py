"""No number, seal, tracking number, time or measured value is divided between two lines, on any paper.

PDFium gives every printed line of a PDF as an object of its own.
"""

import ctypes
import re
from dataclasses import replace
from functools import cache
from itertools import pairwise

import pypdfium2
import pytest
from pypdfium2 import raw
from test_custody_record import long, record
from test_key_card import card
from test_pen_form import sheet as pen_form
from test_preparation_notice import AT, NOTICE

from bailee.documents import preparation_notice
from bailee.domain.numbers import grouped
from bailee.labels.alignment import alignment_pdf
from bailee.labels.drawing import Label
from bailee.labels.label_sizes import LEAST_SAMPLE
from bailee.labels.sheet import Layout, sheet_pdf
from bailee.labels.single import envelope_pdf, roll_pdf
from builders import Story, visit

pytestmark = pytest.mark.slow

DIVIDED = {
    "number": r"\b[SMFEC][0-9A-Z]{3} [0-9A-Z]{4} [0-9A-Z]{4}\b",
    "time": r"\b\d{4}-\d\d-\d\d \d\d:\d\d(?::\d\d)?(?: \([+-]\d\d:\d\d\))?",
    "other clock": r"\[\d\d:\d\d(?::\d\d)? \([+-]\d\d:\d\d\)\]",
    "day": r"\b\d{1,2} (?:November|December) \d{4}\b",
    "day, month first": r"\b(?:November|December) \d{1,2}, \d{4}\b",
    "half of the day": r"\b\d{1,2}:\d\d [ap]m\b",
    "hour": r"\b\d\d:\d\d \(\d{1,2}:\d\d [ap]m\)",
    "reading of the air": r"\b(?:In|Out)doors, (?:[\w-]+, )?\d{4}-\d\d-\d\d",
    "entry": r"\bentry \d+",
    "entries": r"\bentries \d+-\d+",
    "point of a sketch": r"\bPoint \d+\b",
    "value": r"\b\d+(?:\.\d+)? (?:L/min|L|h|min|s|mm|cm|m|ft|hPa|C|F|%|days?|hours?|minutes?)(?![\w/])",
}
"""What no line may end inside of."""

TRACKING = "1234567890" * 3 + "1234"


def printed_lines(pdf: bytes) -> list[str]:
    """Every line as it was set, cell after cell."""
    lines = []
    for page in pypdfium2.PdfDocument(pdf):
        layer = page.get_textpage()
        for each in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
            long = raw.FPDFTextObj_GetText(each.raw, layer.raw, None, 0)
            kept = ctypes.create_string_buffer(long)
            raw.FPDFTextObj_GetText(
                each.raw, layer.raw, ctypes.cast(kept, ctypes.POINTER(raw.FPDF_WCHAR)), long
            )
            lines.append(kept.raw.decode("utf-16-le").rstrip("\0").replace("\u00a0", " ").strip())
    return lines


def divided(lines: list[str], names: list[str]) -> list[str]:
    """What the lines hold whole only when they are read on into the next."""
    joined = "".join(lines).replace(" ", "")
    whole = [name.replace(" ", "") for name in names]
    return [
        f"{first} | {second}"
        for first, second in pairwise(lines)
        for pattern in DIVIDED.values()
        for each in re.finditer(pattern, f"{first} {second}")
        if each.start() < len(first) < each.end() - 1
    ] + [
        name
        for name in whole
        if not 0 < joined.count(name) == sum(line.replace(" ", "").count(name) for line in lines)
    ]


@cache
def widest() -> tuple[Story, bytes]:
    """A visit whose seal and tracking number are as long as they may be."""
    story = visit("collected")
    story.seal = "HF-" + "W" * 20 + "7"
    story.sealed()
    story.shipped(tracking=TRACKING)
    return story, record(story)


@pytest.mark.parametrize("stage", ["collected", "sealed", "shipped", "docked", "accepted"])
def test_a_record_divides_nothing(stage: str) -> None:
    """A number that ends on the next line is read as two, and a time without its offset as another."""
    story = visit(stage)
    names = [grouped(each) for each in (story.form, *(sample.number for sample in story.state().live))]
    assert divided(printed_lines(record(story)), names) == []


def test_a_record_of_many_pages_divides_nothing() -> None:
    """Long names beside them would squeeze times and numbers into two lines."""
    assert divided(printed_lines(long()), []) == []


def test_a_record_with_the_longest_seal_divides_nothing() -> None:
    """A seal of 24 characters would be compared by its first half."""
    story, pdf = widest()
    lines = printed_lines(pdf)
    assert divided(lines, [story.seal, TRACKING]) == []


@pytest.mark.parametrize(
    "paper", ["sheet", "roll", "least roll", "envelope", "test page", "key card", "pen form"]
)
def test_labels_and_cards_divide_nothing(paper: str) -> None:
    """A number of two lines on a label is read aloud as two numbers."""
    sample = Label(
        "SZEPEEXJ1T6S", "HTTPS://LEDGER.EXAMPLE/S/SZEPEEXJ1T6S", ("Lot ML-0001", "Expires 2027-11-30")
    )
    said = ("4 cassettes, 1 container", "Seal HF-20417", "Sealed 2026-11-29 10:35:09 (+09:00)")
    outside = Label("E70H7VR343Y9", "HTTPS://LEDGER.EXAMPLE/E/E70H7VR343Y9", said)
    pdf, names = {
        "sheet": lambda: (sheet_pdf([sample] * 31), ["SZEP EEXJ 1T6S", "2027-11-30", "ML-0001"]),
        "roll": lambda: (roll_pdf([sample]), ["SZEP EEXJ 1T6S", "2027-11-30", "ML-0001"]),
        "least roll": lambda: (roll_pdf([sample], size_mm=LEAST_SAMPLE), ["SZEP EEXJ 1T6S", "2027-11-30"]),
        "envelope": lambda: (envelope_pdf(outside), ["E70H 7VR3 43Y9", "HF-20417", said[2][7:]]),
        "test page": lambda: (alignment_pdf(Layout.A4_24.value, "a4-24"), ["100 mm", "4 in"]),
        "key card": lambda: (card(), ["XZC9 DZ11 1B2Z  V", "2026-11-29"]),
        "pen form": lambda: (pen_form(), ["F7K3 M9Q2 XF4P", "2026-12-01", "America/New_York"]),
    }[paper]()
    assert divided(printed_lines(pdf), names) == []


@pytest.mark.parametrize("words", range(24))
def test_a_notice_divides_nothing(words: int) -> None:
    """Occupants would read 24 at the end of a line and never learn of what."""
    notice = replace(
        NOTICE, site="yard " * words, contact=f"{'yard ' * words}1 December 2026 09:00 (9:00 am)"
    )
    assert divided(printed_lines(preparation_notice.pdf(notice, AT)), []) == []
    text = [line.strip() for line in preparation_notice.text(notice).splitlines()]
    assert divided(text, []) == []
    page = preparation_notice.html_page(notice)
    assert [each for pattern in DIVIDED.values() for each in re.findall(pattern, page)] == []
