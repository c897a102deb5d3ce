"""What stands in README, in deploy/ and in the guides: links lead somewhere, rules and options named there
exist, nothing is promised.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest
from click.testing import CliRunner

import bailee.rules  # noqa: F401 - enters every rule in the registry
from bailee.domain import numbers
from bailee.rules.registry import REFUSALS, RULES
from bailee_cli import main

ROOT: Final = Path(__file__).resolve().parents[2]
GUIDES: Final = ROOT / "service/bailee/guides"
PAGES: Final = {
    str(page.relative_to(ROOT)): page.read_text("utf-8")
    for page in (ROOT / "README.md", *sorted((ROOT / "deploy").rglob("*.md")), *sorted(GUIDES.glob("*.md")))
}
BLOCK: Final = re.compile(r"^```sh.*?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
GROUPS: Final = ("lot", "label", "key", "cosign")
RULE: Final = re.compile(r"\b(?:ML|CL|VP|SL|PV|OC|BD|SE|SH|RC|CU|SI)-[0-9]{2}\b")

pages = pytest.mark.parametrize("page", PAGES)


@pages
def test_links_lead_somewhere(page: str) -> None:
    """If this fails, a reader is sent to a page that is not in the checkout."""
    prose = re.sub(r"`[^`\n]*`", "", PAGES[page])
    for target in re.findall(r"\]\((?!https?://)([^)#]+)\)", prose):
        assert ((ROOT / page).parent / target).exists(), target


@pages
def test_every_option_that_is_shown_exists(page: str) -> None:
    """If this fails, people are told to type an option that is answered with "No such option"."""
    for line in re.sub(r"\\\n", " ", "\n".join(BLOCK.findall(PAGES[page]))).splitlines():
        words = line.split("#")[0].partition("bailee ")[2].split()
        while words and words[0].startswith("--"):
            words = words[2:]
        if not words or words[0] not in {name for verbs in main.VERBS.values() for name in verbs}:
            continue
        path = words[:2] if words[0] in GROUPS else words[:1]
        shown = CliRunner().invoke(main.bailee, [*path, "--help"]).output
        for option in re.findall(r"(?<=\s)(--[a-z-]+)", " ".join(words)):
            assert option in shown, line


@pages
def test_no_command_carries_a_remark(page: str) -> None:
    """If this fails, the shell of a Mac takes the remark for more words: zsh knows no comments at a prompt.

    zshoptions(1): INTERACTIVE_COMMENTS is off unless somebody sets it.
    """
    typed = [line for block in BLOCK.findall(PAGES[page]) for line in block.splitlines()]
    assert typed or "```sh" not in PAGES[page]
    assert [line for line in typed if re.search(r"(?:^|\s)#", line)] == []


@pages
def test_rules_that_are_named_exist(page: str) -> None:
    """If this fails, the text sends a reader to a rule that is not there."""
    assert set(RULE.findall(PAGES[page])) <= {*RULES, *REFUSALS}


@pages
def test_commands_that_are_named_exist(page: str) -> None:
    """If this fails, somebody types a command of another version."""
    verbs = {name for each in main.VERBS.values() for name in each}
    named = re.findall(r"`bailee ((?:--as \S+ )?[a-z-]+)[ `]", PAGES[page])
    assert {each.split()[-1] for each in named if not each.startswith("-")} <= verbs


@pages
def test_nothing_is_promised_that_cannot_be_kept(page: str) -> None:
    """If this fails, the other side's lawyer reads a promise from a page of ours aloud."""
    prose = re.sub(r"--[a-z-]+", "", PAGES[page]).lower()  # an option may be called so
    for word in (
        "tamper-proof",
        "tamperproof",
        "court-admissible",
        "certified",
        "bulletproof",
        "unforgeable",
    ):
        assert word not in prose


def test_the_window_for_programs_answers_as_shown(tmp_path: Path) -> None:
    """If this fails, another program is built on a case that the command cannot read."""
    (script,) = BLOCK.findall(PAGES["service/bailee/guides/machines.md"])
    path = f"{Path(sys.executable).parent}:/usr/bin:/bin"
    done = subprocess.run(
        ["sh", "-euc", script], cwd=tmp_path, env={"PATH": path}, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    for member in ("day0", "delivered", "received", "findings"):
        assert f'"{member}"' in done.stdout


@pages
def test_numbers_that_are_shown_have_their_check_character(page: str) -> None:
    """If this fails, whoever tries a program or a label on the example is told that it is wrong."""
    for each in re.findall(r"\b[FEMSC][0-9A-HJKMNP-TV-Z]{11}\b", PAGES[page]):
        numbers.require(each, numbers.kind_of(each))
