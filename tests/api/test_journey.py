"""The whole journey over HTTP: from a lot of cassettes to an accepted envelope and the auditor's file."""

from __future__ import annotations

from field import Field


def test_a_faultless_visit_from_lot_to_acceptance(field: Field) -> None:
    """If this fails, a firm and a laboratory cannot work with Bailee at all."""
    lot, samples = field.lot(3)
    form = field.open_form()
    field.collect(form, lot, samples[0])
    field.collect(form, lot, samples[1])
    told = field.get("inspector", f"/forms/{form}").get_json()
    assert any(f["rule"] == "OC-01" and f["severity"] == "block" for f in told["findings"])
    field.collect(form, lot, samples[2], "outdoor")
    field.hand_to_clerk(form, samples)
    envelope, seal = field.number("envelope"), field.number("seal")
    told = field.seal(envelope, samples, seal)
    assert told["ready"], told["findings"]
    told = field.ship(envelope)
    assert told["ready"], told["findings"]
    assert told["window"]["received"] == "2026-12-02T10:30:00-06:00"
    field.clock.now = field.clock.now.replace(day=2, hour=16, minute=30)
    field.dock(form, envelope, samples, seal)
    field.clock.advance(minutes=10)
    at = "2026-12-02T10:40:00-06:00"
    field.act("dock", f"form/{form}", "accepted", {"samples": samples, "at": at})
    told = field.get("dock", f"/forms/{form}").get_json()
    assert [f for f in told["findings"] if f["severity"] in ("block", "flag", "warn")] == []
    assert {s["status"] for s in told["samples"]} == {"accepted"}
