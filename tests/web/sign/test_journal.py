"""The journal: what it has after whatever tore it, and what is sent from it alone.

No standard says what a browser's database outlives; it is tried in a real browser.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from phones import TAB

from waiting import until

if TYPE_CHECKING:
    from phones import Firm, Phone
    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow

JOURNAL = """const { module } = await import(document.querySelector('script').src);
    const [{ Journal }, { journalWorker }] = ['memory/journal.js', 'memory/files.js'].map(module);
    const journal = await Journal.opened(journalWorker());
    const append = rows => journal.keep(rows, null);
    const row = (seq, text = `text ${seq}`) => ({ kid: 'k', seq, text, disclosures: [] });
    const mine = rows => rows.filter(each => each.kid === 'k').map(each => [each.seq, each.text]);
    const has = async () => mine(await journal.read());
    const root = await navigator.storage.getDirectory();
    const file = await (await root.getDirectoryHandle('bailee-sign')).getFileHandle('journal');
    const bytes = async () => (await file.getFile()).arrayBuffer().then(found => new Uint8Array(found));
    const spoil = async (at, content) => {
        const writing = await file.createWritable({ keepExistingData: true });
        await writing.write({ type: 'write', position: at, data: content });
        await writing.close();
    };"""


def test_a_journal_has_what_was_written_and_is_not_recorded_yet(ines: Phone) -> None:
    """A line that a kill tore would take the next one with it, or a recorded one be sent for ever."""
    body = f"""async () => {{ {JOURNAL}
        await journal.drop(await journal.read()); // what others have there
        const found = [];
        await append([row(1), row(2)]);
        await append([row(2), row(3)]);
        found.push(await has());
        await spoil((await bytes()).indexOf(0), '\\n{{"kid":"k","seq":4,"te'); // the browser died there
        await append([row(4)]);
        await append([row(3, 'what another tab signed')]);
        found.push(await has());
        await journal.drop([row(1), row(4)]);
        found.push(await has());
        await journal.drop([row(2), row(3), row(9)]);
        found.push(await has(), (await bytes()).every(each => each === 0));
        await append([row(5)]);
        found.push(await has());
        await journal.drop([row(5)]);
        return found;
    }}"""
    first, torn, fewer, none, is_empty, again = ines.page.evaluate(body)
    assert first == [[1, "text 1"], [2, "text 2"], [3, "text 3"]]
    assert torn == [[1, "text 1"], [2, "text 2"], [3, "what another tab signed"], [4, "text 4"]]
    assert fewer == [[2, "text 2"], [3, "what another tab signed"]]
    assert (none, is_empty, again) == ([], True, [[5, "text 5"]])


def test_a_journal_grows_beyond_its_room(ines: Phone) -> None:
    """After two weeks without a network the last texts would be missing, or the first."""
    body = f"""async () => {{ {JOURNAL}
        const long = Array.from({{ length: 130 }}, (_, i) => row(100 + i, 'x'.repeat(10_000)));
        const before = (await bytes()).length;
        for (const each of long) await append([each]);
        const found = [before, (await bytes()).length > before, (await has()).map(([seq]) => seq)];
        await journal.drop(long);
        return [...found, (await has()).length];
    }}"""
    before, is_longer, has, left = ines.page.evaluate(body)
    assert before == 2**20
    assert is_longer
    assert has == list(range(100, 230))
    assert left == 0


def test_texts_are_sent_when_the_browser_lost_all_but_the_journal(browser: Browser, firm: Firm) -> None:
    """Killed in its own writing, it deleted the database and forgot the newest of its private files."""
    phone = firm.phone(browser, "Ruth Adler", "inspector")
    phone.see("Works without a network")
    form = firm.field.open_form()
    phone.context.set_offline(True)
    phone.page.reload()
    phone.heading("Ruth Adler")
    body = f"""async form => {{ {TAB}
        await phone.copies.openJournal();
        await phone.outbox.sign([draft(form, 1)]);
        const isThere = name => phone.copies.files.getFileHandle(name).then(() => true, () => false);
        const [{{ kid, seq }}] = await phone.store.all().then(rows => rows.slice(-1));
        const hadFile = await isThere(`unsent-${{kid}}-${{seq}}`);
        const shelf = await caches.open('bailee-unsent');
        const shelved = await (await shelf.match(`/sign/unsent/unsent-${{kid}}-${{seq}}`))?.json();
        await caches.delete('bailee-unsent');
        localStorage.clear();
        (await phone.store.open()).database.close();
        return [hadFile, shelved?.seq];
    }}"""
    assert phone.page.evaluate(body, form) == [False, 1], "in the journal and on the shelf"
    phone.page.evaluate("""() => new Promise(ok => {
        indexedDB.deleteDatabase('bailee-sign').onsuccess = ok;
    })""")
    phone.page.reload()
    phone.heading("This phone has lost its key")
    phone.see("1 signed entry is still kept")
    phone.context.set_offline(False)
    phone.tap("Send what is kept")
    phone.see("1 sent.")
    phone.context.close()


def test_a_worker_that_never_answers_keeps_nobody_from_signing(firm: Firm, browser: Browser) -> None:
    """A browser that does not start it would send nothing, and say nothing."""
    phone = firm.phone(browser, "Noah Birch", "inspector")
    phone.see("Works without a network")
    form = firm.field.open_form()
    phone.page.evaluate("navigator.serviceWorker.getRegistration().then(found => found.unregister())")
    phone.page.route("**/journal_worker.js", lambda route: None)  # it is asked for, and never comes
    phone.page.reload()
    phone.heading("Noah Birch")
    body = f"""async form => {{ {TAB}
        const [row] = await phone.outbox.sign([draft(form, 1)]);
        const files = await phone.copies.names();
        return [phone.copies.journal, files.has(`unsent-${{row.kid}}-${{row.seq}}`)];
    }}"""
    assert phone.page.evaluate(body, form) == [None, True]
    phone.later(1)
    until(lambda: [row["state"] for row in phone.rows()] == ["registered"])
    phone.context.close()


def test_what_was_refused_leaves_the_journal_and_is_kept(ines: Phone) -> None:
    """One refused text kept the journal from ever being empty: it grew with each entry, and was read whole
    for each, until signing took longer than anybody waits.
    """
    strange = ines.firm.field.number("form")
    body = f"""async form => {{ {TAB}
        await phone.copies.openJournal();
        await phone.outbox.sign([draft(form, 1)]);
        const written = (await phone.copies.journal.read()).length;
        const sent = await phone.outbox.send(told => phone.service.open('/entries', told));
        const {{ text }} = (await phone.store.all()).at(-1);
        await caches.delete('bailee-unsent');
        const isKept = (await phone.copies.unsent()).some(each => each.text === text);
        return [written, sent.refused, (await phone.copies.journal.read()).length, isKept];
    }}"""
    assert ines.page.evaluate(body, strange) == [1, 1, 0, True]
