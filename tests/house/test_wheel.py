"""What `pip install` brings: everything a person needs, and for an auditor nothing of the service."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
APP = ("web/sign", "web/sign/core", "web/sign/memory", "web/sign/parts", "web/sign/screens")


@pytest.fixture(scope="module")
def names(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Names of the files in a freshly built wheel."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (wheel,) = folder.glob("*.whl")
    return set(zipfile.ZipFile(wheel).namelist())


def test_migrations_pages_and_types_travel_with_the_program(names: set[str]) -> None:
    """A service installed from a wheel that cannot make its database, or serves bare pages, is no service."""
    wanted = {
        "bailee/migrations/env.py",
        "bailee/migrations/versions/0001_ledger.py",
        "bailee/py.typed",
        "bailee_cli/main.py",
        "bailee_cli/parts.txt",
    }
    assert wanted <= names
    for folder in ("web/templates", "web/static", *APP, "guides"):
        on_disk = {
            f"bailee/{folder}/{path.name}"
            for path in (ROOT / "service/bailee" / folder).iterdir()
            if path.is_file()
        }
        assert on_disk
        assert on_disk <= names


def test_nothing_else_travels(names: set[str]) -> None:
    """Tests, demonstrations and other people's top-level names do not belong in site-packages."""
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not re.fullmatch(r"bailee-[\d.]+\.dist-info", top)} == {
        "bailee",
        "bailee_cli",
    }


def test_an_auditors_install_names_no_web_and_no_database() -> None:
    """Who trusts nobody should have to trust as few packages as possible."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    named = {re.split(r"[<>=\[;]", each)[0] for each in project["dependencies"]}
    assert named == {"cryptography", "click", "tzdata"}
