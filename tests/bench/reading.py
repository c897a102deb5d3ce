"""How long the pages to read keep somebody waiting, on a machine four times slower than this one.

    python tests/bench/reading.py [--rounds 9] [--slower 4]

Chromium with its processor slowed; the service is not. Home of a firm with six open forms, and the page of a
form of forty samples, each in turn with a floor: the page that says how to sign in, of the same service.
From the navigation until the page is drawn: goal 300 ms for both. Prints medians, the nineteenth of twenty,
the median of the paired ratios, what of it the service took, and how many pixels high each is on a phone.
"""

from __future__ import annotations

import argparse
import logging
import statistics
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from machine import card
from playwright.sync_api import sync_playwright

import programs
from bailee.signing import access
from field import Field, make_home
from grounds import migrated
from hosts.listening import listening

if TYPE_CHECKING:
    from playwright.sync_api import Page

GOAL_MS = 300
PHONE = {"width": 360, "height": 740}
DRAWN = """new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => {
    const [asked] = performance.getEntriesByType("navigation");
    done([performance.now(), asked.responseStart - asked.requestStart]);
})))"""


def of_forty(field: Field) -> str:
    """A form whose envelope of forty cassettes is sealed."""
    lot, samples = field.lot(40)
    form = field.open_form()
    for place, sample in enumerate(samples):
        kind = "outdoor" if place % 10 == 9 else "indoor"
        field.collect(form, lot, sample, kind, pump=f"P-{place}", point=f"P{place}")
    field.hand_to_clerk(form, samples)
    field.seal(field.number("envelope"), samples, field.number("seal"))
    return form


def open_visits(field: Field, many: int) -> None:
    """Visits of three cassettes each that are still with the clerk."""
    for _ in range(many):
        lot, samples = field.lot(3)
        form = field.open_form()
        for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
            field.collect(form, lot, sample, kind)
        field.hand_to_clerk(form, samples)


def seen(page: Page, address: str) -> tuple[float, float]:
    """Milliseconds until the page is drawn, and of these until the service began to answer."""
    page.goto(address)
    drawn, answered = page.evaluate(DRAWN)
    return drawn, answered


def main() -> int:
    """Measure and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--slower", type=float, default=4)
    asked = parser.parse_args()
    print(card())
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        home = Path(folder)
        field = Field(make_home(home / "home", migrated(home / "ledger.sqlite"), address="http://127.0.0.1"))
        open_visits(field, 5)
        form = of_forty(field)
        device, now = field.people["clerk"], int(field.clock().timestamp())
        token = access.issue_for_pages(device.key, device.org, field.ledger.settings.origin, now)
        browser = programs.started_browser(playwright)
        with listening(field.app) as url:
            page = programs.visitor(browser, viewport=PHONE).new_page()
            page.goto(f"{url}/enter#{token}")
            page.wait_for_url(f"{url}/")
            page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": asked.slower})
            for name, path in (("home", "/"), ("form of forty samples", f"/pages/forms/{form}")):
                seen(page, url + path)
                high = page.evaluate("document.documentElement.scrollHeight")
                pairs = [(seen(page, url + path), seen(page, f"{url}/enter")) for _ in range(asked.rounds)]
                ours, floors = sorted(one[0] for one, _ in pairs), [other[0] for _, other in pairs]
                most = ours[min(len(ours) - 1, round(0.95 * len(ours)))]
                ratio = statistics.median(one[0] / other[0] for one, other in pairs)
                service = statistics.median(one[1] for one, _ in pairs)
                print(
                    f"{name:24} {statistics.median(ours):5.0f} ms (goal {GOAL_MS}), p95 {most:.0f}, floor"
                    f" {statistics.median(floors):.0f}, ratio {ratio:.2f}; service {service:.0f}; {high} px"
                )
        browser.close()
        field.ledger.database.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
