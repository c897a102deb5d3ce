"""A cosigner: what it signs, what it refuses, what it never forgets (C2SP tlog-witness, tlog-cosignature)."""

from __future__ import annotations

import threading
from http import HTTPStatus
from io import BytesIO
from pathlib import Path
from typing import Any

import httpx2
import nacl.signing
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.cosigning import folder as folders
from bailee.cosigning import request
from bailee.cosigning.cosigner import Cosigner
from bailee.cosigning.service import application
from bailee.disk import durable
from bailee.errors import Malformed, Unavailable
from bailee.ledger.checkpoint import format_vkey, parse, parse_vkey, read_cosignature, read_note
from bailee.signing import notes
from bailee.signing.keys import SigningKey
from published import rows
from tiny_log import ORIGIN, TinyLog

NOW = 1_796_133_600  # 2026-12-01T14:00:00Z
NAME = "quill.example/cosigner"
KEY = SigningKey.from_seed(b"cosigner".ljust(32, b"."))


def cosigner(folder: Path) -> Cosigner:
    """One that follows the tiny log."""
    return Cosigner(folder, NAME, KEY, [TinyLog().verifier])


def test_a_cosignature_verifies_with_another_library(tmp_path: Path) -> None:
    """If only our own program believed our cosignatures, an auditor would have to trust us (PyNaCl)."""
    answer = cosigner(tmp_path).add_checkpoint(TinyLog().ask(0, 5), NOW)
    assert answer.status == HTTPStatus.OK
    note = read_note(TinyLog().note(5) + answer.text)
    line = note.signatures[1]
    found = read_cosignature(line.signature)
    assert (line.name, found.time) == (NAME, NOW)
    # C2SP tlog-cosignature, Ed25519 signed message
    message = f"cosignature/v1\ntime {NOW}\n{note.text}".encode()
    nacl.signing.VerifyKey(KEY.public).verify(message, found.signature)


@pytest.mark.parametrize(("published", "text"), rows("notes-sunlight", "cosigned"), ids=["one", "two"])
def test_cosignatures_of_other_programs_are_believed(published: str, text: str) -> None:
    """A cosigner with other software must count as much as ours (FiloSottile/sunlight, testdata)."""
    key, note = parse_vkey(published), read_note(text)
    assert notes.cosigned_at(note, key) == 1_767_139_200
    spoiled = read_note(text.replace(f"\n{note.text.splitlines()[1]}\n", "\n7\n", 1))
    with pytest.raises(Exception, match="does not fit the checkpoint"):
        notes.cosigned_at(spoiled, key)


def test_growth_is_followed_and_remembered(tmp_path: Path) -> None:
    """A cosigner that forgets at a restart vouches for whatever it is shown next."""
    log = TinyLog()
    for old, new in ((0, 3), (3, 8), (8, 300)):
        assert cosigner(tmp_path).add_checkpoint(log.ask(old, new), NOW).status == HTTPStatus.OK
    kept = cosigner(tmp_path).newest(ORIGIN)
    assert kept is not None
    note = read_note(kept)
    assert parse(note.text) == log.checkpoint(300)
    # the whole note is kept: the log's own signature is the proof against the log
    assert notes.open_checkpoint(kept, [log.verifier]).size == 300
    assert notes.cosigned_at(note, notes.cosigner_key(NAME, KEY)) == NOW


@pytest.mark.parametrize("harm", ["empty", "text", "bytes", "another log", "not mine", "gone"])
def test_a_memory_that_is_lost_or_spoiled_is_no_memory_of_nothing(tmp_path: Path, harm: str) -> None:
    """A cut-off file would make it vouch for a second history, from the beginning (C2SP tlog-witness: it must
    be kept).
    """
    log, folder = TinyLog(), tmp_path / "kept"
    folders.create(folder, NAME)
    folders.follow(folder, format_vkey(log.verifier))
    kept = folders.load(folder)
    assert kept.newest(ORIGIN) is None
    assert kept.add_checkpoint(log.ask(0, 5), NOW).status == HTTPStatus.OK
    (file,) = (folder / "seen").iterdir()
    if harm == "gone":
        file.unlink()
    else:
        spoiled = {
            "empty": b"",
            "text": b"hello",
            "bytes": b"\xff\xfe",
            "another log": file.read_bytes().replace(b"\n5\n", b"\n4\n"),
            "not mine": log.note(5).encode(),
        }
        file.write_bytes(spoiled[harm])
    for one in (kept, folders.load(folder)):
        with pytest.raises(Unavailable) as refused:
            one.add_checkpoint(log.ask(0, 7), NOW)
        assert refused.value.code == "cosigner-memory"
        assert str(file) in refused.value.sentence
    folders.follow(folder, format_vkey(log.verifier))  # following it once more makes no new beginning
    with pytest.raises(Unavailable):
        folders.load(folder).add_checkpoint(log.ask(0, 7), NOW)


def test_a_cosigner_is_no_log(tmp_path: Path) -> None:
    """Two keys look alike on paper, and one of the wrong kind would be followed for ever
    without an answer.
    """
    folders.create(tmp_path / "kept", NAME)
    with pytest.raises(Malformed, match="a cosigner"):
        folders.follow(tmp_path / "kept", format_vkey(notes.cosigner_key(NAME, KEY)))


def test_the_same_size_again_gets_a_new_time(tmp_path: Path) -> None:
    """A log where nothing happens over the holidays must still be able to show that it is watched."""
    log = TinyLog()
    cosigner(tmp_path).add_checkpoint(log.ask(0, 5), NOW)
    answer = cosigner(tmp_path).add_checkpoint(log.ask(5, 5), NOW + 86_400)
    assert answer.status == HTTPStatus.OK
    note = read_note(log.note(5) + answer.text)
    assert notes.cosigned_at(note, notes.cosigner_key(NAME, KEY)) == NOW + 86_400


@pytest.mark.parametrize(
    ("old", "new", "status", "text"),
    [
        (0, 7, 409, "5\n"),
        (4, 7, 409, "5\n"),
        (6, 7, 409, "5\n"),
        (5, 4, 400, None),
        (9, 7, 400, None),
        (3, 4, 409, "5\n"),
    ],
)
def test_a_wrong_old_size_is_answered_with_the_right_one(
    tmp_path: Path, old: int, new: int, status: int, text: str | None
) -> None:
    """Without its size a log that lost an answer could never catch up again."""
    log = TinyLog()
    cosigner(tmp_path).add_checkpoint(log.ask(0, 5), NOW)
    answer = cosigner(tmp_path).add_checkpoint(log.ask(old, new), NOW)
    assert answer.status == status
    if text:
        assert (answer.text, answer.media) == (text, "text/x.tlog.size")
    kept = cosigner(tmp_path).newest(ORIGIN)
    assert kept is not None
    assert parse(read_note(kept).text).size == 5


def test_a_second_history_is_refused(tmp_path: Path) -> None:
    """Two histories, each cosigned, would be the operator's freedom to choose later."""
    cosigner(tmp_path).add_checkpoint(TinyLog().ask(0, 5), NOW)
    fork = TinyLog(branch="other", since=3)
    assert cosigner(tmp_path).add_checkpoint(fork.ask(5, 8), NOW).status == HTTPStatus.UNPROCESSABLE_ENTITY
    same = cosigner(tmp_path).add_checkpoint(fork.ask(5, 5), NOW)
    assert (same.status, same.text) == (HTTPStatus.CONFLICT, "5\n")
    kept = cosigner(tmp_path).newest(ORIGIN)
    assert kept is not None
    assert parse(read_note(kept).text) == TinyLog().checkpoint(5)


def test_who_is_followed_and_whose_key_it_is(tmp_path: Path) -> None:
    """A stranger with a log of the same name must not get a cosignature."""
    assert cosigner(tmp_path).add_checkpoint(TinyLog("other.example/log").ask(0, 5), NOW).status == 404
    stranger = TinyLog()
    stranger.key = SigningKey.from_seed(b"stranger".ljust(32, b"."))
    assert cosigner(tmp_path).add_checkpoint(stranger.ask(0, 5), NOW).status == 403
    assert cosigner(tmp_path).newest(ORIGIN) is None


def test_a_proof_where_none_may_be_is_refused(tmp_path: Path) -> None:
    """C2SP tlog-witness: the proof must be empty when the old size is zero."""
    body = request.write(0, [bytes(32)], TinyLog().note(5))
    assert cosigner(tmp_path).add_checkpoint(body, NOW).status == HTTPStatus.UNPROCESSABLE_ENTITY


def test_of_two_histories_at_the_same_moment_only_one_is_cosigned(tmp_path: Path) -> None:
    """An operator who asks twice at once must not get both (the race named in C2SP tlog-witness)."""
    cosigner(tmp_path).add_checkpoint(TinyLog().ask(0, 3), NOW)
    asks = [TinyLog(branch=f"b{each}", since=3).ask(3, 6) for each in range(8)]
    found: list[int] = []
    start = threading.Barrier(len(asks))

    def go(body: bytes) -> None:
        mine = cosigner(tmp_path)  # each of its own, as in several processes
        start.wait()
        found.append(mine.add_checkpoint(body, NOW).status)

    threads = [threading.Thread(target=go, args=(body,)) for body in asks]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(found) == [200, *[409] * 7]


def test_nothing_is_answered_that_is_not_on_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A cosignature that left before it was remembered could be followed by a contradicting one."""

    def full(path: Path, _: bytes) -> None:
        raise Unavailable(f"{path} cannot be used.", code="disk")

    with monkeypatch.context() as broken:
        broken.setattr(durable, "write", full)
        with pytest.raises(Unavailable):
            cosigner(tmp_path).add_checkpoint(TinyLog().ask(0, 5), NOW)
    assert cosigner(tmp_path).newest(ORIGIN) is None


# The example request in C2SP tlog-witness, add-checkpoint.
EXAMPLE = """\
old 20852014
PlRNCrwHpqhGrupue0L7gxbjbMiKA9temvuZZDDpkaw=
jrJZDmY8Y7SyJE0MWLpLozkIVMSMZcD5kvuKxPC3swk=
5+pKlUdi2LeF/BcMHBn+Ku6yhPGNCswZZD1X/6QgPd8=
/6WVhPs2CwSsb5rYBH5cjHV/wSmA79abXAwhXw3Kj/0=

example.com/behind-the-sofa
20852163
CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=

— example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4URYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=
— example.com/behind-the-sofa opLqBQsREYCgu6xQkYQwJr9fo45a62DN9EdmHXnZdXNqlcVGlCum2Wks+49/V6267UEjw6QUXTS5Rovnzv++qbSzm9Q=
"""  # noqa: E501 - signatures of a published example stay as they are


def test_the_specification_s_own_request() -> None:
    """Logs written by others would not be understood (C2SP tlog-witness, example request)."""
    asked = request.read(EXAMPLE.encode())
    assert (asked.old, len(asked.proof), len(asked.note.signatures)) == (20_852_014, 4, 2)
    note = EXAMPLE.partition("\n\n")[2]
    assert request.write(asked.old, asked.proof, note) == EXAMPLE.encode()


@pytest.mark.parametrize(
    "change",
    [
        ("old 20852014", "old 020852014"),
        ("old 20852014", "old -1"),
        ("old 20852014", "OLD 20852014"),
        ("old 20852014", "old 20852014 "),
        ("old 20852014\n", ""),
        ("PlRN", "Pl*N"),
        ("kaw=\n", "kaw=\r\n"),
        ("PlRNCrwHpqhGrupue0L7gxbjbMiKA9temvuZZDDpkaw=", "AAAA"),
        ("\n\nexample", "\nexample"),
        ("old 20852014\n", "old 20852014\n" + ("A" * 43 + "=\n") * 60),  # 64 hashes: one too many
    ],
)
def test_a_request_in_another_form_is_refused(change: tuple[str, str]) -> None:
    """What two programs read differently, one of them cosigns wrongly."""
    body = EXAMPLE.replace(*change, 1)
    with pytest.raises(Malformed):
        request.read(body.encode())


@given(st.binary(max_size=400))
def test_any_nonsense_is_answered(body: bytes) -> None:
    """A cosigner on the open network that falls over is no cosigner."""
    answer = Cosigner(Path("/nonexistent"), NAME, KEY, [TinyLog().verifier]).add_checkpoint(body, NOW)
    assert answer.status == HTTPStatus.BAD_REQUEST


def test_over_http(tmp_path: Path) -> None:
    """The addresses, statuses and media types are what other people's logs rely on (C2SP tlog-witness)."""
    app = application(cosigner(tmp_path), lambda: NOW + 0.7)
    with httpx2.Client(transport=httpx2.WSGITransport(app=app), base_url="http://cosigner.example") as client:
        assert client.get("/newest", params={"origin": ORIGIN}).status_code == 404
        first = client.post("/add-checkpoint", content=TinyLog().ask(0, 5))
        assert first.status_code == 200
        assert first.text.startswith("— quill.example/cosigner ")
        assert first.text.endswith("\n")
        again = client.post("/add-checkpoint", content=TinyLog().ask(0, 6))
        assert (again.status_code, again.text) == (409, "5\n")
        assert again.headers["Content-Type"] == "text/x.tlog.size"
        shown = client.get("/newest", params={"origin": ORIGIN}).text
        assert parse(read_note(shown).text).size == 5
        assert client.get("/add-checkpoint").status_code == 405
        assert client.post("/newest").status_code == 405
        assert client.get("/").status_code == 404
        assert client.post("/add-checkpoint", content=b"x" * (request.MAX_BYTES + 1)).status_code == 400


@pytest.mark.parametrize("length", ["", "-1", "many", "99999999999"])
def test_a_false_length_is_no_trap(tmp_path: Path, length: str) -> None:
    """A request that claims to be endless must not hold the cosigner up."""
    started: list[str] = []
    environment: dict[str, Any] = {
        "REQUEST_METHOD": "POST",
        "PATH_INFO": "/add-checkpoint",
        "CONTENT_LENGTH": length,
        "wsgi.input": BytesIO(b"old 0\n"),
    }

    def start(status: str, _: object, __: object = None) -> Any:
        started.append(status)

    list(application(cosigner(tmp_path), lambda: NOW)(environment, start))
    assert started == ["400 Bad Request"]


def test_a_folder_is_made_once_and_for_its_owner(tmp_path: Path) -> None:
    """A key that others can read cosigns for others."""
    folder = tmp_path / "cosigner"
    verifier = folders.create(folder, NAME)
    assert (folder / "cosigner.key").stat().st_mode & 0o777 == 0o600
    assert folder.stat().st_mode & 0o777 == 0o700
    with pytest.raises(Malformed, match="already"):
        folders.create(folder, NAME)
    log = TinyLog().verifier
    for _ in range(2):
        folders.follow(folder, format_vkey(log))
    found = folders.load(folder)
    assert (found.verifier, found.origins) == (verifier, (ORIGIN,))
    assert found.add_checkpoint(TinyLog().ask(0, 5), NOW).status == 200
    with pytest.raises(Unavailable, match="cosign new"):
        folders.load(tmp_path / "nowhere")


@pytest.mark.parametrize("name", ['quill"lab', "quill\\lab", "quill-läb.example"])
def test_any_possible_name_survives_its_file(tmp_path: Path, name: str) -> None:
    """A cosigner whose settings cannot be read after a restart is lost, and its key with it."""
    made = folders.create(tmp_path / "cosigner", name)
    assert folders.load(tmp_path / "cosigner").verifier == made


@pytest.mark.parametrize("name", ["two words", "a+b", ""])
def test_a_name_no_key_can_have_is_refused(tmp_path: Path, name: str) -> None:
    """C2SP signed-note: a key name is non-empty, without spaces and plus signs.

    Nobody could read its lines.
    """
    with pytest.raises(Malformed):
        folders.create(tmp_path / "cosigner", name)
    assert not (tmp_path / "cosigner").exists()
