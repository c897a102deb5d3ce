"""The verifier needs nothing but itself: no web, no database, no network."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from bailee.ledger.checkpoint import format_vkey
from bailee.verify import bundle
from log_simulator import LogSimulator, told

HEAVY = (
    "flask",
    "werkzeug",
    "sqlalchemy",
    "alembic",
    "httpx",
    "httpx2",
    "fpdf",
    "PIL",
    "qrcode",
    "jinja2",
    "click",
    "rich",
)

SCRIPT = """
import json, pathlib, sys
from bailee.domain.moments import Moment
from bailee.ledger.checkpoint import parse_vkey
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
given = json.loads(sys.argv[1])
trust = Trust(given["roots"], (parse_vkey(given["log_key"]),))
held = bundle.read(pathlib.Path(given["file"]).read_bytes())
found = verify(held, trust, Moment.parse("2026-12-03T09:00:00+00:00"))
print(json.dumps({"state": found.state, "faults": len(found.faults), "modules": sorted(sys.modules)}))
"""


@pytest.fixture(scope="module")
def given(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A bundle in a file and what the auditor brings, as one argument."""
    log: LogSimulator = told()
    file = tmp_path_factory.mktemp("bundles") / "form.json"
    file.write_text(bundle.write(log.bundle()))
    return json.dumps(
        {"file": str(file), "roots": dict(log.trust().roots), "log_key": format_vkey(log.log_vkey)}
    )


def run(given: str, *before: str) -> dict[str, object]:
    """Verify in a process of its own."""
    done = subprocess.run(
        [*before, sys.executable, "-c", SCRIPT, given], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    answer: dict[str, object] = json.loads(done.stdout)
    return answer


def test_verifying_loads_no_web_no_database_and_no_terminal(given: str) -> None:
    """The auditor's laptop would need the whole server to check one file."""
    modules = run(given)["modules"]
    assert isinstance(modules, list)
    assert [name for name in modules if name.split(".")[0] in HEAVY] == []


def test_verifying_needs_no_network(given: str) -> None:
    """A verifier that asks somebody would tell them who is being audited, and would believe
    what they answer.
    """
    unshare = shutil.which("unshare")
    if (
        unshare is None
        or subprocess.run([unshare, "--net", "true"], capture_output=True, check=False).returncode
    ):
        pytest.skip("unshare --net is not allowed here")
    answer = run(given, unshare, "--net")
    assert (answer["state"], answer["faults"]) == ("intact, not cosigned", 0)


def test_the_verifier_reads_no_clock() -> None:
    """The same file would be judged differently tomorrow, and nobody could repeat today's answer."""
    folder = Path(bundle.__file__).parent
    for file in folder.glob("*.py"):
        text = file.read_text()
        assert not [
            word
            for word in ("now(", "today(", "time.time", "import time\n", "environ", "urlopen", "socket")
            if word in text
        ]
