"""Who may allow a finding, and that what is told beforehand is what the rules make of it.

Two persons: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bailee.domain import numbers
from bailee.domain.moments import Moment
from bailee.errors import Forged
from bailee.rules import exceptions
from bailee.rules.exceptions import Allowing
from bailee.rules.registry import RULES
from builders import (
    CLERK,
    CUSTODIAN,
    DAY,
    INSPECTOR,
    LAB_QUALITY,
    MEDIA_KEEPER,
    QUALITY,
    SECOND_INSPECTOR,
    Person,
    Story,
    findings,
    visit,
)  # fmt: skip


def no_outdoor() -> Story:
    """A visit without an outdoor control, opened and collected by the inspector."""
    story = Story()
    story.lot()
    story.opened()
    story.collected(0)
    story.collected(1)
    return story


def no_flow() -> Story:
    """A run whose second flow nobody read."""
    return visit("collected", first={"flow_after": ...})


def sealed_without_outdoor() -> Story:
    """The same visit as without an outdoor control, sealed by the clerk all the same."""
    story = no_outdoor()
    story.relinquished()
    story.received(by=CLERK)
    story.sealed()
    return story


def cracked() -> Story:
    """The laboratory's quality role opened the envelope itself and found a cassette cracked."""
    story = visit("shipped")
    items = story.items(story.samples)
    items[0]["condition"] = ["cracked"]
    story.docked(by=LAB_QUALITY, items=items)
    return story


STORIES: dict[str, tuple[Callable[[], Story], str, Callable[[Story], str]]] = {
    "no outdoor control": (no_outdoor, "OC-01", lambda story: story.form),
    "no flow": (no_flow, "PV-02", lambda story: story.samples[0]),
    "sealed without outdoor control": (sealed_without_outdoor, "OC-01", lambda story: story.form),
    "cracked": (cracked, "RC-07", lambda story: story.samples[0]),
}


def judged(story: Story, rule: str, about: str, by: Person, reason: str) -> str:
    """Why that exception would allow nothing."""
    case = story.case()
    said = Allowing(exceptions.require(rule), about, by.org, by.kid, reason)
    return exceptions.why_not(case, said, exceptions.hits(case, said.rule))


@pytest.mark.parametrize("name", STORIES)
@pytest.mark.parametrize(
    "by", [INSPECTOR, SECOND_INSPECTOR, CLERK, QUALITY, LAB_QUALITY], ids=lambda by: by.name
)
@pytest.mark.parametrize("reason", ["outdoor_impossible", "lab_accepts"])
def test_what_is_told_beforehand_is_what_the_rules_make_of_it(name: str, by: Person, reason: str) -> None:
    """A person would be sent away who may sign, or would sign what counts for nothing."""
    make, rule, about_of = STORIES[name]
    story = make()
    about = about_of(story)
    told = judged(story, rule, about, by, reason)
    story.excepted(rule, about, by=by, reason=reason)
    (found,) = (each for each in findings(story.case(), rule) if each.about == about)
    assert (told == "") == bool(found.excepted), told


@pytest.mark.parametrize(
    ("make", "rule", "by", "allowed"),
    [
        (no_outdoor, "OC-01", INSPECTOR, False),
        (no_outdoor, "OC-01", CLERK, True),
        (no_outdoor, "OC-01", QUALITY, True),
        (sealed_without_outdoor, "OC-01", CLERK, False),
        (sealed_without_outdoor, "OC-01", SECOND_INSPECTOR, True),
        (no_flow, "PV-02", INSPECTOR, False),
        (no_flow, "PV-02", SECOND_INSPECTOR, True),
        (cracked, "RC-07", LAB_QUALITY, False),
        (cracked, "RC-07", QUALITY, True),
    ],
)
def test_never_whoever_did_it_sealed_it_or_said_it(
    make: Callable[[], Story], rule: str, by: Person, allowed: bool
) -> None:
    """Whoever made the fault, or closed the envelope over it, would be the one who finds that it does not
    matter.
    """
    story = make()
    about = story.form if rule == "OC-01" else story.samples[0]
    told = judged(story, rule, about, by, "outdoor_impossible")
    assert (told == "") == allowed
    assert allowed or f"{by.name} may not allow {rule} here" in told


def test_whoever_is_about_to_seal_is_not_the_second_person() -> None:
    """The clerk would allow the missing outdoor control at the desk, and close the envelope in the same
    minute.
    """
    story = no_outdoor()
    story.excepted("OC-01", story.form, by=CLERK, reason="outdoor_impossible")
    clerk, other = story.sealing(kid=CLERK.kid), story.sealing(kid=SECOND_INSPECTOR.kid)
    assert [each.severity for each in findings(story.case(sealing=clerk), "OC-01")] == ["block"]
    assert [each.severity for each in findings(story.case(sealing=other), "OC-01")] == ["warn"]


def test_an_excepted_finding_says_by_whom_and_why_and_tells_no_cure() -> None:
    """The clerk would be sent back to a house in a storm for a control that was allowed to be missing."""
    story = no_outdoor()
    (open_,) = findings(story.case(), "OC-01")
    story.excepted("OC-01", story.form, reason="outdoor_impossible")
    (found,) = findings(story.case(), "OC-01")
    assert "allowed by exception, signed by Quality One: outdoor impossible (entry" in found.excepted
    assert found.remedy != open_.remedy
    assert found.remedy.startswith("Nothing to fix")
    assert "outdoor control" not in found.remedy


@pytest.mark.parametrize(
    ("by", "rule", "reason", "why"),
    [
        (MEDIA_KEEPER, "PV-02", "other", "only the admin, clerk, inspector or quality role may allow PV-02"),
        (CUSTODIAN, "PV-02", "other", "this key has the custodian role"),
        (CLERK, "CL-09", "other", "only the quality role may allow CL-09, and this key has the clerk role"),
        (QUALITY, "OC-01", "client_accepts", "OC-01 is allowed only because of: outdoor impossible"),
    ],
)
def test_role_and_reason_are_said_in_words(by: Person, rule: str, reason: str, why: str) -> None:
    """Somebody would sign again and again what can never count, and not learn who could."""
    story = no_outdoor()
    assert why in judged(story, rule, story.form, by, reason)


@pytest.mark.parametrize("rule", ["XX-02", "SE-04", "CU-11", "oc-01", ""])
def test_a_rule_that_may_not_be_excepted_is_answered_with_those_that_may(rule: str) -> None:
    """A rule nobody wrote, or one that no signature cures, would be taken as allowed."""
    with pytest.raises(Forged) as refused:
        exceptions.require(rule)
    assert refused.value.code == "not-excepted"
    assert refused.value.facts["may"] == [
        each.id for each in sorted(RULES.values(), key=lambda r: r.id) if each.may_be_excepted
    ]
    assert "OC-01" in refused.value.sentence


def test_who_may_is_said_with_the_persons_who_may_not() -> None:
    """The inspector would ask the clerk who sealed, and be sent on from there."""
    story = sealed_without_outdoor()
    case = story.case()
    said = Allowing(exceptions.require("OC-01"), story.form, CLERK.org, CLERK.kid)
    told = exceptions.who(case, said, exceptions.hits(case, said.rule))
    assert told.startswith(
        "a second person of the admin, clerk, inspector or quality role who neither seals nor ships the"
        " envelope (not Clerk One or "
    )


@pytest.mark.parametrize(
    ("started", "is_found"),
    [
        ("2026-11-24T14:00:00-05:00", True), ("2026-11-28T13:59:59-05:00", True),
        ("2026-11-29T11:30:00-05:00", False), ("2026-12-01T13:00:00-05:00", False),
    ],
)  # fmt: skip
def test_what_is_found_before_sealing_is_found_by_whoever_is_to_allow_it(
    started: str, is_found: bool
) -> None:
    """The clerk hears that the envelope is too old, and the quality role that there is nothing to allow."""
    story = visit("opened")
    story.collected(0, started=started)
    rule, at = exceptions.require("SH-02"), f"{DAY}T14:00:00-05:00"
    asked = story.case(sealing=story.sealing(at=Moment.parse(at)))
    told = exceptions.hits(story.case(at=at), rule, story.envelope)
    assert [each.sentence for each in told] == [each.sentence for each in findings(asked, "SH-02")]
    assert bool(told) == is_found
    said = Allowing(rule, story.envelope, QUALITY.org, QUALITY.kid)
    assert exceptions.why_not(story.case(at=at), said, told) == ""


def test_what_lies_in_another_envelope_or_has_left_is_not_supposed_to_be_sealed() -> None:
    """Old cassettes that left long ago would be found in an envelope that lies empty on the desk."""
    rule, other = exceptions.require("SH-02"), numbers.issue("envelope", lambda _: "9")
    at, old = f"{DAY}T14:00:00-05:00", {"started": "2026-11-24T09:00:00-05:00"}
    story = visit("sealed", first=old)
    assert [hit.about for hit in exceptions.hits(story.case(at=at), rule, story.envelope)] == [story.envelope]
    assert exceptions.hits(story.case(at=at), rule, other) == []
    assert exceptions.hits(story.case(at=at), rule, story.samples[0]) == []
    story.shipped()
    told = exceptions.hits(story.case(at=at), rule, story.envelope)
    assert [hit.sentence for hit in told] == [each.sentence for each in findings(story.case(at=at), "SH-02")]
