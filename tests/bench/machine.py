"""The card that goes with every figure: what it was measured on."""

from __future__ import annotations

import os
import platform
import sqlite3
from importlib.metadata import version


def card() -> str:
    """Processor count, load, Python and the libraries that decide the speed."""
    load = os.getloadavg()[0]
    parts = [f"{name} {version(name)}" for name in ("cryptography", "sqlalchemy", "flask", "waitress")]
    return (
        f"{os.cpu_count()} CPUs, load {load:.1f}, {platform.machine()}, Python {platform.python_version()}, "
        f"SQLite {sqlite3.sqlite_version}, {', '.join(parts)}"
    )
