"""What is known of an act stands in its row: a name written elsewhere is a table that forgets
the next act.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final, get_args

import pytest

import bailee
import bailee_cli
from bailee.domain.acts.form import Condition
from bailee.domain.acts.table import ROWS
from bailee.domain.custody import Status
from bailee.domain.fields import Secured

SOURCES: Final = [Path(package.__file__).parent for package in (bailee, bailee_cli)]
MEANS_ANOTHER_THING: Final = {
    **dict.fromkeys(get_args(Status), "the state of a sample"),
    **dict.fromkeys(get_args(Condition), "the condition of a cassette"),
    **dict.fromkeys(get_args(Secured), "a way of keeping"),
    "excepted": "the transport class of an envelope",
    "voided": "a sample that the report calls so",
    "counted": "the number of samples somebody counted",
    "issued": "a heading of the list of lots",
    "stored": "where a lot is kept",
    "recalled": "a heading of the list of lots",
}
"""Words that stand in the code for something else besides the act of this name."""

STATES: Final = {"GONE", "ARRIVED", "STOPPED", "ENCLOSED", "STATUSES", "STEPS", "_DECISIONS"}
"""Constants with several states of a sample, or their words.

Those of a form, by which decision leads to them.
"""

VERBS: Final = {"_VERBS", "_VARIANTS"}
"""What the terminal types for an act that is offered: `tests/cli/terminal/test_cli_commands.py` misses one
that is offered and not there."""


_QUOTED: Final = re.compile(rf"""["']({"|".join(ROWS)})["']""")
"""Where none of it stands, which is in most modules, nothing need be parsed."""


def names_of_acts(source: str) -> Iterator[tuple[int, str]]:
    """Line and name of every literal that names an act, or may."""
    if not _QUOTED.search(source):
        return
    tree = ast.parse(source)
    other = set(map(id, _something_else(tree)))
    of_an_act = set(map(id, _compared_with_an_act(tree))) - other
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value in ROWS:
            if id(node) in of_an_act or (node.value not in MEANS_ANOTHER_THING and id(node) not in other):
                yield node.lineno, node.value
        elif isinstance(node, ast.Dict | ast.Set | ast.Tuple | ast.List) and id(node) not in other:
            held = [each for each in _members(node) if isinstance(each, ast.Constant) and each.value in ROWS]
            if len(held) > 1:
                yield from ((each.lineno, str(each.value)) for each in held)


def _members(node: ast.AST) -> list[ast.expr]:
    found = node.keys if isinstance(node, ast.Dict) else getattr(node, "elts", [])
    return [each for each in found if each is not None]


def _something_else(tree: ast.AST) -> Iterator[ast.AST]:
    """Members of an answer, types, lists of states, and what is compared with a state or is a heading."""
    for node in ast.walk(tree):
        match node:
            case ast.Subscript():
                yield from ast.walk(node.slice)
            case ast.Call(func=ast.Attribute(attr="get" | "table")):
                yield from (each for argument in node.args for each in ast.walk(argument))
            case ast.Assign(targets=[ast.Name(id=name)]) | ast.AnnAssign(target=ast.Name(id=name)):
                if name in STATES | VERBS and node.value:
                    yield from ast.walk(node.value)
            case ast.Call(
                func=ast.Name(id="do" | "act")
            ):  # advice, whose acts tests/rules/test_remedies.py asks the rows for
                yield from node.args[:1]
                yield from (each.value for each in node.keywords if each.arg == "of")
            case ast.Compare(left=ast.Attribute(attr="status")):
                yield from (each for right in node.comparators for each in ast.walk(right))


TAKES_STATES: Final = {"move", "Keeping", "get"}
"""Functions that are given the state of a sample, a way of keeping, or the name of a member."""


def _compared_with_an_act(tree: ast.AST) -> Iterator[ast.AST]:
    """What stands beside an act in a comparison, is given as one, or is the name in an act that is made."""
    for node in ast.walk(tree):
        match node:
            case ast.Compare():
                sides = [node.left, *node.comparators]
                if any(_is_act(each) for each in sides):
                    yield from (each for side in sides if not _is_act(side) for each in ast.walk(side))
            case ast.Call(func=ast.Name(id=name) | ast.Attribute(attr=name)) if name not in TAKES_STATES:
                yield from node.args
            case ast.keyword(arg="act"):
                yield from ast.walk(node.value)
            case ast.Dict():
                keys = [key.value if isinstance(key, ast.Constant) else None for key in node.keys]
                yield from (value for key, value in zip(keys, node.values, strict=True) if key == "act")


def _is_act(node: ast.expr) -> bool:
    """`act`, `entry.act` or `told["act"]`."""
    match node:
        case ast.Name(id="act") | ast.Attribute(attr="act" | "what"):
            return True
        case ast.Subscript(slice=ast.Constant(value="act")):
            return True
        case _:
            return False


@pytest.mark.slow
def test_only_the_acts_themselves_name_an_act() -> None:
    """An act added later would be missing from a list that nobody remembers, and not be
    indexed or refused.
    """
    found = [
        f"{path.relative_to(source.parent)}:{line}: {name}"
        for source in SOURCES
        for path in sorted(source.rglob("*.py"))
        if path.parent != SOURCES[0] / "domain" / "acts"
        for line, name in names_of_acts(path.read_text())
    ]
    assert found == [], (
        "ask its row in domain/acts/table.py, or write `name_of(Class)` for the name; "
        "a word that means something else there goes into MEANS_ANOTHER_THING in tests/house/test_acts.py"
    )


@pytest.mark.parametrize(
    "source",
    [
        'entry.act == "sealed"',
        'if act in ("accepted", "rejected"): pass',
        'told["act"] != "opened"',
        '{"sealed": 1, "shipped": 2}',
        'ONCE = frozenset({"collected", "shipped"})',
        'Act(chain, "received", {})',
        'submit.finish(session, "sealed", [])',
        'Entry(act="disposed")',
        '_sign(session, "unsealed")',
        '_as_asked(each, "sealed", same)',
        'Draft("sealed", body, org, kid)',
        'service.post("/readiness", {"act": "shipped"})',
        'yield "licensing_set"',
    ],
)
def test_a_name_written_elsewhere_is_seen(source: str) -> None:
    """If this fails, the check above finds nothing and says that all is well."""
    assert list(names_of_acts(source))


@pytest.mark.parametrize(
    "source",
    [
        'sample.status in ("sealed", "shipped")',
        'samples.move(sample, "received")',
        'told["received"]',
        'lot.get("recalled")',
        'Literal["opened", "sealed"]',
        'do("corrected", "form", of="sealed", field="seal")',
    ],
)
def test_a_word_for_something_else_is_not(source: str) -> None:
    """If this fails, nobody may say what state a sample is in."""
    assert not list(names_of_acts(source))
