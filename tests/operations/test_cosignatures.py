"""A log and its cosigners: lines come into the note as they come, and what a cosigner saw
cannot be unsaid.
"""

from __future__ import annotations

import json
import shutil
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote
from wsgiref.simple_server import make_server

import pytest
from test_publishing import grow, restart, texts_of

from bailee.cosigning.cosigner import Cosigner
from bailee.cosigning.service import application
from bailee.errors import Malformed, Unavailable
from bailee.ledger.checkpoint import (
    MAX_NOTE_BYTES,
    Checkpoint,
    SignedNote,
    VerifierKey,
    format_vkey,
    parse,
    parse_vkey,
    print_note,
    read_note,
)
from bailee.operations.ledger import assemble
from bailee.operations.publishing import cosignatures
from bailee.signing import notes
from bailee.signing.keys import SigningKey
from bailee.verify import bundle
from field import Field

pytestmark = pytest.mark.slow  # left out between two saves of a file

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
        self.shown: dict[str, tuple[int, str]] = {}
        self.wire()

    def wire(self) -> None:
        """Connect the log, also after a restart."""
        self.field.ledger.cosigners._post = self.post
        self.field.ledger.cosigners._get = self.get

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

    def get(self, url: str) -> tuple[int, str]:
        """What a cosigner shows when it is asked for its newest note."""
        address, _, origin = url.partition("?origin=")
        name = address.removeprefix("https://").removesuffix("/newest")
        self.asked.append(f"{name} to show")
        if name in self.shown:
            return self.shown[name]
        note = self.cosigner(name).newest(unquote(origin))
        return (200, note) if note else (404, "Nothing was cosigned for this log.\n")

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


def require(world: World, count: int) -> None:
    """Start the service again with so many cosignatures required."""
    settings = replace(world.field.ledger.settings, cosigners_required=count)
    world.field.ledger = replace(world.field.ledger, settings=settings)
    restart(world.field)
    world.wire()


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
    # a newer checkpoint, about other things, that nobody cosigned yet
    world.field.ledger.sequencer.integrate()
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
    """After a restart the log does not know what each cosigner saw.

    The answer 409 tells it (C2SP tlog-witness).
    """
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


@pytest.mark.parametrize("ground", ["sqlite"], indirect=True)  # of files; PostgreSQL's is in test_rollback
def test_a_machine_put_back_as_a_whole_is_stopped_by_its_cosigner(world: World, tmp_path: Path) -> None:
    """With database, tiles and high-water file all from yesterday, only somebody outside can know better."""
    url = world.field.ledger.database.url
    world.publish()
    world.field.ledger.database.close()
    home, file = world.field.ledger.settings.home, Path(str(url.database))
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
    shown = world.field.ledger.guard.shown_by_cosigners()
    assert shown  # and this is what a repair aims at
    assert notes.open_checkpoint(shown, [parse_vkey(world.field.ledger.vkey)]).size == then + 4
    restart(world.field)  # also before anybody was asked again
    assert world.field.client.get("/health").get_json()["status"] == "log-frozen"
    assert world.field.ledger.publisher.published().size == then


def own_note(world: World, size: int, root: bytes) -> str:
    """A checkpoint that this log's key signs, whether it should or not."""
    return world.field.ledger.cosigners._sign(Checkpoint(world.field.ledger.settings.origin, size, root))


def status(world: World) -> str:
    """What the service says of itself."""
    return str(world.field.client.get("/health").get_json()["status"])


@pytest.mark.parametrize(
    "answer", [(409, "9999\n"), (422, "A proof from the log does not verify.\n"), (409, "same")]
)
def test_a_bare_word_of_a_cosigner_never_stops_the_log(
    world: World, answer: tuple[int, str], caplog: pytest.LogCaptureFixture
) -> None:
    """A cosigner gone mad, or bought, would hold the laboratory's samples hostage with one number."""
    world.publish()
    grow(world.field, 1)
    world.field.ledger.sequencer.integrate()
    size = len(texts_of(world.field))
    world.answers = {NAMES[0]: (409, f"{size}\n") if answer[1] == "same" else answer}
    world.shown = {NAMES[0]: (404, "Nothing was cosigned for this log.\n")}
    world.field.ledger.cosigners.round()
    assert f"{NAMES[0]} to show" in world.asked
    assert status(world) == "ok"
    assert world.cosigned_by() == [NAMES[1]]
    assert f"cosigner {NAMES[0]}: unreliable" in caplog.text
    grow(world.field, 1)
    world.field.ledger.sequencer.integrate()  # the log goes on


@pytest.mark.parametrize("shown", ["its own signature", "another log", "no note", "what the log continues"])
def test_what_proves_nothing_does_not_stop_the_log(
    world: World, shown: str, caplog: pytest.LogCaptureFixture
) -> None:
    """A number with decoration would do what a bare number may not: only the log's own signature proves that
    it was so large.
    """
    world.publish()
    kept = world.cosigner(NAMES[0]).newest(world.field.ledger.settings.origin)
    assert kept
    grow(world.field, 1)
    text = Checkpoint(world.field.ledger.settings.origin, 9999, bytes(32)).body()
    signed = SignedNote(text, (notes.cosign(text, NAMES[0], key(NAMES[0]), 1_796_133_600),))
    other = notes.sign(Checkpoint("ledger.example/other", 9999, bytes(32)), key("other"))
    world.answers = {NAMES[0]: (409, "9999\n")}
    world.shown = {
        NAMES[0]: (
            200,
            {"its own signature": print_note(signed), "another log": other, "no note": "<html>"}.get(
                shown, kept
            ),
        )
    }
    world.publish()
    assert status(world) == "ok"
    assert world.cosigned_by() == [NAMES[1]]
    assert f"cosigner {NAMES[0]}: unreliable" in caplog.text


def test_a_log_that_grew_on_differently_is_stopped_by_what_it_signed(world: World) -> None:
    """If the old copy has already grown past the cosigner's size, the number alone tells nothing.

    Its own signature does.
    """
    world.publish()
    size = len(texts_of(world.field))
    world.answers = {NAMES[0]: (422, "A proof from the log does not verify.\n")}
    world.shown = {NAMES[0]: (200, own_note(world, size, bytes(32)))}
    grow(world.field, 1)
    world.publish()
    assert status(world) == "log-frozen"
    with pytest.raises(Unavailable, match=NAMES[0]) as frozen:
        world.field.ledger.sequencer.integrate()
    assert frozen.value.facts == {
        "cosigner": NAMES[0], "database": size + 1, "cosigned": size, "acts": [{"act": "repair_ledger"}],
    }  # fmt: skip
    restart(world.field)
    assert status(world) == "log-frozen"


def test_the_log_goes_on_once_it_continues_what_was_shown(world: World) -> None:
    """After the repair nobody must have to delete a file by hand, or wait for the cosigner."""
    world.publish()
    size = len(texts_of(world.field))
    grow(world.field, 1)
    world.field.ledger.sequencer.integrate()
    note = world.field.client.get("/checkpoint").text
    with world.field.ledger.database.reading() as connection:
        world.field.ledger.guard.object_for(NAMES[0], note, connection)  # continued: no objection
    proof = world.field.ledger.settings.home / "frozen.json"
    assert not proof.exists()
    proof.write_text(json.dumps({"cosigner": NAMES[0], "note": note}))
    assert world.field.ledger.guard.shown_by_cosigners() == note
    assert status(world) == "ok"
    assert not proof.exists()
    proof.write_text(json.dumps({"cosigner": NAMES[0], "note": own_note(world, size, bytes(32))}))
    assert status(world) == "log-frozen"


def test_a_file_that_no_log_signed_freezes_nothing(world: World) -> None:
    """An older version wrote a bare word into this file; it must not stop the log after an upgrade."""
    world.publish()
    proof = world.field.ledger.settings.home / "frozen.json"
    for text in (
        '{"cosigner": "x", "database": 1, "cosigned": 999}',
        "[]",
        "no json",
        '{"cosigner": "x", "note": "hello"}',
    ):
        proof.write_text(text)
        assert status(world) == "ok"


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
        cosignatures.configured([f"{format_vkey(log)} https://x.example"], log.name)
    with pytest.raises(Malformed):
        cosignatures.configured(["https://x.example"], log.name)
    with pytest.raises(Malformed, match="needs another"):
        cosignatures.configured([format_vkey(public(NAMES[0]))], NAMES[0])
    (found,) = cosignatures.configured([format_vkey(public(NAMES[0]))], log.name)
    assert found.url is None


def test_another_process_that_was_faster_is_no_rollback(world: World) -> None:
    """With several workers, one asks about a checkpoint that another has already gone beyond: nothing is lost
    by that.
    """
    world.publish()
    stale = world.field.client.get("/checkpoint").text
    grow(world.field, 2)
    world.publish()
    behind, first = world.field.ledger.cosigners, world.field.ledger.cosigners._cosigners[0]
    first.size = 0
    behind._try(first, stale)
    assert world.field.client.get("/health").get_json()["status"] == "ok"
    assert first.next_try > world.field.clock().timestamp()


def test_what_a_cosigner_shows_is_fetched_over_http(world: World) -> None:
    """An objection that is proven would be taken for a bare word, or a page without end would fill the
    memory.
    """
    world.publish()
    origin = world.field.ledger.settings.origin
    served = application(world.cosigner(NAMES[0]), world.field.clock().timestamp)

    def answer(environment: dict[str, Any], start: Any) -> Any:
        if environment["PATH_INFO"] == "/endless":
            start("200 OK", [])
            return [b"x" * (MAX_NOTE_BYTES + 1)]
        return served(environment, start)

    server = make_server("127.0.0.1", 0, answer)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    address = f"http://127.0.0.1:{server.server_port}"
    try:
        assert cosignatures.get(f"{address}/newest?origin={quote(origin, safe='')}") == (
            200,
            world.cosigner(NAMES[0]).newest(origin),
        )
        assert cosignatures.get(f"{address}/newest?origin=other")[0] == 404
        with pytest.raises(Unavailable, match="more than a checkpoint"):
            cosignatures.get(f"{address}/endless")
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
    with pytest.raises(Unavailable, match="did not answer"):
        cosignatures.get(f"{address}/newest")


def test_a_checkpoint_is_shown_only_with_the_cosignatures_that_are_required(world: World) -> None:
    """After a failover nobody would know a second history from the first (C2SP tlog-witness: a witness
    follows one history).
    """
    world.publish()
    before = world.field.ledger.publisher.published()
    require(world, 2)
    grow(world.field, 1)
    world.down = {NAMES[1]}
    with pytest.raises(Unavailable) as refused:
        world.field.ledger.sequencer.integrate()
    assert refused.value.code == "not-cosigned"
    assert world.field.ledger.publisher.published() == before
    world.down = set()
    world.field.ledger.sequencer.integrate()
    assert world.cosigned_by() == list(NAMES)
    assert world.field.ledger.publisher.published() != before


def test_what_is_missing_is_said_in_one_sentence_and_our_own_database_is_not_a_cosigner_s_fault(
    world: World, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The operator would write to the cosigner about what stands in his own house."""
    world.publish()
    require(world, 2)
    grow(world.field, 1)
    world.down = set(NAMES)
    sequencer = world.field.ledger.sequencer
    with pytest.raises(Unavailable) as refused:
        sequencer.integrate()
    assert (
        refused.value.sentence
        == "No cosigner cosigned; 2 must. Nothing new is published until then: it did not answer"
        " (ConnectError)."
    )
    world.down = set(NAMES[:1])
    with pytest.raises(
        Unavailable, match=r"1 of 2 cosigners cosigned; 2 must.*until one more does: it did not"
    ):
        sequencer.integrate()
    world.down = set()

    def away(*_: Any) -> Any:
        raise Unavailable("The ledger's database does not answer.", code="database-away")

    caplog.clear()
    world.field.ledger.cosigners._asked = False
    monkeypatch.setattr(cosignatures.tree, "StoredTiles", away)
    for ask in (world.field.ledger.cosigners.ask_before_signing, sequencer.integrate):
        with pytest.raises(Unavailable) as ours:
            ask()
        assert ours.value.code == "database-away"
    assert not [each for each in caplog.records if each.message.startswith("cosigner ")]


def test_a_cosigner_that_another_host_has_asked_meanwhile_is_no_trouble(
    world: World, caplog: pytest.LogCaptureFixture
) -> None:
    """Each start of a second host would warn of something that nobody has to look after."""
    world.publish()
    before = world.field.client.get("/checkpoint").text
    grow(world.field, 1)
    world.publish()
    caplog.clear()
    cosigners = world.field.ledger.cosigners
    for each in cosigners._cosigners:
        cosigners._try(each, before)
    assert not caplog.records


@pytest.mark.parametrize("required", [1, 3])
def test_fewer_cosigners_than_half_or_more_than_there_are_cannot_be_required(
    world: World, required: int
) -> None:
    """One half would cosign one history and the other half another (any two majorities have a member in
    common).
    """
    ledger = world.field.ledger
    settings = replace(ledger.settings, cosigners_required=required)
    with pytest.raises(Malformed, match="more than half"):
        assemble(settings, ledger.database, key("log"), world.field.clock)
