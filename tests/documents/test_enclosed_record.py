"""The record that is put into the envelope before its seal exists, and the places for ink on it.

That the record lies inside the sealed container: county-filed sampling plans that follow EPA.
"""

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pypdfium2
import pytest
import zxingcpp
from pypdfium2 import raw
from test_custody_record import LOG, POINTS, prints_on_letter_and_a4, record, text, texts
from test_never_wrapped import divided, printed_lines
from test_pen_form import sheet

from bailee.documents import blind_copy, custody_record, dock_block, letter, pen, receipt_slip, sealed_sheet
from bailee.documents.enclosed_record import Enclosing
from bailee.domain.numbers import grouped
from bailee.errors import Refused
from bailee.presentation import blind_view, words
from bailee.presentation.form_view import form_view
from bailee.rules.registry import Finding, evaluate
from bailee.rules.verdicts import verdicts
from builders import CLERK, FIRM, INSPECTOR, Person, Step, Story, visit

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


def test_what_a_rule_stops_is_not_said_to_be_closed() -> None:
    """The clerk closes the envelope by the paper that tells them with which seal."""
    story = visit("kept").again()
    case = story.case()
    stop = Finding("OC-01", "block", "comparison", story.form, "There is no outdoor control.", "Collect one.")
    into = Enclosing(ENVELOPE, SEAL)
    read = text(custody_record.pdf(case.forms[story.form], case, [stop], [], case.at, LOG, into))
    assert "STOP: do not seal OC-01: There is no outdoor control." in read
    assert "To be closed" not in read
    assert words.BEING_SEALED not in read
    warned = replace(stop, severity="warn")
    told = text(custody_record.pdf(case.forms[story.form], case, [warned], [], case.at, LOG, into))
    assert "To be closed with seal" in told
    assert "STOP: do not seal" not in told


def test_what_is_not_recorded_is_named() -> None:
    """*not recorded, not recorded* leaves the reader to guess of what."""
    story = visit("collected", opened={"analysis": None, "turnaround": None})
    assert "analysis: not recorded; turnaround: not recorded" in text(record(story))
    assert "not recorded, not recorded" not in text(record(story))


def test_a_method_of_air_is_not_printed_for_a_tape_lift() -> None:
    """The laboratory reports a tape lift by a method for air."""
    story = visit("collected")
    story.surface_collected()
    assert "air samples: spore-trap; surface samples: not recorded" in text(record(story))
    assert "3 air samples and 1 surface sample collected, not void" in text(record(story))
    assert "air samples" not in text(record(visit("collected")))


def test_what_nobody_entered_is_written_in_by_hand() -> None:
    """The laboratory calls for a purchase order, and the paper has no place to write down the answer."""
    bare = visit("kept", opened={"project": None})
    case = bare.case()
    pdf = custody_record.pdf(case.forms[bare.form], case, [], [], case.at, LOG, Enclosing(ENVELOPE, SEAL))
    read = texts(pdf)[0]
    assert "Project Purchase order Report to" in read
    assert "Method spore-trap" in read
    assert sum(65 < wide < 90 for wide in written_lines(pdf, 0)) >= 3
    assert "Purchase order" not in text(record(bare)), "nobody writes on the one that stays"


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


def written_lines(pdf: bytes, page: int) -> list[float]:
    """Millimeters of each line to write on."""
    return [width for width, height in boxes(pdf, page) if height < 0.5 and 12 < width < 170]


def page_with(pdf: bytes, words: str) -> tuple[int, str]:
    """The one page on which something stands."""
    ((n, read),) = ((n, read) for n, read in enumerate(texts(pdf)) if words in read)
    return n, read


def test_whoever_collected_signs_it_in_ink() -> None:
    """A laboratory asks for the collector's signature on the paper (EPA: signature of the collector), and
    there is a key's only.
    """
    page, read = page_with(enclosed(), "Collected by: name")
    assert "Collected by: name signature date, time (local)" in read
    assert len([width for width in written_lines(enclosed(), page) if 35 < width < 50]) >= 3
    assert "Collected by: name" not in text(record(visit("kept")))


def test_two_who_collected_have_a_line_each() -> None:
    """The second one signs in the margin, or not at all."""
    story = visit("opened")
    story.collected(0)
    story.enrolled(other := Person(FIRM, "inspector", "Bram Sorrel"))
    story.collected(1, by=other)
    case = story.case()
    pdf = custody_record.pdf(case.forms[story.form], case, [], [], case.at, LOG, Enclosing(ENVELOPE, SEAL))
    assert text(pdf).count("Collected by: name") == 2


def test_no_verdict_is_pointed_to_that_is_not_on_it() -> None:
    """A dock looks for what was not checked, on a paper that does not say it."""
    assert "No findings." in text(enclosed())
    assert words.SEE_VERDICTS not in text(enclosed())
    assert f"No findings. {words.SEE_VERDICTS}" in text(record(visit("kept"), findings=[]))


def test_the_dock_receives_on_the_record_inside() -> None:
    """A laboratory that gets no sheet outside, or has no power, has nowhere to write what it found
    (EPA 905R78115 for seal and condition; the rest common practice, no source).
    """
    page, read = page_with(enclosed(), dock_block.AT_THE_DOCK)
    for said in (
        "Seal read", "intact broken missing VOID showing", "Package sound wet crushed torn opened",
        "Cassettes intact cracked cover off wet label unreadable label missing opened not received",
        "not received Damaged: which, remarks temperature inside",
        "Cassettes counted not listed here: how many which", "temperature inside, circle C or F",
        "containers counted",
        "Delivered (by the carrier) received (still sealed here) opened (seal was cut)",
        "Received by: name signature", "accepted on hold rejected reason",
        "Firm called: who when decided by date, time",
    ):  # fmt: skip
        assert said in read, said
    assert len(written_lines(enclosed(), page)) >= 12
    side = pytest.approx(letter.TICK, abs=0.5)
    assert sum(width == side and height == side for width, height in boxes(enclosed(), page)) == 4 + 5 + 8 + 3
    assert dock_block.AT_THE_DOCK not in text(record(visit("kept")))


def asked_for(story: Story, envelope: str) -> Refused:
    """Why the record to enclose is not printed."""
    case = story.case()
    with pytest.raises(Refused) as refused:
        custody_record.pdf(case.forms[story.form], case, [], [], case.at, LOG, Enclosing(envelope, SEAL))
    return refused.value


@pytest.mark.parametrize(
    ("step", "own", "code", "instead"),
    [
        ("sealed", True, "sealed-already", "Print its sealed sheet for the pocket outside."),
        ("sealed", False, "nothing-to-enclose", "Print the custody record as it stands"),
        ("docked", True, "received-already", "Print the custody record as it stands"),
        ("accepted", False, "nothing-to-enclose", "Print the custody record as it stands"),
    ],
)
def test_what_comes_too_late_is_not_printed(step: Step, own: bool, code: str, instead: str) -> None:
    """A record printed after receipt would be laid beside the samples as if it had traveled with them."""
    story = visit(step)
    refused = asked_for(story, story.envelope if own else ENVELOPE)
    assert refused.code == code
    assert instead in refused.sentence


def test_an_envelope_opened_again_gets_its_record_again() -> None:
    """The clerk who replaces a torn seal has to put in a record that names the new one."""
    story = visit("sealed").again()
    story.unsealed()
    case = story.case()
    into = Enclosing(story.envelope, "C-9")
    assert "To be closed with seal C-9" in text(
        custody_record.pdf(case.forms[story.form], case, [], [], case.at, LOG, into)
    )


@cache
def printed(paper: str, nth: int) -> bytes:
    """Each paper that is written on, as its n-th print."""
    kept, sealed = visit("kept").case(), visit("sealed").case()
    form, envelope = visit("kept").form, visit("sealed").envelope
    here = visit("accepted").case()
    view = form_view(here.forms[visit("accepted").form], here)
    draw: dict[str, Callable[[], bytes]] = {
        "enclosed": lambda: custody_record.pdf(
            kept.forms[form], kept, [], [], kept.at, LOG, Enclosing(ENVELOPE, SEAL), nth=nth
        ),
        "record": lambda: custody_record.pdf(kept.forms[form], kept, [], [], kept.at, LOG, nth=nth),
        "sheet": lambda: sealed_sheet.pdf(envelope, sealed, sealed.at, nth=nth),
        "slip": lambda: receipt_slip.pdf(envelope, sealed, sealed.at, "R-7", log="demo.example", nth=nth),
        "blind": lambda: blind_copy.pdf(blind_view.blind_copy(view), sealed.at, nth=nth),
        "pen": lambda: sheet(reprint=words.reprint(nth, "2026-12-01 11:40 (-05:00)")),
    }
    return draw[paper]()


@pytest.mark.parametrize("paper", ["enclosed", "record", "sheet", "slip", "blind", "pen"])
def test_a_reprint_says_that_it_is_one_and_when(paper: str) -> None:
    """Two papers with ink on them lie side by side, and nobody can tell which was written on first."""
    first, second = text(printed(paper, 1)), text(printed(paper, 2))
    assert "REPRINT" not in first
    assert re.search(r"REPRINT: print 2, 2026-12-\d\d \d\d:\d\d(:\d\d)? \([+-]\d\d:\d\d\)", second)
    if paper == "slip":
        assert second.count("REPRINT") == 2, "on both copies"
    if paper in ("sheet", "slip"):
        assert len(texts(printed(paper, 2))) == 1
    assert divided(printed_lines(printed(paper, 2)), []) == []


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
