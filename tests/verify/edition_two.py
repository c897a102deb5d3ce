"""A made-up edition 2 of the rule book: a copy of the program, changed as the recipe in DEVELOPERS.md says,
and run.

It has one threshold more and another default for an old one, one act more, one member more, and a rule that
reads them. The file that it writes is read by the program as it is, and it reads the files of this one.

    python edition_two.py write FILE    writes the auditor's file of a visit opened under edition 2
    python edition_two.py read FILE     says as JSON what it makes of a file
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

TESTS = Path(__file__).resolve().parents[1]
_RULE = '''

@rule("CU-90", "Aired rooms", "warn", "custody", "made up", "Air no room.", edition=2)
def aired(case: Case) -> Iterator[Hit]:
    """Every form on which it was said how often rooms were aired, or was not said."""
    for form in case.forms.values():
        yield Hit(form.number, f"Aired at most {case.policy(form).airings} times.")
'''
_CHANGES = {
    "domain/fields.py": [("EDITION: Final = 1\n", "EDITION: Final = 2\n")],
    "domain/policy.py": [
        (
            "    copy_h: Annotated[",
            (
                '    airings: Annotated[Whole, Meaning("CU-90", "Airings.", "lower", edition=2)] = 4\n   '
                " copy_h: Annotated["
            ),
        ),
        (
            'Meaning("SL-01", "Minimum indoor locations on a visit.", "higher")',
            'Meaning("SL-01", "Different places indoors wanted.", "higher", changed=((2, 5),))',
        ),
    ],
    "domain/acts/form/custody_acts.py": [
        (
            "class Relinquished(Facts):",
            'class Aired(Facts):\n    """A room was aired."""\n\n    at: At\n\n\nclass Relinquished(Facts):',
        ),
    ],
    "domain/acts/form/visit_acts.py": [
        ("    growth_reason: (", "    airer: Tag | None = None\n    growth_reason: ("),
    ],
    "domain/acts/form/__init__.py": [
        ("    Acknowledged,\n    ClosedAgain,", "    Acknowledged,\n    Aired,\n    ClosedAgain,"),
    ],
    "domain/acts/table.py": [
        (
            '    Row("relinquished"',
            '    Row("aired", "form", form.Aired, HOLDERS, other_times=("at",)),\n    Row("relinquished"',
        ),
    ],
    "rules/checks/custody.py": [],
}


def made(folder: Path) -> Path:
    """The program of edition 2, in this folder."""
    copy = folder / "bailee"
    shutil.copytree(
        TESTS.parent / "service" / "bailee",
        copy,
        ignore=shutil.ignore_patterns("__pycache__", "static", "guides"),
    )
    for name, changes in _CHANGES.items():
        file = copy / name
        text = file.read_text("utf-8")
        for old, new in changes:
            assert text.count(old) == 1, (name, old)
            text = text.replace(old, new)
        file.write_text(text + (_RULE if name.endswith("custody.py") else ""), "utf-8")
    return folder


def run(program: Path, *arguments: str) -> dict[str, Any]:
    """What the program of edition 2 says."""
    done = subprocess.run(
        [sys.executable, __file__, *arguments],
        env={**os.environ, "PYTHONPATH": f"{program}{os.pathsep}{TESTS}"},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def main(what: str, file: str) -> None:
    """Inside the program of edition 2."""
    from bailee.domain.fields import EDITION
    from bailee.verify import bundle
    from bailee.verify.verifier import verify
    from builders import DAY, FIRM, INSPECTOR, ROOT
    from log_simulator import AT, LogSimulator

    assert EDITION == 2
    town = LogSimulator()
    if what == "write":
        policy = {"policy": {"edition": EDITION, "airings": 3}}
        town.add(f"org/{FIRM}", "policy_set", policy, by=ROOT, said="2026-11-27T09:00:00-05:00")
        town.lot()
        town.opened(airer="A-1")
        at = f"{DAY}T09:00:00-05:00"
        town.say("aired", {"at": at}, {}, by=INSPECTOR, at=at)
        for place, kind in enumerate(("indoor", "indoor", "outdoor")):
            town.collected(place, kind)
        Path(file).write_text(bundle.write(town.bundle()), "utf-8")
    found = verify(bundle.read(Path(file).read_bytes()), town.trust(), AT)
    sys.stdout.write(json.dumps(found.to_json()))


if __name__ == "__main__":
    main(*sys.argv[1:])
