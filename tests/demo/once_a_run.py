"""What is slow to make and only looked at: made by the first process of a run that needs it, seen by all.

The processes of one run share a folder above their own (pytest-xdist, "Making session-scoped fixtures execute
only once"); a run in one process has nobody to share with.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from bailee.disk import durable


def folder_of(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """A folder that `make` has filled, once in a run."""
    is_alone = "PYTEST_XDIST_WORKER" not in os.environ
    shared = factory.mktemp(name) if is_alone else factory.getbasetemp().parent / name
    with durable.alone(shared.with_name(f"{name}.lock")):
        if not (shared / "made").exists():
            shared.mkdir(exist_ok=True)
            make(shared)
            (shared / "made").touch()
    return shared
