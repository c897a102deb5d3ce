"""Towns, empty and settled."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from field import FIRM, LAB, ROLES
from town import ENVELOPE, INDOOR, OPEN, OUTDOOR, SEAL, Town, collect, to_the_clerk


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


@pytest.fixture
def visited(settled: Town) -> tuple[Town, list[str]]:
    """Two indoor samples and an outdoor control, in the clerk's hands."""
    _, samples = settled.lot(4)
    settled.person("inspector").run(*OPEN)
    for sample, what in zip(samples[:3], (INDOOR, INDOOR, OUTDOOR), strict=True):
        collect(settled, sample, what)
    to_the_clerk(settled, samples[:3])
    return settled, samples


@pytest.fixture
def shipped(visited: tuple[Town, list[str]]) -> tuple[Town, list[str]]:
    """The same, sealed with C-4711, shipped, and at the dock the next morning."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run(
        "ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1", "--yes"
    )
    town.clock.now = town.clock.now.replace(day=2, hour=16, minute=30)
    return town, samples
