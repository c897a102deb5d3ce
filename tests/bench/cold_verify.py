"""A cold `bailee verify` of a form of 40 statements, beside an interpreter that only imports what no verifier
can do without.

    python tests/bench/cold_verify.py [--rounds 15]

Both run in turn as fresh processes, after one of each that nobody counts: modules are compiled then, as an
installer compiles them. Prints medians, the smaller of wall and processor time, and the ratio (goal: at most
4.0).
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from machine import card

from bailee.store.database import Database
from field import Field, make_home

STATEMENTS = 40
BASE = (
    "import json, hashlib, argparse; "
    "from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey"
)
HELD = {"secured": "locked", "where": "laboratory", "since": "2026-12-02T10:35:00-06:00"}


def bundle(folder: Path) -> tuple[Path, list[str]]:
    """The auditor's file of a faultless form of 40 statements, and what an auditor brings along."""
    url = f"sqlite:///{folder}/ledger.sqlite"
    Database(url).migrate()
    field = Field(make_home(folder / "home", url))
    form, _, samples, _ = field.faultless()
    length, _ = field.head(f"form/{form}")
    for _ in range(STATEMENTS - length):
        field.act("dock", f"form/{form}", "held", {**HELD, "samples": samples})
    path = folder / "bundle.json"
    path.write_text(field.get("dock", f"/forms/{form}/bundle").text)
    roots = [part for org, root in field.roots.items() for part in ("--root", f"{org}={root.key.kid}")]
    field.ledger.database.close()
    return path, [*roots, "--log-key", field.ledger.vkey]


def run(command: list[str], compiled: str) -> tuple[float, float]:
    """Wall and processor milliseconds of one process, whose compiled modules are kept in a folder."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    kept["PYTHONPYCACHEPREFIX"] = compiled
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.perf_counter()
    done = subprocess.run(command, capture_output=True, check=False, env=kept)
    wall = time.perf_counter() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode == 0, done.stderr.decode()
    return wall * 1000, (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime) * 1000


def main() -> int:
    """Measure and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=15)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path, trust = bundle(Path(folder))
        commands = {
            "verify": [sys.executable, "-m", "bailee_cli.main", "verify", str(path), *trust],
            "base": [sys.executable, "-c", BASE],
        }
        times: dict[str, list[tuple[float, float]]] = {name: [] for name in commands}
        compiled = str(Path(folder) / "compiled")
        for command in commands.values():
            run(command, compiled)
        for number in range(asked.rounds):
            for name in commands if number % 2 else reversed(list(commands)):
                times[name].append(run(commands[name], compiled))
    wall = {name: statistics.median(each[0] for each in found) for name, found in times.items()}
    cpu = {name: min(each[1] for each in found) for name, found in times.items()}
    print(card())
    for name in commands:
        print(f"{name:7} median {wall[name]:6.1f} ms wall, least {cpu[name]:6.1f} ms processor")
    print(f"ratio {min(wall['verify'] / wall['base'], cpu['verify'] / cpu['base']):.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
