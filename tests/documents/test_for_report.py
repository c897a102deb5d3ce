"""What a laboratory's report takes over, by the letters of ISO/IEC 17025:2017 7.8.2.1, read off the page."""

import re
from functools import cache
from typing import Any

import pypdfium2
import pytest
from pypdfium2 import raw
from test_custody_record import SITE, prints_on_letter_and_a4, text
from test_never_wrapped import divided, printed_lines

from bailee.documents import for_report
from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.presentation.form_view import form_view
from bailee.rules.registry import evaluate
from builders import Story, visit

pytestmark = pytest.mark.slow


def page(story: Story, log: str = "") -> bytes:
    """The page of a story's form."""
    case = story.case()
    found = evaluate(case)
    return for_report.pdf(form_view(case.forms[story.form], case, found), found, case.at, log)


@cache
def clauses(**changes: Any) -> dict[str, str]:
    """What stands under each letter, for a visit whose client is disclosed."""
    told = {"client": "Perpetua Example", "site": SITE, "contact": "555-0137"}
    read = text(page(visit("accepted", opened={"disclosed": told, "plan": "PLAN-7"})))
    parts = re.split(r"(?<!\S)([efghkn])\) ", read)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


@pytest.mark.parametrize(
    ("letter", "said"),
    [
        ("e", "Harrow Field Sampling (example)"),
        ("e", "Perpetua Example"),
        ("e", "555-0137"),
        ("f", "Analysis asked for: direct-exam"),
        ("g", "SZEP EEXJ 1T6S"),
        ("g", "Q-ZEPEE"),
        ("g", "indoor, complaint slit cassette lot ML-0001 expires 2027-11-30 serial G-000001"),
        ("g", "74.75 L at 14.95 L/min"),
        ("g", "accepted intact"),
        ("h", "SZEP EEXJ 1T6S 2026-12-01 09:12 (-05:00) 300 s 2026-12-02 11:40 (-05:00) [10:40 (-06:00)]"),
        ("k", "Sampling plan: PLAN-7; method of sampling: spore-trap"),
        ("k", "Pump PUMP-1, flow read on METER-1"),
        ("k", "9.0 °C (48 °F), 70 % relative humidity"),
        ("n", "None on record"),
    ],
)
def test_each_item_stands_under_its_letter(letter: str, said: str) -> None:
    """The laboratory would look for it in three papers, and leave it out of its report."""
    assert said in clauses()[letter]


def test_deviations_of_all_kinds_are_under_n() -> None:
    """A report without the broken seal and without the exception reads like one of a faultless visit."""
    story = visit("shipped")
    story.docked(dock={"seal_state": "broken"})
    story.accepted(qualified=True, reasons=["seal"])
    read = text(page(story)).partition("n) ")[2]
    assert "RC-01" in read
    assert grouped(story.samples[0]) in read
    bare = Story()
    bare.lot()
    bare.opened()
    bare.collected(0)
    bare.collected(1)
    bare.outdoor_ruled_out()
    bare.excepted("OC-01", bare.form, reason="outdoor_impossible")
    assert re.search(r"Allowed by exception, signed by Quality One.*\([^)]*OC-01", text(page(bare)))


def test_an_area_stands_under_a_head_of_its_own_kind() -> None:
    """Four square centimeters under Volume are copied into the report as liters."""
    story = visit("collected")
    story.surface_collected()
    read = text(page(story))
    assert "Where Volume; area or mass State" in read
    assert "kitchen, Point 9;" in read, "and what follows is no part of the same place"
    assert "area or mass" not in text(page(visit("collected")))


def test_of_a_blank_no_run_of_no_seconds_is_told() -> None:
    """0 s is copied into the report as a run that failed."""
    story = Story()
    story.lot(samples=1)
    story.opened()
    story.collected(0, "blank")
    dates = text(page(story)).partition("h) ")[2].partition("k) ")[0]
    assert "no air drawn" in dates
    assert " 0 s" not in dates


def test_void_samples_are_no_items() -> None:
    """A cassette that was dropped would be reported on."""
    story = visit("collected")
    story.voided(0)
    assert grouped(story.samples[0]) not in text(page(story)).partition("n) ")[0]


def test_it_divides_nothing_and_prints_on_letter_and_on_a4() -> None:
    """A number that ends on the next line is copied as two."""
    story = visit("accepted")
    assert divided(printed_lines(page(story)), [*map(grouped, story.samples), grouped(story.form)]) == []
    prints_on_letter_and_a4(page(story))


def test_the_mark_of_a_demonstration_touches_no_line() -> None:
    """The clock by which all times are told is struck through by the frame below it."""
    printed = pypdfium2.PdfDocument(page(visit("accepted"), "demo.custody.example"))[0]
    layer = printed.get_textpage()
    bottom = layer.get_charbox(layer.search("As it stood").get_next()[0])[1]
    drawn = [each.get_bounds()[3] for each in printed.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH])]
    assert min(bottom - top for top in drawn if top < bottom) / 72 * 25.4 >= 1.5


def test_a_page_of_a_demonstration_says_so() -> None:
    """Its figures could end in a true report."""
    assert words.DEMO in text(page(visit("accepted"), "demo.custody.example"))
    assert words.DEMO not in text(page(visit("accepted")))
