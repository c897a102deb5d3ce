"""A whole application over each kind of database."""

from __future__ import annotations

from pathlib import Path

import pytest
from field import Field, make_home


@pytest.fixture
def field(tmp_path: Path, database_url: str) -> Field:
    """Firm, laboratory and everybody in them, before a real application."""
    return Field(make_home(tmp_path / "home", database_url))
