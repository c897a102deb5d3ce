"""The rooms of the house: every module with the sentence it opens with.

    python tests/house/rooms.py [WORD…]   whose path or sentence holds all the words; without a word, all
    python tests/house/rooms.py --write   draws the map in DEVELOPERS.md anew, by the floors in pyproject.toml

Nobody edits the map by hand: it lies between `<!-- map -->` and `<!-- end of map -->`, and a test compares.
"""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[2]
DEVELOPERS: Final = ROOT / "DEVELOPERS.md"
HOUSES: Final = {"bailee_cli": ROOT / "cli" / "bailee_cli", "bailee": ROOT / "service" / "bailee"}
START, END = "<!-- map -->", "<!-- end of map -->"
BESIDE: Final = "┆"


def modules() -> Iterator[tuple[str, str]]:
    """Every module's path from the root of the checkout, and the first paragraph of its docstring."""
    for house in HOUSES.values():
        for path in sorted(house.rglob("*.py")):
            if path.name != "__init__.py":
                yield str(path.relative_to(ROOT)), sentence(path)


def sentence(path: Path) -> str:
    """The first paragraph of a module's docstring, on one line."""
    said = ast.get_docstring(ast.parse(path.read_text("utf-8"))) or ""
    return " ".join(said.split("\n\n")[0].split())


def drawn() -> str:
    """The map: each house with its floors from the top down, and the sentence of each package and of what
    lies in it.
    """
    return "\n".join(["```", *_lines(), "```"])


def written(text: str) -> str:
    """DEVELOPERS.md with its map drawn anew."""
    before, _, rest = text.partition(START)
    return f"{before}{START}\n{drawn()}\n{END}{rest.partition(END)[2]}"


def floors() -> Iterator[tuple[str, list[list[str]]]]:
    """Each house with its floors from the top down, as the import contracts have them."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    contracts = (each for each in settings["tool"]["importlinter"]["contracts"] if each["type"] == "layers")
    by_house = {each["containers"][0]: each["layers"] for each in contracts}
    for house in HOUSES:
        yield house, [[name.strip() for name in layer.split("|")] for layer in by_house[house]]


def _lines() -> Iterator[str]:
    for house, layers in floors():
        yield f"{house:<18}{_of(HOUSES[house])}"
        for layer in layers:
            for place, name in enumerate(layer):
                path = HOUSES[house] / name
                yield f"{BESIDE if place else ' '} {name:<16}{_of(path)}"
                for inner in sorted(path.glob("*/__init__.py")):
                    yield f"    {inner.parent.name:<14}{_of(inner.parent)}"


def _of(path: Path) -> str:
    return sentence(path / "__init__.py" if path.is_dir() else path.with_suffix(".py"))


def main() -> None:
    """See above."""
    if sys.argv[1:] == ["--write"]:
        DEVELOPERS.write_text(written(DEVELOPERS.read_text("utf-8")), "utf-8")
        return
    for path, says in modules():
        if all(re.search(re.escape(word), f"{path} {says}", re.IGNORECASE) for word in sys.argv[1:]):
            sys.stdout.write(f"{path}\n    {says}\n")


if __name__ == "__main__":
    main()
