"""The trade's whole catalog of checks is in the program: each is a rule, or a refusal by a function that
exists.

The numbers are typed here from the catalog, group by group; those left out are design rules, which are code
and not checks, and SI-13, which says that a fault is none. That a refusal names a function that exists is
asked in test_rule_book.
"""

from __future__ import annotations

from typing import Final

import pytest

import bailee.rules  # noqa: F401 - enters every rule in the registry
from bailee.rules.registry import REFUSALS, RULES

# Group: how many checks the catalog has, and which of them are design rules.
CATALOG: Final[dict[str, tuple[int, set[int]]]] = {
    # The last of these is of our own: who has a copy is told of a recall.
    "ML": (14, set()),
    "CL": (16, {14}),  # no personal data in a QR symbol: tests of labels
    "VP": (16, set()),
    "SL": (16, set()),
    "PV": (18, {16}),  # SI units stored, both shown: tests of measures
    "OC": (18, set()),
    "BD": (8, set()),
    "SE": (15, set()),
    # Hours are counted between instants, whatever the clocks do: tests of moments and shipping.
    "SH": (16, {13}),
    # Among these is what its hard scenario 7 asks for: a copy given out again bears a version.
    "RC": (24, set()),
    # The last of these are of our own: what is said without end is followed so far; what nobody secured or
    # sealed is asked about while it can be helped; what was entered from paper wants a second person.
    "CU": (24, set()),
    # Name, time and meaning beside every signature: tests of the custody record and of pages. A fresh unlock,
    # and seeing what is signed: tests of keys and of the command line. A carrier's signature is never missed:
    # the seal speaks (test_under_way).
    "SI": (14, {4, 8, 9, 13}),
}


@pytest.mark.parametrize("group", CATALOG)
def test_every_check_of_the_catalog_is_live(group: str) -> None:
    """If this fails, a fault that the trade knows leaves the building, and nobody is told that it is not
    looked for.
    """
    count, design = CATALOG[group]
    wanted = {f"{group}-{number:02}" for number in range(1, count + 1) if number not in design}
    there = {number for number in {*RULES, *REFUSALS} if number.startswith(f"{group}-")}
    assert there == wanted, (
        f"a new rule of ours takes the next free number, {group}-{count + 1:02}, and raises the count of"
        f" {group!r} in tests/house/test_catalog.py: CATALOG; a number that is missing is a `@rule` or a"
        " `refusal(…)` in service/bailee/rules/checks, or a rule of design, which CATALOG names"
    )


def test_no_check_is_both_a_rule_and_a_refusal() -> None:
    """If this fails, a person reads that a fact is refused and finds it recorded with a warning."""
    both = set(RULES) & set(REFUSALS)
    assert not both, (
        f"{both}: give the new one the next free number of its group (tests/house/test_catalog.py: CATALOG)"
    )
