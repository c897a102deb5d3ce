"""The drill of an old copy: a backup beside a service that goes on, its database in the place of the newer
one, and a home made of it where nothing else is left.

What is refused on the way is held by tests/operations: test_backups, test_restoring, test_rollback. No
standard says how; each step is a sentence of deploy/bad-day.md or deploy/failover.md (common practice, no
source).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from bailee.operations import in_use
from bailee.store import copying
from field import Field
from grounds import Ground
from hosts.copied_homes import field, own_programs, publish, restored, run, served

__all__ = ["field", "own_programs"]  # fixtures
pytestmark = pytest.mark.slow
HELD: dict[str, Any] = {"secured": "possession", "where": "person", "since": "2026-12-01T09:00:00-05:00"}


@contextmanager
def goes_on(field: Field) -> Iterator[None]:
    """Its service runs, and people open forms and are shown checkpoints as long as this lasts."""
    began, ended = threading.Event(), threading.Event()

    def work() -> None:
        try:
            while not ended.is_set():
                field.open_form()
                publish(field)
                began.set()
        finally:
            began.set()

    with in_use.served(field.ledger.settings.home), ThreadPoolExecutor(1) as people:
        working = people.submit(work)
        began.wait()
        try:
            yield
        finally:
            ended.set()
        working.result()


@pytest.mark.parametrize("ground", ["sqlite", "postgresql"], indirect=True)
def test_an_old_copy_signs_nothing_until_all_that_was_signed_after_it_is_back(
    field: Field, ground: Ground, tmp_path: Path
) -> None:
    """Yesterday's copy, started in good faith, would begin a second history under the real key; or a sound
    backup would pass for a harmed one in its drill, because the service signed on while it was made.
    """
    home = field.ledger.settings.home
    form = field.open_form()
    with goes_on(field):
        told = run("backup", "--home", home, "--to", tmp_path / "copy")
    before = int(told.partition(" entries of")[0].rpartition(" ")[2])
    forms = [field.open_form() for _ in range(2)]
    newest = publish(field)

    put_back(tmp_path / "copy", field, ground)
    again = served(home, field)
    in_copy = refuses(again, form)
    assert before <= in_copy < newest
    assert publishes(again) == newest, "what was shown once is shown still"
    again.ledger.database.close()
    assert f"; {newest - in_copy} were brought back, byte for byte" in run("repair", "--home", home)
    assert f"newest checkpoint {newest}." in run("check-ledger", "--home", home)
    again = served(home, field)
    again.open_form()
    newest = publish(again)
    (tmp_path / "newest").write_text(again.client.get("/checkpoint").text)
    again.ledger.database.close()

    new = restored(field, ground, tmp_path / "copy")
    marks = (home / "high-water").read_bytes().splitlines(keepends=True)
    (new / "high-water").write_bytes(b"".join(marks[:-1]))  # they are copied last, and may be newer by some
    other = served(new, again)
    refuses(other, forms[0])
    other.ledger.database.close()
    assert "Ask your cosigners and monitors first" in run("repair", "--home", new, code=2)
    compare = ("repair", "--home", new, "--checkpoint", tmp_path / "newest")
    assert "nowhere to be found" in run(*compare, code=3)
    assert (new / "restored.json").exists()
    said = run("check-ledger", "--home", new)
    assert "No fault was found" in said
    assert "not compared yet with what was signed after it" in said
    assert "were brought back, byte for byte" in run(*compare, "--from", home)
    assert not (new / "restored.json").exists()
    run("check-ledger", "--home", new)
    other = served(new, again)
    other.open_form()
    assert publish(other) > newest
    other.ledger.database.close()


def put_back(copy: Path, field: Field, ground: Ground) -> None:
    """The backup's database comes in the place of the newer one: its home knows nothing of it."""
    address = sa.make_url(ground.empty() or f"sqlite:///{copy.parent / 'older.sqlite'}")
    copying.put_back(next(copy.glob("ledger.*")), address)
    field.ledger.database.close()
    ground.put_back(field.ledger.database.url, address)


def publishes(field: Field) -> int:
    """How many entries are under the checkpoint that it shows."""
    return int(field.client.get("/checkpoint").text.splitlines()[1])


def refuses(field: Field, form: str) -> int:
    """It says that it is frozen, and records nothing: how many entries it has."""
    health = field.client.get("/health").get_json()
    assert health["status"] == "log-frozen"
    refused = field.send(field.people["inspector"].sign(f"form/{form}", "held", HELD, after=None))
    assert (refused.status_code, refused.get_json()["code"]) == (503, "log-frozen")
    return int(health["size"])
