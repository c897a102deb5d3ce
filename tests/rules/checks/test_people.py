"""Whether a key is one person's, known and informed; and whether quality work is seen by a second person."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from typing import Any

import pytest

from bailee.domain import organizations
from bailee.domain.facts import Facts
from bailee.domain.organizations import Organization
from bailee.domain.statements import parse
from bailee.errors import Forged
from bailee.rules.registry import REFUSALS, Finding
from builders import (
    CLERK,
    DAY,
    FIRM,
    INSPECTOR,
    LAB_QUALITY,
    QUALITY,
    ROOT,
    Person,
    Story,
    findings,
    name_of,
    visit,
)

NEWCOMER = Person(FIRM, "clerk", "Clerk Two")


def found(story: Story, rule: str) -> list[Finding]:
    """What one rule says of the story."""
    return findings(story.case(), rule)


def enrollment(person: Person, **changes: Any) -> dict[str, Any]:
    """What an administrator says of a new key."""
    jwk = {"crv": "Ed25519", "kty": "OKP", "x": name_of("public", person.kid)}
    said = {"kid": person.kid, "jwk": jwk, "role": person.role, "proof": "p", "identity_check": "in_person"}
    return {name: value for name, value in {**said, **changes}.items() if value is not ...}


def enroll(story: Story, person: Person, **changes: Any) -> None:
    """An administrator enrolls a key."""
    story.add(
        f"org/{person.org}",
        "enrolled",
        enrollment(person, **changes),
        by=ROOT,
        said="2026-01-06T11:00:00-05:00",
        disclosed={"person": person.name},
    )


# SI-05 and SI-14


def asks() -> Callable[[Facts, Organization | None, str], None]:
    """The function that the rule book names for both refusals."""
    assert REFUSALS["SI-05"].by == REFUSALS["SI-14"].by
    module, _, name = REFUSALS["SI-05"].by.rpartition(".")
    function: Callable[[Facts, Organization | None, str], None] = getattr(
        importlib.import_module(module), name
    )
    return function


def test_a_key_cannot_be_enrolled_for_a_second_person() -> None:
    """SI-05: the office phone that everybody signs with makes every signature nobody's."""
    firm = organizations.fold(Story().chains[f"org/{FIRM}"])
    new = parse(f"org/{FIRM}", "enrolled", enrollment(NEWCOMER))
    asks()(new, firm, "")
    taken = parse(f"org/{FIRM}", "enrolled", enrollment(NEWCOMER, kid=CLERK.kid))
    with pytest.raises(Forged, match="one key is one person's") as refused:
        asks()(taken, firm, "")
    assert refused.value.code == "key-taken"


def test_the_service_s_own_key_is_nobody_s() -> None:
    """SI-14: a service that signs for people can make them say anything."""
    new = parse(f"org/{FIRM}", "enrolled", enrollment(NEWCOMER))
    asks()(new, None, "another key")
    with pytest.raises(Forged, match="never signs for a person"):
        asks()(new, None, NEWCOMER.kid)


# SI-07


@pytest.mark.parametrize(("checked", "severity"), [("in_person", []), ("known", []), (None, ["block"])])
def test_a_key_whose_owner_nobody_identified(checked: str | None, severity: list[str]) -> None:
    """An enrollment by e-mail: who has that key? Before the envelope has gone a block, afterwards a flag."""
    story = visit("held")
    enroll(story, NEWCOMER, identity_check=checked)
    story.relinquished(to_kid=NEWCOMER.kid)
    story.received(by=NEWCOMER)
    hits = found(story, "SI-07")
    assert [each.severity for each in hits] == severity
    asked = findings(story.case(sealing=story.sealing(kid=NEWCOMER.kid)), "SI-07")
    assert {each.about for each in asked} == ({story.form, story.envelope} if severity else set())
    story.sealed(by=NEWCOMER)
    story.shipped(by=NEWCOMER)
    assert [each.severity for each in found(story, "SI-07")] == (["flag"] if severity else [])


def test_the_check_can_be_made_up_for() -> None:
    """The administrator meets the person, and enrolls the same key once more with how it was checked."""
    story = visit("held")
    enroll(story, NEWCOMER, identity_check=None)
    story.relinquished(to_kid=NEWCOMER.kid)
    story.received(by=NEWCOMER)
    assert len(found(story, "SI-07")) == 1
    enroll(story, NEWCOMER, role="admin")
    assert len(found(story, "SI-07")) == 1  # another role is another enrollment, which changes nothing
    enroll(story, NEWCOMER)
    assert found(story, "SI-07") == []


# SI-10


@pytest.mark.parametrize(("said", "count"), [("2026-12-02T09:56:05", 0), ("2026-12-02T09:56:06", 1)])
def test_a_device_that_never_saw_what_it_said(said: str, count: int) -> None:
    """A day after its statement was recorded at 09:56:05 the phone speaks again and has no answer to the
    first: 24 h, common practice.
    """
    story = visit("opened")
    seen = story.state().entries[0].leaf
    story.collected(0, said=f"{DAY}T09:56:00-05:00", after=seen)
    story.held(said=f"{said}-05:00", after=seen)
    hits = found(story, "SI-10")
    assert [(each.severity, each.about) for each in hits] == [("warn", story.form)] * count
    for each in hits:
        assert INSPECTOR.name in each.sentence


def test_offline_for_a_day_is_no_such_case() -> None:
    """Everything is uploaded in the evening: the ledger had nothing to answer before."""
    story = visit("opened")
    seen = story.state().entries[0].leaf
    evening = "2026-12-02T20:00:00-05:00"
    story.collected(0, after=seen, rec=evening)
    story.held(said="2026-12-02T12:00:00-05:00", after=seen, rec="2026-12-02T20:00:01-05:00")
    assert found(story, "SI-10") == []
    assert found(visit("accepted"), "SI-10") == []


# SI-12


def damaged() -> Story:
    """The laboratory's quality role itself opened the envelope and found a cassette cracked (RC-07)."""
    story = visit("shipped")
    items = story.items(story.samples)
    items[0]["condition"] = ["cracked"]
    story.docked(by=LAB_QUALITY, items=items)
    return story


def test_the_quality_role_does_not_allow_what_it_stated_itself() -> None:
    """Whoever dropped the cassette on opening must not be the one who finds that it does not matter."""
    story = damaged()
    assert found(story, "SI-12") == []
    own = story.excepted(
        "RC-07", story.samples[0], by=LAB_QUALITY, reason="lab_accepts", said="2026-12-02T11:00:00-06:00"
    )
    (hit,) = found(story, "SI-12")
    assert (hit.severity, hit.about, hit.entries) == ("flag", story.samples[0], (own.n,))
    assert [each.severity for each in found(story, "RC-07")] == ["flag"]  # the exception allows nothing


def test_a_second_person_of_the_quality_role_settles_it() -> None:
    """Two people looked: that is what the exception is for."""
    story = damaged()
    story.excepted(
        "RC-07", story.samples[0], by=LAB_QUALITY, reason="lab_accepts", said="2026-12-02T11:00:00-06:00"
    )
    story.excepted(
        "RC-07", story.samples[0], by=QUALITY, reason="lab_accepts", said="2026-12-02T12:00:00-05:00"
    )
    assert found(story, "SI-12") == []
    assert [each.severity for each in found(story, "RC-07")] == ["warn"]


def test_before_the_envelope_leaves_it_is_a_block() -> None:
    """The quality role of the firm took the cracked cassette over, and waves it through."""
    story = visit("held")
    story.relinquished(to_kid=QUALITY.kid)
    items = story.items(story.samples)
    items[0]["condition"] = ["cracked"]
    story.received(by=QUALITY, items=items)
    story.excepted("RC-07", story.samples[0])
    assert [each.severity for each in found(story, "SI-12")] == ["block"]
