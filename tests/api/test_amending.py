"""Corrections and exceptions over HTTP: who may is told beforehand, and what does not count is told with the
answer.

Who may correct or allow what is common practice, no source, except where a check names one.
"""

from __future__ import annotations

from typing import Any

import pytest
from test_questions import visit

from field import FIRM, Field
from grounds import on_any

MAY_EXCEPT = {
    "CL-09",
    "CL-10",
    "CL-13",
    "ML-02",
    "ML-06",
    "OC-01",
    "OC-02",
    "OC-11",
    "PV-02",
    "PV-05",
    "PV-06",
    "RC-07",
    "SH-02",
    "SH-05",
    "SL-07",
    "VP-06",
}


def facts(field: Field, who: str, form: str, about: str | None = None) -> list[dict[str, Any]]:
    """Statements about a number, as somebody is told."""
    answer = field.get(who, f"/forms/{form}/facts" + (f"?about={about}" if about else ""))
    assert answer.status_code == 200, answer.text
    told: list[dict[str, Any]] = answer.get_json()["statements"]
    return told


def fact(statement: dict[str, Any], name: str) -> dict[str, Any]:
    """One fact of a statement."""
    (found,) = (each for each in statement["facts"] if each["field"] == name)
    return dict(found)


def correction(stated: dict[str, Any], name: str, new: Any, **changes: Any) -> dict[str, Any]:
    """A correction of the value in force."""
    value = fact(stated, name)["value"]
    data = {"statement": stated["statement"], "field": name, "old": value, "new": new, "reason": "misread"}
    return {**data, **changes}


def test_the_facts_of_a_sample_are_told_with_who_may_correct_each(field: Field) -> None:
    """The clerk would learn only from a finding days later that the flow was not hers to correct."""
    form, samples = visit(field, ["indoor", "outdoor"])
    collected = next(each for each in facts(field, "clerk", form, samples[0]) if each["act"] == "collected")

    assert (collected["by"], collected["organization"], collected["names"]) == (
        "Inspector Person",
        FIRM,
        [samples[0]],
    )
    flow = fact(collected, "flow_after")
    assert (flow["value"], flow["may"]) == ("14.9", False)
    assert flow["who"] == "Inspector Person, or the admin or quality role of harrow-field"
    assert "only the inspector who collected the sample saw that" in flow["why_not"]
    serial = fact(collected, "serial")
    assert (serial["may"], serial["why_not"], serial["who"]) == (True, "", "any person of harrow-field")
    for who in ("inspector", "quality"):
        told = next(each for each in facts(field, who, form, samples[0]) if each["act"] == "collected")
        assert fact(told, "flow_after")["may"], who
    told = next(each for each in facts(field, "dock", form, samples[0]) if each["act"] == "collected")
    assert not any(each["may"] for each in told["facts"])
    assert "only the organization that signed an entry may correct it" in fact(told, "serial")["why_not"]


def test_a_form_tells_what_was_said_of_it_and_not_of_one_cassette(field: Field) -> None:
    """Asked about the form, the program would correct a sample."""
    form, samples = visit(field, ["indoor", "outdoor"])
    envelope = field.number("envelope")
    field.seal(envelope, samples, field.number("seal"))

    assert [each["act"] for each in facts(field, "clerk", form)] == [
        "opened",
        "relinquished",
        "received",
        "sealed",
    ]
    (sealed,) = facts(field, "clerk", form, envelope)
    assert (sealed["act"], set(samples) <= set(sealed["names"])) == ("sealed", True)
    opened = facts(field, "clerk", form)[0]
    assert fact(opened, "preparation.windows_closed_h")["value"] == "26"
    assert "client" not in {each["field"] for each in opened["facts"]}  # private: never corrected in clear


def test_the_value_in_force_is_the_old_of_the_next_correction(field: Field) -> None:
    """A second correction would name the first value, and not be followed."""
    form, samples = visit(field, ["indoor", "outdoor"])
    for new in ("14.8", "14.7"):
        collected = next(
            each for each in facts(field, "inspector", form, samples[0]) if each["act"] == "collected"
        )
        told = field.act("inspector", f"form/{form}", "corrected", correction(collected, "flow_after", new))
        assert told["note"] == ""
    collected = next(
        each for each in facts(field, "inspector", form, samples[0]) if each["act"] == "collected"
    )
    assert (fact(collected, "flow_after")["value"], collected["data"]["flow_after"]) == ("14.7", "14.7")


@on_any
@pytest.mark.parametrize(
    ("who", "name", "changes", "why"),
    [
        ("clerk", "flow_after", {}, "only the inspector who collected the sample saw that"),
        (
            "dock",
            "serial",
            {},
            "only the organization that signed an entry may correct it, which is harrow-field",
        ),
        ("inspector", "flow_after", {"old": "14.0"}, "the entry does not have '14.0' at flow_after"),
        ("inspector", "flow_after", {"field": "tracking", "old": None}, "has no tracking"),
        ("inspector", "flow_after", {"new": "much"}, "write a decimal number"),
        ("inspector", "flow_after", {"statement": "A" * 43}, "not on this form"),
    ],
)
def test_a_correction_that_will_not_count_is_recorded_and_says_so_at_once(
    field: Field, who: str, name: str, changes: dict[str, Any], why: str
) -> None:
    """It would read "recorded" and be ignored; or be refused, and what was signed in a basement be lost."""
    form, samples = visit(field, ["indoor", "outdoor"])
    collected = next(each for each in facts(field, who, form, samples[0]) if each["act"] == "collected")
    told = field.act(
        who, f"form/{form}", "corrected", correction(collected, name, **{"new": "14.1", **changes})
    )

    assert (told["status"], why in told["note"]) == ("registered", True), told["note"]
    found = field.get("quality", f"/forms/{form}").get_json()["findings"]
    (said,) = (each for each in found if each["rule"] == "CU-16")
    assert told["note"].startswith("It does not count: ")
    assert (
        told["note"].removeprefix("It does not count: ") in said["sentence"]
    )  # the answer and the rules tell the same story


@on_any
def test_sent_again_it_gets_the_same_answer(field: Field) -> None:
    """A device whose first answer was lost would be told that all is well."""
    form, samples = visit(field, ["indoor", "outdoor"])
    collected = next(each for each in facts(field, "clerk", form, samples[0]) if each["act"] == "collected")
    clerk = field.people["clerk"]
    signed = clerk.sign(f"form/{form}", "corrected", correction(collected, "flow_after", "14.1"))
    first, again = field.send(signed).get_json(), field.send(signed).get_json()

    assert (first["status"], again["status"]) == ("registered", "already")
    assert first["note"] == again["note"] != ""


def test_a_list_tells_of_each_statement_what_does_not_count(field: Field) -> None:
    """A day's work sent in one upload would hide which of its corrections count."""
    form, samples = visit(field, ["indoor", "outdoor"])
    collected = next(each for each in facts(field, "clerk", form, samples[0]) if each["act"] == "collected")
    clerk = field.people["clerk"]
    signed = [
        clerk.sign(f"form/{form}", "corrected", correction(collected, "flow_after", "14.1")),
        clerk.sign(f"form/{form}", "corrected", correction(collected, "serial", "K-9")),
    ]
    answers = field.send(*signed).get_json()["answers"]

    assert [bool(each["note"]) for each in answers] == [True, False]


@on_any
def test_strangers_are_not_told_the_facts(field: Field) -> None:
    """Anybody enrolled anywhere would read what was measured in somebody's bedroom."""
    form, _ = visit(field, ["indoor", "outdoor"])
    assert field.get(None, f"/forms/{form}/facts").status_code == 401
    assert field.get("clerk", f"/forms/{field.number('form')}/facts").status_code == 404


# Exceptions


def exception(field: Field, who: str, **query: Any) -> Any:
    """The answer to whether it would count."""
    asked = "&".join(f"{name}={value}" for name, value in query.items())
    return field.get(who, f"/exceptions?{asked}")


@on_any
@pytest.mark.parametrize(
    ("rule", "said"),
    [("XX-02", "There is no rule XX-02."), ("SE-04", "can only be fixed, not allowed by exception.")],
)
def test_a_rule_that_may_not_be_excepted_is_refused_with_those_that_may(
    field: Field, rule: str, said: str
) -> None:
    """Somebody would believe that a missing seal is allowed, because the program took the exception."""
    form, _ = visit(field, ["indoor", "outdoor"])
    asked = exception(field, "quality", rule=rule, about=form)
    signed = field.people["quality"].sign(
        f"form/{form}", "excepted", {"rule": rule, "about": form, "reason": "other"}
    )
    sent = field.send(signed)

    for answer in (asked, sent):
        told = answer.get_json()
        assert (answer.status_code, told["code"], told["rule"]) == (422, "not-excepted", rule)
        assert said in told["detail"]
        assert set(told["may"]) == MAY_EXCEPT
    assert field.head(f"form/{form}")[0] == 5  # nothing was recorded


def test_who_may_allow_it_is_told_before_anything_is_signed(field: Field) -> None:
    """The inspector who forgot the outdoor control would sign, and learn at the seal that it is worth
    nothing.
    """
    form, _ = visit(field, ["indoor", "indoor"])
    asked = {"rule": "OC-01", "about": form, "reason": "outdoor_impossible"}
    inspector = exception(field, "inspector", **asked).get_json()
    quality = exception(field, "quality", **asked).get_json()

    assert (inspector["counts"], quality["counts"], quality["why_not"]) == (False, True, "")
    assert "Inspector Person may not allow OC-01 here" in inspector["why_not"]
    assert inspector["who"].startswith(
        "a second person of the admin, clerk, inspector or quality role who neither seals nor ships the"
        " envelope (not Inspector Person)"
    )
    assert quality["forms"] == [form]
    assert len(quality["findings"]) == 1
    wrong = exception(field, "quality", rule="OC-01", about=form, reason="client_accepts").get_json()
    assert "OC-01 is allowed only because of: outdoor impossible" in wrong["why_not"]


@on_any
def test_a_finding_about_something_else_is_named(field: Field) -> None:
    """An exception about a sample would be recorded where the finding names the form, and allow nothing."""
    form, samples = visit(field, ["indoor", "indoor"])
    told = exception(field, "quality", rule="OC-01", about=samples[0]).get_json()
    assert (told["findings"], told["others"]) == ([], [form])


def test_a_thing_no_form_speaks_of_needs_its_form(field: Field) -> None:
    """The question would be answered about nothing."""
    form, _ = visit(field, ["indoor", "indoor"])
    lot = field.number("lot")
    assert exception(field, "quality", rule="ML-06", about=lot).get_json()["code"] == "no-form"
    assert exception(field, "quality", rule="ML-06", about=lot, form=form).status_code == 200


@on_any
def test_an_exception_that_allows_nothing_is_recorded_and_says_so(field: Field) -> None:
    """The person it excuses would read "recorded" and go home."""
    form, _ = visit(field, ["indoor", "indoor"])
    data = {"rule": "OC-01", "about": form, "reason": "outdoor_impossible"}
    own = field.act("inspector", f"form/{form}", "excepted", data)
    other = field.act("quality", f"form/{form}", "excepted", data)

    assert own["note"].startswith("It does not count: Inspector Person may not allow OC-01 here")
    assert "It takes a second person of the admin, clerk, inspector or quality role" in own["note"]
    assert other["note"] == ""


@on_any
def test_whoever_seals_is_not_the_second_person(field: Field) -> None:
    """The clerk in a hurry would allow the missing outdoor control herself and close the envelope."""
    form, samples = visit(field, ["indoor", "indoor"])
    data = {"rule": "OC-01", "about": form, "reason": "outdoor_impossible"}
    field.rule_out_outdoor(form)
    assert field.act("clerk", f"form/{form}", "excepted", data)["note"] == ""  # for somebody else's envelope
    envelope, seal = field.number("envelope"), field.number("seal")
    assert not field.seal(envelope, samples, seal)["ready"]
    field.act("quality", f"form/{form}", "excepted", data)
    assert field.seal(envelope, samples, seal)["ready"]
    assert "may not allow OC-01 here" in exception(field, "clerk", **data).get_json()["why_not"]
