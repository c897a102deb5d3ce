"""Hand-overs between people: why, how often, from whom to whom."""

from __future__ import annotations

import importlib
from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.errors import Forged
from bailee.rules.registry import REFUSALS, Finding
from bailee.signing import signed_statement
from builders import (
    ANALYST,
    CLERK,
    CUSTODIAN,
    DAY,
    FIRM,
    INSPECTOR,
    QUALITY,
    ROOT,
    Person,
    Story,
    findings,
    visit,
)
from log_simulator import LogSimulator, told


def found(story: Story, rule: str) -> list[Finding]:
    """What one rule says of the story."""
    return findings(story.case(), rule)


# CU-11


def test_an_altered_statement_is_refused() -> None:
    """CU-11: RFC 7515 5.2: any change to what was signed must fail, whoever holds the database."""
    log: LogSimulator = told("opened")
    text = signed_statement.read(log.log[-1].entry.stmt).text
    header, payload, signature = text.split(".")
    other = log.log[-2].entry.stmt.split(".")[2]
    module, _, name = REFUSALS["CU-11"].by.rpartition(".")
    refuse = getattr(importlib.import_module(module), name)
    genuine = signed_statement.read(text)
    key = log.device(INSPECTOR).key.public
    assert refuse(genuine, key).claims.act == "opened"
    with pytest.raises(Forged):
        refuse(signed_statement.read(f"{header}.{payload}.{other}"), key)
    assert signature != other


# CU-17


@pytest.mark.parametrize(
    ("given", "taken", "count"),
    [("shipping", None, 0), (None, "shipping", 0), ("other", "other", 0), (None, None, 1)],
)
def test_a_hand_over_names_its_purpose_on_one_side_at_least(given: Any, taken: Any, count: int) -> None:
    """Why did the samples spend an hour with the receptionist? (NIST SP 800-72: purpose of the transfer)."""
    story = visit("handed_over", relinquished={"purpose": given}, handed_over={"purpose": taken})
    hits = found(story, "CU-17")
    assert [(each.severity, each.about) for each in hits] == [("warn", story.form)] * count
    for each in hits:
        assert INSPECTOR.name in each.sentence
        assert grouped(story.samples[0]) in each.sentence


def test_a_giver_is_told_before_anybody_has_received() -> None:
    """One word is missing while both still stand at the same desk."""
    story = visit("relinquished", relinquished={"purpose": None})
    assert len(found(story, "CU-17")) == 1
    story.corrected(story.state().entries[-1], "purpose", "shipping")
    assert found(story, "CU-17") == []


def test_what_a_carrier_brings_needs_no_word_for_it() -> None:
    """The purpose of shipping is shipping."""
    assert found(visit("docked", docked={"purpose": None}), "CU-17") == []


def test_a_receipt_nobody_gave_needs_a_purpose_too() -> None:
    """The receiver is the only one who can say what it was for."""
    story = visit("collected")
    story.received(story.samples[:1], purpose=None)
    assert len(found(story, "CU-17")) == 1


# CU-18


def passed_on(times: int) -> Story:
    """From the inspector to the clerk and back, and once more."""
    story = visit("collected")
    people = (INSPECTOR, CLERK)
    for step in range(times):
        giver, taker = people[step % 2], people[(step + 1) % 2]
        minute = f"{10 + step}"
        story.relinquished(story.samples[:1], by=giver, to_kid=taker.kid, at=f"{DAY}T11:{minute}:00-05:00")
        story.received(story.samples[:1], by=taker, at=f"{DAY}T11:{minute}:30-05:00")
    return story


@pytest.mark.parametrize(("times", "count"), [(6, 0), (7, 1)])
def test_many_hands_are_noted(times: int, count: int) -> None:
    """Every hand is a person who may be called as a witness.

    Six: common practice, from memory of EPA practice, no source read.
    """
    story = passed_on(times)
    hits = found(story, "CU-18")
    assert [each.severity for each in hits] == ["note"] * count
    for each in hits:
        assert "7 transfers" in each.sentence


def test_the_journey_of_an_ordinary_envelope_is_few_hands() -> None:
    """Inspector, clerk, carrier, dock: nobody is to be told off for that."""
    assert found(visit("accepted"), "CU-18") == []


# SI-06


@pytest.mark.parametrize(("taker", "count"), [(CLERK, 0), (INSPECTOR, 1)])
def test_given_and_received_by_one_person(taker: Person, count: int) -> None:
    """The inspector signs for the clerk who is at lunch."""
    story = visit("relinquished", relinquished={"to_kid": taker.kid})
    assert found(story, "SI-06") == []
    story.received(by=taker)
    hits = found(story, "SI-06")
    assert [(each.severity, each.about) for each in hits] == [("warn", story.form)] * count
    for each in hits:
        assert INSPECTOR.name in each.sentence


def test_two_keys_under_one_name_are_one_person_until_shown_otherwise() -> None:
    """A second phone does not make a second person."""
    story = visit("held")
    twin = Person(FIRM, "clerk", "Clerk Twin")
    story.add(
        f"org/{FIRM}",
        "enrolled",
        {
            "kid": twin.kid,
            "jwk": {"crv": "Ed25519", "kty": "OKP", "x": twin.kid},
            "role": "clerk",
            "proof": "p",
            "identity_check": "known",
        },
        by=ROOT,
        said="2026-01-05T12:00:00-05:00",
        disclosed={"person": INSPECTOR.name},
    )
    story.relinquished(to_kid=twin.kid)
    story.received(by=twin)
    assert len(found(story, "SI-06")) == 1


def test_a_whole_visit_has_two_people_at_every_hand_over() -> None:
    """A warning without a reason is read as noise."""
    story = visit("accepted")
    story.relinquished(
        story.samples,
        by=CUSTODIAN,
        to="quill-lab",
        to_kid=ANALYST.kid,
        purpose="analysis",
        at="2026-12-02T11:10:00-06:00",
    )
    story.received(story.samples, by=ANALYST, at="2026-12-02T11:12:00-06:00", purpose="analysis")
    assert found(story, "SI-06") == []
    assert QUALITY.kid not in {link.kid for sample in story.state().live for link in sample.links}
