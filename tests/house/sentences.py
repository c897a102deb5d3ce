"""Every string that a person reads, once: `.venv/bin/python tests/house/sentences.py FILE` prints them.

Read are the sources, so that what appears only once in a year is there too: every text of the service and
the command line but docstrings, patterns, SQL and what programs exchange; the help of every command; pages,
guides, README and `deploy/`. What a sentence fills in stands as `…`.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Final

import click

ROOT: Final = Path(__file__).resolve().parents[2]
SOURCES: Final = ("service/bailee", "cli/bailee_cli")
FILLED: Final = "…"
"""What stands for a value that a sentence fills in."""
NOT_READ: Final = frozenset(
    {
        "store/schema.py",
        "store/prepared.py",
        "store/conflict_table.py",
        "api/openapi.py",
        "verify/page/standins.py",
    }
)
"""Modules whose texts are for databases and programs."""
PROGRAMS: Final = frozenset(
    {
        "compile",
        "text",
        "execute",
        "getLogger",
        "TypeVar",
        "NewType",
        "import_module",
        "namedtuple",
        "getattr",
        "cast",
    }
)
"""Functions whose texts nobody reads."""
LOGGED: Final = frozenset({"debug", "info", "warning", "error", "exception", "critical"})
SQL: Final = re.compile(
    r"\b(SELECT|INSERT|UPDATE|DELETE FROM|CREATE|PRAGMA|WHERE|ALTER|BEGIN|LOCK TABLE)\b.*\s"
)


@cache
def read_by_people() -> dict[str, list[tuple[str, str]]]:
    """By surface, every string with the place where it stands."""
    return {
        "rules": list(_of_modules("service/bailee/rules")),
        "planning": list(_of_modules("service/bailee/planning")),
        "words": list(_of_modules("service/bailee/presentation")),
        "service": [each for each in _of_modules(*SOURCES[:1]) if not _elsewhere(each[0])],
        "papers": list(_of_modules("service/bailee/documents", "service/bailee/labels")),
        "report": list(_of_modules("service/bailee/verify")),
        "terminal": list(_of_modules("cli/bailee_cli")),
        "help": list(_help()),
        "pages": [*_of_modules("service/bailee/web"), *_templates()],
        "guides": list(_guides()),
    }


def _elsewhere(place: str) -> bool:
    """Whether a module of the service has a surface of its own."""
    return place.split("/")[2] in {
        "rules",
        "planning",
        "presentation",
        "documents",
        "labels",
        "verify",
        "web",
    }


def _of_modules(*folders: str) -> Iterator[tuple[str, str]]:
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*.py")):
            if not any(str(path).endswith(each) for each in NOT_READ):
                where = str(path.relative_to(ROOT))
                for line, said in _of_module(path):
                    yield f"{where}:{line}", said


@cache
def _of_module(path: Path) -> tuple[tuple[int, str], ...]:
    """Most stand on two surfaces, and are read once."""
    return tuple(of_source(path.read_text("utf-8")))


def of_source(source: str) -> Iterator[tuple[int, str]]:
    """Every text of a module that is words: its line, and what it says."""
    tree = ast.parse(source)
    skipped = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and _for_programs(node):
            skipped |= {id(each) for argument in node.args for each in ast.walk(argument)}
        if isinstance(node, ast.JoinedStr) and id(node) not in skipped:
            skipped |= {id(each) for each in node.values}
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            skipped |= {id(each) for each in ast.walk(node.value)}  # names, and no sentences
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        said = _said(node)
        if said and is_words(said):
            yield node.lineno, said  # type: ignore[attr-defined]


def _for_programs(node: ast.Call) -> bool:
    match node.func:
        case ast.Name(id=name):
            return name in PROGRAMS
        case ast.Attribute(value=ast.Name(id="logger" | "log" | "_log"), attr=name):
            return name in LOGGED
        case ast.Attribute(attr=name):
            return name in PROGRAMS
    return False


def _said(node: ast.AST) -> str:
    match node:
        case ast.Constant(value=str(said)):
            return said
        case ast.JoinedStr(values=parts):
            return "".join(str(each.value) if isinstance(each, ast.Constant) else FILLED for each in parts)
    return ""


def is_words(said: str) -> bool:
    """Whether a text is two words or more, or one word as it is written in a heading."""
    if SQL.search(said) or said.startswith(("%", "<?xml", "/")):
        return False
    plain = said.strip(" .,:;()!?")
    return bool(re.search(r"[A-Za-z]{2,}[,;:.]? +\S*[A-Za-z…]", plain)) or bool(
        re.fullmatch(r"[A-Z][a-z]+", plain)
    )


def _help() -> Iterator[tuple[str, str]]:
    """The help of every command, and of every option."""
    from bailee_cli.main import bailee

    yield from _of_command("bailee", bailee, click.Context(bailee))


def _of_command(name: str, command: click.Command, context: click.Context) -> Iterator[tuple[str, str]]:
    yield f"{name} --help", " ".join((command.help or "").split())
    for each in command.params:
        if said := getattr(each, "help", None):
            yield f"{name} --help", said
    if isinstance(command, click.Group):
        for verb in command.list_commands(context):
            if (found := command.get_command(context, verb)) is not None:
                yield from _of_command(f"{name} {verb}", found, context)


def _templates() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "service/bailee").rglob("*.html")):
        source = re.sub(r"\{[{%#].*?[}%#]\}", FILLED, path.read_text("utf-8"), flags=re.DOTALL)
        for text in re.split(r"<[^<>]*>", source):
            if is_words(said := " ".join(text.split())):
                yield str(path.relative_to(ROOT)), said
    for path in sorted((ROOT / "service/bailee").rglob("*.js")):
        source = re.sub(r"//.*|/\*.*?\*/", "", path.read_text("utf-8"))
        for said in re.findall(r'"([^"\n]*)"|`([^`]*)`', source):
            text = re.sub(r"\$\{[^}]*\}", FILLED, said[0] or said[1])
            if is_words(text):
                yield str(path.relative_to(ROOT)), " ".join(text.split())


def _guides() -> Iterator[tuple[str, str]]:
    folders = (ROOT / "service/bailee/guides", ROOT / "deploy")
    for path in [ROOT / "README.md", *(page for each in folders for page in sorted(each.rglob("*.md")))]:
        code = False
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
            code ^= line.startswith("```")
            if not code and is_words(line):
                yield f"{path.relative_to(ROOT)}:{number}", line.strip()


def main(target: str) -> None:
    """Print all of them into a file, each once, by surface."""
    seen: set[str] = set()
    with Path(target).open("w", encoding="utf-8") as out:
        for surface, found in read_by_people().items():
            out.write(f"\n# {surface}\n")
            for place, said in found:
                if said not in seen:
                    seen.add(said)
                    out.write(f"{place}\t{' '.join(said.split())}\n")


if __name__ == "__main__":
    main(sys.argv[1])
