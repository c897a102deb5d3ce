"""One name, one thing: whoever reads a name in one room need not ask which of two it is.

No standard says so.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

import bailee
import bailee_cli

ROOTS = (Path(bailee.__file__).parent, Path(bailee_cli.__file__).parent)
SAME_FILE = {
    "__init__.py": "every package has one",
    "custody.py": "the shapes of custody, and the rules about them",
    "flow.py": "the reckoning of flows, and the rules about them",
}
SAME_CLASS = {"PublicKey": "the auditor's page stands in for a library, under the library's names"}
FINDERS = {
    "rules/registry.py": "makes findings of what the checks hit",
    "rules/exceptions.py": "says of an exception what the checks cannot: that it allows nothing",
}


def modules() -> Iterator[tuple[Path, Path]]:
    """Every module with the package's folder it lies in."""
    for root in ROOTS:
        yield from ((root, path) for path in sorted(root.rglob("*.py")) if "migrations" not in path.parts)


def classes(source: str) -> list[str]:
    """Names of the classes that a module makes."""
    return [each.name for each in ast.walk(ast.parse(source)) if isinstance(each, ast.ClassDef)]


def findings(source: str) -> list[int]:
    """Lines on which a module makes a finding, or a hit of a check."""
    if "Finding" not in source and "Hit" not in source:
        return []
    calls = (each for each in ast.walk(ast.parse(source)) if isinstance(each, ast.Call))
    return [each.lineno for each in calls if getattr(each.func, "id", "") in {"Finding", "Hit"}]


def twice(found: dict[str, list[str]]) -> dict[str, list[str]]:
    """What is there more than once."""
    return {name: places for name, places in found.items() if len(places) > 1}


def test_no_two_modules_have_one_name() -> None:
    """Of `conflicts` and `conflicts` somebody opens the wrong one."""
    found: dict[str, list[str]] = defaultdict(list)
    for root, path in modules():
        found[path.name].append(str(path.relative_to(root)))
    assert twice(found).keys() == SAME_FILE.keys(), twice(found)


@pytest.mark.slow
def test_no_two_classes_have_one_name() -> None:
    """Of four `Told` nobody knows what was told."""
    found: dict[str, list[str]] = defaultdict(list)
    for root, path in modules():
        for name in classes(path.read_text("utf-8")):
            found[name].append(str(path.relative_to(root)))
    assert twice(found).keys() == SAME_CLASS.keys(), twice(found)


@pytest.mark.slow
def test_a_finding_is_made_by_a_check() -> None:
    """Made elsewhere, no table of rules would know it, and no test would ask for it."""
    found = {
        str(path.relative_to(root))
        for root, path in modules()
        if findings(path.read_text("utf-8")) and "checks" not in path.parts
    }
    assert found == FINDERS.keys()


@pytest.mark.parametrize(
    ("source", "names", "lines"),
    [
        ("class A:\n    class B: ...", ["A", "B"], []),
        ("def f():\n    yield Hit('x')", [], [2]),
        ("x = Hit", [], []),
    ],
)
def test_what_is_looked_for_is_seen(source: str, names: list[str], lines: list[int]) -> None:
    """A search that sees nothing would find the house in order."""
    assert classes(source) == names
    assert findings(source) == lines
