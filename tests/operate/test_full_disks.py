"""The drill of two hosts with full disks: `pytest tests/operate/test_full_disks.py`.

What they go on doing, and when they refuse (deploy/README.md; common practice, no source). One host alone is
in every run: test_deadlines.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import sqlalchemy as sa

from hosts.running_hosts import Machines, wait_until

pytestmark = [pytest.mark.slow, pytest.mark.drill]
HELD = {"secured": "possession", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


def test_hosts_with_full_disks_say_so_and_take_no_more_than_they_may_owe(tmp_path: Path) -> None:
    """Receipts would be given for days for what nobody can check, while every light is green."""
    with Machines(tmp_path, ready_within_s=1, max_unpublished_s=1) as machines:
        machines.start()
        inspector, form = machines.field.people["inspector"], machines.field.open_form()
        hosts = machines.hosts

        def ready() -> list[int]:
            return [each.ask("/ready")[0] for each in hosts]

        wait_until(lambda: ready() == [200, 200], "hosts to be ready")
        for each in hosts:
            each.fill_disk()
        wait_until(lambda: ready() == [503, 503], "hosts to say that they are not")
        taken = 0
        while True:
            samples = [machines.field.number("sample")]
            signed = inspector.sign(f"form/{form}", "held", {**HELD, "samples": samples}, after=None)
            status, text = hosts[taken % 2].ask("/entries", signed, timeout=1000)
            if status != 201:
                break
            taken += 1
        assert taken, "what is recorded waits on devices only once too much is owed"
        assert (status, json.loads(text)["code"]) == (503, "publication-behind")
        for each in hosts:
            each.free_disk()
        wait_until(lambda: ready() == [200, 200], "hosts to be ready again")
        assert hosts[0].ask("/entries", signed, timeout=1000)[0] == 201
        with machines.database.reading() as connection:
            count = connection.execute(sa.text("SELECT count(*) FROM entry")).scalar_one()
        wait_until(lambda: all(each.size() >= count for each in hosts), "everything to be published")
