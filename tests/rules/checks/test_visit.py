"""The building on arrival. The 24 hours are common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from builders import PREPARED, Story, findings, visit


@pytest.mark.parametrize(
    ("rule", "member", "hours", "limit", "fires"),
    [
        ("VP-01", "windows_closed_h", "24", "24", False),
        ("VP-01", "windows_closed_h", "23.9", "24", True),
        ("VP-01", "windows_closed_h", "0", "24", True),
        ("VP-01", "windows_closed_h", None, "24", False),
        ("VP-01", "windows_closed_h", "12", "12", False),
        ("VP-02", "purifiers_off_h", "24", "24", False),
        ("VP-02", "purifiers_off_h", "23.9", "24", True),
        ("VP-02", "purifiers_off_h", None, "24", False),
    ],
)
def test_hours_of_preparation_are_compared_with_the_firm_s_limit(
    rule: str, member: str, hours: str | None, limit: str, fires: bool
) -> None:
    """A house aired that morning would be compared with outdoor air it had just let in."""
    opened = {"preparation": PREPARED | {member: hours}}
    story = visit("collected", policy={"preparation_h": limit}, opened=opened)
    found = findings(story.case(), "VP-01", "VP-02", "VP-03", "VP-05")
    assert [(each.rule, each.severity, each.about) for each in found] == [(rule, "warn", story.form)] * fires
    assert all(f"{hours} h" in each.sentence and f"{limit} h" in each.sentence for each in found)


@pytest.mark.parametrize(
    ("mode", "words"),
    [("normal", ""), ("none", ""), ("off", "off"), ("fan_only", "fan only"), ("other", "normal mode")],
)
def test_ventilation_in_an_unusual_mode_is_a_warning(mode: str, words: str) -> None:
    """Samples should show the air people breathe (Health Canada: ventilation in operation, read in an
    excerpt).
    """
    story = visit("collected", opened={"preparation": PREPARED | {"ventilation": mode}})
    found = findings(story.case(), "VP-03")
    assert [(each.severity, each.about) for each in found] == ([("warn", story.form)] if words else [])
    assert all(words in each.sentence for each in found)


@pytest.mark.parametrize("left_out", [None, ...])
def test_preparation_that_was_never_asked_is_a_warning(left_out: Any) -> None:
    """A visit without answers would look like one that was well prepared (ISO/IEC 17025:2017 7.3.3(f))."""
    story = visit("opened", opened={"preparation": left_out})
    (found,) = findings(story.case(), "VP-01", "VP-02", "VP-03", "VP-05")
    assert (found.rule, found.severity, found.about, found.entries) == ("VP-05", "warn", story.form, (1,))


def test_only_visits_in_the_envelope_are_asked_about_at_sealing() -> None:
    """The clerk would be warned about a visit whose samples are not on the table."""
    story = Story()
    story.lot(samples=6)
    story.opened(preparation=None)
    story.collected(0)
    story.opened()
    story.collected(1)
    assert findings(story.case(sealing=story.sealing([story.samples[1]])), "VP-05") == []
    assert len(findings(story.case(sealing=story.sealing()), "VP-05")) == 1


def test_a_correction_answers_the_question() -> None:
    """A warning that cannot be cured by telling the truth is ignored the next time."""
    story = visit("collected", opened={"preparation": None})
    story.corrected(story.state().opened.entry, "preparation", PREPARED, reason="left_out")
    assert findings(story.case(), "VP-05") == []
