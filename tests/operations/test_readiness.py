"""The questions asked before signing, over the real application: what is still to come, what lies outside,
what was said already.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from bailee.domain.moments import Moment
from field import FIRM, Field
from grounds import on_any

pytestmark = on_any

HERE = datetime(2026, 12, 1, 20, 0, tzinfo=UTC)
"""15:00 in New York."""


def visit(field: Field, kinds: str = "iio", **lot: Any) -> tuple[str, list[str]]:
    """A visit with these kinds of samples (indoor, outdoor), all in the clerk's hands."""
    names = {"i": "indoor", "o": "outdoor"}
    number, samples = field.lot(len(kinds), **lot)
    form = field.open_form()
    for sample, kind in zip(samples, kinds, strict=True):
        field.collect(form, number, sample, names[kind])
    field.hand_to_clerk(form, samples)
    return form, samples


def shipping(field: Field, envelope: str, **changes: Any) -> Any:
    """The clerk's question at the counter."""
    body = {
        "envelope": envelope,
        "carrier": "acorn-freight",
        "service": "next day",
        "service_days": 1,
        "tracking": "AF-1",
        "handed_over": "2026-12-01T15:00:00-05:00",
        "classified": "not_regulated",
    }
    return field.post("clerk", "/readiness", {"act": "shipped", "data": body | changes})


def rules(told: dict[str, Any]) -> dict[str, str]:
    """Severities by rule."""
    return {each["rule"]: each["severity"] for each in told["findings"]}


def hand_over(field: Field, form: str, told: dict[str, Any]) -> None:
    """Sign what was prepared."""
    (statement,) = told["statements"]
    assert statement["sub"] == f"form/{form}"
    field.act("clerk", statement["sub"], statement["act"], statement["data"])


@pytest.mark.parametrize(("handed_over", "status"), [("15:05:00", 200), ("15:05:01", 422)])
def test_a_hand_over_still_to_come_is_not_signed(field: Field, handed_over: str, status: int) -> None:
    """A time typed for tomorrow stands in the record as a hand-over that nobody made.

    Five minutes: common practice, as in CU-09.
    """
    _, samples = visit(field)
    envelope = field.number("envelope")
    assert field.seal(envelope, samples, field.number("seal"))["ready"]
    field.clock.now = HERE
    answer = shipping(field, envelope, handed_over=f"2026-12-01T{handed_over}-05:00")
    told = answer.get_json()
    assert answer.status_code == status
    if status == 422:
        assert (told["code"], told["field"]) == ("future", "handed_over")
        assert "2026-12-01 15:00 (-05:00)" in told["detail"]


@pytest.mark.parametrize(("sealed_at", "status"), [("15:05:00", 200), ("15:05:01", 422)])
def test_a_seal_still_to_come_is_not_signed(field: Field, sealed_at: str, status: int) -> None:
    """The clock of the office is an hour fast: every envelope would be sealed after it was handed over."""
    _, samples = visit(field)
    field.clock.now = HERE
    body = {
        "envelope": field.number("envelope"),
        "samples": samples,
        "total": 3,
        "seal": field.number("seal"),
        "at": f"2026-12-01T{sealed_at}-05:00",
        "across_opening": True,
        "record_enclosed": True,
    }
    answer = field.post("clerk", "/readiness", {"act": "sealed", "data": body})
    assert answer.status_code == status
    if status == 422:
        assert answer.get_json()["field"] == "at"


def test_an_expired_cassette_left_out_is_named_at_the_seal_and_does_not_stop_the_counter(
    field: Field,
) -> None:
    """The envelope closes without a word and is refused when the driver stands there."""
    form, good = visit(field)
    lot, (old,) = field.lot(1, expiry="2026-11-30")
    field.collect(form, lot, old, "indoor")
    field.hand_to_clerk(form, [old])
    envelope = field.number("envelope")
    whole = field.seal(field.number("envelope"), [*good, old], field.number("seal"), total=4)
    assert rules(whole)["ML-02"] == "block"
    told = field.seal(envelope, good, field.number("seal"))
    (left,) = [each for each in told["findings"] if each["rule"] == "SE-13"]
    assert (told["ready"], left["severity"]) == (True, "warn")
    assert old[:4] in left["sentence"]
    assert "Ask the inspector: if it will not be analyzed, void it." in left["remedy"]
    assert [told["act"] for told in left["acts"]] == ["sealed"]  # a clerk may not void
    field.clock.now = HERE
    counter = shipping(field, envelope).get_json()
    assert counter["ready"]
    assert {"SE-13"} <= set(rules(counter))
    assert "ML-02" not in rules(counter)


def test_the_ledger_knows_a_tracking_number_of_another_device(field: Field) -> None:
    """Two clerks type the number of one airbill: only the ledger sees both."""
    first, samples = visit(field)
    second, others = visit(field)
    envelope, other = field.number("envelope"), field.number("envelope")
    field.seal(envelope, samples, field.number("seal"))
    field.seal(other, others, field.number("seal"))
    field.clock.now = HERE
    told = shipping(field, envelope).get_json()
    assert "SH-06" not in rules(told)
    hand_over(field, first, told)
    again = shipping(field, other, tracking="af-1").get_json()
    assert (again["ready"], rules(again)["SH-06"]) == (True, "warn")
    assert "SH-06" not in rules(shipping(field, other, tracking="AF-2").get_json())
    hand_over(field, second, again)
    for number in (first, second):
        checked = field.get("clerk", f"/forms/{number}").get_json()
        assert rules(checked)["SH-06"] == "warn"


def test_a_tracking_number_may_be_as_long_as_an_airbill(field: Field) -> None:
    """A carrier with long numbers would be answered with an error of the database."""
    form, samples = visit(field)
    envelope = field.number("envelope")
    field.seal(envelope, samples, field.number("seal"))
    field.clock.now = HERE
    hand_over(field, form, shipping(field, envelope, tracking="A" * 60).get_json())


def test_an_envelope_is_handed_over_once(field: Field) -> None:
    """The second hand-over is recorded, follows nothing, and names another carrier."""
    form, samples = visit(field)
    envelope = field.number("envelope")
    field.seal(envelope, samples, field.number("seal"))
    field.clock.now = HERE
    told = shipping(field, envelope).get_json()
    hand_over(field, form, told)
    again = shipping(field, envelope, tracking="AF-2").get_json()
    assert (again["ready"], again["statements"]) == (False, [])
    assert rules(again)["CU-02"] == "block"


def taking(field: Field, who: str, samples: list[str], at: str = "2026-12-01T15:00:00-05:00") -> Any:
    """Somebody asks before taking."""
    items = [{"sample": each, "condition": ["intact"]} for each in samples]
    return field.post(who, "/readiness", {"act": "received", "data": {"items": items, "at": at}})


def test_what_one_holds_is_not_taken(field: Field) -> None:
    """`take` typed again is a receipt that nobody gave for."""
    _, samples = visit(field)
    field.clock.now = HERE
    told = taking(field, "clerk", samples).get_json()
    assert (told["ready"], told["statements"], rules(told)) == (False, [], {"CU-01": "block"})


def test_what_was_given_is_taken(field: Field) -> None:
    """The ordinary hand-over must be prepared without a word."""
    number, samples = field.lot(2)
    form = field.open_form()
    for sample in samples:
        field.collect(form, number, sample, "indoor")
    given = {
        "samples": samples,
        "count": 2,
        "to": FIRM,
        "at": "2026-12-01T09:30:00-05:00",
        "purpose": "shipping",
    }
    field.act("inspector", f"form/{form}", "relinquished", given)
    field.clock.now = HERE
    told = taking(field, "clerk", samples).get_json()
    assert (told["ready"], told["findings"]) == (True, [])
    (statement,) = told["statements"]
    assert (statement["act"], statement["data"]["count"]) == ("received", 2)
    assert taking(field, "clerk", samples, "2026-12-01T15:05:01-05:00").status_code == 422
    assert taking(field, "clerk", [field.number("sample")]).status_code == 404


@pytest.mark.parametrize(("who", "found"), [("clerk", {"SI-03": "warn"}), ("inspector", {})])
def test_a_clerk_is_told_before_voiding(field: Field, who: str, found: dict[str, str]) -> None:
    """The warning that only an inspector may void stands there after the signature, for ever."""
    form, samples = visit(field)
    body = {"act": "voided", "data": {"sample": samples[0], "reason": "dropped"}}
    told = field.post(who, "/readiness", body).get_json()
    assert (told["ready"], rules(told)) == (True, found)
    assert [(each["sub"], each["act"]) for each in told["statements"]] == [(f"form/{form}", "voided")]


def test_an_unused_cassette_is_voided_on_the_form_it_was_meant_for(field: Field) -> None:
    """A spare that was dropped is on no form yet; who may say so must be told all the same."""
    form, _ = visit(field)
    _, (spare,) = field.lot(1)
    body = {"sample": spare, "reason": "dropped"}
    assert field.post("clerk", "/readiness", {"act": "voided", "data": body}).status_code == 404
    told = field.post("clerk", "/readiness", {"act": "voided", "data": body, "form": form}).get_json()
    assert rules(told) == {"SI-03": "warn"}
    assert [each["sub"] for each in told["statements"]] == [f"form/{form}"]


def test_a_reason_that_nobody_can_say_is_refused(field: Field) -> None:
    """The statement that was prepared would be refused when it is sent."""
    _, samples = visit(field)
    body = {"act": "voided", "data": {"sample": samples[0], "reason": "tired"}}
    assert field.post("inspector", "/readiness", body).status_code == 422


def test_before_a_sample_is_collected_only_what_is_about_it_is_told(field: Field) -> None:
    """Each line of a pen form would be asked back: no second person has signed what is not signed yet."""
    lot, samples = field.lot(1)
    form = field.open_form()
    field.clock.advance(hours=1)
    paper = {"sheet": f"{form}-1", "line": "1", "written_at": Moment(field.clock(), -300).text()}
    run = {**field.run(lot, samples[0]), "paper": paper}
    told = field.post("inspector", "/readiness", {"act": "collected", "form": form, "data": run}).get_json()
    assert "CU-22" not in rules(told)
