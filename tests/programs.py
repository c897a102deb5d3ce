"""Programs of the system that some tests run: those of the machine, else what `sh tests/run` brought into the
user's cache.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, BrowserType, Playwright

_CACHE = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "bailee-tests"
UNPACKED = Path(os.environ.get("BAILEE_TEST_PROGRAMS") or _CACHE)
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip


def folders() -> list[str]:
    """Where to look after the folders of the machine's own PATH."""
    return ["/usr/sbin", *map(str, sorted(UNPACKED.glob("*/bin")))]


def required(name: str) -> Path:
    """Where a program is.

    The test that asks is left out, and named at the end of the run, where it is not.
    """
    found = shutil.which(name)
    if found is None:
        pytest.skip(f"no {name}")
    return Path(found)


def soft_token() -> tuple[Path, Path]:
    """SoftHSM's program and its module: a token in software. Skips where there is none."""
    program = required("softhsm2-util")
    for top in (UNPACKED / "softhsm2", Path("/")):
        for module in sorted(top.glob("usr/lib/*/softhsm/libsofthsm2.so")):
            return program, module
    pytest.skip("no libsofthsm2.so")


def chromium(kind: BrowserType, *, films: bool = False) -> str:
    """Where Chromium is: the machine's (rather the one without windows, which does not ask for a camera:
    `tests/set-up`), the unpacked one, or Playwright's own.
    """
    names = ["chromium-headless-shell"] * (not films) + ["chromium"]
    found = Path(next(filter(None, map(shutil.which, names)), kind.executable_path))
    if not found.exists():
        pytest.skip("no chromium")
    return str(found)


PATIENCE_MS = 240_000
"""How long a browser waits for a state before the test is red: no test passes by it."""


def visitor(browser: Browser, **options: Any) -> BrowserContext:
    """A profile of somebody's own, in a browser that is patient on a slow machine."""
    context = browser.new_context(**options)
    context.set_default_timeout(PATIENCE_MS)
    return context


def started_browser(playwright: Playwright) -> Browser:
    """Chromium, started."""
    return playwright.chromium.launch(executable_path=chromium(playwright.chromium), args=list(FLAGS))
