"""Sealing, shipping, receiving, deciding: what is shown before anything is signed, and what is signed."""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain import numbers
from bailee.signing import signed_statement
from field import FIRM, LAB
from town import ENVELOPE, INDOOR, INTACT, OPEN, OUTDOOR, SEAL, Town, collect, dock, to_the_clerk

OTHER = numbers.issue("sample", lambda _: "9")


def received(town: Town) -> dict[str, Any]:
    """What the dock's device signed last."""
    outbox = town.person("dock").session().of("dock", as_json=False).outbox
    data = dict(signed_statement.read(outbox.newest(1)[0].text).claims.data)
    outbox.close()
    return data


def test_a_wrong_count_is_not_ready(visited: tuple[Town, list[str]]) -> None:
    """If this fails, an envelope is sealed with a cassette still lying on the desk."""
    town, samples = visited
    said = town.person("clerk").run("seal", *samples[:3], "--counted", "4", *SEAL, code=1)

    assert "NOT READY" in said
    assert [each["act"] for each in town.person("clerk").outbox()] == ["received"]


def test_saying_no_signs_nothing(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the last question before the seal is only for show."""
    town, samples = visited
    town.person("clerk").run("seal", *samples[:3], "--counted", "3", *SEAL[:-1], typed="n\n", code=1)

    assert len(town.person("clerk").outbox()) == 1


SPOILT = ("seal", "samples", "chain", "act", "more", "count", "forms", "findings", "policy", "lab_policy")


@pytest.mark.parametrize("spoilt", SPOILT)
def test_a_service_cannot_make_the_clerk_sign_something_else(
    visited: tuple[Town, list[str]], spoilt: str
) -> None:
    """If this fails, whoever runs the service can put words under the clerk's signature."""
    town, samples = visited
    form = town.person("inspector").answer("show")["forms"][0]["form"]
    data = {
        "envelope": ENVELOPE,
        "seal": "C-4711",
        "samples": samples[:3],
        "count": 3,
        "total": 3,
        "forms": [form],
        "at": "2026-12-01T14:30:00+00:00",
        "across_opening": True,
        "record_enclosed": True,
        "findings": [],
    }
    prepared = {"sub": f"form/{form}", "act": "sealed", "data": data}
    if spoilt == "seal":
        data["seal"] = "C-9999"
    elif spoilt == "samples":
        data["samples"] = [*samples[:2], OTHER]
    elif spoilt == "count":
        data["count"] = 99
    elif spoilt == "forms":
        data["forms"] = [form, "F00000000000"]
    elif spoilt == "findings":
        data["findings"] = [{"rule": "SE-01", "about": form}]
    elif spoilt == "more":
        data["plain_tape"] = True
    elif spoilt.endswith("policy"):
        data |= {"policy": town.person("clerk").answer("policy")["digest"], spoilt: "A" * 43}
    elif spoilt == "chain":
        prepared["sub"] = f"org/{FIRM}"
    else:
        prepared["act"] = "unsealed"
    town.line.says["POST /readiness"] = {"ready": True, "findings": [], "statements": [prepared]}
    said = town.person("clerk").run(
        "seal",
        *samples[:3],
        "--envelope",
        ENVELOPE,
        "--counted",
        "3",
        "--at",
        "2026-12-01T14:30:00+00:00",
        *SEAL,
        code=1,
    )

    whose = {"policy": FIRM, "lab_policy": LAB}.get(spoilt)
    why = f"a policy other than the one it shows of {whose}" if whose else "something other than what you"
    assert why in " ".join(said.split())
    assert len(town.person("clerk").outbox()) == 1


@pytest.mark.parametrize("member", ["expected_delivery", "expected_receipt"])
def test_a_service_cannot_make_the_clerk_expect_another_receipt_than_it_showed(
    visited: tuple[Town, list[str]], member: str
) -> None:
    """Next week is signed where tomorrow stood on the screen, or yesterday, and every list calls it late."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    form = town.person("inspector").answer("show")["forms"][0]["form"]
    at = "2026-12-01T09:30:00-05:00"
    shown = {"delivered": "2026-12-02T10:30:00-06:00", "received": "2026-12-02T10:30:00-06:00"}
    expected = {"expected_delivery": shown["delivered"], "expected_receipt": shown["received"]}
    data = {
        "envelope": ENVELOPE, "carrier": "acorn-freight", "service": "priority", "service_days": 1,
        "saturday": False, "by_hand": False, "tracking": "AF-1", "classified": "not_regulated",
        "handed_over": at, **expected, member: "2026-12-09T10:30:00-06:00",
    }  # fmt: skip
    town.line.says["POST /readiness"] = {
        "ready": True,
        "findings": [],
        "statements": [{"sub": f"form/{form}", "act": "shipped", "data": data}],
        "window": {"day0": "2026-12-01", "latest_hand_over": None, **shown},
    }
    ship = (
        "ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "priority", "--service-days", "1",
        "--tracking", "AF-1", "--classified", "not_regulated", "--at", at, "--yes",
    )  # fmt: skip
    said = clerk.run(*ship, code=1)
    assert "an expected receipt other than the one it showed. Nothing was signed" in " ".join(said.split())
    assert clerk.outbox()[-1]["act"] == "sealed"
    data[member] = expected[member]
    clerk.run(*ship)
    assert clerk.outbox()[-1]["act"] == "shipped"


def test_one_gesture_seals_two_forms(visited: tuple[Town, list[str]]) -> None:
    """If this fails, samples of two visits need two envelopes, or one of them is sealed
    without a signature.
    """
    town, first = visited
    _, samples = town.lot(3)
    town.person("inspector").run(*OPEN)
    for sample, what in zip(samples, (INDOOR, INDOOR, OUTDOOR), strict=True):
        collect(town, sample, what)
    to_the_clerk(town, samples)
    clerk = town.person("clerk")
    said = clerk.run("seal", *first[:3], *samples, "--envelope", ENVELOPE, "--counted", "6", *SEAL)

    assert said.count("Recorded: sealed") == 2
    clerk.run(
        "ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1", "--yes"
    )
    town.clock.now = town.clock.now.replace(day=2, hour=16, minute=30)
    said = dock(
        town,
        *INTACT,
        "--counted",
        "6",
        *first[:3],
        *samples,
    )
    assert said.count("Recorded: received") == 2
    assert "Discrepancies: none." in said


def test_a_hand_over_too_late_says_the_window_in_words(visited: tuple[Town, list[str]]) -> None:
    """If this fails, an envelope handed over on Friday night waits at a closed dock and nobody was told."""
    town, samples = visited
    town.clock.now = town.clock.now.replace(day=4, hour=20)  # Friday 15:00 in New York
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL, code=None)
    said = clerk.run(
        "window",
        "--lab",
        LAB,
        "--carrier",
        "acorn-freight",
        "--zone",
        "America/New_York",
        "--at",
        "2026-12-04 15:00",
    )
    # Friday 4 December 2026, next-day service: Monday 7 December 10:30 (common practice, no source)
    assert "expected receipt Mon 2026-12-07 10:30 (-06:00)" in " ".join(said.split())


def test_differences_are_said_and_recorded_as_they_are(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a broken seal or a missing cassette is refused at the door, and people write the
    convenient thing.
    """
    town, samples = shipped
    said = dock(
        town,
        samples[0],
        samples[1],
        OTHER,
        "kitchen 2",
        "--seal",
        "C-4712",
        "--seal-state",
        "broken",
        "--counted",
        "3",
        typed="intact\ncracked, wet\nintact\n",
    )
    told = received(town)

    assert "The seal reads C-4712; C-4711 is on record. The seal is broken." in said
    assert f"Not inside: {numbers.grouped(samples[2])}." in said
    assert f"On none of these forms: kitchen 2, {numbers.grouped(OTHER)}." in said
    assert "3 counted; 4 scanned." in said
    assert told["dock"]["seal"] == "C-4712"
    assert told["dock"]["extra"] == ["kitchen 2", OTHER]
    assert [item["condition"] for item in told["items"]] == [["intact"], ["cracked", "wet"]]


def test_a_missing_seal_is_written_as_none(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, an envelope without a seal gets one on record."""
    town, samples = shipped
    said = dock(town, *samples[:3], "--seal", "none", "--counted", "3", "--all-intact")

    assert "No seal; C-4711 is on record." in said
    assert (received(town)["dock"]["seal"], received(town)["dock"]["seal_state"]) == (None, "missing")


def test_a_mistyped_cassette_is_asked_again_and_a_foreign_one_recorded(
    shipped: tuple[Town, list[str]],
) -> None:
    """If this fails, a slip of the finger becomes an extra cassette in the laboratory's record."""
    town, samples = shipped
    good = samples[0]
    wrong = good[:5] + next(c for c in numbers.ALPHABET if c != good[5]) + good[6:]
    said = dock(town, wrong, *INTACT, "--counted", "1", code=2)

    assert "wrong check character" in said
    assert town.person("dock").outbox() == []


def test_the_dock_can_work_without_a_network(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a laboratory whose line is down lets envelopes lie unopened, or
    opens them unrecorded.
    """
    town, samples = shipped
    form = town.person("inspector").answer("show")["forms"][0]["form"]
    town.line.weather = "down"
    words = (
        *INTACT,
        "--counted",
        "3",
        *samples[:3],
        "--offline",
    )

    assert "with --form" in dock(town, *words, code=2)
    assert "not sent yet" in dock(town, *words, "--form", form)
    town.line.weather = "fine"
    assert town.person("dock").answer("send")[0]["state"] == "registered"
    assert town.person("dock").answer("show", form)["samples"][0]["status"] == "received"


def test_the_laboratory_decides_by_envelope_form_or_sample(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, one cracked cassette puts a whole envelope on hold, or is accepted with it."""
    town, samples = shipped
    dock(town, *samples[:3], *INTACT, "--counted", "3")
    person = town.person("dock")
    person.run(
        "put-on-hold",
        ENVELOPE,
        "--reason",
        "paperwork",
        "--called-person",
        "Ann Example",
        "--answer",
        "go on",
    )
    person.run("accept", samples[0], samples[1], "--lab-number", f"{samples[0]}=Q-17")
    person.run("reject", samples[2], "--reason", "overloaded", "--qualified")
    form = town.person("inspector").answer("show")["forms"][0]["form"]
    states = {s["sample"]: (s["status"], s["lab_number"]) for s in person.answer("show", form)["samples"]}

    assert states == {
        samples[0]: ("accepted", "Q-17"),
        samples[1]: ("accepted", None),
        samples[2]: ("rejected", None),
    }
    assert "Ann Example" not in str(signed_statement.read(_last_text(town)).claims.data)
    person.run("dispose", form, "--how", "destroyed")
    assert {s["status"] for s in person.answer("show", form)["samples"]} == {"disposed"}


def test_a_decision_on_an_envelope_is_about_what_came_out_of_it(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a cassette that never arrived is accepted with the others, intact, and a result is
    expected of it.
    """
    town, samples = shipped
    dock(town, *samples[:2], *INTACT, "--counted", "2")
    person, form = town.person("dock"), town.person("inspector").answer("show")["forms"][0]["form"]
    left = f"Left out: {numbers.grouped(samples[2])} was not in the envelope."
    assert left in person.run("secure", ENVELOPE, "--how", "restricted", "--where", "laboratory")
    assert left in person.run("accept", form)
    states = {s["sample"]: (s["status"], s["condition"]) for s in person.answer("show", form)["samples"]}
    assert states == {samples[0]: ("accepted", ["intact"]), samples[1]: ("accepted", ["intact"])} | {
        samples[2]: ("missing", [])
    }


def test_a_finding_is_excepted_by_a_second_person_only(settled: Town) -> None:
    """If this fails, the inspector who forgot the outdoor control can excuse himself."""
    _, samples = settled.lot(3)
    inspector, quality = settled.person("inspector"), settled.person("quality")
    inspector.run(*OPEN)
    for sample in samples:
        collect(settled, sample, INDOOR)
    form = inspector.answer("show")["forms"][0]["form"]
    inspector.run("except", "oc-01", form, "--reason", "outdoor_impossible", code=1)
    assert "OC-01" in inspector.run("check", form, code=1)
    quality.run(
        "except", "OC-01", form, "--reason", "outdoor_impossible", "--note", "seventh floor, no window"
    )
    told = inspector.answer("check", form, code=None)

    (found,) = [f for f in told["findings"] if f["rule"] == "OC-01"]
    assert (found["severity"], "Quality Person" in found["excepted"]) == ("warn", True)


def test_a_correction_keeps_both_values_and_follows_the_last_one(settled: Town) -> None:
    """If this fails, a second correction of one value is not followed, or the first value is gone."""
    lot, _ = settled.lot(1)
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    inspector.run("correct", samples[0], "--field", "run_s", "--new", "200", "--reason", "misread")
    said = inspector.run("correct", samples[0], "--field", "run_s", "--new", "210", "--reason", "typing")
    form = inspector.answer("show")["forms"][0]["form"]

    assert "run_s: 200 becomes 210" in said
    # 14.95 L/min x 3.5 min = 52.325 L, halves up to two places
    assert inspector.answer("show", form)["samples"][0]["volume_l"] == "52.33"
    said = settled.person("second").run(
        "correct", samples[0], "--field", "lot", "--new", lot, "--reason", "wrong_item"
    )
    assert f'becomes "{lot}"' in said
    assert "run_s" in inspector.run(
        "correct", samples[0], "--field", "run_s", "--new", "long", "--reason", "typing", code=2
    )


def _last_text(town: Town) -> str:
    outbox = town.person("dock").session().of("dock", as_json=False).outbox
    text = outbox.newest(3)[-1].text
    outbox.close()
    return text
