"""The record that is put into the envelope before its seal exists, and the places for ink on it.

That the record lies inside the sealed container: county-filed sampling plans that follow EPA.
"""

from functools import cache

import pypdfium2
import pytest
import zxingcpp
from pypdfium2 import raw
from test_custody_record import LOG, POINTS, prints_on_letter_and_a4, record, text, texts
from test_never_wrapped import divided, printed_lines

from bailee.documents import custody_record, letter, pen
from bailee.documents.custody_record import Enclosing
from bailee.domain.numbers import grouped
from bailee.presentation import words
from bailee.rules.registry import evaluate
from bailee.rules.verdicts import verdicts
from builders import CLERK, INSPECTOR, Step, visit

pytestmark = pytest.mark.slow

ENVELOPE, SEAL = "E70H7VR343Y9", "HF-20417"


@cache
def enclosed(step: Step = "kept", containers: int | None = None) -> bytes:
    """The record of a faultless visit, as it is put into an envelope."""
    case = visit(step).case()
    found = evaluate(case)
    judged = verdicts(case, found, records_state="own log")
    into = Enclosing(ENVELOPE, SEAL, containers)
    return custody_record.pdf(case.forms[visit(step).form], case, found, judged, case.at, LOG, into)


def boxes(pdf: bytes, page: int) -> list[tuple[float, float]]:
    """Width and height of everything drawn on a page, in millimeters, with the thickness of its line."""
    drawn = pypdfium2.PdfDocument(pdf)[page].get_objects(filter=[raw.FPDF_PAGEOBJ_PATH])
    bounds = [each.get_bounds() for each in drawn]
    return [((right - left) / POINTS, (top - bottom) / POINTS) for left, bottom, right, top in bounds]


def test_envelope_and_seal_about_to_be_used_stand_on_what_is_enclosed() -> None:
    """A dock that opens the envelope would find a record that names no envelope and no seal, as if it had
    been put in from anywhere.
    """
    first = texts(enclosed())[0]
    assert f"To be closed with seal {SEAL}, as envelope {grouped(ENVELOPE)}" in first
    assert "3 cassettes of this form to go in; direct-exam, standard" in first
    page = pypdfium2.PdfDocument(enclosed())[0].render(scale=300 / 72).to_pil()
    codes = zxingcpp.read_barcodes(page)
    assert {each.text for each in codes} == {ENVELOPE, visit("kept").form}
    (bars,) = (each.text for each in codes if each.format == zxingcpp.BarcodeFormat.Code128)
    assert bars == ENVELOPE, "the clerk scans it where `seal` asks for the envelope"


def test_a_tape_lift_is_not_counted_as_a_cassette() -> None:
    """The dock looks for an eighth cassette, and reads an area as liters of air."""
    story = visit("collected")
    story.surface_collected()
    case = story.case()
    found = evaluate(case)
    into = Enclosing(ENVELOPE, SEAL)
    read = text(custody_record.pdf(case.forms[story.form], case, found, [], case.at, LOG, into))
    assert "3 cassettes and 1 tape lift of this form to go in" in read
    assert "samples counted" in read
    assert "Vol., L; area or mass" in read


def test_it_prints_on_letter_and_on_a4() -> None:
    """A printer with the other paper cuts off where somebody signs."""
    prints_on_letter_and_a4(enclosed())


def test_there_is_a_line_for_another_seal() -> None:
    """A torn seal is replaced, and the paper inside would name one that was never on the envelope."""
    first = texts(enclosed())[0]
    assert "If another seal is used: its number" in first
    assert "initials, time" in first
    lines = [width for width, height in boxes(enclosed(), 0) if height < 0.5 and 35 < width < 60]
    assert len(lines) >= 1, "a number of 24 characters is not written on less than 35 mm"


@pytest.mark.parametrize(("containers", "said"), [(None, "containers (bags or boxes)"), (2, "2 containers")])
def test_containers_are_printed_or_asked_for(containers: int | None, said: str) -> None:
    """A dock that counts one bag cannot know that there were two."""
    assert said in texts(enclosed(containers=containers))[0]


def test_nothing_is_judged_before_it_is_sealed() -> None:
    """Four verdicts about custody that has not left the desk would be read at the dock as verdicts about the
    journey.
    """
    read = text(enclosed())
    assert "Four verdicts" in text(record(visit("kept")))
    assert "Four verdicts" not in read
    assert words.NOT_CHECKED not in read


def test_whoever_is_sealing_is_not_said_to_have_left_out_how() -> None:
    """The clerk who holds the cassettes in hand would read that nobody knows how they are kept."""
    read = text(enclosed("handed_over"))
    assert f"{words.Heading.SECURED}: {words.BEING_SEALED}." in read
    assert read.count(words.NO_WAY_RECORDED) == 0
    assert words.NO_WAY_RECORDED in text(record(visit("handed_over")))


@pytest.mark.parametrize("pdf", [enclosed, lambda: record(visit("accepted"))], ids=["enclosed", "full"])
def test_three_people_sign_in_ink(pdf) -> None:
    """A courier without a key, or a dock without a network, has nowhere to sign (EPA: signatures of everybody
    in the chain of possession).
    """
    pages = texts(pdf())
    (page,) = (n for n, read in enumerate(pages) if "Relinquished and received, in ink" in read)
    cells = [width for width, height in boxes(pdf(), page) if 8 <= height <= 10.5 and 35 < width < 50]
    assert len(cells) == 3 * 2 * 4
    assert sum(width >= 45 for width in cells) == 3 * 2 * 2, "company, date and time"
    assert sum(width >= 40 for width in cells) == 3 * 2 * 3, "and the signature"
    assert "name company signature date, time (local)" in pages[page]
    assert pages[page].count("Relinquished by") >= 3


@pytest.mark.parametrize("above", range(180, 252, 4))
def test_the_rows_to_sign_in_stand_under_their_heading(above: int) -> None:
    """Empty boxes at the head of a page are signed by people who do not read for what."""
    paper = letter.Letter("Example", "Example", "Example", visit("kept").case().at.instant)
    paper.y = above
    pen.section_of_hands(paper, "")
    pages = texts(paper.file())
    (page,) = (n for n, read in enumerate(pages) if pen.HANDS in read)
    assert sum(height > 8 for _, height in boxes(paper.file(), page)) == 24


@pytest.mark.parametrize("step", ["handed_over", "kept"])
def test_what_is_enclosed_divides_nothing(step: Step) -> None:
    """The number of the seal at the end of a line is read as another one."""
    samples = [grouped(each.number) for each in visit(step).state().live]
    assert divided(printed_lines(enclosed(step)), [grouped(ENVELOPE), SEAL, *samples]) == []


def test_serial_pump_meter_and_weather_are_on_the_record() -> None:
    """Whoever asks which pump drew the sample, or under which sky, would have to ask the ledger."""
    read = text(record(visit("accepted")))
    for said in ("serial G-000001", "pump PUMP-1", "meter METER-1", "sky clear, wind light"):
        assert said in read, said
    bare = visit("collected", first={"serial": None, "pump": None, "meter": None})
    assert "serial not recorded" in text(record(bare))


def test_the_temperature_on_opening_is_on_the_record() -> None:
    """A dock reads it off a thermometer, and a reader of the paper never learns it."""
    assert "Temperature inside on opening 18 °C (64 °F)" in text(record(visit("accepted")))
    assert "Temperature inside" not in text(
        record(visit("accepted", docked={"dock": {"temperature_c": ...}}))
    )


def test_the_record_names_who_holds_the_samples_now() -> None:
    """The last row of the chain must be searched, and tells nothing of two holders."""
    story = visit("kept")
    assert f"Now: All 3 samples: held by {CLERK.name} (harrow-field), in a restricted room" in text(
        record(story)
    )
    story.relinquished(story.samples[:1], by=CLERK, at="2026-12-01T12:00:00-05:00", to_kid=INSPECTOR.kid)
    read = text(record(story))
    assert f"1 of 3: {grouped(story.samples[0])}: held by {CLERK.name}" in read
    assert "relinquished, not yet received." in read
    ended = visit("accepted")
    ended.disposed()
    assert ": held by" not in text(record(ended))
