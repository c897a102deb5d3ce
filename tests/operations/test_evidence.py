"""What is kept beside the log and lost with the database: contradictions and time stamps come back out of
auditors' files.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from test_conflicts import checked, forked

from authority import Authority
from bailee.ledger.base64url import b64, unb64
from bailee.ledger.checkpoint import Checkpoint
from bailee.operations import maintenance, repair
from bailee.operations.repair import PutBack
from bailee.signing import timestamp
from bailee.store import schema
from field import ORIGIN, Field


@pytest.fixture
def file(field: Field, tmp_path: Path) -> bytes:
    """The file of a form with one contradiction and one stamp; afterwards both are gone from the database."""
    form, _ = forked(field)
    field.form = form  # type: ignore[attr-defined]
    field.ledger.sequencer.integrate()
    with field.ledger.database.reading() as connection:
        query = timestamp.request(maintenance.checkpoint_to_stamp(connection, ORIGIN).body(), 7)
    reply = Authority(tmp_path / "tsa").stamp(query)
    field.ledger.database.write(lambda connection: maintenance.keep_stamp(connection, ORIGIN, reply))
    content: bytes = field.get("clerk", f"/forms/{form}/bundle").data
    lose(field)
    return content


def lose(field: Field) -> None:
    """What an old copy of the database does."""
    with field.ledger.database.engine.begin() as connection:
        connection.execute(schema.conflict.delete())
        connection.execute(schema.token.delete())


def put_back(field: Field, *files: bytes) -> PutBack:
    """What `bailee repair --bundle` does beside the log."""
    return repair.put_back(field.ledger.database, ORIGIN, files, field.clock())


def here(field: Field) -> tuple[int, int]:
    """How many contradictions and stamps the database holds."""
    with field.ledger.database.reading() as connection:
        counts = [
            connection.execute(sa.select(sa.func.count()).select_from(each)).scalar()
            for each in (schema.conflict, schema.token)
        ]
    return counts[0] or 0, counts[1] or 0


def changed(file: bytes, change: Callable[[dict[str, Any]], object]) -> bytes:
    """The file as somebody might have spoilt it."""
    members = json.loads(file)
    change(members)
    return json.dumps(members).encode()


def test_what_a_file_holds_is_here_again(field: Field, file: bytes) -> None:
    """After a restored backup the proof that a phone was copied would be gone, though the customer has it in
    the drawer.
    """
    assert here(field) == (0, 0)
    assert put_back(field, file) == PutBack(1, 1, 0)
    assert here(field) == (1, 1)
    report = checked(field, field.form)  # type: ignore[attr-defined]
    assert report.faults == ()
    assert "conflict" in {each.code for each in report.remarks}
    (stamp,) = report.stamps
    assert stamp.size == json.loads(file)["tokens"][0]["size"]
    assert put_back(field, file, file) == PutBack(0, 0, 0)  # once is enough


def test_nothing_that_proves_nothing_gets_in(field: Field, file: bytes) -> None:
    """Whoever offers a file for the repair could throw doubt on an honest key, or spoil every file that is
    exported from now on.
    """

    def own_words(members: dict[str, Any]) -> None:
        ((logged, _),) = members["conflicts"]
        members["conflicts"] = [[logged, logged]]

    def forged(members: dict[str, Any]) -> None:
        ((logged, refused),) = members["conflicts"]
        header, payload, signature = refused.split(".")
        members["conflicts"] = [[logged, f"{header}.{payload}.{signature[::-1]}"]]

    def the_other_way_round(members: dict[str, Any]) -> None:
        ((logged, refused),) = members["conflicts"]
        members["conflicts"] = [[refused, logged]]

    def of_another_size(members: dict[str, Any]) -> None:
        members["tokens"][0]["size"] -= 1

    def beyond_the_log(members: dict[str, Any]) -> None:
        members["tokens"][0]["size"] += 1000

    def altered(members: dict[str, Any]) -> None:
        der = bytearray(unb64(members["tokens"][0]["der"]))
        der[-1] ^= 1
        members["tokens"][0]["der"] = b64(bytes(der))

    for spoil, left in (
        (own_words, (0, 1)),
        (forged, (0, 1)),
        (the_other_way_round, (0, 1)),
        (of_another_size, (1, 0)),
        (beyond_the_log, (1, 0)),
        (altered, (1, 0)),
    ):
        assert put_back(field, changed(file, spoil)) == PutBack(*left, 1), spoil.__name__
        assert here(field) == left, spoil.__name__
        lose(field)


def test_a_stamp_that_is_here_stays(field: Field, file: bytes, tmp_path: Path) -> None:
    """A later stamp would take the place of an earlier one, and the record look younger."""
    put_back(field, file)
    with field.ledger.database.reading() as connection:
        kept = connection.execute(sa.select(schema.token)).one()
        head = maintenance.checkpoint_to_stamp(connection, ORIGIN)
    text = Checkpoint(ORIGIN, head.size, head.root).body()
    later = timestamp.token_in(Authority(tmp_path / "other").stamp(timestamp.request(text, 8)))

    def swap(members: dict[str, Any]) -> None:
        members["tokens"] = [{"type": "rfc3161", "size": head.size, "der": b64(later)}]

    assert put_back(field, changed(file, swap)) == PutBack(0, 0, 0)
    with field.ledger.database.reading() as connection:
        assert connection.execute(sa.select(schema.token)).one() == kept
