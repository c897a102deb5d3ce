"""What the rules, plans and operations say is read on paper, on pages and by programs: none of it is a
command line.

Commands are named where somebody has a terminal: in the command line itself (`terminal/commands.py` turns
acts into them), and in what an operator or an auditor reads at a console of theirs: `config`, `store`,
`cosigning`, `serving`, `verify`, `disk`; in the sentence of the `api` that says how one gets in; and on the
custody record, which names the check it is for.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import bailee
from bailee_cli import main

SERVICE = Path(str(bailee.__file__)).parent
VERBS = sorted({name for verbs in main.VERBS.values() for name in verbs})
COMMAND = re.compile(rf"\bbailee (?:{'|'.join(map(re.escape, VERBS))})\b|(?<![\w-])--[a-z]")


@pytest.mark.parametrize("package", ["domain", "rules", "planning", "operations", "labels"])
def test_no_command_is_named(package: str) -> None:
    """If this fails, somebody with a phone or a sheet of paper is told to type what they have no place to
    type.
    """
    found = [
        f"{file.relative_to(SERVICE)}:{number}: {line.strip()}"
        for file in sorted((SERVICE / package).rglob("*.py"))
        for number, line in enumerate(file.read_text("utf-8").splitlines(), start=1)
        if COMMAND.search(line)
    ]
    assert found == []


def test_a_command_is_seen() -> None:
    """If this fails, the test above lets everything pass."""
    for words in ("Void it: `bailee void S1 --reason lost`.", "run bailee repair", "with `--at`"):
        assert COMMAND.search(words)
    assert not COMMAND.search("as `bailee.rules.case.own_seal` names them")
