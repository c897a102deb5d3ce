"""Thresholds and calendars at the keyboard: the example, the faults, what changes, what is signed."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from bailee.domain.policy import Policy, meanings
from bailee_cli.main import bailee
from field import LAB
from town import Town


@pytest.mark.parametrize(
    "words", [("policy", "--example"), ("calendar", "lab", "--example"), ("calendar", "carrier", "--example")]
)
def test_an_example_needs_no_service_and_no_key(words: tuple[str, ...], tmp_path: Path) -> None:
    """If this fails, nobody can prepare a policy before the firm has joined a ledger."""
    answer = CliRunner().invoke(bailee, words, env={"BAILEE_HOME": str(tmp_path)})
    assert answer.exit_code == 0, answer.output
    assert answer.output.startswith("# ")


def test_the_example_set_as_it_stands_is_the_default_and_stays_it(settled: Town) -> None:
    """If this fails, the thresholds a firm read in the file are not those it is judged by."""
    root = settled.person("firm-root")
    file = settled.folder / "policy.toml"
    file.write_text(root.run("policy", "--example"))
    said = root.run("policy", str(file))
    assert "No threshold changes its value." in said
    assert f"The file states all {len(meanings())} thresholds: no default of the rule book counts" in said
    told = root.answer("policy")
    assert told["digest"] == Policy.from_data(Policy().to_data()).digest
    file.write_text(root.run("policy"))
    assert "in force already" in root.run("policy", str(file))


def test_what_changes_is_shown_before_it_is_signed(settled: Town) -> None:
    """If this fails, an administrator loosens a limit without seeing it."""
    root = settled.person("firm-root")
    file = settled.folder / "policy.toml"
    file.write_text("edition = 1\nhold_warn_h = 48\nmin_cassettes = 2\n")
    said = root.run("policy", str(file), "--check")
    assert "policy_set" not in {each["act"] for each in root.outbox()}
    (hold,) = (line for line in said.splitlines() if "hold_warn_h" in line)
    (few,) = (line for line in said.splitlines() if "min_cassettes" in line)
    assert all(word in hold for word in ("72", "48", "stricter"))
    assert "looser" in few
    assert (
        f"states 2 of {len(meanings())} thresholds; for the other {len(meanings()) - 2} the default" in said
    )
    assert root.answer("policy", str(file), "--check") == [
        {"name": "min_cassettes", "before": 3, "after": 2, "direction": "looser"},
        {"name": "hold_warn_h", "before": "72", "after": "48", "direction": "stricter"},
    ]
    assert "Recorded: policy set" in root.run("policy", str(file))
    assert root.answer("policy")["stated"] == {"edition": 1, "min_cassettes": 2, "hold_warn_h": "48"}


def test_all_faults_of_a_policy_are_told_with_their_lines(settled: Town) -> None:
    """If this fails, an administrator mends a policy one refusal at a time."""
    file = settled.folder / "policy.toml"
    file.write_text("min_casettes = 2\nhold_warn_h = soon\nmin_indoor = -1\nedition = 1\n")
    root = settled.person("firm-root")
    said = root.run("policy", str(file), code=2)
    assert all(place in said for place in ("line 1, min_casettes", "line 2", "line 3, min_indoor"))
    assert [each["at"] for each in root.answer("policy", str(file), code=2)["errors"]] == [
        "line 1, min_casettes",
        "line 2",
        "line 3, min_indoor",
    ]
    assert "policy_set" not in {each["act"] for each in root.outbox()}


def test_a_policy_can_be_signed_where_there_is_no_network(settled: Town) -> None:
    """If this fails, a laboratory cannot prepare its limits on the way."""
    file = settled.folder / "policy.toml"
    file.write_text("edition = 1\nhold_warn_h = 48\n")
    settled.line.weather = "down"
    root = settled.person("lab-root")
    root.run("policy", str(file), "--offline")
    settled.line.weather = "fine"
    root.run("send")
    assert settled.person("clerk").answer("policy", "--org", LAB)["stated"] == {
        "edition": 1,
        "hold_warn_h": "48",
    }


def test_a_policy_set_right_after_a_wrong_one_is_signed_too(settled: Town) -> None:
    """If this fails, the slip of a minute ago stays in force, and the right limits are said to be signed
    already.
    """
    root = settled.person("firm-root")
    file = settled.folder / "policy.toml"
    for hours in (24, 48):
        file.write_text(f"edition = 1\nhold_warn_h = {hours}\n")
        root.run("policy", str(file), "--offline")
    said = [each for each in root.outbox() if each["act"] == "policy_set"]
    assert len(said) == 2
    root.run("send")
    assert root.answer("policy")["policy"]["hold_warn_h"] == "48"


def test_a_carrier_s_times_come_from_its_file(settled: Town) -> None:
    """If this fails, the clerk is told a cut-off that is not the carrier's, and the envelope stays a day."""
    root = settled.person("firm-root")
    file = settled.folder / "carrier.toml"
    file.write_text(root.run("calendar", "carrier", "--example").replace('"17:00"', '"15:30"'))
    root.run("calendar", "carrier", str(file))
    shown = root.run("calendar", "carrier", "--carrier", "acorn-freight")
    assert 'cutoff = "15:30"' in shown
    asked = ("window", "--lab", LAB, "--carrier", "acorn-freight", "--zone", "America/Chicago")
    told = root.answer(*asked, "--at", "2026-12-01 15:31")
    assert told["window"]["day0"] == "2026-12-02"
    assert root.answer(*asked, "--at", "2026-12-01 15:30")["window"]["day0"] == "2026-12-01"
    assert "you entered birch" in root.run("calendar", "carrier", str(file), "--carrier", "birch", code=2)


def test_a_calendar_that_ends_soon_is_told_when_it_is_set(settled: Town) -> None:
    """If this fails, the first envelope over New Year finds out that the new year's holidays are missing."""
    root = settled.person("lab-root")
    file = settled.folder / "lab.toml"
    file.write_text(root.run("calendar", "lab", "--example").replace("[2026, 2027]", "[2026]"))
    assert "not marked as complete for 2027" in root.run("calendar", "lab", str(file))
