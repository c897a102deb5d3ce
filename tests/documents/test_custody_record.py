"""The custody record on paper, read back by another PDF library (PDFium) and another QR reader (ZXing).

What a custody form must show is taken from 21 CFR 11.50 (printed name, date and time, meaning of each
signature) and from common practice for custody forms, no source.
"""

import re
from dataclasses import replace
from functools import cache
from io import BytesIO
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from fontTools.ttLib import TTFont
from fpdf import FPDF
from pypdf import PdfReader

from bailee.documents import custody_record, letter
from bailee.domain.acts.table import ON_CHAIN
from bailee.domain.numbers import grouped
from bailee.ledger.base64url import unb64u
from bailee.ledger.checkpoint import KeyType, VerifierKey
from bailee.ledger.fingerprint import fingerprint, read_lines
from bailee.presentation import words
from bailee.rules.registry import ORDER, Finding, evaluate
from bailee.rules.verdicts import verdicts
from builders import CARRIER, CLERK, DAY, FIRM, INSPECTOR, Person, Story, visit

pytestmark = pytest.mark.slow  # left out between two saves of a file

ORIGIN = "custody.example"
LOG = VerifierKey(ORIGIN, KeyType.ED25519, bytes(range(32)))
POINTS = 72 / 25.4
LONG_NAME = "Zoë Żółkiewska-Nguyễn Thị Minh Khai von und zu Hohenstein the Younger"
CLIENT = "Aoife Ní Bhraonáin-Featherstonehaugh, Ελένη Παπαδοπούλου"
SITE = "1487 Lower Quarry Meadow Crossing, Building C, Unit 2204, Harrowfield-on-the-Water"


def record(story: Story, log: VerifierKey | None = LOG, findings: list[Finding] | None = None) -> bytes:
    """The PDF of a story's current form."""
    case = story.case()
    found = evaluate(case) if findings is None else findings
    judged = verdicts(case, found, records_state="own log")
    return custody_record.pdf(case.forms[story.form], case, found, judged, case.at, log)


def texts(pdf: bytes) -> list[str]:
    """The text layer of each page, white space made one."""
    document = pypdfium2.PdfDocument(pdf)
    return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def text(pdf: bytes) -> str:
    """The text layer of all pages."""
    return " ".join(texts(pdf))


@cache
def long_story() -> Story:
    """Thirteen cassettes, long names, a correction, a void, an envelope sealed twice, a broken
    seal, a hold.
    """
    person = Person(FIRM, "inspector", LONG_NAME)
    story = Story()
    story.enrolled(person)
    story.lot(samples=13, to=person)
    story.opened(by=person, disclosed={"client": CLIENT, "site": SITE, "question": "musty odor"})
    for index in range(13):
        place = {"place": "north-east corner behind the large bookshelf"} if index % 3 == 0 else {}
        kind = {11: "outdoor", 12: "blank"}.get(index, "indoor")
        story.collected(index, kind, by=person, disclosed=place)
    story.corrected(story.chains[f"form/{story.form}"][2], "flow_after", "13.2", by=person)
    story.voided(3, by=person)
    given = [sample.number for sample in story.state().live]
    story.relinquished(given, by=person, at=f"{DAY}T13:30:00-05:00")
    story.received(given, at=f"{DAY}T14:00:00-05:00")
    story.held(by=CLERK, since=f"{DAY}T14:05:00-05:00")
    story.sealed(at=f"{DAY}T15:00:00-05:00")
    story.unsealed(at=f"{DAY}T15:10:00-05:00")
    story.seal = story.number("seal")
    story.sealed(at=f"{DAY}T15:20:00-05:00")
    story.shipped()
    story.docked(dock={"seal_state": "broken", "package": ["wet", "torn"]})
    story.on_hold(disclosed={"note": "waiting for the client"})
    return story


@cache
def plain() -> bytes:
    """The record of a faultless visit."""
    return record(visit("accepted"))


@cache
def long() -> bytes:
    """The record of the long story."""
    return record(long_story())


def test_project_and_method_are_two_answers() -> None:
    """Run together as not recorded, ASTM D7788, they are read as a method that nobody recorded."""
    story = visit("collected", opened={"project": None, "method": "ASTM D7788"})
    story.surface_collected()
    read = text(record(story))
    assert "Project not recorded" in read
    assert "air samples: ASTM D7788; surface samples: not recorded" in read
    assert "not recorded, air" not in read


def test_every_signature_has_name_time_and_meaning() -> None:
    """A record without these three under each signature is not a signed record to whoever reads it (21 CFR
    11.50).
    """
    read = text(plain())
    for name, role, time, act in (
        ("Inspector One", "inspector", "2026-12-01 11:30 (-05:00), entry 8", "relinquished"),
        ("Clerk One", "clerk", "2026-12-01 11:36 (-05:00), entry 9", "received"),
        ("Clerk One", "clerk", "2026-12-01 14:00 (-05:00), entry 11", "sealed"),
        ("Clerk One", "clerk", "2026-12-01 15:30 (-05:00), entry 12", "shipped"),
        ("Custodian One", "custodian", "2026-12-02 12:00 (-05:00) [11:00 (-06:00)], entry 14", "accepted"),
    ):
        meaning = ON_CHAIN["form"][act].signed
        block = rf"{name} {role}, [^,]+ \(example\) {re.escape(time)} .{re.escape(meaning)}"
        assert re.search(block, read), (name, act)
    assert "I opened this envelope and found it as written here" in read


def test_a_signature_under_what_was_written_by_pen_says_so() -> None:
    """The paper would show a run entered a day later, and not that it was written down on the spot."""
    story = visit("opened")
    line = {"sheet": f"{story.form}-1", "line": "1", "written_at": f"{DAY}T09:18:00-05:00"}
    story.collected(0, said="2026-12-02T10:00:00-05:00", entered="typed", paper=line)
    wanted = "2026-12-02 10:00 (-05:00); written by pen 2026-12-01 09:18 (-05:00)"
    assert wanted in " ".join(text(record(story)).split())


def test_a_version_given_out_is_printed_with_what_it_replaces() -> None:
    """Two printed copies lie on a desk, and only what stands on them can say which one counts."""
    story = visit("accepted")
    first = story.copied(1, file="A" * 43)
    second = story.copied(2, reason="lost", of="record")
    read = text(record(story))
    assert f"Custody record, version 1; covers entries up to {first.n - 1}" in read
    assert f"Custody record, version 2; covers entries up to {second.n - 1}" in read
    assert "Issued again: lost" in read
    assert "A" * 43 in read
    assert f"It replaced version 1 (entry {first.n})." in read


def test_every_act_has_a_meaning() -> None:
    """A new act would stop the printer in front of a waiting courier."""
    assert all(row.signed for row in ON_CHAIN["form"].values())


def test_figures_of_the_run_are_printed() -> None:
    """A laboratory that cannot read flow, seconds and volume on the paper cannot report a concentration."""
    story = visit("collected", first={"flow_before": "15.0", "flow_after": "14.5", "run_s": 295})
    read = text(record(story))
    # (15.0 + 14.5) / 2 = 14.75 L/min; 14.75 * 295 / 60 = 72.520833 L, by hand.
    assert "295 of 300 15.00 14.50 14.75 72.52" in read or all(
        each in read for each in ("295", "of 300", "15.00", "14.50", "14.75", "72.52")
    )
    outdoor = grouped(story.samples[2])
    assert f"{outdoor} 30 min apart" in read
    assert "2026-12-01 09:12 (-05:00)" in read
    assert "2027-11-30" in read


def test_envelope_seal_carrier_and_receipt_are_printed() -> None:
    """Whoever compares the seal in hand with the paper needs the number, the count and what
    the dock found.
    """
    story, read = visit("accepted"), text(plain())
    for said in (
        f"Envelope {grouped(story.envelope)}",
        grouped(story.seal),
        "3 of this form",
        CARRIER,
        "TRACK-0001",
        "3 of this form, 3 in all",
        "intact",
        "sound",
    ):
        assert said in read, said


def test_one_side_only_stays_visible() -> None:
    """A hand-over that one person signed alone would look complete if the empty side were left blank."""
    story = visit("held")
    story.received([each.number for each in story.state().live])
    assert "Not signed" in text(record(story))
    story = visit("relinquished")
    assert "Not yet received" in text(record(story))


def test_pages_are_numbered_of_their_total() -> None:
    """A dock that gets page 1 of 3 alone must see that two pages are missing."""
    for pdf in (plain(), long()):
        pages = texts(pdf)
        for number, page in enumerate(pages, 1):
            assert f"Page {number} of {len(pages)}" in page
            assert custody_record.FOOT in page
    assert len(texts(long())) > 2


def prints_on_letter_and_a4(pdf: bytes) -> None:
    """Whether all that is drawn lies on both papers, at 100 %."""
    for page in pypdfium2.PdfDocument(pdf):
        picture = page.render(scale=200 / 72).to_pil().convert("L").point(lambda gray: 255 * (gray < 250))
        left, top, right, bottom = (side / 200 * 25.4 for side in picture.getbbox())
        assert right - left <= 190.5 + 0.7, "and what the ends of rules stand out"
        assert bottom - top <= 254.5
        for width, height in ((215.9, 279.4), (210, 297)):
            aside, down = (
                (width - 215.9) / 2,
                (height - 279.4) / 2,
            )  # in the middle of the sheet, or from a corner
            for x, y in ((aside, down), (0, 0)):
                edges = (left + x, top + y, width - right - x, height - bottom - y)
                assert min(edges) >= 6.35, "a quarter of an inch, common practice, no source"


@pytest.mark.parametrize("pdf", [plain, long], ids=["plain", "long"])
def test_a_page_prints_at_100_percent_on_letter_and_on_a4(pdf) -> None:
    """A laboratory with the other paper scales the page: words shrink and the code at the head with them, or
    an edge is cut off.
    """
    prints_on_letter_and_a4(pdf())


@pytest.mark.parametrize("pdf", [plain, long], ids=["plain", "long"])
def test_nothing_leaves_the_margins_or_overlaps(pdf) -> None:
    """Words cut off at the edge, or printed over one another, are the ones a dispute will be about."""
    for page in pypdfium2.PdfDocument(pdf()):
        layer = page.get_textpage()
        rects = [layer.get_rect(i) for i in range(layer.count_rects())]
        assert rects
        for left, bottom, right, top in rects:
            edge = (letter.MARGIN - 0.2) * POINTS
            assert left >= edge
            assert right <= letter.WIDTH * POINTS - edge
            assert bottom >= edge
            assert top <= letter.HEIGHT * POINTS - edge
        for i, (left, bottom, right, top) in enumerate(rects):
            for other_left, other_bottom, other_right, other_top in rects[i + 1 :]:
                wide = min(right, other_right) - max(left, other_left)
                high = min(top, other_top) - max(bottom, other_bottom)
                assert wide < 0.6 or high < 1.2, (wide, high)


def test_nothing_is_set_smaller_than_eight_points_but_what_is_kept_on_one_line() -> None:
    """Small print on a custody form is not read at a dock, nor after a photocopier.

    A time on one line of a narrow column is smaller, 6.5 points at least.
    """
    for page in pypdfium2.PdfDocument(long()):
        layer = page.get_textpage()
        sizes = [
            round(pypdfium2.raw.FPDFText_GetFontSize(layer.raw, i), 2) for i in range(layer.count_chars())
        ]
        real = [size for size in sizes if size > 1]
        assert min(real) >= letter.SMALLEST
        assert sum(size < 8 for size in real) < 0.15 * len(real)


def test_the_code_at_the_head_is_the_form_number() -> None:
    """A dock that scans the paper must land on this form and no other."""
    story = visit("accepted")
    page = pypdfium2.PdfDocument(plain())[0].render(scale=200 / 72).to_pil()
    found = zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)
    assert [each.text for each in found] == [story.form]


def test_withheld_fields_are_called_withheld() -> None:
    """An erased client's name must be gone from new prints, and its absence must not look like
    an empty form.
    """
    shown = visit(
        "collected", opened={"disclosed": {"client": "Perpetua Example", "site": "12 Invented Lane"}}
    )
    assert "Perpetua Example" in text(record(shown))
    hidden = visit("collected", opened={"private": 3})
    read = text(record(hidden))
    assert "Perpetua" not in read
    assert (
        "Client Site Contact Building on arrival withheld withheld withheld" in read
        or read.count("withheld") >= 6
    )
    assert "Withheld or erased: 6 private fields of entries 1-4." in read
    silent = visit("collected", opened={"private": 0})
    assert "not recorded" in text(record(silent))


def test_unknown_signer_gets_no_name() -> None:
    """A key whose owner is not disclosed must never be printed under somebody's name."""
    story = visit("collected")
    case = story.case()
    firm = case.organizations[FIRM]
    nameless = {kid: replace(key, person="") for kid, key in firm.keys.items()}
    case = replace(case, organizations={**case.organizations, FIRM: replace(firm, keys=nameless)})
    read = text(custody_record.pdf(case.forms[story.form], case, [], [], case.at))
    assert "name withheld" in read
    assert INSPECTOR.name not in read


def test_names_of_many_alphabets_print() -> None:
    """A signer called Zoë Żółkiewska must find her own name under her signature, not a row of boxes."""
    read = text(long())
    assert LONG_NAME in read
    assert CLIENT in read


def test_a_letter_the_font_lacks_is_not_lost_silently() -> None:
    """A client written in a script the font lacks would otherwise vanish from the paper."""
    story = visit("collected", opened={"disclosed": {"client": "北京\nExample"}})
    assert "[U+5317][U+4EAC] Example" in text(record(story))


def test_a_sign_that_only_steers_is_printed_as_its_code_point() -> None:
    """A note that turns the reading direction (Unicode, UAX 9) would read otherwise than it was signed."""
    story = visit("collected", opened={"disclosed": {"client": "\u202eelpmaxE\u200b\u2028Client"}})
    assert "[U+202E]elpmaxE[U+200B][U+2028]Client" in "".join(text(record(story)).split())


def test_every_severity_is_printed_with_its_remedy() -> None:
    """A finding that the paper leaves out is one that nobody at the other end acts on."""
    story = visit("collected")
    found = [
        Finding(f"XX-0{i}", severity, "media", story.form, f"Sentence {i}.", f"Remedy {i}.", (i,), "")
        for i, severity in enumerate(ORDER)
    ]
    found[1] = replace(
        found[1], excepted="allowed by exception, signed by Quality One: no alternative (entry 9)"
    )
    read = text(record(story, findings=found))
    for i, severity in enumerate(ORDER):
        assert words.severity_meaning(severity) in read
        assert f"Sentence {i}. Now: Remedy {i}." in read
    assert "Allowed by exception, signed by Quality One: no alternative (entry 9)" in read
    assert (
        "1 not recorded, 1 stop, 1 flag, 1 warning and 1 note: see Findings."
        in texts(record(story, findings=found))[0]
    )


def test_four_verdicts_say_what_was_not_checked() -> None:
    """One tick for everything would be read as a promise that nobody made."""
    story = visit("accepted")
    case = story.case()
    read = text(plain())
    for verdict in verdicts(case, evaluate(case), records_state="own log"):
        assert (
            f"{words.AREAS[verdict.area]}: {words.verdict(verdict.area, verdict.state)} {verdict.sentence}"
            in read
        )
        for said in verdict.not_checked:
            assert said in read


def test_a_correction_shows_old_and_new() -> None:
    """An old value that disappears from the paper is an alteration, not a correction (21 CFR 11.10(e))."""
    document = pypdfium2.PdfDocument(long())
    for page in document:
        layer = page.get_textpage()
        place = layer.search("flow after").get_next()
        if place is None:
            continue
        old = layer.get_text_range().index("14.9", place[0])
        assert "13.2" in layer.get_text_range()[old:]
        left, bottom, _, top = layer.get_charbox(old)
        right = layer.get_charbox(old + 3)[2]
        scale = 4
        seen = page.render(scale=scale).to_pil().convert("L")
        upper, lower = (int((page.get_height() - edge) * scale) for edge in (top, bottom))
        assert any(
            all(seen.getpixel((x, y)) < 200 for x in range(int(left * scale) + 1, int(right * scale) - 1))
            for y in range(upper, lower)
        ), "no line is drawn through the old value"
        return
    pytest.fail("the correction is not printed")


def test_the_hash_line_is_the_newest_leaf() -> None:
    """A hash on paper that cannot be compared with the log proves nothing years later (Crockford base32, read
    back by hand).
    """
    story = visit("accepted")
    newest = story.chains[f"form/{story.form}"][-1]
    printed = fingerprint(newest.leaf)
    assert printed in text(plain())
    assert ORIGIN in text(plain())
    alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
    number = 0
    for character in printed.replace(" ", ""):
        number = number * 32 + alphabet.index(character)
    assert len(printed.replace(" ", "")) == 52
    assert (number >> 4).to_bytes(32, "big") == unb64u(newest.leaf)
    assert number & 15 == 0


def test_the_keys_to_check_with_are_on_the_paper_as_they_are_typed() -> None:
    """An auditor with the paper in hand would have no root to type, or one without a check, and a slip would
    read as forgery.
    """
    story = visit("accepted")
    read = text(plain())
    for org, known in story.case().organizations.items():
        typed = read.partition(f"Root key of {org}")[2]
        assert typed, org
        keys = {read_lines(each) for each in _five_lines(read)}
        assert unb64u(known.root) in keys
    assert LOG.public in {read_lines(each) for each in _five_lines(read)}
    assert f"Key of the log {ORIGIN}" in read
    begins = re.findall(r"\S+=(?!\S)", read.partition("Keys to check")[2])
    assert {f"{ORIGIN}=", *(f"{org}=" for org in story.case().organizations)} <= set(begins)
    assert len(_five_lines(text(record(story, None)))) == len(story.case().organizations)


def _five_lines(read: str) -> list[str]:
    """Each key, put together from its lines: columns stand side by side, so the text layer gives them line by
    line.
    """
    symbol = r"[0-9A-Z*~$=]"
    lines = [
        re.findall(rf"(?<!\S){n} (?:[0-9A-Z]{{4}} ){{{groups}}}{symbol}(?!\S)", read)
        for n, groups in ((1, 3), (2, 3), (3, 3), (4, 3), (5, 1))
    ]
    return [" ".join(parts) for parts in zip(*lines, strict=True)]


def test_the_same_record_is_the_same_file() -> None:
    """Two prints of one state that differ in a byte look like two versions of the truth."""
    assert record(visit("accepted")) == plain()
    story = visit("accepted")
    case = story.case("2027-01-05T14:00:00+00:00")  # as a ledger's clock has it
    later = custody_record.pdf(case.forms[story.form], case, [], [], case.at, LOG)
    assert "As it stood 2027-01-05 09:00 (-05:00)" in text(later)


def test_what_a_carrier_brings_is_not_asked_for_a_purpose() -> None:
    """Each record of a sound shipment would end with something left out, which nobody can enter at a dock."""
    said = text(record(visit("accepted", docked={"purpose": None})))
    assert "Purpose: transport." in said
    assert "Purpose: not recorded." not in said


def test_demo_keys_are_called_so() -> None:
    """A print from a demonstration could otherwise be shown to somebody as evidence."""
    assert words.DEMO in text(record(visit("collected"), replace(LOG, name="demo.custody.example")))
    assert words.DEMO not in text(plain())


def test_words_that_promise_too_much_are_never_printed() -> None:
    """A promise the paper cannot keep is what an opposing expert reads out first."""
    read = text(long()).lower()
    for word in ("passed", "certified", "tamper", "admissible", "toxic"):
        assert word not in read


def test_the_paper_is_called_as_in_the_trade() -> None:
    """A dock that looks for a chain-of-custody record puts this one aside, and reads who collected under
    `received`.
    """
    read = texts(plain())
    assert read[0].count("CHAIN-OF-CUSTODY RECORD") == 1
    assert "local time, New York" in read[0]
    assert "Collected by Inspector One" in " ".join(read)


def test_findings_begin_under_their_heading() -> None:
    """A heading alone at the foot of a page is read as: none."""
    for page in texts(long()):
        assert not re.search(r"Findings \d+ in all$", page)


def test_a_form_without_samples_prints() -> None:
    """A visit that was called off still needs its paper."""
    assert "No collection entry is on record here." in text(record(visit("opened")))


def test_a_row_taller_than_a_page_loses_nothing() -> None:
    """A clerk who gives away part of a large set must find every number on the paper."""
    story = Story()
    for _ in range(2):
        story.lot(samples=120)
    story.opened()
    for index in range(240):
        story.collected(index, "outdoor" if index == 0 else "indoor", started=f"{DAY}T09:12:00-05:00")
    story.relinquished(story.samples[:200])
    case = story.case()
    read = text(custody_record.pdf(case.forms[story.form], case, [], [], case.at))
    custody = read[read.index("Chain of custody") :]
    for number in story.samples[:200]:
        assert grouped(number) in custody


@pytest.mark.parametrize("unbroken", ["x", "\u202e\u0007\x1b[2J"], ids=["letters", "controls"])
def test_a_note_without_blanks_is_measured_once_and_printed_whole(
    monkeypatch: pytest.MonkeyPatch, unbroken: str
) -> None:
    """Whoever writes a note of one endless word would otherwise keep the service measuring it while everybody
    else waits.
    """
    measured = []
    whole, one = FPDF.get_string_width, getattr(letter.Letter, "_advance", None)

    def of_words(self: FPDF, words: str, *rest: Any) -> float:
        measured.append(len(words))
        return float(whole(self, words, *rest))

    def of_one(self: letter.Letter, sign: str) -> float:
        measured.append(1)
        assert one is not None
        return float(one(self, sign))

    monkeypatch.setattr(FPDF, "get_string_width", of_words)
    monkeypatch.setattr(letter.Letter, "_advance", of_one, raising=False)

    def cost(times: int) -> int:
        measured.clear()
        story = visit("collected")
        story.held(disclosed={"note": unbroken * times})
        pages = texts(record(story))
        read = "".join("".join(pages).split())
        assert read.count(printed) > times - len(pages), "one may be divided at the end of each page"
        return sum(measured)

    printed = "".join(c if " " <= c <= "~" else f"[U+{ord(c):04X}]" for c in unbroken)
    few, many = cost(30), cost(330)
    assert many - few <= 4 * 300 * len(printed)


def test_the_paper_has_of_its_font_what_is_printed() -> None:
    """Each paper would be three times as large, with outlines for weights that no reader of a PDF draws
    (ISO 32000-1 9.9).
    """
    fonts = [
        TTFont(BytesIO(font["/DescendantFonts"][0].get_object()["/FontDescriptor"]["/FontFile2"].get_data()))
        for font in (
            each.get_object() for each in PdfReader(BytesIO(plain())).pages[0]["/Resources"]["/Font"].values()
        )
        if "/DescendantFonts" in font
    ]
    assert fonts
    for font in fonts:
        assert {"glyf", "head", "hhea", "hmtx", "loca", "maxp"} <= set(font.keys())
        assert {"gvar", "fvar", "HVAR", "GSUB", "GPOS"}.isdisjoint(font.keys())
