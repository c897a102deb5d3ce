"""A short run of `two_hosts.py`; the long one is run by hand: 1,000 faults in parts."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

from thorough import often

FAULTS: Final = often(3, thorough=30)


@pytest.mark.slow
def test_two_hosts_that_fail_lose_nothing_acknowledged_and_sign_one_history() -> None:
    """A burnt power supply would cost a laboratory samples, or its log would tell two stories."""
    program = Path(__file__).with_name("two_hosts.py")
    done = subprocess.run(
        [sys.executable, program, "--faults", str(FAULTS), "--parts", "1", "--seed", "3", "--no-older"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    told = json.loads(done.stdout.splitlines()[-1])
    assert sum(told["faults"].values()) >= FAULTS
    assert told["acknowledged"] > 0
    assert told["checkpoints"] > 1
    assert (told["lost"], told["not_continuing"], told["fell"]) == (0, 0, 0)
