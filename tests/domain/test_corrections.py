"""Corrections: what is followed, what is not, and why."""

from typing import Any

import pytest

from bailee.domain import corrections
from bailee.domain.acts.form import Collected, Corrected, Opened
from bailee.domain.acts.table import ROWS
from bailee.domain.corrections import Correction, Corrector
from bailee.domain.statements import Recorded
from builders import (
    ANALYST,
    CLERK,
    CUSTODIAN,
    FIRM,
    INSPECTOR,
    LAB_QUALITY,
    QUALITY,
    SECOND_INSPECTOR,
    Story,
    name_of,
    visit,
)

SAID: dict[str, Any] = {"by": INSPECTOR, "said": "2026-12-01T13:00:00-05:00"}


def collected(story: Story, place: int = 0) -> Recorded:
    """The statement that collected one sample."""
    return next(
        each for each in story.chains[f"form/{story.form}"] if each.data.get("sample") == story.samples[place]
    )


def correct(story: Story, target: str, field: str, old: Any, new: Any, **how: Any) -> Recorded:
    """Say a correction, right or wrong."""
    data = {"statement": target, "field": field, "old": old, "new": new, "reason": "misread"}
    return story.add(f"form/{story.form}", "corrected", data, **{**SAID, **how})


def outcome(story: Story) -> tuple[list[Recorded], list[Correction]]:
    """Statements as they count, and what became of the corrections."""
    return corrections.effective(story.chains[f"form/{story.form}"], *story.persons())


def test_a_followed_correction_changes_what_counts_and_keeps_what_was_said() -> None:
    """A misread flow could never be put right, or the old figure would vanish."""
    story = visit("collected")
    target = collected(story)
    said = correct(story, target.digest, "flow_before", "15.0", "15.4")
    entries, found = outcome(story)
    now = next(each for each in entries if each.digest == target.digest)
    assert isinstance(now.body, Collected)
    assert (str(now.body.flow_before), now.data["flow_before"]) == ("15.4", "15.4")
    assert target.data["flow_before"] == "15.0"
    assert (now.leaf, now.at, now.seq, now.n) == (target.leaf, target.at, target.seq, target.n)
    assert [(each.entry, each.target, each.why_not) for each in found] == [(said, target, "")]
    assert len(entries) == len(story.chains[f"form/{story.form}"])


# Who may: common practice, no source; that whoever left a thing out supplies it is 49 CFR 40.205, by analogy.


@pytest.mark.parametrize("by", [CLERK, SECOND_INSPECTOR, QUALITY])
def test_a_colleague_may_correct_what_stands_on_the_papers(by: Any) -> None:
    """A slip by somebody on holiday would stand for ever."""
    story = visit("collected")
    correct(story, collected(story).digest, "serial", "G-000001", "G-000007", by=by)
    assert outcome(story)[1][0].why_not == ""


@pytest.mark.parametrize("field", sorted(ROWS["collected"].seen - {"volume_l"}))
def test_what_was_seen_at_the_run_is_said_by_whoever_was_there(field: str) -> None:
    """The clerk at the desk would supply a flow, a time or a place that only the inspector in
    the room saw.
    """
    story = visit("collected")
    target = collected(story)
    correct(story, target.digest, field, target.data.get(field), target.data.get(field), by=CLERK)
    (found,) = outcome(story)[1]
    assert (
        found.why_not
        == "only the inspector who collected the sample saw that; besides, the admin or quality role of"
        " harrow-field may correct it"
    )


@pytest.mark.parametrize(
    ("by", "followed"), [(CLERK, False), (SECOND_INSPECTOR, False), (INSPECTOR, True), (QUALITY, True)]
)
def test_a_missing_flow_comes_from_the_sampler_or_the_quality_role(by: Any, followed: bool) -> None:
    """A reading nobody took would stand in the record as if it had been read."""
    story = visit("collected", first={"flow_after": ...})
    correct(story, collected(story).digest, "flow_after", None, "14.9", by=by)
    entries, found = outcome(story)
    body = next(each.body for each in entries if each.digest == collected(story).digest)
    assert isinstance(body, Collected)
    assert (found[0].why_not == "", body.flow_after is not None) == (followed, followed)


def test_an_admin_may_correct_what_was_seen_and_a_root_key_nothing() -> None:
    """The owner of a small firm could not put a sampler's slip right.

    Or the key in the safe would speak of cassettes.
    """
    assert corrections.why_not("collected", FIRM, "run_s", Corrector(FIRM, "admin", made_it=False)) == ""
    assert "a root key corrects nothing; its signer, or" in corrections.why_not(
        "collected", FIRM, "run_s", Corrector(FIRM, "root", made_it=False)
    )


def test_a_second_device_of_the_sampler_is_the_sampler() -> None:
    """An inspector with a new phone could not correct what the old one said."""
    story = visit("collected")
    target = collected(story)
    said = correct(story, target.digest, "flow_before", "15.0", "15.4", by=SECOND_INSPECTOR)
    owners, roles = story.persons()
    one_person = {**owners, said.kid: owners[target.kid]}
    entries = story.chains[f"form/{story.form}"]
    assert corrections.effective(entries, one_person, roles)[1][0].why_not == ""
    assert corrections.effective(entries, owners, roles)[1][0].why_not != ""


def test_without_the_roles_only_the_sampler_is_followed() -> None:
    """A reader who knows nobody's role would take anybody's word for what was seen."""
    story = visit("collected")
    digest = collected(story).digest
    correct(story, digest, "flow_before", "15.0", "15.4", by=QUALITY)
    correct(story, digest, "flow_after", "14.9", "14.8")
    found = corrections.effective(story.chains[f"form/{story.form}"])[1]
    assert [each.why_not == "" for each in found] == [False, True]


@pytest.mark.parametrize(("by", "followed"), [(ANALYST, False), (CUSTODIAN, True), (LAB_QUALITY, True)])
def test_a_decision_is_corrected_by_who_may_decide(by: Any, followed: bool) -> None:
    """An analyst would unqualify a result by correcting the answer that he may not give (21 CFR 11.10(g):
    authority checks).
    """
    story = visit("accepted")
    target = next(each for each in story.chains[f"form/{story.form}"] if each.act == "accepted")
    correct(story, target.digest, "resample", None, "asked", by=by)
    (found,) = outcome(story)[1]
    assert (found.why_not == "") == followed
    assert followed or "the custodian or quality role of quill-lab may correct that decision" in found.why_not


def test_an_exception_is_never_turned_into_another() -> None:
    """Quality allowed one thing, and the clerk would make it another under quality's name."""
    story = visit("collected")
    allowed = story.excepted("OC-01", story.form, reason="outdoor_impossible")
    correct(story, allowed.digest, "rule", "OC-01", "SH-02", by=CLERK)
    entries, found = outcome(story)
    assert "an exception is not corrected" in found[0].why_not
    assert next(each for each in entries if each.digest == allowed.digest).data["rule"] == "OC-01"


@pytest.mark.parametrize("field", ["tracking", "preparation.ventilation", "flow_before.exact"])
def test_a_fact_that_the_act_does_not_have_is_not_followed(field: str) -> None:
    """A tracking number on a cassette's statement would count as corrected, and nothing
    would have changed.
    """
    story = visit("collected")
    correct(story, collected(story).digest, field, None, "X")
    assert f"an entry of this act (collected) has no {field}" in outcome(story)[1][0].why_not


def test_values_inside_and_missing_values_can_be_corrected() -> None:
    """A forgotten pump number or a wrong laboratory would need a new form."""
    story = visit("collected")
    opened = story.chains[f"form/{story.form}"][0]
    target = collected(story, 2)
    correct(story, opened.digest, "parties.lab", "quill-lab", "other-lab")
    correct(story, target.digest, "weather.sky", "clear", "rain")
    correct(story, target.digest, "duplicate_of", None, story.samples[0])
    correct(story, target.digest, "near", ["none"], ["fan", "plants"])
    correct(story, target.digest, "pump", "PUMP-1", None)
    entries, found = outcome(story)
    assert [each.why_not for each in found] == [""] * 5
    first = entries[0].body
    outdoor = next(each.body for each in entries if each.digest == target.digest)
    assert isinstance(first, Opened)
    assert isinstance(outdoor, Collected)
    assert first.parties.lab == "other-lab"
    assert outdoor.weather is not None
    assert (outdoor.weather.sky, outdoor.near, outdoor.pump) == ("rain", ["fan", "plants"], None)
    assert outdoor.duplicate_of == story.samples[0]


def test_corrections_build_on_each_other() -> None:
    """The second of two corrections would be refused because the first was right."""
    story = visit("collected")
    digest = collected(story).digest
    correct(story, digest, "flow_before", "15.0", "15.4")
    correct(story, digest, "flow_before", "15.0", "15.9")
    correct(story, digest, "flow_before", "15.4", "15.6")
    entries, found = outcome(story)
    now = next(each for each in entries if each.digest == digest)
    assert now.data["flow_before"] == "15.6"
    assert [each.why_not == "" for each in found] == [True, False, True]


@pytest.mark.parametrize(
    ("field", "old", "new", "how", "why"),
    [
        ("flow_before", "15.1", "15.4", {}, "the entry does not have '15.1' at flow_before"),
        ("flow_before", None, "15.4", {}, "the entry has something at flow_before"),
        ("meter", "15.0", "15.4", {}, "the entry does not have '15.0' at meter"),
        ("flow_before.exact", "15.0", "15.4", {}, "the entry does not have '15.0' at flow_before.exact"),
        (
            "flow_before",
            "15.0",
            "15.4",
            {"by": CUSTODIAN},
            "only the organization that signed an entry may correct it",
        ),
        ("flow_before", "15.0", "about 15", {}, "cannot be recorded: flow_before: write a decimal number"),
        ("kind", "indoor", "blank", {}, "a field blank draws no air"),
        ("started", "2026-12-01T09:12:00-05:00", "2026-12-01T09:12:00", {}, "Write the time with its offset"),
        ("sample", ..., "S000", {}, "sample"),
        ("sample", ..., None, {}, "sample: write text"),
        ("weather.sky", None, "rain", {}, "weather"),
        ("pump.serial", None, "X", {}, "an entry of this act (collected) has no pump.serial"),
    ],
)
def test_a_correction_that_is_not_followed_says_why(
    field: str, old: Any, new: Any, how: dict[str, Any], why: str
) -> None:
    """A wrong correction would change the record, or be dropped without a word."""
    story = visit("collected")
    target = collected(story)
    correct(story, target.digest, field, target.data[field] if old is ... else old, new, **how)
    entries, found = outcome(story)
    assert why in found[0].why_not
    assert target in entries
    assert len(found) == 1


def test_a_statement_elsewhere_cannot_be_corrected_from_here() -> None:
    """A correction on one form would reach into another."""
    story = visit("collected")
    elsewhere = collected(story)
    story.opened()
    correct(story, elsewhere.digest, "flow_before", "15.0", "15.4")
    correct(story, name_of("nothing"), "flow_before", "15.0", "15.4")
    entries, found = outcome(story)
    assert [each.target for each in found] == [None, None]
    assert all("not on this form" in each.why_not for each in found)
    assert entries == story.chains[f"form/{story.form}"]


def test_a_correction_is_not_itself_corrected() -> None:
    """The correction would read as one thing while the value it set stays another."""
    story = visit("collected")
    digest = collected(story).digest
    first = correct(story, digest, "flow_before", "15.0", "51.4")
    correct(story, first.digest, "new", "51.4", "15.4")
    correct(story, digest, "flow_before", "51.4", "15.4")
    entries, found = outcome(story)
    assert "correct the first entry again" in found[1].why_not
    assert found[0].body == first.body
    assert isinstance(first.body, Corrected)
    assert next(each for each in entries if each.digest == digest).data["flow_before"] == "15.4"


def test_nothing_is_changed_in_place() -> None:
    """The stored statement would be altered in memory, and the next reader see the corrected value as the
    signed one.
    """
    story = visit("collected")
    target = collected(story, 2)
    before = {name: dict(value) if isinstance(value, dict) else value for name, value in target.data.items()}
    correct(story, target.digest, "weather.sky", "clear", "rain")
    outcome(story)
    assert dict(target.data) == before
