"""The home of a ledger on this machine: its settings, its database, the parts of a service."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bailee.errors import Unavailable

if TYPE_CHECKING:
    from bailee.config import Settings
    from bailee.store.database import Database

HOME: Final = click.option(
    "--home", required=True, type=click.Path(file_okay=False, path_type=Path), help="Folder of the ledger."
)


def settings_of(home: Path) -> Settings:
    """The settings of a home. Raises `Malformed` and `Unavailable`."""
    from bailee.config import load

    return load(home)


def database_of(home: Path) -> Database:
    """The database of a home. Raises `Unavailable`."""
    from bailee.store.database import Database

    settings = settings_of(home)
    database = Database(settings.database, pooler=settings.pooler)
    database.require_ready()
    return database


@contextmanager
def server_parts() -> Iterator[None]:
    """Turn a missing part of the server into a sentence."""
    try:
        yield
    except ModuleNotFoundError as error:
        raise Unavailable(
            f"To run a service, in the checkout: pip install '.[server]' ({error.name} is missing).",
            code="no-server",
        ) from error


def erasures_unknown(home: Path) -> str:
    """What is to be done where a backup went on as the ledger and nobody knows what was erased since; empty
    elsewhere.
    """
    from bailee.operations import erasing

    since = erasing.unknown_since(home)
    return since and (
        f"What was erased after {since} can be read here again, and no entry shows what it was. Ask the"
        " quality role of every organization for its list: each erases again what is on it. When all have"
        f" answered: bailee erase-again --home {home} --asked"
    )
