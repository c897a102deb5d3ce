"""What every test may ask for: real databases made by migration, a ledger over each."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import sqlalchemy as sa
from hypothesis import settings
from sqlalchemy.pool import NullPool

import compiled_once
import programs
from bailee.store.database import Database
from field import Field, Visited, make_home
from grounds import After, Ground, PostgresGround, SqliteGround, Story, founding, superuser_of
from own_postgres import OwnPostgres
from thorough import often
from whole_run import whole_files
from whole_run.left_out import pytest_terminal_summary  # noqa: F401

if TYPE_CHECKING:
    from playwright.sync_api import Browser

# What was unpacked is found like what is installed, by tests and by the programs that they start.
os.environ["PATH"] = os.pathsep.join([os.environ["PATH"], *programs.folders()])

# Thousands of tests are collected and stay: looking through them for garbage again and again took a fifth of
# the time of collecting them, and would go on with every test.
gc.disable()

# Reading a line at a terminal leaves its width in the environment of every process started after it; screens
# have theirs of each test.
os.environ.pop("COLUMNS", None)

compiled_once.install()

# The same examples on every run and every machine: a red build can be repeated.
settings.register_profile("ci", derandomize=True, deadline=None, max_examples=often(20, thorough=100))
settings.load_profile("ci")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """The longest first: one worker alone would still be at the last of them when the others have nothing
    left. Drills only when somebody names them.
    """
    named = {(config.invocation_params.dir / each.partition("::")[0]).resolve() for each in config.args}
    if "drill" not in config.getoption("markexpr"):
        left = [each for each in items if each.get_closest_marker("drill") and each.path not in named]
        config.hook.pytest_deselected(items=left)
        items[:] = [each for each in items if each not in left]
    whole_files.in_order(items)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> whole_files.WholeFiles | None:
    """How `tests/run` shares them out."""
    return whole_files.WholeFiles(config, log) if config.getvalue("dist") == "loadfile" else None


def pytest_collection_finish() -> None:
    """What there is now stays to the end; what comes from now on is looked through."""
    gc.freeze()
    gc.enable()
    gc.set_threshold(50_000)  # as the program does: by ones, a tenth of the time of tests went into it


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium driven by Playwright, one for all tests of a worker; skips where there is none."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        found = programs.started_browser(playwright)
        yield found
        found.close()


@pytest.fixture(scope="session")
def postgres() -> Iterator[OwnPostgres]:
    """A PostgreSQL server of our own with one migrated template database."""
    server = OwnPostgres()
    engine = sa.create_engine(server.url(), isolation_level="AUTOCOMMIT", poolclass=NullPool)
    with engine.connect() as connection:
        connection.execute(sa.text("CREATE DATABASE migrated TEMPLATE template0"))
    template = Database(server.url("migrated"))
    template.migrate()
    template.close()
    yield server
    superuser_of(server).dispose()
    server.stop()


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.slow)])
def ground(request: pytest.FixtureRequest) -> Iterator[Ground]:
    """The kind of database: each test that asks runs on SQLite and on PostgreSQL."""
    if request.param == "sqlite":
        yield SqliteGround()
        return
    found = PostgresGround(request.getfixturevalue("postgres"))
    yield found
    found.close()


@pytest.fixture
def database(ground: Ground, tmp_path: Path) -> Iterator[Database]:
    """A fresh, migrated database of each kind."""
    found = Database(ground.new(tmp_path))
    yield found
    found.close()


@pytest.fixture
def make_field(tmp_path: Path, ground: Ground) -> Iterator[Callable[..., Field]]:
    """Makes a firm and a laboratory before a real application, perhaps with settings of its own."""
    made: list[Field] = []

    def make(*, start: bool = True, **settings: Any) -> Field:
        if start:
            made.append(ground.after(founding, tmp_path, **settings)[0])
        else:
            home = make_home(tmp_path / "home", ground.new(tmp_path), **settings)
            made.append(Field(home, start=False))
        return made[-1]

    yield make
    for each in made:
        each.ledger.database.close()


@pytest.fixture
def after(tmp_path: Path, ground: Ground) -> Iterator[After]:
    """Makes a field in which a story has happened, which was played once in a process."""
    made: list[Field] = []

    def make(story: Story) -> tuple[Field, Any]:
        field, told = ground.after(story, tmp_path)
        made.append(field)
        return field, told

    yield make
    for each in made:
        each.ledger.database.close()


@pytest.fixture
def field(make_field: Callable[..., Field]) -> Field:
    """Firm, laboratory and everybody in them, before a real application over each kind of database."""
    return make_field()


@pytest.fixture
def visited(after: After) -> Visited:
    """The same after a whole faultless visit: form, envelope, samples, seal."""
    return after(Field.faultless)
