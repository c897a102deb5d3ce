"""A remedy is possible for whoever reads it, then and there: every rule, for every role, at every stage."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, get_args

import pytest

from bailee.domain.acts.table import ROWS
from bailee.domain.fields import Role
from bailee.rules.case import Case
from bailee.rules.readers import LEFT, ON_A_DEVICE, Audience, Side, Stage, Step
from bailee.rules.registry import RULES, Finding, evaluate
from bailee.rules.remedies import Remedy, do, for_all, on_site
from builders import CLERK, CUSTODIAN, FIRM, INSPECTOR, LAB, QUALITY, Person, Story, visit
from offered import spoilt_stories

STAGES: Final[tuple[Stage, ...]] = get_args(Stage)
SIDES: Final[dict[str, tuple[Side, ...]]] = {
    "inspector": ("firm",), "clerk": ("firm",), "media_keeper": ("firm",), "custodian": ("laboratory",),
    "analyst": ("laboratory",), "quality": ("firm", "laboratory"), "admin": ("firm", "laboratory"),
    "root": ("firm", "laboratory"),
}  # fmt: skip
READERS: Final = [Audience(role, side) for role, sides in SIDES.items() for side in sides]
ON_SITE_ALONE: Final = ("still on site", "collect again", "before sampling", "before you start")


def remedies() -> Iterator[tuple[str, Stage, Remedy]]:
    """What each rule advises at each stage, before it is fitted to a reader."""
    for rule in RULES.values():
        for stage in STAGES:
            yield rule.id, stage, (rule.afterwards if stage in LEFT and rule.afterwards else rule.remedy)


def own(words: str) -> str:
    """What the reader is to do, without what they are to ask somebody else for."""
    return words.partition("Ask the ")[0].lower()


def test_every_role_is_tried() -> None:
    """A role added later would be told what it cannot do."""
    assert set(SIDES) == set(get_args(Role))


@pytest.mark.parametrize("reader", READERS, ids=str)
def test_a_remedy_is_possible_for_its_reader_there_and_then(reader: Audience) -> None:
    """A clerk is told to sample, a dock to search somebody's vehicle, somebody who has left to wait a day."""
    for rule, stage, remedy in remedies():
        told = remedy.at(stage, reader)
        here = f"{rule} to a {reader.role} of the {reader.side}, {stage}: {told.words}"
        assert told.words.endswith("."), here
        assert all(reader.can(step) for step in told.steps), here
        if reader.role != "inspector" or stage != "site":
            assert not any(words in own(told.words) for words in ON_SITE_ALONE), here
            assert not any(step.act == "collected" and "kind" in step.facts for step in told.steps), here
        if reader.side == "laboratory":
            assert "vehicle" not in own(told.words), here
            assert not any(step.side == "firm" for step in told.steps), here
        if stage in LEFT:
            assert "wait" not in told.words.lower(), here


@pytest.mark.parametrize("reader", READERS, ids=str)
def test_what_nobody_of_this_role_can_do_is_asked_for(reader: Audience) -> None:
    """An imperative without anything behind it: the analyst reads *put the samples on hold*, and may not."""
    for rule, stage, remedy in remedies():
        for part in remedy.parts:
            if stage not in part.at or part.is_told or not part.steps:
                continue
            if not any(reader.can(step) for step in part.steps):
                told = Remedy((part,)).at(stage, reader)
                assert not told.steps
                assert part.words not in told.words or not part.words, (rule, reader, told.words)


def test_on_paper_everything_that_is_possible_then_is_told() -> None:
    """The custody record has no reader: what the inspector could do would be missing for the inspector."""
    for rule, stage, remedy in remedies():
        told = remedy.at(stage).words
        assert all(part.words in told for part in remedy.parts if stage in part.at), (rule, stage)


def test_each_rule_has_something_to_say_at_each_stage() -> None:
    """A finding without a word of what to do now."""
    for rule, stage, remedy in remedies():
        assert len(remedy.at(stage).words.split()) >= 4, (rule, stage)


def read_by(case: Case, person: Person) -> Case:
    """The case as this person reads it."""
    return case.read_by(person.org, person.role)


def found(story: Story, rule: str, by: Person) -> Finding:
    """What one rule says to one reader."""
    (each,) = [each for each in evaluate(read_by(story.case(), by)) if each.rule == rule]
    return each


def indoors_only() -> Story:
    """Two indoor samples in the inspector's hands."""
    story = visit("opened")
    story.collected(0)
    story.collected(1)
    return story


def test_a_clerk_asks_for_the_outdoor_control_that_an_inspector_collects() -> None:
    """The clerk is told to go and sample."""
    story = indoors_only()
    inspector, clerk = found(story, "OC-01", INSPECTOR), found(story, "OC-01", CLERK)
    assert inspector.remedy.startswith("Still on site: if it is safe outdoors, collect an outdoor control.")
    assert "collected" in [told["act"] for told in inspector.acts]
    assert "Ask the inspector: if it is safe outdoors, collect an outdoor control." in clerk.remedy
    assert [told["act"] for told in clerk.acts] == ["excepted"]
    story.relinquished()
    story.received()
    for person in (INSPECTOR, CLERK, QUALITY):
        assert "outdoors" not in found(story, "OC-01", person).remedy


def test_who_searches_where_depends_on_where_they_are() -> None:
    """The dock is told to search the sampling firm's vehicle."""
    story = visit("shipped")
    story.docked(story.samples[:2], dock={"total": 2})
    dock, clerk = found(story, "RC-06", CUSTODIAN), found(story, "RC-06", CLERK)
    assert dock.remedy.startswith("Search the packing and the bench")
    assert "Ask the sampling firm: search the kit, the vehicle" in dock.remedy
    assert clerk.remedy.startswith("Search the kit, the vehicle")
    assert "Ask the laboratory: search the packing" in clerk.remedy


def test_no_act_is_offered_to_whom_it_is_refused() -> None:
    """A page offers a button, and the ledger refuses what it signs (SI-03)."""
    for story in spoilt_stories():
        for person in (INSPECTOR, CLERK, CUSTODIAN, QUALITY):
            for each in evaluate(read_by(story.case(), person)):
                for told in each.acts:
                    act = str(told["act"])
                    assert act in ON_A_DEVICE or person.role in ROWS[act].may or act == "received", each


def test_the_side_of_a_reader_is_known_from_the_form() -> None:
    """Quality of the laboratory would be told what quality of the firm can do."""
    case = visit("opened").case()
    assert (case.read_by(FIRM, "quality").reader.side, case.read_by(LAB, "quality").reader.side) == (
        "firm",
        "laboratory",
    )
    assert case.read_by("nobody-known", "quality").reader.side is None


def test_own_things_come_first_and_one_is_asked_once() -> None:
    """The clerk reads *ask the inspector* three times in one line, and misses what is hers between."""
    collect, correct = do("collected", "form", kind="outdoor"), do("corrected", "sample", field="height_m")
    remedy = on_site("Still on site: collect again.", collect) + for_all("It is printed.")
    remedy += Remedy((on_site("Or measure it.", correct).parts[0],))
    told = remedy.at("site", Audience("clerk", "firm"))
    assert told.words == "It is printed. Ask the inspector: collect again. Or measure it."
    assert Step("collected", (), {}).side == "firm"
