"""No folder holds more modules than somebody reads through.

No standard says so. A folder that is full is two subjects: what belongs together moves into a folder of its
own.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).resolve().parents[2]
HOUSES: Final = ("service", "cli", "migrations", "tests")
MOST: Final = 25


def crowded(top: Path) -> dict[str, int]:
    """Each folder below that holds too many modules, and how many."""
    held = Counter(str(path.parent.relative_to(top.parent)) for path in top.rglob("*.py"))
    return {folder: number for folder, number in held.items() if number > MOST}


@pytest.mark.parametrize("house", HOUSES)
def test_a_folder_is_read_through_before_a_module_is_added(house: str) -> None:
    """If this fails, a folder has so many modules that nobody reads all their names, and what is there
    already is written once more under another one.
    """
    assert crowded(ROOT / house) == {}


@pytest.mark.parametrize(("number", "seen"), [(25, {}), (26, {"house/room": 26})])
def test_a_module_too_many_is_seen(tmp_path: Path, number: int, seen: dict[str, int]) -> None:
    """If this fails, the test above finds every folder in order, and the house empty too."""
    room = tmp_path / "house" / "room"
    room.mkdir(parents=True)
    for each in range(number):
        (room / f"module_{each}.py").touch()
    assert crowded(tmp_path / "house") == seen
