"""Towns, empty and settled, with cassettes, a visit and an envelope at the dock: played once, and every test
gets a copy.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from field import FIRM, LAB, ROLES
from town import ENVELOPE, INDOOR, OPEN, OUTDOOR, SEAL, Town, collect, to_the_clerk


@dataclass(frozen=True)
class Past:
    """What a town left when it was closed: its files, the time, and the numbers of the lot."""

    folder: Path
    now: datetime
    samples: tuple[str, ...] = ()

    @classmethod
    def of(cls, town: Town, samples: list[str] | None = None) -> Past:
        """The town is closed."""
        town.close()
        return cls(town.folder, town.clock.now, tuple(samples or ()))

    def again(self, folder: Path) -> Town:
        """The town as it was, from copies, so that no test sees another one's traces."""
        shutil.copytree(self.folder, folder)
        town = Town(folder)
        town.clock.now = self.now
        at_work = {name: org for name, (org, _) in ROLES.items()}
        for name, org in (at_work | {"firm-root": FIRM, "lab-root": LAB}).items():
            town.person(name, org)
        return town


@pytest.fixture
def town(tmp_path: Path) -> Iterator[Town]:
    """A service nobody has joined yet."""
    town = Town(tmp_path)
    yield town
    town.close()


@pytest.fixture(scope="session")
def settling(tmp_path_factory: pytest.TempPathFactory) -> Past:
    """Firm and laboratory found themselves and get to work."""
    town = Town(tmp_path_factory.mktemp("settling"))
    town.settle()
    return Past.of(town)


@pytest.fixture(scope="session")
def collecting(settling: Past, tmp_path_factory: pytest.TempPathFactory) -> Past:
    """Then three cassettes indoors."""
    town = settling.again(tmp_path_factory.mktemp("collecting") / "town")
    _, samples = town.lot(4)
    town.person("inspector").run(*OPEN)
    for sample in samples[:3]:
        collect(town, sample, INDOOR)
    return Past.of(town, samples)


@pytest.fixture(scope="session")
def visiting(settling: Past, tmp_path_factory: pytest.TempPathFactory) -> Past:
    """A visit instead, until its samples are in the clerk's hands."""
    town = settling.again(tmp_path_factory.mktemp("visiting") / "town")
    _, samples = town.lot(4)
    town.person("inspector").run(*OPEN)
    for sample, what in zip(samples[:3], (INDOOR, INDOOR, OUTDOOR), strict=True):
        collect(town, sample, what)
    to_the_clerk(town, samples[:3])
    return Past.of(town, samples)


@pytest.fixture(scope="session")
def shipping(visiting: Past, tmp_path_factory: pytest.TempPathFactory) -> Past:
    """Then they are sealed and shipped, and the next morning comes."""
    town = visiting.again(tmp_path_factory.mktemp("shipping") / "town")
    clerk = town.person("clerk")
    clerk.run("seal", *visiting.samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run(
        "ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1", "--yes"
    )
    town.clock.now = town.clock.now.replace(day=2, hour=16, minute=30)
    return Past.of(town, list(visiting.samples))


@pytest.fixture
def settled(settling: Past, tmp_path: Path) -> Iterator[Town]:
    """A service with a firm and a laboratory at work."""
    town = settling.again(tmp_path / "town")
    yield town
    town.close()


@pytest.fixture
def visited(visiting: Past, tmp_path: Path) -> Iterator[tuple[Town, list[str]]]:
    """Two indoor samples and an outdoor control, in the clerk's hands."""
    town = visiting.again(tmp_path / "town")
    yield town, list(visiting.samples)
    town.close()


@pytest.fixture
def shipped(shipping: Past, tmp_path: Path) -> Iterator[tuple[Town, list[str]]]:
    """The same, sealed with C-4711, shipped, and at the dock the next morning."""
    town = shipping.again(tmp_path / "town")
    yield town, list(shipping.samples)
    town.close()


@pytest.fixture
def collected(collecting: Past, tmp_path: Path) -> Iterator[tuple[Town, list[str]]]:
    """Four labels issued; the first three collected and in the inspector's hands."""
    town = collecting.again(tmp_path / "town")
    yield town, list(collecting.samples)
    town.close()
