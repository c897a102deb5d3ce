"""From a recorded statement to a published checkpoint, with the power cut between any two phases.

Each phase is broken twice: *before*, nothing of it happened; *after*, it happened and was reported as failed.
Then the service starts again on what is on disk, the device sends the same bytes again, and nothing may be
lost or doubled.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.engine import Connection

import public_log
from bailee.app import create_app
from bailee.disk import durable, tile_files
from bailee.disk.note_file import NoteFile
from bailee.disk.tile_files import TileFiles, TreeOnDisk
from bailee.errors import Broken, Unavailable
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.checkpoint import parse, parse_vkey, read_note
from bailee.operations import maintenance
from bailee.operations.publishing import publish
from bailee.operations.publishing.publish import Publisher
from bailee.signing import notes, signed_statement
from bailee.store import leases, log, tree
from bailee.store.database import Database
from bailee.store.leases import Holder
from field import Field
from grounds import After, on_any
from waiting import until

pytestmark = pytest.mark.slow  # left out between two saves of a file

HELD = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}


class PowerCut(BaseException):
    """Nothing in the program may catch this."""


def cut(monkeypatch: pytest.MonkeyPatch, owner: Any, name: str, when: str, nth: int = 1) -> list[int]:
    """Let the `nth` call of a function end in a power cut, before or after it did its work.

    Counts the calls.
    """
    original = getattr(owner, name)
    calls: list[int] = []

    def broken(*arguments: Any, **named: Any) -> Any:
        calls.append(1)
        if len(calls) == nth and when == "before":
            raise PowerCut
        result = original(*arguments, **named)
        if len(calls) == nth:
            raise PowerCut
        return result

    monkeypatch.setattr(owner, name, broken)
    return calls


def restart(field: Field) -> None:
    """The same home and database, in a new process as far as the program can tell."""
    field.ledger.database.close()
    field.app = create_app(field.ledger.settings, field.clock)
    field.client = field.app.test_client()
    field.ledger = field.app.extensions["ledger"]


def texts_of(field: Field) -> list[str]:
    """Every entry that has its place, in the order of the log."""
    with field.ledger.database.reading() as connection:
        return [each.text for each in log.everything(connection, 0, tree.size(connection))]


def require_sound(field: Field) -> None:
    """Read everything again, from the database and from the disk: all of it must be one log, and all of it
    published.
    """
    ledger = field.ledger
    key = parse_vkey(ledger.vkey)
    with ledger.database.reading() as connection:
        assert list(maintenance.check(connection, key)) == []
        assert not tree.is_waiting(connection)
        size = tree.size(connection)
    shown = ledger.publisher.published()
    texts = texts_of(field)
    assert shown is not None
    assert shown.size == size == len(texts)
    statements = [entries.read(text).stmt for text in texts]
    assert len(set(map(signed_statement.digest, statements))) == len(statements)
    public, private = TileFiles(ledger.settings.tiles), TileFiles(ledger.settings.entry_tiles)
    assert merkle.root(TreeOnDisk(public, size), size) == shown.root
    tile_files.require_derived(public, private, 0, size)
    marks = [
        notes.open_checkpoint(json.loads(line), [key])
        for line in ledger.settings.high_water_file.read_text().splitlines()
        if not line.startswith("cut")
    ]
    assert [mark.size for mark in marks] == sorted({mark.size for mark in marks})
    assert marks[-1] == shown
    with ledger.database.reading() as connection:
        assert all(tree.root_at(connection, mark.size) == mark.root for mark in marks)


def record_and_publish(field: Field, signed: dict[str, Any]) -> None:
    """One statement all the way."""
    field.send(signed)
    field.ledger.sequencer.integrate()


PHASES: dict[str, tuple[Any, str]] = {
    "entry": (log, "append"),
    "entry committed": (Database, "write"),
    "index": (tree, "_give_places"),
    "tree head": (tree, "place"),
    "tiles": (TileFiles, "write"),
    "read back": (Publisher, "read_back"),
    "signature": (Publisher, "sign"),
    "high-water": (NoteFile, "append"),
    "note in the database": (Publisher, "keep"),
    "publication": (Publisher, "announce"),
    "tidying": (Publisher, "_tidy"),
}


def published(field: Field) -> str:
    """A form is opened, and all of it published."""
    form = field.open_form()
    field.ledger.sequencer.integrate()
    return form


@pytest.fixture
def running(after: After) -> Field:
    """A ledger with that."""
    field, field.form = after(published)  # type: ignore[attr-defined]
    return field


@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.parametrize("phase", PHASES)
def test_a_power_cut_between_any_two_phases_loses_and_doubles_nothing(
    running: Field, monkeypatch: pytest.MonkeyPatch, phase: str, when: str
) -> None:
    """A crash at the wrong moment would lose a hand-over that was acknowledged, or make two of it."""
    before = texts_of(running)
    signed = running.people["inspector"].sign(f"form/{running.form}", "held", HELD, after=None)  # type: ignore[attr-defined]
    with monkeypatch.context() as broken:
        calls = cut(broken, *PHASES[phase], when)
        with pytest.raises(PowerCut):
            record_and_publish(running, signed)
        assert calls
    restart(running)
    assert texts_of(running)[: len(before)] == before
    again = running.ok(running.send(signed))
    running.ledger.sequencer.integrate()

    require_sound(running)
    assert texts_of(running)[len(before) :] == [again["entry"]]


@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.parametrize("write", [2, 3, 4])
def test_a_power_cut_at_any_transaction_loses_and_doubles_nothing(
    running: Field, monkeypatch: pytest.MonkeyPatch, write: int, when: str
) -> None:
    """A commit whose answer never came would be taken for none, or a lost one for done."""
    signed = running.people["inspector"].sign(f"form/{running.form}", "held", HELD, after=None)  # type: ignore[attr-defined]
    with monkeypatch.context() as broken:
        cut(broken, Database, "write", when, write)  # 1 is the entry; then places, the empty round, the note
        with pytest.raises(PowerCut):
            record_and_publish(running, signed)
    restart(running)
    running.ok(running.send(signed))
    running.ledger.sequencer.integrate()
    require_sound(running)


def grow(field: Field, count: int) -> None:
    """So many more statements, all sent at once."""
    device = field.people["second"]
    chain = f"form/{field.form}"  # type: ignore[attr-defined]
    for start in range(0, count, 100):
        told = field.send(
            *[device.sign(chain, "held", HELD, after=None) for _ in range(min(100, count - start))]
        )
        answers = told.get_json()["answers"] if count - start > 1 else [told.get_json()]
        assert {each["status"] for each in answers} == {"registered"}


def at_a_border(field: Field) -> str:
    """250 entries are published, and 20 more wait: a full tile replaces partial ones next."""
    field.form = published(field)  # type: ignore[attr-defined]
    grow(field, 250 - len(texts_of(field)))
    field.ledger.sequencer.integrate()
    grow(field, 20)
    return field.form  # type: ignore[attr-defined]


@on_any
@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.parametrize("write", [1, 3, 5, 6])
def test_a_power_cut_while_tiles_fill_up_leaves_a_whole_tree(
    after: After, monkeypatch: pytest.MonkeyPatch, write: int, when: str
) -> None:
    """At the border of a tile, where a full one replaces partial ones, half of them could be left behind for
    good.
    """
    running, running.form = after(at_a_border)  # type: ignore[attr-defined]
    with monkeypatch.context() as broken:
        cut(broken, durable, "write", when, write)
        with pytest.raises(PowerCut):
            running.ledger.sequencer.integrate()
    restart(running)
    running.ledger.sequencer.integrate()
    require_sound(running)
    grow(running, 1)
    running.ledger.sequencer.integrate()
    require_sound(running)
    folder = running.ledger.settings.tiles / "tile"
    found = sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())
    # C2SP tlog-tiles, Partial Tiles: 271 entries are one full tile, partial ones of 14 and 15, and one hash
    # above
    assert [each for each in found if "001" in each or each == "0/000"] == [
        "0/000",
        "0/001.p/14",
        "0/001.p/15",
    ]
    assert "1/000.p/1" in found
    assert not (folder / "0" / "000.p").exists()


@on_any
def test_a_high_water_line_that_was_cut_short_is_passed_over(running: Field) -> None:
    """Half a line, written as the power went, would stop the service for good or hide the line before."""
    path = running.ledger.settings.high_water_file
    known = running.ledger.guard.high_water.newest()
    path.write_bytes(path.read_bytes() + b'cut "ledger.example/test\\n')
    restart(running)
    assert running.ledger.guard.high_water.newest() == known
    grow(running, 1)
    running.ledger.sequencer.integrate()
    require_sound(running)


@on_any
@pytest.mark.parametrize("which", ["tiles", "entry_tiles"])
def test_a_disk_that_gives_back_something_else_is_never_signed(
    running: Field, monkeypatch: pytest.MonkeyPatch, which: str
) -> None:
    """One flipped bit under a signature would end the log: nobody could ever prove what it signed."""
    before = running.ledger.publisher.shown()
    marks = running.ledger.settings.high_water_file.read_bytes()
    original = durable.write
    folder = getattr(running.ledger.settings, which)

    def flip(path: Path, data: bytes, *more: Any) -> bool:
        spoiled = path.is_relative_to(folder) and path.name != "checkpoint"
        return original(path, bytes([*data[:-1], data[-1] ^ 1]) if spoiled else data, *more)

    grow(running, 1)
    with monkeypatch.context() as broken:
        broken.setattr(durable, "write", flip)
        with pytest.raises(Broken) as refused:
            running.ledger.sequencer.integrate()
    assert refused.value.code == "read-back"
    assert running.ledger.publisher.shown() == before
    assert running.ledger.settings.high_water_file.read_bytes() == marks
    running.ledger.sequencer.integrate()
    require_sound(running)


def test_a_full_disk_stops_publishing_and_nothing_else(
    running: Field, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With no room for tiles, the basement's samples must still be recorded, and published once there is
    room.
    """

    def full(path: Path, *_: Any) -> None:
        raise Unavailable(f"{path} cannot be used (No space left on device).", code="disk")

    with monkeypatch.context() as broken:
        broken.setattr(durable, "write", full)
        grow(running, 1)
        with pytest.raises(Unavailable):
            running.ledger.sequencer.integrate()
        running.ledger.sequencer.catch_up()
    running.ledger.sequencer.integrate()
    require_sound(running)


def wrong_files(field: Field) -> list[Path]:
    """What `bailee check-ledger` finds of files."""
    ledger = field.ledger
    return list(publish.wrong_files(ledger.database, ledger.publisher.places, parse_vkey(ledger.vkey)))


@on_any
@pytest.mark.parametrize("which", ["tiles", "entry_tiles"])
@pytest.mark.parametrize("harm", ["flip", "cut", "delete"])
def test_a_tile_that_was_harmed_later_is_named_and_written_again(
    running: Field, which: str, harm: str
) -> None:
    """One bad sector among the tiles would stop the log for good, and every command would say that nothing is
    wrong.
    """
    grow(running, 260 - len(texts_of(running)))
    running.ledger.sequencer.integrate()
    assert wrong_files(running) == []
    folder = getattr(running.ledger.settings, which)
    harmed = [path for path in sorted(folder.rglob("*")) if path.is_file() and path.name != "checkpoint"]
    for path in harmed:
        data = path.read_bytes()
        path.unlink()
        if harm != "delete":
            path.write_bytes(data[:-1] if harm == "cut" else bytes([data[0] ^ 1, *data[1:]]))
    assert set(wrong_files(running)) <= set(harmed)
    assert len(wrong_files(running)) >= 2 if which == "tiles" else 1

    grow(running, 1)
    running.ledger.sequencer.integrate()  # what it needs of them it has written again
    if which == "entry_tiles":
        assert [path.name for path in wrong_files(running)] == [
            "000"
        ]  # full long ago, and read by monitors alone
        running.ledger.publisher.write_again()
    require_sound(running)
    assert wrong_files(running) == []


@on_any
def test_lost_tiles_are_made_again(running: Field) -> None:
    """Whoever loses the folder of tiles must not have lost the log."""
    shutil.rmtree(running.ledger.settings.tiles)
    shutil.rmtree(running.ledger.settings.entry_tiles)
    restart(running)
    running.ledger.sequencer.integrate()
    require_sound(running)


def test_the_same_tree_head_always_has_the_same_note(running: Field) -> None:
    """Two notes over one size would look like two histories (RFC 8032 5.1.6: Ed25519 signatures are
    deterministic).
    """
    shown = running.ledger.publisher.shown()
    running.ledger.publisher.places.checkpoint.unlink()
    restart(running)
    running.ledger.sequencer.integrate()
    assert running.ledger.publisher.shown() == shown


@on_any
def test_tiles_are_where_others_look_for_them(running: Field) -> None:
    """A monitor by somebody else would find nothing at the addresses of the
    specification (C2SP tlog-tiles).
    """
    note = running.client.get("/checkpoint").text
    size = parse(read_note(note).text).size
    answer = running.client.get(f"/tile/0/000.p/{size}")
    assert (answer.status_code, answer.content_type) == (200, "application/octet-stream")
    assert "immutable" in answer.headers["Cache-Control"]
    assert answer.data == b"".join(entries.leaf_hash(text.encode()) for text in texts_of(running))
    # a narrower tile may come out of a fuller one: it is its beginning
    assert running.client.get(f"/tile/0/000.p/{size - 1}").data == answer.data[:-32]
    for path, status in (
        (f"/tile/0/000.p/{size + 1}", 404),
        ("/tile/0/001", 404),
        ("/tile/0/000.p/0", 422),
        ("/tile/64/000", 422),
        ("/tile/0/../0/000.p/1", 422),
        (f"/tile/entries/000.p/{size}", 401),
    ):
        assert running.client.get(path).status_code == status, path


@on_any
def test_what_people_said_is_only_for_monitors(make_field: Callable[..., Field]) -> None:
    """Entries name times, seals and organizations: a competitor with an account must not copy
    the whole book.
    """
    field = make_field(monitors=("nobody",))
    field.ledger.sequencer.integrate()
    size = len(texts_of(field))
    refused = field.get("quality", f"/tile/entries/000.p/{size}")
    assert (refused.status_code, refused.get_json()["code"]) == (403, "not-a-monitor")
    monitor = field.people["lab-quality"]
    object.__setattr__(field.ledger.settings, "monitors", (monitor.key.kid,))
    told = field.get("lab-quality", f"/tile/entries/000.p/{size}")
    assert [each.decode() for each in entries.unpack(told.data)] == texts_of(field)
    assert "private" in told.headers["Cache-Control"]


@pytest.fixture(scope="module")
def tiled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log of 15 entries made by another program (transparency-dev/tessera, testdata)."""
    folder = tmp_path_factory.mktemp("tiled")
    public_log.write(folder)
    return folder


@pytest.mark.parametrize("size", range(1, 16))
def test_tiles_of_another_program_are_read_as_ours(tiled: Path, size: int) -> None:
    """If files are laid out in another way than everybody else's, no other tool can check this log (C2SP
    tlog-tiles).
    """
    files = TileFiles(tiled)
    told = public_log.sizes()[size].checkpoint
    checkpoint = notes.open_checkpoint(told, [parse_vkey(public_log.key())])
    assert merkle.root(TreeOnDisk(files, size), size) == checkpoint.root
    tile_files.require_derived(files, files, 0, size)
    for old in range(size):
        tile_files.require_derived(files, files, old, size)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (0, 0, []),
        (0, 1, [(0, 0, 1)]),
        (1, 1, []),
        (255, 256, [(0, 0, 256), (1, 0, 1)]),
        (256, 257, [(0, 1, 1)]),
        # C2SP tlog-tiles, Partial Tiles: the tree of 70,000 entries
        (
            69_999,
            70_000,
            [(0, 273, 112)],
        ),
        (65_535, 65_536, [(0, 255, 256), (1, 0, 256), (2, 0, 1)]),
    ],
)
def test_which_tiles_a_growing_log_changes(old: int, new: int, expected: list[tuple[int, int, int]]) -> None:
    """A tile left out would be missing for ever; the next round starts behind it."""
    assert tile_files.changed(old, new) == expected


def test_the_tiles_of_the_specification_s_own_example() -> None:
    """C2SP tlog-tiles, Partial Tiles: 70,000 entries are 273 full tiles and one of 112, one full and one of
    17, one of 1.
    """
    found = tile_files.changed(0, 70_000)
    assert [width for level, _, width in found if level == 0] == [256] * 273 + [112]
    assert [width for level, _, width in found if level == 1] == [256, 17]
    assert [width for level, _, width in found if level == 2] == [1]
    assert {level for level, _, _ in found} == {0, 1, 2}


def test_only_one_process_publishes_at_a_time(running: Field) -> None:
    """Two at once could show an older checkpoint after a newer one."""
    lock = running.ledger.publisher.places.lock
    held = (
        "import sys, time\nfrom pathlib import Path\nfrom bailee.disk import durable\nwith"
        " durable.alone(Path(sys.argv[1])):\n    print('held', flush=True)\n    time.sleep(0.6)\n   "
        " print(time.time(), flush=True)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", held, str(lock)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        grow(running, 1)
        running.ledger.sequencer.integrate()
        shown = running.ledger.publisher.places.checkpoint.stat().st_mtime
        assert shown >= float(process.stdout.readline()) - 0.05


def test_a_service_that_ended_leaves_publishing_to_the_next_one(running: Field) -> None:
    """After a restart receipts would lie unpublished until the dead process's time had run out."""
    next_one = Holder("next", "another host")

    def next_may(connection: Connection) -> bool:
        taken = leases.take(connection, next_one, 15_000, alone=False)
        leases.leave(connection, next_one)
        return taken is not None

    database = running.ledger.database
    grow(running, 1)
    running.ledger.sequencer.start(every_s=0.01)
    until(lambda: not database.write(next_may))
    running.ledger.sequencer.stop()
    assert database.write(next_may)


def test_a_checkpoint_of_nothing_is_not_published(make_field: Callable[..., Field]) -> None:
    """An empty log has nothing to vouch for.

    A checkpoint of it would only be one more thing to roll back to.
    """
    field = make_field(start=False)
    assert field.ledger.sequencer.integrate() == 0
    assert field.client.get("/checkpoint").status_code == 404
    assert not field.ledger.settings.high_water_file.exists()
