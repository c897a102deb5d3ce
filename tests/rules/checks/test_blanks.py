"""Field blanks and duplicates. Limits are common practice, no source, unless a check says otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.errors import BadStatement
from bailee.rules.registry import REFUSALS
from builders import BEFORE_AND_AFTER, CLERK, CUSTODIAN, DAY, FIRM, LAB, Story, findings, visit


@pytest.mark.parametrize(
    ("air", "blanks", "policy", "wanted"),
    [
        (2, 0, {}, None),  # off by default: a home visit
        (2, 0, {"min_blanks": 1}, 1),
        (2, 1, {"min_blanks": 1}, None),
        (20, 1, {"min_blanks": 1}, None),
        (21, 1, {"min_blanks": 1}, 2),
        (21, 2, {"min_blanks": 1}, None),
        (4, 1, {"min_blanks": 1, "samples_per_blank": 2}, 2),
        (2, 1, {"min_blanks": 2}, 2),
        (1, 0, {"min_blanks": 1, "samples_per_blank": 0}, 1),  # a limit of nothing is read as one
        (0, 0, {"min_blanks": 1}, None),
    ],
)
def test_field_blanks_are_counted_where_they_are_wanted(
    air: int, blanks: int, policy: dict[str, Any], wanted: int | None
) -> None:
    """Dirt of the box or the van is counted as air (ASTM D7391-20, scope, read: blanks are covered, no ratio
    given).
    """
    story = Story()
    story.policy(**policy)
    story.lot(samples=max(air + blanks, 1))
    story.opened()
    for index in range(air + blanks):
        story.collected(index, "indoor" if index < air else "blank")
    for case in (story.case(), story.case(sealing=story.sealing())):
        found = findings(case, "BD-01")
        assert [(each.severity, each.about) for each in found] == ([("note", story.form)] if wanted else [])
        assert all(f"at least {wanted}" in each.sentence for each in found)


@pytest.mark.parametrize(("lot", "wanted", "fires"), [(0, True, False), (1, True, True), (1, False, False)])
def test_a_blank_of_another_lot_is_a_warning(lot: int, wanted: bool, fires: bool) -> None:
    """A clean blank of one box says that the other box is clean."""
    story = Story()
    story.policy(same_lot_wanted=wanted)
    lots = story.lot(), story.lot()
    story.opened()
    story.collected(3, "blank", lot=lots[lot])
    assert findings(story.case(), "BD-03") == []  # nothing was sampled yet
    story.collected(0, lot=lots[0])
    found = findings(story.case(), "BD-03")
    assert [(each.severity, each.about) for each in found] == [("warn", story.samples[3])] * fires
    assert all(grouped(lots[0]) in each.sentence and grouped(lots[1]) in each.sentence for each in found)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"run_s": 0}, "ran 0 s"),
        ({"run_s": 1}, ""),
        ({"flow_before": "0", "flow_after": "0"}, "0 L/min"),
        ({"flow_before": "0", "flow_after": "0.1"}, ""),
        ({"flow_before": None, "flow_after": None}, ""),  # that is PV-02
        ({"kind": "blank", "run_s": 0, "flow_before": None, "flow_after": None}, ""),
    ],
)
def test_a_sample_without_air_that_is_no_blank_stops_the_envelope(
    changes: dict[str, Any], words: str
) -> None:
    """A count of nothing would be divided by nothing, or a blank be reported as a clean room."""
    for upto, severity in BEFORE_AND_AFTER:
        story = visit(upto, first=changes)
        story.excepted("BD-04", story.samples[0])
        found = findings(story.case(), "BD-04")
        assert [(each.severity, each.about) for each in found] == (
            [(severity, story.samples[0])] if words else []
        )
        assert all(words in each.sentence for each in found)


def test_a_blank_that_was_called_indoor_is_cured_by_saying_so() -> None:
    """A true blank could never be sent once its kind was mistyped."""
    story = visit("collected", first={"run_s": 0, "flow_before": None, "flow_after": None})
    assert {each.rule for each in findings(story.case(), "BD-04", "PV-02")} == {"BD-04", "PV-02"}
    story.corrected(
        story.state().samples[story.samples[0]].claims[0].entry, "kind", "blank", reason="wrong_item"
    )
    assert findings(story.case(), "BD-04", "PV-02") == []


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, ""),
        ({"duplicate": "side_by_side"}, "and its parent sample is not on record"),
        ({"duplicate": "consecutive", "duplicate_of": "first"}, ""),
        ({"duplicate_of": "first"}, ""),
        ({"duplicate_of": "stranger"}, "not a sample of this visit"),
        ({"duplicate_of": "itself"}, "not a sample of this visit"),
    ],
)
def test_a_duplicate_must_name_its_parent(changes: dict[str, Any], words: str) -> None:
    """Two counts are compared, and nobody knows with what."""
    for upto in ("collected", "accepted"):
        names = visit("opened").samples
        of = {"first": names[0], "itself": names[1], "stranger": visit("opened").number("sample")}
        told = changes | ({"duplicate_of": of[changes["duplicate_of"]]} if "duplicate_of" in changes else {})
        story = visit(upto, second=told)
        found = findings(story.case(), "BD-05")
        assert [(each.severity, each.about) for each in found] == (
            [("warn", story.samples[1])] if words else []
        )
        assert all(words in each.sentence for each in found)


def test_a_voided_parent_leaves_a_duplicate_of_nothing() -> None:
    """The duplicate would go on as a check of a sample that will never be read."""
    story = visit("collected", second={"duplicate_of": visit("opened").samples[0]})
    assert findings(story.case(), "BD-05") == []
    story.voided(0)
    assert [each.about for each in findings(story.case(), "BD-05")] == [story.samples[1]]


@pytest.mark.parametrize(
    ("started", "how", "rule", "words"),
    [
        # The parent runs from 09:12:00 to 09:17:00.
        ("09:13:00", "side_by_side", None, ""),
        ("09:13:01", "side_by_side", "BD-06", "61 s apart; the limit is at most 60 s"),
        ("09:10:59", "side_by_side", "BD-06", "61 s apart"),
        ("11:00:00", "side_by_side", "BD-06", "6480 s apart"),
        ("09:13:01", None, "BD-06", "61 s apart"),  # they overlap: side by side
        ("09:17:00", None, "BD-07", "at least 1 h"),  # they do not: one after the other
        ("10:11:59", "consecutive", "BD-07", "at least 1 h"),
        ("10:12:00", "consecutive", None, ""),
        ("08:12:00", "consecutive", None, ""),
        ("08:12:01", "consecutive", "BD-07", "at least 1 h"),
        ("09:12:30", "consecutive", "BD-07", "at least 1 h"),
    ],
)
def test_duplicates_are_judged_by_what_kind_they_are(
    started: str, how: str | None, rule: str | None, words: str
) -> None:
    """Cassettes out of step differ because the air did (EPA Region 6; Health Canada: 1 to 2 h, both read in
    excerpts).
    """
    for upto in ("collected", "accepted"):
        parent = visit("opened").samples[0]
        second = {
            "started": f"{DAY}T{started}-05:00",
            "pump": "PUMP-2",
            "duplicate_of": parent,
            "duplicate": how,
        }
        story = visit(upto, second=second)
        found = findings(story.case(), "BD-06", "BD-07")
        severity = {"BD-06": "warn", "BD-07": "note"}
        assert [(each.rule, each.severity, each.about) for each in found] == (
            [(rule, severity[rule], story.samples[1])] if rule else []
        )
        assert all(words in each.sentence and grouped(parent) in each.sentence for each in found)


@pytest.mark.parametrize(
    ("blind", "kind", "fires"), [(True, "blank", True), (False, "blank", False), (True, "indoor", False)]
)
def test_a_blank_the_laboratory_can_recognize_is_noted_where_it_should_not(
    blind: bool, kind: str, fires: bool
) -> None:
    """The analyst expects nothing on the blank and finds nothing (literature on blind
    quality control, read).
    """
    story = Story()
    story.policy(blind_blanks=blind)
    story.lot()
    story.opened()
    story.collected(0, kind)
    for case in (story.case(), story.case(sealing=story.sealing())):
        found = findings(case, "BD-08")
        assert [(each.severity, each.about) for each in found] == [("note", story.samples[0])] * fires


@pytest.mark.parametrize(
    ("copies", "fires"),
    [
        ([("blind", LAB)], False),
        ([("record", LAB), ("blind", LAB)], False),
        ([("blind", LAB), ("record", LAB)], True),
        ([("blind", LAB), ("result", LAB)], False),
        ([("blind", FIRM)], True),
    ],
)
def test_a_blind_copy_given_to_the_analyst_silences_the_note(
    copies: list[tuple[str, str]], fires: bool
) -> None:
    """The laboratory did what it could, and would be told the same again; or it handed out the blank by name,
    and nobody notes it.
    """
    no_air = {"run_s": 0, "flow_before": None, "flow_after": None}
    story = visit("accepted", policy={"blind_blanks": True}, second={"kind": "blank", **no_air})
    for version, (of, org) in enumerate(copies, 1):
        story.copied(version, of=of, by=CUSTODIAN if org == LAB else CLERK)
    assert bool(findings(story.case(), "BD-08")) is fires


def test_a_blank_with_air_is_refused_before_it_is_recorded() -> None:
    """A used cassette would be reported as a clean blank (BD-02; zero flow: county-filed sampling plans,
    read).
    """
    story = visit("opened")
    with pytest.raises(BadStatement, match="BD-02"):
        story.collected(0, "blank", run_s=300)
    assert REFUSALS["BD-02"].by == "bailee.domain.acts.form.Collected"
    story.collected(0, "blank")
    assert story.state().samples[story.samples[0]].taken.volume_l is None
