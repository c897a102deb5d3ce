"""The page of formats, by a verifier that was written from it alone, and by what the program itself has of
each table on it.

Which folders of `cases` concern formats, hashes, proofs and signatures is decided by one criterion: a folder
does when every fault that it promises stands on the page by its step and code. What it promises of the rules
is no matter of records and not compared; neither are clocks against the time of looking. The others are named
in `BEYOND`, with the reason.
"""

from __future__ import annotations

import ast
import json
import re
import sys
from importlib import resources
from pathlib import Path
from typing import Any, Final

import outsider
import pytest

from bailee.domain.acts.row import ANYBODY
from bailee.domain.acts.table import ROWS
from bailee.signing import disclosures, signed_statement, strict_json
from bailee.verify import evidence, file_limits
from case_folders import FOLDERS, cases, expectations, write

PAGE: Final = (resources.files("bailee") / "guides/formats.md").read_text("utf-8")
HERE: Final = Path(__file__).parent
TOLD: Final = {(int(step), code) for step, code in re.findall(r"`([2-9]) ([a-z-]+)`", PAGE)}
"""Every fault on the page."""
WEIGHED: Final = {"late-key", "doubtful-key", "clock-backwards", "conflict", "refused"}
BEYOND: Final = {
    "setting-that-cannot-be-used": "the facts of an act that is not about keys, a policy and a calendar",
    "written-by-a-later-edition": "members and codes of an act that is not about keys",
    "time-stamp-unreadable": (
        "DER (ITU-T X.690), which neither Python nor `cryptography` reads for a time stamp"
    ),
}


def _concerns(folder: str) -> bool:
    if folder == "written-by-a-later-edition":
        return False
    promised = expectations(folder).values()
    return all((step, code) in TOLD for each in promised for step, code, _ in each.get("faults", ()))


JUDGED: Final = [folder for folder in FOLDERS if _concerns(folder)]


def test_only_these_folders_are_left_out() -> None:
    """A folder left out because it does not fit would be a fault of the page that nobody sees."""
    assert set(FOLDERS) - set(JUDGED) == BEYOND.keys()


@pytest.mark.parametrize("folder", JUDGED)
def test_a_verifier_from_the_page_alone_judges_as_this_program_does(folder: str) -> None:
    """Somebody who trusts no program of ours would come to another verdict than everybody else, or could not
    write one.
    """
    for case in cases(folder):
        state, stopped, remarks = outsider.judge(case.file, case.asked)
        want = case.expected
        if "broken_or_refused" in want or "refused" in want:
            assert state in ({"refused"} if "refused" in want else {"refused", "broken"}), case.name
            continue
        assert state == want["state"], (case.name, stopped)
        if state == "broken":
            assert stopped in {step for step, _, _ in want["faults"]}, case.name
        else:
            assert stopped == {code for code, _ in want.get("other_keys", ())}, case.name
            assert remarks == {code for code, _ in want.get("remarks", ())} & WEIGHED, case.name


def test_a_stranger_gets_files_to_try_a_verifier_on(tmp_path: Path) -> None:
    """Whoever writes one from the page has no spoiled file to try it on."""
    write(tmp_path / "files", ["sound-visit", "index-twice"])
    states = {}
    for place in (tmp_path / "files").iterdir():
        told = {
            name: json.loads((place / f"{name}.json").read_text("utf-8")) for name in ("brought", "expected")
        }
        states[place.name] = outsider.judge((place / "file.json").read_bytes(), told["brought"])[0]
        assert states[place.name] == told["expected"]["state"]
    assert states["index-twice"] == "broken"
    assert len(states) > 1
    assert "`.venv/bin/python tests/case_folders.py FOLDER`" in PAGE


@pytest.mark.parametrize("name", ["outsider", "outsider_forms", "outsider_keys"])
def test_the_stranger_knows_nothing_of_this_program(name: str) -> None:
    """A verifier that borrows from the one it checks agrees with it in every mistake."""
    tree = ast.parse((HERE / f"{name}.py").read_text("utf-8"))
    found = [each for each in ast.walk(tree) if isinstance(each, ast.Import | ast.ImportFrom)]
    imported = {getattr(each, "module", None) or each.names[0].name for each in found}
    tops = {each.partition(".")[0] for each in imported}
    assert tops <= sys.stdlib_module_names | {"cryptography", "outsider_forms", "outsider_keys"}


def test_the_order_of_proof_stays_short() -> None:
    """What takes longer than an afternoon to write, nobody writes."""
    assert len((HERE / "outsider.py").read_text("utf-8").splitlines()) <= 150
    assert len(PAGE.splitlines()) <= 276


def test_the_page_says_of_every_act_who_may_say_it() -> None:
    """A stranger would refuse what the service takes, or believe what it refuses."""
    found = re.findall(r"^\| (form|lot|org) \| (.+) \| (.+) \|$", PAGE, re.MULTILINE)
    told = {act: (kind, roles) for kind, acts, roles in found for act in acts.split(", ")}
    table = "service/bailee/guides/formats.md, table of section 9:"
    assert told.keys() == ROWS.keys(), (
        f"{table} write in {ROWS.keys() - told.keys()}, take out {told.keys() - ROWS.keys()}"
    )
    for act, (kind, roles) in told.items():
        row = ROWS[act]
        everybody = row.physical or row.brings_key or row.may == ANYBODY
        assert kind == row.chain, f"{table} {act} is on `{row.chain}`"
        agrees = roles.startswith("every role") if everybody else set(roles.split(", ")) == row.may
        assert agrees, f"{table} {act} may be said by {'every role' if everybody else sorted(row.may)}"
    for row in ROWS.values():
        assert (f"`{row.name}`" in PAGE and f"`data.{row.brings_key}`" in PAGE) or not row.brings_key


def test_the_page_names_every_fault_that_the_verifier_finds() -> None:
    """A code in a report that stands nowhere is of no use to whoever reads it."""
    service = Path(evidence.__file__).parent
    pattern = re.compile(r"(?:notes\.fault|_fault)\(\s*(\d+),\s*\"([a-z-]+)\"")
    known = {
        (int(step), code)
        for file in service.glob("*.py")
        for step, code in pattern.findall(file.read_text("utf-8"))
    }
    assert len(known) >= 15
    assert known - TOLD == {(8, "token")}


def test_the_page_names_the_limits_that_are_kept() -> None:
    """A file that one verifier refuses for its length and another takes has two verdicts."""
    limits: list[Any] = [
        file_limits.MAX_ENTRIES,
        file_limits.MAX_PARTS,
        file_limits.MAX_CONFLICTS,
        file_limits.MAX_TOKENS,
    ]
    limits += [file_limits.MAX_ROOTS, file_limits.MAX_DISCLOSURES, file_limits.MAX_PROOF, strict_json.DEEPEST]
    limits += [signed_statement.LIMIT, disclosures.LIMIT]
    assert [each for each in limits if not re.search(rf"(?<![\d,]){each:,}(?![\d,])", PAGE)] == []
    assert f"{file_limits.MAX_BYTES // 2**20} MiB" in PAGE
