"""`sh tests/run`: what it brings, what it leaves alone, and what it says that it left out.

The tools are stubs that write down what they were asked.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOOLS = ("sh", "cat", "chmod", "dirname", "mkdir", "mktemp", "rm", "tail")
# Of a package, `apt-get install` leaves a program, `--download-only` a file; `dpkg-deb --extract` puts the
# program below a folder.
APT = """#!/bin/sh
echo "apt-get $*" >>"$ASKED"
[ -z "$OFFLINE" ] || exit 100
for word in "$@"; do
  case "$word" in Dir::Cache=*) cache="${word#Dir::Cache=}" ;; esac
  last="$word"
done
case "$*" in
*--download-only*) echo "$last" >"$cache/archives/$last.deb" ;;
*install*) printf '#!/bin/sh\\n' >"$TOOLS/$last" && chmod 755 "$TOOLS/$last" ;;
esac
"""
EXTRACT = """#!/bin/sh
name="$(cat "$2")"
[ "$name" != prometheus ] || name=promtool
[ "$name" != softhsm2 ] || name=softhsm2-util
for folder in usr/bin usr/sbin usr/lib/chromium; do
  mkdir -p "$3/$folder"
  printf '#!/bin/sh\\necho unpacked' >"$3/$folder/$name"
  chmod 755 "$3/$folder/$name"
done
"""
PLAYWRIGHT = """#!/bin/sh
echo "playwright $*" >>"$ASKED"
[ -z "$OFFLINE" ] && printf '#!/bin/sh\\n' >"$BROWSER" && chmod 755 "$BROWSER"
"""
FETCH = """echo "fetch $*" >>"$ASKED"
command -v npm >/dev/null && exit 0
echo "They come by npm." >&2
exit 1
"""


@dataclass
class Machine:
    """A machine with the commonest tools, apt and Playwright's installer, and a checkout with the real
    `tests/set-up`.
    """

    folder: Path
    offline: bool = False
    user: int = 0

    def __post_init__(self) -> None:
        self.tools, self.cache, self.asked = (self.folder / each for each in ("tools", "cache", "asked"))
        self.tools.mkdir()
        for name in TOOLS:
            (self.tools / name).symlink_to(str(shutil.which(name)))
        self.has(python='#!/bin/sh\necho "$BROWSER"', playwright=PLAYWRIGHT)
        self.has(**{"apt-get": APT, "dpkg-deb": EXTRACT, "id": f"#!/bin/sh\necho {self.user}"})
        for name in ("tests", "deploy/page"):
            (self.folder / name).mkdir(parents=True)
        (self.folder / "deploy/page/fetch").write_text(FETCH)
        shutil.copy(ROOT / "tests" / "set-up", self.folder / "tests")

    def has(self, **programs: str) -> None:
        """Programs by name and text."""
        for name, text in programs.items():
            (self.tools / name).write_text(text)
            (self.tools / name).chmod(0o755)

    def set_up(self, *words: str) -> tuple[list[str], list[str]]:
        """What it says, and what it asked of others."""
        self.asked.write_text("")
        environment = {
            "PATH": str(self.tools),
            "TOOLS": str(self.tools),
            "BAILEE_TEST_PROGRAMS": str(self.cache),
            "BROWSER": str(self.folder / "browser"),
            "ASKED": str(self.asked),
            "OFFLINE": "yes" if self.offline else "",
        }
        done = subprocess.run(
            [str(self.tools / "sh"), "tests/set-up", *words],
            cwd=self.folder, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, "")
        return done.stdout.splitlines(), self.asked.read_text().splitlines()

    def unpacked(self) -> list[str]:
        """What lies in the cache and runs."""
        found = sorted(self.cache.glob("*/bin/*"))
        for each in found:
            done = subprocess.run([str(each)], capture_output=True, text=True, check=True)
            assert done.stdout.strip() == "unpacked"
        return [each.name for each in found]


def installed(asked: list[str]) -> list[str]:
    """What apt was asked to install for everybody."""
    return [
        each.rpartition(" ")[2]
        for each in asked
        if " install " in each and "--download-only" not in each and each.startswith("apt-get")
    ]


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    """Root's, with a network."""
    return Machine(tmp_path)


def test_a_system_stays_as_it_is_unless_it_was_said_otherwise(machine: Machine) -> None:
    """Whoever tries the tests on the office's machine would find a browser and a running pooler there
    afterwards.
    """
    machine.has(npm="#!/bin/sh\n")
    said, asked = machine.set_up()
    assert said == ["Fetching a browser …"]
    assert installed(asked) == []
    assert "playwright install --no-shell chromium" in asked
    assert machine.unpacked() == ["caddy", "nginx", "openssl", "pgbouncer", "promtool", "softhsm2-util"]


def test_only_root_lets_apt_install_and_nothing_of_it_is_a_service(tmp_path: Path) -> None:
    """A pooler that Debian's package starts would hold the port of the one in use."""
    (tmp_path / "root").mkdir()
    machine = Machine(tmp_path / "root")
    said, asked = machine.set_up("--system")
    assert (said, installed(asked)) == ([], ["chromium", "chromium-headless-shell", "npm", "openssl"])
    assert machine.unpacked() == ["caddy", "nginx", "pgbouncer", "promtool", "softhsm2-util"]
    (tmp_path / "other").mkdir()
    other = Machine(tmp_path / "other", user=1000)
    _, asked = other.set_up("--system")
    assert installed(asked) == []


def test_a_browser_that_cannot_be_downloaded_is_unpacked(machine: Machine) -> None:
    """On a network with nothing but a mirror of packages all tests of pages would be left out."""
    machine.has(npm="#!/bin/sh\n", playwright="#!/bin/sh\nexit 1")
    said, asked = machine.set_up()
    assert (said, installed(asked)) == (["Fetching a browser …"], [])
    assert machine.unpacked() == [
        "caddy",
        "chromium",
        "nginx",
        "openssl",
        "pgbouncer",
        "promtool",
        "softhsm2-util",
    ]


def test_what_is_there_is_not_fetched_again(machine: Machine) -> None:
    """Every run would begin with minutes of downloads."""
    machine.has(npm="#!/bin/sh\n")
    machine.set_up()
    said, asked = machine.set_up()
    assert said == []
    assert asked == ["fetch deploy/page/parts"]  # which compares the parts, each time


def test_what_needs_packages_of_python_waits_for_them(machine: Machine) -> None:
    """The first run of a clone has none while apt is at work: the browser's installer would not be found."""
    machine.has(npm="#!/bin/sh\n")
    said, asked = machine.set_up("early")
    assert said == []
    assert machine.unpacked() == ["caddy", "nginx", "openssl", "pgbouncer", "promtool", "softhsm2-util"]
    assert not [each for each in asked if each.startswith(("playwright", "fetch"))]
    said, asked = machine.set_up("late")
    assert said == ["Fetching a browser …"]
    assert asked == ["playwright install --no-shell chromium", "fetch deploy/page/parts"]


def test_each_thing_that_does_not_come_is_said_in_one_line(tmp_path: Path) -> None:
    """A green run without its browser tests would look like one with them.

    Without a network there is none at all.
    """
    machine = Machine(tmp_path, offline=True)
    said, _ = machine.set_up("--system")
    assert said == [
        "openssl did not come: it is neither installed nor to be had from apt.",
        "SoftHSM did not come: it is neither installed nor to be had from apt.",
        "pgbouncer did not come: it is neither installed nor to be had from apt.",
        "nginx did not come: it is neither installed nor to be had from apt.",
        "caddy did not come: it is neither installed nor to be had from apt.",
        "promtool did not come: it is neither installed nor to be had from apt.",
        "Fetching a browser …",
        "A browser did not come: it could not be downloaded; with --system, apt may install chromium.",
        "The parts of the page did not come. They come by npm.",
    ]
    assert machine.unpacked() == []


def test_a_build_server_runs_what_everybody_runs(tmp_path: Path) -> None:
    """It would be green where a newcomer's first run is red."""
    (tmp_path / ".ci").mkdir()
    (tmp_path / "tests").mkdir()
    shutil.copy(ROOT / ".ci" / "run", tmp_path / ".ci")
    (tmp_path / "tests" / "run").write_text('echo "$@"; exit 3')
    done = subprocess.run(
        ["sh", str(tmp_path / ".ci" / "run"), "fast"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (3, "--system fast\n")


def test_a_word_that_the_run_does_not_know_runs_nothing(tmp_path: Path) -> None:
    """With `--sytem` somebody would wait six minutes for the wrong thing."""
    done = subprocess.run(
        ["sh", str(ROOT / "tests" / "run"), "--sytem"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert "--sytem" in done.stderr


@pytest.mark.parametrize("red", ["ruff", "lint-imports", "mypy", "pytest", None])
def test_whatever_is_red_makes_the_run_red_and_is_shown(tmp_path: Path, red: str | None) -> None:
    """A wrong type, checked beside the tests, would be overlooked behind thousands of green ones."""
    tools = tmp_path / ".venv" / "bin"
    for folder in (tools, tmp_path / "tests", tmp_path / "deploy"):
        folder.mkdir(parents=True)
    shutil.copy(ROOT / "tests" / "run", tmp_path / "tests")
    (tmp_path / "tests" / "set-up").write_text("")
    (tmp_path / "deploy" / "make-venv").write_text("")
    for name in ("ruff", "lint-imports", "mypy", "pytest"):
        (tools / name).write_text(f"#!/bin/sh\necho {name} said so\nexit {int(name == red)}\n")
        (tools / name).chmod(0o755)
    (tools / "python").symlink_to(sys.executable)
    done = subprocess.run(
        ["sh", str(tmp_path / "tests" / "run")], capture_output=True, text=True, check=False
    )
    assert done.returncode == int(red is not None)
    assert red is None or f"{red} said so" in done.stdout
    assert done.stdout.count("mypy said so") == int(red not in ("ruff", "lint-imports"))


SKIPPED = """
import pytest
@pytest.mark.parametrize("number", [1, 2])
def test_by_hand(number): pytest.skip("no pooler")
@pytest.mark.skipif(True, reason="no browser")
def test_by_mark(): pass
@pytest.mark.xfail(reason="known", strict=True)
def test_known(): assert False
def test_runs(): pass
"""


@pytest.mark.slow
@pytest.mark.parametrize("workers", ["0", "1"])
def test_the_closing_line_names_what_was_left_out_and_why(tmp_path: Path, workers: str) -> None:
    """One hundred and seventy tests were once left out of a run that called itself green."""
    (tmp_path / "test_some.py").write_text(SKIPPED)
    assert (
        closing(tmp_path, "-n", workers)
        == "Left out on this machine: 1 for no browser (test_some.py); 2 for no pooler (test_some.py)."
    )
    assert closing(tmp_path, "-n", workers, "-k", "runs") == "Left out on this machine: nothing."


def closing(folder: Path, *words: str) -> str:
    """The line before pytest's own count."""
    environment = {"PATH": "", "PYTHONPATH": str(ROOT / "tests"), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    plugins = ("-p", "whole_run.left_out", "-p", "xdist", "-p", "no:cacheprovider")
    words = (
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-ra",
        "-c",
        "/dev/null",
        "--rootdir",
        ".",
        *plugins,
        *words,
    )
    done = subprocess.run(
        words, cwd=folder, env=environment, capture_output=True, text=True, check=False
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout.splitlines()[-2]
