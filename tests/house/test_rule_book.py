"""The rule book: registry, README and tests name the same rules, and nothing is cited that nobody looked up."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest
from rule_table import GROUPS, README, rules, source_for_people

from bailee.rules.registry import REFUSALS, RULES

ID = re.compile(rf"\b(?:{'|'.join(GROUPS)})-[0-9]{{2}}\b")
QUOTED = re.compile(rf'"((?:{"|".join(GROUPS)})-[0-9]{{2}})"')
TESTS = Path(__file__).resolve().parents[1] / "rules"
KNOWN = {*RULES, *REFUSALS}


def test_readme_names_every_rule_and_no_other() -> None:
    """If this fails, a clerk is stopped by a rule nobody can look up, or looks for one that does not exist."""
    table = README.read_text("utf-8").partition("<!-- rules -->")[2].partition("<!-- end of rules -->")[0]
    rows = re.findall(r"^\| ([A-Z]{2}-[0-9]{2}) \|", table, re.MULTILINE)
    assert sorted(rows) == sorted(KNOWN)


def test_readme_says_of_each_rule_what_the_program_says() -> None:
    """If this fails, README calls something a warning that stops an envelope. Write it anew: python tests/house/rule_table.py."""
    assert rules() in README.read_text("utf-8")


def test_every_rule_is_tried_by_name() -> None:
    """If this fails, a rule went into the program that no test has ever seen fire or stay silent."""
    tried = {number for file in TESTS.rglob("test_*.py") for number in ID.findall(file.read_text("utf-8"))}
    assert tried >= KNOWN, f"{KNOWN - tried}: try it by its number in tests/rules/checks"
    quoted = {
        number for file in TESTS.rglob("test_*.py") for number in QUOTED.findall(file.read_text("utf-8"))
    }
    assert quoted <= KNOWN


def test_rules_lie_in_their_room_alone() -> None:
    """If this fails, whoever looks for a rule by its group does not find it."""
    assert {each.check.__module__.rpartition(".")[0] for each in RULES.values()} == {"bailee.rules.checks"}


def test_rules_named_elsewhere_in_readme_exist() -> None:
    """If this fails, the text sends a reader to a rule that is not there."""
    assert set(ID.findall(README.read_text("utf-8"))) <= KNOWN


def test_every_rule_belongs_to_a_group() -> None:
    """If this fails, a rule of a new group is missing from the table in README."""
    assert {number[:2] for number in KNOWN} <= set(GROUPS)


@pytest.mark.parametrize("number", sorted(REFUSALS))
def test_a_refusal_names_the_function_that_decides_it(number: str) -> None:
    """If this fails, the book promises a refusal and nobody can find where it is made."""
    module, _, name = REFUSALS[number].by.rpartition(".")
    assert callable(getattr(importlib.import_module(module), name))


def test_nothing_remembered_is_printed_as_a_citation() -> None:
    """If this fails, a user quotes a clause in a dispute that nobody here had read."""
    assert source_for_people("49 CFR 40.199(b)(4) by analogy; ISO/IEC 17025 7.4.2, from memory") == (
        "49 CFR 40.199(b)(4) by analogy; common practice"
    )
    assert (
        source_for_people("common practice, no source; NIOSH Method 0800")
        == "common practice; NIOSH Method 0800"
    )
    assert source_for_people("from memory; common practice, no source") == "common practice"
    assert "memory" not in README.read_text("utf-8").partition("<!-- rules -->")[2]


def test_every_rule_has_its_words() -> None:
    """If this fails, somebody is told that something is wrong and not what to do now."""
    for number, each in RULES.items():
        assert each.id == number
        assert each.title[0].isupper()
        assert not each.title.endswith(".")
        assert each.source
        assert each.remedy.words.endswith(".")
