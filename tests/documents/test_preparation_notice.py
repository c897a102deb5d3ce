"""The page for occupants, read back by PDFium and a browser's own parser.

Hours: common practice, no source; clock changes: 15 U.S.C. 260a.
"""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from html.parser import HTMLParser

import pypdfium2
import pytest
from pypdfium2 import raw

from bailee.documents import preparation_notice
from bailee.documents.preparation_notice import Notice, html_page, pdf, text, when
from bailee.domain import cautions
from bailee.domain.moments import Moment
from bailee.domain.policy import Policy

ZONE = "America/New_York"
SITE = "1487 Lower Quarry Meadow Crossing, Building C, Unit 2204, Harrowfield-on-the-Water"
NOTICE = Notice(
    Moment.in_zone("2026-12-01T09:00", ZONE),
    ZONE,
    Policy(),
    "Harrow & Field <sampling>",
    SITE,
    "Ines Marlow, 555-0100",
)
AT = Moment.parse("2026-11-29T12:00:00-05:00")


class Words(HTMLParser):
    """What somebody reads, and every tag that was opened or closed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self.open: list[str] = []
        self.addresses: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Void elements stay out of the count (HTML living standard 13.1.2)."""
        self.addresses += [value or "" for name, value in attrs if name in ("href", "src")]
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Close what was opened last."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Words."""
        if self.open and self.open[-1] != "style":
            self.said.append(data)


def as_html(notice: Notice) -> str:
    """The words of the page for a browser."""
    page = Words(html_page(notice))
    assert page.open == []
    return " ".join(" ".join(page.said).split())


def as_pdf(notice: Notice) -> str:
    """The text layer of the only page."""
    (page,) = pypdfium2.PdfDocument(pdf(notice, AT))
    return " ".join(page.get_textpage().get_text_range().split())


def as_text(notice: Notice) -> str:
    """The letter with its lines joined."""
    return " ".join(text(notice).split())


@pytest.mark.parametrize("read", [as_text, as_html, as_pdf])
def test_each_form_says_everything(read) -> None:
    """The page on paper asks for something else than the message did."""
    said = read(NOTICE)

    for words in (
        "Tuesday, December 1, 2026, 9:00 am",
        "From Monday, November 30, 2026, 9:00 am until we have left",
        "windows and outside doors closed",
        "air cleaners (purifiers)", "the way they normally run", "do not clean", "Building C, Unit 2204",
        "Harrow & Field <sampling>", "Ines Marlow, 555-0100", "Windows and outside doors closed since",
        "Air cleaners, fresh-air exchangers and fans off since", "Last cleaned",
        "licensed professionals come first",
        preparation_notice.FOOT, "asthma, mold allergy", "pregnant",
    ):  # fmt: skip
        assert words in said
    assert all(each.says in said for each in cautions.OCCUPANTS)


@pytest.mark.parametrize("read", [as_text, as_html, as_pdf])
def test_there_is_no_claim_about_health(read) -> None:
    """An occupant reads the firm's page as a diagnosis of the house."""
    said = read(NOTICE)

    assert not re.search(
        r"\btoxic|\bdangerous|\bunsafe\b|\bharmful|\bcause[sd]?\b|\bsick|\billness", said, re.IGNORECASE
    )
    assert "not a health finding" in said


def test_what_is_not_given_is_left_out() -> None:
    """An empty line for the address is filled in for the wrong house."""
    said = as_text(replace(NOTICE, site="", firm="", contact=""))

    assert "Place" not in said


def lines(notice: Notice) -> list[float]:
    """Millimeters of each line to write on."""
    (page,) = pypdfium2.PdfDocument(pdf(notice, AT))
    drawn = [each.get_bounds() for each in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH])]
    wide = [(right - left) / 72 * 25.4 for left, bottom, right, top in drawn if top - bottom < 1.2]
    return [each for each in wide if 20 < each < 180]


def test_a_sender_who_is_not_known_is_written_by_hand() -> None:
    """Occupants with a question have a page that names nobody."""
    bare = replace(NOTICE, firm="", contact="")
    assert "Sent by: ____" in as_text(bare)
    assert "Questions: ____" in as_text(bare)
    assert html_page(bare).count('<dd class="blank"></dd>') == 2
    assert "Sent by: name of the firm" in as_pdf(bare)
    assert "Questions: name, telephone" in as_pdf(bare)
    assert len(lines(bare)) == len(lines(NOTICE)) + 2
    assert min(lines(bare)) >= 45, "a hand needs room for a name"


@pytest.mark.parametrize("read", [as_text, as_html, as_pdf])
def test_an_occupant_signs_with_day_and_apartment(read) -> None:
    """Of forty notices that come back, nobody knows who filled in which, or when."""
    said = read(NOTICE)
    signed = said[said.index(preparation_notice.SIGNED) :]
    for blank in ("Name", "Apartment or suite", "Signature", "Date"):
        assert blank in signed
    assert len(lines(NOTICE)) == 4 + 4, "four answers; name, unit, signature, date"


@pytest.mark.parametrize(
    ("visit", "closed"),
    # Clocks go forward on 14 March and back on 7 November 2027 at 2 a.m. (15 U.S.C. 260a): true hours, the
    # site's clock.
    [
        ("2027-03-14T09:00", "2027-03-13T08:00:00-05:00"),
        ("2027-11-07T09:00", "2027-11-06T10:00:00-04:00"),
        ("2026-12-01T09:00", "2026-11-30T09:00:00-05:00"),
        ("2027-01-01T00:30", "2026-12-31T00:30:00-05:00"),
    ],
)
def test_hours_are_true_hours_on_the_site_s_clock(visit: str, closed: str) -> None:
    """Windows are shut for 23 hours on the night the clocks change, and the rule warns on arrival."""
    notice = replace(NOTICE, visit=Moment.in_zone(visit, ZONE))

    assert notice.closed_from.text() == closed


def test_the_firm_s_own_hours_are_printed() -> None:
    """Occupants close up for a day, and the firm's rule wants two."""
    firm = Policy(preparation_h=Decimal(48), undisturbed_h=Decimal("12.5"), notice_h=Decimal(72))
    notice = replace(NOTICE, policy=firm)

    assert "From Sunday, November 29, 2026, 9:00 am until" in as_text(notice)
    assert "From Monday, November 30, 2026, 8:30 pm until" in as_text(notice)
    assert notice.give_by.text() == "2026-11-28T09:00:00-05:00"
    assert NOTICE.give_by == NOTICE.closed_from


@pytest.mark.parametrize(
    ("local", "shown"),
    [
        ("00:05", "00:05 (12:05 am)"),
        ("11:59", "11:59 (11:59 am)"),
        ("12:00", "12:00 (12:00 pm)"),
        ("13:07", "13:07 (1:07 pm)"),
    ],
)
def test_morning_is_not_taken_for_evening(local: str, shown: str) -> None:
    """Somebody airs the house at eight in the evening because the page said eight (unreadable am and pm:
    common practice).
    """
    then = Moment.in_zone(f"2026-12-01T{local}", ZONE)
    assert when(then, "Europe/Berlin") == f"Tuesday 1 December 2026, {shown}"
    twelve = shown[shown.index("(") + 1 : -1]
    assert when(then, ZONE) == f"Tuesday, December 1, 2026, {twelve}", "as people in New York write it"


def test_it_is_one_page_even_with_long_names_and_two_dates() -> None:
    """The half of the page about gas appliances lies on a second sheet that nobody prints."""
    firm = Policy(preparation_h=Decimal(48))
    long = replace(
        NOTICE, policy=firm, site=f"{SITE}, care of {SITE}", contact=f"{NOTICE.contact}, or {NOTICE.contact}"
    )

    document = pypdfium2.PdfDocument(pdf(long, AT))
    assert len(document) == 1


def test_nothing_on_paper_is_cut_or_overlaps() -> None:
    """A line runs out of the paper, or two lines over each other (looked at as a picture, through PDFium)."""
    (page,) = pypdfium2.PdfDocument(pdf(NOTICE, AT))
    layer = page.get_textpage()
    boxes = [layer.get_rect(n) for n in range(layer.count_rects())]
    width, _ = page.get_size()

    assert boxes
    for left, bottom, right, top in boxes:
        assert left >= 25
        assert right <= width - 25
        assert bottom >= 20
        assert top > bottom
    picture = page.render(scale=2).to_pil().convert("L")
    rows = [picture.crop((0, y, picture.width, y + 1)).getextrema()[0] < 128 for y in range(picture.height)]
    # White between the lines: where ink touches ink there is one block of rows higher than the title
    blocks, height = [], 0
    for is_inked in rows:
        height = height + 1 if is_inked else 0
        blocks.append(height)
    assert max(blocks) <= 2 * 20 * 1.3, "20 points is the tallest line"


def test_the_page_for_a_browser_loads_nothing() -> None:
    """Opening the page tells somebody else that this address has a mold problem."""
    page = html_page(NOTICE)

    assert Words(page).addresses == []
    assert "url(" not in page
    assert "<script" not in page


def test_other_people_s_words_stay_words() -> None:
    """A firm called `<b>` rewrites the page."""
    page = html_page(replace(NOTICE, site='<img src=x onerror=alert(1)> "Lane" & Sons'))

    assert "<img" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page


def test_the_same_notice_gives_the_same_file() -> None:
    """Two prints of one notice cannot be compared."""
    assert pdf(NOTICE, AT) == pdf(NOTICE, AT)


def test_lines_of_text_fit_any_screen() -> None:
    """A mail program breaks the lines wherever it likes."""
    assert max(map(len, text(NOTICE).splitlines())) <= 78


@pytest.mark.parametrize("read", [as_text, as_html, as_pdf])
def test_occupants_are_asked_to_switch_fresh_air_off_and_told_when_not_to(read) -> None:
    """Windows are shut and the exchanger in the cellar runs.

    Or it is shut off where a boiler needs its air.
    """
    said = read(NOTICE)
    off = said.index("Switch off fresh-air exchangers (heat or energy recovery), whole-house and attic fans")
    assert said.index("Switch off air cleaners") < off < said.index("Leave heating, cooling and ventilation")
    assert "serve fuel-burning appliances, or a person needs them for health, leave them on" in said
    assert "Air cleaners, fresh-air exchangers and fans off since" in said
    other = read(replace(NOTICE, policy=Policy(fresh_air_off=False)))
    assert "resh-air" not in other
