"""An organization's thresholds."""

import base64
import hashlib
import json
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from bailee.domain.policy import Policy
from bailee.errors import NOT_KNOWN, BadFacts


def test_defaults_are_those_of_the_catalog() -> None:
    """A firm that set nothing would be judged by thresholds nobody has read."""
    policy = Policy()  # common practice, no source, unless named
    assert (policy.min_cassettes, policy.min_indoor, policy.min_outdoor) == (3, 2, 1)
    assert policy.outdoor_gap_min == 120
    assert policy.outdoor_distance_m == 10 * Decimal("0.3048")  # ten international feet
    assert (policy.height_min_m, policy.height_max_m) == (3 * Decimal("0.3048"), 6 * Decimal("0.3048"))
    assert (policy.flow_tolerance_pct, policy.drift_warn_pct, policy.drift_block_pct) == (
        Decimal(5),
        Decimal(5),
        Decimal(10),
    )
    assert (policy.hand_over_warn_min, policy.hand_over_break_min) == (15, 60)
    assert (policy.clock_warn_s, policy.clock_flag_s, policy.late_note_min) == (120, 900, 30)
    assert (policy.receipt_lag_h, policy.hold_warn_h, policy.hold_block_h) == (
        Decimal(4),
        Decimal(72),
        Decimal(168),
    )


def test_what_is_signed_is_what_is_read() -> None:
    """The check could not be replayed years later with the same thresholds."""
    policy = Policy.from_data(
        {"edition": 1, "flow_tolerance_pct": "4.50", "outdoor_gap_min": 90, "same_lot_wanted": False}
    )
    assert policy.flow_tolerance_pct == Decimal("4.5")
    assert Policy.from_data(policy.to_data()) == policy
    assert json.loads(json.dumps(policy.to_data())) == policy.to_data()
    assert Policy.from_data({"edition": 1}) == Policy()
    assert policy.stated == {
        "edition": 1, "flow_tolerance_pct": "4.50", "outdoor_gap_min": 90, "same_lot_wanted": False,
    }  # fmt: skip


def test_every_threshold_travels_as_text_or_whole_number() -> None:
    """A threshold would be signed as a float, which strict JSON refuses."""
    for value in Policy().to_data().values():
        assert type(value) in (str, int, bool)


def test_the_digest_is_over_what_was_signed() -> None:
    """A threshold that comes with a later edition would change the name of every policy ever signed."""
    signed = {"edition": 1, "min_indoor": 3, "hold_warn_h": "48.0", "min_outdoor": 1}
    text = json.dumps(signed, sort_keys=True, separators=(",", ":")).encode()
    expected = base64.urlsafe_b64encode(hashlib.sha256(text).digest()).rstrip(b"=").decode()
    assert Policy.from_data(signed).digest == expected
    assert len(expected) == 43
    digests = {Policy.from_data({"edition": 1, "min_indoor": each}).digest for each in range(5)}
    assert len(digests) == 5
    assert Policy.of().digest == Policy.from_data({"edition": 1}).digest not in digests


def test_one_number_has_one_digest() -> None:
    """Two spellings of one limit would be two policies, and a seal would not fit the one it was judged by."""
    with pytest.raises(BadFacts, match="write 48, without zeros before it"):
        Policy.from_data({"edition": 1, "hold_warn_h": "048"})


def test_a_policy_without_an_edition_is_refused() -> None:
    """Nobody could say which defaults its signer had in mind."""
    with pytest.raises(BadFacts, match="edition: is missing: write 1"):
        Policy.from_data({"min_indoor": 3})


@pytest.mark.parametrize(
    ("data", "code"),
    [
        ({"edition": 2}, NOT_KNOWN),
        ({"edition": 2, "samples_per_room": 4}, NOT_KNOWN),
        ({"edition": 0}, "bad-facts"),
        ({"edition": "1"}, "bad-facts"),
        ({"edition": True}, "bad-facts"),
    ],
)
def test_a_policy_of_a_later_edition_is_said_to_be_unknown(data: dict[str, Any], code: str) -> None:
    """An older program would judge by defaults that the firm never had."""
    with pytest.raises(BadFacts) as refusal:
        Policy.from_data(data)
    assert refusal.value.code == code


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("min_casettes", 3),
        ("flow_tolerance_pct", 5),
        ("flow_tolerance_pct", 5.0),
        ("flow_tolerance_pct", "-1"),
        ("flow_tolerance_pct", "²"),
        ("flow_tolerance_pct", "1e3"),
        ("flow_tolerance_pct", "."),
        ("flow_tolerance_pct", "NaN"),
        ("flow_tolerance_pct", ""),
        ("flow_tolerance_pct", "1" * 400),
        ("flow_tolerance_pct", None),
        ("flow_tolerance_pct", True),
        ("outdoor_gap_min", "120"),
        ("outdoor_gap_min", -1),
        ("outdoor_gap_min", True),
        ("outdoor_gap_min", 2**53 - 1),
        ("outdoor_gap_min", None),
        ("outdoor_gap_block", 1),
        ("outdoor_gap_block", "yes"),
        ("digest", "x"),
    ],
)
def test_a_threshold_that_cannot_be_is_refused_by_name(name: str, value: Any) -> None:
    """A mistyped threshold would be ignored, and the firm believe it is being checked."""
    with pytest.raises(BadFacts) as refusal:
        Policy.from_data({"edition": 1, name: value})
    assert [fault["at"] for fault in refusal.value.facts["errors"]] == [f"/{name}"]
    assert name in refusal.value.sentence
    assert "Value error" not in refusal.value.sentence


def test_all_bad_thresholds_are_named_at_once() -> None:
    """An administrator would learn of one mistake per attempt."""
    with pytest.raises(BadFacts) as refusal:
        Policy.from_data({"edition": 1, "min_indoor": -1, "hold_warn_h": 72, "unknown": 0})
    assert len(refusal.value.facts["errors"]) == 3


def test_the_largest_thresholds_can_be_reckoned_with() -> None:
    """One absurd threshold would crash every check of the firm."""
    policy = Policy.from_data({"edition": 1, "outdoor_gap_min": 1_000_000, "hold_warn_h": "999999.999999"})
    assert timedelta(minutes=policy.outdoor_gap_min)
    assert timedelta(hours=float(policy.hold_warn_h))
