"""DEVELOPERS.md and tests/README.md can be read in one sitting, and everything they name is there.

No standard says so. Whoever cites a decision (`D-` and its number), in code, tests or documents, finds it
there too.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Final

import pytest
from rooms import DEVELOPERS, HOUSES, ROOT, written

TESTS: Final = ROOT / "tests" / "README.md"
DOCUMENTS: Final = (DEVELOPERS, TESTS)
LINES, COLUMNS = 250, 160
TOP: Final = (".ci", "cli", "demo", "deploy", "migrations", "service", "tests")
TYPED: Final = {".ci/run", "tests/run", "tests/set-up", "deploy/make-venv", "deploy/page/fetch", "demo/run"}
"""Programs whose names have no ending."""
ELSEWHERE: Final = {"src/bailee"}
"""Made by whoever follows the text."""
PATH: Final = re.compile(r"([\w.-]+/)*[\w.-]+\.(?:py|md|html|toml|json)|(?:[\w.-]+/)+[\w.-]*")
MEMBER: Final = re.compile(r"([a-z_]+)\.([A-Za-z_]+)")


@cache
def paths() -> tuple[str, ...]:
    """Every file and folder of the checkout, from its root, with a slash before each."""
    found = {f"/{each.name}" for each in ROOT.iterdir() if each.is_file() or each.name in TOP}
    for top in TOP:
        found |= {
            f"/{each.relative_to(ROOT)}"
            for each in (ROOT / top).rglob("*")
            if "__pycache__" not in each.parts
        }
    return tuple(found)


def where(path: str) -> list[Path]:
    """The files and folders that a path means, wherever it begins."""
    return [ROOT / each[1:] for each in paths() if each.endswith(f"/{path.strip('/')}")]


@cache
def names(path: Path) -> frozenset[str]:
    """What a module defines, at any depth."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found.add(node.name)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            found.add(node.id)
    return frozenset(found)


def missing(text: str) -> Iterator[str]:
    """What a text names between backquotes, or types, that is not there."""
    blocks = re.findall(r"^```sh\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    prose = re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL)
    spans = [" ".join(each.split()) for each in re.findall(r"`([^`]+)`", prose)]
    links = re.findall(r"\]\((?!https?:)([^)#]+)\)", prose)
    typed = [
        word for each in (*blocks, *spans) for word in each.split() if word.startswith(("tests/", "deploy/"))
    ]
    for span in (*spans, *links, *typed):
        path, _, name = span.partition(": ")
        member = MEMBER.fullmatch(span)
        if (
            (PATH.fullmatch(path) or path in TYPED)
            and path not in ELSEWHERE
            and not span.startswith(("/", ".venv"))
        ):
            found = where(path)
            if not found or (name and not any(name in names(each) for each in found)):
                yield span
        elif member and (modules := where(f"{member[1]}.py")):
            if not any(member[2] in names(each) for each in modules):
                yield span
        elif re.fullmatch(r"test_\w+", span) and not where(f"{span}.py"):
            yield span


def decisions(text: str) -> list[str]:
    """The numbers of the decisions that a text writes down."""
    return re.findall(r"^- \*\*(D-\d{3}) ", text, re.MULTILINE)


def citations() -> Iterator[tuple[str, str]]:
    """Each decision that anything in the checkout leans on, and where."""
    for each in paths():
        file = ROOT / each[1:]
        if file.suffix in {".py", ".md", ".toml", ".html", ".txt", ".sh", ""} and file.is_file():
            for number in re.findall(r"\bD-\d{3}\b", file.read_text("utf-8", "replace")):
                yield number, each


def test_it_is_read_in_one_sitting() -> None:
    """A newcomer gives up on page three, and what stands on page nine is undone by somebody who never read
    it.
    """
    lines = DEVELOPERS.read_text("utf-8").splitlines()
    assert len(lines) <= LINES
    assert [each for each in lines if len(each) > COLUMNS] == []


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda each: str(each.relative_to(ROOT)))
def test_everything_named_is_there(document: Path) -> None:
    """A newcomer looks for a room that was moved or renamed long ago, and takes the rest of the page for as
    old.
    """
    assert list(missing(document.read_text("utf-8"))) == []


def test_the_map_is_that_of_the_house() -> None:
    """A new package is on no map. Draw it anew: python tests/house/rooms.py --write."""
    text = DEVELOPERS.read_text("utf-8")
    assert written(text) == text


def test_every_decision_that_is_cited_is_written_down() -> None:
    """Whoever asks why is sent to a decision that nobody can find."""
    written_down = set(decisions(DEVELOPERS.read_text("utf-8")))
    assert {number: place for number, place in citations() if number not in written_down} == {}


def test_decisions_stand_once_and_in_order() -> None:
    """Two decisions share a number, and a citation means either."""
    numbers = decisions(DEVELOPERS.read_text("utf-8"))
    assert numbers == sorted(set(numbers))


def test_every_folder_of_tests_has_its_line() -> None:
    """Tests lie where nobody looks, and are written a second time."""
    mirrored = {each.name for house in HOUSES.values() for each in house.iterdir()}
    said = TESTS.read_text("utf-8")
    folders = {each.parent.relative_to(ROOT).parts[1] for each in (ROOT / "tests").rglob("test_*.py")}
    assert [each for each in sorted(folders - mirrored) if f"`tests/{each}`" not in said] == []


@pytest.mark.parametrize(
    "text",
    [
        "see `domain/attic.py`",
        "see `domain/forms.py: unfold`",
        "see `forms.py:\nunfold`",
        "see `registry.judge`",
        "missed by `test_nothing_at_all`",
        "in `domain/attic/`",
        "[how](tests/HOW.md)",
        "```sh\npython tests/attic/run.py\n```",
        "type `sh tests/walk`",
    ],
)
def test_what_is_not_there_is_seen(text: str) -> None:
    """The tests above would let every name through."""
    assert list(missing(text))
