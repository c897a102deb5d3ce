"""Each demand of the sources on the papers of custody, and where it is met: source, clause, paper, words.

A row names a paper and what has to stand on it when the fact was told. Each is looked up on the printed page:
what no paper says is red. Marked *from memory*: the clause was not read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cache
from typing import Final

import pytest
from test_custody_record import LOG, record, text
from test_pen_form import FORM, sheet

from bailee.documents import blind_copy, custody_record, for_report, receipt_slip, sealed_sheet
from bailee.documents.enclosed_record import Enclosing
from bailee.domain.numbers import grouped
from bailee.presentation import blind_view
from bailee.presentation.form_view import form_view
from bailee.rules.registry import evaluate
from builders import CLERK, DAY, Story, visit

pytestmark = pytest.mark.slow

EPA: Final = "EPA guidance of November 1992, p. 7-27 (third-party copy; title from memory)"
LIMBS: Final = "EPA 905R78115, what custody is"
PLANS: Final = "county-filed sampling plans that follow EPA"
RECEIVING: Final = "receiving guide of a national laboratory"
D4840: Final = "ASTM D4840 1.1-1.5 (scope)"
HANDBOOK: Final = "handbook of a laboratory: samples out of storage"
SAMPLING: Final = "ISO/IEC 17025:2017 7.3.3"
HANDLING: Final = "ISO/IEC 17025:2017 7.4 (7.4.2 to 7.4.4 from memory)"
REPORTS: Final = "ISO/IEC 17025:2017 7.8.2.1"
AMENDED: Final = "ISO/IEC 17025:2017 7.8.8 (from memory)"
TEXAS: Final = "16 Tex. Admin. Code 78.100(d)(3)"

ASKED: Final[Mapping[str, tuple[str, ...]]] = {
    EPA: (
        "number of the record", "signature of the collector", "date and time of collection", "type of sample",
        "point of collection", "number of containers", "analyses requested", "signatures of possession",
        "dates of possession", "own copy",
    ),
    LIMBS: ("possession", "in view", "locked", "secured area", "sealed"),
    PLANS: (
        "record inside the sealed container", "part of the laboratory", "giver and receiver sign",
        "flow before and after", "blanks submitted blind", "numbers that do not tell the site",
    ),
    RECEIVING: ("signed for unopened", "opened later"),
    D4840: ("collection", "shipment", "storage", "analysis", "disposal"),
    HANDBOOK: ("signed out of the store", "its return"),
    SAMPLING: tuple("abcdefgh"),
    HANDLING: (
        "7.4.1 receipt", "7.4.1 disposal", "7.4.2 identity", "7.4.3 deviation", "7.4.3 consulted",
        "7.4.4 conditions",
    ),
    REPORTS: tuple("efghkn"),
    AMENDED: ("the version", "why it was issued again", "what it replaced"),
    TEXAS: ("each location", "material sampled"),
}  # fmt: skip
"""What each source asks for."""

Words = Callable[[Story], str]


def said(words: str) -> Words:
    """Words that stand there as they are."""
    return lambda _: words


HANDS = "name company signature date, time (local) Relinquished by Received by"
"""What stands over the rows in which the paper changes hands."""


STANDS: Final[list[tuple[str, str, str, Words]]] = [
    (EPA, "number of the record", "pen", said(grouped(FORM))),
    (EPA, "signature of the collector", "pen", said("L Collected by: name sign date time UTC")),
    (EPA, "date and time of collection", "pen", said("start run s")),
    (EPA, "type of sample", "pen", said("kind indoor outdoor blank")),
    (EPA, "point of collection", "pen", said("point on sketch near")),
    (EPA, "analyses requested", "pen", said("E analysis F turnaround")),
    (
        EPA,
        "signatures of possession",
        "pen",
        said("relinquished by: name, organization sign date time to purpose received by: name, organization"),
    ),
    (EPA, "number of the record", "record", lambda story: grouped(story.form)),
    (EPA, "number of the record", "enclosed", lambda story: grouped(story.form)),
    (
        EPA,
        "signature of the collector",
        "record",
        said("\u201cI collected these samples as written here\u201d"),
    ),
    (EPA, "signature of the collector", "enclosed", said("Collected by: name signature date, time (local)")),
    (HANDLING, "7.4.1 receipt", "enclosed", said("received (still sealed here) opened (seal was cut)")),
    (HANDLING, "7.4.3 deviation", "enclosed", said("Samples intact cracked cover off wet")),
    (HANDLING, "7.4.4 conditions", "enclosed", said("temperature inside, circle C or F")),
    (EPA, "date and time of collection", "record", said(f"{DAY} 09:12 (-05:00)")),
    (EPA, "date and time of collection", "sheet", said("09:12 300")),
    (EPA, "date and time of collection", "sheet", said(f"Started on {DAY}, clock -05:00")),
    (EPA, "type of sample", "record", lambda story: f"{grouped(story.samples[2])} outdoor control"),
    (EPA, "type of sample", "enclosed", lambda story: f"{grouped(story.samples[2])} outdoor control"),
    (EPA, "point of collection", "record", said("Point 1")),
    (EPA, "number of containers", "record", said("2 containers")),
    (EPA, "number of containers", "enclosed", said("2 containers")),
    (EPA, "number of containers", "sheet", said("2 containers")),
    (
        EPA,
        "analyses requested",
        "record",
        said("air samples: direct-exam; surface samples: direct-exam; turnaround: rush"),
    ),
    (
        EPA,
        "analyses requested",
        "enclosed",
        said("air samples: direct-exam; surface samples: direct-exam; turnaround: rush"),
    ),
    (EPA, "signatures of possession", "record", said("\u201cI received these samples\u201d")),
    (EPA, "signatures of possession", "sheet", said(HANDS)),
    (
        EPA,
        "dates of possession",
        "record",
        said(f"Clerk One clerk, Harrow Field Sampling (example) {DAY} 11:36"),
    ),
    (EPA, "own copy", "slip", said("copy of the person who carries it")),
    (LIMBS, "possession", "record", said("Secured: on the person")),
    (LIMBS, "in view", "record", said("Secured: in view")),
    (LIMBS, "locked", "record", said("Secured: locked, vehicle")),
    (LIMBS, "secured area", "record", said("Secured: in a restricted room, office")),
    (LIMBS, "sealed", "record", said("Secured: sealed")),
    (
        PLANS,
        "record inside the sealed container",
        "enclosed",
        lambda story: f"To be closed with seal {grouped(story.seal)}, as envelope {grouped(story.envelope)}",
    ),
    (PLANS, "record inside the sealed container", "record", said("custody record enclosed")),
    (PLANS, "part of the laboratory", "record", said("custody ended, result qualified intact Q-ZEPEE")),
    (PLANS, "part of the laboratory", "sheet", said("At the dock, in ink")),
    (
        PLANS,
        "giver and receiver sign",
        "enclosed",
        said(HANDS),
    ),
    (
        PLANS,
        "giver and receiver sign",
        "slip",
        said("I took this envelope and have not opened it. Its seal is intact broken missing VOID showing"),
    ),
    (PLANS, "flow before and after", "record", said("15.00, 14.90 mean 14.95")),
    (PLANS, "blanks submitted blind", "blind", said("slit cassette direct-exam")),
    (PLANS, "numbers that do not tell the site", "slip", lambda story: grouped(story.envelope)),
    (RECEIVING, "signed for unopened", "record", said("Seal as read when taken in")),
    (RECEIVING, "signed for unopened", "sheet", said("received (still sealed here)")),
    (RECEIVING, "opened later", "record", said("Seal as read at the dock")),
    (D4840, "collection", "record", said("Collected from the air on site")),
    (D4840, "storage", "record", said("Store FR-1, locked, keep until 2027-06-30.")),
    (D4840, "analysis", "record", said("Taken out of a store. Purpose: analysis.")),
    (
        HANDBOOK,
        "signed out of the store",
        "record",
        said("\u201cI took these samples out of this store\u201d"),
    ),
    (
        HANDBOOK,
        "its return",
        "record",
        said("Secured: locked, FR-1, from 2026-12-02 16:00 (-05:00) [15:00 (-06:00)]"),
    ),
    (D4840, "shipment", "record", said("Shipped (given to the carrier)")),
    (D4840, "disposal", "record", said("\u201cCustody of these samples ends here\u201d")),
    (SAMPLING, "a", "record", said("spore-trap")),
    (SAMPLING, "b", "record", said(f"{DAY} 09:12 (-05:00)")),
    (SAMPLING, "c", "record", lambda story: f"{grouped(story.samples[0])} indoor, complaint"),
    (SAMPLING, "d", "record", said("Inspector One inspector, Harrow Field Sampling (example)")),
    (SAMPLING, "e", "record", said("pump PUMP-1 meter METER-1")),
    (SAMPLING, "f", "record", said("21.0 °C (70 °F), 45 % relative humidity")),
    (SAMPLING, "f", "sheet", said("sky clear, wind light".capitalize())),
    (SAMPLING, "g", "record", said("bedroom, Point 1")),
    (SAMPLING, "h", "record", said("Ventilation went from normal to off")),
    (
        HANDLING,
        "7.4.1 receipt",
        "record",
        said("\u201cI opened this envelope and found it as written here\u201d"),
    ),
    (HANDLING, "7.4.1 disposal", "record", said("Archived 2026-12-02 17:00 (-05:00) [16:00 (-06:00)]")),
    (HANDLING, "7.4.2 identity", "record", lambda story: f"Q-{story.samples[0][1:6]}"),
    (HANDLING, "7.4.2 identity", "blind", lambda story: f"Q-{story.samples[0][1:6]}"),
    (HANDLING, "7.4.3 deviation", "record", said("broken")),
    (HANDLING, "7.4.3 deviation", "report", said("RC-01")),
    (
        HANDLING,
        "7.4.3 consulted",
        "record",
        said("Sampling firm called 2026-12-02 12:05 (-05:00) [11:05 (-06:00)]: Cato Wren"),
    ),
    (HANDLING, "7.4.4 conditions", "record", said("Temperature inside on opening 18 °C (64 °F)")),
    (HANDLING, "7.4.4 conditions", "sheet", said("temperature inside, circle C or F")),
    (
        REPORTS,
        "e",
        "report",
        said("e) Customer Sampling firm Harrow Field Sampling (example) Client Perpetua Example"),
    ),
    (REPORTS, "f", "report", said("f) Method of analysis Analysis asked for: air samples: direct-exam")),
    (
        REPORTS,
        "g",
        "report",
        said("indoor, complaint slit cassette lot ML-0001 expires 2027-11-30 serial G-000001"),
    ),
    (REPORTS, "h", "report", said(f"{DAY} 09:12 (-05:00) 300 s 2026-12-02 11:40 (-05:00) [10:40 (-06:00)]")),
    (
        REPORTS,
        "k",
        "report",
        said("method of sampling: air samples: spore-trap; surface samples: not recorded"),
    ),
    (REPORTS, "n", "report", said("n) Additions, deviations, exclusions")),
    (AMENDED, "the version", "record", said("Custody record, version 2")),
    (AMENDED, "why it was issued again", "record", said("Issued again: correction")),
    (AMENDED, "what it replaced", "record", said("It replaced version 1")),
    (TEXAS, "each location", "record", said("living, Point 2")),
    (TEXAS, "material sampled", "record", said("drywall")),
]


@cache
def told() -> Story:
    """A visit of which everything was told that a paper can show, up to the end of custody."""
    story = visit(
        "opened",
        opened={"disclosed": {"client": "Perpetua Example", "contact": "555-0137"}, "plan": "PLAN-7"},
    )
    story.collected(0)
    story.collected(1)
    story.collected(2, "outdoor")
    story.conditions_read()
    story.conditions_read("outdoors")
    story.building_changed()
    story.surface_collected()
    for how, where, since in (
        ("possession", "person", "10:02"),
        ("view", "vehicle", "10:10"),
        ("locked", "vehicle", "10:20"),
    ):
        at = f"{DAY}T{since}:00-05:00"
        story.held(secured=how, where=where, since=at, said=at)
    story.relinquished()
    story.received()
    story.held(by=CLERK)
    story.requested(turnaround="rush")
    return story


@cache
def ended() -> Story:
    """The same, sealed, shipped, received with a broken seal, decided, issued twice, disposed of."""
    story = sealed().again()
    story.shipped()
    story.taken_in(containers=2)
    story.docked(dock={"seal_state": "broken", "containers": 2})
    decided = {"called": "2026-12-02T11:05:00-06:00", "disclosed": {"called_person": "Cato Wren"}}
    story.accepted(qualified=True, reasons=["seal"], **decided)
    story.copied(1)
    story.copied(2, reason="correction")
    here = [each.number for each in story.state().live]
    story.stored(here, keep_until="2027-06-30")
    story.withdrawn(here)
    story.stored(here, at="2026-12-02T15:00:00-06:00")
    story.disposed(here, at="2026-12-02T16:00:00-06:00")
    return story


@cache
def sealed() -> Story:
    """The same, just sealed."""
    story = told().again()
    story.sealed(containers=2)
    return story


@cache
def papers() -> Mapping[str, str]:
    """What can be read on each paper."""
    open_case, shut, last = told().case(), sealed().case(), ended().case()
    form, envelope, seal = told().form, told().envelope, told().seal
    found = evaluate(last)
    view = form_view(last.forms[form], last, found)
    drawn = {
        "enclosed": custody_record.pdf(
            open_case.forms[form], open_case, [], [], open_case.at, LOG, Enclosing(envelope, seal, 2)
        ),
        "sheet": sealed_sheet.pdf(envelope, shut, shut.at),
        "slip": receipt_slip.pdf(envelope, shut, shut.at, "R-7"),
        "record": record(ended()),
        "blind": blind_copy.pdf(blind_view.blind_copy(view), shut.at),
        "report": for_report.pdf(view, found, last.at),
        "pen": sheet(),
    }
    return {name: text(pdf) for name, pdf in drawn.items()}


@pytest.mark.parametrize(("source", "demand", "paper", "words"), STANDS)
def test_what_a_source_asks_for_stands_on_the_paper(
    source: str, demand: str, paper: str, words: Words
) -> None:
    """The paper would be shown to somebody who holds it against the source, and be found wanting."""
    assert re.sub(r"\s+", " ", words(told())) in papers()[paper], f"{source}: {demand}"


@pytest.mark.parametrize("source", ASKED)
def test_no_demand_is_without_a_paper(source: str) -> None:
    """A demand that nobody looks up is one that nobody meets."""
    assert {demand for each, demand, *_ in STANDS if each == source} == set(ASKED[source])


def test_nothing_is_found_that_was_not_told() -> None:
    """A table whose words stand on every paper anyway would be green over a record that shows nothing."""
    bare = Story()
    bare.lot()
    bare.opened(method=None, analysis=None, turnaround=None)
    bare.collected(
        0, started=f"{DAY}T09:13:00-05:00", room=None, point=None, pump=None, meter=None, serial=None
    )
    read = text(record(bare))
    rows = [
        (source, demand)
        for source, demand, paper, words in STANDS
        if paper == "record" and words(bare) in read
    ]
    always = {
        "number of the record",
        "signature of the collector",
        "collection",
        "d",
        "flow before and after",
        "c",
    }
    assert {demand for _, demand in rows} <= always
