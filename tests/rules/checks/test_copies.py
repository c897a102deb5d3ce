"""Copies given out under a version number (RC-18).

Common practice, no source, unless a check says otherwise.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.rules.registry import Finding
from builders import CLERK, CUSTODIAN, DAY, FIRM, INSPECTOR, LAB, LAB_QUALITY, Story, findings, name_of, visit


def found(story: Story) -> list[Finding]:
    """What the rule says."""
    return findings(story.case(), "RC-18")


def severities(story: Story) -> list[str]:
    """The same, by gravity alone."""
    return [each.severity for each in found(story)]


def correct_height(story: Story, **changes: Any) -> int:
    """The inspector corrects what the first cassette was said to be; the place of the correction."""
    entry = next(each for each in story.state().entries if each.act == "collected")
    return story.corrected(entry, "height_m", "1.2", **{"said": "2026-12-02T14:00:00-05:00", **changes}).n


def test_no_copy_and_a_first_copy_are_left_alone() -> None:
    """Old files have no such statement, and one version replaces nothing: nobody needs to
    be told anything.
    """
    story = visit("accepted")
    assert found(story) == []
    story.copied(1)
    assert found(story) == []


def test_a_higher_version_counts_and_the_older_one_is_named() -> None:
    """Whoever has version 1 in a drawer must read that it was replaced, and by which."""
    story = visit("accepted")
    first, second = story.copied(1), story.copied(2, reason="lost")
    (hit,) = found(story)
    assert (hit.severity, hit.about, hit.area) == ("note", story.form, "custody")
    assert f"Version 2 of the custody record of {LAB} (entry {second.n}) counts" in hit.sentence
    assert f"replaced version 1 (entry {first.n})" in hit.sentence


def test_the_highest_version_counts_whichever_phone_uploads_first() -> None:
    """A dock without a network gives out version 1, and its statement arrives after version 2."""
    story = visit("accepted")
    late = story.copied(2), story.copied(1)
    (hit,) = found(story)
    assert f"Version 2 of the custody record of {LAB} (entry {late[0].n}) counts" in hit.sentence


@pytest.mark.parametrize(("short", "expected"), [(0, []), (1, ["flag"])])
def test_a_copy_that_does_not_tell_of_a_correction_is_out_of_date(short: int, expected: list[str]) -> None:
    """The edge: a copy that reads up to the correction says what the record says.

    One entry less, and it says the old value.
    """
    story = visit("accepted")
    n = correct_height(story)
    story.copied(1, entries=n - short)
    assert severities(story) == expected
    if short:
        assert f"the correction of height_m (entry {n})" in found(story)[0].sentence


def test_before_anything_has_left_an_outdated_copy_stops_the_envelope() -> None:
    """The clerk has printed the record that goes into the envelope, and then the inspector
    corrects a height.
    """
    story = visit("collected")
    story.copied(1, by=CLERK, said=f"{DAY}T12:00:00-05:00")
    assert severities(story) == []
    correct_height(story, said=f"{DAY}T12:30:00-05:00")
    assert severities(story) == ["block"]
    story.copied(2, by=CLERK, said=f"{DAY}T12:40:00-05:00", reason="correction")
    assert severities(story) == ["note"]


def test_only_what_changes_the_meaning_of_the_record_makes_a_copy_old() -> None:
    """A correction that nobody may make changes nothing.

    A decision adds to the record and takes nothing back; a void does.
    """
    story = visit("docked")
    story.copied(1)
    story.accepted()
    correct_height(story, by=CUSTODIAN)  # of another organization: not followed
    own = story.copied(2)
    story.corrected(own, "reason", "lost", by=LAB_QUALITY, said="2026-12-02T14:10:00-06:00")
    assert severities(story) == ["note"]
    story.voided(1, reason="overloaded", by=CUSTODIAN, said="2026-12-02T15:00:00-06:00")
    assert sorted(severities(story)) == ["flag", "note"]
    assert "the void (entry" in next(each.sentence for each in found(story) if each.severity == "flag")


def test_a_copy_cannot_claim_to_tell_of_what_came_after_it() -> None:
    """Whoever writes 9999 would never be out of date again."""
    story = visit("accepted")
    story.copied(1, entries=9_999)
    correct_height(story)
    assert severities(story) == ["flag"]


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ({"file": name_of("a")}, {"file": name_of("b")}, ["flag"]),
        ({"file": name_of("a")}, {"file": name_of("a")}, []),
        ({"file": name_of("a"), "entries": 4}, {"file": name_of("a"), "entries": 5}, []),
        ({"file": name_of("a")}, {}, []),
        ({"entries": 4}, {"entries": 5}, ["flag"]),
    ],
)
def test_two_different_copies_under_one_version_leave_open_which_counts(
    one: dict[str, Any], other: dict[str, Any], expected: list[str]
) -> None:
    """Two people at the laboratory both write version 1 on different papers; the next version settles it."""
    story = visit("accepted")
    read = len(story.state().entries)
    story.copied(1, **{"entries": read, **one})
    story.copied(1, **{"entries": read, **other}, by=LAB_QUALITY)
    assert severities(story) == expected
    if expected:
        assert "no entry shows which counts" in found(story)[0].sentence
    story.copied(2)
    assert severities(story) == ["note"]


def test_everybody_numbers_their_own_and_every_result_has_its_own_versions() -> None:
    """The firm's version 2 says nothing of the laboratory's version 1, nor a mold report of
    the dust report.
    """
    story = visit("accepted")
    story.copied(1)
    story.copied(2, by=INSPECTOR)
    story.copied(3, of="result", reference="R-77")
    story.copied(4, of="result", reference="R-78")
    assert found(story) == []
    story.copied(4, of="result", reference="R-77")
    (hit,) = found(story)
    assert f"Version 4 of the result R-77 of {LAB}" in hit.sentence


def test_who_issued_a_copy_is_who_issues_it_again() -> None:
    """The firm's clerk is told to print the laboratory's record, and signs a version of their own instead."""
    story = visit("accepted")
    story.copied(1)
    correct_height(story)
    case = story.case()
    (clerk,) = findings(case.read_by(FIRM, "clerk"), "RC-18")
    assert clerk.remedy.startswith("Ask the laboratory: print it again")
    assert not clerk.acts
    (dock,) = findings(case.read_by(LAB, "custodian"), "RC-18")
    assert dock.remedy.startswith("Print it again")
    assert [each["act"] for each in dock.acts] == ["print_record", "copied"]
