"""The rule book: registry, tests and what is shown name the same rules.

Nothing is cited that nobody looked up.
"""

from __future__ import annotations

import importlib
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from bailee import rules
from bailee.domain import policy
from bailee.errors import Malformed
from bailee.presentation import rule_book, words
from bailee.presentation.rule_book import GROUPS, source_for_people
from bailee.rules.registry import REFUSALS, RULES
from bailee_cli import main

ID = re.compile(rf"\b(?:{'|'.join(GROUPS)})-[0-9]{{2}}\b")
QUOTED = re.compile(rf'"((?:{"|".join(GROUPS)})-[0-9]{{2}})"')
TESTS = Path(__file__).resolve().parents[1] / "rules"
KNOWN = {*RULES, *REFUSALS}


def test_every_module_of_rules_is_read_with_the_rule_book() -> None:
    """If this fails, the service asks a rule that the auditor's program never heard of, because something
    else happened to import it.
    """
    book = Path(rules.__file__)
    writes = {
        path.stem
        for path in (book.parent / "checks").rglob("*.py")
        if re.search(r"^(@rule|refusal)\(", path.read_text("utf-8"), re.MULTILINE)
    }
    read = set(
        re.findall(r"^from bailee\.rules\.checks\S* import (\w+) as", book.read_text("utf-8"), re.MULTILINE)
    )
    assert "stores" in writes
    assert writes - read == set()


def typed(*argv: str) -> str:
    """What `bailee rules` prints, on lines as long as they are."""
    answer = CliRunner(env={"COLUMNS": "100"}).invoke(main.bailee, ["rules", *argv])
    assert answer.exit_code == 0, answer.output
    return " ".join(answer.output.split())


def test_the_command_lists_every_rule_and_no_other() -> None:
    """If this fails, a clerk is stopped by a rule nobody can look up, or looks for one that
    does not exist.
    """
    listed = typed()
    assert sorted(ID.findall(listed)) == sorted(KNOWN)
    for each in RULES.values():
        assert f"{each.id} {words.severity(each.severity).lower()} {each.title}" in listed
    for refused in REFUSALS.values():
        assert f"{refused.id} {words.severity('refuse').lower()} {refused.title}" in listed
    assert [each["code"] for each in json.loads(_json())] == list(rule_book.book())


def _json(*argv: str) -> str:
    return CliRunner().invoke(main.bailee, ["rules", *argv, "--json"]).output


@pytest.mark.parametrize("code", ["OC-01", "SE-01", "SH-02", "ML-07", "CU-15", "RC-12", "SI-12"])
def test_of_one_rule_all_is_said_that_the_program_knows(code: str) -> None:
    """If this fails, somebody who is stopped reads a milder rule than the one that stops them."""
    said = typed(code)
    if code in REFUSALS:
        assert words.severity("refuse") in said
        assert source_for_people(REFUSALS[code].source) in said
        return
    known = RULES[code]
    assert known.title in said
    assert words.severity_meaning(known.severity) in said
    assert known.remedy.words in said
    assert source_for_people(known.source) in said
    assert ("Exception By " in said) is known.may_be_excepted
    for name, meaning in policy.meanings().items():
        assert (f" {name} " in said) is (code in meaning.rules), name
    assert json.loads(_json(code))["remedy"] == known.remedy.words


def test_every_threshold_is_found_beside_a_rule() -> None:
    """If this fails, a laboratory sets a limit and nobody can see which rule asks it."""
    beside = {line.name for each in rule_book.book().values() for line in each.thresholds}
    assert beside == set(policy.meanings())
    (days,) = rule_book.look_up("ML-02").thresholds
    assert (days.name, days.default) == ("expiry_grace_days", "0 days")


@pytest.mark.parametrize("code", ["OC-01", "oc-01", "OC01", "oc1", " OC 01 "])
def test_a_code_is_found_as_people_type_it(code: str) -> None:
    """If this fails, somebody reads that the rule which stops them does not exist."""
    assert rule_book.look_up(code).code == "OC-01"


@pytest.mark.parametrize(
    ("code", "near"), [("OC-99", "OC-09"), ("0C-01", "OC-01"), ("SL", "SL-04"), ("zzz", "")]
)
def test_an_unknown_code_is_answered_with_those_like_it(code: str, near: str) -> None:
    """If this fails, a slip in a code from paper ends the search."""
    with pytest.raises(Malformed) as raised:
        rule_book.look_up(code)
    assert near in raised.value.sentence
    assert not raised.value.facts["near"] or near in raised.value.facts["near"]
    answer = CliRunner().invoke(main.bailee, ["rules", code])
    assert answer.exit_code == 2
    assert code in answer.stderr


def test_the_rules_are_read_without_web_database_or_keys() -> None:
    """If this fails, an auditor has to install a service to read which rule was broken."""
    code = (
        "import sys; from bailee.presentation import rule_book; rule_book.book();"
        " print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True
    ).stdout.split()
    assert "bailee" in found
    assert not {"flask", "sqlalchemy", "pydantic", "cryptography", "httpx2", "click"} & set(found)


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
    rooms = {each.check.__module__.rpartition(".")[0] for each in RULES.values()}
    checks = "bailee.rules.checks"
    assert rooms == {checks, f"{checks}.envelope", f"{checks}.laboratory"}


def test_every_rule_belongs_to_a_group() -> None:
    """If this fails, a rule of a new group is missing from the list."""
    assert {number[:2] for number in KNOWN} <= set(GROUPS)


@pytest.mark.parametrize("number", sorted(REFUSALS))
def test_a_refusal_names_the_function_that_decides_it(number: str) -> None:
    """If this fails, the book promises a refusal and nobody can find where it is made."""
    module, _, name = REFUSALS[number].by.rpartition(".")
    assert callable(getattr(importlib.import_module(module), name))


def test_nothing_remembered_is_printed_as_a_citation() -> None:
    """If this fails, a user quotes a clause in a dispute that nobody here had read."""
    assert (
        source_for_people("49 CFR 40.199(b)(4) by analogy; ISO/IEC 17025 7.4.2, from memory")
        == "49 CFR 40.199(b)(4) by analogy; common practice"
    )
    assert (
        source_for_people("common practice, no source; NIOSH Method 0800")
        == "common practice; NIOSH Method 0800"
    )
    assert source_for_people("from memory; common practice, no source") == "common practice"
    for each in rule_book.book().values():
        assert "memory" not in " ".join([each.source, *(line.source for line in each.thresholds)])


def test_every_rule_has_its_words() -> None:
    """If this fails, somebody is told that something is wrong and not what to do now."""
    for number, each in RULES.items():
        assert each.id == number
        assert each.title[0].isupper()
        assert not each.title.endswith(".")
        assert each.source
        assert each.remedy.words.endswith(".")
