"""A check asked again at the keyboard: as of a moment, and as an envelope was sealed."""

from __future__ import annotations

import pytest

from town import ENVELOPE, SEAL, Town


@pytest.fixture
def changed(visited: tuple[Town, list[str]]) -> tuple[Town, str, list[str]]:
    """A sealed envelope, and a policy that was loosened an hour later; the form and the samples."""
    town, samples = visited
    root = town.person("firm-root")
    file = town.folder / "policy.toml"
    file.write_text("edition = 1\nmin_cassettes = 9\n")
    root.run("policy", str(file))
    town.clock.advance(minutes=5)
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    town.clock.advance(hours=1)
    file.write_text("edition = 1\nmin_cassettes = 1\n")
    root.run("policy", str(file))
    return town, clerk.answer("show")["forms"][0]["form"], samples


def test_a_check_of_then_is_shown_as_it_was(changed: tuple[Town, str, list[str]]) -> None:
    """If this fails, nobody can show what the screen said before the envelope was closed."""
    town, form, _ = changed
    clerk = town.person("clerk")
    now = clerk.answer("check", form)
    assert "SL-02" not in {found["rule"] for found in now["findings"]}
    at = town.clock.now.strftime("%Y-%m-%d ") + "10:02"  # New York, before the second policy
    then = clerk.answer("check", form, "--as-of", at, "--zone", "America/New_York", code=None)
    (few,) = (found for found in then["findings"] if found["rule"] == "SL-02")
    assert few["sentence"].endswith("the policy asks for at least 9.")
    assert clerk.answer("check", form, "--as-of", now["at"]) == now
    said = clerk.run("check", form, "--as-of", now["at"])
    assert said.startswith("As of 2026-12-01 ")


def test_a_moment_that_cannot_be_is_a_usage_error(changed: tuple[Town, str, list[str]]) -> None:
    """If this fails, a script with a typing slip takes the check of now for the check of then."""
    town, form, _ = changed
    clerk = town.person("clerk")
    assert "future" in clerk.run("check", form, "--as-of", "2027-01-01T00:00:00Z", code=2)
    assert "is not a time" in clerk.run("check", form, "--as-of", "last tuesday", code=2)
    clerk.run("check", form, "--as-of", "2026-11-01T00:00:00Z", code=1)  # not opened yet: not here
    clerk.run("check", form, "--as-sealed", code=2)
    clerk.run("check", ENVELOPE, "--as-sealed", "--as-of", "2026-12-01T15:00:00Z", code=2)


def test_an_envelope_is_asked_again_as_it_was_sealed(changed: tuple[Town, str, list[str]]) -> None:
    """If this fails, a later policy makes the warnings under the clerk's signature look invented."""
    town, _, _ = changed
    clerk = town.person("clerk")
    told = clerk.answer("check", ENVELOPE, "--as-sealed")
    (part,) = told["forms"]
    assert told["same"]
    assert "SL-02" in {each["rule"] for each in part["acknowledged"]}
    said = clerk.run("check", ENVELOPE, "--as-sealed")
    assert (
        f"{len(part['acknowledged'])} warnings were acknowledged, {len(part['found_again'])} are found again."
        in said
    )
    assert "the firm's thresholds: those of then" in said


def test_a_difference_is_named_and_ends_with_one(changed: tuple[Town, str, list[str]]) -> None:
    """If this fails, a replay that does not agree goes by as if it did."""
    town, form, samples = changed
    clerk = town.person("clerk")
    told = clerk.answer("check", ENVELOPE, "--as-sealed")
    told["same"] = told["forms"][0]["same"] = told["forms"][0]["policy_same"] = False
    told["forms"][0]["acknowledged"] = [{"rule": "PV-04", "about": samples[0]}]
    town.line.says[f"GET /envelopes/{ENVELOPE}/sealing"] = told
    said = clerk.run("check", ENVELOPE, "--as-sealed", code=1)
    assert "acknowledged then, not found now: PV-04" in said
    assert "found now, not acknowledged then: SL-02" in said
    assert "the firm's thresholds: not those that the seal names" in said
    assert form
