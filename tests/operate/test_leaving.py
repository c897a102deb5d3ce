"""How a process ends: what it led is free at once (common practice, no source)."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.pool import NullPool

from field import Field, make_home
from grounds import migrated

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"


@pytest.mark.slow
def test_gunicorn_leaves_the_lead_when_it_ends(tmp_path: Path) -> None:
    """With every deploy nothing would be published until the lease of a process that is gone runs out."""
    url = migrated(tmp_path / "ledger.sqlite")
    settings = make_home(tmp_path / "home", url, lease_ms=600_000)
    (settings.home / "settings.toml").write_text(settings.text(), "utf-8")
    field = Field(settings)  # something waits to be published
    field.ledger.database.close()
    engine = sa.create_engine(url, poolclass=NullPool)

    def until() -> int:
        with engine.connect() as connection:
            return int(connection.execute(sa.text("SELECT until FROM log_state")).scalar_one())

    process = subprocess.Popen(
        [sys.executable, "-m", "gunicorn", "--config", str(DEPLOY / "gunicorn.conf.py"), "bailee.app:wsgi()"],
        env=os.environ | {"BAILEE_LEDGER": str(settings.home), "LISTEN": "127.0.0.1:0"},
    )
    try:
        while not until():
            assert process.poll() is None
            time.sleep(0.05)
    finally:
        process.terminate()
        assert process.wait() == 0
    assert until() == 0


@pytest.mark.slow
def test_a_service_that_is_told_of_the_folder_of_keys_alone_makes_nothing_in_it(tmp_path: Path) -> None:
    """A ledger would be looked for, or begun, among people's keys; and a script from before would end in a
    traceback (common practice, no source).
    """
    done = subprocess.run(
        [sys.executable, "-m", "gunicorn", "--config", str(DEPLOY / "gunicorn.conf.py"), "bailee.app:wsgi()"],
        env=os.environ | {"BAILEE_HOME": str(tmp_path / "keys"), "LISTEN": "127.0.0.1:0"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 4
    assert "Set BAILEE_LEDGER to the ledger's folder" in done.stderr
    assert f"BAILEE_HOME, which is {tmp_path}/keys, is the folder of people's keys" in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.iterdir())
