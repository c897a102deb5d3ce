"""What becomes of a paper: names at the end of a line, and what a copier in black and white leaves."""

from __future__ import annotations

from functools import cache

import pypdfium2
import pytest
from pypdfium2 import raw
from test_custody_record import POINTS, record
from test_demands import ended, sealed, told
from test_enclosed_record import printed
from test_never_wrapped import divided, printed_lines
from test_preparation_notice import AT, NOTICE

from bailee.documents import for_report, letter, preparation_notice
from bailee.documents.kept_together import tied
from bailee.presentation.form_view import form_view
from bailee.rules.registry import evaluate
from builders import CLERK, CUSTODIAN, INSPECTOR, visit

pytestmark = pytest.mark.slow

MM = 300 / 25.4
"""Pixels a millimeter of a picture."""

NAMES = (
    INSPECTOR.name, CLERK.name, CUSTODIAN.name, "Cato Wren", "Perpetua Example", "Ines Marlow",
    "Harrow Field Sampling", "Quill Laboratory",
)  # fmt: skip


@cache
def paper(name: str) -> bytes:
    """Each paper that has names on it."""
    if name == "report":
        case = ended().case()
        found = evaluate(case)
        return for_report.pdf(form_view(case.forms[told().form], case, found), found, case.at)
    if name == "notice":
        return preparation_notice.pdf(NOTICE, AT)
    if name == "record, everything told":
        return record(ended())
    if name == "record, sealed":
        return record(sealed())
    return printed(name, 1)


@pytest.mark.parametrize(
    "name",
    [
        "enclosed", "record", "sheet", "slip", "blind", "pen", "report", "notice", "record, sealed",
        "record, everything told",
    ],
)  # fmt: skip
def test_no_name_is_divided_on_any_paper(name: str) -> None:
    """Cato at the end of one line and Wren at the start of the next are looked for as two people."""
    lines = printed_lines(paper(name))
    joined = "".join(lines).replace(" ", "")
    here = [each for each in NAMES if each.replace(" ", "") in joined]
    assert here or name in ("blind", "pen"), "a paper without names tells nothing"
    assert divided(lines, here) == []


@pytest.mark.parametrize("before", range(40))
def test_a_name_stays_whole_wherever_the_line_ends(before: int) -> None:
    """The same sentence with a longer address in front divides the name."""
    page = letter.Letter("Example", "Example", "Example", visit("kept").case().at.instant)
    page.paragraph(letter.Line(f"{'yard ' * before}signed by Cato Wren, clerk"), wide=60)
    page.paragraph(letter.Line(f"{'yard ' * before}flow 14.95 L/min, 5 min"), wide=30)
    assert divided(printed_lines(page.file()), ["Cato Wren", "14.95 L/min"]) == []


def test_a_name_wider_than_its_column_is_divided_between_words_only() -> None:
    """Letters of a name on two lines are read as two words."""
    page = letter.Letter("Example", "Example", "Example", visit("kept").case().at.instant)
    page.paragraph(letter.Line("Bartholomew Featherstone"), wide=24)
    lines = printed_lines(page.file())
    assert "Bartholomew" in lines
    assert "Featherstone" in lines


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("by Cato Wren, clerk", ["Cato Wren"]),
        ("F7K3 M9Q2 XF4P, Zo\u00eb \u017b\u00f3\u0142", ["F7K3 M9Q2 XF4P", "Zo\u00eb \u017b\u00f3\u0142"]),
        ("12 Invented Lane, Unit 2204, Room B-2", ["Invented Lane", "Unit 2204", "Room B-2"]),
        ("Mary Ann O'Neil. Next Day", ["Mary Ann O'Neil", "Next Day"]),
        ("Vol., L; area or mass", ["Vol., L"]),
        ("inlet 1.22 m (4 ft); 21 \u00b0C (70 \u00b0F)", ["1.22 m (4 ft)", "21 \u00b0C (70 \u00b0F)"]),
        ("no name here", []),
    ],
)  # fmt: skip
def test_what_is_tied_is_a_name_or_a_number(said: str, kept: list[str]) -> None:
    """A tie too many leaves lines half empty; a tie too few divides what belongs together."""
    words = tied(said).split(" ")
    assert [word.replace("\u00a0", " ").rstrip(",.;") for word in words if "\u00a0" in word] == kept


@pytest.mark.parametrize("name", ["enclosed", "record", "sheet"])
def test_the_heads_of_ink_rows_are_black(name: str) -> None:
    """A copier in black and white leaves out what is gray, and nobody knows which box was for the date."""
    document = pypdfium2.PdfDocument(paper(name))
    (n,) = (n for n, page in enumerate(document) if "company" in page.get_textpage().get_text_range())
    page = document[n]
    cells = [each.get_bounds() for each in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH])]
    boxes = [((right - left) / POINTS, (top - foot) / POINTS, top) for left, foot, right, top in cells]
    rows = [top for wide, high, top in boxes if 35 < wide < 50 and 6 < high < 11]
    above = (page.get_height() - max(rows)) / POINTS
    picture = page.render(scale=300 / 72).to_pil().convert("L")
    head = picture.crop((0, round((above - 3.4) * MM), picture.width, round((above - 0.6) * MM)))
    ink = head.histogram()
    assert sum(ink[:128]) > 500, "something stands there"
    assert sum(ink[:48]) > 0.5 * sum(ink[:160]), "black, but for the edges of letters"
