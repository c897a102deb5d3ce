"""The sheet outside a sealed envelope, read back from the page and measured in millimeters.

Signatures of everybody in the chain of possession: EPA's chain of custody. The make-up is common practice, no
source.
"""

import re
from functools import cache
from itertools import pairwise

import pypdfium2
import pytest
import zxingcpp
from pypdfium2 import raw
from test_custody_record import POINTS, SITE, prints_on_letter_and_a4, text, texts
from test_enclosed_record import boxes
from test_never_wrapped import TRACKING, divided, printed_lines

from bailee.documents import letter, sealed_sheet
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.ledger.fingerprint import fingerprint
from bailee.presentation import words
from builders import DAY, Step, Story, visit

pytestmark = pytest.mark.slow

TICKED = pytest.approx(letter.TICK + 0.4, abs=0.1)
"""Side of a box to tick, with its line."""


def sheet(story: Story) -> bytes:
    """The sheet of a story's envelope."""
    case = story.case()
    return sealed_sheet.pdf(story.envelope, case, case.at)


@cache
def full(many: int = 18) -> tuple[Story, bytes]:
    """The envelope of a large visit, with the longest seal and tracking number there may be."""
    story = Story()
    story.lot(samples=many)
    story.opened(disclosed={"client": "Perpetua Example", "site": SITE})
    for index in range(many):
        story.collected(index, "outdoor" if index == 0 else "indoor")
    story.conditions_read()
    story.conditions_read("outdoors")
    given = [each.number for each in story.state().live]
    story.relinquished(given, at=f"{DAY}T15:30:00-05:00")
    story.received(given, at=f"{DAY}T15:36:00-05:00")
    story.seal = "HF-" + "W" * 20 + "7"
    story.sealed(at=f"{DAY}T16:00:00-05:00", containers=2, record_pages=3)
    story.shipped(tracking=TRACKING, handed_over=f"{DAY}T16:30:00-05:00")
    return story, sheet(story)


def test_eighteen_cassettes_lie_on_one_page() -> None:
    """A second page stays in the printer, and the dock counts against half a list."""
    story, pdf = full()
    (page,) = texts(pdf)
    assert "Page 1 of 1" in page
    for number in story.samples:
        assert grouped(number) in page
    ticks = [size for size in boxes(pdf, 0) if size == (TICKED, TICKED)]
    assert len(ticks) == 18 * 8 + 4 + 5 + 2 + 3, (
        "each cassette, the seal, the package, the record, what is decided"
    )


def test_it_prints_on_letter_and_on_a4() -> None:
    """A printer with the other paper cuts the lines off on which the dock writes."""
    prints_on_letter_and_a4(full()[1])


def test_a_sheet_of_a_demonstration_says_so() -> None:
    """It could be shown to somebody as evidence."""
    case = visit("sealed").case()
    shown = sealed_sheet.pdf(visit("sealed").envelope, case, case.at, "demo.custody.example")
    assert words.DEMO in text(shown)
    assert words.DEMO not in text(sheet(visit("sealed")))


def test_a_longer_list_goes_on_and_says_so() -> None:
    """The dock would take eighteen of thirty for all."""
    story, pdf = full(30)
    pages = texts(pdf)
    assert f"Page 1 of {len(pages)}" in pages[0]
    assert len(pages) == 2
    assert all(grouped(number) in text(pdf) for number in story.samples)


def test_what_was_sealed_is_on_it() -> None:
    """The dock compares seal, count and cassettes with what is in its hands."""
    story, pdf = full()
    read = text(pdf)
    for said in (
        f"Custody seal {story.seal} Inside 18 cassettes",
        "2 containers; custody record of 3 pages",
        f"Sealed {DAY} 16:00 (-05:00) by Clerk One, clerk, Harrow Field Sampling (example), entry 24",
        f"To Quill Laboratory (example); carrier acorn-freight, next-day; tracking number {TRACKING};",
        "expected receipt 2026-12-02 10:30 (-06:00)",
        f"1 {grouped(story.samples[0])} outdoor G-000001 09:12 300 74.75 ML-0001 2027-11-30 1",
        f"Started on {DAY}, clock -05:00; collected by Inspector One, inspector; pump",
        f"Form {grouped(story.form)} direct-exam, standard",
        "pump PUMP-1, meter METER-1 (certificate of 2026-06-15)",
        "Sky clear, wind light; Indoors,",
        "9.0 °C (48 °F), 70 % relative humidity",
    ):
        assert said in read, said


@pytest.mark.parametrize("many", [3, 18])
def test_the_code_is_the_envelope_and_no_bars_are_there(many: int) -> None:
    """A sorter reads bars through the pocket, and a dock that scans must land on this envelope."""
    story, pdf = full(many)
    page = pypdfium2.PdfDocument(pdf)[0].render(scale=200 / 72).to_pil()
    assert [each.text for each in zxingcpp.read_barcodes(page)] == [story.envelope]


@pytest.mark.parametrize("longer", range(0, 24, 3))
@pytest.mark.parametrize("unit", [None, "2B"])
def test_a_reading_is_not_parted_from_where_it_was_read(longer: int, unit: str | None) -> None:
    """A day at the beginning of a line, and Outdoors at the end of the one before: the dock takes what was
    read outside for the air of the rooms.
    """
    story = visit("opened")
    story.collected(0)
    story.collected(1, "outdoor")
    story.conditions_read(instrument=f"T-{'2' * longer}", unit=unit)
    story.conditions_read("outdoors")
    story.relinquished()
    story.received()
    story.sealed()
    assert divided(printed_lines(sheet(story)), []) == []


def test_neither_client_nor_site_is_outside() -> None:
    """Everybody on the way reads what is in the pocket."""
    read = text(full()[1])
    for private in ("Perpetua", "Quarry", "bedroom", "complaint"):
        assert private not in read


def test_the_dock_has_room_to_write_what_it_finds() -> None:
    """What has no line is not written down, and is remembered wrongly when it is entered."""
    _, pdf = full()
    read = text(pdf)
    for said in (
        "Seal read intact broken missing VOID showing",
        "Package sound wet crushed torn opened containers counted",
        "each time with its date, local",
        "Delivered (by the carrier) received (still sealed here) opened (seal was cut)",
        "Cassettes counted record inside yes no temperature inside, circle C or F",
        "Not listed here: how many which remarks",
        "Opened and counted by: name signature",
        "intact cracked cover off wet label unreadable label missing opened not received",
        "accepted on hold rejected reason laboratory's numbers",
        "Firm called: who when decided by date, time",
    ):
        assert said in read, said
    assert "Taken in" not in read
    lines = sorted(width for width, height in boxes(pdf, 0) if height < 0.5 and width < 185)
    assert len(lines) == 1 + 1 + 3 + 2 + 3 + 2 + 2 + 4
    assert lines[0] >= 18, "room for a count"
    assert sum(width >= 60 for width in lines) >= 3, "a seal, a number that is not listed, a reason"


@pytest.mark.parametrize(("many", "rows", "high"), [(3, 6, 10), (18, 4, 6.6)])
def test_who_hands_it_on_has_as_much_room_as_the_list_leaves(many: int, rows: int, high: float) -> None:
    """A company and a date with its time are written over the edge, and half a page stays empty."""
    cells = [size for size in boxes(full(many)[1], 0) if size[1] == pytest.approx(high + 0.4, abs=0.1)]
    widths = sorted(round(width) for width, _ in cells)
    assert widths == [36] * rows + [41] * rows + [46] * 2 * rows, "name, signature, company, date and time"


def test_the_head_of_the_list_does_not_stand_on_the_line_above() -> None:
    """Where the envelope goes is struck through by the head of the list."""
    page = pypdfium2.PdfDocument(full()[1])[0]
    layer = page.get_textpage()
    begin, _ = layer.search("expected receipt").get_next()
    bottom = layer.get_charbox(begin)[1]
    drawn = page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH])
    heads = [top for left, low, right, top in (each.get_bounds() for each in drawn) if right - left > 500]
    assert min(bottom - top for top in heads if top < bottom) / POINTS >= 1


def test_rows_stay_apart_in_a_copy_in_black_and_white() -> None:
    """Ticks are read off the wrong row, because the gray rules are gone."""
    pdf = full()[1]
    page = pypdfium2.PdfDocument(pdf)[0]
    picture = page.render(scale=300 / 72).to_pil().convert("L").point(lambda gray: 255 * (gray >= 128))
    layer = page.get_textpage()
    tops = [
        picture.height - round(layer.get_charbox(layer.search(grouped(each)).get_next()[0])[3] / 72 * 300)
        for each in full()[0].samples
    ]
    for above, below in pairwise(tops):
        black = [y for y in range(above + 10, below) if picture.getpixel((round(150 / 25.4 * 300), y)) == 0]
        assert len(black) >= 2, "half a point is two dots of 300 to the inch"


def test_what_is_in_a_hurry_stands_out_with_its_day() -> None:
    """An emergency lies in the tray until Monday, because the dock read of it nowhere."""
    story = visit("collected")
    story.requested(story.samples[:2], analysis="culture", priority="rush", due="2026-12-03")
    story.relinquished(at=f"{DAY}T11:30:00-05:00")
    story.received()
    story.sealed()
    pdf = sheet(story)
    assert "RUSH, due 2026-12-03: rows 1, 2" in text(pdf)
    assert "culture; direct-exam" in text(pdf)
    layer = pypdfium2.PdfDocument(pdf)[0].get_textpage()
    begin, _ = layer.search("RUSH").get_next()
    _, bottom, _, top = layer.get_charbox(begin)
    assert (top - bottom) / POINTS >= 3


def test_media_past_their_day_are_marked() -> None:
    """The laboratory counts spores on a trace that no longer holds them."""
    assert "EXPIRED" not in text(full()[1])
    late = visit("sealed", lot={"expiry": "2026-11-29"})
    assert text(sheet(late)).count("2026-11-29 EXPIRED") == 3


def test_the_leaf_to_compare_is_that_of_the_sealing() -> None:
    """An auditor would compare the sheet with an entry that sealed nothing."""
    story, pdf = full()
    (entry,) = (each for each in story.chains[f"form/{story.form}"] if each.act == "sealed")
    assert f"Leaf hash of entry {entry.n}, form {grouped(story.form)}: {fingerprint(entry.leaf)}" in text(pdf)


@pytest.mark.parametrize("blind", [False, True])
def test_where_the_dock_reads_blind_the_number_of_the_seal_is_nowhere(blind: bool) -> None:
    """The number is copied from the sheet, and a seal that was exchanged is recorded as the right one."""
    story = visit("sealed", policy={"dock_blind": blind})
    read = text(sheet(story))
    assert (grouped(story.seal) in read) is not blind
    assert ("read it on the envelope" in read) is blind


@pytest.mark.parametrize("step", ["kept", "reopened"])
def test_of_what_is_not_sealed_there_is_no_sheet(step: str) -> None:
    """A sheet printed before the seal would say that a person sealed what is still open."""
    story = visit("kept" if step == "kept" else "sealed")
    if step == "reopened":
        story.unsealed()
        with pytest.raises(Malformed, match="is not sealed") as refused:
            sheet(story)
        assert refused.value.code == "not-sealed"
        return
    case = story.case()
    with pytest.raises(Malformed, match="is not sealed"):
        sealed_sheet.pdf(story.envelope, case, case.at)


@pytest.mark.parametrize("step", ["sealed", "shipped"])
def test_a_sheet_divides_nothing(step: Step) -> None:
    """A number that ends on the next line is read as two."""
    story = visit(step)
    names = [grouped(each) for each in (story.envelope, *story.samples)]
    assert divided(printed_lines(sheet(story)), names) == []
    large, pdf = full()
    assert divided(printed_lines(pdf), [large.seal, TRACKING, *map(grouped, large.samples)]) == []


def test_what_is_not_known_yet_is_written_by_hand() -> None:
    """A sheet printed before the carrier comes would leave the tracking number out for good."""
    read = text(sheet(visit("sealed")))
    assert re.search(r"To Quill Laboratory \(example\), by tracking or slip on", read)


def test_the_same_sheet_is_the_same_file() -> None:
    """Two prints that differ in a byte look like two versions of the truth."""
    assert sheet(visit("sealed")) == sheet(visit("sealed"))


def test_a_sheet_of_two_visits_lists_both() -> None:
    """Half of the cassettes would seem to be too many."""
    story = Story()
    for _ in range(2):
        story.lot()
        story.opened()
        first = len(story.samples) - 3
        for index in range(first, first + 3):
            story.collected(index, "outdoor" if index == first else "indoor", pump=f"PUMP-{index}")
        story.relinquished(at=f"{DAY}T12:30:00-05:00")
        story.received(at=f"{DAY}T12:36:00-05:00")
    for form in story.forms:
        story.sealed(
            form=form, samples=[s.number for s in story.state(form).live], total=6, forms=story.forms
        )
    read = text(sheet(story))
    assert "6 cassettes" in read
    assert "pump PUMP-0, meter METER-1 (certificate of 2026-06-15): row 1" in read
    assert all(grouped(each) in read for each in (*story.samples, *story.forms))


def test_a_surface_is_listed_by_its_medium_and_not_by_its_place() -> None:
    """A tape lift is missed at the dock, or everybody on the way reads where the complaint is."""
    story = visit("collected")
    story.surface_collected()
    story.relinquished(at=f"{DAY}T11:30:00-05:00")
    story.received()
    story.sealed()
    read = text(sheet(story))
    assert re.search(rf"{grouped(story.samples[-1])} tape lift surface none 09:50 4 cm. none none", read)
    assert "3 cassettes and 1 tape lift" in read
    assert "Vol., L; area or mass" in read
    assert "4 cassettes" not in read
    assert "complaint" not in read
    assert "drywall" not in read
