"""CU-21: a sample that a laboratory had is voided, and what was found about it disappears with it."""

from __future__ import annotations

import pytest

from builders import CUSTODIAN, QUALITY, Person, findings, visit

LATER = "2026-12-03T10:00:00-06:00"


@pytest.mark.parametrize("by", [QUALITY, CUSTODIAN])
def test_a_sample_voided_after_it_was_accepted_does_not_leave_in_silence(by: Person) -> None:
    """A run that drew far too little was analyzed, and its count is unwelcome. Voided afterwards, every
    finding about it is gone, and the verdict on custody finds no fault.
    """
    story = visit("accepted", first={"flow_after": "5.0"})
    assert [each.rule for each in findings(story.case(), "PV-03", "CU-21")] == ["PV-03"]
    story.voided(0, by=by, said=LATER)
    (found,) = findings(story.case(), "PV-03", "CU-21")
    assert (found.rule, found.severity, found.about) == ("CU-21", "warn", story.samples[0])
    assert by.name in found.sentence


def test_what_is_voided_and_never_came_is_nothing_to_remark() -> None:
    """A dropped cassette is voided on site every day, and one that was lost on the way never came."""
    story = visit("collected")
    story.voided(0)
    assert findings(story.case(), "CU-21") == []


def test_a_sample_voided_on_the_way_is_told_once_a_laboratory_has_it() -> None:
    """Voided while the carrier has it, it is analyzed all the same, and no list says anything of it."""
    story = visit("shipped")
    story.voided(0, said="2026-12-01T20:00:00-05:00")
    assert findings(story.case(), "CU-21") == []
    story.docked()
    (found,) = findings(story.case(), "CU-21")
    assert "before receipt at the laboratory" in found.sentence


def test_a_void_dated_back_is_told_all_the_same() -> None:
    """Whoever hides a result would say that it was dropped on site."""
    story = visit("docked")
    late = story.voided(0, rec=LATER)
    assert late.at.text() < "2026-12-02"
    (found,) = findings(story.case(), "CU-21")
    assert found.entries == (late.n,)
    assert "after receipt at the laboratory" in found.sentence
