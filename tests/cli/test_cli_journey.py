"""The whole job at the keyboard: every person types their own commands against the real service."""

from __future__ import annotations

import json
import random
from pathlib import Path

from bailee.domain import numbers
from town import INDOOR, OPEN, OUTDOOR, Town, collect, to_the_clerk, verify_words


def test_every_person_does_their_part_and_the_auditor_checks_it(settled: Town, tmp_path: Path) -> None:
    """If this fails, the job cannot be done from a terminal from lot to audit."""
    town = settled
    _, samples = town.lot(3)
    inspector, clerk, dock = town.person("inspector"), town.person("clerk"), town.person("dock")
    assert "Before you start" in inspector.run(*OPEN)
    said = collect(town, samples[0], INDOOR)
    assert "expiration date 2027-03-31" in said
    # 14.95 L/min x 5 min = 74.75 L, halves up (mean flow times actual time: common practice, no source)
    assert "Volume 74.75 L" in said
    assert "No outdoor control yet" in said
    collect(town, samples[1], INDOOR)
    said = clerk.run(
        "seal",
        *samples[:2],
        "--seal",
        "C-4711",
        "--counted",
        "2",
        "--across-opening",
        "--record-enclosed",
        "--yes",
        code=1,
    )
    assert "NOT READY" in said
    assert "Nothing was signed" in said
    assert "OC-01" in said
    assert clerk.outbox() == []
    assert "No outdoor control yet" not in collect(town, samples[2], OUTDOOR)
    inspector.run("secure", "--how", "possession", "--where", "person")
    to_the_clerk(town, samples)
    envelope = numbers.issue("envelope", random.Random(3).choice)
    said = clerk.run(
        "seal", "--envelope", envelope,
        typed="\n".join([*map(numbers.grouped, samples), "", "3", "C-4711", "y", "y", "y"]) + "\n",
    )  # fmt: skip
    assert f"Envelope {numbers.grouped(envelope)}, seal C-4711: 3 samples" in said
    assert "Recorded: sealed" in said
    said = clerk.run(
        "ship",
        envelope,
        "--carrier",
        "acorn-freight",
        "--service",
        "next day",
        "--tracking",
        "AF-1002003",
        "--yes",
        "--zone",
        "America/New_York",
    )
    assert "expected receipt Wed 2026-12-02 10:30 (-06:00)" in " ".join(said.split())
    town.clock.now = town.clock.now.replace(day=2, hour=16, minute=30)
    typed = "\n".join(["sound", "C-4711", "intact", "y", *samples, "", "y", "3", "y"]) + "\n"
    said = dock.run(
        "receive",
        envelope,
        "--all-intact",
        "--delivered",
        "2026-12-02 10:30",
        "--zone",
        "America/Chicago",
        typed=typed,
    )
    before, _, after = said.partition("Number as read on the seal")
    assert "C-4711" not in before  # nobody reads a seal off the screen
    assert "Discrepancies: none." in after
    dock.run("accept", envelope, "--lab-number", f"{samples[0]}=Q-1")
    form = inspector.answer("show")["forms"][0]["form"]
    assert {s["status"] for s in dock.answer("show", form)["samples"]} == {"accepted"}
    file = tmp_path / "bundle.json"
    dock.run("bundle", form, "-o", str(file))
    trust = verify_words(town)
    report = dock.run("verify", str(file), *trust)
    assert "Records: unaltered, not cosigned" in report
    altered = json.loads(file.read_text())
    altered["entries"][-1]["entry"] = altered["entries"][-1]["entry"].replace('"n":', '"n":1', 1)
    file.write_text(json.dumps(altered))
    assert dock.answer("verify", str(file), *trust, code=1)["state"] == "broken"
