"""Every bundle of `cases/` by this Python; what a folder must hold.

And that no fault the verifier knows is without a folder.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, Final

import pytest

from bailee.errors import BaileeError
from bailee.presentation import words
from bailee.verify import disclaimer, evidence
from bailee.verify.report_text import records, render_text
from bailee.verify.result import Report
from case_folders import CASES, FOLDERS, Case, expectations, found, judged_cases, load

PARTS = ("Who", "Believed if missed", "The verifier says", "Source")
ALWAYS_COMPARED = ("state", "refused", "place", "faults", "other_keys", "remarks")


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_bundle_is_judged_as_its_folder_says(folder: str) -> None:
    """A dispute would be decided on a file that somebody spoilt, or an honest one called spoilt.

    The folder's README says how.
    """
    for case, judged in judged_cases(folder):
        _require_expected(case, found(case, judged))
        if isinstance(judged, BaileeError):
            assert judged.sentence, case.name
        else:
            _require_careful(case, judged)


def _require_expected(case: Case, got: dict[str, Any]) -> None:
    """What was promised was found, and no fault and no remark besides."""
    want = {name: value for name, value in case.expected.items() if name != "says"}
    if want == {"broken_or_refused": True}:
        assert "refused" in got or got["state"] == "broken", case.name
        return
    told = {name: got[name] for name in got if name in want or (name in ALWAYS_COMPARED and got[name])}
    assert told == want, case.name


def _require_careful(case: Case, judged: Report) -> None:
    """What holds for every report: a broken file is broken in every verdict, and what nobody can show is
    said.
    """
    text = render_text(judged)
    assert judged.form == json.loads(case.file)["form"], case.name
    assert {each.sentence for each in judged.not_checked} == set(judged.verdicts[0].not_checked), case.name
    broken = judged.state == "broken"
    assert broken == bool(judged.faults) == (judged.verdicts[0].state == "broken"), case.name
    assert all(fault.sentence for fault in judged.faults), case.name
    resting = ("Judged on records that do not verify.", "The records do not verify.")
    assert all(broken == each.sentence.endswith(resting) for each in judged.verdicts[1:]), case.name
    said = records(judged)
    assert said.startswith(f"Records: {words.RECORDS[judged.state].partition(',')[0]}"), case.name
    assert f"\n{said}\n" in text
    strange = judged.state == "not under your keys"
    assert strange == (bool(judged.other_keys) and not broken), case.name
    unread = "editions" in {each.code for each in judged.not_checked}
    lacking = broken and (judged.left_out > 0 or any(each.code in evidence.MISSING for each in judged.faults))
    withheld = strange or unread or lacking
    assert all(withheld == (each.state == "not judged") for each in judged.verdicts[1:]), case.name
    assert not (unread or lacking) or judged.findings == (), case.name
    lead = "".join(f"  {each.sentence}\n" for each in judged.other_keys)
    assert f"\n{said}\n{lead}" in text, case.name
    assert all(each.sentence in text for each in disclaimer.LIMITS)
    says, plain = case.expected.get("says", []), " ".join(text.split())
    assert [each for each in says if each not in plain] == [], case.name


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_folder_says_what_it_is(folder: str) -> None:
    """A case without a reason is deleted by the next person, and one that expects nothing lets the fault pass
    for good.
    """
    here = CASES / folder
    assert {each.name for each in here.iterdir() if each.name != "__pycache__"} == {
        "README.md",
        "make.py",
        "expected.json",
    }
    readme = (here / "README.md").read_text("utf-8")
    title, _, rest = readme.partition("\n\n")
    assert title == f"# {folder}"
    for part, after in zip(PARTS, (*PARTS[1:], None), strict=True):
        said = re.search(
            rf"\*\*{part}:\*\* (.+?)(?=\*\*{after}:\*\*)" if after else rf"\*\*{part}:\*\* (.+)",
            rest,
            re.DOTALL,
        )
        assert said, part
        assert len(said[1].split()) >= 2, part
    assert load(folder).bundle.__doc__
    _require_promise(folder)


def _require_promise(folder: str) -> None:
    """A broken file has a fault, a refused one a code.

    Any other says what was not checked and how each verdict came out.
    """
    promised = expectations(folder)
    assert promised
    for variant, expected in promised.items():
        if "broken_or_refused" in expected:
            assert expected == {"broken_or_refused": True}, variant
        elif "refused" in expected:
            assert expected["refused"], variant
        elif expected["state"] == "broken":
            assert expected["faults"], variant
        else:
            assert expected["not_checked"], variant
            assert expected["verdicts"], variant
        if not folder.startswith("sound-"):
            assert expected != expectations("sound-visit")["accepted"], variant


BY_PAPER: Final = {("8", "printed-entry")}
"""Found only beside a paper, which is typed at a terminal and not on the page: `test_printed.py`."""


def test_every_fault_the_verifier_can_find_has_a_folder() -> None:
    """A check that nothing tests can be lost in any change, and nobody would miss it."""
    service = Path(evidence.__file__).parent
    known: set[tuple[str, str]] = set()
    for file in service.glob("*.py"):
        known |= set(
            re.findall(r"(?:notes\.fault|_fault)\(\s*(\d+),\s*\"([a-z-]+)\"", file.read_text("utf-8"))
        )
    promised = {
        (str(step), code)
        for folder in FOLDERS
        for expected in expectations(folder).values()
        for step, code, _ in expected.get("faults", ())
    }
    assert len(known) >= 15
    assert known - promised == BY_PAPER
