"""A tidy visit of three cassettes, typed from the first key to the last: nothing to acknowledge.

People who are warned without a reason stop reading warnings (common practice, no source).
"""

from __future__ import annotations

from typing import Final

import pytest

from field import FIRM, LAB
from town import ENVELOPE, INDOOR, INTACT, OUTDOOR, Town, collect, dock, to_the_clerk

_READINGS: Final = ("--flow-before", "15.0", "--flow-after", "14.9")


@pytest.mark.parametrize("checked_once", [False, True], ids=["flow of each run", "pump checked that day"])
def test_a_tidy_visit_has_nothing_to_acknowledge(settled: Town, checked_once: bool) -> None:
    """Everything was done and stated, and the clerk still presses Enter over a list of warnings."""
    root, inspector, clerk = settled.person("firm-root"), settled.person("inspector"), settled.person("clerk")
    kid = inspector.answer("key", "show")["kid"]
    root.run("train", kid, "--on", "2026-01-12")
    root.run("equipment", "meter", "M-3", "--certified", "2026-06-15")
    root.run("licensing", "US-NY")
    _, samples = settled.lot(3, expiry="2027-11")
    inspector.run(
        "open", "--lab", LAB, "--zone", "America/New_York", "--client", "Perpetua Example", "--site",
        "12 Invented Lane", "--question", "musty odor", "--plan", "SOP-4", "--method", "ASTM D7788",
        "--analysis", "spore count", "--turnaround", "2 days", "--ventilation", "normal",
        "--windows-closed-h", "26", "--purifiers-off-h", "26", "--fresh-air", "none", "--cleaned-h-ago", "48",
        "--jurisdiction", "US-NY", "--license", "L-7", "--license-valid-to", "2027-06-30",
        "--no-remediator", "--no-visible-growth", "--cassettes", "4", "--indoor", "2",
    )  # fmt: skip
    reference = tuple({"complaint": "reference", "bedroom": "living"}.get(word, word) for word in INDOOR)
    check = ("check-pump", "P-7", "--meter", "M-3", "--through-cassette", "--flow")
    if checked_once:
        inspector.run(*check, "15.0", "--when", "before", "--timer", "5:00", "--watch", "5:00")
    for sample, what in zip(samples, (INDOOR, reference, OUTDOOR), strict=True):
        run = [word for word in what if word not in _READINGS] if checked_once else what
        collect(settled, sample, (*run, "--label-on", "body", "--label-prints", "1"))
    if checked_once:
        inspector.run(*check, "14.6", "--when", "after")
    air = ("read-conditions", "--temperature-c", "21", "--humidity-pct", "45", "--where")
    inspector.run(*air, "indoors")
    inspector.run(*air, "outdoors", "--rain-ended-h", "30")
    form = inspector.answer("show")["forms"][0]["form"]
    inspector.run("secure", "--how", "locked", "--where", "vehicle")
    settled.clock.advance(minutes=30)
    to_the_clerk(settled, samples)
    clerk.run("secure", *samples, "--how", "restricted", "--where", "office")
    for person in (inspector, clerk):
        told = person.answer("check", form)["findings"]
        assert told == []
    settled.clock.advance(minutes=30)
    said = clerk.run(
        "seal", *samples, "--envelope", ENVELOPE, "--counted", "3", "--seal", "C-4711", "--across-opening",
        "--record-enclosed", "--yes",
    )  # fmt: skip
    assert "READY: no findings." in said
    assert "acknowledged by signing" not in said
    shipped = clerk.run(
        "ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1",
        "--classified", "not_regulated", "--yes",
    )  # fmt: skip
    assert "warning" not in shipped
    settled.clock.advance(days=1)
    dock(
        settled, *INTACT, "--counted", "3", "--temperature", "18",
        *samples,
    )  # fmt: skip
    settled.person("dock").run("accept", *samples)
    told = clerk.answer("show", form)
    assert told["findings"] == []
    assert [each["state"] for each in told["verdicts"]] == ["own log", *["no fault found"] * 3]
    assert FIRM in clerk.run("show", form)
