"""A new version beside the old one: this program is the older one, and a made-up newer one has two migrations
more, which add a column, fill it, and a release later end the older program (expand and contract; common
practice, no source).
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from bailee.app import create_app, unfinished
from bailee.config import SETTINGS_FILE, load
from bailee.errors import Unavailable
from bailee.operations import in_use
from bailee.store import upgrading
from bailee.store.database import Database
from bailee_cli.main import bailee
from field import Field

HEAD = '''"""{says}"""

import sqlalchemy as sa
from alembic import op

revision, down_revision = "{revision}", "{before}"
kind = "{kind}"
locks = "table chain, for the moment in which a column is added; no row is written"


'''
EXPAND = """def upgrade():
    op.add_column("chain", sa.Column("short", sa.String(8), nullable=True))


def fill(connection, most):
    rows = sa.text("SELECT id FROM chain WHERE short IS NULL ORDER BY id LIMIT :most")
    found = connection.execute(rows, {"most": most}).scalars().all()
    row = sa.text("UPDATE chain SET short = substr(name, 1, 8) WHERE id = :id")
    for each in found:
        connection.execute(row, {"id": each})
    return len(found)


def unfilled(connection):
    return connection.execute(sa.text("SELECT 1 FROM chain WHERE short IS NULL LIMIT 1")).first() is not None
"""
MEANWHILE = """def upgrade():
    from bailee.store import upgrading
    upgrading.meanwhile()
    op.add_column("chain", sa.Column("shorter", sa.String(4), nullable=True))
"""
CONTRACT = """def upgrade():
    op.execute("UPDATE program_range SET oldest = '{revision}'")
"""
REFUSE = """def upgrade():
    from bailee.errors import Unavailable
    raise Unavailable("Keep it with the program that wrote it.", code="no-edition")
"""
NEXT, AFTER = (f"{int(upgrading.newest_known()) + more:04}" for more in (1, 2))


class Newer:
    """The made-up newer program: as long as `installed` lasts, it is the one that runs."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder = folder / "newer"
        self._monkeypatch = monkeypatch
        shutil.copytree(upgrading.migrations_folder(), self.folder)
        self.add(NEXT, upgrading.newest_known(), "expand", "Short names of chains.", EXPAND)

    def add(self, revision: str, before: str, kind: str, says: str, body: str) -> None:
        """One migration more."""
        text = HEAD.format(says=says, revision=revision, before=before, kind=kind)
        path = self.folder / "versions" / f"{revision}_made_up.py"
        path.write_text(text + body.replace("{revision}", revision))

    @contextmanager
    def installed(self) -> Iterator[None]:
        """In the place of the older one."""
        with self._monkeypatch.context() as patch:
            patch.setattr(upgrading, "migrations_folder", lambda: self.folder)
            yield


@pytest.fixture
def newer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Newer:
    """A newer program, lying there."""
    return Newer(tmp_path, monkeypatch)


def migrate(field: Field, *words: str) -> Result:
    """The operator's command on the field's home."""
    home = field.ledger.settings.home
    if not (home / SETTINGS_FILE).exists():
        (home / SETTINGS_FILE).write_text(field.ledger.settings.text(), "utf-8")
    return CliRunner().invoke(bailee, ["migrate", "--home", str(home), *words])


def shorts(field: Field) -> list[str | None]:
    """What the newer program's column holds."""
    with field.ledger.database.reading() as connection:
        return list(connection.execute(sa.text("SELECT short FROM chain ORDER BY id")).scalars())


@pytest.mark.parametrize("ground", ["sqlite", "postgresql"], indirect=True)
def test_an_upgrade_that_only_adds_runs_beside_the_service_which_goes_on(
    field: Field, newer: Newer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two hundred firms would wait at forty docks for an operator's night shift."""
    monkeypatch.setattr(upgrading, "BATCH", 2)
    settings = field.ledger.settings
    with in_use.served(settings.home):
        before = field.open_form()
        with newer.installed():
            asked = migrate(field, "--check")
            assert asked.exit_code == 1
            said = " ".join(asked.output.split())
            assert f"{NEXT}, beside a running service: Short names of chains. Locks table chain" in said
            assert "gives up after 2 s" in said
            assert migrate(field).exit_code == 0
            assert None not in shorts(field)
            assert migrate(field, "--check").exit_code == 0
        # The older program, which runs on: it records, and it may even be started anew.
        after = field.open_form()
        with field.ledger.database.reading() as connection:
            upgrading.require_fitting(connection)
        assert shorts(field)[-1] is None
        with newer.installed():
            other = Database(settings.database)
            other.require_ready()
            other.close()
            again = migrate(field, "--check")
            assert again.exit_code == 1
            assert f"{NEXT}, beside a running service: Rows are still to be filled." in again.output
            app = create_app(settings, field.clock)
            assert f"rows of {NEXT} are still to be filled: run `bailee migrate" in unfinished(app)
            assert migrate(field).exit_code == 0  # fills what the older one has added meanwhile
            assert None not in shorts(field)
            assert (migrate(field, "--check").exit_code, unfinished(app)) == (0, "")
            app.extensions["ledger"].database.close()
        for form in (before, after):
            assert field.get("inspector", f"/forms/{form}").status_code == 200
    field.ledger.sequencer.integrate()
    assert field.client.get("/checkpoint").status_code == 200


@pytest.mark.parametrize("ground", ["sqlite", "postgresql"], indirect=True)
def test_an_upgrade_that_takes_away_wants_the_service_stopped_and_ends_the_older_program(
    field: Field, newer: Newer
) -> None:
    """An older program would go on beside a newer one and misread what that one writes."""
    newer.add(AFTER, NEXT, "contract", "Nobody reads the long names.", CONTRACT)
    settings = field.ledger.settings
    with newer.installed():
        with in_use.served(settings.home):
            assert f"{AFTER}, with the service ended on every host" in migrate(field, "--check").output
            refused = migrate(field)
            assert (refused.exit_code, "short" in str(refused.output)) == (3, False)
        assert migrate(field).exit_code == 0
    older = Database(settings.database)
    with pytest.raises(Unavailable) as caught:
        older.require_ready()
    assert caught.value.code == "needs-program"
    older.close()


@pytest.mark.parametrize("ground", ["sqlite"], indirect=True)
def test_a_backup_of_an_older_version_is_restored_by_a_newer_one(
    field: Field, newer: Newer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk breaks on the day after an upgrade, and the last night's backup is told to migrate first."""
    field.open_form()
    assert migrate(field).exit_code == 0
    copy = ["backup", "--home", str(field.ledger.settings.home), "--to", str(tmp_path / "copy")]
    assert CliRunner().invoke(bailee, copy).exit_code == 0
    with newer.installed():
        monkeypatch.setattr(upgrading, "OLDEST_TABLES", NEXT)
        said = migrate(field, "--check").output
        assert NEXT in said
        with pytest.raises(Unavailable, match="make a backup with that one"):
            field.ledger.database.require_ready()
        back = ["restore", "--from", str(tmp_path / "copy"), "--home", str(tmp_path / "new")]
        done = CliRunner().invoke(bailee, back)
        assert done.exit_code == 0, done.output
        restored = Database(load(tmp_path / "new", {}).database)
        restored.require_ready()
        assert restored.pending() == []
        restored.close()


@pytest.mark.parametrize("ground", ["sqlite", "postgresql"], indirect=True)
def test_of_an_upgrade_that_one_step_refuses_nothing_is_left(field: Field, newer: Newer) -> None:
    """The older program would be told to keep the ledger, and find tables that it does not know."""
    newer.add(AFTER, NEXT, "expand", "Nobody reads this one.", REFUSE)
    with newer.installed():
        before = migrate(field, "--check").output
        assert NEXT in before
        assert migrate(field).exit_code == 3
        assert migrate(field, "--check").output == before


def test_a_newer_program_may_be_started_before_the_tables_are_changed(field: Field, newer: Newer) -> None:
    """Whoever installs first and migrates then would have closed the service in between."""
    with newer.installed():
        other = Database(field.ledger.settings.database)
        other.require_ready()
        other.close()


@pytest.mark.parametrize("ground", ["postgresql"], indirect=True)
def test_a_migration_waits_for_nobody_and_then_has_changed_nothing(
    field: Field, newer: Newer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A report that reads for an hour would stop every statement behind the migration that waits for it
    (PostgreSQL, explicit locking: who waits for an exclusive lock is waited for).
    """
    monkeypatch.setattr(upgrading, "LOCK_S", "0.1")
    other = Database(field.ledger.settings.database)
    with newer.installed(), other.reading() as connection:
        connection.execute(sa.text("SELECT count(*) FROM chain")).scalar()
        done = migrate(field)
        assert done.exit_code == 3
        assert "nothing was changed" in " ".join(done.output.split())
    other.close()
    with newer.installed():
        assert migrate(field, "--check").exit_code == 1
        assert migrate(field).exit_code == 0


@pytest.mark.parametrize("ground", ["postgresql"], indirect=True)
def test_of_two_migrations_at_once_one_ends_with_a_sentence(
    field: Field, newer: Newer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two operators upgrade two hosts, and one reads of a broken constraint in the middle of the night."""
    newer.add(AFTER, NEXT, "expand", "Shorter names of chains.", MEANWHILE)
    others: list[Result] = []

    def meanwhile() -> None:
        if not others:
            others.append(migrate(field))

    monkeypatch.setattr(upgrading, "meanwhile", meanwhile, raising=False)
    with newer.installed():
        done = migrate(field)
        assert done.exit_code == 0, done.output
        assert others[0].exit_code == 3
        assert "Another `bailee migrate` is at work" in " ".join(others[0].output.split())
        assert migrate(field).exit_code == 0


@pytest.mark.parametrize("ground", ["sqlite"], indirect=True)
def test_a_statement_that_comes_during_a_migration_waits_for_it(
    field: Field, newer: Newer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On the office box an upgrade would end in "database is locked" whenever somebody signs at that moment
    (SQLite, isolation: who began by reading may not write once another has).
    """
    newer.add(NEXT, upgrading.newest_known(), "expand", "Shorter names of chains.", MEANWHILE)
    waits: list[str] = []

    def meanwhile() -> None:
        with closing(sqlite3.connect(str(field.ledger.database.url.database), timeout=0)) as other:
            try:
                other.execute("UPDATE chain SET name = name")
                other.commit()
            except sqlite3.OperationalError as error:
                waits.append(str(error))

    monkeypatch.setattr(upgrading, "meanwhile", meanwhile, raising=False)
    with newer.installed():
        done = migrate(field)
    assert done.exit_code == 0, done.output
    assert waits == ["database is locked"]


@pytest.mark.parametrize("words", [(), ("--check",)])
def test_a_database_that_is_away_is_said_in_one_sentence(tmp_path: Path, words: tuple[str, ...]) -> None:
    """The operator reads a page of a program's inside, and does not know whether anything was changed."""
    said = (
        "origin = 'x/log'",
        "address = 'http://127.0.0.1:1'",
        "database = 'postgresql+psycopg:///x?host=/no'",
    )
    (tmp_path / SETTINGS_FILE).write_text("\n".join(said))
    done = CliRunner().invoke(bailee, ["migrate", "--home", str(tmp_path), *words])
    assert done.exit_code == 3
    assert "database" in done.output
    assert "Traceback" not in done.output


def test_after_an_upgrade_the_operator_is_told_to_make_the_indexes_anew(field: Field) -> None:
    """A result that was requested before the upgrade would never be due: older indexes do not know of it."""
    said = " ".join(migrate(field).output.split())
    assert f"run `bailee rebuild --home {field.ledger.settings.home}` once" in said
