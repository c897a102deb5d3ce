"""The page, put together from the fetched parts, and a browser without network before it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from opened_page import PARTS, Opened, opened

from bailee.ledger.checkpoint import format_vkey
from bailee_cli.people.auditor_page import assemble
from log_simulator import LogSimulator, told

if TYPE_CHECKING:
    from playwright.sync_api import Browser


@pytest.fixture(scope="session")
def parts() -> Path:
    """What `sh deploy/page/fetch` brings; skips where it was not run."""
    if not (PARTS / "pyodide.mjs").exists():
        pytest.skip("no parts of the page (they need npm)")
    return PARTS


@pytest.fixture(scope="session")
def log() -> LogSimulator:
    """A faultless visit."""
    return told()


@pytest.fixture(scope="session")
def file(parts: Path, log: LogSimulator, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page in a folder, with the sender's claims in it."""
    found = tmp_path_factory.mktemp("page") / "verify.html"
    roots = [f"{org}={root}" for org, root in log.trust().roots.items()]
    found.write_text(assemble(parts, roots, [format_vkey(log.log_vkey)]))
    return found


@pytest.fixture(scope="session")
def session(browser: Browser, file: Path) -> Iterator[Opened]:
    """One page for all cases: starting it takes longer than judging."""
    context = browser.new_context()
    found = opened(context, file)
    yield found
    context.close()
