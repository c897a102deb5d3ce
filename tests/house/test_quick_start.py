"""README's first hour: its install and its quick start, typed exactly as they stand, in an empty folder.

Only what the install line names is there: a new virtual environment with a freshly built wheel, and of this
machine's packages those that the declared dependencies lead to. Nothing is fetched from a network: of the
install, `pip install` alone is not typed.
"""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Final

import pytest
from packaging.requirements import Requirement

from quick_start import ADDRESS, ROOT, SERVE, TEXT, commands

MOST_COMMANDS: Final = 35
MOST_LINES: Final = 250
INSTALL: Final = re.compile(r"^try/bin/pip install '\.\[(?P<extra>\w+)\]'$")
SERVING: Final = """env -u BAILEE_HOME {command} --listen {listen} > service.txt 2>&1 &
trap "kill $!; wait" EXIT
until python -c 'import urllib.request as u; u.urlopen("http://{listen}/health")' 2> nothing
do kill -0 $!; sleep 0.1; done
"""
"""The second window, left open: the script goes on when the service answers, and ends when it has ended."""


def needed(name: str, extra: str = "") -> Iterator[str]:
    """Names of the packages that an install of this one brings, by what each declares."""
    for text in distribution(name).requires or ():
        wanted = Requirement(text)
        if wanted.marker and not any(wanted.marker.evaluate({"extra": each}) for each in {"", extra}):
            continue
        yield wanted.name
        try:
            for each in wanted.extras or {""}:
                yield from needed(wanted.name, each)
        except PackageNotFoundError:  # for another system
            continue


def install(environment: Path, extra: str, folder: Path) -> None:
    """What `pip install` would do: the wheel of this checkout, and what its declaration leads to."""
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    pip = [
        environment / "bin/python",
        "-m",
        "pip",
        "install",
        "--quiet",
        "--no-index",
        "--no-deps",
        "--no-compile",
        wheel,
    ]
    subprocess.run(pip, check=True, capture_output=True)
    (packages,) = environment.glob("lib/python*/site-packages")
    for name in sorted(set(needed("bailee", extra))):
        for file in distribution(name).files or ():
            top = file.parts[0]
            there = Path(str(distribution(name).locate_file(top)))
            if top != ".." and there.exists() and not (packages / top).exists():
                (packages / top).symlink_to(there)


def test_readme_is_read_at_one_sitting() -> None:
    """If this fails, nobody reads it to the end, and what matters stands where nobody comes."""
    assert len(TEXT.splitlines()) <= MOST_LINES


def test_a_sealed_envelope_takes_few_commands() -> None:
    """If this fails, a newcomer gives up before they have seen what the program is for."""
    typed = commands()
    assert len(typed) <= MOST_COMMANDS
    script = "\n".join(typed)
    assert not re.search(r"&&|;|\||^\s*(?:for|while|until|if)\b|\(\) *\{", script, re.MULTILINE), (
        "one command a line, and no program of the shell"
    )
    assert script.count(" collect ") == 4
    assert script.count("--kind indoor") == 3
    assert len(set(re.findall(r"--as (\w+)", script))) == 5
    assert typed[-1].startswith("bailee --as clerk seal ")


@pytest.mark.slow
def test_a_newcomer_seals_the_first_envelope(tmp_path: Path) -> None:
    """If this fails, whoever types README line by line gets stuck on the way to a sealed envelope."""
    (extra,) = [found["extra"] for line in commands() if (found := INSTALL.match(line))]
    known = {name: value for name, value in os.environ.items() if not name.startswith(("BAILEE_", "PYTHON"))}
    known["PATH"] = f"{Path(sys.executable).parent}:{known['PATH']}"
    before, _, after = "\n".join(commands()).partition(f"try/bin/pip install '.[{extra}]'\n")
    subprocess.run(["sh", "-euc", before], cwd=tmp_path, env=known, check=True, capture_output=True)
    install(tmp_path / "try", extra, tmp_path / "wheel")
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listen = f"127.0.0.1:{listener.getsockname()[1]}"
    script = SERVE.sub(lambda line: SERVING.format(command=line[0], listen=listen), after)
    done = subprocess.run(
        ["sh", "-euc", script.replace(ADDRESS, f"http://{listen}")], cwd=tmp_path, env=known,
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    assert "READY" in done.stdout
    assert "Recorded: sealed" in done.stdout.partition("READY")[2]
    for file in ("labels.pdf", "record.pdf"):
        assert (tmp_path / "try" / file).read_bytes().startswith(b"%PDF")
