"""Two policies over one form.

Oracle of the direction: a finding of one policy must stay a finding under the stricter one.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.domain.joint_policy import stricter, together
from bailee.domain.policy import Meaning, Policy, is_stricter, meanings

NAMES = list(meanings())
# Read off the sentence of each threshold by hand, not off its declaration: which way asks more of the people
# in the field.
HIGHER = {
    "min_cassettes",
    "min_indoor",
    "min_outdoor",
    "outdoor_distance_m",
    "height_min_m",
    "rain_h",
    "preparation_h",
    "expiry_near_days",
    "media_storage_min_c",
    "undisturbed_h",
    "notice_h",
    "spare_cassettes",
    "min_reference",
    "draft_distance_m",
    "walk_s",
    "volume_min_l",
    "cavity_volume_min_l",
    "min_blanks",
    "consecutive_h",
    "transit_low_c",
    "keep_working_days",
}
SWITCHES = {
    "outdoor_gap_block",
    "same_lot_wanted",
    "tracking_required",
    "record_enclosed_required",
    "serial_required",
    "license_block",
    "picture_wanted",
    "flow_required",
    "meter_certificate_block",
    "blind_blanks",
    "seal_photo_wanted",
    "temperature_wanted",
    "fresh_air_off",
    "day_check_after",
    "dock_blind",
}


def value_of(name: str) -> st.SearchStrategy[Any]:
    """Any value a threshold may have, in its signed form."""
    match getattr(Policy, name):
        case bool():
            return st.booleans()
        case int():
            return st.integers(0, 1_000_000)
        case _ if name.startswith("transit_"):
            return st.decimals(-90, 90, places=3).map(str)
        case _:
            return st.decimals(0, 999_999, places=3).map(str)


POLICIES = st.fixed_dictionaries(
    {"edition": st.just(1)}, optional={name: value_of(name) for name in NAMES}
).map(Policy.from_data)


def test_every_threshold_says_what_it_is() -> None:
    """If this fails, a firm sets a number whose meaning and source nobody wrote down."""
    assert set(NAMES) == set(meanings())
    for name, meaning in meanings().items():
        assert meaning.says.endswith("."), name
        assert meaning.rules, name
        assert meaning.source, name
        assert (meaning.stricter == "yes") is (name in SWITCHES), name
        assert (meaning.stricter == "higher") is (name in HIGHER), name


@pytest.mark.parametrize("name", NAMES)
def test_of_each_threshold_the_stricter_one_counts_and_its_owner_is_known(name: str) -> None:
    """If this fails, a laboratory sends back what the firm's own check found good, or the firm argues with
    its own limit.
    """
    default = getattr(Policy(), name)
    if name in SWITCHES:
        loose, strict = (
            Policy.from_data({"edition": 1, name: False}),
            Policy.from_data({"edition": 1, name: True}),
        )
    else:
        other = Policy.from_data(
            {"edition": 1, name: str(default + 1) if isinstance(default, Decimal) else default + 1}
        )
        loose, strict = (Policy(), other) if name in HIGHER else (other, Policy())
    wanted = getattr(strict, name)
    for firm, lab, owner in ((loose, strict, "lab"), (strict, loose, "firm"), (strict, strict, "both")):
        found = stricter(firm, lab)
        assert getattr(found.policy, name) == wanted
        assert found.owners[name] == owner
        assert found.is_lab(name) is (owner == "lab")
        assert {other for other in NAMES if found.owners[other] != "both"} <= {name}


@pytest.mark.slow
@given(POLICIES, POLICIES)
def test_it_does_not_matter_who_is_asked_first(one: Policy, other: Policy) -> None:
    """If this fails, the firm and the laboratory reckon with different limits for the same envelope."""
    there, back = stricter(one, other), stricter(other, one)
    assert there.policy == back.policy
    swapped = {"firm": "lab", "lab": "firm", "both": "both"}
    assert {name: swapped[owner] for name, owner in there.owners.items()} == back.owners


@pytest.mark.slow
@given(POLICIES, POLICIES, POLICIES)
def test_asking_more_never_allows_more(one: Policy, other: Policy, third: Policy) -> None:
    """If this fails, a laboratory that tightens one limit loosens another."""
    assert stricter(one, one).policy == one
    joint = stricter(one, other).policy
    assert stricter(joint, other).policy == joint
    assert stricter(joint, third).policy == stricter(one, stricter(other, third).policy).policy
    for name, meaning in meanings().items():
        for each in (one, other):
            assert not is_stricter(meaning, getattr(each, name), getattr(joint, name)), name


def test_a_laboratory_binds_only_by_what_it_said() -> None:
    """If this fails, a laboratory that set one limit imposes thirty defaults it never thought of."""
    firm = Policy.from_data({"edition": 1, "min_cassettes": 2, "hold_warn_h": "96"})
    joint = together(firm, Policy.from_data({"edition": 1, "hold_warn_h": "48"}))
    assert (joint.policy.min_cassettes, joint.policy.hold_warn_h) == (2, Decimal(48))
    assert [name for name in NAMES if joint.is_lab(name)] == ["hold_warn_h"]
    assert together(firm, None).policy == firm
    assert not any(together(firm, None).is_lab(name) for name in NAMES)


def test_what_a_laboratory_stated_has_a_name_of_its_own() -> None:
    """If this fails, a sealing cannot say by which published limits it was judged."""
    one, all_of_it = Policy.from_data({"edition": 1, "min_indoor": 2}), Policy.from_data(Policy().to_data())
    assert one.stated == {"edition": 1, "min_indoor": 2}
    assert len({one.digest, all_of_it.digest, Policy.of().digest}) == 3


def test_stricter_is_a_comparison_and_not_a_guess() -> None:
    """If this fails, the change shown before signing calls a loosened limit a stricter one."""
    lower = Meaning("SH-02", "Hours.", "lower")
    assert is_stricter(lower, Decimal(48), Decimal(72))
    assert not is_stricter(lower, Decimal(72), Decimal(72))
    assert not is_stricter(lower, Decimal(96), Decimal(72))
