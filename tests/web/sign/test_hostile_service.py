"""Somebody answers in the service's place: what a phone believes of it, and what it never gives away for it.

No standard says what such an answer looks like; each one here is what the app's own reader would have taken.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from phones import TAB

from bailee.ledger import entry as entries
from bailee.ledger.entry import Entry
from waiting import until

if TYPE_CHECKING:
    from phones import Firm
    from playwright.sync_api import Browser, Route

    from conftest import Modules

pytestmark = pytest.mark.slow

SIGNED = """const { makeKey, nameOf, token, writeStatement } = await import("/core/statement.js");
    const pair = await makeKey();
    const device = { org: "harrow-field", origin: "log.example", ...(await nameOf(pair.publicKey)) };
    const told = { chain: "form/F7K3M9Q2XF4P", act: "held", data: {}, iat: 1, tzo: "+00:00" };
    const place = seq => ({ seq, prev: "A".repeat(43), after: null, seen: null });
    const signed = seq => writeStatement(pair.privateKey, device, place(seq), told);"""
BEHIND = (
    "async m => {"
    + SIGNED
    + """
    const other = await makeKey();
    const alien = await writeStatement(other.privateKey, device, place(9), told);
    const [head, claims, mark] = (await signed(9)).split(".");
    const [newer, , foreign] = (await signed(10)).split(".");
    const texts = [9e15, "9", null, "", "a.b.c", alien, `${head}.${claims}.${foreign}`, await signed(3),
        await token(pair.privateKey, device, 5), await signed(4)];
    const found = [];
    for (const text of texts) {
        let stopped = null;
        const store = {
            place: async () => ({ device, newest: { seq: 3 } }),
            stop: async why => { stopped = why; },
        };
        await new m.Outbox(store, null, {}).requireNotBehind(text).catch(() => null);
        found.push(stopped);
    }
    return found;
}"""
)
TOLD = """async m => {
    const store = new m.Store(async () => {});
    const found = [];
    for (const [n, leaf] of [[1e15, "false"], [4, "true"]]) {
        await store.told("form/F", n, leaf);
        found.push((await store.place(["form/F"])).heads["form/F"].leaf);
    }
    return found;
}"""
PAGES = """async m => {
    const page = (text, type, status) => async () =>
        new Response(text, { status, headers: { "content-type": type } });
    const asked = [
        ["<h1>This network is watched</h1>", "text/html", 200, "/checkpoint"],
        ["<h1>This network is watched</h1>", "text/html; charset=utf-8", 200, "/entries"],
        ["come back later", "text/plain", 200, "/devices/me"],
        ["null", "application/json", 200, "/entries"],
        ["null", "application/problem+json", 404, "/checkpoint"],
        ["a note", "text/plain; charset=utf-8", 200, "/checkpoint"],
        ["{}", "application/json", 200, "/health"],
        ['{"code": "no-checkpoint"}', "application/problem+json", 404, "/checkpoint"],
    ];
    const found = [];
    for (const [text, type, status, path] of asked) {
        const service = new m.Service({ fetch: page(text, type, status), token: async () => "t" });
        found.push(await service.open(path).then(() => "told", error => error.constructor.name));
    }
    return found;
}"""


def test_a_number_alone_stops_no_phone(modules: Modules) -> None:
    """Whoever answers once in the service's place would stop every phone of a firm for ever: only a statement
    that this very key signed, beyond what the phone remembers, shows that its memory is an old one.
    """
    *believed_not, shown = modules.run("core/outbox.js", BEHIND)
    assert believed_not == [None] * 9
    assert shown == {"code": "behind", "highest": 4, "newest": 3}


def test_a_false_number_is_named_until_the_next_word_and_no_longer(modules: Modules) -> None:
    """Whoever answered once in the service's place would have every later act of this phone refused, for it
    names an entry that no ledger has.
    """
    assert modules.run("memory/store.js", TOLD) == ["false", "true"]


def test_a_page_of_the_network_between_is_no_answer(modules: Modules) -> None:
    """A proxy that shows its own page under the service's address stopped every phone behind it for good: it
    was read as another log.
    """
    *pages, note, health, problem = modules.run("core/service.js", PAGES)
    assert pages == ["Unreachable"] * 5
    assert (note, health, problem) == ("told", "told", "Problem")


@pytest.mark.parametrize("word", ["registered", "duplicate"])
def test_the_last_copy_of_a_signed_text_goes_for_no_word(firm: Firm, browser: Browser, word: str) -> None:
    """A phone that lost its key has what it signed nowhere else: somebody who only says that it is recorded
    had it thrown away.
    """
    victim = firm.phone(browser, f"Wim {word}", "inspector")
    victim.see("Works without a network")
    form = firm.field.open_form()
    victim.context.set_offline(True)
    victim.page.evaluate(
        f"async form => {{ {TAB} await phone.outbox.sign([draft(form, 1)]); await phone.tidy(); }}", form
    )
    cdp = victim.context.new_cdp_session(victim.page)
    cdp.send("Storage.clearDataForOrigin", {"origin": firm.url, "storageTypes": "indexeddb"})
    victim.page.reload()
    victim.heading("This phone has lost its key")
    victim.see("1 signed entry is still kept")
    victim.context.set_offline(False)
    answer: dict[str, Any] = {"status": word, "n": 2, "leaf": "A" * 43, "chain": f"form/{form}"}
    lies: list[dict[str, Any]] = [
        {"answers": [answer]},
        {"answers": [answer | {"entry": "{}"}]},
        {"answers": []},
        {},
    ]

    def lie(route: Route) -> None:
        route.fulfill(json=lies[0])

    victim.context.route("**/entries", lie)
    while lies:
        victim.tap("Send what is kept")
        victim.see("does not contain what this phone signed")
        lies.pop(0)
        victim.page.reload()
        victim.see("1 signed entry is still kept")
    victim.context.unroute("**/entries")
    victim.tap("Send what is kept")
    victim.see("1 sent.")
    assert firm.field.head(f"form/{form}")[0] == 2
    victim.context.close()


def test_what_somebody_else_called_recorded_reaches_the_ledger_all_the_same(
    firm: Firm, browser: Browser
) -> None:
    """An answer that looks right in all its parts came from nobody: the phone showed the hand-over as
    recorded, never sent it again, and the ledger had a hole.
    """
    victim = firm.phone(browser, "Tess Alder", "inspector")
    form = firm.field.open_form()

    def record_nothing(route: Route) -> None:
        answers = []
        for sent in route.request.post_data_json["statements"]:
            made = Entry(f"form/{form}", 2, "A" * 43, "2026-12-01T14:00:00.000Z", sent["statement"])
            text = entries.write(made)
            told = {
                "status": "registered",
                "chain": made.chain,
                "n": 2,
                "entry": text,
                "leaf": entries.link(text),
            }
            answers.append(told)
        route.fulfill(json={"answers": answers})

    victim.context.route("**/entries", record_nothing)
    body = f"async form => {{ {TAB} await phone.sign(draft(form, 1)); await phone.sync(); }}"
    victim.page.evaluate(body, form)
    assert [row["state"] for row in victim.rows()] == ["registered"]
    assert firm.field.head(f"form/{form}")[0] == 1
    victim.context.unroute("**/entries")
    victim.page.reload()
    victim.heading("Tess Alder")
    until(lambda: victim.page.evaluate("true") and firm.field.head(f"form/{form}")[0] == 2)
    assert [row["state"] for row in victim.rows()] == ["registered"]
    victim.context.close()
