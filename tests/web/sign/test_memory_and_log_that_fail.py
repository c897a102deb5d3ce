"""A memory that cannot be used, and a log that is not the one this phone saw: each is told in its own
sentence, and in none of them is anybody invited to make a second key.

The memory is spoilt in a real browser by what browsers themselves throw (W3C IndexedDB 3.0, File System); the
log by what the phone remembers of it (RFC 9162 2.1.4: a later tree begins with the earlier one).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import programs
import waiting

if TYPE_CHECKING:
    from phones import Firm
    from playwright.sync_api import Browser

    from conftest import Modules

pytestmark = pytest.mark.slow

SEEN = """change => new Promise(ok => { const asked = indexedDB.open('bailee-sign'); asked.onsuccess = () => {
    const memory = asked.result.transaction('memory', 'readwrite').objectStore('memory');
    memory.get('seen').onsuccess = ({ target }) => {
        if (target.result && change) memory.put({ ...target.result, ...change }, 'seen');
        asked.result.close();
        ok(target.result ?? null);
    }; }; })"""
BLOCKED = """IDBFactory.prototype.open = () => { throw new DOMException("", "SecurityError"); };"""
BROKEN = """IDBFactory.prototype.open = () => {
    const asked = { error: new DOMException("", "UnknownError") };
    setTimeout(() => asked.onerror());
    return asked;
};"""
PRIVATE = """StorageManager.prototype.getDirectory = async () => {
    throw new DOMException("", "SecurityError");
};"""


@pytest.mark.parametrize(
    ("script", "title"),
    [
        (BLOCKED, "This browser keeps nothing here"),
        (BROKEN, "The memory of this app cannot be opened"),
        (PRIVATE, "This is a private window"),
    ],
)
def test_a_memory_that_cannot_be_used_is_no_new_phone(
    firm: Firm, browser: Browser, script: str, title: str
) -> None:
    """Whoever makes a second key there, or one that is gone with the window, has signed in a name that nobody
    can show.
    """
    context = programs.visitor(browser)
    context.add_init_script(script)
    page = context.new_page()
    page.goto(f"{firm.url}/sign/")
    page.get_by_role("heading", level=1, name=title, exact=True).wait_for()
    assert not page.get_by_role("button", name="Make the key").count()
    context.close()


@pytest.mark.parametrize(
    "script",
    [
        "ServiceWorkerContainer.prototype.register = () => new Promise(() => null);",
        """Object.defineProperty(ServiceWorkerContainer.prototype, "ready",
            { get: () => new Promise(() => null) });""",
    ],
)
def test_a_worker_that_never_comes_keeps_nobody_out(firm: Firm, browser: Browser, script: str) -> None:
    """A phone whose browser was killed stands in the basement and shows nothing but its name."""
    context = programs.visitor(browser)
    context.add_init_script(script)
    page = context.new_page()
    page.goto(f"{firm.url}/sign/")
    page.get_by_role("heading", level=1, name="This phone has no key yet", exact=True).wait_for()
    context.close()


def test_a_memory_that_never_answers_is_told(firm: Firm, browser: Browser) -> None:
    """Whoever sees "Opening" for minutes deletes the app, and with it the key and what was not sent.

    Nobody is invited to make a key meanwhile, whatever address is opened.
    """
    context = programs.visitor(browser)
    context.add_init_script("IDBFactory.prototype.open = () => ({});")
    page = context.new_page()
    page.goto(f"{firm.url}/sign/")
    told = page.get_by_text("What was signed is kept: do not make a new key.")
    told.wait_for(state="attached")
    assert not told.is_visible()
    page.evaluate("document.getAnimations().forEach(each => each.finish())")  # fifteen seconds are over
    told.wait_for()
    page.evaluate("location.hash = 'new'")
    page.evaluate("() => new Promise(done => setTimeout(done))")
    assert told.is_visible()
    page.get_by_role("link", name="Try again").click()
    told.wait_for(state="attached")
    assert not page.get_by_role("button", name="Make the key").count()
    context.close()


ENDS = """AbortSignal.timeout = () => AbortSignal.abort(new DOMException("", "TimeoutError"));"""
"""However long something may take, it is over."""
UNANSWERED = (
    """async m => {"""
    + ENDS
    + """
    const fetch = (path, { signal }) => new Promise((_, no) => {
        if (signal?.aborted) no(signal.reason);
    });
    const heard = [];
    const service = new m.Service({ fetch, token: async () => "t", heard: each => heard.push(each) });
    const end = new Promise(ok => setTimeout(ok, 1000, "never ends"));
    const asked = [service.get("/devices/me"), service.open("/entries", {})]
        .map(each => Promise.race([each, end]).catch(error => error.constructor.name));
    return [await Promise.all(asked), heard];
}"""
)


def test_two_tabs_that_look_for_room_at_once_both_find_it(firm: Firm, browser: Browser) -> None:
    """One of them would say that the phone is full, on the morning of a visit."""
    context = programs.visitor(browser)
    pages = [context.new_page() for _ in range(2)]
    for page in pages:
        page.goto(f"{firm.url}/sign/")
        page.evaluate("""async () => {
            const { module } = await import(document.querySelector('script').src);
            const copies = await module('memory/copies.js').Copies.here();
            const all = Array.from({ length: 12 }, () => copies.proveRoom());
            window.proven = Promise.all(all).then(() => "room");
        }""")
    assert [page.evaluate("window.proven") for page in pages] == ["room", "room"]
    context.close()


def test_a_memory_that_answers_nothing_is_told(firm: Firm, browser: Browser) -> None:
    """A button that was tapped does nothing for ever, and the inspector signs once more on another phone.

    Seen in WebKitGTK, whose database stood still.
    """
    _, samples = firm.field.lot(1)
    phone = firm.phone(browser, "Hale Orchard", "inspector")
    phone.open_visit()
    phone.collect(samples[0], "indoor")
    phone.page.evaluate("""async () => {
        const { module } = await import(document.querySelector('script').src);
        const { Store } = module('memory/store.js');
        const { place } = Store.prototype;
        window.answered = new Promise(ok => (window.answer = ok));
        Store.prototype.place = async function (...asked) {
            await window.answered;
            return place.apply(this, asked);
        };
    }""")
    phone.tap("No outdoor control possible")
    phone.pick("Why", "lightning")
    phone.tap("Sign: no outdoor control possible")
    waiting.until(lambda: phone.later(1) or "This takes long" in phone.page.inner_text("#alarm"))
    phone.page.evaluate("window.answer()")
    phone.heading("Visit")
    assert phone.page.inner_text("#alarm") == ""
    firm.phones.remove(phone)
    phone.context.close()


def test_a_network_that_answers_nothing_is_none(modules: Modules) -> None:
    """In a stairwell the phone shows full bars, takes the question and never answers: whoever signs waits for
    ever, and nothing is tried again.
    """
    said = modules.run("core/service.js", UNANSWERED)
    assert said == [["Unreachable", "Unreachable"], [False, False]]


@pytest.mark.parametrize(
    ("by", "root", "sentence"),
    [
        (1000, None, "The log shows fewer entries than this phone has seen"),
        (0, "A" * 43, "The log does not continue what this phone has seen"),
    ],
)
def test_another_log_than_the_one_seen_stops_the_phone(
    firm: Firm, browser: Browser, by: int, root: str | None, sentence: str
) -> None:
    """Entries were taken out of the log, and a phone that knows it goes on signing as if nothing were."""
    phone = firm.phone(browser, "Hana Brook", "inspector")
    waiting.until(lambda: phone.page.evaluate(SEEN, None))
    seen = phone.page.evaluate(SEEN, None)
    phone.page.evaluate(SEEN, {"size": seen["size"] + by, "root": root or seen["root"]})
    phone.page.reload()
    phone.heading("Stop")
    phone.see(sentence)
    phone.see("What this phone signed is kept.")
    phone.page.reload()
    phone.heading("Stop")
    firm.phones.remove(phone)
    phone.context.close()
