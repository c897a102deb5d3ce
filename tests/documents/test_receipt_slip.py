"""The slip that a person signs who carries a sealed envelope, read back and measured in millimeters.

That giver and receiver sign: county-filed sampling plans that follow EPA. That each possessor gets a copy:
EPA guidance of November 1992.
"""

from dataclasses import replace
from functools import cache
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from test_custody_record import POINTS, SITE, prints_on_letter_and_a4, text, texts
from test_enclosed_record import boxes
from test_never_wrapped import divided, printed_lines

from bailee.documents import receipt_slip
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.presentation import words
from builders import DAY, LAB, Story, visit

pytestmark = pytest.mark.slow

INVENTED = {"client": "Perpetua Example", "site": SITE}


def slip(story: Story, **more: Any) -> bytes:
    """Slip R-7 of a story's envelope."""
    case = story.case()
    return receipt_slip.pdf(story.envelope, case, case.at, "R-7", **more)


@cache
def plain() -> bytes:
    """The slip of a faultless visit."""
    return slip(visit("sealed", opened={"disclosed": INVENTED}))


def test_two_copies_of_190_by_120_mm_lie_on_a_page() -> None:
    """One side would go without a copy of what was signed."""
    (page,) = texts(plain())
    frames = [size for size in boxes(plain(), 0) if size[1] > 100]
    assert frames == [(pytest.approx(190.9, abs=0.5), pytest.approx(120.4, abs=0.5))] * 2
    for said in ("Slip R-7", *receipt_slip.COPIES, grouped(visit("sealed").envelope)):
        assert said in page, said
    assert page.count("I took this envelope and have not opened it. Its seal is") == 2
    prints_on_letter_and_a4(plain())


def test_the_number_is_read_from_across_a_desk_and_scanned() -> None:
    """Whoever carries two envelopes signs for the other one."""
    page = pypdfium2.PdfDocument(plain())[0]
    layer, number = page.get_textpage(), grouped(visit("sealed").envelope)
    begin, _ = layer.search(number).get_next()
    _, bottom, _, top = layer.get_charbox(begin)
    assert (top - bottom) / POINTS == pytest.approx(8, abs=0.2)
    found = zxingcpp.read_barcodes(page.render(scale=300 / 72).to_pil())
    assert [each.text for each in found] == [visit("sealed").envelope] * 2
    for each in found:
        where = each.position
        assert abs(where.top_right.x - where.top_left.x) / 300 * 25.4 == pytest.approx(15, abs=0.6)


def test_seal_count_and_where_to_are_on_it() -> None:
    """Whoever carries it stands before a closed dock, and nobody knows which seal they took."""
    read = text(plain())
    for said in (
        f"Custody seal {grouped(visit('sealed').seal)}",
        "3 cassettes; sealed 2026-12-01 14:00 (-05:00)",
        "From Harrow Field Sampling (example)",
        "To Quill Laboratory (example); dock open Mon to Fri 08:00-17:00 (America/Chicago), except holidays",
    ):
        assert read.count(said) == 2, said


def test_a_surface_is_no_cassette_on_the_slip() -> None:
    """Whoever carries it signs for a cassette that is not there."""
    story = visit("collected")
    story.surface_collected("bulk")
    story.relinquished(at=f"{DAY}T11:30:00-05:00")
    story.received()
    story.sealed()
    assert text(slip(story)).count("3 cassettes and 1 bulk sample; sealed") == 2


def test_neither_client_nor_site_is_on_it() -> None:
    """A stranger carries it, and keeps a copy."""
    for private in ("Perpetua", "Quarry", "bedroom", "complaint"):
        assert private not in text(plain())


def test_the_form_is_named_and_only_by_its_number() -> None:
    """The dock has the slip and the samples, and looks for the record of another visit."""
    assert text(plain()).count(f"form {grouped(visit('sealed').form)}") == 2


def test_both_sign_in_ink_and_the_dock_says_how_the_seal_was() -> None:
    """A courier who opened it would have the same paper as one who did not."""
    read = text(plain())
    found = "Its seal is intact broken missing VOID showing seal as read"
    for person in ("I took this envelope", "I received this envelope"):
        assert read.count(f"{person} and have not opened it. {found}") == 2, person
    assert "whole" not in read, "nobody signs for what was ticked before"
    assert read.count("Relinquished by: name identity document seen Signature date, time (local)") == 2
    assert read.count("Signature date, time (local)") == 6, "the firm signs that it gave it away, and when"
    lines = [width for width, height in boxes(plain(), 0) if height < 0.5 and width < 185]
    assert len(lines) == 2 * (1 + 1 + 2 + 1 + 2 + 2 + 1 + 2 + 2)
    assert min(lines) >= 45


def test_a_telephone_number_is_printed_or_written_by_hand() -> None:
    """Whoever stands before a closed dock has nobody to call."""
    assert text(plain()).count("Telephone of the firm") == 2
    called = text(slip(visit("sealed"), telephone="555-0137"))
    assert called.count("From Harrow Field Sampling (example), telephone 555-0137") == 2
    assert "Telephone of the firm" not in called


def test_hours_of_every_shape_are_said() -> None:
    """A dock that shuts at noon, or whose hours nobody entered, would seem open all day."""
    odd = {"mon": ["08:00-12:00", "13:00-17:00"], "tue": ["08:00-17:00"], "sat": ["09:00-11:30"]}
    story = visit("sealed")
    story.calendar("lab", "America/Chicago", org=LAB, hours=odd)
    said = "dock open Mon 08:00-12:00 and 13:00-17:00, Tue 08:00-17:00, Sat 09:00-11:30 (America/Chicago)"
    assert said in text(slip(story))
    case = visit("sealed").case()
    unknown = {name: each for name, each in case.organizations.items() if name != LAB}
    told = receipt_slip.pdf(story.envelope, replace(case, organizations=unknown), case.at, "R-7")
    assert "dock hours not entered" in text(told)


def test_where_the_dock_reads_blind_the_seal_is_read_by_who_takes_it() -> None:
    """The dock signs on this slip, and would copy the number that it is to read."""
    story = visit("sealed", policy={"dock_blind": True})
    read = text(slip(story))
    assert grouped(story.seal) not in read
    assert read.count("Custody seal, as read on the envelope") == 2


def test_a_slip_divides_nothing() -> None:
    """A number that ends on the next line is read as two."""
    story = visit("sealed")
    assert divided(printed_lines(plain()), [grouped(story.envelope), grouped(story.seal), "R-7"]) == []


def test_of_what_is_not_sealed_there_is_no_slip() -> None:
    """A person would sign for a seal that is not there."""
    with pytest.raises(Malformed, match="is not sealed"):
        slip(visit("kept"))


def test_a_slip_of_a_demonstration_says_so() -> None:
    """It could be shown to somebody as evidence."""
    assert text(slip(visit("sealed"), log="demo.custody.example")).count(words.DEMO) == 2
