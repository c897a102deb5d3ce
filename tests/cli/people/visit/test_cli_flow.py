"""`bailee flow`: without a service, with one, and as a real process.

Figures: arithmetic; thresholds as in tests/rules/test_flow_told.py.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from town import Town


def test_it_works_on_a_device_that_belongs_to_nobody(town: Town) -> None:
    """Somebody learning the trade, or without a signal, reaches for a pocket calculator."""
    said = town.person("nobody").run("flow", "--before", "15.0", "--after", "14.25", "--run", "5:00")

    assert "Mean flow 14.625 L/min (0.5165 cfm), drift -5.00 %." in said
    assert "Volume 73.13 L (2.5824 cu ft) in 300 s." in said
    assert "Thresholds: the defaults" in said
    assert "No findings." in said
    assert town.line.requests == []


@pytest.mark.parametrize(
    ("before", "after", "rules", "code"),
    [
        ("15.0", "14.25", [], 0),
        ("15.0", "14.2", ["PV-03", "PV-04"], 0),
        ("15.0", "13.4", ["PV-03", "PV-05"], 1),
    ],
)
def test_the_exit_code_says_whether_a_sample_would_be_stopped(
    town: Town, before: str, after: str, rules: list[str], code: int
) -> None:
    """A script packs the cassette of a pump that lost a tenth of its flow."""
    told = town.person("nobody").answer("flow", "--before", before, "--after", after, code=code)

    assert [f["rule"] for f in told["findings"]] == rules


def test_any_part_of_the_trace_may_be_asked_for(town: Town) -> None:
    """A laboratory that reads a fifth of the trace is answered with somebody else's limit."""
    told = town.person("nobody").answer(
        "flow", "--before", "15", "--after", "15", "--fraction", "20 %", "--fraction", "1"
    )

    # 1 / (0.075 m3 x 0.2) = 66.67 fs/m3 (arithmetic)
    assert [(e["fraction"], e["reported"], e["fs_m3"]) for e in told["limits"]] == [
        ("0.2", "67", "66.67"), ("1", "13", "13.33"),
    ]  # fmt: skip


def test_a_blank_has_no_volume(town: Town) -> None:
    """A field blank gets a volume and a concentration, and looks like a clean room."""
    person = town.person("nobody")

    assert "draws no air" in person.run("flow", "--blank")
    assert "Volume" not in person.run("flow", "--blank", "--run", "5:00")
    assert person.answer("flow", "--blank")["volume_l"] is None
    person.run("flow", code=2)
    person.run("flow", "--blank", "--before", "15", code=2)


def test_a_slip_is_said_in_one_sentence(town: Town) -> None:
    """A letter typed for a figure becomes another flow; a comma is read as the point it stands for."""
    said = town.person("nobody").run("flow", "--before", "15.o", code=2)

    assert said == "'15.o' is not a flow: write L/min, like 14.8.\n"
    assert "drift +0.00 %" in town.person("nobody").run("flow", "--before", "15,0", "--after", "15.0")


def test_the_firm_s_thresholds_are_used_and_remembered(settled: Town) -> None:
    """In the basement the phone judges by other limits than the office."""
    policy = settled.folder / "policy.toml"
    policy.write_text('edition = 1\ndrift_block_pct = "4"\n')
    settled.person("firm-root").run("policy", str(policy))
    inspector = settled.person("inspector")
    run = ("flow", "--before", "15.0", "--after", "14.25")

    assert inspector.answer(*run, "--offline")["thresholds"].startswith("the defaults")
    assert inspector.answer(*run, code=1)["thresholds"] == "those of harrow-field"
    settled.line.weather = "down"
    told = inspector.answer(*run, code=1)
    assert told["thresholds"] == "those of harrow-field, as last seen on 2026-12-01"
    assert [f["rule"] for f in told["findings"]] == ["PV-05"]
    (inspector.folder / "thresholds.json").write_text("{")
    assert inspector.answer(*run)["thresholds"].startswith("the defaults")


def test_as_a_program_it_needs_no_home_and_no_network(tmp_path: Path) -> None:
    """The console script fails on a fresh laptop before anybody has joined."""
    environment = {
        name: value for name, value in os.environ.items() if name not in ("BAILEE_AS", "BAILEE_HOME")
    }
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "bailee_cli.main",
            "--json",
            "flow",
            "--before",
            "15.0",
            "--after",
            "15.0",
            "--run",
            "3:20",
        ],
        capture_output=True,
        text=True,
        check=True,
        env={**environment, "BAILEE_HOME": str(tmp_path / "home")},
    )

    # 15 L/min for 200 s are 50 L; one structure in 0.05 m3 is 20 fs/m3 (arithmetic)
    assert json.loads(done.stdout)["volume_l"] == "50.00"
    assert json.loads(done.stdout)["limits"][0]["fs_m3"] == "20.00"
    assert not (tmp_path / "home").exists()
