"""What axe-core finds wrong with a page that is open in a browser (WCAG 2 A and AA and best practices)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Page


def faults(page: Page, *only: str) -> list[tuple[str, list[Any]]]:
    """Each rule that is broken, with its places; `only`: no other rules are asked.

    What is right is not told: on a long page that took as long as to look at it.
    """
    from axe_playwright_python.sync_playwright import Axe

    if not page.evaluate("'axe' in globalThis"):
        page.evaluate(Axe().axe_script)
    asked: dict[str, Any] = {"resultTypes": ["violations"]}
    if only:
        asked["runOnly"] = list(only)
    found = page.evaluate("asked => axe.run(asked).then(all => all.violations)", asked)
    return [(each["id"], [node["target"] for node in each["nodes"]]) for each in found]
