"""`bailee plan`: from a file, from standard input, and asked place by place.

Where the order comes from: tests/planning/test_sampling_plan.py.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from bailee.domain import cautions
from town import Town

LIST = """
visit_h = 5
[[places]]
name = "study"
hours_a_day = 3
[[places]]
name = "attic"
space = "attic"
[[places]]
name = "basement"
visible_growth = true
[[places]]
name = "main bedroom"
complaint = true
"""


@pytest.fixture
def listed(tmp_path: Path) -> str:
    """A file with four places."""
    file = tmp_path / "places.toml"
    file.write_text(LIST)
    return str(file)


def test_a_list_becomes_an_order_with_reasons(town: Town, listed: str) -> None:
    """An inspector on the first job samples the attic and leaves the wet basement for last."""
    said = town.person("nobody").run("plan", listed)

    order = ["basement", "main bedroom", "study", "attic"]
    assert sorted(order, key=said.index) == order
    for words in (
        "Growth is visible.", "must not be disturbed", "People complain about it.",
        "SAMPLE as reference", "leave out", "second outdoor control",
        "Carry 6 cassettes: 3 indoor, 2 outdoor, 1 spare.", "Before you start", cautions.DEFER,
        "common practice, no source", "NIOSH Method 0800", "Thresholds: the defaults",
    ):  # fmt: skip
        assert words in " ".join(said.split())


def test_nothing_leaves_the_device_but_the_question_for_thresholds(settled: Town, listed: str) -> None:
    """Rooms of a private house end up in somebody's server log."""
    settled.line.requests.clear()
    told = settled.person("inspector").answer("plan", listed)

    assert settled.line.requests == ["GET /organizations/harrow-field"]
    assert told["thresholds"] == "those of harrow-field"
    settled.line.requests.clear()
    assert settled.person("inspector").answer("plan", listed, "--offline")["advice"] == told["advice"]
    assert settled.line.requests == []


def test_a_program_gets_the_same_in_json(town: Town) -> None:
    """The office prints one plan and the inspector's screen shows another."""
    told = town.person("nobody").answer("plan", "-", typed=LIST)

    assert [(a["number"], a["place"], a["role"]) for a in told["advice"]] == [
        (1, "basement", "in question"),
        (2, "main bedroom", "in question"),
        (3, "study", "reference"),
        (4, "attic", "left out"),
    ]
    assert told["cassettes"] == {
        "indoor": 3, "outdoor": 2, "blanks": 0, "duplicates": 0, "spare": 1, "total": 6,
    }  # fmt: skip
    assert all(each["source"] for each in told["advice"])
    assert told["lacking"] == []


def test_what_is_said_on_the_command_line_goes_before_the_file(town: Town, listed: str) -> None:
    """A second look at the same list means editing the file on a phone."""
    told = town.person("nobody").answer(
        "plan", listed, "--indoor", "2", "--visit-h", "4", "--blanks", "1", "--duplicates", "1"
    )

    assert told["cassettes"] == {
        "indoor": 2, "outdoor": 1, "blanks": 1, "duplicates": 1, "spare": 1, "total": 6,
    }  # fmt: skip
    assert [a["role"] for a in told["advice"]] == ["in question", "not now", "reference", "left out"]


def test_without_a_file_the_places_are_asked_for(town: Town) -> None:
    """On the doorstep nobody writes a TOML file."""
    typed = "bath\nlw\n\n\nloft\nx\nc\n\nattic\ncomplaint_there\nliving room\n\nsix\n30\n6\n\n\n"
    said = town.person("nobody").run("plan", typed=typed)
    said = " ".join(said.split())

    assert "There is an active leak, it was wet before." in said
    assert "the complaint is about it" in said
    assert "People spend about 6 h a day here." in said
    assert "'x' is no sign" in said
    assert "A day has 24 hours." in said
    assert "is not a number of hours: write it like 8" in said
    assert "Carry 5 cassettes: 3 indoor, 1 outdoor, 1 spare." in said


def test_a_plan_that_lacks_something_ends_with_1(town: Town) -> None:
    """A script books a visit whose samples compare with nothing."""
    said = town.person("nobody").run("plan", "-", typed='[[places]]\nname = "a"\ncomplaint = true\n', code=1)

    assert "MISSING: 1 indoor location; the policy asks for at least 2" in said
    assert "MISSING: 0 reference areas; the policy asks for at least 1" in said


@pytest.mark.parametrize(
    "words", [("plan", "no-such-file"), ("plan", "-", "--visit-h", "5 h"), ("plan", "-", "--indoor", "0")]
)
def test_what_was_typed_wrongly_ends_with_2(town: Town, words: tuple[str, ...]) -> None:
    """A slip of the finger looks like a plan that lacks something."""
    assert "Traceback" not in town.person("nobody").run(*words, typed="indoor = 2\n", code=2)


def test_as_a_program(listed: str, tmp_path: Path) -> None:
    """The console script cannot find its module on a fresh laptop."""
    done = subprocess.run(
        [sys.executable, "-m", "bailee_cli.main", "plan", listed, "--offline"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "BAILEE_HOME": str(tmp_path / "home")},
    )

    assert (done.returncode, done.stderr) == (0, "")
    assert "basement" in done.stdout
