"""How soon what is acknowledged is under a checkpoint that everybody sees: under load, and after a machine
failed.

    python tests/bench/publication.py [--seconds 20] [--lease-ms 15000] [--partition 25] [--only-partition]
    [--against FOLDER]

Two hosts with a disk each, one durable PostgreSQL and a cosigner (running_hosts). Goals: the oldest
unpublished entry at 80 % of the rate that the hosts can take 3 s (stretch 1), published again after the
database crashed 10 s (3), after the host that leads died 16 s (5), the slowest answer of a host in a
partition 20 s (8): of what was being answered when it began, and of what came in its first moment, more at
once than the host has threads. Then the rate with 1, 2 and 4 gunicorn workers on one host, and with
`--against`, a checkout of another version with the same Python, the append rate of both in turn: goal 0.9 of
the other's.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import sqlalchemy as sa
from machine import card

from bailee.config import Settings
from bailee.disk.machine import host_of
from bailee.store import schema, tree
from field import FIRM, Device
from hosts.running_hosts import Host, Machines, wait_until

CLIENTS = 8
ROOT = Path(__file__).resolve().parents[2]


def held(samples: list[str]) -> dict[str, Any]:
    """What is said again and again."""
    return {
        "samples": samples,
        "secured": "possession",
        "where": "vehicle",
        "since": "2026-12-01T09:30:00-05:00",
    }


class Sender(threading.Thread):
    """One device that sends to one host: as fast as it is answered, or one each `every_s`."""

    def __init__(self, host: Host, device: Device, form: str, sample: str) -> None:
        super().__init__(daemon=True)
        self.host, self.device, self.form, self.sample = host, device, form, sample
        self.every_s, self.until = 0.0, 0.0
        self.came: list[float] = []

    def run(self) -> None:
        """Until `until`; when each was acknowledged."""
        due = time.monotonic()
        while time.monotonic() < self.until:
            signed = self.device.sign(f"form/{self.form}", "held", held([self.sample]), after=None)
            status, text = self.host.ask("/entries", signed, timeout=60)
            assert status == 201, text
            self.came.append(time.monotonic())
            due += self.every_s
            time.sleep(max(0.0, due - time.monotonic()))


def people(machines: Machines) -> list[tuple[Device, str, str]]:
    """Each with a form and a sample."""
    field, made = machines.field, []
    lot, samples = field.lot(CLIENTS)
    for number, sample in enumerate(samples):
        device = field.device(f"bench {number}", FIRM)
        field.enroll(device, "inspector")
        form = field.open_form()
        field.collect(form, lot, sample)
        made.append((device, form, sample))
    return made


def load(
    hosts: list[Host], who: list[tuple[Device, str, str]], seconds: float, every_s: float = 0
) -> list[Sender]:
    """Everybody at once."""
    senders = [Sender(hosts[number % len(hosts)], *each) for number, each in enumerate(who)]
    for each in senders:
        each.every_s, each.until = every_s, time.monotonic() + seconds
        each.start()
    return senders


def rate(senders: list[Sender], seconds: float) -> float:
    """Acknowledged in a second."""
    for each in senders:
        each.join()
    return sum(len(each.came) for each in senders) / seconds


def size(machines: Machines) -> int:
    """Entries that have their place."""
    with machines.database.reading() as connection:
        return tree.size(connection)


def shown_by_all(machines: Machines) -> None:
    """Wait until both hosts show all that has its place now."""
    count = size(machines)
    wait_until(lambda: all(each.size() >= count for each in machines.hosts), "both hosts show all")


def oldest_unpublished(machines: Machines, who: list[Any], seconds: float) -> tuple[float, float]:
    """The rate at which entries were sent, and how long the oldest one waited at most until the first host
    showed it.
    """
    shown_by_all(machines)
    full = rate(load(machines.hosts, who, seconds / 2), seconds / 2)
    wait_until(lambda: not waiting(machines), "nothing waits")
    shown_by_all(machines)
    before, worst = size(machines), 0.0
    senders = load(machines.hosts, who, seconds, CLIENTS / (0.8 * full))
    while any(each.is_alive() for each in senders):
        came = sorted(moment for each in senders for moment in list(each.came))
        shown = machines.hosts[0].size() - before
        if len(came) > shown >= 0:
            worst = max(worst, time.monotonic() - came[shown])
        time.sleep(0.05)
    return rate(senders, seconds), worst


def waiting(machines: Machines) -> bool:
    """Whether any entry has no place yet."""
    with machines.database.reading() as connection:
        return tree.is_waiting(connection)


def published_again(machines: Machines, *which: Host) -> float:
    """Seconds until an entry that is recorded now is shown by these hosts."""
    began = time.monotonic()
    machines.field.open_form()
    count = machines_entries(machines)
    wait_until(lambda: all(each.size() >= count for each in which), "it is shown")
    return time.monotonic() - began


def machines_entries(machines: Machines) -> int:
    """All that is recorded."""
    with machines.database.reading() as connection:
        return connection.execute(sa.select(sa.func.count()).select_from(schema.entry)).scalar() or 0


def leader(machines: Machines) -> Host:
    """The host that has the lead."""
    with machines.database.reading() as connection:
        name = connection.execute(sa.select(schema.log_state.c.host)).scalar()
    return next(each for each in machines.hosts if host_of(each.home) == name)


def slowest_in_partition(
    host: Host, who: list[tuple[Device, str, str]], seconds: float
) -> tuple[float, float, int]:
    """The slowest answer to what was asked when the host lost its database, to what came then, and how many
    had none while it lasted.
    """
    begins = threading.Event()
    took: list[float] = []
    under_way: list[float] = []

    def ask(path: str, body: Any, into: list[float]) -> None:
        began = time.monotonic()
        host.ask(path, body, timeout=seconds * 3)
        into.append(time.monotonic() - began)

    def go_on(device: Device, form: str, sample: str) -> None:
        while not begins.is_set():
            ask("/entries", device.sign(f"form/{form}", "held", held([sample]), after=None), under_way)

    def threads(each: Callable[..., None], *arguments: tuple[Any, ...]) -> list[threading.Thread]:
        made = [threading.Thread(target=each, args=some) for some in arguments]
        for thread in made:
            thread.start()
        return made

    device, form, sample = who[-1]
    entry = device.sign(f"form/{form}", "held", held([sample]), after=None)
    asked_before = threads(go_on, *who[:-1])
    wait_until(lambda: len(under_way) > CLIENTS, "the host is at work")
    host.net.black_hole()
    began = time.monotonic()
    begins.set()
    questions = [
        (path, None, took) for path in ("/health", "/ready", "/forms", "/checkpoint") for _ in range(CLIENTS)
    ]
    asked_then = threads(ask, *questions, ("/entries", entry, took))
    for each in (*asked_before, *asked_then):
        each.join(max(0.0, began + seconds - time.monotonic()))
    missing = sum(each.is_alive() for each in (*asked_before, *asked_then))
    host.net.forward()
    for each in (*asked_before, *asked_then):
        each.join()
    return max(under_way), max(took), missing


def with_workers(machines: Machines, who: list[Any], count: int, seconds: float) -> float:
    """The rate of one host under gunicorn with so many workers."""
    host = Host(machines.hosts[0].home, machines.hosts[0].net, machines.commands)
    listen = f"127.0.0.1:{host.port}"
    environment = {**os.environ, "BAILEE_LEDGER": str(host.home), "WORKERS": str(count), "LISTEN": listen}
    gunicorn = Path(sys.executable).with_name("gunicorn")
    command = [str(gunicorn), "--config", str(ROOT / "deploy" / "gunicorn.conf.py"), "bailee.app:wsgi()"]
    with (host.home / "said").open("ab") as said:
        server = subprocess.Popen(command, env=environment, cwd=host.home, stdout=said, stderr=said)
    try:
        wait_until(lambda: host.shown() is not None, f"{count} workers answer")
        return rate(load([host], who, seconds), seconds)
    finally:
        server.terminate()
        server.wait()


def appended(checkout: Path) -> float:
    """Entries a second of a checkout, by its own tests/bench/append.py."""
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(map(str, (checkout / "service", checkout / "cli"))),
    }
    command = [sys.executable, "tests/bench/append.py", "--rounds", "1", "--requests", "300"]
    said = subprocess.run(command, cwd=checkout, env=environment, capture_output=True, text=True, check=True)
    found = re.search(r"^product .* ([0-9]+)/s$", said.stdout, re.MULTILINE)
    assert found, said.stdout
    return float(found[1])


def main() -> int:
    """Measure and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--lease-ms", type=int, default=15_000)
    parser.add_argument("--partition", type=float, default=25, help="how long it lasts, in seconds")
    parser.add_argument("--against", type=Path, help="a checkout of another version")
    parser.add_argument("--pairs", type=int, default=5)
    parser.add_argument("--only-pairs", action="store_true")
    parser.add_argument("--only-partition", action="store_true")
    asked = parser.parse_args()
    print(card())
    if not asked.only_pairs:
        measure(asked)
    if asked.against:
        pairs = [(appended(ROOT), appended(asked.against.resolve())) for _ in range(asked.pairs)]
        ratio = statistics.median(own / other for own, other in pairs)
        print(
            f"append rate in {len(pairs)} pairs  {', '.join(f'{a:.0f}/{b:.0f}' for a, b in pairs)}  median"
            f" ratio {ratio:.2f}"
        )
    return 0


def measure(asked: argparse.Namespace) -> None:
    """All that needs two hosts."""
    settings = {"lease_ms": asked.lease_ms, "answer_within_s": Settings.answer_within_s}
    with tempfile.TemporaryDirectory() as folder, Machines(Path(folder), **settings) as machines:
        machines.start()
        who = people(machines)
        if asked.only_partition:
            partition(machines.hosts[1], who, asked.partition)
            return
        sent, worst = oldest_unpublished(machines, who, asked.seconds)
        print(f"oldest unpublished at {sent:.0f}/s (80 %)      {worst:5.1f} s", flush=True)
        shown_by_all(machines)
        for each in (machines.ledger.database, machines.database):
            each.close()
        machines.postgres.crash()
        machines.postgres.start()
        print(
            f"published again after a database crash {published_again(machines, *machines.hosts):5.1f} s",
            flush=True,
        )
        first = leader(machines)
        (other,) = (each for each in machines.hosts if each is not first)
        first.kill()
        print(f"published again after the leader died  {published_again(machines, other):5.1f} s", flush=True)
        first.start_for_sure()
        shown_by_all(machines)
        partition(other, who, asked.partition)
        shown_by_all(machines)
        machines.end()
        for count in (1, 2, 4):
            found = with_workers(machines, who, count, asked.seconds / 2)
            print(f"gunicorn with {count} workers               {found:5.0f}/s", flush=True)


def partition(host: Host, who: list[Any], seconds: float) -> None:
    """The host alone cannot reach the database."""
    under_way, then, missing = slowest_in_partition(host, who, seconds)
    said = f"{missing} had none while it lasted {seconds:g} s" if missing else "all came"
    print(
        f"slowest answer in a partition          {then:5.1f} s, under way {under_way:5.1f} s ({said})",
        flush=True,
    )


if __name__ == "__main__":
    os.environ.pop("BAILEE_HOME", None)
    sys.exit(main())
