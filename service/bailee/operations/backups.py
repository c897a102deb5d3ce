"""A copy of a whole ledger in a folder, and a home made of it that signs nothing until it was compared.

In the copy are the database, the settings, the high-water file and the newest checkpoint, and a list of them
with their digests. The database comes first and the marks after it, so that no mark is older than the copy.
The log's key is never in it: copies travel, and who has the key can begin a second history.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa

from bailee import __version__
from bailee.config import RESTORED_FILE, SETTINGS_FILE, Settings, database_in, load
from bailee.disk import durable, replacing
from bailee.domain.moments import Moment
from bailee.errors import Broken, Malformed, Unavailable
from bailee.frozen import frozen
from bailee.ledger.base64url import b64u, unb64u
from bailee.operations import maintenance
from bailee.operations.erasing import UNKNOWN_FILE
from bailee.store import copying, leases, tree
from bailee.store.database import Database

LIST_FILE: Final = "backup.json"
_FORMAT: Final = "bailee-backup/1"
_NEWEST_FILE: Final = "backed-up"
"""In the home: when it was last backed up."""
_HIGH_WATER: Final = "high-water"
_CHECKPOINT: Final = "checkpoint"
_DATABASE_LINE: Final = re.compile(r"^database *=.*$", re.MULTILINE)
_OF_THE_ORIGINAL: Final = re.compile(r"^(high_water|log_key) *=.*$", re.MULTILINE)
"""What a copy must not reach by itself: a drill would sign with the real key, and mark in the real file."""


@frozen
class Backup:
    """What a copy holds: the log with `size` entries that have their place, and perhaps newer ones; `root` is
    of those. `files` are its files by name, each with the SHA-256 of its bytes in hexadecimal.
    """

    format: str
    origin: str
    log_key: str
    made: str
    program: str
    database: str
    size: int
    root: str
    files: Mapping[str, str]


def make(settings: Settings, database: Database, log_key: str, to: Path, now: Moment) -> Backup:
    """Copy a ledger into the new folder `to`, also beside a running service; on the disk when this returns.

    Raises `Malformed` ("folder-exists"), `Unavailable` as `copying.copy` does. A copy that did not come to
    its end has another name.
    """
    _require_new(to)
    with _folder(to) as folder:
        with database.reading() as connection:
            size = tree.size(connection)
            root = tree.root_at(connection, size) or b""
        name = copying.copy(database, folder)
        _copied(settings.home / SETTINGS_FILE, folder / SETTINGS_FILE)
        for source, kept in (
            (settings.high_water_file, _HIGH_WATER),
            (_shown(settings), _CHECKPOINT),
            (settings.home / UNKNOWN_FILE, UNKNOWN_FILE),
        ):
            if source.exists():
                _copied(source, folder / kept)
        digests = {each.name: _digest(each) for each in sorted(folder.iterdir())}
        made = Backup(
            _FORMAT, settings.origin, log_key, now.text(), __version__, name, size, b64u(root), digests
        )
        durable.write(folder / LIST_FILE, (json.dumps(asdict(made), indent=1) + "\n").encode())
    durable.write(settings.home / _NEWEST_FILE, made.made.encode())
    return made


def age_s(home: Path, now: datetime) -> float | None:
    """Seconds since the newest backup of this home; None when none is known."""
    try:
        made = Moment.parse((home / _NEWEST_FILE).read_text("ascii"))
    except (OSError, ValueError, Malformed):
        return None
    return max(0.0, (now - made.instant).total_seconds())


def read(folder: Path) -> Backup:
    """What is in a copy, every file as it was written.

    Raises `Malformed` ("no-backup") where there is none, `Broken` ("backup-harmed") when a file is missing or
    changed.
    """
    try:
        told: dict[str, Any] = json.loads((folder / LIST_FILE).read_text("utf-8"))
        found = Backup(**told)
        is_ours = _is_well_formed(found)
        names = {found.database, SETTINGS_FILE}
    except (OSError, ValueError, TypeError, AttributeError, RecursionError):
        is_ours, names = False, set()
    if not is_ours:
        raise Malformed(
            f"There is no backup in {folder}: name the folder in which one is whole.", code="no-backup"
        )
    for name in sorted({*found.files, *names}):
        if not re.fullmatch(r"[a-z-]+(\.[a-z]+)?", name):
            raise _harmed(folder, name)
        try:
            is_same = _digest(folder / name) == found.files.get(name)
        except OSError:
            is_same = False
        if not is_same:
            raise _harmed(folder, name)
    return found


def _is_well_formed(told: Backup) -> bool:
    texts = (told.origin, told.log_key, told.made, told.program, told.root, *told.files, *told.files.values())
    return (
        told.format == _FORMAT
        and told.database in (copying.SQLITE_FILE, copying.POSTGRES_FILE)
        and type(told.size) is int
        and all(isinstance(each, str) and each.isprintable() for each in texts)
    )


def restore(folder: Path, home: Path, database: str | None) -> Backup:
    """Make the new home `home` of a copy; `database` is the address of an empty PostgreSQL.

    Its high-water file is its own: what it writes for a drill is never in the way of the home it was made of.
    The newest marks there are stay known, those of the original's file where that is here.

    Raises as `read` does, and `Malformed` ("folder-exists", "no-address"), `Broken` ("backup-harmed") when
    the database has not the root it had, `Unavailable` ("copy-failed", "no-program", "needs-program"). A
    database that was not empty is never touched, and one that was is empty again when this fails.
    """
    found = read(folder)
    _require_new(home)
    if (database is None) != (found.database == copying.SQLITE_FILE):
        raise Malformed(
            "This backup is of a PostgreSQL: name the address of an empty one."
            if database is None
            else "This backup is of SQLite, whose file comes into the new folder: name no address.",
            code="no-address",
        )
    address = database or f"sqlite:///{copying.SQLITE_FILE}"
    with copying.undone() as undone, _folder(home) as made:
        before = (folder / SETTINGS_FILE).read_text("utf-8")
        line = f"database = {json.dumps(address)}"
        text = _DATABASE_LINE.sub(lambda _: line, before, count=1)
        replacing.create(made / SETTINGS_FILE, text.encode())
        marks = load(made, {}).high_water_file  # on a disk of its own, or nowhere yet
        durable.write(made / SETTINGS_FILE, _OF_THE_ORIGINAL.sub(r'\1 = ""', text).encode())
        settings = load(made, {})
        url = sa.engine.make_url(database_in(made, address))
        copying.put_back(folder / found.database, url)
        undone.append(url)
        _take_over(Database(settings.database, pooler=settings.pooler), found, folder)
        kept = next((each for each in (marks, folder / _HIGH_WATER) if each.exists()), None)
        if kept:
            _copied(kept, settings.high_water_file)
        if (folder / UNKNOWN_FILE).exists():
            _copied(folder / UNKNOWN_FILE, made / UNKNOWN_FILE)
        durable.write(made / RESTORED_FILE, (json.dumps({"made": found.made, "size": found.size})).encode())
    return found


def made_of(home: Path) -> str:
    """When the backup was made of which this home was made and not compared since; empty for another home."""
    try:
        told = json.loads((home / RESTORED_FILE).read_text("utf-8"))
        return Moment.parse(told["made"]).text()
    except (OSError, ValueError, TypeError, KeyError, Malformed):
        return ""


def _take_over(database: Database, found: Backup, folder: Path) -> None:
    """See that a copy is what it was, of this version, and that nobody of the original leads it."""
    try:
        _bring_to_this_version(database)
        with database.reading() as connection:
            root = tree.root_at(connection, found.size)
        if found.size and root != unb64u(found.root):
            raise _harmed(folder, found.database)
        database.write(leases.leave_all)
    finally:
        database.close()


def _bring_to_this_version(database: Database) -> None:
    """The night's backup is of the version before: on the day after an upgrade it is all there is."""
    try:
        database.require_ready()
    except Unavailable as error:
        if error.code != "needs-migration":
            raise
        database.migrate()
        database.write(maintenance.rebuild)


def _shown(settings: Settings) -> Path:
    return settings.tiles / "checkpoint"


def _require_new(folder: Path) -> None:
    if folder.exists():
        raise Malformed(
            f"{folder} is there already: name a folder that is not. Nothing was changed.",
            code="folder-exists",
        )


@contextmanager
def _folder(final: Path) -> Iterator[Path]:
    """A folder that gets its name when all of it is on the disk; half of one is never taken for a whole."""
    try:
        durable.make_folder(final.parent)
        unfinished = Path(tempfile.mkdtemp(".unfinished", f"{final.name}.", final.parent))
    except OSError as error:
        raise durable.unwritable(final, error) from error
    try:
        yield unfinished
        durable.rename(unfinished, final)
    except OSError as error:
        raise durable.unwritable(final, error) from error
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)


def _copied(source: Path, target: Path) -> None:
    replacing.create(target, source.read_bytes())


def _digest(file: Path) -> str:
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _harmed(folder: Path, name: str) -> Broken:
    return Broken(
        f"The file {name} of the backup in {folder} is missing, or is not what was written: use another"
        " backup. Nothing was changed.",
        code="backup-harmed",
        file=name,
    )
