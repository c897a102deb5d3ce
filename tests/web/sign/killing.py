"""A phone whose whole browser is killed (SIGKILL) at random moments while it signs and sends, now and then on
a disk that has filled up, and started again there.

.venv/bin/python tests/web/sign/killing.py 1000 100        # so many kills, so many of them on a full disk

Each thing that is signed bears a mark. What the phone did not say that it kept, and does not have when it is
started again, is signed again, as a person does. In the end the ledger has every mark that was kept (none is
lost), each once (none is double), and the counters of every key from one on without a gap.
"""

from __future__ import annotations

import base64
import json
import os
import random
import select
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime
from itertools import chain, zip_longest
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).resolve().parents[2])]

from phones import Firm, Phone, firm_at
from playwright.sync_api import Error as Closed
from playwright.sync_api import TimeoutError as Never

import programs

if TYPE_CHECKING:
    from playwright.sync_api import BrowserType

SIGNING = """async ([form, first, most]) => {
    const { module } = await import(document.querySelector('script').src);
    const phone = new (module('phone.js').Phone)(module('vocabulary.js').vocabulary);
    await phone.open();
    await phone.tidy();
    const since = n => new Date(Date.UTC(2026, 11, 1, 9) - n * 1000).toISOString().slice(0, 19) + '-05:00';
    const held = n => ({ secured: 'possession', where: 'person', since: since(n) });
    const { port1, port2 } = new MessageChannel();
    const pause = () => new Promise(ok => { port1.onmessage = ok; port2.postMessage(0); });
    (async () => {
        for (let n = first; n < first + most;) {
            try {
                const draft = { chain: `form/${form}`, act: 'held', data: held(n) };
                const [row] = await phone.outbox.sign([draft]);
                console.log(`kept ${row.seq} as ${n}`);
                n += 1;
                if (row.seq % 4 === 0) phone.sync();
            } catch (error) {
                console.log(`not kept, ${error.name} ${error.message}`);
                await pause();
            }
        }
    })();
}"""
"""Signs one thing after the other, the same again after each that was not kept, and says what it kept."""

MARKS = """() => new Promise((ok, no) => { const asked = indexedDB.open('bailee-sign');
    asked.onerror = () => no(asked.error);
    asked.onsuccess = () => {
      const all = asked.result.transaction('statement').objectStore('statement').getAll();
      all.onsuccess = () => {
        asked.result.close();
        ok(all.result.map(row => [row.seq, row.data.since]));
      }; }; })"""
LIFE = 40
"""Kills that one key lives through: what an inspector signs in a day, and more."""
DISK = "120m"


@dataclass
class Killed:
    """What phones said they had kept, and what the ledger has."""

    kills: int = 0
    full: int = 0
    wiped: int = 0
    crashed: int = 0
    keys: int = 0
    kept: int = 0
    recorded: int = 0
    lost: list[str] = field(default_factory=list)
    double: list[str] = field(default_factory=list)
    gaps: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        return (
            f"{self.kills} kills of {self.keys} phones, {self.full} of them on a full disk and started again"
            f" there (where the browser died of itself {self.crashed} times); {self.wiped} times it had"
            f" deleted the key, and what was kept was sent:"
            f" {self.kept} statements kept, {self.recorded} recorded, {len(self.lost)} lost,"
            f" {len(self.double)} double, {len(self.gaps)} gaps"
        )

    @property
    def is_good(self) -> bool:
        """Nothing lost, nothing twice, no gap."""
        return not (self.lost or self.double or self.gaps)


class Victim:
    """One phone with its own key and form, in a profile that may be killed."""

    def __init__(self, firm: Firm, chromium: BrowserType, folder: Path) -> None:
        self.firm, self.chromium, self.folder = firm, chromium, folder
        self.form = firm.field.open_form()
        self.kept: dict[int, int] = {}
        self.failed = 0
        self.phone = started(firm, chromium, folder)
        self.phone.join("inspector")
        self.phone.page.get_by_text("Works without a network").wait_for()

    def sign(self, *, offline: bool = False) -> None:
        """Goes on with what it does not have."""
        page = self.phone.page
        have = {mark_of(since): seq for seq, since in page.evaluate(MARKS)}
        begin = max([*have, *self.kept], default=0) + 1
        page.on("console", self._hear)
        if offline:
            self.phone.context.set_offline(True)
        page.evaluate(SIGNING, [self.form, begin, 1_000_000])

    def _hear(self, said: Any) -> None:
        word, _, rest = said.text.partition(" ")
        if word == "kept":
            seq, _, mark = rest.partition(" as ")
            self.kept[int(mark)] = int(seq)
        elif said.text.startswith("not kept"):
            self.failed += 1

    def until_said(self, more: int) -> None:
        """Until it has said so much more, kept or not."""
        end = len(self.kept) + self.failed + more
        while len(self.kept) + self.failed < end:
            self.phone.page.wait_for_event("console")

    def again(self, *headings: str) -> str:
        """Killed, and started again: which of these screens is shown."""
        killed(self.folder)
        with suppress(Exception):
            self.phone.context.close()
        self.phone = started(self.firm, self.chromium, self.folder)
        return self.shows(*headings)

    def shows(self, *headings: str) -> str:
        """Which of these screens the app begins with."""
        self.phone.page.goto(f"{self.firm.url}/sign/")
        title = self.phone.page.get_by_role("heading", level=1)
        any_of = title.filter(has_text=headings[0])
        for each in headings[1:]:
            any_of = any_of.or_(title.filter(has_text=each))
        try:
            any_of.wait_for()
        except Never as never:
            raise AssertionError(f"none of {headings}: {self.phone.page.inner_text('body')}") from never
        return next(each for each in headings if each in title.inner_text())

    def count(self, found: Killed) -> None:
        """Marks and counters in the ledger against what the phone said."""
        told = list(recorded(self.firm, self.form))
        marks = Counter(mark for _, mark in told)
        seqs = sorted(seq for seq, _ in told)
        found.keys += 1
        found.kept += len(self.kept)
        found.recorded += len(told)
        found.lost += [f"{self.form}: {mark}" for mark in self.kept if mark not in marks]
        found.double += [f"{self.form}: {mark}" for mark, times in marks.items() if times > 1]
        if seqs != list(range(1, len(seqs) + 1)):
            found.gaps.append(f"{self.form}: {seqs}")


def kill(firm: Firm, chromium: BrowserType, folder: Path, kills: int, seed: int = 15) -> Iterator[Killed]:
    """So many kills at random moments; what was found by now after each key."""
    chance, found = random.Random(seed), Killed()
    while found.kills < kills:
        victim = Victim(firm, chromium, folder / f"{found.keys}")
        for _ in range(min(LIFE, kills - found.kills)):
            victim.sign(offline=chance.random() < 0.3)
            victim.until_said(chance.randrange(6))
            time.sleep(chance.random() * 0.03)  # in the middle of whatever it does
            is_wiped = victim.again("lost its key", "Ines Marlow") == "lost its key"
            found.kills, found.wiped = found.kills + 1, found.wiped + is_wiped
            if is_wiped:
                send_what_is_kept(victim)
                break
        else:
            victim.phone.sent()
        victim.phone.context.close()
        victim.count(found)
        yield found


def kill_when_full(
    firm: Firm, chromium: BrowserType, disk: Path, kills: int, seed: int = 16
) -> Iterator[Killed]:
    """So often a disk fills up while the phone signs: killed, started there, and again when there is room."""
    chance, found = random.Random(seed), Killed()
    victim: Victim | None = None
    while found.kills < kills:
        victim = victim or Victim(firm, chromium, disk / f"{found.keys}")
        victim.sign(offline=chance.random() < 0.7)
        victim.until_said(chance.randrange(1, 6))
        fill(disk)
        victim.until_said(chance.randrange(4))
        time.sleep(chance.random() * 0.03)
        try:
            victim.again("is full", "lost its key", "Ines Marlow")
        except Closed:
            found.crashed += 1  # of itself: it dies on a full disk before it shows anything
        killed(victim.folder)
        (disk / "fill").unlink()
        is_wiped = victim.again("lost its key", "Ines Marlow") == "lost its key"
        found.kills, found.full, found.wiped = found.kills + 1, found.full + 1, found.wiped + is_wiped
        if is_wiped:
            send_what_is_kept(victim)
        elif found.kills < kills and found.kills % LIFE:
            continue
        else:
            victim.phone.sent()
        victim.phone.context.close()
        victim.count(found)
        subprocess.run(["rm", "-rf", str(victim.folder)], check=True)
        victim = None
        yield found


def send_what_is_kept(victim: Victim) -> None:
    """The key is gone, and what it signed is not."""
    button = victim.phone.page.get_by_role("button", name="Send what is kept")
    nothing = victim.phone.page.get_by_text("Nothing is waiting")
    button.or_(nothing).first.wait_for()
    if button.count():
        button.click()
        victim.phone.page.get_by_text(" sent.").wait_for()


def mark_of(since: str) -> int:
    """Seconds before nine."""
    nine = datetime.fromisoformat("2026-12-01T09:00:00-05:00")
    return round((nine - datetime.fromisoformat(since)).total_seconds())


def recorded(firm: Firm, form: str) -> Iterator[tuple[int, int]]:
    """Counter and mark of each thing that the ledger has on this form from the phone."""
    from bailee.store import log

    with firm.field.ledger.database.reading() as connection:
        told = log.chain(connection, f"form/{form}")
    for each in told:
        body = json.loads(each.text)["stmt"].split(".")[1]
        said = json.loads(base64.urlsafe_b64decode(body + "=="))
        if said["act"] == "held":
            yield said["seq"], mark_of(said["data"]["since"])


def fill(folder: Path) -> Path:
    """Until nothing more goes in; the file that did it."""
    file = folder / "fill"
    with suppress(OSError), file.open("wb", buffering=0) as full:
        while full.write(bytes(65_536)):
            pass
    return file


@contextmanager
def small_disk(folder: Path) -> Iterator[Path | None]:
    """120 MB of its own; nothing where nobody may mount one (it needs root)."""
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={DISK}", "tmpfs", str(folder)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        yield None
        return
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


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
    """The whole browser of a profile, and no other; it has ended, and holds no file any more."""
    ends = []
    for pid in _processes(folder):
        with suppress(ProcessLookupError):
            ends.append(os.pidfd_open(pid))
            signal.pidfd_send_signal(ends[-1], signal.SIGKILL)
    for end in ends:
        ended = select.poll()
        ended.register(end, select.POLLIN)  # readable when its files are closed (pidfd_open(2))
        ended.poll()
        os.close(end)


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

    kills, full = [int(each) for each in sys.argv[1:3]] + [100, 0][len(sys.argv) - 1 :]
    is_good = True
    with (
        sync_playwright() as playwright,
        TemporaryDirectory() as made,
        firm_at(Path(made) / "service") as firm,
        small_disk(Path(made) / "small") as disk,
    ):
        parts = [kill(firm, playwright.chromium, Path(made), kills - full)]
        if disk and full:
            parts.append(kill_when_full(firm, playwright.chromium, disk, full))
        for found in chain.from_iterable(zip_longest(*parts)):  # by turns, to be ended whenever one likes
            if found:
                sys.stdout.write(f"{datetime.now().astimezone():%H:%M:%S} {found}\n")
                sys.stdout.flush()
                is_good = is_good and found.is_good
    sys.exit(not is_good)


if __name__ == "__main__":
    main()
