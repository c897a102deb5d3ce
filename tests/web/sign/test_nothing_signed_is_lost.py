"""What was signed on a phone stays, is sent, and is signed once: whatever dies, fills up, or is asked twice.

No standard says how a browser must keep a counter; the promises are those of the terminal's outbox
(`bailee_cli/device/outbox.py`), tried in a real browser.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pytest
from killing import kill
from phones import TAB, firm_at

from field import FIRM

if TYPE_CHECKING:
    from pathlib import Path

    from phones import Firm, Phone
    from playwright.sync_api import Browser, Route

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def phone(firm: Firm, browser: Browser) -> Phone:
    """A phone of its own, so that its counters can be reckoned."""
    return firm.phone(browser, "Pia Moss", "inspector")


def counters(phone: Phone) -> list[int]:
    """What was signed, by counter."""
    return [row["seq"] for row in phone.rows()]


def here(firm: Firm, phone: Phone) -> dict[str, Any]:
    """How the ledger has its counters."""
    from bailee.store import log

    with firm.field.ledger.database.reading() as connection:
        found = log.counters(connection, phone.kid)
    return {"highest": found.highest, "missing": found.missing}


def test_two_tabs_sign_at_once(firm: Firm, phone: Phone) -> None:
    """Two statements under one counter are a forked key for ever: with the browser's locks,
    and without them.
    """
    form = firm.field.open_form()
    tabs = [phone.page, phone.context.new_page()]
    tabs[1].goto(f"{firm.url}/sign/")
    tabs[1].get_by_role("heading", level=1, name="Pia Moss").wait_for()
    for has_locks in (True, False):
        body = f"""async form => {{ {TAB}
            if (!{str(has_locks).lower()}) phone.outbox.locks = null;
            const one = (_, n) => phone.outbox.sign([draft(form, n)]);
            window.signing = Promise.all(Array.from({{ length: 8 }}, one));
        }}"""
        before = len(counters(phone))
        for tab in tabs:
            tab.evaluate(body, form)
        for tab in tabs:
            tab.evaluate("() => window.signing.then(() => null)")
        assert counters(phone) == list(range(1, before + 17))
    tabs[1].close()


def test_a_lock_that_is_never_given_back_keeps_nobody_from_signing(firm: Firm, phone: Phone) -> None:
    """Another tab was put to sleep in the middle of a signature: this one waits for it until the battery is
    empty. The compared counter keeps both from using one number.
    """
    form = firm.field.open_form()
    body = f"""async form => {{ {TAB}
        AbortSignal.timeout = () => AbortSignal.abort(new DOMException("", "TimeoutError"));
        const kept = new Promise(() => null);
        for (const name of ["sign", "send"]) {{
            const taken = ok => () => {{ ok(); return kept; }};
            await new Promise(ok => navigator.locks.request(`bailee-${{name}}`, taken(ok)));
        }}
        const end = new Promise(ok => setTimeout(ok, 1000, "never ends"));
        return Promise.race([phone.outbox.sign([draft(form, 1)]).then(rows => rows.length), end]);
    }}"""
    before = len(counters(phone))
    tab = phone.context.new_page()
    tab.goto(f"{firm.url}/sign/")
    tab.get_by_role("heading", level=1, name="Pia Moss").wait_for()
    assert tab.evaluate(body, form) == 1
    assert counters(phone) == list(range(1, before + 2))
    tab.close()


def test_an_answer_that_was_lost_is_asked_for_again(firm: Firm, phone: Phone) -> None:
    """The bus drives into the tunnel just then: the ledger has it, the phone does not know."""
    form = firm.field.open_form()
    lost = []

    def lose(route: Route) -> None:
        route.fetch()
        lost.append(route.request.url)
        route.abort()

    phone.page.route("**/entries", lose)
    body = f"async form => {{ {TAB} await phone.outbox.sign([draft(form, 1)]); await phone.sync(); }}"
    phone.page.evaluate(body, form)
    assert lost
    assert [row["state"] for row in phone.rows() if row["chain"] == f"form/{form}"] == ["waiting"]
    phone.page.unroute("**/entries")
    phone.page.reload()
    phone.sent()
    assert [row["state"] for row in phone.rows() if row["chain"] == f"form/{form}"] == ["registered"]
    assert here(firm, phone)["highest"] == len(counters(phone))


def test_an_answer_for_another_text_stops_the_phone(firm: Firm, browser: Browser) -> None:
    """A service that records something else in a person's name must be seen by that person's phone."""
    victim = firm.phone(browser, "Rhea Voss", "inspector")
    form = firm.field.open_form()

    def exchange(route: Route) -> None:
        told = route.fetch().json()
        told["answers"][0]["entry"] = told["answers"][0]["entry"].replace('"n":2', '"n":3')
        route.fulfill(json=told)

    victim.page.route("**/entries", exchange)
    body = f"async form => {{ {TAB} await phone.outbox.sign([draft(form, 1)]); }}"
    victim.page.evaluate(body, form)
    victim.page.evaluate("dispatchEvent(new Event('online'))")
    victim.heading("Stop")
    victim.page.get_by_text("does not contain what this phone signed").wait_for()
    assert [row["state"] for row in victim.rows()] == ["waiting"]
    assert (
        victim.page.evaluate(
            f"async form => {{ {TAB} return phone.outbox.sign([draft(form, 2)]).catch(e => e.why.code); }}",
            form,
        )
        == "bad-answer"
    )


def test_a_phone_put_back_from_an_old_copy_signs_no_more(firm: Firm, browser: Browser) -> None:
    """It would use counters a second time; it must stop before it signs, not after (device-fork)."""
    old = firm.phone(browser, "Olga Reed", "inspector")
    form = firm.field.open_form()
    old.page.evaluate(
        f"async form => {{ {TAB} await phone.sign(draft(form, 1)); await phone.sync(); }}", form
    )
    old.page.evaluate(
        """() => new Promise(ok => { const asked = indexedDB.open('bailee-sign'); asked.onsuccess = () => {
            const tx = asked.result.transaction('statement', 'readwrite');
            tx.objectStore('statement').clear();
            tx.oncomplete = () => { asked.result.close(); ok(); }; }; })"""
    )
    said = old.page.evaluate(
        f"async form => {{ {TAB} return phone.sign(draft(form, 2)).catch(e => e.why.code); }}", form
    )
    assert said == "behind"
    assert old.rows() == []
    old.page.reload()
    old.heading("Stop")
    assert old.page.get_by_text("older than what it has signed").is_visible()


@pytest.mark.parametrize("gone", ["indexeddb", "indexeddb,file_systems,local_storage"])
def test_a_phone_that_lost_its_key_says_so_and_sends_what_it_kept(
    firm: Firm, browser: Browser, gone: str
) -> None:
    """A browser that deletes its database on a full disk took the key, and perhaps its private files; nobody
    may take that for a new phone, and what was signed without a network must still arrive.
    """
    lost = firm.phone(browser, "Lena Hart", "inspector")
    lost.see("Works without a network")
    form = firm.field.open_form()
    lost.context.set_offline(True)
    lost.page.evaluate(
        f"async form => {{ {TAB} for (const n of [1, 2, 3]) await phone.outbox.sign([draft(form, n)]); }}",
        form,
    )
    kid = lost.kid
    assert here(firm, lost) == {"highest": 0, "missing": 0}
    cdp = lost.context.new_cdp_session(lost.page)
    cdp.send("Storage.clearDataForOrigin", {"origin": firm.url, "storageTypes": gone})
    lost.page.reload()
    lost.heading("This phone has lost its key")
    assert lost.page.get_by_text(kid[:8]).is_visible()
    assert lost.page.get_by_text("3 signed entries are still kept").is_visible()
    assert not lost.page.get_by_role("button", name="Make the key").count()
    lost.context.set_offline(False)
    lost.tap("Send what is kept")
    lost.page.get_by_text("3 sent.").wait_for()
    assert here(firm, lost) == {"highest": 3, "missing": 0}


def test_refused_in_the_middle_holds_nobody_up(firm: Firm, phone: Phone) -> None:
    """One statement that the ledger does not take must not keep the day's work on the phone."""
    good, strange = firm.field.open_form(), firm.field.number("form")
    body = f"""async ([good, strange]) => {{ {TAB}
        await phone.outbox.sign([draft(good, 1), draft(strange, 2), draft(good, 3)]); }}"""
    phone.page.evaluate(body, [good, strange])
    phone.page.reload()
    phone.page.locator("#strip").get_by_text(re.compile("^1 not recorded$")).wait_for()
    assert [row["state"] for row in phone.rows()][-3:] == ["registered", "refused", "registered"]
    phone.page.goto(f"{firm.url}/sign/#signed")
    phone.heading("Signed here")
    phone.page.get_by_role("button", name="Set aside").first.click()
    phone.page.get_by_text("is missing from then on").wait_for()
    phone.page.get_by_role("button", name="Set aside").last.click()
    phone.page.get_by_role("button", name="Take up again").wait_for()
    assert [row["state"] for row in phone.rows()][-2] == "set aside"


def test_a_key_that_was_ended_signs_no_more(firm: Firm, browser: Browser) -> None:
    """Somebody who was let go would collect all day, and nothing of it would count."""
    gone = firm.phone(browser, "Gus Lane", "inspector")
    data = {"kid": gone.kid, "reason": "left", "since": "2026-12-01T09:00:00-05:00", "last_good_seq": 0}
    root = firm.field.roots[FIRM]
    firm.field.ok(firm.field.send(root.sign(f"org/{FIRM}", "revoked", data)), root)
    gone.page.reload()
    gone.heading("This key was ended")
    said = gone.page.evaluate(
        f"async form => {{ {TAB} return phone.sign(draft(form, 2)).catch(e => e.why.code); }}",
        "F7K3M9Q2XF4P",
    )
    assert said == "ended"
    assert gone.rows() == []


def test_a_write_of_which_nobody_knows_is_read_back(firm: Firm, phone: Phone) -> None:
    """After a disk error it is unknown whether the row was kept: signed again, the act would stand there
    twice.
    """
    form = firm.field.open_form()
    body = f"""async form => {{ {TAB}
        const append = phone.store.append.bind(phone.store);
        const fault = () => {{ throw new DOMException("disk", "UnknownError"); }};
        phone.store.append = async (...asked) => {{ await append(...asked); fault(); }};
        const kept = (await phone.outbox.sign([draft(form, 1)])).length;
        phone.store.append = async () => fault();
        const lost = await phone.outbox.sign([draft(form, 2)]).catch(e => e.message);
        return [kept, lost];
    }}"""
    before = len(counters(phone))
    assert phone.page.evaluate(body, form) == [1, "not-kept"]
    assert len(counters(phone)) == before + 1


@pytest.mark.parametrize(
    ("opened", "fault"),
    [
        ("", "phone.copies.write = async () => full();"),
        ("await phone.copies.openJournal();", "phone.copies.journal.keep = async () => full();"),
    ],
    ids=["files", "journal"],
)
def test_a_disk_too_full_for_the_copy_signs_nothing(
    firm: Firm, phone: Phone, opened: str, fault: str
) -> None:
    """The database still finds room for a row, says that it is kept, and is deleted whole when the browser
    starts again on the full disk: nothing of that row is anywhere.
    """
    form = firm.field.open_form()
    body = f"""async form => {{ {TAB}
        {opened}
        const full = () => {{ throw new DOMException("disk", "QuotaExceededError"); }};
        {fault}
        const lost = await phone.outbox.sign([draft(form, 1)]).catch(e => e.code);
        delete phone.copies.write;
        delete phone.copies.journal?.keep;
        const kept = await phone.outbox.sign([draft(form, 1)]);
        return [lost, kept.length, (await phone.copies.unsent()).at(-1).text === kept[0].text];
    }}"""
    before = len(counters(phone))
    assert phone.page.evaluate(body, form) == ["full", 1, True]
    assert len(counters(phone)) == before + 1


def test_a_browser_killed_while_it_signs_loses_nothing(browser: Browser, tmp_path: Path) -> None:
    """The battery dies, or the system ends the browser as a whole: three kills here, as many as you like by
    `tests/web/sign/killing.py`.
    """
    with firm_at(tmp_path / "service") as firm:
        *_, found = kill(firm, browser.browser_type, tmp_path / "profile", 3)
    assert (found.kills, found.lost, found.double, found.gaps) == (3, [], [], [])
    assert found.recorded >= found.kept > 0
