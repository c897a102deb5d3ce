"""How long the app at `/sign/` keeps a thumb waiting, on a phone four times slower than this machine.

    python tests/bench/screens.py [--rounds 9] [--slower 4]

Chromium with its processor slowed (a worker's is not, by any browser). Each is measured in turn with a floor
in the same browser: a page of one empty module, kept by a worker of its own; a signature of the same length
and one durable row.

1. Warm start without a network until there is something to tap: goal 400 ms.
2. First visit over 1.6 Mb/s and 150 ms until there is something to tap, and until it works without a network:
   goals 1,500 and 8,000 ms.
3. From the tap on *Sign* until it is on the disk, twice, in the journal that the app opens at its start: goal
   30 ms.

Prints medians, the nineteenth of twenty, and the median of the paired ratios. The camera is not among them:
what reads a label is the browser's own, and Chromium on Linux has none.
"""

from __future__ import annotations

import argparse
import logging
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "web" / "sign"))

from machine import card
from phones import SIZE, Firm, Phone, firm_at
from playwright.sync_api import sync_playwright
from werkzeug.serving import make_server
from werkzeug.wrappers import Request, Response

import programs

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

NETWORK = {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 93_750}
EMPTY = """<!doctype html><title>floor</title><main id="main"></main>
<script type="module" src="/m.js"></script>"""
MODULE = """navigator.serviceWorker.register("/w.js");
const title = document.createElement("h1");
title.textContent = "there";
document.getElementById("main").append(title);"""
WORKER = """oninstall = each => each.waitUntil(caches.open("f").then(kept => kept.addAll(["/", "/m.js"])));
onactivate = each => each.waitUntil(clients.claim());
onfetch = each => each.respondWith(caches.match(each.request).then(found => found ?? fetch(each.request)));"""
FLOOR = {
    "/": ("text/html", EMPTY),
    "/m.js": ("text/javascript", MODULE),
    "/w.js": ("text/javascript", WORKER),
}
USABLE = """(() => {
    const found = () => {
        const title = document.querySelector("#main h1");
        if (!title || title.textContent === "Bailee") return requestAnimationFrame(found);
        console.debug("usable", performance.now());
    };
    requestAnimationFrame(found);
    navigator.serviceWorker.ready.then(() => console.debug("kept", performance.now()));
})()"""
"""Tells when the first screen was drawn, and when the worker had everything."""
SIGN = """async ([form, rounds]) => {
    const { module } = await import(document.querySelector("script").src);
    const phone = new (module("phone.js").Phone)(module("vocabulary.js").vocabulary);
    await phone.open();
    await phone.tidy();
    const since = n => new Date(Date.UTC(2026, 11, 1, 9) - n * 1000).toISOString().slice(0, 19) + "-05:00";
    const draft = n => ({ chain: `form/${form}`, act: "held",
        data: { secured: "possession", where: "person", since: since(n) } });
    const database = await new Promise(ok => {
        const asked = indexedDB.open("floor", 1);
        asked.onupgradeneeded = () => asked.result.createObjectStore("row");
        asked.onsuccess = () => ok(asked.result);
    });
    const floor = async n => {
        await crypto.subtle.sign("Ed25519", phone.pair.privateKey, new Uint8Array(600));
        await new Promise(ok => {
            const written = database.transaction("row", "readwrite", { durability: "strict" });
            written.oncomplete = ok;
            written.objectStore("row").put("x".repeat(900), n);
        });
    };
    const timed = async work => {
        const began = performance.now();
        await work();
        return performance.now() - began;
    };
    const pairs = [];
    for (let n = 0; n < rounds + 3; n += 1) {
        pairs.push([await timed(() => phone.outbox.sign([draft(n)])), await timed(() => floor(n))]);
    }
    return pairs.slice(3);
}"""


class Going(Firm):
    """Phones whose clocks go by themselves, only ahead of this machine's: a clock that stands in for the
    browser's would measure itself.
    """

    def set_clock(self, context: BrowserContext) -> None:
        """As far ahead as the ledger's."""
        ahead = (self.field.clock().timestamp() - time.time()) * 1000
        context.add_init_script(
            f"(() => {{ const now = Date.now; Date.now = () => Math.round(now() + {ahead}); }})()"
        )

    def look_again(self, phone: Phone) -> None:
        """The screen asks by itself, every few seconds."""


@contextmanager
def floor_at() -> Iterator[str]:
    """The address of a page that does nothing."""

    @Request.application
    def answer(request: Request) -> Response:
        kind, content = FLOOR.get(request.path, ("text/plain", ""))
        return Response(content, content_type=kind, headers={"Cache-Control": "no-cache"})

    server = make_server("127.0.0.1", 0, answer, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def opened(
    context: BrowserContext, address: str, slower: float, network: dict[str, Any] | None = None
) -> tuple[Page, dict[str, float]]:
    """A page of a slow phone when its first screen is there, and what it told until then (ms).

    It is not asked: a question takes as long as a part of the start.
    """
    page = context.new_page()
    heard: dict[str, float] = {}
    page.on("console", lambda said: _hear(heard, said.text))
    session = context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": slower})
    if network:
        session.send("Network.enable")
        session.send("Network.emulateNetworkConditions", network)
    with page.expect_console_message(lambda said: said.text.startswith("usable")):
        page.goto(address, wait_until="commit")
    return page, heard


def _hear(heard: dict[str, float], text: str) -> None:
    name, _, ms = text.partition(" ")
    if name in ("usable", "kept"):
        heard[name] = float(ms)


def warm(context: BrowserContext, address: str, slower: float) -> float:
    """Milliseconds of one start without a network."""
    page, heard = opened(context, address, slower)
    page.close()
    return heard["usable"]


def first(browser: Browser, address: str, slower: float) -> tuple[float, float]:
    """Milliseconds until there is something to tap, and until it works without a network."""
    context = browser.new_context(viewport=SIZE)
    context.add_init_script(USABLE)
    page, heard = opened(context, address, slower, NETWORK)
    while "kept" not in heard:
        page.wait_for_timeout(20)
    context.close()
    return heard["usable"], heard["kept"]


def told(name: str, pairs: list[tuple[float, float]], goal_ms: int) -> None:
    """One line."""
    ours, floors = sorted(each for each, _ in pairs), sorted(each for _, each in pairs)
    most = ours[min(len(ours) - 1, round(0.95 * len(ours)))]
    ratio = statistics.median(one / other for one, other in pairs)
    print(
        f"{name:36} {statistics.median(ours):6.0f} ms (goal {goal_ms}), p95 {most:.0f},"
        f" floor {statistics.median(floors):.0f}, ratio {ratio:.2f}"
    )


def main() -> int:
    """Measure and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--slower", type=float, default=4)
    asked = parser.parse_args()
    print(card())
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    with (
        tempfile.TemporaryDirectory() as folder,
        firm_at(Path(folder)) as made,
        floor_at() as nothing,
        sync_playwright() as playwright,
    ):
        firm = Going(made.field, made.url)
        browser = programs.started_browser(playwright)
        phone = firm.phone(browser, "Ines Marlow", "inspector")
        phone.see("Works without a network")
        context = phone.context
        context.add_init_script(USABLE)
        page, heard = opened(context, nothing, 1)
        while "kept" not in heard:
            page.wait_for_timeout(20)
        context.set_offline(True)
        app = f"{firm.url}/sign/"
        starts = [
            (warm(context, app, asked.slower), warm(context, nothing, asked.slower))
            for _ in range(asked.rounds)
        ]
        told("warm start without a network", starts, 400)
        page, _ = opened(context, app, asked.slower)
        told("tap on Sign until it is on the disk", page.evaluate(SIGN, [firm.field.open_form(), 60]), 30)
        context.set_offline(False)
        visits = [
            (first(browser, app, asked.slower), first(browser, nothing, asked.slower))
            for _ in range(asked.rounds)
        ]
        for place, (name, goal) in enumerate(
            (("first visit until usable", 1500), ("first visit until it works offline", 8000))
        ):
            told(name, [(ours[place], floor[place]) for ours, floor in visits], goal)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
