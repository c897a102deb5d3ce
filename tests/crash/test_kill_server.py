"""A short run of `kill_server.py`; the long one is run by hand: 2,000 statements, both databases."""

import re
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

from thorough import often

COUNT: Final = often(100, thorough=400)


@pytest.mark.slow
@pytest.mark.parametrize("engine", [[], ["--postgres"]], ids=["sqlite", "postgresql"])
def test_a_killed_server_loses_no_acknowledged_statement(engine: list[str]) -> None:
    """An inspector whose phone said "recorded" must never learn later that it was not."""
    program = Path(__file__).with_name("kill_server.py")
    done = subprocess.run(
        [sys.executable, program, "--statements", str(COUNT), *engine],
        capture_output=True,
        text=True,
        timeout=1200,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{COUNT} statements acknowledged" in done.stdout
    assert re.search(r" [1-9]\d* kills", done.stdout), done.stdout
    assert " 0 faults" in done.stdout
