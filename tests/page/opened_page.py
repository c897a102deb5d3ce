"""The page in a browser, cut off from every network."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bailee.errors import BaileeError

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

ROOT = Path(__file__).resolve().parents[2]
PARTS = Path(os.environ.get("BAILEE_PAGE_PARTS", ROOT / "deploy" / "page" / "parts"))
START = 900_000
"""Milliseconds that the page may take on a machine with much else to do."""


@dataclass
class Opened:
    """The page in a browser: what it asked the network for, and what it complained about."""

    page: Page
    asked_for: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def judge(self, file: bytes, asked: dict[str, Any]) -> dict[str, Any]:
        """What the page comes to, as its own form asks it."""
        answer: dict[str, Any] = self.page.evaluate(
            "([bytes, asked]) => bailee.judge(Uint8Array.from(bytes, (each) => each.charCodeAt(0)), asked)",
            [file.decode("latin-1"), asked],
        )
        return answer


def opened(context: BrowserContext, file: Path) -> Opened:
    """Open the page from its folder, cut off from every network."""
    context.set_offline(True)
    context.set_default_timeout(START)
    found = Opened(context.new_page())
    found.page.on("request", lambda request: found.asked_for.append(request.url))
    found.page.on("console", lambda said: found.complaints.append(said.text))
    found.page.on("pageerror", lambda error: found.complaints.append(str(error)))
    found.page.goto(file.as_uri())
    return found


def sentence(error: BaileeError) -> dict[str, Any]:
    """An error as the page tells it."""
    return {"code": error.code, "sentence": error.sentence, **error.facts}
