"""A policy as people write it. Oracle of the format: Python's own TOML reader (TOML 1.0)."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from test_acceptance import POLICIES

from bailee.domain import policy_file
from bailee.domain.policy import Policy, meanings
from bailee.errors import Malformed


def test_the_example_holds_every_threshold_with_all_that_is_known_of_it() -> None:
    """If this fails, an administrator sets a number without knowing its unit, its meaning or where it comes
    from.
    """
    text = policy_file.write()
    assert list(tomllib.loads(text)) == list(Policy.keys)
    assert policy_file.read(text).to_data() == Policy().to_data()
    blocks = {block.rpartition("\n")[2].partition(" =")[0]: block for block in text.strip().split("\n\n")[1:]}
    for name, meaning in meanings().items():
        words = " ".join(line.removeprefix("# ") for line in blocks[name].splitlines()[:-1])
        assert meaning.says in words
        assert f"Rules: {meaning.rules}." in words
        assert f"Source: {meaning.source}." in words
        assert f"Default {blocks[name].rpartition(' = ')[2].strip()};" in words
    assert max(map(len, text.splitlines())) <= 110


@pytest.mark.slow
@given(POLICIES)
def test_what_is_in_force_can_be_saved_edited_and_set_again(policy: Policy) -> None:
    """If this fails, somebody who saves the thresholds in force and sets them again has changed them."""
    again = policy_file.read(policy_file.write(policy))
    assert again == policy
    assert again.stated.keys() == policy.stated.keys()
    signed = Policy.from_data(again.stated)  # what `policy_set` carries, and what the ledger reads from it
    assert (signed.digest, list(policy_file.changes(policy, signed))) == (policy.digest, [])


def test_numbers_are_read_as_they_are_written() -> None:
    """If this fails, a limit of 4.1 becomes 4.0999 on the way into the signature."""
    policy = policy_file.read(
        'edition = 1\ndrift_warn_pct = 4.1\nhold_warn_h = 48\nreceipt_lag_h = "2.50"\nmin_indoor = 3\n'
    )
    assert policy.stated == {
        "edition": 1,
        "min_indoor": 3,
        "drift_warn_pct": "4.1",
        "hold_warn_h": "48",
        "receipt_lag_h": "2.50",
    }


def test_every_fault_is_told_at_once_with_its_line() -> None:
    """If this fails, an administrator corrects one line, tries again, and is sent back for the next."""
    text = """\
# our thresholds
min_casettes = 4
hold_warn_h = "two days"
outdoor_gap_block = 1
min_indoor = 2.5

min_outdoor = -1
expiry_near_days = 2000000
edition = 1
"""
    with pytest.raises(Malformed) as refused:
        policy_file.read(text)
    assert [fault["at"] for fault in refused.value.facts["errors"]] == [
        "line 2, min_casettes",
        "line 3, hold_warn_h",
        "line 4, outdoor_gap_block",
        "line 5, min_indoor",
        "line 7, min_outdoor",
        "line 8, expiry_near_days",
    ]
    assert "did you mean min_cassettes?" in refused.value.sentence
    assert "line 4, outdoor_gap_block: write true or false" in refused.value.sentence
    assert refused.value.code == "bad-policy"


def test_a_slip_of_the_pen_does_not_hide_the_other_faults() -> None:
    """If this fails, one missing quotation mark keeps all wrong values to itself until it is found."""
    with pytest.raises(Malformed) as refused:
        policy_file.read(
            "hold_warn_h == 48\nmin_indoor = 2\nmin_indoor = 3\n[rules]\nx = 1\nmin_outdor = 1\nedition = 1\n"
        )
    assert [fault["at"] for fault in refused.value.facts["errors"]] == [
        "line 1", "line 3, min_indoor", "line 4, rules", "line 5, x", "line 6, min_outdor",
    ]  # fmt: skip


def test_what_changes_is_said_with_its_direction() -> None:
    """If this fails, somebody loosens a limit and believes it was tightened."""
    before = Policy.from_data({"edition": 1, "hold_warn_h": "72", "min_indoor": 2, "tracking_required": True})
    after = Policy.from_data({"edition": 1, "hold_warn_h": "48", "min_indoor": 1, "tracking_required": False})
    assert [
        (each.name, each.before, each.after, each.direction) for each in policy_file.changes(before, after)
    ] == [
        ("min_indoor", 2, 1, "looser"),
        ("hold_warn_h", "72", "48", "stricter"),
        ("tracking_required", True, False, "looser"),
    ]
    assert list(policy_file.changes(before, Policy.from_data({"edition": 1, "hold_warn_h": "72.0"}))) == []
