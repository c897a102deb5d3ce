"""A home is served, or the operator changes what lies under the service: never both at once.

A service holds a file of its home as long as it runs, together with the other processes of that home. Who
changes tables, indexes or entries under it asks for that file alone. A dead process lets go by dying.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from bailee.disk import durable
from bailee.errors import Unavailable

CODE: Final = "ledger-in-use"
_FILE: Final = "serving.lock"


@contextmanager
def served(home: Path) -> Iterator[None]:
    """While the service runs. Raises `Unavailable` (`ledger-in-use`) while it is `stopped`."""
    with durable.beside(home / _FILE) as got:
        if not got:
            raise Unavailable(
                "The operator is working on this ledger (migrate, rebuild or repair): start the service again"
                " when that has ended.",
                code=CODE,
            )
        yield


@contextmanager
def stopped(home: Path) -> Iterator[None]:
    """While something is changed that a service relies on.

    Raises `Unavailable` (`ledger-in-use`) while it is `served`.
    """
    with durable.alone(home / _FILE, 0) as got:
        if not got:
            raise Unavailable(
                f"A service is running on the ledger in {home}: end it, then type this again. Nothing was"
                " changed.",
                code=CODE,
            )
        yield
