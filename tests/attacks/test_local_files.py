"""A folder that others may write to: what they put there before a file is written for somebody, and what they
may read after it.
"""

from __future__ import annotations

import ast
import os
import stat
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from promises import promised

from bailee.disk import durable, folders, replacing
from bailee.errors import Unavailable
from bailee_cli.device.profile import replace_file
from bailee_cli.device.session import Session
from bailee_cli.main import bailee
from field import FIRM
from town import OPEN, Town, verify_words

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.skipif(os.name != "posix", reason="links and permissions are those of POSIX")

Writer = Callable[[Path, bytes], object]
WRITERS: dict[str, Writer] = {"command": replace_file, "service": durable.write}
INIT = ("--origin", "ledger.example/log", "--address", "http://127.0.0.1:8765")
MAKERS: dict[str, tuple[str, ...]] = {
    "ledger": ("init", *INIT, "--home"),
    "cosigner": ("cosign", "new", "--name", "lab.example/cosigner", "--folder"),
    "home": ("key", "new"),
    "person": ("--as", "keys", "key", "new"),
}
every_maker = pytest.mark.parametrize("maker", MAKERS)
every_writer = pytest.mark.parametrize("write", WRITERS.values(), ids=WRITERS)


def mode(path: Path) -> int:
    """Its permissions."""
    return stat.S_IMODE(path.lstat().st_mode)


@pytest.fixture(autouse=True)
def _usual_umask() -> object:
    """The umask of most systems, under which a file that nobody cares for is read by everybody."""
    before = os.umask(0o022)
    yield
    os.umask(before)


def test_nobody_else_on_the_machine_reads_what_people_said(working: Town) -> None:
    """Any account of the log's machine would read every entry of every organization, past every rule of
    access.
    """
    ledger = working.ledger
    ledger.sequencer.integrate()
    said = [ledger.settings.entry_tiles, *ledger.settings.entry_tiles.rglob("*")]
    assert {mode(path) for path in said if path.is_file()} == {0o600}
    assert mode(ledger.settings.entry_tiles) == 0o700
    assert {mode(path) for path in ledger.settings.tiles.rglob("*") if path.is_file()} == {0o644}


@pytest.fixture
def working(tmp_path: Path) -> Town:
    """A firm with one form, and its operator's settings where a command finds them."""
    town = Town(tmp_path)
    town.settle()
    settings = replace(town.ledger.settings)
    (settings.home / "settings.toml").write_text(settings.text())
    town.person("inspector", FIRM).run(*OPEN)
    return town


def written_by(town: Town) -> dict[str, tuple[str, ...]]:
    """Commands that write a file, each with everything but the file's name."""
    inspector = town.person("inspector", FIRM)
    form = inspector.answer("show")["forms"][0]["form"]
    return {
        "bundle": ("bundle", form, "-o"),
        "record": ("record", form, "-o"),
        "table": ("export", form, "--csv"),
        "request": ("key", "request", "-o"),
        "stamp": ("timestamp", "--home", str(town.ledger.settings.home), "--request"),
    }


@pytest.mark.slow
def test_no_command_writes_through_a_planted_link_or_shows_others_what_it_wrote(working: Town) -> None:
    """Another user of the machine would have an inspector overwrite her own files, or read the client's name
    and address.
    """
    promised("plants a link")
    treasure = working.folder / "treasure"
    treasure.write_bytes(b"years of work")
    for name, words in written_by(working).items():
        target = working.folder / name
        target.symlink_to(treasure)
        said = working.person("inspector").run(*words, str(target), code=3)
        assert "is a link, and nothing is written there" in said
        assert target.is_symlink()
        target.unlink()
        (working.folder / f".{name}.new").symlink_to(treasure)  # a name that could be foreseen
        working.person("inspector").run(*words, str(target))
        assert target.stat().st_size > 0
        assert mode(target) == 0o600, name
    assert treasure.read_bytes() == b"years of work"


def keys_made(maker: str, folder: Path) -> tuple[int, str]:
    """Let a command make private keys in a folder: its exit code, and what it said."""
    words = (*MAKERS[maker], *([str(folder)] if maker in ("ledger", "cosigner") else []))
    home = {"home": folder, "person": folder.parent}.get(maker)
    done = CliRunner().invoke(bailee, words, obj=Session(home=home))
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, " ".join(done.output.split())


@every_maker
def test_no_key_is_made_through_a_planted_link(maker: str, tmp_path: Path) -> None:
    """Another user who plants a link under the name that a manual gives would decide where the keys of a log
    lie, and read them.
    """
    promised("plants a link", "folder")
    theirs = tmp_path / "theirs"
    theirs.mkdir()
    for aim in (theirs, tmp_path / "nowhere"):
        (tmp_path / "keys").symlink_to(aim)
        code, said = keys_made(maker, tmp_path / "keys")
        assert (code, "keys is a link, and nothing is written there" in said) == (3, True), said
        (tmp_path / "keys").unlink()
    assert list(tmp_path.rglob("*")) == [theirs]


@every_maker
def test_no_key_is_made_where_others_can_write_or_where_no_folder_can_be(
    maker: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who may write to a folder exchanges the key in it.

    And a slip in the path must not end in lines that nobody can read.
    """
    keys = tmp_path / "keys"
    keys.mkdir()
    keys.chmod(0o777)
    code, said = keys_made(maker, keys)
    assert (code, "can be written to by others" in said) == (3, True), said
    keys.chmod(0o700)
    with monkeypatch.context() as elsewhere:
        elsewhere.setattr(os, "geteuid", lambda: keys.stat().st_uid + 1)
        elsewhere.setattr(folders, "_ROOT", -1)
        code, said = keys_made(maker, keys if maker != "person" else keys / "keys")
        assert (code, "belongs to another user" in said) == (3, True), said
    assert list(keys.iterdir()) == []
    (tmp_path / "file").write_bytes(b"")
    code, said = keys_made(maker, tmp_path / "file" / "keys")
    assert (code, "cannot be made or used" in said or "is no folder" in said) == (3, True), said


@every_maker
def test_keys_are_made_in_a_folder_for_their_owner_alone(maker: str, tmp_path: Path) -> None:
    """Others of the machine would read the names in a device's outbox, or the database of a ledger."""
    keys = tmp_path / "above" / "keys"
    code, said = keys_made(maker, keys)
    assert (code, mode(keys)) == (0, 0o700), said
    assert {mode(path) for path in keys.rglob("*") if path.is_file() and path.suffix != ".sqlite"} == {0o600}


def test_an_auditor_writes_parts_through_no_link_and_over_no_file(working: Town) -> None:
    """The files in the auditor's own folder would become statements of whoever sent her the bundle."""
    auditor = working.person("inspector")
    file, parts = working.folder / "visit.json", working.folder / "parts"
    auditor.run("bundle", auditor.answer("show")["forms"][0]["form"], "-o", str(file))
    verify = ("verify", str(file), *verify_words(working), "--statements")
    theirs = working.folder / "theirs"
    theirs.mkdir()
    parts.symlink_to(theirs)
    assert "is a link, and nothing is written there" in auditor.run(*verify, str(parts), code=3)
    parts.unlink()
    auditor.run(*verify, str(parts), code=None)
    assert mode(parts) == 0o700
    said = {path.name: path.read_bytes() for path in parts.iterdir()}
    auditor.run(*verify, str(parts), code=None)  # the same again
    assert {path.name: path.read_bytes() for path in parts.iterdir()} == said
    (theirs / "0.txt").write_bytes(b"years of work")
    told = auditor.run(*verify, str(theirs), code=2)
    assert "0.txt is there already with other content" in " ".join(told.split())
    assert {path.name: path.read_bytes() for path in theirs.iterdir()} == {"0.txt": b"years of work"}


@every_writer
def test_what_is_written_first_bears_a_name_that_nobody_can_foresee(
    write: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A link under the foreseen name would be written through, long before the file gets its own."""
    seen: list[str] = []
    opened = os.open

    def watched(path: str | Path, flags: int, mode: int = 0o777) -> int:
        if flags & os.O_CREAT:
            seen.append(str(path))
            assert flags & os.O_EXCL
            assert flags & os.O_NOFOLLOW
        return opened(path, flags, mode)

    monkeypatch.setattr(os, "open", watched)
    for _ in range(2):
        write(tmp_path / "record.pdf", b"signed")
    assert len(set(seen)) == 2
    assert [each.name for each in tmp_path.iterdir()] == ["record.pdf"]


@every_writer
def test_a_file_that_is_replaced_keeps_its_permissions(write: Writer, tmp_path: Path) -> None:
    """A laboratory's system that reads the table under another account would find it closed
    the second time.
    """
    path = tmp_path / "samples.csv"
    write(path, b"first")
    assert mode(path) == 0o600
    path.chmod(0o640)
    write(path, b"second")
    assert (path.read_bytes(), mode(path)) == (b"second", 0o640)


@every_writer
def test_a_name_with_a_double_elsewhere_opens_no_file_to_others(write: Writer, tmp_path: Path) -> None:
    """Who links an old readable file of hers to the expected name would read the record that replaces it."""
    path = tmp_path / "record.pdf"
    (tmp_path / "notice.html").write_bytes(b"for everybody")
    os.link(tmp_path / "notice.html", path)
    write(path, b"names and addresses")
    assert mode(path) == 0o600
    assert (tmp_path / "notice.html").read_bytes() == b"for everybody"


@every_writer
def test_what_is_no_file_is_refused_and_left(write: Writer, tmp_path: Path) -> None:
    """An operator who types a device, a pipe or a folder would lose it: the superuser's /dev/null becomes a
    file of names.
    """
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "nowhere").symlink_to(tmp_path / "missing")
    for name in ("folder", "pipe", "nowhere"):
        before = (tmp_path / name).lstat()
        with pytest.raises(Unavailable, match="nothing is written there") as caught:
            write(tmp_path / name, b"signed")
        assert caught.value.code == "not-a-file"
        assert (tmp_path / name).lstat() == before
    assert len(list(tmp_path.iterdir())) == 3


@every_writer
def test_a_disk_that_refuses_leaves_no_half_file_behind(
    write: Writer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a record beside the whole one would be mailed some day."""
    path = tmp_path / "record.pdf"
    write(path, b"first")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Unavailable, match="No space left"):
        write(path, b"second")
    assert [each.name for each in tmp_path.iterdir()] == ["record.pdf"]
    assert path.read_bytes() == b"first"


def test_what_a_log_shows_to_everybody_stays_readable(tmp_path: Path) -> None:
    """A web server under its own account could not serve the checkpoint and the tiles any more."""
    durable.write(tmp_path / "checkpoint", b"signed", replacing.PUBLIC)
    assert mode(tmp_path / "checkpoint") == 0o644


@pytest.mark.slow
def test_nobody_writes_a_file_past_the_one_writer() -> None:
    """The next command with a file would open a predictable name again."""
    others = {
        f"{path.relative_to(ROOT)}:{call.lineno}"
        for folder in ("service", "cli")
        for path in (ROOT / folder).rglob("*.py")
        for call in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute | ast.Name) and writes(call)
    }
    assert others == set()


def writes(call: ast.Call) -> bool:
    """Opens a file for writing, without O_EXCL, by one of the ways that Python has."""
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    if name in ("write_bytes", "write_text", "mkstemp", "NamedTemporaryFile"):
        return True
    words = [each.value for each in ast.walk(call) if isinstance(each, ast.Constant)]
    return name == "open" and any(each in ("w", "wb", "x", "xb", "w+", "w+b") for each in words)
