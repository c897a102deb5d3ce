"""The ground the demonstration stands on: a folder that it may clear, and the real services in processes of
their own.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

MARKER: Final = ".bailee-demo"
GIVE_UP_AFTER_S: Final = 1200
"""What does not come about by then does not come at all, on any machine."""
BAILEE: Final = (sys.executable, "-m", "bailee_cli.main")


class DemoError(Exception):
    """Something did not go as it should: one sentence."""


def fresh(folder: Path) -> None:
    """An empty folder that carries our marker.

    One that holds anything and does not carry it is never touched.
    """
    marker = folder / MARKER
    if marker.is_file():
        shutil.rmtree(folder)
    elif folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise DemoError(
            f"{folder} is not a folder this demonstration made, so nothing in it is touched: move it away."
        )
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    marker.write_text("Made by `sh demo/run`, and cleared by its next run.\n")


def free_address() -> str:
    """An address on this machine where nobody listens just now."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return f"http://127.0.0.1:{listener.getsockname()[1]}"


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
def process(words: Sequence[str], said: Path) -> Iterator[subprocess.Popen[bytes]]:
    """`bailee` with these words until the block ends; what it says is added to the file."""
    with said.open("ab") as file:
        running = subprocess.Popen([*BAILEE, *words], stdout=file, stderr=file)
        try:
            yield running
        finally:
            running.terminate()
            running.wait(GIVE_UP_AFTER_S)


def wait_for(address: str, running: subprocess.Popen[bytes]) -> None:
    """Wait until the process answers there, whatever it is. Raises `DemoError`."""
    until = time.monotonic() + GIVE_UP_AFTER_S
    while running.poll() is None and time.monotonic() < until:
        try:
            with urllib.request.urlopen(f"{address}/health", timeout=2):
                return
        except urllib.error.HTTPError as answer:
            answer.close()
            return  # a cosigner answers, and knows no such address
        except OSError:
            time.sleep(0.05)
    raise DemoError(f"Nobody answers at {address}; services.txt in the folder of the demonstration says why.")
