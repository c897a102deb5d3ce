"""How an envelope is closed, and whether what belongs together lies in it."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.rules.case import Case
from bailee.rules.registry import Finding
from builders import (
    CLERK,
    CUSTODIAN,
    DAY,
    FIRM,
    INSPECTOR,
    LAB,
    SECOND_LAB,
    Story,
    findings,
    visit,
)

PHOTO = {"sha-256": "A" * 43, "size": 1234, "type": "image/jpeg"}


def found(story: Story, rule: str) -> list[Finding]:
    """What one rule says of the story."""
    return findings(story.case(), rule)


def asked(story: Story, **changes: Any) -> Case:
    """The clerk's question before that of sealing."""
    return story.case(sealing=story.sealing(**changes))


def severities(hits: list[Finding]) -> list[str]:
    """How grave each is."""
    return [each.severity for each in hits]


# SE-05


def test_a_seal_beside_the_opening_is_warned_of_before_and_after() -> None:
    """The envelope opens without breaking anything, and the number is as whole as ever."""
    assert severities(findings(asked(visit("kept"), across_opening=False), "SE-05")) == ["warn"]
    assert findings(asked(visit("kept")), "SE-05") == []
    story = visit("accepted", sealed={"across_opening": False})
    (hit,) = found(story, "SE-05")
    assert (hit.severity, hit.about) == ("warn", story.envelope)
    assert found(visit("accepted"), "SE-05") == []


@pytest.mark.parametrize(("wanted", "photo", "count"), [(True, None, 1), (True, PHOTO, 0), (False, None, 0)])
def test_a_photo_of_the_closed_envelope_where_the_firm_wants_one(
    wanted: bool, photo: Any, count: int
) -> None:
    """A photo is what shows years later how the seal lay; a firm that does not want it must not be nagged."""
    story = visit("sealed", policy={"seal_photo_wanted": wanted}, sealed={"photo": photo})
    assert len(found(story, "SE-05")) == count


# SE-06


def test_plain_tape_is_not_a_seal() -> None:
    """It is lifted and pressed down again on the way, and nobody can tell.

    Before and after the fact: common practice.
    """
    assert severities(findings(asked(visit("kept"), plain_tape=True), "SE-06")) == ["warn"]
    assert severities(found(visit("accepted", sealed={"plain_tape": True}), "SE-06")) == ["warn"]
    assert found(visit("accepted"), "SE-06") == []


def test_a_seal_put_on_since_takes_the_tape_s_place() -> None:
    """The clerk noticed, opened it and used a numbered seal: the tape is history."""
    story = visit("sealed", sealed={"plain_tape": True})
    story.unsealed(reason="wrong_seal")
    story.sealed(seal=story.number("seal"), at=f"{DAY}T14:30:00-05:00")
    assert found(story, "SE-06") == []


# SE-08


@pytest.mark.parametrize(("required", "severity"), [(True, ["warn"]), (False, [])])
def test_a_record_left_out_of_the_envelope(required: bool, severity: list[str]) -> None:
    """The dock opens a box of glass and does not know what it is."""
    policy = {"record_enclosed_required": required}
    before = findings(asked(visit("kept", policy=policy), record_enclosed=False), "SE-08")
    after = found(visit("accepted", policy=policy, sealed={"record_enclosed": False}), "SE-08")
    assert (severities(before), severities(after)) == (severity, severity)
    assert found(visit("accepted"), "SE-08") == []


@pytest.mark.parametrize(("put_in", "came_out", "count"), [(2, 2, 0), (2, 1, 1), (None, 1, 0), (2, None, 0)])
def test_pages_that_are_missing_on_arrival(put_in: int | None, came_out: int | None, count: int) -> None:
    """Page 2 of 2 with the outdoor control on it lies in the copier."""
    story = visit("shipped", sealed={"record_pages": put_in})
    story.docked(dock={"record_pages": came_out})
    hits = found(story, "SE-08")
    assert len(hits) == count
    for each in hits:
        assert "2 pages" in each.sentence
        assert "1 on receipt" in each.sentence


# SE-11


@pytest.mark.parametrize("upto", ["collected", "accepted"])
def test_covers_not_put_back(upto: Any) -> None:
    """An open cassette gathers the dust of the van, and it is counted as the bedroom's."""
    story = visit(upto, first={"covers_on": False})
    (hit,) = found(story, "SE-11")
    assert (hit.severity, hit.about) == ("warn", story.samples[0])
    assert found(visit(upto), "SE-11") == []


def test_covers_of_what_is_not_in_this_envelope_stop_nobody() -> None:
    """A warning about a cassette on the shelf hides the warning about the one in the hand."""
    story = visit("kept", first={"covers_on": False})
    assert findings(asked(story, samples=story.samples[1:]), "SE-11") == []
    assert len(findings(asked(story, samples=story.samples[:1]), "SE-11")) == 1


# SE-12


@pytest.mark.parametrize(
    ("by", "at", "count"),
    [(INSPECTOR, "09:47:00", 0), (INSPECTOR, "09:46:59", 1), (CLERK, "09:45:00", 0), (CLERK, "09:44:59", 1)],
)
def test_sealed_before_the_last_run_ended(by: Any, at: str, count: int) -> None:
    """The last run ends at 09:47.

    One phone knows its own seconds, two may differ by 120 s (common practice, no source).
    """
    when = f"{DAY}T{at}-05:00"
    before = findings(asked(visit("collected"), kid=by.kid, at=Moment.parse(when)), "SE-12")
    assert severities(before) == ["block"] * count
    story = visit("collected")
    story.sealed(by=by, at=when, said=f"{DAY}T09:50:00-05:00")
    after = found(story, "SE-12")
    assert severities(after) == ["block"] * count
    story.shipped(by=by)
    assert severities(found(story, "SE-12")) == ["flag"] * count
    for each in before + after:
        assert each.about == story.envelope
        assert grouped(story.samples[2]) in each.sentence


# SE-13


def test_the_outdoor_control_left_behind_is_warned_of_before_and_after() -> None:
    """It arrives with another envelope, is counted by somebody else next week, and is no
    comparison any more.
    """
    story = visit("kept", policy={"min_outdoor": 0})
    inside = story.samples[:2]
    (before,) = findings(asked(story, samples=inside), "SE-13")
    assert (before.severity, before.area) == ("warn", "comparison")
    assert "is in no envelope" in before.sentence
    story.sealed(inside, total=2)
    (after,) = found(story, "SE-13")
    assert grouped(story.samples[2]) in after.sentence
    story.sealed(
        story.samples[2:],
        envelope=story.number("envelope"),
        seal=story.number("seal"),
        total=1,
        at=f"{DAY}T14:10:00-05:00",
    )
    (elsewhere,) = found(story, "SE-13")
    assert "is in envelope" in elsewhere.sentence
    story.shipped()
    (shipped,) = found(story, "SE-13")
    assert "the set is in two parts" in shipped.remedy, "it lies in an envelope already"
    assert found(visit("accepted"), "SE-13") == []


def test_two_full_sets_in_two_envelopes_are_two_sets() -> None:
    """A big visit fills two envelopes; each has its own outdoor control beside its own indoor sample."""
    story = Story()
    story.lot(samples=4)
    story.opened()
    for place, kind in enumerate(("indoor", "outdoor", "indoor", "outdoor")):
        story.collected(place, kind)
    story.held()
    story.relinquished()
    story.received()
    story.held(by=CLERK)
    story.sealed(story.samples[:2], total=2)
    story.sealed(story.samples[2:], envelope=story.number("envelope"), seal=story.number("seal"), total=2)
    assert found(story, "SE-13") == []


def test_a_cassette_left_on_the_desk_is_named_before_the_envelope_closes() -> None:
    """The third room of the report would stay on the desk until somebody finds it under a newspaper."""
    story = visit("kept")
    inside = [story.samples[0], story.samples[2]]
    (before,) = findings(asked(story, samples=inside), "SE-13")
    assert (before.severity, before.about) == ("warn", story.envelope)
    assert f"sample {grouped(story.samples[1])}" in before.sentence
    assert findings(asked(story), "SE-13") == []
    story.voided(1)
    assert findings(asked(story, samples=inside), "SE-13") == []


def test_what_does_not_lie_in_the_envelope_does_not_hold_it_up() -> None:
    """A faulty cassette that was left out rightly would stop the good ones at the counter, when it is too
    late to ask why.
    """
    story = visit("kept", second={"covers_on": False})
    inside = [story.samples[0], story.samples[2]]
    at_sealing = findings(asked(story, samples=inside), "SE-11")
    story.sealed(inside, total=2)
    at_shipping = findings(story.case(shipping=story.shipping()), "SE-11")
    assert (at_sealing, at_shipping) == ([], [])
    assert [each.about for each in findings(story.case(), "SE-11")] == [story.samples[1]]


@pytest.mark.parametrize(("with_it", "count"), [(True, 0), (False, 1)])
def test_a_field_blank_left_behind(with_it: bool, count: int) -> None:
    """A blank that did not make the journey says nothing about the journey."""
    story = Story()
    story.lot(samples=3)
    story.opened()
    for place, kind in enumerate(("indoor", "outdoor", "blank")):
        story.collected(place, kind)
    inside = story.samples if with_it else story.samples[:2]
    hits = findings(asked(story, samples=inside), "SE-13")
    assert len(hits) == count
    assert all("field blank" in each.sentence for each in hits)


# SE-14


def two_visits(second_lab: str) -> Story:
    """Three cassettes of one visit and three of another; the second visit's laboratory is named."""
    story = Story()
    for lab in (LAB, second_lab):
        story.lot()
        story.opened(parties={"firm": FIRM, "lab": lab})
        for place, kind in zip((-3, -2, -1), ("indoor", "indoor", "outdoor"), strict=True):
            story.collected(story.samples[place], kind)
        story.held()
        story.relinquished()
        story.received()
        story.held(by=CLERK)
    return story


def test_samples_for_two_laboratories_are_not_sealed_into_one_envelope() -> None:
    """Three samples would lie at a laboratory that is no party of their visit."""
    (hit,) = findings(asked(two_visits(SECOND_LAB)), "SE-14")
    assert (hit.severity, hit.excepted) == ("block", "")
    assert "samples for quill-lab (3: " in hit.sentence
    assert " and third-lab (3: " in hit.sentence
    assert findings(asked(two_visits(LAB)), "SE-14") == []


def test_two_laboratories_in_an_envelope_on_its_way_stay_visible() -> None:
    """The auditor finds out from the laboratory why its neighbor opened the envelope."""
    story = two_visits(SECOND_LAB)
    for form in story.forms:
        story.sealed(form=form)
    assert severities(found(story, "SE-14")) == ["block"]
    for form in story.forms:
        story.shipped(form=form)
    assert severities(found(story, "SE-14")) == ["flag"]


def test_what_is_sent_on_does_not_lie_beside_what_stays() -> None:
    """One envelope, one visit, and yet two laboratories: one sample was sent on under a new number."""
    story = visit("accepted")
    story.forwarded(0)
    inside = [story.samples[1], story.samples[3]]
    story.sealed(inside, by=CUSTODIAN, envelope=story.number("envelope"), seal="HF-9", forms=[story.form])
    assert len(found(story, "SE-14")) == 1
