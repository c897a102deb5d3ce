"""What was left empty is said: by a rule, or under *not checked*. Never by silence, never by two voices.

That a record says of each thing whether it was stated: ISO/IEC 17025:2017 7.3.3(f), (g); the rest is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, get_args

import pytest

from bailee.domain import facts
from bailee.domain.acts.form import Collected, Opened, Preparation, Weather
from bailee.domain.numbers import grouped
from bailee.presentation.form_view import form_view
from bailee.rules.case import Case
from bailee.rules.registry import evaluate
from bailee.rules.verdicts import verdicts
from builders import FAIR, PREPARED, Story, visit

ANSWERED: Final[Mapping[str, Any]] = {
    **PREPARED, "cleaned_h_ago": "48", "works_h_ago": "48", "fresh_air": "off", "fresh_air_off_h": "30",
}  # fmt: skip
"""Every question about the building has an answer, and none of them is a fault."""
NO_QUESTION: Final = "nothing that is asked"
"""It happened or it did not, and only what happened is written; or a device measures it, and place and time
stand under *not checked* as they were entered."""

OF_THE_BUILDING: Final = {
    "windows_closed_h": "media",
    "purifiers_off_h": "media",
    "cleaned_h_ago": "media",
    "works_h_ago": "media",
    "fresh_air": "VP-05",
    "fresh_air_off_h": "VP-05",
}
OF_A_VISIT: Final = {
    "method": "printed",
    "project": "printed",
    "analysis": "VP-13",
    "turnaround": "VP-13",
    "preparation": "VP-05",
    "license": "VP-06",
    "remediator": "media",
    "question_given": "VP-10",
    "plan": NO_QUESTION,  # where the question is written down
    "kit": "media",
    "notice_sent": "media",
    "visible_growth": "media",
    "growth_reason": NO_QUESTION,  # where no growth is seen
}
OF_A_SAMPLE: Final = {
    "area": "media",
    "near": "media",
    "dust": "media",
    "pump": "media",
    "temperature_c": "media",
    "pressure_hpa": "media",
    "label_on": "custody",
    "label_prints": "custody",
    "height_m": "SL-13",
    "point": "SL-09",
    "meter": "PV-06",
    "flow_before": "PV-02",
    "flow_after": "PV-02",
    "room": NO_QUESTION,  # where the point is named
    "space": NO_QUESTION,  # where the room tells it
    "planned_s": NO_QUESTION,  # the lot has its usual run
    **dict.fromkeys(
        (
            "entered", "duplicate_of", "space_reason", "distance_m", "weather", "stopped", "pump_stop",
            "timer_stop", "short_run", "typed_volume_l", "flow_corrected", "label_reprinted", "photo",
            "gps_distance_m", "near_m", "aggressive", "duplicate", "unit", "serves", "cavity", "paper",
            "replaces", "replaces_form",
        ),
        NO_QUESTION,
    ),
}  # fmt: skip
OUTDOORS: Final = {
    **OF_A_SAMPLE, "area": NO_QUESTION, "near": "OC-05", "height_m": "OC-15", "distance_m": "OC-15",
    "weather": "OC-07",
}  # fmt: skip
OF_THE_WEATHER: Final = {"snow_cover": "comparison", "mowing": "comparison"}


def told(spoilt: Mapping[str, Any]) -> Story:
    """A visit of which everything was stated that `spoilt` does not leave out."""
    opened = {"preparation": ANSWERED, **spoilt.get("opened", {})}
    return visit("accepted", **{**spoilt, "opened": opened})


def said(case: Case) -> list[tuple[str, str]]:
    """What is said of it, by whom: the rule, or the verdict that lists it as not checked."""
    found = evaluate(case)
    judged = verdicts(case, found, records_state="complete")
    open_questions = [(each.area, sentence) for each in judged for sentence in each.not_checked]
    return [(each.rule, each.sentence) for each in found] + open_questions


def left_out(spoilt: Mapping[str, Any]) -> list[str]:
    """Who says something that was not said where nothing was left out."""
    before = said(told({}).case())
    return [by for by, sentence in said(told(spoilt).case()) if (by, sentence) not in before]


def optional(kind: type[facts.Facts]) -> set[str]:
    """Members that a statement may leave out, or say nothing in."""
    said_at_least = {name for name, default in kind.defaults.items() if default is None}
    empty = {name for name, each in facts.members(kind).items() if type(None) in get_args(each.kind)}
    return set(facts.members(kind)) - said_at_least | empty


SPOILT: Final = [
    *(("preparation", name, by, {"opened": {"preparation": {**ANSWERED, name: None} | (
        {"fresh_air_off_h": None} if name == "fresh_air" else {})}}) for name, by in OF_THE_BUILDING.items()),
    *(("opened", name, by, {"opened": {name: ...}}) for name, by in OF_A_VISIT.items()),
    *(("indoor", name, by, {"first": {name: ...}}) for name, by in OF_A_SAMPLE.items()),
    *(("outdoor", name, by, {"outdoor": {name: ...}}) for name, by in OUTDOORS.items()),
    *(("weather", name, by, {"outdoor": {"weather": {key: FAIR[key] for key in FAIR if key != name}}})
      for name, by in OF_THE_WEATHER.items()),
]  # fmt: skip


@pytest.mark.parametrize(
    ("by", "spoilt"), [each[2:] for each in SPOILT], ids=[f"{each[0]}-{each[1]}" for each in SPOILT]
)
def test_what_was_left_empty_is_said_once(by: str, spoilt: Mapping[str, Any]) -> None:
    """A court reads an empty answer as if all had been in order, or as if it had been asked and denied."""
    wanted = [] if by in (NO_QUESTION, "printed") else [by]
    assert left_out(spoilt) == wanted
    if by == "printed":
        story = told(spoilt)
        (name,) = spoilt["opened"]
        assert form_view(story.state(), story.case()).tags[name] == "not recorded"


def test_a_cassette_without_a_serial_is_asked_about_and_its_label_named_as_the_only_tie() -> None:
    """The one open answer that two voices tell: what is missing, and what then cannot be excluded."""
    assert left_out({"first": {"serial": ...}}) == ["CL-03", "custody"]


def test_every_answer_that_may_be_left_empty_is_in_a_table_here() -> None:
    """A question added later would be silent where nobody answered it, and no test would see it."""
    assert optional(Preparation) == set(OF_THE_BUILDING)
    assert optional(Opened) == set(OF_A_VISIT)
    assert optional(Weather) == set(OF_THE_WEATHER)
    assert optional(Collected) == {*OF_A_SAMPLE, "serial"} == {*OUTDOORS, "serial"}


def test_a_meter_that_nobody_named_is_said_once_where_no_meter_is_listed_too() -> None:
    """A firm that keeps no list of its meters would not be asked which one it was, or be asked twice."""
    story = told({"first": {"meter": None}})
    for entries in story.chains.values():
        entries[:] = [each for each in entries if each.act != "equipment_set"]
    about = [by for by, sentence in said(story.case()) if "meter" in sentence.lower()]
    assert about == ["PV-17", "media"]  # which meter it was; that there is no list of meters


def test_fresh_air_stands_under_not_checked_where_a_policy_does_not_ask_for_it() -> None:
    """A firm that leaves the question out would have its silence read as a house without an exchanger."""
    for answers, words in (
        ({"fresh_air": None, "fresh_air_off_h": None}, "not stated: fresh air drawn in."),
        ({"fresh_air_off_h": None}, "no hours on record for fresh air off (none, or not known)."),
    ):
        opened = {"preparation": {**ANSWERED, **answers}}
        case = visit("accepted", policy={"fresh_air_off": False}, opened=opened).case()
        (sentence,) = (each for by, each in said(case) if by in ("media", "VP-05") and "fresh" in each)
        assert sentence.endswith(words)


def test_what_several_samples_lack_is_one_sentence() -> None:
    """Thirty cassettes without an answer would be thirty lines, and the one that counts is not read."""
    bare = {"dust": None, "pump": None}
    story = told({"first": bare, "second": bare, "outdoor": {"dust": None}})
    first, second, _ = map(grouped, story.samples)
    assert [
        sentence for by, sentence in said(story.case()) if by == "media" and "not stated" in sentence
    ] == [
        "All 3 samples, not stated: dust.",
        f"Samples {first} and {second}, not stated: pump.",
    ]


def test_a_visit_of_which_everything_was_stated_has_no_finding_and_a_short_list() -> None:
    """A list as long as that of a careless visit is passed over, and nobody sees what is missing in another.

    Each line is what no answer could have settled.
    """
    case = told({}).case()
    assert not evaluate(case)
    lines = [
        sentence
        for verdict in verdicts(case, (), records_state="complete")
        for sentence in verdict.not_checked
    ]
    assert [each.partition(":")[0] for each in lines] == [
        "Truth of what was entered",
        "Serials used twice",
        "Labels exchanged by hand",
        "Whether a vehicle or room was really locked, in view or restricted.",
        "Flow, time and place",
        "Holding time",
        "Outdoor control",
        "Results",
    ]


def test_what_is_entered_only_where_it_is_unusual_is_one_clause_for_all_samples() -> None:
    """No phone asks where a label is: each careful visit would have two lines of numbers about it."""
    bare = {"label_on": None, "label_prints": None, "temperature_c": None, "pressure_hpa": None}
    lines = {sentence for _, sentence in said(told({"first": bare, "second": bare}).case())}
    assert lines - {sentence for _, sentence in said(told({}).case())} == {
        "Labels exchanged by hand, or printed twice or on a cover and not entered: no signature shows it.",
        "Flow, time and place: used as entered; air temperature or pressure at a flow check is not stated.",
    }


def test_areas_that_nobody_stated_are_said_by_the_rule_that_looks_for_a_reference() -> None:
    """One missing answer would be two lines, and the second looks like a second fault."""
    none = {"first": {"area": None}, "second": {"area": None}}
    assert left_out(none) == ["SL-03"]
    opened = {"preparation": ANSWERED}
    unasked = visit("accepted", policy={"min_reference": 0}, opened=opened, **none)
    assert [by for by, sentence in said(unasked.case()) if "complaint area" in sentence] == ["media"]


def test_a_building_of_which_nothing_was_stated_is_not_printed_as_one_without_works() -> None:
    """The custody record would be silent of painting and fresh air, and a reader takes that for none."""
    empty = {**dict.fromkeys(ANSWERED), "ventilation": "normal"}
    story = told({"opened": {"preparation": empty}})
    assert form_view(story.state(), story.case()).building == (
        "windows closed: no hours entered, air cleaners: no hours entered, ventilation normal,"
        " fresh air: not stated, cleaning: no hours entered, painting, demolition or construction:"
        " no hours entered"
    )
