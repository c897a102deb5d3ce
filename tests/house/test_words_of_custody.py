"""The words of custody stand in `bailee.presentation` alone: whoever shows a form takes them from there.

Looked at are the modules that show something to people. Floors below (`domain`, `rules`, `planning`) cannot
import the words; their sentences are their own. A word that is also the code of what it names (`sealed`,
`broken`) may stand anywhere: it is what programs exchange.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

from bailee.presentation import words

ROOT: Final = Path(__file__).resolve().parents[2]
SURFACES: Final = (
    "service/bailee/documents",
    "service/bailee/web",
    "service/bailee/api",
    "service/bailee/verify",
    "service/bailee/operations",
    "cli/bailee_cli/people",
    "cli/bailee_cli/terminal",
)
TABLES: Final = {
    name: table
    for name, table in vars(words).items()
    if isinstance(table, dict) and not name.startswith("__")
}
STYLES: Final = frozenset({"bold", "red", "yellow"})
OWN: Final = frozenset(
    {"Sample", "Kind", "Where", "Lot", "Started", "Run", "Volume", "Status", "Sealed", "Gap"}
)
"""Headings of one plain word, which other tables have for other things."""


def vocabulary() -> frozenset[str]:
    """Every word of the model that is not a code itself: several words as they are said, one as it is written
    in a heading.
    """
    found = {each for name, each in vars(words).items() if isinstance(each, str) and name.isupper()}
    found |= {each for name, each in vars(words.Heading).items() if isinstance(each, str) and name.isupper()}
    codes: set[str] = set()
    for table in TABLES.values():
        codes |= set(table)
        found |= {
            each for value in table.values() for each in ((value,) if isinstance(value, str) else value)
        }
    bare = {_bare(each) for each in found - codes - OWN} - {
        "not checked"
    }  # also what became of a time stamp's signature
    return frozenset(each for each in bare if " " in each or each[:1].isupper())


def _bare(text: str) -> str:
    """Without what stands around it; several words in small letters, one as it is."""
    tidy = re.sub(r"\s+", " ", text).strip(" .,:;()\n")
    return tidy.casefold() if " " in tidy else text.strip("\n")


def literals(source: str) -> Iterator[tuple[int, str]]:
    """Every text in a module and its line, but for docstrings."""
    tree = ast.parse(source)
    quoted = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in quoted:
            yield node.lineno, node.value


def retold(source: str) -> list[tuple[int, str]]:
    """Words of custody that a module writes itself."""
    known = vocabulary()
    return [(line, text) for line, text in literals(source) if _bare(text) in known]


def translated(source: str) -> list[int]:
    """Lines on which codes are made words by hand: by a table of two or more of one kind, or by taking the
    underscores out.
    """
    return [node.lineno for node in ast.walk(ast.parse(source)) if _is_table(node) or _takes_out(node)]  # type: ignore[attr-defined]


def _is_table(node: ast.AST) -> bool:
    if not isinstance(node, ast.Dict):
        return False
    keys = {each.value for each in node.keys if isinstance(each, ast.Constant)}
    texts = [each.value for each in node.values if isinstance(each, ast.Constant)]
    spoken = [each for each in texts if isinstance(each, str) and not set(each.split()) <= STYLES]
    of_codes = any(len(keys & set(table)) > 1 for table in TABLES.values())
    return of_codes and any(" " in each or each[:1].isupper() for each in spoken)


def _takes_out(node: ast.AST) -> bool:
    if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
        return False
    return node.func.attr == "replace" and [getattr(each, "value", None) for each in node.args] == ["_", " "]


def modules() -> list[Path]:
    """Every module that shows something to people, but for the table of what is typed for an act."""
    found = sorted(each for surface in SURFACES for each in (ROOT / surface).rglob("*.py"))
    return [each for each in found if each.name != "commands.py"]


def templates() -> list[Path]:
    """Every page."""
    return sorted((ROOT / "service/bailee/web/templates").glob("*.html"))


@pytest.mark.slow
def test_no_surface_writes_a_word_of_custody_itself() -> None:
    """A word mended on the paper would stay as it was on the page, and two copies of one form would differ in
    court.
    """
    found = {path.name: said for path in modules() if (said := retold(path.read_text("utf-8")))}
    assert not found


def test_no_surface_makes_words_of_codes_itself() -> None:
    """A new state of a sample would be "on_hold" at one place and "on hold" at another."""
    found = {path.name: lines for path in modules() if (lines := translated(path.read_text("utf-8")))}
    assert not found


def test_no_page_writes_a_word_of_custody_itself() -> None:
    """The page would go on saying what the paper says no more."""
    known = vocabulary()
    for path in templates():
        source = path.read_text("utf-8")
        shown = re.split(r"<[^<>]*>", re.sub(r"\{[{%#].*?[}%#]\}", "<>", source, flags=re.DOTALL))
        assert not {_bare(text) for text in shown} & known, path.name
        assert 'replace("_"' not in source, path.name


def test_words_are_no_codes_and_every_code_has_one() -> None:
    """A state without a word stops the printer in front of a waiting courier."""
    from typing import get_args

    from bailee.domain import custody, fields
    from bailee.domain.acts import form
    from bailee.presentation import hand_overs
    from bailee.rules import registry, verdicts
    from bailee.verify import result

    for codes, table in (
        (custody.Status, words.STATUSES), (fields.Secured, words.SECURED), (form.SampleKind, words.KINDS),
        (hand_overs.Step, words.STEPS), (registry.Severity, words.SEVERITIES), (registry.Area, words.AREAS),
        (result.State, words.RECORDS), (form.SealSeen, words.SEAL_STATES),
    ):  # fmt: skip
        names = get_args(codes) or re.findall(r"'(\w+)'", str(codes))
        assert names
        assert set(names) <= set(table), table
    for area in get_args(registry.Area):
        for state in get_args(verdicts.State):
            assert words.verdict(area, state)
    assert not any("_" in each for each in vocabulary())


SCRIPTS: Final = ("service/bailee/verify/page", "service/bailee/web/static")


def own_words(source: str) -> list[str]:
    """The names of severities and verdicts that a script or a page says in its own text."""
    from typing import get_args

    from bailee.rules import registry, verdicts

    states = {words.verdict(a, s) for a in get_args(registry.Area) for s in get_args(verdicts.State)}
    names = {each for table in words.SEVERITIES.values() for each in table if each}
    names = {each.casefold() for each in names | states | set(words.RECORDS.values())}
    texts = re.findall(r"""["'`]([^"'`\n]*)["'`]|>([^<>{]*)<""", source)
    said = [(own or shown).strip(" .:").casefold() for own, shown in texts]
    return [each for each in said if each in names or any(" " in name and name in each for name in names)]


def test_no_script_of_the_auditor_s_page_names_a_severity_or_a_verdict() -> None:
    """The page and the terminal would call one verdict by two names, and an auditor asks which is graver.

    What the page shows of them is written by the same Python (`verify/page/report_page.py`).
    """
    files = [
        each for folder in SCRIPTS for each in (ROOT / folder).iterdir() if each.suffix in (".js", ".html")
    ]
    assert {each.name for each in files} >= {"page.js", "worker.js", "page.html"}
    for each in files:
        assert own_words(each.read_text(encoding="utf-8")) == [], each.name
    assert own_words('say("Do not verify");') == ["do not verify"], "it sees one that is there"
    app = (ROOT / "service/bailee/web/sign/words.js").read_text(encoding="utf-8")
    assert f'stopTitle: "{words.severity("block")}"' in app


@pytest.mark.parametrize(
    "planted",
    [
        'title = "Held by"',
        'said = f"Outdoor control: {number}"',
        'said = f"{holder}, on hold"',
        'state = "missing on receipt"',
    ],
)
def test_a_word_written_elsewhere_is_seen(planted: str) -> None:
    """The tests above would say nothing whatever a surface wrote."""
    assert retold(planted)


@pytest.mark.parametrize(
    "planted",
    [
        'WAYS = {"possession": "on him", "view": "where he sees it"}',
        'said = status.replace("_", " ")',
        'WORDS = {"block": "Blocks", "warn": "Warns", "other": "Other"}',
    ],
)
def test_a_table_of_words_elsewhere_is_seen(planted: str) -> None:
    """Codes could be put into words at five places again, each a little otherwise."""
    assert translated(planted)
