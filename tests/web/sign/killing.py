"""A phone whose whole browser is killed (SIGKILL) at random moments while it signs and sends.

.venv/bin/python tests/web/sign/killing.py 100            # so many kills; prints what was lost
"""

from __future__ import annotations

import os
import random
import signal
import sys
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).resolve().parents[2])]

from phones import Firm, Phone, firm_at

import programs

if TYPE_CHECKING:
    from playwright.sync_api import BrowserType

SIGNING = """async ([form, most]) => {
    const base = document.querySelector('script').src.replace('main.js', '');
    const { Phone } = await import(base + 'phone.js');
    const phone = new Phone(await (await fetch(base + 'vocabulary.json')).json());
    await phone.open();
    const data = { secured: 'possession', where: 'person', since: '2026-12-01T09:00:00-05:00' };
    (async () => { for (let n = 0; n < most; n += 1) {
        const [row] = await phone.outbox.sign([{ chain: `form/${form}`, act: 'held', data }]);
        console.log(`kept ${row.seq}`);
        if (row.seq % 4 === 0) phone.sync();
    } })();
}"""


@dataclass
class Killed:
    """What the phone said it had kept, and what its disk and the ledger have."""

    kept: set[int] = field(default_factory=set)
    on_disk: list[int] = field(default_factory=list)
    recorded: int = 0
    missing: int = 0

    @property
    def lost(self) -> set[int]:
        """Kept by its own word, and gone."""
        return self.kept - set(self.on_disk)

    @property
    def has_no_gap(self) -> bool:
        """Counters from one on, each once."""
        return self.on_disk == list(range(1, len(self.on_disk) + 1))


def kill(firm: Firm, chromium: BrowserType, folder: Path, kills: int, seed: int = 15) -> Killed:
    """So many kills of one phone; afterwards it sends what it has."""
    from bailee.store import log

    chance, found = random.Random(seed), Killed()
    phone = started(firm, chromium, folder)
    phone.join("inspector")
    form = firm.field.open_form()
    for _ in range(kills):
        phone.page.evaluate(SIGNING, [form, 1_000_000])
        for _ in range(chance.randrange(1, 12)):
            said = phone.page.wait_for_event("console", lambda each: each.text.startswith("kept "))
            found.kept.add(int(said.text.removeprefix("kept ")))
        killed(folder)
        phone = started(firm, chromium, folder)
        phone.page.goto(f"{firm.url}/sign/")
        phone.heading("Ines Marlow")
    found.on_disk = [row["seq"] for row in phone.rows()]
    phone.sent()
    with firm.field.ledger.database.reading() as connection:
        here = log.counters(connection, phone.page.evaluate(KID))
    found.recorded, found.missing = here.highest, here.missing
    phone.context.close()
    return found


KID = """() => new Promise(ok => { const asked = indexedDB.open('bailee-sign'); asked.onsuccess = () => {
    const one = asked.result.transaction('key').objectStore('key').get('device');
    one.onsuccess = () => { asked.result.close(); ok(one.result.device.kid); }; }; })"""


def started(firm: Firm, chromium: BrowserType, folder: Path) -> Phone:
    """A browser with this profile, on the phone of Ines Marlow."""
    options: dict[str, Any] = {"args": list(programs.FLAGS), "timezone_id": "America/New_York"}
    context = chromium.launch_persistent_context(
        folder, executable_path=programs.chromium(chromium), **options
    )
    phone = Phone(firm, context, "Ines Marlow")
    firm.phones[:] = [phone]
    return phone


def killed(folder: Path) -> None:
    """The whole browser of a profile, and no other."""
    for pid in _processes(folder):
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)


def _processes(folder: Path) -> Iterator[int]:
    """Those of the browser that has this profile, and no others."""
    for each in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            is_ours = f"--user-data-dir={folder}".encode() in each.read_bytes().split(b"\0")
        except OSError:
            continue
        if is_ours:
            yield int(each.parent.name)


def main() -> None:
    """The long form."""
    from playwright.sync_api import sync_playwright

    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    with sync_playwright() as playwright, TemporaryDirectory() as folder, firm_at(Path(folder)) as firm:
        found = kill(firm, playwright.chromium, Path(folder) / "profile", kills)
    sys.stdout.write(
        f"{kills} kills, {len(found.kept)} statements kept, {len(found.lost)} lost, no gap:"
        f" {found.has_no_gap}, recorded {found.recorded}, missing {found.missing}\n"
    )
    sys.exit(bool(found.lost) or not found.has_no_gap)


if __name__ == "__main__":
    main()
