"""Yesterday's database put in place: the log is frozen, says so with both sizes, and is repaired byte for
byte.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.pool import NullPool
from test_publishing import HELD, grow, require_sound, restart, texts_of

from bailee.disk.tile_files import TileFiles
from bailee.errors import BaileeError, Broken, Unavailable
from bailee.ledger import entry as entries
from bailee.ledger.checkpoint import parse, parse_vkey, read_note
from bailee.operations import repair
from bailee.signing.signed_statement import Seen
from bailee.store import schema, tree
from bailee.verify import bundle
from field import Field

pytestmark = pytest.mark.slow  # left out between two saves of a file

Restore = Callable[[], None]


@pytest.fixture
def backup(request: pytest.FixtureRequest) -> Callable[[Field], Restore]:
    """Makes a backup of a ledger's database as an operator would; what it gives puts the backup in place."""

    def make(field: Field) -> Restore:
        database = field.ledger.database
        database.close()
        if database.is_sqlite:
            path = Path(database.url.database)
            with sa.create_engine(database.url, poolclass=NullPool).connect() as connection:
                connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
            copy = shutil.copy(path, path.with_suffix(".backup"))

            def put_back() -> None:
                field.ledger.database.close()
                for journal in path.parent.glob(f"{path.name}-*"):
                    journal.unlink()
                shutil.copy(copy, path)

        else:
            name = database.url.database
            _admin(request, f"CREATE DATABASE {name}b TEMPLATE {name}")
            request.addfinalizer(lambda: _admin(request, f"DROP DATABASE {name}b WITH (FORCE)"))

            def put_back() -> None:
                field.ledger.database.close()
                _admin(request, f"DROP DATABASE {name} WITH (FORCE)")
                _admin(request, f"CREATE DATABASE {name} TEMPLATE {name}b")

        return put_back

    return make


def _admin(request: pytest.FixtureRequest, command: str) -> None:
    server = request.getfixturevalue("postgres")
    engine = sa.create_engine(server.url(), isolation_level="AUTOCOMMIT", poolclass=NullPool)
    with engine.connect() as connection:
        connection.execute(sa.text(command))


@pytest.fixture
def rolled_back(field: Field, backup: Callable[[Field], Restore]) -> Field:
    """A ledger whose database is yesterday's: some entries were placed, one was waiting.

    Since then much happened.
    """
    field.form = field.open_form()  # type: ignore[attr-defined]
    field.ledger.sequencer.integrate()
    grow(field, 1)
    put_back = backup(field)
    restart(field)
    field.size_then = len(texts_of(field))  # type: ignore[attr-defined]
    field.ledger.sequencer.integrate()
    field.faultless()
    grow(field, 3)
    field.ledger.sequencer.integrate()
    field.texts_now = texts_of(field)  # type: ignore[attr-defined]
    put_back()
    restart(field)
    return field


def mend(field: Field, *more: dict[int, repair.Found]) -> repair.Repaired:
    """What `bailee repair` does."""
    key = parse_vkey(field.ledger.vkey)
    newest = repair.newest_of([field.ledger.guard.high_water.newest()], key)
    assert newest
    with field.ledger.database.reading() as connection:
        first = tree.size(connection)
    own = repair.from_tiles(field.ledger.settings.entry_tiles, first, newest[0].size)
    return repair.repair(field.ledger.database, *newest, [own, *more])


def test_an_old_database_freezes_the_log_and_names_both_sizes(rolled_back: Field) -> None:
    """A service that goes on from an old copy signs a second history, and no proof of either is worth
    anything.
    """
    then, now = rolled_back.size_then, len(rolled_back.texts_now)  # type: ignore[attr-defined]
    marks = rolled_back.ledger.settings.high_water_file.read_bytes()
    with pytest.raises(Unavailable) as frozen:
        rolled_back.ledger.sequencer.integrate()
    facts = {"database": then, "signed": now, "acts": [{"act": "repair_ledger"}]}
    assert (frozen.value.code, frozen.value.facts) == ("log-frozen", facts)
    assert str(then) in frozen.value.sentence
    assert str(now) in frozen.value.sentence

    device = rolled_back.people["second"]
    refused = rolled_back.send(device.sign(f"form/{rolled_back.form}", "held", HELD, after=None))  # type: ignore[attr-defined]
    assert (refused.status_code, refused.get_json()["code"]) == (503, "log-frozen")
    assert (refused.get_json()["database"], refused.get_json()["signed"]) == (then, now)

    health = rolled_back.client.get("/health").get_json()
    assert (health["status"], health["size"]) == ("log-frozen", then)
    assert rolled_back.get("inspector", f"/forms/{rolled_back.form}").status_code == 200  # type: ignore[attr-defined]
    file = rolled_back.get("inspector", f"/forms/{rolled_back.form}/bundle")  # type: ignore[attr-defined]
    assert (file.status_code, file.get_json()["code"]) == (
        503,
        "log-frozen",
    )  # it would be whole, and lack what was lost
    assert rolled_back.ledger.settings.high_water_file.read_bytes() == marks
    assert parse(read_note(rolled_back.client.get("/checkpoint").text).text).size == now


def test_the_high_water_file_restored_with_the_database_is_caught_by_what_is_published(
    rolled_back: Field,
) -> None:
    """Both lie in one folder unless somebody moved one: a backup of the folder would take back the only thing
    that remembers.
    """
    high_water = rolled_back.ledger.settings.high_water_file
    high_water.write_bytes(high_water.read_bytes().splitlines(keepends=True)[0])
    restart(rolled_back)
    then, now = rolled_back.size_then, len(rolled_back.texts_now)  # type: ignore[attr-defined]
    with pytest.raises(Unavailable) as frozen:
        rolled_back.ledger.sequencer.integrate()
    facts = {"database": then, "signed": now, "acts": [{"act": "repair_ledger"}]}
    assert (frozen.value.code, frozen.value.facts) == ("log-frozen", facts)
    device = rolled_back.people["second"]
    refused = rolled_back.send(device.sign(f"form/{rolled_back.form}", "held", HELD, after=None))  # type: ignore[attr-defined]
    assert (refused.status_code, refused.get_json()["code"]) == (503, "log-frozen")
    assert len(texts_of(rolled_back)) == then


def test_a_published_checkpoint_that_nobody_signed_freezes_nothing(rolled_back: Field) -> None:
    """Whoever can write into the public folder could stop the service with a number."""
    mend(rolled_back)
    checkpoint = rolled_back.ledger.publisher.places.checkpoint
    checkpoint.write_text(checkpoint.read_text().replace("\n", "\n9", 1))
    restart(rolled_back)
    grow(rolled_back, 1)
    rolled_back.ledger.sequencer.integrate()
    assert rolled_back.client.get("/health").get_json()["status"] == "ok"


def test_repair_from_its_own_tiles_gives_the_same_bytes(rolled_back: Field) -> None:
    """After a restored backup everybody's receipts must be good again, not nearly good."""
    done = mend(rolled_back)
    now = rolled_back.texts_now  # type: ignore[attr-defined]
    assert (done.before, done.now) == (rolled_back.size_then, len(now))  # type: ignore[attr-defined]
    assert texts_of(rolled_back) == now
    restart(rolled_back)
    assert rolled_back.client.get("/health").get_json()["status"] == "ok"
    grow(rolled_back, 1)
    rolled_back.ledger.sequencer.integrate()
    require_sound(rolled_back)
    assert texts_of(rolled_back)[: len(now)] == now


def test_a_running_service_goes_on_by_itself_once_repaired(rolled_back: Field) -> None:
    """An operator who has repaired the database must not wonder why it is still frozen."""
    device = rolled_back.people["second"]
    signed = device.sign(f"form/{rolled_back.form}", "held", HELD, after=None)  # type: ignore[attr-defined]
    assert rolled_back.send(signed).status_code == 503
    mend(rolled_back)
    assert rolled_back.send(signed).status_code == 201


def test_questions_are_answered_as_before_the_loss(rolled_back: Field) -> None:
    """Entries that are back but not found by their numbers would be as good as lost at the dock."""
    mend(rolled_back)
    with rolled_back.ledger.database.reading() as connection:
        numbers = set(connection.execute(sa.select(schema.mention.c.number)).scalars())
        device = connection.execute(sa.select(sa.func.count()).select_from(schema.statement)).scalar()
    assert any(number.startswith("E") for number in numbers)
    assert device == len(rolled_back.texts_now)  # type: ignore[attr-defined]


def test_repair_does_nothing_when_an_entry_is_nowhere(rolled_back: Field) -> None:
    """A log with a hole must stay frozen; the sentence must say what to look for."""
    shutil.rmtree(rolled_back.ledger.settings.entry_tiles)
    before = texts_of(rolled_back)
    with pytest.raises(Unavailable) as refused:
        mend(rolled_back)
    assert refused.value.code == "entries-missing"
    assert refused.value.facts["missing"] == len(rolled_back.texts_now) - rolled_back.size_then  # type: ignore[attr-defined]
    assert texts_of(rolled_back) == before
    assert rolled_back.client.get("/health").get_json()["status"] == "log-frozen"


def test_repair_takes_nothing_that_was_altered(rolled_back: Field) -> None:
    """Whoever offers the missing entries could slip in one of their own."""
    now = rolled_back.texts_now  # type: ignore[attr-defined]
    spoiled = {len(now) - 1: repair.Found(now[-1].replace('"rec":"2026-12-02', '"rec":"2026-12-03'))}
    assert spoiled[len(now) - 1].text != now[-1]
    before = texts_of(rolled_back)
    with pytest.raises(Broken) as refused:
        mend(rolled_back, spoiled)
    assert refused.value.code == "root"
    assert texts_of(rolled_back) == before


def test_repair_from_bundles_brings_private_fields_back_too(
    field: Field, backup: Callable[[Field], Restore]
) -> None:
    """Of a lost day, the customer's own file may be all that is left, with the names in it."""
    field.form = field.open_form()  # type: ignore[attr-defined]
    field.ledger.sequencer.integrate()
    put_back = backup(field)
    restart(field)
    lot, samples = field.lot(1)
    field.collect(field.form, lot, samples[0])  # type: ignore[attr-defined]
    file = field.get("inspector", f"/forms/{field.form}/bundle").data  # type: ignore[attr-defined]
    told = {each.index: each.disclosures for each in bundle.read(file).entries if each.disclosures}
    now = texts_of(field)
    put_back()
    restart(field)
    shutil.rmtree(field.ledger.settings.entry_tiles)

    done = mend(field, repair.from_bundles([file]))
    assert done.fields_missing == 0
    assert texts_of(field) == now
    file_again = bundle.read(field.get("inspector", f"/forms/{field.form}/bundle").data)  # type: ignore[attr-defined]
    assert {each.index: each.disclosures for each in file_again.entries if each.disclosures} == told


def test_private_fields_are_not_in_tiles(rolled_back: Field) -> None:
    """What was put back from tiles must say that names are gone, and tiles must not hold them."""
    done = mend(rolled_back)
    assert done.fields_missing > 0
    raw = b"".join(
        path.read_bytes() for path in rolled_back.ledger.settings.home.rglob("tile/**/*") if path.is_file()
    )
    assert b"Perpetua" not in raw
    assert b"Invented Lane" not in raw


def test_what_was_recorded_on_top_of_the_old_copy_is_not_overwritten(rolled_back: Field) -> None:
    """If somebody did write into the old copy, repair must stop and say so: both histories are somebody's
    evidence.
    """
    with rolled_back.ledger.database.engine.begin() as connection:
        chain = connection.execute(
            sa.select(schema.chain).where(schema.chain.c.name == f"form/{rolled_back.form}")  # type: ignore[attr-defined]
        ).one()
        text = rolled_back.texts_now[-1].replace('"n":', '"n":1')  # type: ignore[attr-defined]
        connection.execute(
            schema.entry.insert().values(chain_id=chain.id, n=chain.length + 1, text=text, leaf=b"0" * 32)
        )
    with pytest.raises(Broken) as refused:
        mend(rolled_back)
    assert refused.value.code == "conflict"
    assert "backup" in refused.value.sentence


def test_another_history_of_the_right_size_is_frozen_too(
    field: Field, backup: Callable[[Field], Restore]
) -> None:
    """An old copy that grew on elsewhere is not behind in numbers, and all the more wrong."""
    field.form = field.open_form()  # type: ignore[attr-defined]
    field.ledger.sequencer.integrate()
    put_back = backup(field)
    restart(field)
    grow(field, 3)
    field.ledger.sequencer.integrate()
    marks = field.ledger.settings.high_water_file.read_bytes()
    size = len(texts_of(field))
    put_back()
    field.ledger.settings.high_water_file.write_bytes(marks.splitlines(keepends=True)[0])
    for folder in (field.ledger.settings.tiles, field.ledger.settings.entry_tiles):
        shutil.rmtree(folder)
    restart(field)
    grow(field, 5)
    field.ledger.sequencer.integrate()  # a second history: this machine had forgotten everything
    field.ledger.settings.high_water_file.write_bytes(marks)
    with pytest.raises(Unavailable, match="another history") as frozen:
        field.ledger.sequencer.integrate()
    assert frozen.value.facts == {
        "database": size + 2, "signed": size, "acts": [{"act": "repair_ledger"}],
    }  # fmt: skip


def test_a_missing_high_water_file_freezes_the_log(field: Field) -> None:
    """A disk that was not mounted must not pass for a log that never signed anything."""
    field.ledger.sequencer.integrate()
    field.ledger.settings.high_water_file.unlink()
    restart(field)
    with pytest.raises(Unavailable, match="high-water file") as frozen:
        field.ledger.sequencer.integrate()
    assert frozen.value.code == "log-frozen"
    assert field.client.get("/health").get_json()["status"] == "log-frozen"


def test_a_foreign_high_water_file_freezes_the_log(field: Field) -> None:
    """The file of another log, put there by mistake, must not be taken for ours or for none."""
    field.ledger.sequencer.integrate()
    path = field.ledger.settings.high_water_file
    path.write_bytes(path.read_bytes().replace(b"ledger.example/test\\n", b"ledger.example/live\\n"))
    restart(field)
    with pytest.raises(Unavailable, match="not a checkpoint of this log"):
        field.ledger.sequencer.integrate()


def test_the_high_water_file_may_lie_elsewhere(tmp_path: Path, make_field: Callable[..., Field]) -> None:
    """On the disk of the database it would be put back together with it."""
    elsewhere = tmp_path / "other disk" / "marks"
    elsewhere.parent.mkdir()
    field = make_field(high_water=str(elsewhere))
    field.ledger.sequencer.integrate()
    assert elsewhere.read_text().count("\n") == 1
    assert not (field.ledger.settings.home / "high-water").exists()


def test_a_device_that_saw_more_is_believed(rolled_back: Field) -> None:
    """Even with every file of the server put back, a phone that saw the newer log must not be told that all
    is well.
    """
    for line in (rolled_back.ledger.settings.high_water_file, rolled_back.ledger.publisher.places.checkpoint):
        line.unlink()
    with rolled_back.ledger.database.reading() as connection:
        own = tree.newest_note(connection)
    assert own
    rolled_back.ledger.guard.high_water.append(own)
    restart(rolled_back)
    seen: Any = rolled_back.texts_now  # type: ignore[attr-defined]
    device = rolled_back.people["second"]
    signed = device.sign(
        f"form/{rolled_back.form}",  # type: ignore[attr-defined]
        "held",
        HELD,
        after=None,
        seen=Seen(len(seen), "A" * 43),
    )
    told = rolled_back.send(signed).get_json()
    assert told["code"] == "unknown-head"
    assert "may have lost entries" in told["detail"]


def test_entry_tiles_of_an_earlier_checkpoint_still_help(tmp_path: Path) -> None:
    """A mirror that is some entries behind has all the rest: it must not count as empty."""
    TileFiles(tmp_path).write(None, 0, 3, entries.pack([b"a", b"b", b"c"]))
    assert {at: each.text for at, each in repair.from_tiles(tmp_path, 1, 5).items()} == {1: "b", 2: "c"}
    assert repair.from_tiles(tmp_path, 300, 310) == {}


def test_nothing_that_the_log_did_not_sign_is_a_target(field: Field) -> None:
    """A checkpoint from anybody else would make the repair stop at the wrong place."""
    field.ledger.sequencer.integrate()
    note = field.ledger.publisher.shown()
    assert note
    size = parse(read_note(note).text).size
    key = parse_vkey(field.ledger.vkey)
    found = repair.newest_of([None, "nonsense", note.replace(f"\n{size}\n", f"\n{size + 1}\n"), note], key)
    assert found is not None
    assert found[1] == note
    assert repair.newest_of(["nonsense"], key) is None
    with pytest.raises(BaileeError):
        repair.from_bundles([b"{}"])
