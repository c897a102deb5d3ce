"""What macOS and Windows do otherwise, played on this machine: what is asked of them, and what they answer.

Neither was tried on the real system; what stands for it here says what the makers' manuals say.
"""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import types
from pathlib import Path

import pytest

from bailee.disk import durable, replacing, systems
from bailee.errors import Unavailable
from bailee.signing.keys import SigningKey
from bailee.store.database import Database
from bailee_cli.device import outbox, profile

ME, EVERYBODY = "S-1-5-21-1-2-3-1001", "WD"


@pytest.fixture
def macos(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, int]]:
    """A Mac; what its fcntl(2) was asked."""
    asked: list[tuple[int, int]] = []
    fcntl = types.SimpleNamespace(F_FULLFSYNC=51, fcntl=lambda file, what: asked.append((file, what)))
    monkeypatch.setitem(sys.modules, "fcntl", fcntl)
    monkeypatch.setattr(systems, "SYSTEM", systems.MACOS)
    return asked


def test_on_a_mac_what_was_written_reaches_the_medium(
    macos: list[tuple[int, int]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A power cut would bring a device's counter back, and the ledger would show two texts under one number
    (fsync(2) of macOS: "the drive itself may not physically write the data").
    """
    forced: list[int] = []
    monkeypatch.setattr(os, "fsync", forced.append)
    durable.write(tmp_path / "file", b"once")
    durable.append_line(tmp_path / "lines", b"once")
    assert {what for _, what in macos} == {51}
    assert len(macos) == 4  # each file, and its folder
    assert forced == []

    def unknown(_file: int, _what: int) -> None:
        raise OSError(errno.ENOTSUP, "on a network")

    monkeypatch.setattr(sys.modules["fcntl"], "fcntl", unknown)
    systems.force(7)
    assert forced == [7]


def test_sqlite_is_told_to_reach_the_medium_too(tmp_path: Path) -> None:
    """The ledger and the outbox would be the two files that a Mac's power cut takes back (SQLite, PRAGMA
    fullfsync).
    """
    opened = outbox._open(tmp_path / "outbox.sqlite")
    database = Database(f"sqlite:///{tmp_path}/ledger.sqlite")
    with database.engine.connect() as connection:
        for each in ("fullfsync", "checkpoint_fullfsync"):
            assert opened.execute(f"PRAGMA {each}").fetchone() == (1,)
            assert connection.exec_driver_sql(f"PRAGMA {each}").scalar() == 1
    database.close()
    opened.close()


class Windows:
    """A Windows: who has a file open, which bytes of which file are locked, and who may read what."""

    LK_NBLCK, LK_UNLCK = 2, 0

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.readers = 0
        self.locked: dict[tuple[int, int], int] = {}
        self.lists: dict[str, list[str]] = {}
        monkeypatch.setitem(sys.modules, "msvcrt", self)
        monkeypatch.setattr(systems, "SYSTEM", systems.WINDOWS)
        monkeypatch.setattr(systems, "_AGAIN_S", 0)
        monkeypatch.setattr(subprocess, "run", self.run)
        put = Path.replace

        def replace(path: Path, target: Path) -> Path:
            if self.readers:
                self.readers -= 1
                raise PermissionError(errno.EACCES, "Access is denied")
            return put(path, target)

        monkeypatch.setattr(Path, "replace", replace)

    def locking(self, file: int, how: int, count: int) -> None:
        """`_locking`: from where the file stands, so many bytes, for this descriptor alone."""
        begin, inode = os.lseek(file, 0, os.SEEK_CUR), os.fstat(file).st_ino
        wanted = [(inode, each) for each in range(begin, begin + count)]
        if how == self.LK_UNLCK:
            if any(self.locked.get(each) != file for each in wanted):
                raise PermissionError(errno.EACCES, "not locked")
            for each in wanted:
                del self.locked[each]
        elif any(each in self.locked for each in wanted):
            raise PermissionError(errno.EACCES, "locked")
        else:
            self.locked |= dict.fromkeys(wanted, file)

    def run(self, words: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        """`whoami` and `icacls`."""
        said = ""
        if words[0] == "whoami":
            said = f'"OFFICE\\clerk","{ME}"\n'
        elif "/save" in words:
            aces = "".join(f"(A;ID;FA;;;{each})" for each in self.lists[words[1]])
            Path(words[3]).write_text(f"key.pem\nD:PAI{aces}\n", "utf-16")
        else:
            self.lists[words[1]] = [words[4].removeprefix("*").partition(":")[0]]
        return subprocess.CompletedProcess(words, 0, said, "")


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> Windows:
    """An office's laptop."""
    return Windows(monkeypatch)


def test_on_windows_a_file_that_a_scanner_holds_is_replaced_a_moment_later(
    windows: Windows, tmp_path: Path
) -> None:
    """A profile, or the newest checkpoint, would not be written because a scanner of viruses looked at it."""
    path = tmp_path / "profile.toml"
    replacing.replace(path, b"one", replacing.PRIVATE)
    windows.readers = 3
    replacing.replace(path, b"two", replacing.PRIVATE)
    assert path.read_bytes() == b"two"


def test_on_windows_a_file_that_stays_open_is_named_and_left(windows: Windows, tmp_path: Path) -> None:
    """The sentence would ask to make room on a disk that has room."""
    path = tmp_path / "file"
    durable.write(path, b"one")
    windows.readers = 1000
    with pytest.raises(Unavailable) as caught:
        durable.write(path, b"two")
    assert caught.value.code == "in-use"
    assert "close it there" in caught.value.sentence
    assert [each.name for each in tmp_path.iterdir()] == ["file"]
    assert path.read_bytes() == b"one"


@pytest.mark.usefixtures("windows")
def test_on_windows_a_repair_is_kept_away_from_a_running_service(tmp_path: Path) -> None:
    """Two processes would write one ledger: locks there know no sharing, and are not given back by a copy."""
    path = tmp_path / "in-use"
    with durable.beside(path) as first, durable.beside(path) as second:
        assert (first, second) == (True, True)
        with durable.alone(path, 0) as got:
            assert not got
    with durable.alone(path, 0) as got, durable.beside(path) as other:
        assert (got, other) == (True, False)
    with durable.beside(path) as got:
        assert got


def test_on_windows_a_key_is_read_by_its_owner_alone(windows: Windows, tmp_path: Path) -> None:
    """Whoever else uses the office's laptop could sign in the clerk's name: a mode of 0600 does nothing
    there.
    """
    made = profile.make_key(tmp_path / "home" / "clerk", None)
    path = tmp_path / "home" / "clerk" / "key.pem"
    assert windows.lists[str(path)] == [ME]
    windows.lists[str(path)] = [ME, "SY", "BA"]
    assert profile.open_key(path.parent, lambda: None).kid == made.kid
    windows.lists[str(path)] = [ME, EVERYBODY]
    with pytest.raises(Unavailable) as caught:
        profile.open_key(path.parent, lambda: None)
    assert caught.value.code == "key-exposed"
    assert "icacls" in caught.value.sentence
    assert isinstance(made, SigningKey)
