"""What a restore must not pass over: newer files that somebody holds, erasures that no backup knows, another
database that the environment names, a database that is full.

No standard says how; each test holds a sentence of deploy/README.md (common practice, no source).
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
import sqlalchemy as sa
from test_erasing import erase, kept, opened

from bailee.app import wsgi
from bailee.config import LOG_KEY_FILE, load
from bailee.errors import Broken
from bailee.operations import backups
from field import Field
from grounds import Ground, on_any
from hosts.copied_homes import field, own_programs, publish, restored, run, served

__all__ = ["field", "own_programs"]  # fixtures
pytestmark = pytest.mark.slow


@on_any
def test_an_auditor_s_file_is_as_good_as_a_checkpoint(field: Field, ground: Ground, tmp_path: Path) -> None:
    """The laboratory brings the file of last night, and --yes begins a second history that it contradicts."""
    home = field.ledger.settings.home
    form = field.open_form()
    run("backup", "--home", home, "--to", tmp_path / "copy")
    field.rule_out_outdoor(form)
    publish(field)
    (tmp_path / "file").write_text(field.get("clerk", f"/forms/{form}/bundle").text)
    new = restored(field, ground, tmp_path / "copy")
    held = ("repair", "--home", new, "--bundle", tmp_path / "file", "--yes")
    assert (new / "restored.json").exists()
    assert "were brought back, byte for byte" in run(*held)
    other = served(new, field)
    with other.ledger.database.reading() as connection:
        assert connection.execute(sa.text("SELECT count(*) FROM entry")).scalar() == publish(field)
    other.ledger.database.close()


@on_any
def test_erasures_after_the_backup_are_asked_for_until_everybody_has_answered(
    field: Field, ground: Ground, tmp_path: Path
) -> None:
    """A client's name that was erased is read again, and the operator believes that all is as it was."""
    form, statement = opened(field)
    publish(field)
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    made = json.loads((tmp_path / "copy" / "backup.json").read_text())["made"]
    names = kept(field, statement)
    erase(field, f"form/{form}", statement, len(names))
    new = restored(field, ground, tmp_path / "copy")
    said = run("repair", "--home", new, "--yes")
    assert f"What was erased after {made} comes back with it" in said
    assert "Ask the quality role of every organization for its list" in said
    assert f"bailee erase-again --home {new} --asked" in said
    other = served(new, field)
    assert kept(other, statement) == names
    other.ledger.database.close()
    for words, code in ((("erase-again",), 1), (("check-ledger",), 0), (("erase-again",), 1)):
        assert f"What was erased after {made} can be read here again" in run(*words, "--home", new, code=code)
    run("backup", "--home", new, "--to", tmp_path / "second")
    backups.restore(tmp_path / "second", tmp_path / "newest", ground.empty())
    (tmp_path / "newest" / "restored.json").unlink()
    shutil.copy(new / LOG_KEY_FILE, tmp_path / "newest" / LOG_KEY_FILE)
    assert f"erased after {made} can be read" in run("check-ledger", "--home", tmp_path / "newest")
    (tmp_path / "newest" / "erasures-unknown").write_text("\x1b[2J")
    assert "erased after this copy was made can be" in run("check-ledger", "--home", tmp_path / "newest")
    for words in (("erase-again", "--asked"), ("erase-again",), ("check-ledger",)):
        assert "can be read here again" not in run(*words, "--home", new)


@on_any
def test_no_server_of_any_kind_shows_a_home_that_was_not_compared(
    field: Field,
    ground: Ground,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`bailee serve` refuses, and the production server shows what was erased since."""
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    monkeypatch.setenv("BAILEE_LEDGER", str(restored(field, ground, tmp_path / "copy")))
    monkeypatch.setattr("bailee.log_lines.write_to", lambda _: None)
    with pytest.raises(SystemExit):
        wsgi()
    assert "Nothing of it is shown" in capsys.readouterr().err


@on_any
@pytest.mark.parametrize("name", ["BAILEE_DATABASE", "BAILEE_HIGH_WATER", "BAILEE_LOG_KEY"])
def test_the_environment_of_the_old_home_is_not_taken_for_that_of_the_new_one(
    field: Field, ground: Ground, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """A drill in the operator's usual shell would repair the real database, write into the real marks, or
    sign with the real key.
    """
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    real = tmp_path / "real"
    with monkeypatch.context() as patched:
        patched.setenv(name, f"sqlite:///{real}" if name == "BAILEE_DATABASE" else str(real))
        said = run(*("restore", "--from", tmp_path / "copy", "--home", tmp_path / "restored"), *_at(ground))
        assert f"{name} is set here, for another home" in said
        for words in ("repair", "check-ledger", "erase-again", "serve"):
            refused = run(words, "--home", tmp_path / "restored", code=2)
            assert f"{name} names " in refused
            assert f"unset {name}" in refused
    assert not real.exists()


def _at(ground: Ground) -> tuple[str, ...]:
    address = ground.empty()
    return ("--database", address) if address else ()


def test_a_credential_of_the_real_service_is_not_the_key_of_a_drill(tmp_path: Path) -> None:
    """A drill run as the service's user would sign a second history with the real key."""
    given = tmp_path / "given"
    given.mkdir()
    (given / "log.key").write_text("the real one")
    said = "origin = 'x/log'\naddress = 'http://127.0.0.1:1'\ndatabase = 'sqlite:///l.sqlite'\nlog_key = ''\n"
    (tmp_path / "settings.toml").write_text(said)
    (tmp_path / "restored.json").write_text("{}")
    here = {"CREDENTIALS_DIRECTORY": str(given)}
    assert load(tmp_path, here).log_key_place == str(tmp_path / "log.key")
    (tmp_path / "restored.json").unlink()  # as `bailee repair` does
    assert load(tmp_path, here).log_key_place == str(given / "log.key")


@pytest.mark.parametrize("address", ["u:two@h/e", "u:t@two@h/e", "h/e?user=u&password=two", "u:t?two@h/e"])
def test_no_password_is_said_of_a_database(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    """The operator sends the sentence to somebody who helps, with the key to every address in it."""
    (tmp_path / "restored.json").write_text("{}")
    settings = (
        "origin = 'x/log'",
        "address = 'http://127.0.0.1:1'",
        "database = 'postgresql+psycopg://u:one@h/d'",
    )
    (tmp_path / "settings.toml").write_text("\n".join(settings))
    monkeypatch.setenv("BAILEE_DATABASE", f"postgresql+psycopg://{address}")
    said = run("repair", "--home", tmp_path, code=2)
    assert "unset BAILEE_DATABASE" in said
    assert "one" not in said.replace("None", "")
    assert "two" not in said


@pytest.mark.parametrize("ground", ["postgresql"], indirect=True)
def test_a_restore_that_failed_leaves_the_database_as_it_was(
    field: Field, ground: Ground, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Something fails when all is in the database, and every further attempt because it is full."""
    field.open_form()
    run("backup", "--home", field.ledger.settings.home, "--to", tmp_path / "copy")
    words = ("restore", "--from", tmp_path / "copy", "--home", tmp_path / "new", *_at(ground))

    def fails(*_: object) -> None:
        raise Broken("It is harmed. Nothing was changed.", code="backup-harmed")

    with monkeypatch.context() as patched:
        patched.setattr(backups, "_take_over", fails)
        assert "It is harmed" in run(*words, code=1)
        assert not (tmp_path / "new").exists()
    run(*words)
    again = run(*words[:4], tmp_path / "newer", *words[5:], code=2)
    assert "is not empty" in again
    assert "dropdb" in again
    assert not (tmp_path / "newer").exists()
    run("check-ledger", "--home", tmp_path / "new", "--log-key", field.ledger.vkey)
