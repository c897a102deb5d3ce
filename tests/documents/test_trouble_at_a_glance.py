"""A form with trouble says so at the head of its record, and in each cell that it bears on."""

from functools import cache

import pytest
from test_custody_record import record, text, texts
from test_for_report import page
from test_never_wrapped import divided, printed_lines

from bailee.domain.numbers import grouped
from bailee.presentation import words
from builders import DAY, Story, findings, visit

pytestmark = pytest.mark.slow


@cache
def trouble() -> Story:
    """Three expired cassettes in a rush: one in heavy dust and corrected, one missing, a broken seal."""
    story = visit("opened", lot={"expiry": "2026-11-30"})
    story.collected(0, dust="heavy")
    story.collected(1)
    story.collected(2, "outdoor")
    story.corrected(story.chains[f"form/{story.form}"][1], "flow_after", "14.2")
    story.requested(turnaround="24-h", due="2026-12-04", priority="rush", purchase="PO-7", cost_center="C-9")
    story.relinquished(at=f"{DAY}T13:30:00-05:00")
    story.received(at=f"{DAY}T13:36:00-05:00")
    story.sealed(containers=1)
    story.shipped()
    story.docked(story.samples[:2], dock={"seal_state": "broken", "containers": 1})
    story.on_hold()
    return story


def test_the_box_at_the_head_says_what_stops_the_work() -> None:
    """Whoever takes the paper in hand counts on, and learns on page 4 that the seal was broken."""
    first = texts(record(trouble()))[0]
    assert "2 of 3 ON HOLD: seal broken; 1 of 3 missing; 3 expired" in first
    assert "RUSH, DUE 2026-12-04" in first
    assert first.index("ON HOLD") < first.index("see Findings") < first.index("Samples")
    sound = texts(record(visit("accepted")))[0]
    assert "HOLD" not in sound
    assert "DUE" not in sound


def test_analysis_stands_once_at_the_head() -> None:
    """Two lines with the same analysis are read as two analyses."""
    head = texts(record(trouble()))[0].partition("ON HOLD")[0]
    assert head.count("direct-exam") == 1
    assert "due 2026-12-04, priority rush, purchase order PO-7, cost center C-9" in head


def test_an_expired_medium_says_so_in_its_row() -> None:
    """A date is read as a date, and nobody reckons."""
    read = text(record(trouble()))
    assert read.count("2026-11-30 EXPIRED") == 3
    assert "EXPIRED" not in text(record(visit("accepted")))
    assert "EXPIRED 2026-11-30" in text(page(trouble()))


def test_now_names_the_sample_that_nobody_holds() -> None:
    """2 of 3 are held, and the third is nowhere."""
    read = text(record(trouble()))
    assert f"Now: 1 of 3: {grouped(trouble().samples[2])}: {words.NOT_IN_ENVELOPE}." in read


def test_a_corrected_value_is_marked_with_its_entry() -> None:
    """The laboratory reckons with a volume, and does not know that it was another one before."""
    story = trouble()
    n = story.state().corrections[0].entry.n
    pdf = record(story)
    assert text(pdf).count(f"* {n}") == 2, "flow and volume"
    assert "* Corrected by the entry named" in text(pdf)
    assert divided(printed_lines(pdf), []) == []
    assert "* Corrected" not in text(record(visit("accepted")))


def test_what_is_printed_with_results_has_no_orders_to_the_laboratory() -> None:
    """The client reads in the report that something is to be printed with the result."""
    for paper in (record, page):
        read = text(paper(trouble()))
        assert "To be printed with its result." not in read
        assert "print this with its result" not in read
        assert "its seal was broken on opening" in read


def test_the_method_of_analysis_is_the_method_alone() -> None:
    """A purchase order in the report of a laboratory is nobody's business."""
    read = text(page(trouble()))
    method = read.partition("f) ")[2].partition("g) ")[0]
    assert "direct-exam" in method
    for said in ("24-h", "2026-12-04", "rush", "PO-7", "C-9"):
        assert said not in read, said


def test_items_are_told_as_received() -> None:
    """7.8.2.1 g asks for the condition, and the report would have cassettes without the box they came in."""
    items = text(page(trouble())).partition("g) ")[2].partition("h) ")[0]
    for said in ("broken", "containers counted 1", "temperature inside on opening 18 °C"):
        assert said in items, said


def test_dust_and_corrections_are_deviations() -> None:
    """`None on record` over a trace that nobody can count."""
    story = visit("collected", first={"dust": "heavy"})
    (dust,) = findings(story.case(), "SL-12")
    entry = story.corrected(story.chains[f"form/{story.form}"][2], "flow_after", "14.8")
    told = text(page(story)).partition("n) ")[2]
    assert dust.sentence in told
    assert f"{grouped(story.samples[1])}: flow after was corrected (entry {entry.n})." in told
    assert told.count("SL-12") == 1
    assert "None on record" not in told


def test_the_record_does_not_say_of_itself_that_it_is_printed() -> None:
    """A remedy that points to the paper in hand is talk of a program."""
    read = text(record(trouble()))
    assert "printed on the custody record" not in read
    assert "corrects flow after of entry 2" in read
