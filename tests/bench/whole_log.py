"""What it costs to check a whole log, and how that grows: memory and time of `bailee check-ledger`.

    python tests/bench/whole_log.py [--entries 100000] [--small 10000] [--keep FOLDER]

Two logs on SQLite, ten times as many entries in one as in the other, made through the product's own path:
every statement signed by a device, sent in requests of 500, registered, given its place and published. Five
hundred visits go on at once, as in life, 25 entries each. Checked is each by the command itself, as a process
of its own. Goals: memory of the larger log 1.1 times that of the smaller, not reached while the tree and the
hashes of each chain are kept in memory; time for an entry 1.1 times. With `--keep` the logs stay in the
folder, and are taken from there the next time.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from machine import card

from bailee.config import SETTINGS_FILE
from field import FIRM, Field, make_home
from grounds import migrated

VISITS = 500
ENTRIES_OF_A_VISIT = 25
COMMAND = """
from bailee_cli.main import main
try:
    main()
finally:
    print(open("/proc/self/status").read())
"""
HELD = {"secured": "possession", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


class Together(Field):
    """What is said of a form waits, and is sent with what others say."""

    def act(
        self, who: str, chain: str, act: str, data: dict[str, Any], private: dict[str, str] | None = None
    ) -> Any:
        """Founding is done at once."""
        if not chain.startswith("form/"):
            return super().act(who, chain, act, data, private)
        device = self.people[who]
        self.waiting.append((chain, device.sign(chain, act, data, private, after=device.heads.get(chain))))
        return None

    waiting: list[tuple[str, dict[str, Any]]]

    def send_all(self) -> int:
        """Everything that waits, in one request; how many that was."""
        answer = self.client.post("/entries", json={"statements": [signed for _, signed in self.waiting]})
        assert answer.status_code == 200, answer.text[:300]
        for (chain, _), told in zip(self.waiting, answer.get_json()["answers"], strict=True):
            assert told["status"] == "registered", told["problem"]
            for device in self.people.values():
                device.heads[chain] = told["leaf"]
        sent, self.waiting = len(self.waiting), []
        return sent


def make(folder: Path, entries: int) -> None:
    """A log of at least so many entries, published."""
    folder.mkdir(parents=True)
    settings = make_home(folder / "home", migrated(folder / "ledger.sqlite"))
    (settings.home / SETTINGS_FILE).write_text(settings.text(), "utf-8")
    field = Together(settings)
    field.waiting = []
    people = [f"inspector {each}" for each in range(40)]
    for each in people:
        field.people[each] = field.device(each, FIRM)
        field.enroll(field.people[each], "inspector")
    made, began = 0, time.perf_counter()
    while made < entries:
        forms = [field.open_form() for _ in range(VISITS)]
        made += field.send_all()
        samples = [field.number("sample") for _ in forms]
        for _ in range(ENTRIES_OF_A_VISIT - 1):
            for number, (form, sample) in enumerate(zip(forms, samples, strict=True)):
                who = people[number % len(people)]
                field.act(who, f"form/{form}", "held", {**HELD, "samples": [sample]})
            made += field.send_all()
            if made >= entries:
                break
        field.ledger.sequencer.integrate()
        for device in field.people.values():
            device.heads.clear()
    field.ledger.database.close()
    print(f"  {made} entries made in {time.perf_counter() - began:.0f} s", flush=True)


def check(folder: Path) -> tuple[float, float]:
    """Megabytes at most (VmHWM: what wait4(2) has may be the parent's), and seconds of computing."""
    command = [sys.executable, "-c", COMMAND, "check-ledger", "--home", str(folder / "home")]
    before = os.times()
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
    after = os.times()
    (kilobytes,) = re.findall(r"VmHWM:\s+(\d+) kB", done.stdout)
    used = after.children_user + after.children_system - before.children_user - before.children_system
    return int(kilobytes) / 1024, used


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--entries", type=int, default=100_000)
    parser.add_argument("--small", type=int, default=10_000)
    parser.add_argument("--keep", type=Path)
    told = parser.parse_args()
    print(card())
    with tempfile.TemporaryDirectory() as temporary:
        top = told.keep or Path(temporary)
        found = []
        for entries in (told.small, told.entries):
            folder = top / str(entries)
            if not folder.exists():
                make(folder, entries)
            found.append(check(folder))
            megabytes, seconds = found[-1]
            print(
                f"{entries:>9} entries: {megabytes:6.1f} MB, {seconds / entries * 1000:.3f} ms an entry",
                flush=True,
            )
    (small, slow), (large, fast) = found
    grows = (large - small) * 1024 / (told.entries - told.small)
    print(f"memory {large / small:.2f} (goal 1.1), {grows:.3f} kB more for each entry;", end=" ")
    print(f"time for an entry {(fast / told.entries) / (slow / told.small):.2f} (goal 1.1)")


if __name__ == "__main__":
    main()
