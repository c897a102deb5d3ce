"""The copy that an analyst counts by, read back from the page.

Blanks submitted blind: county-filed sampling plans. That an analyst who knows what to expect finds it:
literature on blind quality control.
"""

import re
from functools import cache
from itertools import pairwise

import pypdfium2
import pytest
import zxingcpp
from test_custody_record import SITE, prints_on_letter_and_a4, text
from test_never_wrapped import divided, printed_lines

from bailee.documents import blind_copy
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.presentation import blind_view, words
from bailee.presentation.form_view import form_view
from builders import CLERK, Story, visit

pytestmark = pytest.mark.slow

BARE = "standard not recorded not recorded"
"""Turnaround, due date and priority of a visit of which only the first was told."""


def copy(story: Story, log: str = "") -> bytes:
    """The blind copy of a story's form."""
    case = story.case()
    return blind_copy.pdf(blind_view.blind_copy(form_view(case.forms[story.form], case)), case.at, log)


@cache
def tell_tale() -> Story:
    """A visit with a blank, a duplicate and an outdoor control, all told as far as they can be."""
    story = Story()
    story.lot(samples=4)
    story.opened(disclosed={"client": "Perpetua Example", "site": SITE, "contact": "555-0137"})
    story.collected(0, disclosed={"place": "behind the shelf"}, unit="flat 7")
    story.collected(1, duplicate_of=story.samples[0], duplicate="side_by_side", pump="PUMP-2")
    story.collected(2, "outdoor")
    story.collected(3, "blank")
    story.relinquished(at="2026-12-01T11:30:00-05:00")
    story.received()
    story.sealed()
    story.shipped()
    story.docked()
    story.accepted()
    return story


def test_numbers_medium_analysis_seal_and_receipt_are_on_it() -> None:
    """An analyst who has to look in the ledger for the lot sees the blank there."""
    story = tell_tale()
    read = text(copy(story))
    for number in story.samples:
        row = f"Q-{number[1:6]} {grouped(number)} ML-0001 slit cassette direct-exam {BARE} accepted intact"
        assert row in read, row
    came = f"Envelope {grouped(story.envelope)}, 2026-12-02 10:40 (-06:00)"
    assert f"{came}: custody seal {grouped(story.seal)}, intact" in read
    assert "Quill Laboratory (example)" in read


def test_nothing_tells_the_blank_from_the_others() -> None:
    """The analyst expects nothing on the blank, finds nothing, and nobody learns what the method does."""
    read = text(copy(tell_tale())).replace(blind_view.LEFT_OUT, "")
    lines = [words.KINDS[each] for each in words.KINDS]
    told = [
        *lines, "blank", "duplicate", "Perpetua", "Quarry", "555-0137", "shelf", "flat 7", "bedroom",
        "living", "Point", "inlet", "complaint", "74.75", "14.95", "L/min", "300", "PUMP", "METER", "sky",
        "09:12", "apart", "G-0000",
    ]  # fmt: skip
    assert [each for each in told if each in read] == []


def test_the_order_is_not_that_of_the_visit() -> None:
    """The blank is opened last, and would stand last."""
    story = tell_tale()
    read = text(copy(story))
    places = [read.index(grouped(number)) for number in sorted(story.samples)]
    assert places == sorted(places)
    assert sorted(story.samples) != story.samples, "or this tells nothing"


def test_rows_stand_in_the_order_of_the_laboratory() -> None:
    """The analyst works along a tray of slides that bear the laboratory's numbers."""
    story = visit("docked")
    story.accepted(lab_numbers=dict(zip(sorted(story.samples), ("Q-3", "Q-1", "Q-2"), strict=True)))
    read = text(copy(story))
    assert sorted(("Q-3", "Q-1", "Q-2"), key=read.index) == ["Q-1", "Q-2", "Q-3"]


@pytest.mark.parametrize(("tell", "state"), [("on_hold", "ON HOLD"), ("rejected", "REJECTED")])
def test_what_is_not_to_be_counted_says_so(tell: str, state: str) -> None:
    """The analyst counts a sample that waits for the client, or one that nobody is to report."""
    story = visit("docked")
    getattr(story, tell)(story.samples[:1])
    story.accepted(story.samples[1:])
    read = text(copy(story))
    assert read.count(state) == 1
    assert re.search(
        rf"{grouped(story.samples[0])} \S+ slit cassette direct-exam {BARE} {state}",
        read,
    )


def test_due_date_and_priority_are_on_it() -> None:
    """A rush sample waits its turn among the others."""
    story = visit("kept")
    story.requested(turnaround="24-h", due="2026-12-04", priority="rush")
    story.sealed()
    story.shipped()
    story.docked()
    read = text(copy(story))
    assert "Analysis Turnaround Due Priority State" in read
    assert "direct-exam 24-h 2026-12-04 rush received" in read


def test_there_is_room_to_write_a_number_and_to_sign() -> None:
    """A number squeezed in between two lines is misread on the slide."""
    story = visit("docked")
    page = pypdfium2.PdfDocument(copy(story))[0]
    layer = page.get_textpage()
    tops = sorted(layer.get_charbox(layer.search(grouped(each)).get_next()[0])[3] for each in story.samples)
    assert all((high - low) * 25.4 / 72 >= 8 for low, high in pairwise(tops))
    read = text(copy(story))
    for who in ("Given by", "Analyst"):
        assert f"{who}: name signature date, time (local)" in read


def test_it_is_printed_on_the_clock_of_the_dock() -> None:
    """Printed in UTC beside a receipt on local time, it seems to be six hours younger than it is."""
    assert "Printed 2026-12-02 11:10:05 (-06:00)." in text(copy(tell_tale()))


def test_it_says_that_it_is_blind_on_paper_only() -> None:
    """A reader would believe that the analyst could not have known."""
    read = text(copy(tell_tale()))
    assert "They stand in the ledger, for all who may read this form there." in read
    assert "Blind on this paper only." in read


def test_it_has_no_code() -> None:
    """One scan would open the page on which all of it stands."""
    page = pypdfium2.PdfDocument(copy(tell_tale()))[0].render(scale=200 / 72).to_pil()
    assert zxingcpp.read_barcodes(page) == []


def test_void_and_missing_samples_are_not_on_it() -> None:
    """The analyst would look for a cassette that is not there."""
    story = visit("shipped")
    story.docked(story.samples[:2])
    read = text(copy(story))
    assert grouped(story.samples[2]) not in read
    assert all(grouped(each) in read for each in story.samples[:2])


def test_before_the_laboratory_has_a_sample_there_is_none() -> None:
    """A copy of what is still on its way would be filled in by guess."""
    with pytest.raises(Malformed, match="was received"):
        copy(visit("shipped"))


def test_it_divides_nothing_and_prints_on_letter_and_on_a4() -> None:
    """A number that ends on the next line is read as two."""
    story = tell_tale()
    assert divided(printed_lines(copy(story)), [*map(grouped, story.samples), grouped(story.seal)]) == []
    prints_on_letter_and_a4(copy(story))


def test_what_was_given_out_is_called_a_blind_copy() -> None:
    """A reader of the record would take it for the whole record."""
    from test_custody_record import record

    story = visit("accepted")
    story.copied(1, of="blind")
    assert "Blind copy, version 1; covers entries up to" in text(record(story))


@pytest.mark.parametrize(
    ("field", "new", "outdated"), [("flow_after", "13.2", False), ("serial", "G-9", True)]
)
def test_a_correction_of_what_it_does_not_show_leaves_it_in_date(
    field: str, new: str, outdated: bool
) -> None:
    """The laboratory would print it again over a flow that is not on it, or count on by a wrong serial."""
    from builders import findings

    story = visit("accepted")
    story.copied(1, of="blind")
    story.corrected(story.chains[f"form/{story.form}"][1], field, new)
    assert bool(findings(story.case(), "RC-18")) is outdated


def test_a_copy_of_a_demonstration_says_so() -> None:
    """It could be shown to somebody as evidence."""
    assert words.DEMO in text(copy(tell_tale(), "demo.custody.example"))
    assert CLERK.name not in text(copy(tell_tale())), "who sealed it is no matter of counting"
