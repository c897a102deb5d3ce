"""The line of time of samples: facts in, shapes out, the same on page and paper, and all of it in a table."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from xml.etree import ElementTree as ET

import pytest

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.operations import queries
from bailee.presentation import custody_drawing, custody_line, words
from bailee.presentation.custody_drawing import Bar, Dot, LineText, Stroke
from bailee.presentation.custody_line import CustodyLine, TimeHeld
from bailee.presentation.form_view import form_view
from bailee.presentation.hand_overs import StretchView
from field import FIRM, Field, Visited
from grounds import SqliteGround

BEGAN = datetime(2026, 12, 1, 14, 0, tzinfo=UTC)


@pytest.fixture
def ground() -> SqliteGround:
    """One kind of database: what is asked of both is tried where it is asked."""
    return SqliteGround()


def at(hours: float) -> Moment:
    """So many hours after the collection, on the site's clock."""
    return Moment(BEGAN + timedelta(hours=hours), -300)


def stage(who: str, since: float, until: float | None = None, **changes: object) -> TimeHeld:
    """A holder from hour to hour who entered how the samples were locked up."""
    end = at(until) if until is not None else None
    facts = {
        "who": who, "entries": (1,), "claimed": at(since), "until": end, "not_before": None,
        "recorded": at(since).instant, "kept": (StretchView("locked", "vehicle", at(since), end, 1),),
        "gap": None, "ended": "" if end else words.NOW.lower(),
    }  # fmt: skip
    return TimeHeld(**(facts | changes))  # type: ignore[arg-type]


def line(*stages: TimeHeld) -> CustodyLine:
    """One cassette that went this way."""
    return CustodyLine(("S7K3M9Q2XF4P",), stages)


def lines(field: Field, form: str) -> list[CustodyLine]:
    """Those of a form, as its page has them."""
    with field.ledger.database.reading() as connection:
        found, judged = queries.form(field.ledger, connection, FIRM, form)
    view = form_view(found, judged.case, judged.findings)
    return custody_line.custody_lines(view.samples, custody_line.bounds_of(found))


def test_samples_that_went_together_have_one_line(
    visited: Visited,
) -> None:
    """Forty cassettes in one envelope would be forty pictures of the same day."""
    field, (form, _, samples, _) = visited
    (one,) = lines(field, form)
    assert set(one.samples) == set(samples)
    assert [each.who.partition(" (")[0] for each in one.stages] == [
        "Inspector Person", "Clerk Person", "the carrier acorn-freight", "Dock Person",
    ]  # fmt: skip
    first, *_ = one.stages
    assert first.not_before is not None
    assert first.not_before <= first.recorded


def test_a_sample_that_did_not_arrive_goes_its_own_way(field: Field) -> None:
    """The picture of the others would say that the laboratory has it."""
    form, envelope, samples, _ = field.sealed_visit()
    field.ship(envelope)
    field.clock.advance(hours=20)
    field.dock(form, envelope, samples[:2], "C-4712", seal_state="broken", package=["torn"], total=2)
    together, alone = sorted(lines(field, form), key=lambda each: -len(each.samples))
    assert alone.samples == (samples[2],)
    assert len(alone.stages) == len(together.stages) - 1


def test_claimed_recorded_and_not_before_stand_apart_in_picture_and_table() -> None:
    """A time that somebody typed looks as sure as the one that the log wrote."""
    late = stage("Ines", 0, 4, recorded=at(3).instant, not_before=at(-1).instant)
    drawn = custody_drawing.drawing(line(late), legend=False)
    (dot,) = [each for each in drawn.shapes if isinstance(each, Dot)]
    brackets = [each for each in drawn.shapes if isinstance(each, Stroke) and each.x == each.to_x]
    (square,) = [
        each for each in drawn.shapes if isinstance(each, Bar) and (each.width, each.height) == (6, 6)
    ]
    assert brackets[0].x < dot.x < square.x
    assert late.cells[1:4] == (
        "2026-12-01 09:00 (-05:00)", "2026-12-01 08:00 (-05:00)", "2026-12-01 12:00 (-05:00)",
    )  # fmt: skip


def test_what_nobody_secured_and_a_gap_differ_by_shape() -> None:
    """Printed in black and white, a stretch without an entry would look like one that was locked."""
    kept, bare = stage("Ines", 0, 1), stage("Cato", 3, 5, kept=(), gap=timedelta(hours=2))
    shapes = custody_drawing.drawing(line(kept, bare), legend=False).shapes
    outlines = [each for each in shapes if isinstance(each, Bar) and each.height == 8]
    assert [each.is_dashed for each in outlines] == [False, True]
    assert sum(isinstance(each, Bar) and each.is_filled for each in shapes) == 1
    (gap,) = [each for each in shapes if isinstance(each, Stroke) and each.tone == "gap"]
    assert gap.is_dashed
    assert gap.to_x > gap.x
    said = " ".join(each.says for each in shapes if isinstance(each, LineText))
    assert "gap 2 h" in said
    assert words.NO_WAY_NOW in bare.cells
    assert words.gap("2 h") in bare.cells[5]


def test_a_minute_beside_a_month_is_still_seen() -> None:
    """On a true scale the hand-over at the door is thinner than the line it is drawn with."""
    stages = (stage("Ines", 0, 1 / 60), stage("Cato", 1 / 60, 720), stage("Dov", 720))
    bars = [
        each
        for each in custody_drawing.drawing(line(*stages), legend=False).shapes
        if isinstance(each, Bar) and each.height == 8
    ]
    assert bars[0].width > 10
    assert bars[1].width > bars[0].width


def test_nothing_is_drawn_beyond_the_sheet() -> None:
    """A name of a hundred letters pushes the year off the paper."""
    long = stage("Maximiliana " * 9, 0, 1, kept=(), gap=timedelta(days=3))
    for width in (340, 740):
        drawn = custody_drawing.drawing(line(long, stage("Dov", 2)), width)
        for each in drawn.shapes:
            wide = len(each.says) * each.size * 0.56 if isinstance(each, LineText) else 0
            ends = isinstance(each, LineText) and each.ends
            right = each.x + (0 if ends else wide)
            assert 0 <= each.x - (wide if ends else 0) <= width
            assert right <= width, each
            assert 0 <= each.y <= drawn.height


def test_beside_short_names_all_of_it_is_told() -> None:
    """Where the samples lay would be cut off on paper, with half of the sheet white beside the names."""
    office = StretchView("restricted", "office", at(1), at(2), 1)
    clerk = stage("Clerk One (harrow-field)", 1, 2, kept=(office,), gap=timedelta(minutes=6))
    drawn = custody_drawing.drawing(line(stage("Inspector One (harrow-field)", 0, 1), clerk), 740)
    told = [each.says for each in drawn.shapes if isinstance(each, LineText)]
    assert "2026-12-01 10:00 (-05:00), gap 6 min, in a restricted room, office" in told


def test_the_axis_tells_when_it_begins_and_ends() -> None:
    """A picture without a time is compared with another one that shows a week."""
    drawn = custody_drawing.drawing(line(stage("Ines", 0, 1), stage("Cato", 1, 26)), 740)
    texts = [each for each in drawn.shapes if isinstance(each, LineText)]
    first, last = (each for each in texts if re.fullmatch(r"2026-12-0\d \d\d:00 \(-05:00\)", each.says))
    assert (first.says, last.says) == ("2026-12-01 09:00 (-05:00)", "2026-12-02 11:00 (-05:00)")
    assert (first.ends, last.ends) == (False, True)
    hollow = [each for each in texts if each.says == custody_drawing.NO_WAY_THEN]
    assert len(hollow) == 1, "what a hollow bar means"


def test_no_stretch_is_drawn_before_or_after_its_holder() -> None:
    """A cassette seems to be locked up by two people at once."""
    early = stage("Ines", 0, 1, kept=(StretchView("locked", "vehicle", at(-3), at(4), 1),))
    shapes = custody_drawing.drawing(line(early, stage("Cato", 1, 2)), 740, legend=False).shapes
    outline, *_ = [each for each in shapes if isinstance(each, Bar) and each.height == 8]
    filled, *_ = [each for each in shapes if isinstance(each, Bar) and each.is_filled]
    assert (filled.x, filled.width) == (outline.x, outline.width)
    first = next(each for each in shapes if isinstance(each, LineText) and each.size == 11)
    assert first.says == "2026-12-01 09:00 (-05:00)"


def test_the_markup_has_no_style_and_no_tag_of_a_name() -> None:
    """The page's policy would leave out a style, and a name with a tag in it would run."""
    named = stage('<script>"x"</script>', 0, 1)
    one = line(named)
    markup = custody_drawing.svg(custody_drawing.drawing(one), one.told)
    assert "<script" not in markup
    assert "style" not in markup
    root = ET.fromstring(markup)
    assert root.get("role") == "img"
    assert "<script>" in str(root.get("aria-label"))
    assert markup == custody_drawing.svg(custody_drawing.drawing(one), one.told), (
        "the same facts, the same bytes"
    )
    assert not re.search(r"\d\.\d{2}", markup)


def test_a_reader_of_the_table_has_every_stage(
    visited: Visited,
) -> None:
    """Who does not see the picture learns only that there is one."""
    field, (form, *_) = visited
    from bailee.signing import access

    device = field.people["clerk"]
    now = int(field.clock().timestamp())
    client = field.app.test_client()
    token = access.issue_for_pages(device.key, device.org, field.ledger.settings.origin, now)
    assert client.post("/session", json={"token": token}).status_code == 200
    page = client.get(f"/pages/forms/{form}").text
    assert page.count('<svg class="custody-line"') == 1
    table = page.partition('<figure class="time">')[2].partition("</figure>")[0]
    for each in lines(field, form)[0].stages:
        for cell in each.cells:
            assert cell in table
    assert grouped(lines(field, form)[0].samples[0]) in table
