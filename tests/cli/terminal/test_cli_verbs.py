"""The table of verbs: it says what is there, loads only what is asked for, and ends with the code it
promises.
"""

from __future__ import annotations

import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

from bailee.errors import BadNumber, BaileeError, Broken, Forged, Malformed, Refused, Unavailable, Unknown
from bailee_cli import main

VERBS = [(name, says) for verbs in main.VERBS.values() for name, (_, says) in verbs.items()]


@pytest.mark.parametrize(("name", "says"), VERBS, ids=[name for name, _ in VERBS])
def test_the_table_says_what_each_verb_says_of_itself(name: str, says: str) -> None:
    """If this fails, `bailee --help` promises a verb that is not there, or another one."""
    command = main.bailee.get_command(click.Context(main.bailee), name)

    assert command is not None
    assert command.name == name
    assert says.rstrip(".")
    answer = CliRunner().invoke(main.bailee, [name, "--help"])
    assert answer.exit_code == 0
    assert answer.output.startswith(f"Usage: bailee {name}")


def test_help_names_every_verb_under_its_person() -> None:
    """If this fails, somebody at the dock has to read a manual to find `receive`."""
    said = CliRunner().invoke(main.bailee, ["--help"]).output

    assert all(f"  {name}" in said for name, _ in VERBS)
    assert all(f"{person}:" in said for person in main.VERBS)


@pytest.mark.parametrize(
    ("words", "forbidden"),
    [
        (
            ("--help",),
            ("rich", "pydantic", "cryptography", "httpx2", "sqlite3", "flask", "sqlalchemy", "bailee.domain"),
        ),
        (
            ("verify", "--help"),
            ("rich", "pydantic", "cryptography", "httpx2", "sqlite3", "flask", "sqlalchemy", "bailee.domain"),
        ),
        (("collect", "--help"), ("httpx2", "flask", "sqlalchemy", "rich.console")),
    ],
)
def test_help_loads_nothing_heavy(words: tuple[str, ...], forbidden: tuple[str, ...]) -> None:
    """If this fails, every command starts a quarter of a second late, on every scan of the day."""
    script = (
        "import sys\nfrom bailee_cli.main import bailee\n"
        "try:\n    bailee(sys.argv[1:])\nexcept SystemExit:\n    print(*sys.modules, file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", script, *words], capture_output=True, text=True, check=True)

    assert set(forbidden) & set(done.stderr.split()) == set()


@pytest.mark.parametrize(
    ("error", "code"),
    [(Malformed, 2), (BadNumber, 2), (Unavailable, 3), (Forged, 1), (Broken, 1), (Unknown, 1), (Refused, 1)],
)
def test_every_kind_of_error_has_its_exit_code(error: type[BaileeError], code: int) -> None:
    """If this fails, a script cannot tell "not ready" from "no network"."""
    assert main.exit_code(error("said")) == code


def test_a_verb_that_does_not_exist_is_a_usage_error() -> None:
    """If this fails, a typing slip in a script counts as done."""
    answer = CliRunner().invoke(main.bailee, ["sael"])

    assert answer.exit_code == 2
    assert "seal" in answer.output


def test_the_module_can_be_run_as_a_program() -> None:
    """If this fails, service units that call `python -m bailee_cli.main` do not start."""
    done = subprocess.run(
        [sys.executable, "-m", "bailee_cli.main", "--version"], capture_output=True, text=True, check=True
    )

    assert done.stdout.startswith("bailee, version ")
