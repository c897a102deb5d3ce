"""The ground the demonstration stands on: a folder that it may clear, and the real service in a process of its own."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

MARKER: Final = ".bailee-demo"
_STARTS_WITHIN_S: Final = 30
BAILEE: Final = (sys.executable, "-m", "bailee_cli.main")


class DemoError(Exception):
    """Something did not go as it should: one sentence."""


def fresh(folder: Path) -> None:
    """An empty folder that carries our marker. One that holds anything and does not carry it is never touched."""
    marker = folder / MARKER
    if marker.is_file():
        shutil.rmtree(folder)
    elif folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise DemoError(
            f"{folder} is not a folder this demonstration made, so nothing in it is touched: move it away."
        )
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    marker.write_text("Made by `sh demo/run`, and cleared by its next run.\n")


def free_port() -> int:
    """A port nobody listens on just now."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port: int = listener.getsockname()[1]
    return port


@contextmanager
def surroundings(zone: str) -> Iterator[None]:
    """Nobody's own settings, and clocks set to this zone, until the block ends."""
    before = dict(os.environ)
    for name in before:
        if name.startswith("BAILEE_"):
            del os.environ[name]
    os.environ["TZ"] = zone
    time.tzset()
    try:
        yield
    finally:
        os.environ.clear()
        os.environ.update(before)
        time.tzset()


@contextmanager
def service(home: Path, address: str) -> Iterator[subprocess.Popen[bytes]]:
    """`bailee serve` until the block ends; what it says goes to `service.txt` beside its folder."""
    listen = address.removeprefix("http://")
    with (home.parent / "service.txt").open("wb") as said:
        process = subprocess.Popen(
            [*BAILEE, "serve", "--home", str(home), "--listen", listen], stdout=said, stderr=said
        )
        try:
            _wait_for(process, address)
            yield process
        finally:
            process.terminate()
            process.wait(10)


def _wait_for(process: subprocess.Popen[bytes], address: str) -> None:
    until = time.monotonic() + _STARTS_WITHIN_S
    while process.poll() is None and time.monotonic() < until:
        try:
            with urllib.request.urlopen(f"{address}/health", timeout=2) as answer:
                json.load(answer)
                return
        except OSError:
            time.sleep(0.05)
    raise DemoError("The service did not start; service.txt in the folder of the demonstration says why.")
