"""Two hosts of one log under faults drawn by seed, while eight people append: nothing acknowledged is lost,
no second history is signed.

    python tests/crash/two_hosts.py [--faults 1000] [--parts 10] [--seed 1]

Each part is a new log with one PostgreSQL, a cosigner, and two `bailee serve` with a disk and a network of
their own; the lease lasts one second, and the deadlines are the shortest that the settings take. Faults come
alone or two at once: a host is killed, or stopped and woken later than its lease; its disk is full; its way
to the database is slow, cut, or a black hole; the database crashes; an older copy of the database is put in
place, and then the operator repairs on each host. Prints a line of JSON for each part and one for all: what
was acknowledged, what an older copy took with it (sent after the copy was made and before it was put in
place), what else is lost, checkpoints that do not continue each other or fell on a host, and states that did
not come about. Exits 1 when anything of these is not zero. The seed fixes keys and faults; what they
interrupt is up to the machine.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import sqlalchemy as sa

from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u
from bailee.ledger.checkpoint import parse_vkey
from bailee.signing import notes, signed_statement
from bailee.store import log, schema, tree
from field import FIRM, Device
from hosts.running_hosts import Host, Machines, wait_until

CLIENTS = 8
PAUSE_S, AGAIN_S = 0.3, 0.4
ANSWER_WITHIN_S = 7
"""The shortest that the settings take."""
OF_A_HOST = ("kill", "stop", "full", "slow", "cut", "hole")
OLDER_EACH = 12
"""One step in so many is an older copy of the database."""
SETTLE_EACH = 8
MEETS_A_LOG_THAT_PUBLISHES = 0.5
"""So often the next fault waits for a checkpoint; else it may meet one that only recovers."""


@dataclass
class Acknowledged:
    """One statement, when its last request went out and its answer came, and the leaf it was promised."""

    digest: str
    leaf: str
    sent: float
    came: float


class Client(threading.Thread):
    """One person with one device; the same bytes go to one host and the other until there is an answer."""

    def __init__(self, machines: Machines, number: int, device: Device, form: str, sample: str) -> None:
        super().__init__(daemon=True)
        self.hosts, self.which = machines.hosts, number
        self.device, self.form, self.sample = device, form, sample
        self.acknowledged: list[Acknowledged] = []
        self.refused: list[str] = []
        self.answers: Counter[str] = Counter()
        self.ends = threading.Event()

    def run(self) -> None:
        """Say the same kind of thing until the end."""
        data = {
            "samples": [self.sample],
            "secured": "possession",
            "where": "vehicle",
            "since": "2026-12-01T09:30:00-05:00",
        }
        while not self.ends.wait(PAUSE_S):
            self._insist(self.device.sign(f"form/{self.form}", "held", data, after=None))

    def _insist(self, signed: dict[str, Any]) -> None:
        while not self.ends.is_set():
            sent = time.monotonic()
            try:
                status, text = self.hosts[self.which % 2].ask("/entries", signed)
            except OSError as error:
                self.answers[type(error).__name__] += 1
                self.which += 1
                self.ends.wait(AGAIN_S)
                continue
            self.answers[str(status)] += 1
            if status in (200, 201):
                digest = signed_statement.digest(signed["statement"])
                found = Acknowledged(digest, json.loads(text)["leaf"], sent, time.monotonic())
                self.acknowledged.append(found)
                return
            if status < 500 and status != 429:
                self.refused.append(text[:300])
                return
            self.which += 1
            self.ends.wait(AGAIN_S)


class Watcher(threading.Thread):
    """An auditor who looks again and again at what one host shows."""

    def __init__(self, host: Host) -> None:
        super().__init__(daemon=True)
        self.host, self.ends = host, threading.Event()
        self.seen: list[str] = []

    def run(self) -> None:
        """Note each change."""
        while not self.ends.wait(0.1):
            note = self.host.shown()
            if note and (not self.seen or note != self.seen[-1]):
                self.seen.append(note)


@dataclass
class Part:
    """One log and what was done to it; `windows`: from before a copy was made until it was in place."""

    machines: Machines
    chance: random.Random
    faults: Counter[str] = field(default_factory=Counter)
    windows: list[tuple[float, float]] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)
    slowest_s: float = 0.0

    def step(self) -> None:
        """One fault, or two at once, begun, held and healed."""
        targets = self.chance.sample([*self.machines.hosts, None], self.chance.choice((1, 1, 2)))
        drawn = [(each, "away" if each is None else self.chance.choice(OF_A_HOST)) for each in targets]
        for host, what in drawn:
            if host is not None:
                host.start()
            self._begin(host, what)
            self.faults[what] += 1
        time.sleep(self.chance.uniform(0.2, 1.6))
        for host, what in drawn:
            self._heal(host, what)
        time.sleep(self.chance.uniform(0, 0.5))
        if self.chance.random() < MEETS_A_LOG_THAT_PUBLISHES:
            before = self._shown()
            self._wait(lambda: self._shown() > before, f"a host shows more than {before} entries")

    def _shown(self) -> int:
        for each in self.machines.hosts:
            each.start()
        return max(each.size() for each in self.machines.hosts)

    def _begin(self, host: Host | None, what: str) -> None:
        if host is None:
            self.machines.postgres.crash()
        elif what == "kill":
            host.kill()
        elif what == "stop":
            host.signal(signal.SIGSTOP)
        elif what == "full":
            host.fill_disk()
        elif what == "slow":
            host.net.delay(self.chance.uniform(0.01, 0.1))
        elif what == "cut":
            host.net.cut()
        else:
            host.net.black_hole()

    def _heal(self, host: Host | None, what: str) -> None:
        if host is None:
            self.machines.postgres.start()
        elif what == "kill":
            host.start()
        elif what == "stop":
            host.signal(signal.SIGCONT)
        elif what == "full":
            host.free_disk()
        else:
            host.net.forward()

    def settle(self) -> None:
        """All is healed: both hosts show all that is recorded now."""
        for each in self.machines.hosts:
            each.start_for_sure()
        count = self._recorded()

        def both() -> bool:
            return all(each.size() >= count for each in self.machines.hosts)

        self._wait(both, f"both hosts show {count} entries")

    def _wait(self, holds: Callable[[], bool], what: str) -> None:
        self.slowest_s = max(self.slowest_s, wait_until(holds, what))

    def older_copy(self) -> None:
        """A failover takes both hosts back; they freeze, and the operator repairs."""
        self.settle()
        began = time.monotonic()
        self.machines.keep_older()
        copied = self._recorded()
        wait_until(
            lambda: all(each.size() > copied for each in self.machines.hosts), "more than the copy is shown"
        )
        time.sleep(self.chance.uniform(0, 0.5))
        alive = list(self.machines.hosts)
        if self.chance.random() < 0.5:
            alive.remove(dead := self.chance.choice(alive))
            dead.kill()
        self.machines.put_older_in_place()
        self.windows.append((began, time.monotonic()))
        self.faults["older"] += 1
        for each in alive:
            wait_until(
                lambda each=each: each.status() == "log-frozen", "a host before an older copy is frozen"
            )
        self.machines.repair()

    def _recorded(self) -> int:
        with self.machines.database.reading() as connection:
            return connection.execute(sa.select(sa.func.count()).select_from(schema.entry)).scalar() or 0


def people(machines: Machines, seed: int) -> list[Client]:
    """Eight, each with a form and a sample."""
    found, made = machines.field, []
    lot, samples = found.lot(CLIENTS)
    for number, sample in enumerate(samples):
        device = found.device(f"hosts {seed} {number}", FIRM)
        found.enroll(device, "inspector")
        form = found.open_form()
        found.collect(form, lot, sample)
        made.append(Client(machines, number, device, form, sample))
    return made


def checked(part: Part, clients: list[Client], watchers: list[Watcher]) -> dict[str, Any]:
    """What became of everything, in sums."""
    machines = part.machines
    key = parse_vkey(machines.ledger.vkey)
    found: dict[str, str] = {}
    twice = 0
    with machines.database.reading() as connection:
        size = tree.size(connection)
        for logged in log.everything(connection, 0, size):
            digest = signed_statement.digest(entries.read(logged.text).stmt)
            twice += digest in found
            found[digest] = b64u(entries.leaf_hash(logged.text.encode()))
        signed, fell = [], 0
        for each in machines.hosts:
            marks = []
            for line in (each.home / "high-water").read_text().splitlines():
                try:
                    marks.append(notes.open_checkpoint(json.loads(line), [key]))
                except ValueError:
                    continue  # cut short by a kill, and never relied on
            signed += marks
        for watcher in watchers:
            seen = [notes.open_checkpoint(note, [key]) for note in watcher.seen]
            fell += sum(after.size < before.size for before, after in pairwise(seen))
            signed += seen
        newest = machines.cosigner.newest(machines.ledger.settings.origin)
        signed.append(notes.open_checkpoint(newest or "", [key]))
        stray = [each.size for each in set(signed) if tree.root_at(connection, each.size) != each.root]
    told = [each for client in clients for each in client.acknowledged]
    gone = [each for each in told if found.get(each.digest) != each.leaf]
    taken = [each for each in gone if any(a < each.came and each.sent < b for a, b in part.windows)]
    answers = sum((client.answers for client in clients), Counter())
    return {
        "faults": dict(part.faults),
        "acknowledged": len(told),
        "taken_by_an_older_copy": len(taken),
        "lost": len(gone) - len(taken),
        "twice": twice,
        "checkpoints": len(set(signed)),
        "not_continuing": len(stray),
        "fell": fell,
        "refused": sum(len(client.refused) for client in clients),
        "troubles": part.troubles + [text for client in clients for text in client.refused][:3],
        "slowest_recovery_s": round(part.slowest_s, 1),
        "answers": dict(answers),
    }


def run(faults: int, seed: int, folder: Path, older_each: int = OLDER_EACH) -> dict[str, Any]:
    """One part; `older_each` 0: no older copy."""
    began = time.monotonic()
    with Machines(folder, answer_within_s=ANSWER_WITHIN_S) as machines:
        part = Part(machines, random.Random(seed))
        clients = people(machines, seed)
        machines.start()
        watchers = [Watcher(each) for each in machines.hosts]
        for thread in (*clients, *watchers):
            thread.start()
        steps = 0
        try:
            while part.faults.total() < faults:
                steps += 1
                if older_each and steps % older_each == older_each // 2:
                    part.older_copy()
                else:
                    part.step()
                if steps % SETTLE_EACH == 0:
                    part.settle()
            part.settle()
        except (AssertionError, RuntimeError) as error:
            part.troubles.append(f"{type(error).__name__}: {error}")
        for thread in (*clients, *watchers):
            thread.ends.set()
        for thread in (*clients, *watchers):
            thread.join()
        if not part.troubles:
            part.settle()
        machines.end()
        return {"seed": seed, "seconds": round(time.monotonic() - began), **checked(part, clients, watchers)}


WRONG = ("lost", "twice", "not_continuing", "fell", "refused", "troubles")


def total(parts: list[dict[str, Any]]) -> dict[str, Any]:
    """The sums of all parts."""
    found: dict[str, Any] = {"parts": len(parts)}
    for name, first in parts[0].items():
        values = [each[name] for each in parts]
        if isinstance(first, dict):
            found[name] = dict(sum(map(Counter, values), Counter()))
        elif isinstance(first, list):
            found[name] = [each for value in values for each in value]
        elif name != "seed":
            found[name] = max(values) if name.startswith("slowest") else sum(values)
    return found


def main() -> int:
    """Run and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--faults", type=int, default=1000)
    parser.add_argument("--parts", type=int, default=10)
    parser.add_argument(
        "--seed", type=int, default=1, help="of the first part; each further part has the next"
    )
    parser.add_argument(
        "--no-older", action="store_true", help="leave the older copy out, which takes the longest"
    )
    parser.add_argument("--keep", type=Path, help="a folder that keeps what the hosts said and wrote")
    asked = parser.parse_args()
    parts = []
    for seed in range(asked.seed, asked.seed + asked.parts):
        with tempfile.TemporaryDirectory() as folder:
            here = (asked.keep or Path(folder)) / str(seed)
            here.mkdir(parents=True)
            parts.append(run(asked.faults // asked.parts, seed, here, 0 if asked.no_older else OLDER_EACH))
        print(json.dumps(parts[-1]), flush=True)
    sums = total(parts)
    print(json.dumps(sums))
    return 1 if any(sums[name] for name in WRONG) else 0


if __name__ == "__main__":
    os.environ.pop("BAILEE_HOME", None)
    sys.exit(main())
