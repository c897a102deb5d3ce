"""Drills on two running hosts: real processes, a real database that crashes, real signals (running_hosts).

What becomes of a log in them is held in-process by test_hosts, and under faults drawn by chance by
tests/crash/two_hosts.py. No standard says how; each test holds a sentence of deploy/README.md or
deploy/failover.md (common practice, no source).
"""

from __future__ import annotations

import json
import signal
import threading
import time
from collections import Counter
from collections.abc import Iterator

import pytest

from bailee.signing import access
from bailee.store import tree
from field import FIRM, ORIGIN, Device
from hosts.running_hosts import Machines, wait_until

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def machines(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machines]:
    """Two hosts that serve one log."""
    with Machines(tmp_path_factory.mktemp("machines")) as made:
        made.start()
        yield made


def entries(machines: Machines) -> int:
    """How many the database has that have their place."""
    with machines.database.reading() as connection:
        return tree.size(connection)


def record(machines: Machines) -> int:
    """One form more, whoever takes it: how many entries a checkpoint over it has at least."""
    before = entries(machines)
    machines.field.open_form()
    return before + 1


def shows(machines: Machines, count: int) -> None:
    """Wait until both hosts show so many entries."""
    wait_until(lambda: all(each.size() >= count for each in machines.hosts), f"{count} entries on both hosts")


def test_a_command_that_fails_says_so_in_a_drill_as_well(machines: Machines) -> None:
    """A repair that was refused would pass for one, and what follows it would prove nothing (exit code 3:
    README, exit codes).
    """
    said = machines.folder / "said"
    assert machines.commands.run(["repair", "--home", str(machines.folder / "nowhere")], said).wait() == 3
    assert "bailee init" in said.read_text()


def test_a_database_that_crashes_and_comes_back_is_published_from_again(machines: Machines) -> None:
    """Receipts would stay without a checkpoint until somebody restarts the service, which says all the while
    that it is well.
    """
    shows(machines, record(machines))
    machines.ledger.database.close()
    machines.database.close()
    machines.postgres.crash()
    machines.postgres.start()
    shows(machines, record(machines))


def test_under_sustained_load_nobody_is_answered_with_a_fault_of_ours(machines: Machines) -> None:
    """An auditor's file, or an entry, would fail because two processes met at the log."""
    field = machines.field
    lot, samples = field.lot(4)
    answers: Counter[str] = Counter()

    def told(status: int, text: str) -> str:
        answers[f"{status} {json.loads(text).get('code', '')}".strip()] += 1
        return text

    def work(number: int, device: Device, form: str, sample: str) -> None:
        held = {
            "samples": [sample],
            "secured": "possession",
            "where": "vehicle",
            "since": "2026-12-01T09:30:00-05:00",
        }
        for turn in range(15):
            host = machines.hosts[(number + turn) % 2]
            told(*host.ask("/entries", device.sign(f"form/{form}", "held", held, after=None), timeout=1000))
            if turn % 5 == 4:
                token = {
                    "Authorization": f"Bearer {access.issue(device.key, FIRM, ORIGIN, int(time.time()))}"
                }
                while "not-integrated" in told(*host.ask(f"/forms/{form}/bundle", timeout=1000, **token)):
                    time.sleep(0.1)  # it says: try again in a moment

    threads = []
    for number, sample in enumerate(samples):
        device = field.device(f"load {number}", FIRM)
        field.enroll(device, "inspector")
        form = field.open_form()
        field.collect(form, lot, sample)
        threads.append(threading.Thread(target=work, args=(number, device, form, sample)))
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    answers.pop("503 not-integrated", None)
    assert answers == {"201": 4 * 15, "200": 4 * 3}
    shows(machines, entries(machines))


def test_while_the_host_that_leads_stands_still_the_other_publishes(machines: Machines) -> None:
    """A machine that is frozen for half an hour would keep every receipt of the log waiting, and wake to sign
    in the midst of the other's.
    """
    for still, other in (machines.hosts, machines.hosts[::-1]):  # one of them leads
        still.signal(signal.SIGSTOP)
        count = record(machines)
        wait_until(lambda other=other, count=count: other.size() >= count, "the other host publishes")
        still.signal(signal.SIGCONT)
        shows(machines, count)
    marks = [(each.home / "high-water").read_text().splitlines() for each in machines.hosts]
    for lines in marks:
        sizes = [int(json.loads(line).split("\n")[1]) for line in lines]
        assert sizes == sorted(set(sizes))
