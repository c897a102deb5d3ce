"""A whole database into one file while it is written to, and out of that file into an empty one.

SQLite by its own online backup (https://sqlite.org/backup.html), PostgreSQL by its own programs `pg_dump` and
`pg_restore`: both give the state of one instant.
"""

from __future__ import annotations

import os
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from bailee.disk import replacing, systems
from bailee.errors import Malformed, Unavailable
from bailee.store.database import Database

SQLITE_FILE: Final = "ledger.sqlite"
POSTGRES_FILE: Final = "ledger.dump"


def copy(database: Database, folder: Path) -> str:
    """The database as it is at one instant, in a new file of `folder`, on the disk; the file's name.

    Raises `Unavailable` ("copy-failed", "no-program").
    """
    name = SQLITE_FILE if database.is_sqlite else POSTGRES_FILE
    replacing.create(folder / name, b"")
    if database.is_sqlite:
        _sqlite(str(database.url.database), folder / name)
    else:
        address, environment = _of_libpq(database.url)
        _run(["pg_dump", "--format=custom", f"--file={folder / name}", f"--dbname={address}"], environment)
    with (folder / name).open("rb") as file:
        systems.force(file.fileno())
    return name


def put_back(file: Path, url: sa.URL) -> None:
    """What `copy` made, into an empty database of the same kind: all of it, or nothing.

    Raises `Unavailable` ("copy-failed", "no-program"), `Malformed` ("not-empty") for a database with anything
    in it, which stays as it is.
    """
    if file.name == SQLITE_FILE:
        target = Path(str(url.database))
        replacing.create(target, b"")
        _sqlite(str(file), target)
        return
    _require_empty(url)
    address, environment = _of_libpq(url)
    said = ["--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges"]
    _run(["pg_restore", *said, f"--dbname={address}", str(file)], environment)


@contextmanager
def undone() -> Iterator[list[sa.URL]]:
    """Whatever comes into the list was empty before `put_back`, and is again if what follows fails."""
    filled: list[sa.URL] = []
    try:
        yield filled
    except BaseException:
        for url in filled:
            if url.get_backend_name() == "postgresql":
                _empty_again(url)
        raise


def _require_empty(url: sa.URL) -> None:
    try:
        with _connected(url) as connection:
            there = [*_tables(connection), *_functions(connection)]
    except sa.exc.SQLAlchemyError as error:
        said = next(iter(str(error).splitlines()), type(error).__name__)
        raise _failed(said) from error
    name = url.database
    if there:
        raise Malformed(
            f"The database {name} is not empty ({there[0]}): name an empty one, or drop and create it again"
            f" (`dropdb {name}`, `createdb {name}`) if nothing in it is needed. Nothing was changed.",
            code="not-empty",
        )


def _empty_again(url: sa.URL) -> None:
    try:
        with _connected(url) as connection:
            for kind, names in (("TABLE", _tables(connection)), ("FUNCTION", _functions(connection))):
                for name in names:
                    connection.execute(sa.text(f"DROP {kind} IF EXISTS {name} CASCADE"))
    except sa.exc.SQLAlchemyError as error:
        raise Unavailable(
            f"The database {url.database} holds what was put back, though this failed: drop and create it"
            f" again (`dropdb {url.database}`, `createdb {url.database}`), then type this again.",
            code="copy-failed",
        ) from error


@contextmanager
def _connected(url: sa.URL) -> Iterator[sa.Connection]:
    engine = sa.create_engine(url, poolclass=sa.NullPool)
    try:
        with engine.begin() as connection:
            yield connection
    finally:
        engine.dispose()


def _tables(connection: sa.Connection) -> list[str]:
    quoted = sa.inspect(connection).dialect.identifier_preparer.quote
    return [quoted(name) for name in sa.inspect(connection).get_table_names()]


def _functions(connection: sa.Connection) -> list[str]:
    """Those of the schema, but not of an extension."""
    own = """
        SELECT p.oid::regprocedure::text FROM pg_proc p
        WHERE p.pronamespace = current_schema()::regnamespace
        AND NOT EXISTS (SELECT FROM pg_depend d WHERE d.objid = p.oid AND d.deptype = 'e')"""
    return list(connection.execute(sa.text(own)).scalars())


def _sqlite(source: str, target: Path) -> None:
    try:
        with closing(sqlite3.connect(source)) as old, closing(sqlite3.connect(target)) as new:
            old.backup(new)
            new.execute("PRAGMA journal_mode=DELETE")  # one file, whole in itself
    except sqlite3.Error as error:
        raise _failed(f"{source} cannot be copied to {target} ({error})") from error


def _of_libpq(url: sa.URL) -> tuple[str, dict[str, str]]:
    """The address as PostgreSQL's own programs read it, and its password where no list of processes shows
    it.

    Of several servers hosts and ports are lists of their own there (libpq, 34.1.1.3).
    """
    from psycopg.conninfo import make_conninfo

    _, words = url.get_dialect()().create_connect_args(url)
    password = {"PGPASSWORD": str(words.pop("password"))} if words.get("password") else {}
    return make_conninfo(**words), {**os.environ, **password}


def _run(command: list[str], environment: dict[str, str]) -> None:
    try:
        done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)  # noqa: S603 - our own words
    except FileNotFoundError as error:
        raise Unavailable(
            f"The program {command[0]} is not installed here: install the PostgreSQL client of your server's"
            " version, then type this again. Nothing was changed.",
            code="no-program",
        ) from error
    if done.returncode:
        said = next(iter(done.stderr.strip().splitlines()), f"it ended with {done.returncode}")
        raise _failed(said)


def _failed(said: str) -> Unavailable:
    return Unavailable(f"The database was not copied: {said}.".replace("..", "."), code="copy-failed")
