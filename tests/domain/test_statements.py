"""Every act: what it needs, what is wrong with it, and what nobody minds."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import pytest

from bailee.domain import numbers, statements
from bailee.domain.acts.form import Collected, Decision, Dock, Opened, Received, Sealed
from bailee.domain.acts.row import ChainKind
from bailee.domain.acts.table import ON_CHAIN, OPENING, ROWS
from bailee.domain.moments import Moment
from bailee.errors import NOT_KNOWN, BadStatement


def number(kind: numbers.Kind, body: str) -> str:
    """A number with this body, which must have a readable check character."""
    whole = numbers.LETTERS[kind] + body
    return numbers.read(whole + numbers.check_character(whole), kind)


S1, S2 = number("sample", "7K3M9Q2XF4"), number("sample", "7K3M9Q2XF5")
FORM, LOT = number("form", "7K3M9Q2XF0"), number("lot", "7K3M9Q2XF3")
ENVELOPE = number("envelope", "7K3M9Q2XF1")
AT = "2026-12-01T09:12:00-05:00"
DIGEST = "A" * 43
JWK = {"crv": "Ed25519", "kty": "OKP", "x": DIGEST}
PREPARED = {
    "windows_closed_h": None,
    "purifiers_off_h": "24",
    "ventilation": "normal",
    "cleaned_h_ago": "0.5",
}
DOCK = {"envelope": ENVELOPE, "seal": None, "seal_state": "missing", "package": ["torn"], "total": 0}
DECISION = {"samples": [S1], "at": AT}

# One valid example of each act with nothing in it that could be left out.
LEAST: Mapping[str, Mapping[str, Any]] = {
    "opened": {
        "edition": 1,
        "parties": {"firm": "harrow-field", "lab": "quill-lab"},
        "visit": "2026-12-01",
        "zone": "America/New_York",
    },
    "collected": {"sample": S1, "lot": LOT, "kind": "indoor", "started": AT, "run_s": 300, "covers_on": True},
    "pump_checked": {
        "pump": "PUMP-1",
        "meter": "METER-1",
        "at": AT,
        "flow": "15.0",
        "when": "before",
        "through_cassette": True,
    },
    "outdoor_ruled_out": {"at": AT, "reason": "storm"},
    "surface_collected": {"sample": S1, "medium": "tape", "at": AT},
    "building_changed": {"at": AT, "what": "windows", "now": "open"},
    "stored": {"samples": [S1], "store": "FR-1", "secured": "locked", "at": AT},
    "withdrawn": {"samples": [S1], "store": "FR-1", "purpose": "analysis", "at": AT},
    "requested": {"due": "2026-12-07"},
    "lab_numbered": {"numbers": {S1: "26-10412"}, "at": AT},
    "conditions_read": {"at": AT, "where": "indoors", "temperature_c": "21.0"},
    "held": {"secured": "locked", "where": "vehicle", "since": AT},
    "relinquished": {"samples": [S1], "to": "quill-lab", "at": AT},
    "received": {"items": [{"sample": S1, "condition": ["intact"]}], "at": AT},
    "sealed": {
        "envelope": ENVELOPE,
        "seal": "A-17",
        "samples": [S1],
        "count": 1,
        "total": 1,
        "forms": [FORM],
        "at": AT,
        "across_opening": True,
        "record_enclosed": False,
    },
    "taken_in": {
        "envelope": ENVELOPE,
        "seal": None,
        "seal_state": "not_looked_at",
        "package": ["sound"],
        "where": "laboratory",
        "secured": "locked",
        "at": AT,
    },
    "unsealed": {"envelope": ENVELOPE, "seal": "? unreadable", "reason": "damage", "at": AT},
    "shipped": {
        "envelope": ENVELOPE,
        "carrier": "acorn-freight",
        "service": "next-day",
        "service_days": 1,
        "handed_over": AT,
    },
    "accepted": DECISION,
    "on_hold": DECISION,
    "rejected": DECISION,
    "voided": {"sample": S1, "reason": "dropped"},
    "corrected": {"statement": DIGEST, "field": "height_m", "old": None, "new": "1.5", "reason": "left_out"},
    "excepted": {"rule": "OC-01", "about": FORM, "reason": "outdoor_impossible"},
    "affirmed": {"statements": [DIGEST]},
    "witnessed": {"statements": [DIGEST]},
    "erased": {"statement": DIGEST, "count": 1},
    "lot_erased": {"statement": DIGEST, "count": 1},
    "person_erased": {"statement": DIGEST, "count": 1},
    "retention_held": {"reason": "dispute"},
    "retention_released": {"reason": "settled"},
    "copied": {"of": "record", "version": 1, "entries": 1},
    "notified": {"of": "recall", "about": S1, "to": "client", "how": "telephone", "at": AT},
    "disposed": {"samples": [S1], "how": "archived", "at": AT},
    "forwarded": {
        "items": [{"sample": S1, "child": S2, "item": "slide", "condition": ["stained"]}],
        "to": "third-lab",
        "purpose": "analysis",
        "at": AT,
    },
    "lot_received": {
        "maker_lot": "ML 7/26",
        "cassette": "slit",
        "expiry": None,
        "count": 0,
        "nominal_flow": "15",
    },
    "issued": {"samples": [S1]},
    "recalled": {"reason": "maker"},
    "released": {"reason": "mistake"},
    "counted": {"remaining": 0},
    "expiry_corrected": {"old": None, "new": "2027-03", "reason": "left_out"},
    "founded": {"name": "Harrow Field (example)", "jwk": JWK},
    "enrolled": {"kid": DIGEST, "jwk": JWK, "role": "inspector", "proof": "a.b.c"},
    "revoked": {"kid": DIGEST, "reason": "lost", "since": AT, "last_good_seq": 0},
    "rotated": {"kid": DIGEST, "jwk": JWK, "proof": "a.b.c", "last_seq": 0},
    "recovered": {"recovery_jwk": JWK, "kid": DIGEST, "jwk": JWK, "proof": "a.b.c", "since": AT},
    "endorsed": {"org": "quill-lab", "root": DIGEST},
    "policy_set": {"policy": {"edition": 1}},
    "calendar_set": {"which": "lab", "calendar": {}},
    "equipment_set": {"kind": "meter", "id": "METER-1"},
    "trained": {"kid": DIGEST, "on": "2026-01-05"},
    "licensing_set": {"jurisdictions": []},
}
CHAINS = {"form": f"form/{FORM}", "lot": f"lot/{LOT}", "org": "org/harrow-field"}
EVERY_ACT = [(kind, act) for kind, acts in ON_CHAIN.items() for act in acts]


def parsed(act: str, **changes: Any) -> Any:
    """The act's least example with members replaced; `...` leaves one out."""
    kind = next(kind for kind, acts in ON_CHAIN.items() if act in acts)
    data = {name: value for name, value in {**LEAST[act], **changes}.items() if value is not ...}
    return statements.parse(CHAINS[kind], act, data)


def faults(act: str, **changes: Any) -> dict[str, str]:
    """Where and why the changed act is refused."""
    with pytest.raises(BadStatement) as refusal:
        parsed(act, **changes)
    return {fault["at"]: fault["says"] for fault in refusal.value.facts["errors"]}


def test_every_act_has_an_example_here_and_a_role() -> None:
    """A new act would go out untested, or nobody could say it."""
    acts = {act for _, act in EVERY_ACT}
    table = "service/bailee/domain/acts/table.py:"
    least = "tests/domain/test_statements.py: LEAST:"
    assert set(LEAST) == acts, (
        f"{least} write in the least data of {acts - set(LEAST)}, take out {set(LEAST) - acts}"
    )
    assert len(acts) == len(EVERY_ACT), f"{table} two rows have one name"
    assert set(ROWS) == acts
    for row in ROWS.values():
        assert row.may, f"{table} write into the row {row.name!r} which roles may say it"
        assert row.chain == "form" or not row.physical, (
            f"{table} {row.name!r} is not on a form, so take away `physical`"
        )
    for kind, rows in ON_CHAIN.items():
        first = [row.name for row in rows.values() if row.opens]
        assert len(first) == 1, f"{table} one act opens a chain of kind {kind!r}, not {first}"


@pytest.mark.parametrize(("kind", "act"), EVERY_ACT)
def test_the_least_example_is_enough_and_all_of_it_is_needed(kind: str, act: str) -> None:
    """A person would be asked for more than the act needs, or an act be recorded without its point."""
    assert isinstance(parsed(act), ON_CHAIN[kind][act].facts)  # type: ignore[index]
    for name in LEAST[act]:
        told = faults(act, **{name: ...})
        assert f"/data/{name}" in told or "/data" in told  # alone, or one of several


@pytest.mark.parametrize(("kind", "act"), EVERY_ACT)
def test_a_whole_draft_means_what_the_statement_will(kind: ChainKind, act: str) -> None:
    """What is judged before signing would not be what is signed."""
    drafted = statements.draft(kind, act, LEAST[act], "harrow-field", DIGEST)
    assert drafted.body == parsed(act)
    assert (drafted.act, drafted.org, drafted.kid, drafted.data) == (act, "harrow-field", DIGEST, LEAST[act])
    assert all(drafted.known(name) == getattr(drafted.body, name) for name in drafted.body.later)
    so_far = {name: value for name, value in LEAST[act].items() if name not in drafted.body.later}
    lacking = statements.draft(kind, act, so_far, "harrow-field", DIGEST)
    assert all(lacking.known(name) is None for name in lacking.body.later)


@pytest.mark.parametrize(("kind", "act"), EVERY_ACT)
def test_members_we_do_not_know_are_said_to_be_unknown(kind: str, act: str) -> None:
    """What a newer phone said would be passed over in silence, and the rest judged as if it were all."""
    with pytest.raises(BadStatement) as refusal:
        parsed(act, weather_station="W-9", nested={"deep": [1]})
    assert refusal.value.code == NOT_KNOWN
    assert [fault["at"] for fault in refusal.value.facts["errors"]] == [
        "/data/weather_station",
        "/data/nested",
    ]


@pytest.mark.parametrize(("kind", "act"), EVERY_ACT)
def test_an_act_happens_on_its_own_kind_of_chain_only(kind: str, act: str) -> None:
    """A recall could be written onto a form, where nobody looks for it."""
    for other, chain in CHAINS.items():
        if other != kind:
            with pytest.raises(BadStatement) as refusal:
                statements.parse(chain, act, LEAST[act])
            assert refusal.value.facts["errors"][0]["at"] == "/act"
            assert OPENING[other].name in refusal.value.sentence  # type: ignore[index]


def test_all_faults_are_told_at_once() -> None:
    """A person in a crawl space would mend one fault, send, and learn of the next."""
    found = faults("collected", sample="S7K3", lot=..., run_s=-1, covers_on="yes", height_m=1.5, kind="attic")
    assert set(found) == {
        "/data/sample", "/data/lot", "/data/run_s", "/data/covers_on", "/data/height_m", "/data/kind",
    }  # fmt: skip


def test_the_sentence_names_the_fault_as_the_label_reader_does() -> None:
    """The person would read `invalid` instead of which character to look at."""
    swapped = S1[:-2] + S1[-1] + S1[-2]
    found = faults("collected", sample=swapped)["/data/sample"]
    assert found.startswith(f"{numbers.grouped(swapped)} has a wrong check character")
    assert "Value error" not in found
    assert "is a lot number, and a sample number is needed" in faults("voided", sample=LOT)["/data/sample"]
    assert faults("voided", sample=S1.lower())["/data/sample"] == f"{S1.lower()!r} must be written {S1}."[:-1]


@pytest.mark.parametrize(
    "value",
    [
        15.0,
        15,
        True,
        None,
        "",
        "15,0",
        "1e1",
        "+15",
        ".5",
        "15.",
        "1" * 7,
        "0." + "1" * 7,
        "NaN",
        "¹⁵",
        "15 ",
        "-1",
        "--1",
        [],
    ],
)
def test_a_measured_value_is_exact_text(value: Any) -> None:
    """A flow of 14.85 would be stored as 14.8499999 and another volume be computed by every reader."""
    assert "/data/nominal_flow" in faults("lot_received", nominal_flow=value)


@pytest.mark.parametrize(
    ("text", "value"),
    [("0", 0), ("15", 15), ("15.00", 15), ("0.000001", "0.000001"), ("999999.999999", "999999.999999")],
)
def test_measured_values_at_the_edges(text: str, value: Any) -> None:
    """A true reading would be refused."""
    assert parsed("lot_received", nominal_flow=text).nominal_flow == Decimal(value)


@pytest.mark.parametrize(
    "value",
    [
        "2026-12-1",
        "2026-W48-3",
        "20261201",
        "2026-335",
        "2026-02-29",
        "1969-12-31",
        "2200-01-01",
        "",
        20261201,
        "2026-12",
        "2026-12-01T00:00:00Z",
    ],
)
def test_a_day_is_a_calendar_day(value: Any) -> None:
    """A week number would be read as a day by one program and refused by another."""
    assert "/data/visit" in faults("opened", visit=value)


@pytest.mark.parametrize(
    "value",
    [
        "2027-3",
        "2027-W10",
        "2027W10",
        "2027-W10-1",
        "2027-13",
        "2027-02-29",
        "2200-01",
        "1969-12",
        "03/2027",
        202703,
        "",
    ],
)
def test_an_expiry_is_a_day_or_a_month(value: Any) -> None:
    """A lot would be in date for ever because nobody can read its date."""
    assert "/data/expiry" in faults("lot_received", expiry=value)


@pytest.mark.parametrize("value", ["2027-03", "2027-03-31", "1970-01", "2199-12-31"])
def test_expiries_at_the_edges(value: str) -> None:
    """A box could not be entered as it is printed."""
    assert parsed("lot_received", expiry=value).expiry == value


@pytest.mark.parametrize(
    "value",
    [
        "2026-12-01T09:12:00",
        "2026-12-01 09:12:00-05:00",
        "2026-12-01T09:12-05:00",
        1764590400,
        "1969-12-31T23:59:59Z",
        "2200-01-01T00:00:00Z",
        "2026-12-01T25:00:00Z",
    ],
)
def test_a_time_has_an_offset_and_a_sane_year(value: Any) -> None:
    """A time would be guessed from the machine's zone, or stop every later reckoning."""
    assert "/data/started" in faults("collected", started=value)


@pytest.mark.parametrize(
    "value", ["1970-01-01T00:00:00Z", "2199-12-31T23:59:59Z", "2199-12-31T23:59:59.999-12:00"]
)
def test_a_clock_that_lost_its_battery_is_recorded(value: str) -> None:
    """A true cassette would be refused because of the phone's clock."""
    if value.endswith("-12:00"):  # the instant is in 2200
        assert "/data/started" in faults("collected", started=value)
    else:
        assert parsed("collected", started=value).started == Moment.parse(value)


@pytest.mark.parametrize(
    ("act", "member", "value"),
    [
        ("collected", "run_s", 86_401),
        ("collected", "run_s", 300.0),
        ("collected", "run_s", "300"),
        ("collected", "run_s", True),
        ("collected", "near", ["moon"]),
        ("collected", "near", "fan"),
        ("collected", "pump", ""),
        ("collected", "pump", " P1"),
        ("collected", "pump", "P" * 61),
        ("collected", "pump", "P1\n"),
        ("collected", "point", "Frau Müller"),
        ("collected", "duplicate_of", LOT),
        ("opened", "zone", "EST"),
        ("opened", "zone", "Mars/Olympus"),
        ("opened", "parties", {"firm": "A", "lab": "b"}),
        ("opened", "preparation", {**PREPARED, "ventilation": "maybe"}),
        ("held", "samples", []),
        ("held", "samples", [S1, S1]),
        ("held", "secured", "somehow"),
        ("relinquished", "samples", [S1, S2, S1]),
        ("relinquished", "to_kid", "A" * 42),
        ("relinquished", "count", -1),
        ("received", "items", []),
        ("received", "items", [{"sample": S1, "condition": []}]),
        ("received", "items", [{"sample": S1}]),
        ("received", "items", [{"sample": S1, "condition": ["intact", "not_looked_at"]}]),
        ("received", "dock", {**DOCK, "package": ["not_looked_at", "wet"]}),
        ("received", "dock", {**DOCK, "package": []}),
        (
            "received",
            "items",
            [{"sample": S1, "condition": ["intact"]}, {"sample": S1, "condition": ["wet"]}],
        ),
        ("received", "dock", {**DOCK, "seal": ""}),
        ("received", "dock", {**DOCK, "seal": "x" * 41}),
        ("sealed", "seal", "a-17"),
        ("sealed", "seal", S1),
        ("sealed", "seal", None),
        ("sealed", "forms", [FORM, FORM]),
        ("sealed", "forms", []),
        ("sealed", "samples", []),
        ("sealed", "findings", [{"rule": "OC-1", "about": "x"}]),
        ("sealed", "findings", [{"rule": "OC-٠١", "about": "x"}]),
        ("shipped", "service_days", 31),
        ("accepted", "lab_numbers", {"x": "Q-1"}),
        ("accepted", "reasons", ["mood"]),
        ("corrected", "field", "a..b"),
        ("corrected", "field", "a.b.c.d.e"),
        ("corrected", "field", "Height"),
        ("corrected", "field", "a\n"),
        ("excepted", "rule", "oc-01"),
        ("affirmed", "statements", []),
        ("issued", "samples", [S1, S1]),
        ("issued", "samples", []),
        ("counted", "remaining", 100_001),
        ("founded", "jwk", {**JWK, "crv": "P-256"}),
        ("founded", "name", ""),
        ("enrolled", "role", "boss"),
        ("collected", "pressure_hpa", "0"),
        ("collected", "temperature_c", "-90.1"),
        ("collected", "photo", {"sha-256": DIGEST}),
        ("collected", "photo", {"sha-256": DIGEST, "size": 0, "type": "image/jpeg"}),
        ("collected", "photo", {"sha-256": DIGEST, "size": 1, "type": "text/html"}),
        ("collected", "serves", "B"),
        ("opened", "license", {"number": "L-1"}),
        ("opened", "kit", {"cassettes": 5}),
        ("lot_received", "warmest_c", "91"),
        ("expiry_corrected", "new", None),
        ("equipment_set", "kind", "ladder"),
        ("licensing_set", "jurisdictions", ["Müller"]),
        ("enrolled", "proof", "x" * 1025),
        ("revoked", "last_good_seq", -1),
        ("policy_set", "policy", []),
    ],
)
def test_a_fact_that_cannot_be_is_refused(act: str, member: str, value: Any) -> None:
    """Something that means nothing would be signed, and everybody would read it as he likes."""
    assert any(at == "/data" or at.startswith(f"/data/{member}") for at in faults(act, **{member: value}))


@pytest.mark.parametrize(
    ("act", "changes"),
    [
        ("collected", {"run_s": 0}),
        ("collected", {"run_s": 86_400}),
        ("collected", {"kind": "blank", "run_s": 0}),
        ("collected", {"lot": LOT, "covers_on": False}),
        ("held", {"samples": [S1, S2]}),
        ("opened", {"parties": {"firm": "quill-lab", "lab": "quill-lab"}, "preparation": PREPARED}),
        ("received", {"items": [], "dock": DOCK, "count": 0}),
        ("received", {"count": 99_999}),
        ("received", {"dock": {**DOCK, "seal": "torn, reads ?7", "extra": ["S7K3", "X9"]}}),
        ("sealed", {"count": 5, "total": 2}),
        ("corrected", {"field": "weather.b.c.d", "old": {"x": [1]}, "new": None}),
        ("unsealed", {"seal": "x" * 40}),
        ("accepted", {"lab_numbers": {S1: "Q-1"}, "qualified": True}),
        ("shipped", {"by_hand": True, "service_days": 0}),
        ("collected", {"temperature_c": "-12.5", "pressure_hpa": "839.9", "flow_corrected": True}),
        ("collected", {"photo": {"sha-256": DIGEST, "size": 1, "type": "image/jpeg"}, "label_prints": 3}),
        ("lot_received", {"coldest_c": "-18", "warmest_c": "41.5"}),
        ("expiry_corrected", {"old": "2026-03-31"}),
    ],
)
def test_true_bad_facts_can_be_said(act: str, changes: dict[str, Any]) -> None:
    """A wrong count, a torn seal or covers left off could not be recorded, and would be hidden instead."""
    assert parsed(act, **changes)


@pytest.mark.parametrize("value", ["T1700", "24:00", "5:00", "17:60", "17.00", "17:00:00", "١٧:٠٠", 17, ""])
def test_a_time_of_day_is_hours_and_minutes(value: Any) -> None:
    """A carrier's latest pick-up would be read differently by two programs."""
    assert "/data/cutoff" in faults("calendar_set", cutoff=value)
    assert parsed("calendar_set", cutoff="23:59", delivery="00:00").cutoff.isoformat() == "23:59:00"


@pytest.mark.parametrize(
    "air", [{"run_s": 300}, {"flow_before": "15"}, {"flow_after": "0"}, {"volume_l": "75.0"}]
)
def test_a_field_blank_draws_no_air(air: dict[str, Any]) -> None:
    """A used cassette would be reported as a clean blank (BD-02, common practice, no source)."""
    found = faults("collected", **{"kind": "blank", "run_s": 0, **air})
    assert found["/data"].startswith("a field blank draws no air")


def test_a_blank_without_air_is_a_blank_whatever_it_says_of_nothing() -> None:
    """A true blank could not be recorded because a foreign program wrote its volume as zero."""
    assert parsed("collected", kind="blank", run_s=0, volume_l="0").volume_l is None


@pytest.mark.parametrize(
    ("flow", "run_s", "typed", "agrees"),
    [
        # Volume = mean flow x time (arithmetic; domain catalog 4.1), tolerance 0.1 L.
        ("15.0", 300, "75.0", True),
        ("15.0", 300, "75.1", True),
        ("15.0", 300, "74.9", True),
        ("15.0", 300, "75.11", False),
        ("15.0", 300, "74.89", False),
        # the battery died at 3 min 20 s: 50.0 L (domain catalog 8, scenario 13)
        ("15.0", 200, "75.0", False),
        ("15.0", 200, "50.0", True),
        ("15.0", 300, "0", False),
        (None, 300, "75.0", False),
        (None, 300, "0", True),
    ],
)
def test_a_typed_volume_must_be_the_one_that_follows(
    flow: str | None, run_s: int, typed: str, agrees: bool
) -> None:
    """`75` is written on every line whatever the pump did, and every concentration is wrong (PV-01)."""
    said = {"run_s": run_s, "flow_before": flow, "flow_after": flow, "volume_l": typed}
    if agrees:
        drawn = parsed("collected", **said).volume_l
        assert drawn is None or abs(drawn - Decimal(typed)) <= Decimal("0.1")
    else:
        assert f"{typed} L" in faults("collected", **said)["/data"]
        assert "PV-01" in faults("collected", **said)["/data"]


@pytest.mark.parametrize(
    ("stopped", "run_s", "possible"),
    [
        ("2026-12-01T09:17:00-05:00", 300, True),
        ("2026-12-01T08:17:00-06:00", 300, True),  # the same instant, read from another clock
        ("2026-12-01T09:16:59-05:00", 300, True),  # both scans cut to whole seconds
        ("2026-12-01T09:16:58-05:00", 300, False),
        ("2026-12-01T09:15:20-05:00", 300, False),  # 3 min 20 s (domain catalog 8, scenario 13)
        ("2026-12-01T09:15:20-05:00", 200, True),
        ("2026-12-01T09:40:00-05:00", 300, True),  # scanned late
    ],
)
def test_a_pump_cannot_run_longer_than_between_its_scans(stopped: str, run_s: int, possible: bool) -> None:
    """Five minutes would stand in the record of a pump that stopped after three (PV-09, derived)."""
    if possible:
        assert parsed("collected", stopped=stopped, run_s=run_s).run_s == run_s
    else:
        assert f"the run is {run_s} s" in faults("collected", stopped=stopped, run_s=run_s)["/data"]


def test_meaning_is_typed() -> None:
    """Rules would compare text with numbers."""
    body = parsed("collected", height_m="1.50", near=["fan"], flow_before="15.0")
    assert isinstance(body, Collected)
    assert body.started == Moment.parse(AT)
    assert body.started.offset_minutes == -300
    assert (body.height_m, body.near, body.entered) == (Decimal("1.50"), ["fan"], "scan")
    assert isinstance(parsed("opened"), Opened)
    assert isinstance(parsed("sealed"), Sealed)
    assert isinstance(parsed("on_hold"), Decision)
    received = parsed("received", dock=DOCK)
    assert isinstance(received, Received)
    assert isinstance(received.dock, Dock)


@pytest.mark.parametrize(
    "chain",
    [
        "",
        "form",
        "form/",
        "form/S7K3M9Q2XF4Z",
        f"form/{FORM.lower()}",
        f"form/{FORM[:-1]}",
        f"lot/{FORM}",
        f"Form/{FORM}",
        "org/",
        "org/Harrow",
        "org/a b",
        "org/../x",
        "org/" + "a" * 33,
        "sample/x",
        f"form/{FORM}/x",
        f"form/{FORM} ",
    ],
)
def test_a_chain_has_one_right_name(chain: str) -> None:
    """A mistyped form number would begin a chain that nobody can find again."""
    with pytest.raises(BadStatement) as refusal:
        statements.split_chain(chain)
    assert refusal.value.facts["errors"][0]["at"] == "/sub"


@pytest.mark.parametrize(("kind", "chain"), CHAINS.items())
def test_right_chain_names(kind: str, chain: str) -> None:
    """A good form number would be refused."""
    assert statements.split_chain(chain) == (kind, chain.partition("/")[2])
