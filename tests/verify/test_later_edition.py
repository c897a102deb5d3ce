"""The rule book grows: a made-up edition 2 (`edition_two`), and this program, which knows edition 1.

Common practice, no source.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from edition_two import made, run

from bailee.ledger.checkpoint import format_vkey
from bailee.verify import bundle
from bailee.verify.log_audit import Audit
from bailee.verify.page import report_page
from bailee.verify.report_text import render_text
from bailee.verify.verifier import verify
from bailee_cli.main import bailee
from log_simulator import AT, ORIGIN, LogSimulator, told

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The program of edition 2."""
    return made(tmp_path_factory.mktemp("edition-two"))


@pytest.fixture(scope="module")
def later(program: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """A file that it wrote, and what it says of it."""
    file = tmp_path_factory.mktemp("later") / "visit.json"
    return file, run(program, "write", str(file))


def test_a_later_program_judges_by_its_own_edition(later: tuple[Path, dict[str, Any]]) -> None:
    """If this fails, edition 2 was no edition, and the tests below compare nothing."""
    _, said = later
    assert (said["state"], said["faults"]) == ("intact, not cosigned", [])
    found = {each["rule"]: each["sentence"] for each in said["findings"]}
    assert found["CU-90"] == "Aired at most 3 times."
    assert "SL-01" in found


def test_a_file_of_a_later_edition_is_neither_called_sound_nor_accused(
    later: tuple[Path, dict[str, Any]],
) -> None:
    """If this fails, an auditor with the program of last year tells a court that custody is complete, or that
    a firm cheated, of a file whose words he does not know.
    """
    file, _ = later
    found = verify(bundle.read(file.read_bytes()), LogSimulator().trust(), AT)
    assert (found.state, found.faults, found.findings, found.remarks) == ("not all understood", (), (), ())
    assert {each.state for each in found.verdicts} == {"not judged"}
    (said,) = [each.sentence for each in found.not_checked if each.code == "editions"]
    assert said.startswith("What is entered by policy set (org/harrow-field entry ")
    assert ", opened (form/" in said
    assert " and aired (form/" in said
    assert "this program knows edition 1 of the rule book" in said
    assert found.left_out == 0
    for shown in (
        " ".join(render_text(found).split()),
        "".join(report_page.render(found)),
        json.dumps(found.to_json()),
    ):
        assert "not all understood" in shown
        assert "this program knows edition 1 of the rule book" in shown
        for word in ("no fault found", "unaltered", "not believed", "complete and sound"):
            assert word not in shown.replace("unaltered, complete and cosigned", ""), word


def test_the_command_line_ends_with_could_not_check(
    later: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    """If this fails, a script that asks for the exit code files what nobody could judge under sound or under
    forged.
    """
    file, _ = later
    trust = LogSimulator().trust()
    roots = [part for org, root in trust.roots.items() for part in ("--root", f"{org}={root}")]
    asked = ["verify", str(file), *roots, "--log-key", format_vkey(LogSimulator().log_vkey)]
    done = CliRunner().invoke(bailee, asked, env={"BAILEE_HOME": str(tmp_path)})
    assert (done.exit_code, "Records: not all understood" in done.output) == (3, True)


def test_a_monitor_says_what_it_could_not_check(later: tuple[Path, dict[str, Any]]) -> None:
    """If this fails, a cosigner vouches for entries that its program never understood, or calls an honest log
    faulty.
    """
    file, _ = later
    audit = Audit(ORIGIN)
    placed = sorted(bundle.read(file.read_bytes()).entries, key=lambda each: each.index)
    said = [each for placed_one in placed for each in audit.read(placed_one.text)]
    assert said == []
    assert len(audit.unknown) >= 3
    assert "edition 1 of the rule book is its newest" in audit.not_checked()


def test_a_later_program_says_of_an_earlier_form_what_was_said_then(program: Path, tmp_path: Path) -> None:
    """If this fails, a new rule, threshold or default changes the verdict on every envelope that was ever
    sealed.
    """
    log = told("accepted")
    file = tmp_path / "visit.json"
    file.write_text(bundle.write(log.bundle()), "utf-8")
    now = verify(bundle.read(file.read_bytes()), log.trust(), AT).to_json()
    assert now["findings"] is not None
    assert run(program, "read", str(file)) == json.loads(json.dumps(now))
