"""What was typed on a screen that is not signed yet outlives the browser; what is signed is not offered."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from test_screens import judge

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.signing import signed_statement
from field import FIRM

if TYPE_CHECKING:
    from phones import Firm, Phone
    from playwright.sync_api import Browser

    from conftest import Modules

pytestmark = pytest.mark.slow

MEMORY = """
const memory = () => {
  const rows = new Map();
  return { rows, at: 1000, now() { return this.at; }, store: {
    recall: async name => rows.get(name),
    remember: async (name, value) => void rows.set(name, structuredClone(value)),
    forget: async name => void rows.delete(name),
    under: async begin => [...rows].filter(([name]) => name.startsWith(begin)).map(([, row]) => row),
    drafts: async () => [...rows].filter(([name]) => name.startsWith("draft/")).map(([, row]) => row),
    forgetUnder: async begin => {
      for (const name of [...rows.keys()]) if (name.startsWith(begin)) rows.delete(name);
    },
  } };
};
const field = (said = "") => ({ said, kept() { return this.said; }, put(text) { this.said = text; } });
"""
"""A memory and a question, without a browser's."""


def test_what_is_typed_is_kept_until_it_is_signed_or_discarded(modules: Modules) -> None:
    """A phone that dies in a crawl space would cost all that was typed; and what was said of one cassette
    would be signed of the next.
    """
    found = modules.run(
        "parts/unsigned.js",
        f"""async m => {{ {MEMORY}
            const phone = memory();
            const first = new m.Unsigned(phone);
            const typed = {{ place: field(), covers_on: field() }};
            const out = [await first.begin("close/S1", typed, () => true)];
            typed.place.said = "by the window";
            first.keep();
            typed.covers_on.said = true; // while the first is being written
            first.keep();
            await first.writing;
            const again = async (where) => {{
              const fields = {{ place: field(), covers_on: field() }};
              const since = await new m.Unsigned(phone).begin(where, fields, () => true);
              return [since, fields.place.said, fields.covers_on.said];
            }};
            out.push(await again("close/S1"), await again("close/S2"));
            const name = await first.pause();
            typed.place.said = "elsewhere";
            first.keep();
            await first.writing;
            out.push(name, await again("close/S1"));
            first.goOn(name);
            await first.writing;
            out.push(await again("close/S1"));
            await first.drop();
            out.push(await again("close/S1"), phone.rows.size);
            return out;
        }}""",
    )
    assert found == [
        None,
        [1000, "by the window", True],
        [None, "", ""],
        "typed/close/S1",
        [1000, "by the window", True],
        [1000, "elsewhere", True],
        [None, "", ""],
        0,
    ]


def test_what_was_begun_and_left_does_not_stay_for_ever(modules: Modules) -> None:
    """A client's address that was never signed would lie on the phone for years."""
    found = modules.run(
        "parts/unsigned.js",
        f"""async m => {{ {MEMORY}
            const phone = memory();
            const each = new m.Unsigned(phone);
            const client = field();
            await each.begin("opening", {{ client }}, () => true);
            client.said = "Perpetua Example";
            each.keep();
            await each.writing;
            const left = [];
            for (const days of [6.9, 7.1]) {{
              phone.at = 1000 + days * 24 * 3600 * 1000;
              await each.tidy();
              left.push(phone.rows.size);
            }}
            return left;
        }}""",
    )
    assert found == [1, 0]


def test_what_was_typed_goes_with_what_was_erased_and_with_the_key(modules: Modules) -> None:
    """A client who has it erased is told that it is gone, and the inspector's phone would go on showing it;
    the phone of somebody who was let go would keep addresses of clients.
    """
    found = modules.run(
        "parts/unsigned.js",
        f"""async m => {{ {MEMORY}
            const phone = memory();
            const row = (name, at, typed = {{}}) => phone.rows.set(name, {{ name: name, at, typed }});
            phone.brief = {{ erased: [{{ form: "FN7R0000K5KJ", recorded: "2026-12-01T14:00:00Z" }}] }};
            const at = Date.parse("2026-12-01T14:00:00Z");
            phone.at = at + 1000;
            row("typed/cassette/FN7R0000K5KJ", at - 1, {{ place: "left of the crib" }});
            row("typed/close/S6M9K6F1K5KJ", at - 1, {{ note: "x" }});
            row("typed/take", at - 1, {{ form: "fn7r 0000 k5kj" }});
            row("typed/give/FN7R0000K5KJ", at + 1);
            row("typed/cassette/F00000000000", at - 1);
            row("typed/opening", at - 1);
            phone.rows.set("draft/S6M9K6F1K5KJ", {{ form: "FN7R0000K5KJ", sample: "S6M9K6F1K5KJ" }});
            phone.rows.set("last", {{ pump: "P-1" }});
            const each = new m.Unsigned(phone);
            await each.tidy();
            const out = [[...phone.rows.keys()]];
            await each.dropAll();
            out.push([...phone.rows.keys()]);
            await each.begin("opening", {{ client: field() }}, () => true);
            row("typed/opening", at);
            phone.standing = {{ end: {{}} }};
            await each.tidy();
            out.push([...phone.rows.keys()]);
            each.keep();
            return [...out, each.writing];
        }}""",
    )
    left = ["typed/give/FN7R0000K5KJ", "typed/cassette/F00000000000", "typed/opening"]
    assert found == [[*left, "draft/S6M9K6F1K5KJ", "last"], ["draft/S6M9K6F1K5KJ", "last"], ["last"], None]


def test_a_full_memory_keeps_nobody_from_typing(modules: Modules) -> None:
    """The screen would stop at the first key."""
    found = modules.run(
        "parts/unsigned.js",
        f"""async m => {{ {MEMORY}
            const phone = memory();
            phone.store.remember = async () => {{ throw new Error("full"); }};
            const each = new m.Unsigned(phone);
            const place = field();
            await each.begin("opening", {{ place }}, () => true);
            place.said = "a";
            each.keep();
            await each.writing;
            return each.writing;
        }}""",
    )
    assert found is None


def test_a_tab_that_dies_loses_nothing_that_was_typed(firm: Firm, ines: Phone, zoe: Phone) -> None:
    """Twenty answers about one cassette are typed in a crawl space, and the browser takes the memory for
    another app. What was signed is offered for no other cassette.
    """
    _, samples = firm.field.lot(3)
    ines.go_home()
    ines.tap("Begin a visit")
    ines.tap("I have read this")
    ines.type("Client", "Perpetua Example")
    ines.remembers("typed/opening", "Perpetua")
    ines.page.reload()
    ines.heading("A new visit")
    ines.see("Not signed yet: what you typed at ")
    assert ines.line("Client").input_value() == "Perpetua Example"
    judge(ines, "typed-before")
    ines.tap("Empty this screen")
    ines.page.get_by_text("Not signed yet").wait_for(state="detached")
    assert ines.line("Client").input_value() == ""
    ines.go_home()
    form = ines.open_visit()
    ines.tap("Next cassette")
    ines.heading("Cassette")
    ines.scan(f"HTTPS://LEDGER.EXAMPLE/S/{samples[0]}")
    ines.see("not expired")
    ines.pick("Kind", "indoor")
    ines.pick("Room", "basement")
    ines.draw()
    ines.type("Flow before the run, L/min", "15.0")
    ines.remembers(f"typed/cassette/{form}", "15.0")
    ines.page.reload()
    ines.see("Not signed yet: what you typed at ")
    ines.see("not expired")
    ines.see("Kept on this phone")
    ines.tap("Start the pump")
    ines.heading("The pump runs")
    firm.later(5)
    ines.tap("Stop the pump")
    ines.heading("After the run")
    ines.pick("Are the covers back on?", "Yes")
    ines.page.get_by_text("More", exact=True).click()
    ines.type("Note", "a drip on the wall")
    ines.remembers(f"typed/close/{samples[0]}", "a drip")
    ines.page.reload()
    ines.see("Not signed yet: what you typed at ")
    assert ines.line("Note").is_visible(), "what is signed is seen"
    ines.tap("Sign: collected")
    ines.heading("Visit")
    said = ines.rows()[-1]
    assert (said["data"]["entered"], said["data"]["room"], said["data"]["covers_on"]) == (
        "scan",
        "basement",
        True,
    )
    assert said["data"]["photo"]["type"] == "image/png"
    assert len(said["disclosures"]) == 1
    ines.tap("Next cassette")
    ines.heading("Cassette")
    assert not ines.page.get_by_text("Not signed yet").count()
    assert ines.page.get_by_label("indoor", exact=True).is_checked(), "most follow one of their kind"
    assert not ines.page.get_by_label("basement", exact=True).is_checked()
    assert ines.line("Number on the label").input_value() == ""
    zoe.go_home()
    zoe.tap("Receive samples")
    zoe.type("Number on the label", grouped(samples[1]))
    zoe.pick(grouped(samples[1]), "intact")
    zoe.type("Form number", grouped(form))
    zoe.remembers("typed/take", grouped(form))
    zoe.page.reload()
    zoe.see("Not signed yet: what you typed at ")
    zoe.tap("Sign: 1 sample received")
    zoe.heading("Visit")
    zoe.go_home()
    zoe.tap("Receive samples")
    zoe.heading("Receive samples")
    assert not zoe.page.get_by_text("Not signed yet").count()
    assert not zoe.page.get_by_role("group", name=grouped(samples[1])).count()
    assert [each.complaints for each in (ines, zoe)] == [[], []]


def typed(phone: Phone, many: int) -> None:
    """Wait until so many screens in its memory are typed and not signed."""
    phone.evaluate(
        f"""() => new Promise((ok, no) => {{
            const asked = indexedDB.open("bailee-sign");
            asked.onerror = () => no(asked.error);
            asked.onsuccess = () => {{
              const look = () => {{
                const memory = asked.result.transaction("memory").objectStore("memory");
                memory.count(IDBKeyRange.bound("typed/", "typed/~")).onsuccess = ({{ target }}) => {{
                  if (target.result !== {many}) return look();
                  asked.result.close();
                  ok();
                }};
              }};
              look();
            }};
        }})"""
    )


def test_what_is_private_leaves_the_phone(firm: Firm, browser: Browser) -> None:
    """Perpetua has her address erased: the inspector's phone would go on showing it, and keep it when its key
    has ended and it is sold.
    """
    uma = firm.phone(browser, "Uma Frost", "inspector")
    form = uma.open_visit()
    uma.sent()
    (opened,) = uma.rows()
    uma.tap("Next cassette")
    uma.heading("Cassette")
    uma.type("Where exactly", "left of the crib")
    uma.remembers(f"typed/cassette/{form}", "crib")
    field, root = firm.field, firm.field.roots[FIRM]
    firm.later(1)
    length, head = field.head(f"form/{form}")
    assert length
    root.heads[f"form/{form}"] = head
    gone = {"statement": signed_statement.digest(opened["text"]), "count": len(opened["disclosures"])}
    field.ok(field.send(root.sign(f"form/{form}", "erased", gone)), root)
    uma.go_home()
    typed(uma, 0)
    (after,) = uma.rows()
    assert after == opened | {"disclosures": [], "answer": after["answer"], "state": "registered"}
    assert "Invented Lane" not in uma.evaluate("() => document.body.innerText")
    uma.tap("Begin a visit")
    uma.tap("I have read this")
    uma.type("Client", "Perpetua Example")
    uma.remembers("typed/opening", "Perpetua")
    uma.go("/sign/#signed")
    uma.see("1 screen of this phone")
    uma.tap("Delete what is not signed")
    uma.see("It cannot be brought back")
    judge(uma, "typed-delete")
    uma.tap("Delete it")
    typed(uma, 0)
    uma.page.get_by_text("1 screen of this phone").wait_for(state="detached")
    uma.go("/sign/#opening")
    uma.type("Client", "Perpetua Example")
    uma.remembers("typed/opening", "Perpetua")
    ended = {
        "kid": uma.kid,
        "reason": "left",
        "since": Moment.shown_in(field.clock(), "America/New_York").text(),
        "last_good_seq": 1,
    }
    field.ok(field.send(root.sign(f"org/{FIRM}", "revoked", ended)), root)
    uma.page.reload()
    uma.heading("This key was ended")
    uma.see("What was typed here and not signed is deleted.")
    typed(uma, 0)
    assert uma.complaints == []
