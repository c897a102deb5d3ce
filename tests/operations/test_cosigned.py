"""A log and its cosigners: lines come into the note as they come, and what a cosigner saw cannot be unsaid."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from test_publishing import grow, restart, texts_of

from bailee.cosigning.cosigner import Cosigner
from bailee.errors import Malformed, Unavailable
from bailee.ledger.checkpoint import (
    VerifierKey,
    format_vkey,
    parse,
    parse_vkey,
    read_note,
)
from bailee.operations import cosigned
from bailee.signing import notes
from bailee.signing.keys import SigningKey
from bailee.verify import bundle
from field import Field, make_home

NAMES = ("quill.example/cosigner", "notary.example/w1")


def key(name: str) -> SigningKey:
    """A cosigner's private key."""
    return SigningKey.from_seed(name.encode().ljust(32, b".")[:32])


def public(name: str) -> VerifierKey:
    """And its public half."""
    return notes.cosigner_key(name, key(name))


class World:
    """A log with two cosigners, and the wire between them."""

    def __init__(self, tmp_path: Path, make_field: Callable[..., Field]) -> None:
        settings = tuple(f"{format_vkey(public(name))} https://{name}" for name in NAMES)
        self.field = make_field(cosigners=settings)
        self.folder = tmp_path / "cosigners"
        self.down: set[str] = set()
        self.asked: list[str] = []
        self.answers: dict[str, tuple[int, str]] = {}
        self.wire()

    def wire(self) -> None:
        """Connect the log, also after a restart."""
        self.field.ledger.cosigners._post = self.post

    def post(self, url: str, body: bytes) -> tuple[int, str]:
        """What the network does."""
        name = url.removeprefix("https://").removesuffix("/add-checkpoint")
        self.asked.append(name)
        if name in self.down:
            raise Unavailable("it did not answer (ConnectError)", code="cosigner")
        if name in self.answers:
            return self.answers[name]
        answer = self.cosigner(name).add_checkpoint(body, int(self.field.clock().timestamp()))
        return answer.status, answer.text

    def cosigner(self, name: str) -> Cosigner:
        """One of the two."""
        log = parse_vkey(self.field.ledger.vkey)
        return Cosigner(self.folder / name, name, key(name), [log])

    def publish(self) -> None:
        """Publish what waits, then ask."""
        self.field.ledger.sequencer.integrate()
        self.field.ledger.cosigners.round()

    def cosigned_by(self) -> list[str]:
        """Who has cosigned what is shown now."""
        note = read_note(self.field.client.get("/checkpoint").text)
        return [name for name in NAMES if notes.cosigned_at(note, public(name)) is not None]


@pytest.fixture
def world(tmp_path: Path, make_field: Callable[..., Field]) -> World:
    """With one form, published and not yet cosigned."""
    world = World(tmp_path, make_field)
    world.field.form = world.field.open_form()  # type: ignore[attr-defined]
    return world


def test_cosignatures_come_into_the_published_note(world: World) -> None:
    """Without them everybody has only the operator's word that all are shown the same log."""
    world.publish()
    assert world.cosigned_by() == list(NAMES)
    note = world.field.client.get("/checkpoint").text
    log = parse_vkey(world.field.ledger.vkey)
    assert notes.open_checkpoint(note, [log]).size == len(texts_of(world.field))
    world.asked.clear()
    world.field.ledger.cosigners.round()
    assert world.asked == []  # whoever has cosigned is not asked again


def test_a_bundle_carries_the_cosignatures(world: World) -> None:
    """What the auditor cannot see in the file was in vain."""
    world.publish()
    grow(world.field, 1)
    world.down = set(NAMES)
    form = world.field.form  # type: ignore[attr-defined]
    told = bundle.read(world.field.get("inspector", f"/forms/{form}/bundle").data)
    assert (
        notes.cosigned_at(read_note(told.note), public(NAMES[0])) is None
    )  # its newest entry is not cosigned yet
    world.down = set()
    world.field.clock.advance(minutes=10)
    world.publish()
    world.field.lot(1)
    world.field.ledger.sequencer.integrate()  # a newer checkpoint, about other things, that nobody cosigned yet
    told = bundle.read(world.field.get("inspector", f"/forms/{form}/bundle").data)
    assert notes.cosigned_at(read_note(told.note), public(NAMES[0])) is not None


def test_a_cosigner_that_is_away_holds_nothing_up(world: World) -> None:
    """A log that waits for somebody else's machine stops with it."""
    world.down = {NAMES[0]}
    world.publish()
    assert world.cosigned_by() == [NAMES[1]]
    assert world.field.client.get("/health").get_json()["status"] == "ok"
    world.asked.clear()
    world.field.ledger.cosigners.round()
    assert world.asked == []  # not at once again
    world.field.clock.advance(seconds=30)
    world.field.ledger.cosigners.round()
    assert world.asked == [NAMES[0]]
    world.down = set()
    world.field.clock.advance(minutes=10)
    world.field.ledger.cosigners.round()
    assert world.cosigned_by() == list(NAMES)


def test_a_cosigner_that_knows_more_than_we_remember_is_caught_up_with(world: World) -> None:
    """After a restart the log does not know what each cosigner saw; the answer 409 tells it (C2SP tlog-witness)."""
    world.publish()
    grow(world.field, 5)
    restart(world.field)
    world.wire()
    world.publish()
    assert world.cosigned_by() == list(NAMES)
    for name in NAMES:
        kept = world.cosigner(name).newest(world.field.ledger.settings.origin)
        assert kept
        assert parse(read_note(kept).text).size == len(texts_of(world.field))


def test_asking_again_after_every_restart_does_not_swell_the_note(world: World) -> None:
    """Forty restarts over a quiet week would make a note that nobody may read any more (32 signatures)."""
    world.publish()
    for _ in range(40):
        world.field.clock.advance(hours=4)
        restart(world.field)
        world.wire()
        world.publish()
    note = read_note(world.field.client.get("/checkpoint").text)
    assert len(note.signatures) == 3
    assert notes.cosigned_at(note, public(NAMES[0])) == int(world.field.clock().timestamp())


def test_a_machine_put_back_as_a_whole_is_stopped_by_its_cosigner(
    world: World, tmp_path: Path, database_url: str
) -> None:
    """With database, tiles and high-water file all from yesterday, only somebody outside can know better."""
    if not database_url.startswith("sqlite"):
        pytest.skip(
            "the files of a machine are copied here; the same on PostgreSQL is tried in test_rollback"
        )
    world.publish()
    world.field.ledger.database.close()
    home, file = world.field.ledger.settings.home, Path(database_url.removeprefix("sqlite:///"))
    for path in file.parent.glob(f"{file.name}-*"):
        path.unlink()
    shutil.copytree(home, tmp_path / "backup")
    shutil.copy(file, tmp_path / "backup.sqlite")
    then = len(texts_of(world.field))
    grow(world.field, 4)
    world.publish()
    assert world.cosigned_by() == list(NAMES)
    world.field.ledger.database.close()
    for path in file.parent.glob(f"{file.name}-*"):
        path.unlink()
    shutil.rmtree(home)
    shutil.copytree(tmp_path / "backup", home)
    shutil.copy(tmp_path / "backup.sqlite", file)

    restart(world.field)
    world.wire()
    with pytest.raises(Unavailable) as frozen:
        world.field.ledger.sequencer.integrate()
    assert frozen.value.code == "log-frozen"
    assert frozen.value.facts["database"] == then
    assert frozen.value.facts["cosigned"] == then + 4
    restart(world.field)  # also before anybody was asked again
    assert world.field.client.get("/health").get_json()["status"] == "log-frozen"
    assert world.field.ledger.publisher.published().size == then


def test_a_log_that_grew_on_differently_is_stopped_too(world: World) -> None:
    """If the old copy has already grown past the cosigner's size, the number alone tells nothing; the proof fails."""
    world.publish()
    world.answers = {NAMES[0]: (422, "A proof from the log does not hold.\n")}
    grow(world.field, 1)
    world.publish()
    assert world.field.client.get("/health").get_json()["status"] == "log-frozen"
    with pytest.raises(Unavailable, match=NAMES[0]):
        world.field.ledger.sequencer.integrate()


def test_the_log_goes_on_when_the_cosigner_agrees_again(world: World) -> None:
    """After the repair nobody must have to delete a file by hand."""
    world.publish()
    grow(world.field, 1)
    world.answers = {NAMES[0]: (409, "999\n")}
    world.publish()
    assert world.field.client.get("/health").get_json()["status"] == "log-frozen"
    world.answers = {}
    world.field.clock.advance(minutes=10)
    world.field.ledger.cosigners.round()
    assert world.field.client.get("/health").get_json()["status"] == "ok"
    assert world.cosigned_by() == list(NAMES)


def test_a_cosigner_taken_out_of_the_settings_cannot_stop_the_log(
    world: World, tmp_path: Path, database_url: str
) -> None:
    """A cosigner gone mad would otherwise hold the laboratory's samples hostage."""
    world.publish()
    grow(world.field, 1)
    world.answers = {NAMES[0]: (409, "999999\n")}
    world.publish()
    assert world.field.client.get("/health").get_json()["status"] == "log-frozen"
    world.field.ledger.database.close()
    without = make_home(tmp_path / "home", database_url)
    again = Field(without, start=False)
    assert again.client.get("/health").get_json()["status"] == "ok"
    again.ledger.database.close()


@pytest.mark.parametrize(
    "answer",
    [
        (200, ""),
        (200, "nonsense\n"),
        (200, f"— {NAMES[0]} {'A' * 96}\n"),
        (409, "many\n"),
        (409, "-1\n"),
        (409, "9" * 30 + "\n"),
        (404, "unknown\n"),
        (503, "<html>busy</html>"),
    ],
)
def test_an_answer_that_is_none_changes_nothing(world: World, answer: tuple[int, str]) -> None:
    """A cosigner that answers nonsense must neither get a line into the note nor stop the log."""
    world.answers = {NAMES[0]: answer}
    world.publish()
    assert world.cosigned_by() == [NAMES[1]]
    assert world.field.client.get("/health").get_json()["status"] == "ok"


def test_a_cosigner_that_comes_by_itself_is_taken(world: World) -> None:
    """A firm without a server of its own, behind its router, must be able to cosign the laboratory's log."""
    world.down = set(NAMES)
    world.publish()
    note = world.field.client.get("/checkpoint").text
    line = notes.cosign(read_note(note).text, NAMES[0], key(NAMES[0]), 1_796_133_600)
    stranger = notes.cosign(read_note(note).text, "else.example", key("else"), 1_796_133_600)
    brought = note + notes.print_line(line) + notes.print_line(stranger)
    answer = world.field.client.post("/checkpoint/cosignatures", json={"note": brought})
    assert (answer.status_code, answer.get_json()) == (200, {"accepted": 1})
    assert world.cosigned_by() == [NAMES[0]]
    assert "else.example" not in world.field.client.get("/checkpoint").text


@pytest.mark.parametrize("change", ["another size", "another root", "another key", "no note"])
def test_what_a_stranger_brings_is_not_taken(world: World, change: str) -> None:
    """Anybody may send to this address: nothing false may get into the note that everybody fetches."""
    world.down = set(NAMES)
    world.publish()
    note = world.field.client.get("/checkpoint").text
    text = read_note(note).text
    size = parse(text).size
    other = {
        "another size": text.replace(f"\n{size}\n", f"\n{size - 1}\n"),
        "another root": text.replace(text.splitlines()[2], "A" * 43 + "="),
    }.get(change, text)
    line = notes.cosign(other, NAMES[0], key(NAMES[0]), 1_796_133_600)
    if change == "another key":
        forged = notes.cosign(other, NAMES[0], key("thief"), 1_796_133_600)
        line = replace(line, signature=forged.signature)
    brought = "hello" if change == "no note" else note.replace(text, other) + notes.print_line(line)
    answer = world.field.client.post("/checkpoint/cosignatures", json={"note": brought})
    assert answer.status_code == 422
    assert world.field.client.get("/checkpoint").text == note


def test_settings_that_name_no_cosigner_are_refused() -> None:
    """A log's key among the cosigners would let the log cosign itself."""
    log = notes.verifier_key("ledger.example/x", key("log"))
    with pytest.raises(Malformed):
        cosigned.configured([f"{format_vkey(log)} https://x.example"])
    with pytest.raises(Malformed):
        cosigned.configured(["https://x.example"])
    (found,) = cosigned.configured([format_vkey(public(NAMES[0]))])
    assert found.url is None


def test_another_process_that_was_faster_is_no_rollback(world: World) -> None:
    """With several workers, one asks about a checkpoint that another has already gone beyond: nothing is lost by that."""
    world.publish()
    stale = world.field.client.get("/checkpoint").text
    grow(world.field, 2)
    world.publish()
    behind, first = world.field.ledger.cosigners, world.field.ledger.cosigners._cosigners[0]
    first.size = 0
    behind._try(first, stale)
    assert world.field.client.get("/health").get_json()["status"] == "ok"
    assert first.next_try > world.field.clock().timestamp()
