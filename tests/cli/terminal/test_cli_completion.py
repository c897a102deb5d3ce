"""What a shell completes: asked as the shells ask it, by the protocol of click's own scripts."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from bailee_cli import main

PROGRAM = Path(sys.executable).parent
ASKS = {"bash": "bash_complete", "zsh": "zsh_complete", "fish": "fish_complete"}
REQUEST = "import sys; sys.argv = ['bailee']; {0}from bailee_cli.main import main; main()"
LOADED = "import atexit; atexit.register(lambda: print(*sorted(sys.modules), file=sys.stderr)); "


def asked(shell: str, typed: str, *, loaded: bool = False) -> subprocess.CompletedProcess[str]:
    """The answer to somebody who typed this and pressed Tab."""
    words = typed.split(" ")
    at = words[-1] if shell == "fish" else str(len(words) - 1)
    environment = {"_BAILEE_COMPLETE": ASKS[shell], "COMP_WORDS": typed, "COMP_CWORD": at}
    code = REQUEST.format(LOADED if loaded else "")
    return subprocess.run(
        [sys.executable, "-c", code], env=os.environ | environment, capture_output=True, text=True, check=True
    )


@pytest.mark.parametrize("shell", ASKS)
def test_each_shell_gets_its_script(shell: str) -> None:
    """If this fails, what is put into the shell's file is an error message, at every new window."""
    answer = CliRunner().invoke(main.bailee, ["completion", shell])
    assert answer.exit_code == 0
    assert f"_BAILEE_COMPLETE={ASKS[shell]}" in answer.stdout


@pytest.mark.parametrize(
    ("shell", "typed", "there", "not_there"),
    [
        ("bash", "bailee ch", {"plain,check", "plain,chase", "plain,check-ledger"}, {"plain,seal"}),
        ("zsh", "bailee rul", {"rules"}, {"seal"}),
        (
            "fish",
            "bailee se",
            {"plain,seal\tScan samples into an envelope, check readiness, seal it."},
            set(),
        ),
        ("bash", "bailee lot re", {"plain,receive", "plain,recall", "plain,release"}, {"plain,issue"}),
        ("bash", "bailee rules --", {"plain,--json"}, set()),
        ("bash", "bailee rules oc-0", {"plain,OC-01", "plain,OC-09"}, {"plain,OC-10", "plain,SE-01"}),
        ("bash", "bailee --", {"plain,--json", "plain,--as"}, set()),
    ],
)
def test_tab_answers_with_what_begins_so(
    shell: str, typed: str, there: set[str], not_there: set[str]
) -> None:
    """If this fails, pressing Tab writes a verb that is not there, or nothing."""
    lines = set(asked(shell, typed).stdout.splitlines())
    assert there <= lines
    assert not lines & not_there


def test_tab_on_a_verb_reads_no_verb() -> None:
    """If this fails, Tab waits for every command of the program to be read."""
    loaded = asked("bash", "bailee ", loaded=True).stderr.split()
    assert "bailee_cli.main" in loaded
    assert not [name for name in loaded if name.startswith("bailee_cli.people.")]


@pytest.mark.skipif(not shutil.which("bash"), reason="there is no bash here")
def test_bash_takes_the_line_that_the_help_names() -> None:
    """If this fails, a line copied from the help does nothing in the shell that most people have."""
    line = 'eval "$(bailee completion bash)"'
    assert line in CliRunner().invoke(main.bailee, ["completion", "--help"]).output
    script = (
        f"{line}; complete -p bailee; COMP_WORDS=(bailee uns); COMP_CWORD=1; _bailee_completion bailee; echo"
        ' "${COMPREPLY[@]}"'
    )
    path = f"{PROGRAM}:{os.environ['PATH']}"
    done = subprocess.run(
        ["bash", "-c", script], env=os.environ | {"PATH": path}, capture_output=True, text=True, check=True
    )
    assert "_bailee_completion" in done.stdout
    assert done.stdout.splitlines()[-1] == "unseal"
