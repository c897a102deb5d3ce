"""A copy of the whole ledger, a home made of it, and what it may do before somebody compared it.

No standard says how; each test holds a sentence of deploy/bad-day.md (common practice, no source).
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import sqlalchemy as sa
from test_erasing import erase, kept, opened

from bailee.config import SETTINGS_FILE, Settings
from bailee.errors import Unavailable
from bailee.operations import backups
from bailee.store import copying
from bailee.store.database import Database
from field import Field
from grounds import After, Ground, founding, on_any
from hosts.copied_homes import field, own_programs, publish, restored, run, served

__all__ = ["field", "own_programs"]  # fixtures
pytestmark = pytest.mark.slow


@on_any
def test_who_knows_that_no_more_was_signed_goes_on_with_the_backup(
    field: Field, ground: Ground, tmp_path: Path
) -> None:
    """Where firms and laboratories hold nothing newer, an office would stand still for ever."""
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    new = restored(field, ground, tmp_path / "copy")
    other = served(new, field)
    with pytest.raises(Unavailable, match="made of a backup"):
        other.ledger.sequencer.integrate()
    other.ledger.database.close()
    run("repair", "--home", new, "--yes")
    other = served(new, field)
    other.open_form()
    assert other.client.get("/health").get_json()["status"] != "log-frozen"
    other.ledger.database.close()


@on_any
def test_a_checkpoint_no_newer_than_the_backup_compares_nothing(
    field: Field, ground: Ground, tmp_path: Path
) -> None:
    """Any old paper from a drawer, or the one that lies in the backup, would be taken for the newest that
    anybody holds, and a second history begin.
    """
    (tmp_path / "old").write_text(field.client.get("/checkpoint").text)
    field.open_form()
    publish(field)
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    new = restored(field, ground, tmp_path / "copy")
    for each in (tmp_path / "old", tmp_path / "copy" / "checkpoint"):
        assert "Ask your cosigners" in run("repair", "--home", new, "--checkpoint", each, code=2)
        assert (new / "restored.json").exists()


@on_any
def test_nothing_is_shown_of_a_home_that_was_not_compared(
    field: Field, ground: Ground, tmp_path: Path
) -> None:
    """What was erased after the backup would be read by everybody until somebody repairs it."""
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    new = restored(field, ground, tmp_path / "copy")
    assert "Nothing of it is shown" in run("serve", "--home", new, "--listen", "127.0.0.1:0", code=3)


@on_any
def test_a_ledger_with_nothing_in_it_and_one_without_its_marks_are_restored(
    after: After, ground: Ground, tmp_path: Path
) -> None:
    """A backup would say that it worked, and be called harmed on the day when it is all there is; or the
    first drill, before there is an entry, would ask for a file that never was.
    """
    field, _ = after(founding)
    settings = field.ledger.settings
    (settings.home / SETTINGS_FILE).write_text(settings.text(), "utf-8")

    def restored_from(copy: str) -> str:
        run("backup", "--home", settings.home, "--to", tmp_path / copy)
        words = ("restore", "--from", tmp_path / copy, "--home", tmp_path / f"{copy}-restored")
        return run(*words, *(["--database", address] if (address := ground.empty()) else []))

    assert "the high-water file" not in restored_from("of-nothing")
    publish(field)
    settings.high_water_file.unlink()
    said = restored_from("of-all-but-its-marks")
    assert "Put the high-water file back" in said
    assert "A drill ends here: it leaves out the steps below, log.key above all." in said
    assert f"bailee check-ledger --home {tmp_path / 'of-all-but-its-marks-restored'} --log-key" in said


@on_any
def test_a_list_that_was_written_by_somebody_else_is_no_backup(
    field: Field, ground: Ground, tmp_path: Path
) -> None:
    """A list from outside would end in a traceback, or send signs of control to the operator's screen."""
    copy = tmp_path / "copy"
    run("backup", "--home", field.ledger.settings.home, "--to", copy)
    whole = json.loads((copy / "backup.json").read_text())
    for changed in (
        {"files": None}, {"files": ["x"]}, {"size": "x"}, {"root": 5}, {"origin": "\x1b[2J"}, {"made": None},
        {"more": 1},
    ):  # fmt: skip
        (copy / "backup.json").write_text(json.dumps(whole | changed))
        said = run("restore", "--from", copy, "--home", tmp_path / "new", code=2)
        assert "There is no backup" in said
        assert "\x1b" not in said


@pytest.mark.parametrize("ground", ["sqlite", "postgresql"], indirect=True)
def test_what_was_erased_stays_erased_after_a_restore(field: Field, ground: Ground, tmp_path: Path) -> None:
    """A client's name that was erased for good would be in the ledger again, because a disk broke."""
    form, statement = opened(field)
    _, other_statement = opened(field)
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    names = kept(field, statement)
    erase(field, f"form/{form}", statement, len(names))
    publish(field)
    (tmp_path / "newest").write_text(field.client.get("/checkpoint").text)
    new = restored(field, ground, tmp_path / "copy")
    found = ("--checkpoint", tmp_path / "newest", "--from", field.ledger.settings.home)
    assert f"Erased again: {len(names)} private fields" in run("repair", "--home", new, *found)
    other = served(new, field)
    assert kept(other, statement) == []
    assert kept(other, other_statement) == names
    other.ledger.database.close()
    assert "0 private fields" in run("erase-again", "--home", new)


@on_any
def test_what_was_erased_in_part_is_named_and_left_to_its_owner(
    field: Field, ground: Ground, tmp_path: Path
) -> None:
    """The wrong one of two names would be erased, or the operator believe that all of it is gone."""
    form, statement = opened(field)
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    names = kept(field, statement)
    erase(field, f"form/{form}", statement, 1, "client")
    publish(field)
    (tmp_path / "newest").write_text(field.client.get("/checkpoint").text)
    new = restored(field, ground, tmp_path / "copy")
    found = ("--checkpoint", tmp_path / "newest", "--from", field.ledger.settings.home)
    assert "1 private field of entry" in run("repair", "--home", new, *found)
    assert "to erase" in run("erase-again", "--home", new, code=1)
    other = served(new, field)
    assert kept(other, statement) == names
    other.ledger.database.close()


@on_any
def test_a_backup_has_no_key_and_is_its_owner_s_alone(field: Field, tmp_path: Path) -> None:
    """With a stolen copy somebody could sign in the log's name, or read every client's address."""
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    files = list((tmp_path / "copy").iterdir())
    key = Path(field.ledger.settings.log_key_place).read_bytes()
    assert all(key not in each.read_bytes() for each in files)
    assert {each.stat().st_mode & 0o077 for each in (tmp_path / "copy", *files)} == {0}


@on_any
def test_a_harmed_backup_makes_no_home(field: Field, ground: Ground, tmp_path: Path) -> None:
    """A copy on a failing disk would be found out on the day when it is all there is."""
    copy, new = tmp_path / "copy", tmp_path / "new"
    run("backup", "--home", field.ledger.settings.home, "--to", copy)
    for each in sorted(copy.iterdir()):
        whole = each.read_bytes()
        each.write_bytes(whole[:-2])
        said = run("restore", "--from", copy, "--home", new, code=2 if each.name == "backup.json" else 1)
        assert "backup" in said
        assert not new.exists()
        each.write_bytes(whole)
    backups.restore(copy, new, ground.empty())
    assert "is there already" in run("restore", "--from", copy, "--home", new, code=2)
    assert "is there already" in run("backup", "--home", field.ledger.settings.home, "--to", copy, code=2)


@on_any
def test_half_a_backup_is_none(field: Field, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy that was broken off by a full disk would be kept for a whole one."""

    def broken(*_: object) -> str:
        raise OSError(28, "No space left on device")

    (tmp_path / "copy.unfinished").mkdir()
    (tmp_path / "copy.unfinished" / "mine").write_text("somebody else's")
    with monkeypatch.context() as patched:
        patched.setattr(copying, "copy", broken)
        said = run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy", code=3)
    assert "No space left on device" in said
    assert [each.name for each in tmp_path.glob("copy*")] == ["copy.unfinished"]
    assert (tmp_path / "copy.unfinished" / "mine").exists()
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")


@on_any
def test_a_high_water_file_on_another_disk_stays_what_it_is(
    after: After, ground: Ground, tmp_path: Path
) -> None:
    """The one mark that an old copy cannot take back would be written over by that copy, or by a drill, and
    the real log freeze.
    """
    marks = tmp_path / "disk" / "high-water"
    marks.parent.mkdir()
    field, _ = after(founding)
    home = field.ledger.settings.home
    field.ledger.database.close()
    known = {name: getattr(field.ledger.settings, name) for name in ("requests_per_key", "answer_within_s")}
    settings = Settings(
        home=home, origin=field.ledger.settings.origin, address="https://ledger.example", founding="open",
        database=field.ledger.settings.database, high_water=str(marks), **known,
    )  # fmt: skip
    (home / SETTINGS_FILE).write_text(settings.text(), "utf-8")
    again = served(home, field)
    publish(again)
    run("backup", "--home", home, "--to", tmp_path / "copy")
    again.open_form()
    publish(again)
    before = marks.read_bytes()
    again.ledger.database.close()
    new = restored(field, ground, tmp_path / "copy")
    run("repair", "--home", new, "--from", home, "--yes")
    drill = served(new, field)
    drill.memory = again.memory
    drill.open_form()
    publish(drill)
    drill.ledger.database.close()
    assert marks.read_bytes() == before
    assert (new / "high-water").read_bytes().startswith(before)


@pytest.mark.parametrize("ground", ["postgresql"], indirect=True)
def test_a_database_of_two_servers_is_copied_from_the_one_that_writes(ground: Ground, tmp_path: Path) -> None:
    """No backup where a standby stands ready, and nobody knows before the day it is needed.

    libpq, Connection Strings: several hosts and ports are lists parted by commas.
    """
    one = sa.make_url(str(ground.empty()))
    folder = one.query["host"]
    two = one.set(
        query={"host": (f"{folder}:5432", "/nowhere:1"), "target_session_attrs": "read-write"}, password="x"
    )
    address, environment = copying._of_libpq(two)
    assert "5432,1" in address
    assert "password" not in address
    assert environment["PGPASSWORD"] == "x"
    database = Database(two.render_as_string(hide_password=False))
    name = copying.copy(database, tmp_path)
    database.close()
    assert (tmp_path / name).read_bytes().startswith(b"PGDMP")


def test_a_database_that_cannot_be_copied_is_said_in_one_sentence(tmp_path: Path) -> None:
    """A traceback on the day of the backup, and nobody knows whether there is one."""
    (tmp_path / "bad.sqlite").write_bytes(b"no database" * 100)
    with pytest.raises(Unavailable) as raised:
        copying.put_back(tmp_path / "ledger.dump", sa.make_url("postgresql+psycopg://nobody@127.0.0.1:1/x"))
    assert raised.value.code in {"copy-failed", "no-program"}
