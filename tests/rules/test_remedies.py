"""What to do now: in words for anybody, and as acts with the numbers of their finding.

That an act can be typed: tests/cli/terminal/test_cli_commands.py.
"""

from __future__ import annotations

import pytest

from bailee.domain.acts.form import Dock, Item
from bailee.domain.acts.table import ROWS
from bailee.domain.numbers import grouped
from bailee.rules.readers import ON_A_DEVICE
from bailee.rules.registry import RULES
from builders import (
    BEFORE_AND_AFTER,
    CUSTODIAN,
    DAY,
    FIRM,
    INSPECTOR,
    QUALITY,
    Story,
    findings,
    visit,
)
from builders import (
    Step as Stage,
)
from offered import spoilt, written

STATEMENTS = {name: row.facts for name, row in ROWS.items()}
NUMBERS = {"sample", "form", "envelope", "lot", "about", "statement"}
DECISION = {"called_person", "answer", "lab_number", "reason"}
BESIDE = {
    "corrected": {"of"},
    "received": {*Dock.keys.values(), *Item.keys.values()},
    "issued": {"count"},
    "sealed": {"leave_out"},
    "accepted": DECISION,
    "on_hold": DECISION,
    "rejected": DECISION,
}
"""Facts of an act that are no members of its statement, as `remedies` lists them."""


def test_every_act_is_known_and_says_facts_of_its_statement() -> None:
    """If this fails, a page offers a button for an act nobody can sign, or fills in a member that no
    statement has.
    """
    found = list(written())
    assert len(found) > 150
    for step in found:
        if step.act in ON_A_DEVICE:
            continue
        known = {*STATEMENTS[step.act].keys.values(), *NUMBERS, *BESIDE.get(step.act, ())}
        assert known.issuperset(step.facts), step
        assert step.act != "corrected" or step.facts.get("of") in {None, *ROWS}, step
        assert NUMBERS.issuperset(step.numbers), step
    assert {each.act for each in found}.issuperset(ON_A_DEVICE)


def test_what_is_told_is_words_beside_acts() -> None:
    """If this fails, paper prints what only a program can read, or a finding of many faults offers nothing to
    do.
    """
    seen: set[str] = set()
    for step, found in spoilt():
        for each in found:
            assert each.remedy.endswith("."), (step, each)
            assert "`" not in each.remedy
            assert all(told["act"] in {*STATEMENTS, *ON_A_DEVICE} for told in each.acts)
            seen |= {each.rule} if each.acts else set()
    assert len(seen) > 25


@pytest.mark.parametrize("number", sorted(RULES))
def test_a_remedy_says_in_words_what_to_do(number: str) -> None:
    """If this fails, somebody who never saw a terminal reads a command, or nothing."""
    each = RULES[number]
    for remedy in filter(None, (each.remedy, each.afterwards)):
        assert len(remedy.words.split()) >= 4, remedy
        assert "`" not in remedy.words
        assert remedy.words.endswith(".")


def test_acts_bear_the_numbers_of_its_finding() -> None:
    """If this fails, the clerk looks up a number that the screen knew, and mistypes it."""
    story = visit("collected", first={"serial": None})
    (found,) = findings(story.case(), "CL-03")
    assert found.acts == (
        {
            "act": "corrected",
            "sample": story.samples[0],
            "field": "serial",
            "new": None,
            "reason": "left_out",
        },
    )


def test_a_number_that_is_not_one_is_left_to_the_person() -> None:
    """If this fails, two samples given to two people are cured with the number of the first."""
    story = visit("held")
    (found,) = findings(story.case(sealing=story.sealing()), "SE-07")
    assert found.acts[0] == {"act": "relinquished", "sample": None, "to": None, "at": None}
    (one,) = findings(story.case(sealing=story.sealing(story.samples[:1])), "SE-07")
    assert one.acts[0]["sample"] == story.samples[0]


def test_what_may_be_allowed_says_how() -> None:
    """If this fails, a storm stops the envelope although a second person may let it go, and nobody knows what
    to type.
    """
    story = visit("opened")
    story.collected(0)
    story.collected(1)
    story.sealed(by=INSPECTOR)
    (found,) = findings(story.case(), "OC-01")
    assert found.remedy.endswith("A second person may allow it.")
    assert found.acts[-1] == {
        "act": "excepted", "about": story.form, "rule": "OC-01", "reason": "outdoor_impossible",
    }  # fmt: skip
    story.excepted("OC-01", story.form, by=QUALITY, reason="outdoor_impossible")
    (found,) = findings(story.case(), "OC-01")
    assert (found.severity, found.remedy, found.acts) == (
        "warn",
        "Nothing to fix: the exception and its reason are printed on the custody record.",
        (),
    )


def test_an_envelope_nobody_knows_yet_is_allowed_on_its_form() -> None:
    """If this fails, the service is asked for an envelope that is not sealed, and answers that
    there is none.
    """
    story = visit("opened")
    story.collected(0, started="2026-11-20T09:00:00-05:00")
    (found,) = findings(story.case(sealing=story.sealing()), "SH-02")
    assert found.acts[-1] == {
        "act": "excepted",
        "about": story.envelope,
        "rule": "SH-02",
        "reason": None,
        "form": story.form,
    }


def indoors_only(step: Stage) -> Story:
    """Two indoor samples, and nothing to compare them with."""
    story = visit("opened")
    story.collected(0)
    story.collected(1)
    if step == "shipped":
        story.relinquished()
        story.received()
        story.sealed()
        story.shipped()
    return story


@pytest.mark.parametrize(("step", "severity"), BEFORE_AND_AFTER)
def test_nobody_is_sent_back_to_a_site_that_was_left(step: Stage, severity: str) -> None:
    """If this fails, a laboratory reads that it should take an outdoor control."""
    story = indoors_only(step)
    (found,) = findings(story.case(), "OC-01")
    assert found.severity == severity
    assert ("collect an outdoor control" in found.remedy) == (severity == "block")


@pytest.mark.parametrize(
    ("step", "says"),
    [
        ("kept", "Close it with a numbered seal that opening must break"),
        ("sealed", "Open it, and close it again"),
        ("shipped", "Nothing to fix any more"),
    ],
)
def test_the_seal_is_put_right_as_long_as_it_can_be(step: Stage, says: str) -> None:
    """If this fails, a clerk with an open envelope is told to seal it again."""
    story = visit(step, sealed={"across_opening": False} if step != "kept" else {})
    case = story.case(sealing=story.sealing(across_opening=False)) if step == "kept" else story.case()
    (found,) = findings(case, "SE-05")
    assert found.remedy.startswith(says)


def test_a_wrong_time_is_corrected_where_it_stands() -> None:
    """If this fails, a hand-over dated tomorrow is flagged and nobody can find the member to correct."""
    story = visit("sealed")
    story.shipped(
        handed_over="2026-12-02T15:30:00-05:00", said=f"{DAY}T15:30:00-05:00", rec=f"{DAY}T15:30:05-05:00"
    )
    (found,) = findings(story.case(), "CU-09")
    assert "(handed_over)" in found.sentence
    assert found.acts == (
        {
            "act": "corrected", "form": story.form, "of": "shipped", "field": "handed_over", "new": None,
            "reason": "clock",
        },
    )  # fmt: skip


def test_what_was_given_and_not_taken_is_taken_and_no_count_is_corrected() -> None:
    """If this fails, the clerk who counted right corrects the count, and the cassette stays nowhere."""
    story = visit("relinquished")
    story.received(story.samples[:2])
    (found,) = findings(story.case(), "CU-06")
    assert [(each["act"], each.get("field")) for each in found.acts] == [
        ("received", None),
        ("corrected", "samples"),
    ]
    assert found.acts[0]["sample"] == story.samples[2]


@pytest.mark.parametrize("rule", ["CU-02", "CU-03", "CU-13"])
def test_a_correction_of_custody_can_be_typed_as_it_stands(rule: str) -> None:
    """If this fails, the command that cures a gap ends in `--act …`, and nobody knows which act is meant."""
    story = visit("accepted", relinquished={"at": f"{DAY}T11:00:00-05:00"})
    story.held(by=QUALITY, samples=story.samples)
    story.disposed()
    story.held(by=CUSTODIAN, since="2026-12-03T10:00:00-06:00")
    found = findings(story.case(), rule)
    corrected = [each for hit in found for each in hit.acts if each["act"] == "corrected"]
    assert corrected
    assert all(each["of"] and each["field"] for each in corrected)


def test_words_bear_no_numbers() -> None:
    """If this fails, a sentence for people is spoilt by a number in the middle of it, and ten samples get ten
    different ones.
    """
    story = Story()
    story.lot(expiry=None)
    (found,) = findings(
        type(story.case())(story.case().at, {}, story.case().lots, story.case().organizations), "ML-03"
    )
    assert found.acts == (
        {"act": "expiry_corrected", "lot": story.lots[0], "new": None, "reason": "left_out"},
    )
    for number in (story.lots[0], grouped(story.lots[0]), FIRM):
        assert number not in found.remedy
