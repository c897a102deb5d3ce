"""Keys that need no private half, and times that no clock shows: brought from outside, at every door.

The points of small order are computed here from the curve itself (RFC 8032 5.1): L times any point of the
curve has small order, and adding one to a point of prime order makes the mixed kind. Bernstein et al.,
"Taming the many EdDSAs" (2020), section 3, say what they do.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator
from dataclasses import replace
from hashlib import sha256
from http.server import BaseHTTPRequestHandler, HTTPServer
from io import BytesIO
from itertools import count
from pathlib import Path

import pytest
from promises import promised

from bailee.cosigning import folder as folders
from bailee.cosigning.cosigner import Cosigner
from bailee.cosigning.service import application
from bailee.errors import BaileeError, Broken, Forged, Malformed, Unavailable
from bailee.ledger import fingerprint
from bailee.ledger.checkpoint import (
    LAST_TIME,
    Checkpoint,
    KeyType,
    NoteSignature,
    SignedNote,
    VerifierKey,
    cosignature_message,
    format_vkey,
    print_note,
    read_note,
)
from bailee.operations.publishing import cosignatures as cosigned
from bailee.signing import keys, notes, vkeys
from bailee.signing.keys import SigningKey
from bailee.verify import cosigned_checkpoints, trust
from bailee.verify.bundle import Bundle
from bailee.verify.evidence import Notes, shown
from bailee.verify.mirror import Mirror
from bailee.verify.trust import brought
from bailee.verify.verifier import verify
from field import Field
from hosts.listening import running
from log_simulator import AT, LogSimulator, told
from spoiling import cosigner, cosigner_vkey
from tiny_log import TinyLog

P = 2**255 - 19
D = -121665 * pow(121666, -1, P) % P
ORDER = 2**252 + 27742317777372353535851937790883648493
BASE_Y = 4 * pow(5, -1, P) % P
Point = tuple[int, int]
IMPOSSIBLE = (LAST_TIME + 1, 253_402_300_800, 2**63 - 1, 2**63, 2**64 - 1)
"""After 2199, after year 9999, and what 64 bits can hold (C2SP tlog-cosignature: an 8-byte time)."""


def x_of(y: int) -> int | None:
    """RFC 8032 5.1.3: one of the two x of a y, when there is any."""
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * pow(2, (P - 1) // 4, P) % P
    return x if (x * x - square) % P == 0 else None


def added(one: Point, other: Point) -> Point:
    """RFC 8032 5.1.4, in affine coordinates."""
    (x1, y1), (x2, y2) = one, other
    both = D * x1 * x2 * y1 * y2
    return (
        (x1 * y2 + x2 * y1) * pow(1 + both, -1, P) % P,
        (y1 * y2 + x1 * x2) * pow(1 - both, -1, P) % P,
    )


def times(scalar: int, point: Point) -> Point:
    """Double and add."""
    found = (0, 1)
    for bit in f"{scalar:b}":
        found = added(found, found)
        found = added(found, point) if bit == "1" else found
    return found


def encoded(point: Point) -> bytes:
    """RFC 8032 5.1.2."""
    return (point[1] | (point[0] & 1) << 255).to_bytes(32, "little")


def small() -> list[Point]:
    """The eight points whose order divides 8, as multiples of one of order 8."""
    for y in count(2):
        x = x_of(y)
        if x is not None:
            found = times(ORDER, (x, y))
            if times(4, found) != (0, 1):
                return [times(factor, found) for factor in range(8)]
    raise AssertionError


def weak_keys() -> Iterator[tuple[str, bytes]]:
    """Small order, mixed order, and encodings that are not the canonical ones (RFC 8032 5.1.3)."""
    eight = small()
    base = (x_of(BASE_Y) or 0, BASE_Y)
    for number, point in enumerate(eight):
        yield f"small order {number}", encoded(point)
    for number, point in enumerate(eight[1:]):
        yield f"mixed order {number}", encoded(added(times(7, base), point))
    yield "identity, y above p", (P + 1).to_bytes(32, "little")
    yield "identity, with a sign", (1 | 1 << 255).to_bytes(32, "little")
    yield "order 2, with a sign", (P - 1 | 1 << 255).to_bytes(32, "little")
    yield "order 4, y is p", P.to_bytes(32, "little")
    yield "on no curve", (2).to_bytes(32, "little")


WEAK = dict(weak_keys())
FITS_ALL = encoded((x_of(BASE_Y) or 0, BASE_Y))[:31] + b"\x66" + (1).to_bytes(32, "little")
"""R = B, S = 1: with the identity as key it fits every message, as S·B = R + k·A says (RFC 8032 5.1.7)."""


def test_the_small_points_are_what_they_are_called() -> None:
    """With other points these tests would prove nothing: eight different ones, eight times each is nothing.

    And the base point is B.
    """
    eight = small()
    assert len(set(eight)) == 8
    assert {times(8, each) for each in eight} == {(0, 1)}
    assert WEAK["small order 0"] == keys.IDENTITY_R
    assert FITS_ALL[:32] == SigningKey.from_seed(bytes(32)).public[:0] + bytes([0x58]) + bytes([0x66]) * 31


def weak(kind: KeyType, public: bytes, name: str = "ledger.example/weak") -> VerifierKey:
    """A key as a stranger writes it down."""
    return VerifierKey(name, kind, public)


@pytest.mark.parametrize("public", WEAK.values(), ids=WEAK)
def test_a_weak_key_is_refused_at_every_door(public: bytes, tmp_path: Path) -> None:
    """Whoever could bring such a key into a policy, a setting or a cosigner's folder could show any log
    without a private key.
    """
    log, other = (format_vkey(weak(kind, public)) for kind in KeyType)
    good = format_vkey(TinyLog().verifier)
    folders.create(tmp_path, "quill.example/cosigner")
    doors: dict[str, Callable[[], object]] = {
        "--log-key": lambda: brought([], [log], None),
        "--policy, log": lambda: trust.read(f"log {log}"),
        "--policy, cosigner": lambda: trust.read(f"log {good}\ncosigner one {other}\nquorum 1"),
        "five lines": lambda: brought(
            [], [f"ledger.example/weak={' '.join(fingerprint.lines(public))}"], None
        ),
        "setting cosigners": lambda: cosigned.configured([other], "ledger.example/log1"),
        "cosign follow": lambda: folders.follow(tmp_path, log),
        "a typed key": lambda: vkeys.read(log, KeyType.ED25519),
    }
    for door, enter in doors.items():
        with pytest.raises(Malformed) as refused:
            enter()
        assert refused.value.code == "weak-key", door


@pytest.mark.parametrize("public", WEAK.values(), ids=WEAK)
def test_nothing_that_a_weak_key_signs_is_believed(public: bytes) -> None:
    """A key that came past the doors, by another program's file, must still sign nothing."""
    with pytest.raises(Forged) as refused:
        keys.verify(public, FITS_ALL, b"any message")
    assert refused.value.code == "weak-key"


def test_a_checkpoint_is_not_forged_without_a_private_key(tmp_path: Path) -> None:
    """A log that exists nowhere would be shown, mirrored, cosigned and audited as sound."""
    promised("with which anyone can sign", "no signature of it is accepted")
    key = weak(KeyType.ED25519, WEAK["small order 0"])
    text = Checkpoint(key.name, 3, sha256(b"anything").digest()).body()
    note = print_note(SignedNote(text, (NoteSignature(key.name, key.key_id, FITS_ALL),)))
    with pytest.raises(Broken):
        notes.open_checkpoint(note, [key])
    with pytest.raises(Broken):
        Mirror(tmp_path / "mirror", key).round(note, lambda _: b"")
    watcher = Cosigner(tmp_path / "cosigner", "quill.example/cosigner", cosigner("quill"), [key])
    assert watcher.add_checkpoint(b"old 0\n\n" + note.encode(), 1_796_133_600).status == 403


def test_a_cosignature_is_not_forged_without_a_private_key() -> None:
    """An auditor's quorum would be met by nobody at all."""
    town = told("opened")
    key = weak(KeyType.COSIGNATURE_V1, WEAK["small order 0"])
    line = NoteSignature(key.name, key.key_id, (1_796_133_600).to_bytes(8, "big") + FITS_ALL)
    file = replace(town.bundle(), note=print_note(read_note(town.note()).with_signatures([line])))
    report = verify(file, replace(town.trust(), cosigners={"weak": key}, quorum=1), AT)
    assert (report.state, [fault.code for fault in report.faults]) == ("broken", ["cosignature"])


def timed(note: str, time: int, by: str = "lab") -> str:
    """The note with a cosignature at this time whose signature holds."""
    vkey = cosigner_vkey(by)
    signature = cosigner(by).sign(cosignature_message(time, read_note(note).text))
    line = NoteSignature(vkey.name, vkey.key_id, time.to_bytes(8, "big") + signature)
    return print_note(read_note(note).with_signatures([line]))


@pytest.fixture(scope="module")
def town() -> LogSimulator:
    """One form, opened."""
    return told("opened")


@pytest.mark.parametrize("time", IMPOSSIBLE)
def test_a_cosignature_with_an_impossible_time_stops_no_verification(town: LogSimulator, time: int) -> None:
    """One cosigner could make every file of a log unreadable, with a traceback on the auditor's screen."""
    file: Bundle = replace(town.bundle(), note=timed(town.note(), time))
    report = verify(file, replace(town.trust(), cosigners={"lab": cosigner_vkey("lab")}, quorum=1), AT)
    assert (report.state, [fault.code for fault in report.faults]) == ("broken", ["cosignature"])
    unnamed = verify(file, town.trust(), AT)  # a line by nobody whom the auditor named is not looked at
    assert unnamed.faults == ()


@pytest.mark.parametrize("time", [0, LAST_TIME])
def test_every_time_that_a_clock_can_show_is_told(town: LogSimulator, time: int) -> None:
    """A bound that is too tight would call an honest cosigner a forger."""
    weighed = Notes()
    found = cosigned_checkpoints.weigh(timed(town.note(), time), {"lab": cosigner_vkey("lab")}, 1, weighed)
    assert (found.by, weighed.faults) == ({"lab": time}, [])
    assert shown(cosigned_checkpoints.told(time)) in found.sentence()


@pytest.mark.parametrize("time", IMPOSSIBLE)
def test_the_service_publishes_no_impossible_time(make_field: Callable[..., Field], time: int) -> None:
    """What the service adds to its checkpoint reaches every auditor, so the service itself would have spread
    it.
    """
    promised("a time that no clock shows", "refused by the service")
    field = make_field(cosigners=(format_vkey(cosigner_vkey("lab")),))
    field.ledger.sequencer.integrate()
    note = field.client.get("/checkpoint").text
    answer = field.client.post("/checkpoint/cosignatures", json={"note": timed(note, time)})
    assert (answer.status_code, answer.get_json()["code"]) == (422, "cosignature")
    assert field.client.get("/checkpoint").text == note


def test_a_cosigner_whose_clock_is_mad_signs_nothing(tmp_path: Path) -> None:
    """Its lines would be refused everywhere, and its memory would hold a checkpoint that nobody
    has from it.
    """
    log = TinyLog()
    watcher = Cosigner(tmp_path, "quill.example/cosigner", cosigner("quill"), [log.verifier])
    answer = application(watcher, lambda: float(2**62))
    said: list[str] = []
    body = log.ask(0, 3)
    environment = {
        "REQUEST_METHOD": "POST",
        "PATH_INFO": "/add-checkpoint",
        "CONTENT_LENGTH": str(len(body)),
        "wsgi.input": BytesIO(body),
    }
    list(answer(environment, lambda status, _: said.append(status)))  # type: ignore[arg-type,return-value]
    assert said == ["503 Service Unavailable"]
    assert watcher.newest(log.origin) is None


class _Endless(BaseHTTPRequestHandler):
    """A cosigner that answers without end, as far as anybody listens."""

    def do_POST(self) -> None:
        """Endless lines."""
        self.rfile.read(int(self.headers["Content-Length"]))
        self.do_GET()

    def do_GET(self) -> None:
        """At most 64 MiB, so that a client without a bound ends too."""
        self.send_response(200)
        self.end_headers()
        try:
            for _ in range(64):
                self.wfile.write(b"A" * 2**20)
        except OSError:
            self.server.hung_up = True  # type: ignore[attr-defined]

    def log_message(self, *_: object) -> None:
        """Quiet."""


@pytest.fixture
def endless() -> Iterator[str]:
    """The address of one, on this machine only."""
    with running(HTTPServer(("127.0.0.1", 0), _Endless)) as address:
        yield address


@pytest.mark.parametrize("ask", [lambda url: cosigned.post(url, b"x"), cosigned.get], ids=["post", "get"])
def test_no_more_is_read_from_a_cosigner_than_an_answer_can_have(
    endless: str, ask: Callable[[str], object]
) -> None:
    """A cosigner could fill the memory of the log that asks it."""
    with pytest.raises(Unavailable, match="more than"):
        ask(endless)


def test_no_answer_of_a_cosigner_takes_longer_than_our_patience(
    endless: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cosigner that sends one byte now and then would hold up the asking of all others."""
    monkeypatch.setattr(cosigned, "PATIENCE_S", -1.0)
    with pytest.raises(Unavailable, match="longer than"):
        cosigned.get(endless)


def test_an_address_that_is_none_is_told_as_a_cosigner_that_does_not_answer() -> None:
    """A slip in the settings would end the thread that publishes checkpoints."""
    for address in ("http://[", "http://\x00", "nowhere", "http://a:99999999"):
        with pytest.raises(BaileeError):
            cosigned.post(address, b"x")


def test_a_vkey_of_a_good_key_is_read_as_before() -> None:
    """A refusal that refuses everybody is no refusal."""
    good = TinyLog().verifier
    assert vkeys.read_log(format_vkey(good)) == good
    assert base64.b64decode(format_vkey(good).split("+", 2)[2])[1:] == good.public
