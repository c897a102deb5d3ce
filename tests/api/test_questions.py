"""Readiness over HTTP: what is refused before the envelope closes, and what cures it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from bailee.domain.moments import Moment
from field import FIRM, LAB, Field, Visited
from grounds import on_any

pytestmark = on_any


def rules_of(told: dict[str, Any], severity: str) -> set[str]:
    """Ids of the findings of one severity."""
    return {f["rule"] for f in told["findings"] if f["severity"] == severity}


def visit(field: Field, kinds: list[str], **lot: Any) -> tuple[str, list[str]]:
    """A visit with these kinds of samples, all in the clerk's hands."""
    number, samples = field.lot(len(kinds), **lot)
    form = field.open_form()
    for sample, kind in zip(samples, kinds, strict=True):
        field.collect(form, number, sample, kind)
    field.hand_to_clerk(form, samples)
    return form, samples


def test_sealing_waits_for_the_outdoor_control_of_every_visit(field: Field) -> None:
    """Two visits in one envelope, one outdoor control: the other visit could not be
    compared with anything.
    """
    _, first = visit(field, ["indoor", "indoor", "outdoor"])
    form, second = visit(field, ["indoor", "indoor"])
    envelope, seal = field.number("envelope"), field.number("seal")
    told = field.seal(envelope, [*first, *second], seal)
    assert not told["ready"]
    assert told["statements"] == []
    blocking = [f for f in told["findings"] if f["rule"] == "OC-01"]
    assert [f["about"] for f in blocking] == [form]
    assert blocking[0]["remedy"]


def test_a_cassette_is_judged_as_if_it_were_recorded_and_is_not(field: Field) -> None:
    """A flow that stops the envelope is told only once it is signed, or the question records it."""
    lot, samples = field.lot(2)
    form = field.open_form()
    first = field.run(lot, samples[0])
    field.act("inspector", f"form/{form}", "collected", first)
    before = field.get("inspector", f"/forms/{form}").get_json()
    said = field.run(lot, samples[1]) | {"pump": "P-9"}

    def judged(**other: Any) -> dict[str, Any]:
        asked = {"act": "collected", "data": said | other, "form": form}
        return dict(field.ok(field.post("inspector", "/readiness", asked)))

    good = judged()
    assert good["ready"], good["findings"]
    assert good["statements"] == [{"sub": f"form/{form}", "act": "collected", "data": said}]
    for other, rule in (
        ({"flow_before": "15.0", "flow_after": "13.4"}, "PV-05"),
        ({"pump": first["pump"], "started": first["started"]}, "PV-10"),
        ({"flow_after": None}, "PV-02"),
    ):
        found = judged(**other)
        assert not found["ready"]
        assert rules_of(found, "block") == {rule}
        assert found["statements"] == []
    after = field.get("inspector", f"/forms/{form}").get_json()
    assert (after["length"], after["findings"]) == (before["length"], before["findings"])


def test_the_first_cassette_of_another_box_is_told_of_before_it_is_signed(field: Field) -> None:
    """A label of the box of last month would be seen once the run is on record, and its pump gone."""
    form, _ = visit(field, ["indoor", "indoor"])
    lot, samples = field.lot(2)

    def judged(sample: str) -> list[bool]:
        asked = {"act": "collected", "data": field.run(lot, sample) | {"pump": "P-9"}, "form": form}
        told = field.ok(field.post("inspector", "/readiness", asked))
        return [
            "come from 2 lots" in each["sentence"] for each in told["findings"] if each["rule"] == "ML-11"
        ]

    assert judged(samples[0]) == [True]
    field.collect(form, lot, samples[0])
    assert judged(samples[1]) == [], "known since the first of them"


def test_an_exception_by_a_second_person_makes_it_a_recorded_deviation(field: Field) -> None:
    """A storm outside must not stop the envelope for ever, and must be read in it for ever."""
    form, samples = visit(field, ["indoor", "indoor", "indoor"])
    envelope, seal = field.number("envelope"), field.number("seal")
    excepted = {"rule": "OC-01", "about": form, "reason": "outdoor_impossible"}
    field.act("inspector", f"form/{form}", "excepted", excepted)
    assert not field.seal(envelope, samples, seal)["ready"], "the person it excuses must not be enough"
    field.rule_out_outdoor(form)
    field.act("quality", f"form/{form}", "excepted", excepted)
    told = field.seal(envelope, samples, seal)
    assert told["ready"], told["findings"]
    assert {"OC-01", "OC-12"} <= rules_of(told, "warn")
    assert any("Quality" in f["excepted"] for f in told["findings"] if f["rule"] == "OC-01")


def test_an_expired_lot_blocks_and_is_named(field: Field) -> None:
    """Expired media in a sealed envelope is found by the laboratory a week later, when nothing
    can be done.
    """
    form, samples = visit(field, ["indoor", "indoor", "outdoor"], expiry="2026-11-30")
    told = field.seal(field.number("envelope"), samples, field.number("seal"))
    assert not told["ready"]
    (found,) = [each for each in told["findings"] if each["rule"] == "ML-02"]
    assert (found["about"], found["samples"]) == (form, samples)
    assert all(each[:4] in found["sentence"] for each in samples)


def test_the_last_day_of_a_lot_still_seals(field: Field) -> None:
    """Expiry is inclusive: the day printed on the box is a good day."""
    _, samples = visit(field, ["indoor", "indoor", "outdoor"], expiry="2026-12-01")
    assert field.seal(field.number("envelope"), samples, field.number("seal"))["ready"]


def test_a_wrong_count_blocks(field: Field) -> None:
    """A cassette left on the desk is lost when the envelope has gone."""
    _, samples = visit(field, ["indoor", "indoor", "outdoor"])
    told = field.seal(field.number("envelope"), samples, field.number("seal"), total=4)
    assert not told["ready"]
    assert "SE-02" in rules_of(told, "block")


def test_a_scanned_number_nobody_collected_blocks(field: Field) -> None:
    """A spare cassette in the envelope would reach the laboratory as a sample nobody took."""
    _, samples = visit(field, ["indoor", "indoor", "outdoor"])
    _, spare = field.lot(1)
    told = field.seal(field.number("envelope"), [*samples, spare[0]], field.number("seal"))
    assert not told["ready"]
    assert any(
        spare[0] in (f["about"], *f["sentence"].replace(" ", "").split(".")) or spare[0][:4] in f["sentence"]
        for f in told["findings"]
    )


def test_a_used_seal_number_blocks(field: Field) -> None:
    """Two envelopes with one seal number: neither proves anything."""
    _, first = visit(field, ["indoor", "indoor", "outdoor"])
    _, second = visit(field, ["indoor", "indoor", "outdoor"])
    seal = field.number("seal")
    assert field.seal(field.number("envelope"), first, seal)["ready"]
    told = field.seal(field.number("envelope"), second, seal)
    assert not told["ready"]
    assert "SE-04" in rules_of(told, "block")


def test_a_sealed_statement_names_the_policy_it_was_judged_by(field: Field) -> None:
    """Years later the same check must be possible with the same thresholds."""
    form, samples = visit(field, ["indoor", "indoor", "outdoor"])
    root = field.roots[FIRM]
    field.ok(
        field.send(root.sign(f"org/{FIRM}", "policy_set", {"policy": {"edition": 1, "min_cassettes": 4}})),
        root,
    )
    told = field.seal(field.number("envelope"), samples, field.number("seal"))
    known = field.get("clerk", f"/organizations/{FIRM}").get_json()
    assert known["policy"]["min_cassettes"] == 4
    assert told["statements"][0]["data"]["policy"] == known["policy_digest"]
    assert "SL-02" in rules_of(told, "warn")
    assert form


def test_shipping_says_when_it_arrives_and_by_when_it_must_go(field: Field) -> None:
    """A clerk who does not see the closed dock sends the envelope into a weekend."""
    _, samples = visit(field, ["indoor", "indoor", "outdoor"])
    envelope = field.number("envelope")
    field.seal(envelope, samples, field.number("seal"))
    body = {
        "envelope": envelope,
        "carrier": "acorn-freight",
        "service": "next day",
        "service_days": 1,
        "tracking": "AF-1",
        "handed_over": "2026-12-01T17:01:00-05:00",
    }
    field.clock.now = datetime(2026, 12, 1, 22, 1, tzinfo=UTC)
    told = field.post("clerk", "/readiness", {"act": "shipped", "data": body}).get_json()
    assert told["window"]["delivered"] == "2026-12-03T10:30:00-06:00"
    assert "SH-03" in rules_of(told, "warn")
    assert told["window"]["latest_hand_over"] == "2026-12-02T17:00:00-05:00"


def test_a_window_question_needs_no_envelope(field: Field) -> None:
    """The clerk asks before packing: domain example, Thanksgiving (common practice, no source; holidays 5
    U.S.C. 6103).
    """
    asked = (
        "lab=quill-lab&carrier=acorn-freight&handed_over=2026-11-25T16:30&zone=America/New_York"
        "&service_days=1"
    )
    told = field.get("clerk", f"/window?{asked}").get_json()
    assert told["window"]["delivered"] == "2026-11-27T10:30:00-06:00"
    late = field.get("clerk", f"/window?{asked.replace('16:30', '17:01')}").get_json()
    assert late["window"]["received"] == "2026-11-30T10:30:00-06:00"


def test_a_question_must_be_about_an_act(field: Field) -> None:
    """An empty question would otherwise be answered with a yes about nothing."""
    answer = field.post("clerk", "/readiness", {})
    assert (answer.status_code, answer.get_json()["code"]) == (422, "bad-request")
    assert {each["at"] for each in answer.get_json()["errors"]} == {"/act", "/data"}


@pytest.mark.parametrize(
    ("changes", "at", "says"),
    [
        ({"samples": ["S000000000"]}, "/data/samples/0", ""),
        ({"across_opening": ...}, "/data/across_opening", "is missing"),
        ({"total": "three"}, "/data/total", "write a whole number"),
        ({"plain_tap": True}, "/data/plain_tap", "there is nothing of this name, did you mean plain_tape?"),
    ],
)
def test_a_draft_is_refused_in_the_words_of_the_statement(
    field: Field, changes: dict[str, Any], at: str, says: str
) -> None:
    """The clerk is told that all is well, and the statement is refused when it is sent.

    Or a slip of the finger is judged as if unsaid.
    """
    _, samples = visit(field, ["indoor", "indoor", "outdoor"])
    data = {
        "envelope": field.number("envelope"), "samples": samples, "at": Moment(field.clock(), -300).text(),
        "across_opening": True, "record_enclosed": True, **changes,
    }  # fmt: skip
    data = {name: value for name, value in data.items() if value is not ...}
    answer = field.post("clerk", "/readiness", {"act": "sealed", "data": data})
    code = "not-known" if "plain_tap" in changes else "bad-statement"
    assert (answer.status_code, answer.get_json()["code"]) == (422, code)
    (fault,) = answer.get_json()["errors"]
    assert fault["at"] == at
    assert says in fault["says"]


def test_what_is_not_known_yet_is_asked_for(field: Field) -> None:
    """Whoever packs asks before there is a seal and before anybody counted: what is wrong besides must be
    told by then.
    """
    _, samples = visit(field, ["indoor", "indoor", "outdoor"])
    data = {
        "envelope": field.number("envelope"), "samples": samples, "at": Moment(field.clock(), -300).text(),
        "across_opening": True, "record_enclosed": True,
    }  # fmt: skip
    told = field.post("clerk", "/readiness", {"act": "sealed", "data": data}).get_json()
    assert (told["ready"], rules_of(told, "block")) == (False, {"SE-02", "SE-04"})
    whole = {**data, "seal": field.number("seal"), "total": 3}
    told = field.post("clerk", "/readiness", {"act": "sealed", "data": whole}).get_json()
    assert told["ready"], told["findings"]
    (prepared,) = told["statements"]
    assert prepared["data"] == whole | {
        "count": 3,
        "forms": [prepared["sub"].removeprefix("form/")],
        "findings": prepared["data"]["findings"],
        "policy": field.get("clerk", f"/organizations/{FIRM}").get_json()["policy_digest"],
    }


def test_what_the_ledger_reckons_is_not_said_by_whoever_asks(field: Field) -> None:
    """A clerk could have the envelope say that it was judged by thresholds of somebody's own, and with no
    warning.
    """
    _, samples = visit(field, ["indoor", "indoor", "outdoor"])
    told = field.seal(
        field.number("envelope"), samples, field.number("seal"), policy="A" * 43, lab_policy="A" * 43, count=1
    )
    data = told["statements"][0]["data"]
    known = field.get("clerk", f"/organizations/{FIRM}").get_json()
    assert (data["policy"], data["count"], data.get("lab_policy")) == (known["policy_digest"], 3, None)


def test_nobody_asks_before_the_dock_opens_an_envelope(visited: Visited) -> None:
    """The dock would be told that it may not record what it found."""
    field, (form, envelope, samples, seal) = visited
    dock = {"envelope": envelope, "seal": seal, "seal_state": "intact", "package": ["sound"], "total": 3}
    items = [{"sample": each, "condition": ["intact"]} for each in samples]
    data = {"items": items, "at": Moment(field.clock(), -360).text(), "dock": dock}
    answer = field.post("dock", "/readiness", {"act": "received", "data": data})
    assert (answer.status_code, answer.get_json()["code"]) == (422, "not-asked")
    assert form


def test_a_sealed_statement_names_the_limits_the_laboratory_had_published(field: Field) -> None:
    """Years later nobody could say whose limits the envelope was checked against, the firm's or also the
    laboratory's.
    """
    lab = field.roots[LAB]
    field.ok(
        field.send(lab.sign(f"org/{LAB}", "policy_set", {"policy": {"edition": 1, "min_cassettes": 4}})), lab
    )
    _, samples = visit(field, ["indoor", "indoor", "outdoor"])
    told = field.seal(field.number("envelope"), samples, field.number("seal"))
    data = told["statements"][0]["data"]
    firm, known = (field.get("clerk", f"/organizations/{org}").get_json() for org in (FIRM, LAB))
    assert (data["policy"], data["lab_policy"]) == (firm["policy_digest"], known["policy_digest"])
    assert known["stated"] == {"edition": 1, "min_cassettes": 4}
    assert known["policy"]["min_indoor"] == 2
    (few,) = (each for each in told["findings"] if each["rule"] == "SL-02")
    assert few["sentence"].endswith(
        "This is the laboratory's limit of 4 (min_cassettes); the firm's own is 3."
    )


def test_a_window_of_an_envelope_knows_its_dock_its_clock_and_its_oldest_run(field: Field) -> None:
    """The clerk would type the laboratory, the zone and the hour of collection once more, and mistype one of
    them.
    """
    form, samples = visit(field, ["indoor", "indoor", "outdoor"])
    envelope = field.number("envelope")
    assert field.seal(envelope, samples, field.number("seal"))["ready"]
    for number in (form, envelope):
        asked = f"/window?number={number}&carrier=acorn-freight&handed_over=2026-12-01T15:00"
        told = field.get("clerk", asked).get_json()
        assert (told["lab"], told["zone"]) == (LAB, "America/New_York")
        assert told["window"]["latest_hand_over"] == "2026-12-02T17:00:00-05:00"  # 72 h from Tuesday morning
        best = told["alternatives"][0]
        assert (best["how"], best["received"]) == ("next-day service", "2026-12-02T10:30:00-06:00")
        assert any("within the limit of 72 h" in reason for reason in best["reasons"])
    lab = field.roots[LAB]
    field.ok(
        field.send(lab.sign(f"org/{LAB}", "policy_set", {"policy": {"edition": 1, "hold_warn_h": "30"}})), lab
    )
    told = field.get("clerk", asked).get_json()
    assert told["window"]["latest_hand_over"] == "2026-12-01T17:00:00-05:00"
    assert [each["fits"] for each in told["alternatives"]].count(True) < len(told["alternatives"])


def test_a_window_is_told_in_the_zone_of_the_question(field: Field) -> None:
    """A laptop that shows another zone would plan an hour that is not the counter's."""
    asked = f"/window?lab={LAB}&carrier=acorn-freight&zone=America/New_York&handed_over="
    for local, there in (
        ("2026-12-01T16:30", "2026-12-01T13:30:00-08:00"),
        ("2026-12-01T17:01", "2026-12-01T22:01:00Z"),
    ):
        by_clock = field.get("clerk", asked + local).get_json()
        by_offset = field.get("clerk", asked + there).get_json()
        assert by_clock["window"] == by_offset["window"]
    missing = field.get("clerk", "/window?carrier=x&handed_over=2026-12-01T16:30")
    assert (missing.status_code, missing.get_json()["code"]) == (422, "missing")
    assert field.get("clerk", asked + "2026-11-01T01:30").get_json()["code"] == "two-such-times"


def test_an_office_that_is_shut_is_noted(field: Field) -> None:
    """A pick-up is booked for a day on which nobody is in the office."""
    root = field.roots[FIRM]
    office = {"zone": "America/New_York", "hours": {"wed": ["09:00-16:00"]}, "closed": [], "years": [2026]}
    field.ok(
        field.send(root.sign(f"org/{FIRM}", "calendar_set", {"which": "office", "calendar": office})), root
    )
    asked = f"/window?lab={LAB}&carrier=acorn-freight&zone=America/New_York&handed_over=2026-12-01T15:00"
    told = field.get("clerk", asked).get_json()
    (note,) = told["notes"]
    assert "Your own office is closed" in note
    assert "2026-12-02 09:00" in note
    assert told["alternatives"][0]["hand_over"] == "2026-12-02T16:00:00-05:00"


def test_a_window_of_what_is_not_the_asker_s_is_not_told(field: Field) -> None:
    """A competitor would learn when whose samples reach which laboratory."""
    form = field.open_form()
    query = "&carrier=x&handed_over=2026-12-01T16:30"
    assert field.get("dock", f"/window?number={form}{query}").status_code == 200
    assert field.get("dock", f"/window?number={field.number('envelope')}{query}").status_code == 404
    assert field.get("dock", f"/window?number={field.number('lot')}{query}").status_code == 422
    assert field.get("dock", f"/window?number={field.number('form')}{query}").status_code == 404
