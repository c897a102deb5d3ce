"""A check asked again years later gives what it gave then.

Oracle: the answers that were given live, at every step of a journey.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

import pytest

from bailee.domain.moments import Moment
from field import FIRM, LAB, Field
from grounds import on_any

pytestmark = on_any

Answer = dict[str, Any]


def ask(field: Field, path: str, at: str | None = None, who: str = "clerk") -> Answer:
    """A form or an envelope, now or as of a moment."""
    answer = field.get(who, path + (f"?as_of={quote(at)}" if at else ""))
    assert answer.status_code == 200, answer.text
    told: Answer = answer.get_json()
    return told


def judged(told: Answer) -> Answer:
    """What a check shows: findings and verdicts, and the moment."""
    return {name: told[name] for name in ("at", "findings", "verdicts")}


def set_by(field: Field, org: str, act: str, data: Answer) -> None:
    """The root of an organization says something on its chain."""
    root = field.roots[org]
    field.ok(field.send(root.sign(f"org/{org}", act, data)), root)


def journey(field: Field) -> tuple[str, str, list[tuple[str, Answer]]]:
    """A visit with faults, while thresholds, calendars, recalls and keys change around it.

    Every answer given on the way.
    """
    seen: list[tuple[str, Answer]] = []
    lot, samples = field.lot(4, expiry="2026-12-20")
    form = field.open_form()
    envelope, seal = field.number("envelope"), field.number("seal")

    def look() -> None:
        field.clock.advance(minutes=3, milliseconds=417)
        seen.append((f"/forms/{form}", judged(ask(field, f"/forms/{form}"))))
        known = field.get("clerk", f"/envelopes/{envelope}")
        if known.status_code == 200:
            seen.append((f"/envelopes/{envelope}", judged(known.get_json())))
        field.clock.advance(minutes=2)

    steps: list[Callable[[], Any]] = [
        lambda: [
            field.collect(form, lot, each, kind, flow_after="14.3")
            for each, kind in zip(samples[:3], ("indoor", "indoor", "outdoor"), strict=True)
        ],
        lambda: set_by(
            field, FIRM, "policy_set", {"policy": {"edition": 1, "drift_warn_pct": "3", "min_cassettes": 4}}
        ),
        lambda: set_by(
            field, LAB, "policy_set", {"policy": {"edition": 1, "min_cassettes": 5, "hold_warn_h": "20"}}
        ),
        lambda: field.hand_to_clerk(form, samples[:3]),
        lambda: field.seal(envelope, samples[:3], seal),
        lambda: field.ship(envelope),
        lambda: set_by(field, FIRM, "policy_set", {"policy": {"edition": 1, "drift_warn_pct": "9"}}),
        lambda: set_by(
            field,
            LAB,
            "calendar_set",
            {
                "which": "lab",
                "calendar": {
                    "zone": "America/Chicago",
                    "hours": {"mon": ["08:00-17:00"]},
                    "closed": [],
                    "years": [],
                },
            },
        ),
        lambda: field.act("keeper", f"lot/{lot}", "recalled", {"reason": "maker"}),
        # the same number again, on another form
        lambda: field.collect(field.open_form(), lot, samples[0], "indoor"),
    ]
    look()
    for step in steps:
        step()
        look()
    return form, envelope, seen


def _now(field: Field) -> str:
    return Moment(field.clock().replace(microsecond=0), -300).text()


@pytest.mark.slow
def test_every_answer_of_a_journey_can_be_had_again(field: Field) -> None:
    """Years later nobody could show what the clerk saw on the screen before the envelope was sealed."""
    _, _, seen = journey(field)
    assert len({str(told["findings"]) for _, told in seen}) >= 6, "the journey must change what is found"
    for path, told in seen:
        assert judged(ask(field, path, told["at"])) == told


@pytest.mark.slow
def test_what_is_replayed_does_not_know_what_came_later(field: Field) -> None:
    """A recall of today would stand on a check of last week, as if somebody had known it then."""
    form, _, seen = journey(field)
    now = {found["rule"] for found in ask(field, f"/forms/{form}")["findings"]}
    assert {"ML-07", "CL-01"} <= now
    path, first = seen[0]
    assert {found["rule"] for found in ask(field, path, first["at"])["findings"]}.isdisjoint(
        {"ML-07", "CL-01"}
    )
    limits = [
        told
        for _, told in seen
        if any("the laboratory's limit of 5" in f["sentence"] for f in told["findings"])
    ]
    assert limits
    assert len(limits) < len(seen)


def test_before_it_was_opened_there_is_nothing_and_the_future_is_not_told(field: Field) -> None:
    """A check of the day before the visit would show the visit, or one of tomorrow would be believed."""
    field.clock.advance(hours=1)
    form = field.open_form()
    before = Moment(field.clock().replace(microsecond=0), 0)
    field.clock.advance(minutes=1)
    assert field.get("clerk", f"/forms/{form}?as_of={quote(before.text())}").status_code == 200
    assert field.get("clerk", f"/forms/{form}?as_of=2026-12-01T14:00:00Z").status_code == 404
    later = field.get("clerk", f"/forms/{form}?as_of=2027-01-01T00:00:00Z")
    assert (later.status_code, later.get_json()["code"]) == (422, "future")
    unread = field.get("clerk", f"/forms/{form}?as_of=yesterday")
    assert (unread.status_code, "offset" in unread.text) == (422, True)


def test_a_stranger_sees_no_past_either(field: Field) -> None:
    """What is hidden from a competitor today could be read as of yesterday."""
    form, envelope, _ = journey(field)
    stranger = field.device("stranger", "third-party")
    root = field.roots["third-party"] = field.device("third-party root", "third-party")
    founded = {"name": "Third", "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign("org/third-party", "founded", founded)), root)
    field.people["stranger"] = stranger
    field.enroll(stranger, "clerk")
    for path in (f"/forms/{form}?as_of=2026-12-01T15:00:00Z", f"/envelopes/{envelope}/sealing"):
        assert field.get("stranger", path).status_code == 404


@pytest.mark.slow
def test_a_sealing_asked_again_finds_the_warnings_that_were_acknowledged(field: Field) -> None:
    """The signature under the warnings would rest on a list that nobody can derive again."""
    form, envelope, _ = journey(field)
    told = field.get("dock", f"/envelopes/{envelope}/sealing").get_json()
    (part,) = told["forms"]
    assert (told["same"], part["same"], part["form"]) == (True, True, form)
    assert (part["policy_same"], part["lab_policy_same"]) == (True, True)
    assert part["acknowledged"] == part["found_again"]
    rules = {each["rule"] for each in part["acknowledged"]}
    assert {"PV-04", "SL-02"} <= rules
    assert "ML-07" not in {found["rule"] for found in told["findings"]}


def test_two_forms_in_one_envelope_are_asked_again_together(field: Field) -> None:
    """The second form's statement, recorded a moment after the first, would be judged with the first one
    already there.
    """
    forms, samples = [], []
    for _ in range(2):
        lot, numbers = field.lot(3)
        forms.append(field.open_form())
        for each, kind in zip(numbers, ("indoor", "indoor", "outdoor"), strict=True):
            field.collect(forms[-1], lot, each, kind, flow_after="14.1")
        field.hand_to_clerk(forms[-1], numbers)
        samples += numbers
    envelope = field.number("envelope")
    assert field.seal(envelope, samples, field.number("seal"))["ready"]
    told = field.get("clerk", f"/envelopes/{envelope}/sealing").get_json()
    assert told["same"], told["forms"]
    assert sorted(part["form"] for part in told["forms"]) == sorted(forms)
    assert all(part["acknowledged"] for part in told["forms"])


def test_a_sealer_who_acknowledged_something_else_is_shown(field: Field) -> None:
    """A device that signs an empty list of warnings would look like one that had none."""
    lot, samples = field.lot(3)
    form = field.open_form()
    for each, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, each, kind, flow_after="14.1")
    field.hand_to_clerk(form, samples)
    envelope = field.number("envelope")
    data = {
        "envelope": envelope,
        "seal": field.number("seal"),
        "samples": samples,
        "count": 3,
        "total": 3,
        "forms": [form],
        "at": _now(field),
        "across_opening": True,
        "record_enclosed": True,
        "findings": [],
        "policy": "A" * 43,
    }
    field.act("clerk", f"form/{form}", "sealed", data)
    told = field.get("clerk", f"/envelopes/{envelope}/sealing").get_json()
    (part,) = told["forms"]
    assert (told["same"], part["policy_same"], part["lab_policy_same"]) == (False, False, None)
    assert part["acknowledged"] == []
    assert "PV-04" in {each["rule"] for each in part["found_again"]}


@pytest.mark.parametrize("what", ["form", "envelope"])
def test_an_envelope_that_was_never_sealed_has_no_sealing(field: Field, what: str) -> None:
    """A clerk would be shown a comparison with nothing."""
    number = field.open_form() if what == "form" else field.number("envelope")
    status = field.get("clerk", f"/envelopes/{number}/sealing").status_code
    assert status == (422 if what == "form" else 404)
