"""What fails on the device itself is said with the folder it is about, and leaves nothing half done.

ENOSPC and EROFS: POSIX.1-2017 2.3; the rest is our own promise, common practice, no source.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from bailee.errors import Malformed
from bailee_cli.device import profile
from town import OPEN, Town


@pytest.mark.parametrize("why", [errno.ENOSPC, errno.EROFS])
def test_no_half_key_is_left_where_nothing_can_be_written(
    town: Town, monkeypatch: pytest.MonkeyPatch, why: int
) -> None:
    """Half a key would be there for ever, since a key is never replaced."""
    person = town.person("newcomer")
    written = os.fsync

    def full(descriptor: int) -> None:
        raise OSError(why, os.strerror(why))

    monkeypatch.setattr(os, "fsync", full)
    said = person.run("key", "new", code=3)
    assert str(person.folder) in said
    assert os.strerror(why) in said
    assert list(person.folder.iterdir()) == []
    monkeypatch.setattr(os, "fsync", written)
    person.run("key", "new")


def test_who_only_looks_needs_no_folder_that_takes_a_file(
    settled: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page of Python would be shown to somebody who only looks, from a disk that is write-protected."""
    settled.person("inspector").run(*OPEN)

    def protected(_self: Path, **_: Any) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr(Path, "unlink", protected)
    assert settled.person("inspector").run("chase") == "Nothing waits.\n"


def test_a_folder_that_nobody_may_change_is_named(town: Town, monkeypatch: pytest.MonkeyPatch) -> None:
    """A page of Python would be shown to somebody whose stick is write-protected."""

    def protected(_self: Path, _mode: int, **_: Any) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr(Path, "chmod", protected)
    person = town.person("newcomer")
    assert f"{person.folder} cannot be written: Read-only file system." in person.run("key", "new", code=3)


def test_an_outbox_that_cannot_be_used_names_its_folder(settled: Town) -> None:
    """Whoever has three devices would free space on the wrong one."""
    inspector = settled.person("inspector")
    (inspector.folder / "outbox.sqlite").unlink(missing_ok=True)
    (inspector.folder / "outbox.sqlite").mkdir()
    told = inspector.answer(*OPEN, code=3)
    assert told["code"] == "outbox"
    assert told["folder"] == str(inspector.folder)
    assert str(inspector.folder) in told["detail"]


def test_another_window_is_told_where_was_looked_and_who_is_there(settled: Town) -> None:
    """Somebody in a second window, without BAILEE_HOME, would make a second key, and speak with two."""
    said = settled.person("nobody").run("key", "show", code=3)
    home = settled.folder / "homes"
    assert f"Looked in {home / 'nobody'}" in said
    assert "with --as there: clerk, dock, firm-root" in said
    assert "BAILEE_HOME names another folder" in said


def test_one_name_is_one_folder(settled: Town) -> None:
    """`Inspector` and `inspector` would be two keys on one machine and one on another; a home beneath the
    folder one is in is another home in the next folder.
    """
    said = settled.person("Inspector").run("key", "new", code=2)
    assert "there is inspector" in said
    assert not (settled.folder / "homes" / "Inspector").exists()
    with pytest.raises(Malformed) as raised:
        profile.home_folder({"BAILEE_HOME": "people"})
    assert raised.value.code == "relative-home"
