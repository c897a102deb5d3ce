"""That a service does not grow: what `tests/crash/soak.py` measured, held in every run without a clock."""

from __future__ import annotations

import gc
import platform
import subprocess
import sys
from collections.abc import Iterator
from typing import Final

import pytest

from bailee.serving.connections import Server


@pytest.fixture
def as_a_command() -> Iterator[None]:
    """Waste is looked for as seldom as `bailee` does for a command that lives for a moment."""
    before = gc.get_threshold()
    gc.set_threshold(50_000)
    yield
    gc.set_threshold(*before)


@pytest.mark.usefixtures("as_a_command")
def test_a_service_looks_for_waste_as_often_as_python_does() -> None:
    """Papers leave fonts whose parts point at each other: a service begun at a terminal grew by 10 % from the
    second to the tenth minute, and did not stop (tests/crash/soak.py).
    """
    seen: list[tuple[int, int, int]] = []

    def turn() -> None:
        seen.append(gc.get_threshold())
        raise SystemExit

    Server(lambda *_: [], threads=1, largest_body=1, listen="127.0.0.1:0").run(turn)
    assert seen == [(700, 10, 10)]


STORES: Final = """
import ctypes, sys, threading
from pathlib import Path
from bailee.serving.connections import Server
if sys.argv[1] == "served":
    Server(lambda *_: [], threads=1, largest_body=1, listen="127.0.0.1:0")
taken, left = threading.Barrier(5), threading.Barrier(5)
def take():
    ctypes.CDLL(None).malloc(1000)
    taken.wait()
    left.wait()
for _ in range(4):
    threading.Thread(target=take).start()
taken.wait()
places = [each.split() for each in Path("/proc/self/maps").read_text().splitlines()]
print(sum(len(each) < 6 and int(each[0].partition("-")[0], 16) % 2**26 == 0 for each in places))
left.wait()
"""
"""How many stores four threads take from: of glibc each begins at a multiple of 64 MB (malloc/arena.c)."""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="a C library other than glibc")
@pytest.mark.parametrize(("which", "stores"), [("served", 0), ("not", 4)])
def test_threads_of_a_service_share_one_store(which: str, stores: int) -> None:
    """Each thread kept the 5 MB of its largest paper: a service grew for as long as one had drawn none."""
    found = subprocess.run(
        [sys.executable, "-c", STORES, which], capture_output=True, text=True, check=True
    ).stdout
    assert int(found) == stores
