"""Towns, empty and settled."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from town import Town

from field import FIRM, LAB, ROLES


@pytest.fixture
def town(tmp_path: Path) -> Iterator[Town]:
    """A service nobody has joined yet."""
    town = Town(tmp_path)
    yield town
    town.close()


@pytest.fixture(scope="session")
def settled_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files of a settled town, made once."""
    town = Town(tmp_path_factory.mktemp("town"))
    town.settle()
    town.close()
    return town.folder


@pytest.fixture
def settled(settled_folder: Path, tmp_path: Path) -> Iterator[Town]:
    """A service with a firm and a laboratory at work: a copy, so that no test sees another one's traces."""
    shutil.copytree(settled_folder, tmp_path / "town")
    town = Town(tmp_path / "town")
    for name, org in {
        "firm-root": FIRM,
        "lab-root": LAB,
        **{name: org for name, (org, _) in ROLES.items()},
    }.items():
        town.person(name, org)
    yield town
    town.close()
