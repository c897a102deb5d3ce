"""README.md does what it says: its walk is typed for real, its tables are the program's, its words are
chosen.
"""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest
from click.testing import CliRunner
from rule_table import BLOCKS, README, commands, settings, written

from bailee import __version__, config
from bailee.errors import BaileeError, Malformed, Unavailable
from bailee_cli import main

ROOT = README.parent
TEXT = README.read_text("utf-8")
WALK = TEXT.partition("## A walk, person by person")[2].partition("\n## ")[0]
BLOCK = re.compile(r"^```sh\n(.*?)^```$", re.MULTILINE | re.DOTALL)
ADDRESS = "http://127.0.0.1:8765"
GROUPS = ("lot", "label", "key", "cosign")
STOPPED = """stop() { if [ -f pid ]; then kill "$(cat pid)"; wait "$(cat pid)" || true; rm pid; fi; }
trap stop EXIT
"""
SERVICE = """stop
{command} --listen {listen} >> service.txt 2>&1 &
echo $! > pid
for try in $(seq 100); do
  python -c 'import urllib.request as u; u.urlopen("http://{listen}/health")' 2> /dev/null && break
  sleep 0.1
done
"""
"""What the second window does: the service, started anew each time README says so."""


def section(title: str) -> str:
    """The text under a heading of the second level."""
    return TEXT.partition(f"\n## {title}\n")[2].partition("\n## ")[0]


@pytest.fixture
def room(tmp_path: Path) -> tuple[Path, dict[str, str]]:
    """An empty folder, and an environment in which only the program of this checkout is known."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("BAILEE_")}
    environment["PATH"] = f"{Path(sys.executable).parent}:{environment['PATH']}"
    return tmp_path, environment


@pytest.mark.slow
def test_a_newcomer_completes_the_walk(room: tuple[Path, dict[str, str]]) -> None:
    """If this fails, whoever follows README with their own keys gets stuck on the way from lot to audit."""
    folder, _ = room
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listen = f"127.0.0.1:{listener.getsockname()[1]}"
    address = f"http://{listen}"
    blocks = [
        (
            SERVICE.format(command=each.strip(), listen=listen)
            if each.startswith("bailee serve")
            else each.replace(ADDRESS, address)
        )
        for each in BLOCK.findall(WALK)
    ]
    done = type_in(room, "".join([STOPPED, *blocks]))
    assert done.returncode == 0, done.stdout + done.stderr
    for expected in (
        "Before you start",
        "Carry ",
        "Volume 74.75 L",
        "OC-01",
        "not ready: exit code 1",
        "Recorded: sealed",
        "the laboratory opens it",
        "Recorded: shipped",
        "Differences: none.",
        "Recorded: accepted",
        "Records: unaltered, complete and cosigned",
        "Custody: no fault found. Every link that custody needs is stated.",
        f"{address}/enter#",
    ):
        assert expected in done.stdout + done.stderr
    for written_file in ("labels.pdf", "notice.pdf", "record.pdf", "envelope.pdf"):
        assert (folder / written_file).read_bytes().startswith(b"%PDF")


def type_in(room: tuple[Path, dict[str, str]], script: str) -> subprocess.CompletedProcess[str]:
    """What README shows, typed line by line; nobody answers questions."""
    folder, environment = room
    file = folder / "typed.sh"
    file.write_text(script)
    return subprocess.run(
        ["sh", "-eu", str(file)],
        cwd=folder,
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("name", BLOCKS)
def test_tables_in_readme_are_those_of_the_program(name: str) -> None:
    """If this fails, README shows rules, commands or settings of another version.

    Write it anew: python tests/house/rule_table.py.
    """
    assert f"<!-- {name} -->\n\n{BLOCKS[name]()}\n\n<!-- end of {name} -->" in TEXT
    assert written(TEXT) == TEXT


def test_every_verb_of_the_help_page_stands_in_readme() -> None:
    """If this fails, a command exists that no newcomer can find."""
    said = CliRunner().invoke(main.bailee, ["--help"]).output
    for person, verbs in main.VERBS.items():
        assert f"{person}:" in said
        assert f"**{person}**" in commands()
        for name in verbs:
            assert f"`bailee {name}" in commands()


def test_every_option_used_in_readme_exists() -> None:
    """If this fails, README tells people to type an option that is answered with "No such option"."""
    for line in re.sub(r"\\\n", " ", "\n".join(BLOCK.findall(TEXT))).splitlines():
        words = line.split("#")[0].partition("bailee ")[2].split()
        while words and words[0].startswith("--"):
            words = words[2:]
        if not words or words[0] not in {name for verbs in main.VERBS.values() for name in verbs}:
            continue
        path = words[:2] if words[0] in GROUPS else words[:1]
        page = CliRunner().invoke(main.bailee, [*path, "--help"]).output
        for option in re.findall(r"(?<=\s)(--[a-z-]+)", " ".join(words)):
            assert option in page, line


def test_settings_have_their_defaults() -> None:
    """If this fails, an operator reads a default that the service does not have."""
    for each in fields(config.Settings):
        if each.name != "home":
            assert f"| `{each.name}` |" in settings()


def test_exit_codes_are_those_of_the_program() -> None:
    """If this fails, a script that follows README takes "not ready" for "no network"."""
    codes = dict(re.findall(r"^\| ([0-9]) \| (.+?) \|$", section("Exit codes"), re.MULTILINE))
    assert codes == {str(code): says for code, says in main.EXIT_CODES.items()}
    page = " ".join(CliRunner().invoke(main.bailee, ["--help"]).output.split())
    assert all(f" {code} {says}" in page for code, says in main.EXIT_CODES.items())
    assert main.exit_code(BaileeError("said", code="x")) == 1
    assert "not ready" in codes["1"]
    assert main.exit_code(Malformed("said", code="x")) == 2
    assert "typed" in codes["2"]
    assert main.exit_code(Unavailable("said", code="x")) == 3
    assert "could not check" in codes["3"]


def test_the_newest_change_is_this_version() -> None:
    """If this fails, nobody can tell which changes the installed program has."""
    newest = re.search(r"^### \[(.+?)\]", section("Changes"), re.MULTILINE)
    assert newest
    assert newest[1] == __version__
    assert tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["version"] == __version__


def test_installs_named_in_readme_exist() -> None:
    """If this fails, the first command of a newcomer ends with a warning about an unknown extra."""
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["optional-dependencies"]
    assert set(re.findall(r"pip install '\.\[(\w+)\]'", TEXT)) == set(extras)


def test_links_lead_somewhere() -> None:
    """If this fails, a reader is sent to a page that is not in the checkout."""
    for target in re.findall(r"\]\((?!https?://)([^)#]+)\)", TEXT):
        assert (ROOT / target).exists(), target


@pytest.mark.parametrize(
    "word", ["tamper-proof", "tamperproof", "court-admissible", "certified", "bulletproof", "unforgeable"]
)
def test_nothing_is_promised_that_cannot_be_kept(word: str) -> None:
    """If this fails, the other side's lawyer reads a promise from README aloud."""
    for file in (README, ROOT / "DEVELOPERS.md", ROOT / "deploy" / "README.md"):
        prose = re.sub(
            r"--[a-z-]+", "", file.read_text("utf-8")
        )  # an option may be called so, like that of a certificate
        assert word not in prose.lower()


def test_no_verdict_is_called_passed() -> None:
    """If this fails, an envelope looks approved where only nothing was found."""
    assert not re.search(r"\bpassed\b", TEXT, re.IGNORECASE)


def test_the_demonstration_and_the_tests_are_where_readme_says() -> None:
    """If this fails, the two commands at the top of README do nothing."""
    for command in re.findall(r"^sh (\S+)", section("See it, test it"), re.MULTILINE):
        assert os.access(ROOT / command, os.X_OK), command
