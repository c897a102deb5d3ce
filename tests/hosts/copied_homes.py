"""Copies of a ledger as its operator makes them: the commands, a home made of a backup, and a service of it.

A file of tests takes the two fixtures by importing them.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from bailee.config import LOG_KEY_FILE, SETTINGS_FILE, load
from bailee_cli.main import bailee
from field import Field
from grounds import After, Ground, founding


def run(*words: str | Path, code: int = 0) -> str:
    """An operator's command that must end with `code`; its words in one line."""
    result = CliRunner().invoke(bailee, [str(each) for each in words])
    assert result.exit_code == code, result.output
    return " ".join(result.output.split())


@pytest.fixture
def field(after: After) -> Field:
    """Everybody has joined; the operator's commands find the service's settings."""
    made, _ = after(founding)
    publish(made)
    settings = made.ledger.settings
    (settings.home / SETTINGS_FILE).write_text(settings.text(), "utf-8")
    return made


@pytest.fixture(autouse=True)
def own_programs(ground: Ground, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """PostgreSQL's programs are of the version of its server."""
    if ground.empty() is not None:
        monkeypatch.setenv("PATH", str(request.getfixturevalue("postgres").programs), prepend=":")


def publish(field: Field) -> int:
    """What waits gets its place; how many entries are signed."""
    field.ledger.sequencer.integrate()
    return int(field.client.get("/checkpoint").text.splitlines()[1])


def restored(field: Field, ground: Ground, folder: Path) -> Path:
    """A home made of the backup in `folder`, with the log's key."""
    home, address = folder.parent / "restored", ground.empty()
    run("restore", "--from", folder, "--home", home, *(["--database", address] if address else []))
    shutil.copy(field.ledger.settings.log_key_place, home / LOG_KEY_FILE)
    return home


def served(home: Path, before: Field) -> Field:
    """A service of that home, with the same people before it."""
    made = Field(load(home, {}), start=False, clock=before.clock)
    made.memory = before.memory
    return made
