"""The outbox: nothing signed is lost, nothing is counted twice, whatever the network and the power do.

The words "counter", "previous statement" and their rules are those of the ledger's statements: counters from
1 without a hole, each naming the SHA-256 of the one before.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import socket
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import httpx2
import pytest

from bailee.app import create_app
from bailee.domain import numbers
from bailee.errors import Unavailable
from bailee.ledger import entry as entries
from bailee.ledger.base64url import unb64u
from bailee.ledger.entry import Entry
from bailee.operations.missing import gaps
from bailee.signing import compact, signed_statement
from bailee.store.counters import missing_counters
from bailee.store.founding import admit
from bailee_cli.device.outbox import NextPlace, Outbox, Unsigned
from field import FIRM, LAB, ORIGIN
from town import INDOOR, OPEN, Town

SCRIPT = """
import os
from bailee_cli.main import bailee
for number in range({count}):
    try:
        bailee([
            *"--as inspector secure --offline --how possession --where person --form {form} --note".split(),
            f"{{os.getpid()}} {{number}}",
        ])
    except SystemExit as end:
        assert not end.code, end.code
"""


def texts(folder: Path) -> list[tuple[int, str, str]]:
    """Counter, text and state of everything in an outbox, read behind its back."""
    with closing(sqlite3.connect(folder / "outbox.sqlite")) as connection:
        return connection.execute("SELECT seq, text, state FROM statement ORDER BY seq").fetchall()


def assert_one_device(folder: Path, kid: str, x: str) -> int:
    """Counters without a hole, every link right, every signature by this key; how many there are."""
    prev = None
    kept = texts(folder)
    for place, (seq, text, _) in enumerate(kept, 1):
        read = signed_statement.read(text)
        compact.verify(text, unb64u(x))
        assert (seq, read.claims.seq, read.claims.prev, read.kid) == (place, place, prev, kid)
        prev = signed_statement.digest(text)
    return len(kept)


def until_it_sends(silent: socket.socket) -> socket.socket:
    """Answer questions with 503 until something is sent; that one gets no answer."""
    while True:
        connection, _ = silent.accept()
        if connection.recv(65_536).startswith(b"POST /entries "):
            return connection
        connection.sendall(b"HTTP/1.1 503 Busy\r\nContent-Length: 2\r\nConnection: close\r\n\r\n{}")
        connection.close()


def test_without_a_network_an_act_is_kept_and_sent_later_in_order(settled: Town) -> None:
    """If this fails, a basement without signal means lost samples."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.line.weather = "down"
    for sample in samples:
        settled.clock.advance(minutes=10)
        asked = len(settled.line.requests)
        said = inspector.run("collect", sample, *INDOOR)
        assert len(settled.line.requests) == asked + 1  # one wait for a network that is not there, not four
        assert "Signed and saved on this device, not sent yet: collected" in said
        assert "No outdoor control yet from this device" in said
    assert [each["state"] for each in inspector.outbox()] == ["registered", "waiting", "waiting"]
    assert "2 still waiting" in inspector.run("send", code=3)
    settled.line.weather = "fine"
    assert [each["n"] for each in inspector.answer("send")] == [2, 3]
    assert inspector.run("send") == "Nothing is waiting.\n"


def test_an_answer_lost_on_the_way_is_asked_for_again_with_the_same_bytes(settled: Town) -> None:
    """If this fails, one tunnel turns one act into two, or into none."""
    inspector = settled.person("inspector")
    settled.line.weather = "answer lost"
    said = inspector.run(*OPEN)
    assert "Later: `bailee send`" in said
    settled.line.weather = "fine"
    first = settled.line.bodies[-1]
    (answer,) = inspector.answer("send")
    assert settled.line.bodies[-1] == first
    assert (answer["state"], answer["n"]) == ("registered", 1)


def test_a_refused_statement_stays_with_its_reason_and_holds_nobody_up(settled: Town) -> None:
    """If this fails, one wrong statement stops a day's work, or vanishes without a word."""
    inspector = settled.person("inspector")
    nowhere = numbers.issue("form", lambda _: "7")
    said = inspector.run(
        "void", "--form", nowhere, numbers.issue("sample", lambda _: "7"), "--reason", "dropped", code=1
    )
    assert "Not recorded: voided" in said
    assert f"There is no form {numbers.grouped(nowhere)} here" in said
    said = inspector.run(*OPEN)
    assert "1 earlier entry of this device has not reached the ledger" in said
    refused, opened = inspector.outbox()
    assert (refused["state"], refused["problem"]["code"], opened["state"]) == (
        "refused",
        "wrong-organization",
        "registered",
    )
    signed = signed_statement.read(texts(inspector.folder)[1][1]).claims
    assert (signed.seq, signed.prev) == (2, refused["statement"])


def test_what_was_refused_is_registered_once_the_reason_is_gone(settled: Town) -> None:
    """If this fails, a key enrolled one minute late costs the inspector everything they did before."""
    late = settled.person("late")
    late.join()
    late.run(*OPEN, code=1)
    request = settled.folder / "late.json"
    late.run("key", "request", "-o", str(request))
    settled.person("firm-root").run("enroll", str(request), "--role", "inspector", "--checked", "in_person")
    assert late.run("send") == "Nothing is waiting.\n"
    assert [each["state"] for each in late.answer("send", "--again")] == ["registered"]


def test_a_malformed_act_uses_up_no_counter(settled: Town) -> None:
    """If this fails, every slip of the finger leaves a hole in the device's count that an auditor will ask
    about.
    """
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    said = inspector.run(
        "collect", samples[0], "--kind", "blank", "--run", "300", "--flow-before", "-1", "--covers", code=2
    )
    assert "flow_before" in said
    assert len(inspector.outbox()) == 1


@pytest.mark.slow
def test_killed_between_signing_and_sending_nothing_is_lost(settled: Town) -> None:
    """If this fails, an empty battery at the wrong moment loses a sample's record or uses a counter twice."""
    inspector = settled.person("inspector")
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"http://127.0.0.1:{silent.getsockname()[1]}"
        profile = inspector.folder / "profile.toml"
        profile.write_text(profile.read_text().replace("https://ledger.example", address))
        process = subprocess.Popen(
            [sys.executable, "-m", "bailee_cli.main", "--as", "inspector", *OPEN],
            env={**os.environ, "BAILEE_HOME": str(inspector.folder.parent)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        silent.settimeout(60)
        connection = until_it_sends(silent)  # so it has signed
        process.send_signal(signal.SIGKILL)
        process.wait()
        connection.close()
    profile.write_text(profile.read_text().replace(address, "https://ledger.example"))
    ((seq, text, state),) = texts(inspector.folder)
    assert (seq, state) == (1, "waiting")
    # Signed by the machine's real clock, years before the test's: late or early, it is recorded all the same.
    (answer,) = inspector.answer("send")
    assert (answer["state"], answer["statement"]) == ("registered", signed_statement.digest(text))
    inspector.run(*OPEN)
    key = inspector.session().of("inspector", as_json=False).key
    assert assert_one_device(inspector.folder, key.kid, key.jwk["x"]) == 2


@pytest.mark.slow
def test_two_processes_of_one_person_never_use_one_counter_twice(settled: Town) -> None:
    """If this fails, two open windows fork the device, and both records are in doubt for ever."""
    inspector = settled.person("inspector")
    form = numbers.issue("form", lambda _: "5")
    processes = [
        subprocess.Popen(
            [sys.executable, "-c", SCRIPT.format(count=15, form=form)],
            env={**os.environ, "BAILEE_HOME": str(inspector.folder.parent)},
            stdout=subprocess.DEVNULL,
        )
        for _ in range(2)
    ]
    assert [process.wait(timeout=900) for process in processes] == [0, 0]
    key = inspector.session().of("inspector", as_json=False).key
    assert assert_one_device(inspector.folder, key.kid, key.jwk["x"]) == 30


def test_a_gesture_of_several_statements_is_signed_whole_or_not_at_all(tmp_path: Path) -> None:
    """If this fails, an envelope of two forms can be sealed on one of them only."""
    outbox = Outbox(tmp_path / "outbox.sqlite", "kid")

    def fails(_: NextPlace) -> str:
        raise Unavailable("the key was taken away")

    with pytest.raises(Unavailable):
        outbox.sign([Unsigned("form/a", "sealed", lambda _: "one"), Unsigned("form/b", "sealed", fails)])
    (kept,) = outbox.sign([Unsigned("form/a", "sealed", lambda place: f"{place.seq} {place.prev}")])
    outbox.close()

    assert kept.text == "1 None"


def test_an_outbox_serves_one_key_only(tmp_path: Path) -> None:
    """If this fails, a new key goes on counting where the old one stopped, and verifiers see
    a broken device.
    """
    Outbox(tmp_path / "outbox.sqlite", "first").close()
    with pytest.raises(Unavailable) as raised:
        Outbox(tmp_path / "outbox.sqlite", "second")

    assert raised.value.code == "other-key"


def test_what_was_registered_is_never_marked_refused_later(tmp_path: Path) -> None:
    """If this fails, two processes sending at once can make a recorded act look refused."""
    outbox = Outbox(tmp_path / "outbox.sqlite", "kid")
    outbox.sign([Unsigned("form/a", "held", lambda _: "one")])
    outbox.settle([(1, {"status": "registered", "chain": "form/a", "n": 3, "leaf": "x"})])
    outbox.settle([(1, {"status": "refused"})])
    (kept,) = outbox.newest(5)
    outbox.told("form/a", 2, "older")
    head = outbox.head("form/a")
    outbox.close()

    assert kept.state == "registered"
    assert head == "x"


def test_a_false_number_is_named_until_the_next_word_and_no_longer(tmp_path: Path) -> None:
    """Whoever answered once in the service's place would have every later act of this device refused, for it
    names an entry that no ledger has.
    """
    outbox = Outbox(tmp_path / "outbox.sqlite", "kid")
    found = []
    for n, leaf in ((10**15, "false"), (4, "true")):
        outbox.told("form/a", n, leaf)
        found.append(outbox.head("form/a"))
    outbox.sign([Unsigned("form/a", "held", lambda _: "one")])
    outbox.settle([(1, {"status": "registered", "chain": "form/a", "n": 5, "leaf": "own"})])
    for n, leaf in ((4, "older"), (5, "own"), (6, "newer")):
        outbox.told("form/a", n, leaf)
        found.append(outbox.head("form/a"))
    outbox.close()
    assert found == ["false", "true", "own", "own", "newer"]


def test_what_somebody_else_called_recorded_is_sent_again(settled: Town) -> None:
    """An answer that looks right in all its parts came from nobody: the device would show the visit as
    recorded, never send it again, and the ledger have a hole.
    """
    inspector = settled.person("inspector")
    settled.line.weather = "down"
    inspector.run(*OPEN)
    ((seq, text, _),) = texts(inspector.folder)
    chain = signed_statement.read(text).claims.sub
    made = entries.write(Entry(chain, 1, None, "2026-12-01T14:00:00.000Z", text))
    false = {"status": "registered", "chain": chain, "n": 1, "entry": made, "leaf": entries.link(made)}
    outbox = inspector.session().of("inspector", as_json=False).outbox
    outbox.settle([(seq, false)])
    outbox.close()
    settled.line.weather = "fine"
    assert "Sent again, for the ledger did not have it: 1 entry." in inspector.run("send")
    assert inspector.run("send") == "Nothing is waiting.\n"


def test_the_outbox_can_be_read_by_its_owner_alone(settled: Town) -> None:
    """If this fails, clients' names and addresses lie open to everybody on a shared machine."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)

    assert (inspector.folder / "outbox.sqlite").stat().st_mode & 0o777 == 0o600
    assert inspector.folder.stat().st_mode & 0o777 == 0o700


def test_a_full_disk_is_said_and_nothing_is_half_signed(settled: Town) -> None:
    """If this fails, a device with a full memory claims to have recorded what it has not."""
    inspector = settled.person("inspector")
    done = subprocess.run(
        [sys.executable, "-m", "bailee_cli.main", "--as", "inspector", *OPEN, "--offline"],
        env={**os.environ, "BAILEE_HOME": str(inspector.folder.parent)},
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000)),
        capture_output=True,
        text=True,
        check=False,
    )

    assert (done.returncode, "Nothing was signed" in done.stderr) == (3, True), done.stderr
    inspector.run(*OPEN)
    assert [each["seq"] for each in inspector.outbox()] == [1]


def test_a_full_disk_is_named_as_the_cause(settled: Town, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who is told of a transaction, and not that the disk is full, frees no space (SQLite, SQLITE_FULL: the
    transaction may have ended already).
    """
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    connect = sqlite3.connect

    def full(*args: Any, **options: Any) -> sqlite3.Connection:
        opened = connect(*args, **options)
        opened.execute("PRAGMA max_page_count = 1")
        return opened

    monkeypatch.setattr(sqlite3, "connect", full)
    said = inspector.run(*OPEN, "--note", "x" * 1900, "--offline", code=3)
    assert "(database or disk is full). Nothing was signed" in " ".join(said.split())


def test_private_fields_travel_beside_the_statement_and_never_inside(settled: Town) -> None:
    """If this fails, a client's name is in the log for ever and can never be erased."""
    settled.person("inspector").run(*OPEN)
    (sent,) = json.loads(settled.line.bodies[-1])["statements"]
    payload = unb64u(sent["statement"].split(".")[1]).decode()
    told = " ".join(unb64u(each).decode() for each in sent["disclosures"])

    assert "Perpetua" not in payload
    assert "Invented Lane" not in payload
    assert "Perpetua Example" in told
    assert json.loads(payload)["data"]["parties"] == {"firm": FIRM, "lab": LAB}
    assert json.loads(payload)["aud"] == ORIGIN


def test_an_answer_about_something_else_is_not_believed(settled: Town) -> None:
    """If this fails, a service can make a device forget a statement by answering with another entry."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    earlier = inspector.session().of("inspector", as_json=False).outbox.newest(1)[0].answer
    forged = {"answers": [{**(earlier or {}), "status": "registered"}]}
    settled.line.says["POST /entries"] = forged
    said = inspector.run(*OPEN, code=1)

    assert "does not contain what this device signed as number 2" in said
    assert inspector.outbox()[1]["state"] == "waiting"


@pytest.mark.parametrize(
    "wrong",
    [
        {"status": "refused", "problem": "no"},
        {"status": "refused"},
        {"status": "refused", "problem": {"detail": 5}},
        {"chain": "org/harrow-field"},
        {"note": ["x"]},
        {"gap": "two"},
        {"problem": "no"},
        {"entry": "no entry"},
        None,
    ],
)
def test_an_answer_that_could_not_be_read_again_is_not_kept(
    settled: Town, wrong: dict[str, Any] | None
) -> None:
    """If this fails, one answer of somebody in the service's place ends every later look at the outbox, and
    what it holds can be neither shown nor set aside.
    """
    inspector = settled.person("inspector")
    settled.line.weather = "answer lost"
    inspector.run(*OPEN)
    settled.line.weather = "fine"
    (sent,) = json.loads(settled.line.bodies[-1])["statements"]
    true = settled.app.test_client().post("/entries", json={"statements": [sent]}).get_json()["answers"][0]
    settled.line.says["POST /entries"] = {"answers": [wrong and true | wrong]}
    assert "does not contain what this device signed" in inspector.run("send", code=1)
    assert [each["state"] for each in inspector.outbox()] == ["waiting"]
    settled.line.says.clear()
    assert [each["state"] for each in inspector.answer("send")] == ["registered"]


def test_a_page_that_wants_a_sign_in_is_no_answer(settled: Town) -> None:
    """If this fails, the sign-in page of a hotel network crashes the act or passes for a ledger."""
    settled.line.says["POST /entries"] = "<html>Welcome, please sign in</html>"
    said = settled.person("inspector").run(*OPEN)

    assert "is no ledger" in said
    assert "not sent yet" in said


def test_what_waited_is_sent_before_what_is_new(settled: Town) -> None:
    """If this fails, statements of one device could be sent in another order than they were signed."""
    inspector = settled.person("inspector")
    settled.line.weather = "down"
    for number in range(3):
        inspector.run(*OPEN, "--note", f"visit {number}")
    settled.line.weather = "fine"
    inspector.run(*OPEN)
    sent = [
        signed_statement.read(s["statement"]).claims.seq
        for s in json.loads(settled.line.bodies[-1])["statements"]
    ]

    assert sent == [1, 2, 3, 4]


def test_a_founding_before_its_admission_is_shown_to_the_ledger_once_it_may_explain_itself(
    town: Town,
) -> None:
    """The first number of a firm's root key was missing for ever, and nobody knew why."""
    town.app = create_app(replace(town.ledger.settings, founding="listed"), town.clock)
    town.line.inner = httpx2.WSGITransport(app=town.app)
    ledger = town.app.extensions["ledger"]
    root = town.person("firm-root", FIRM)
    root.join()
    found = ("found", FIRM, "--name", "Harrow Field", "--person", "Root Person")
    root.run(*found, "--offline")  # where nobody can be asked first, and a number is lost to it
    assert "admitted" in root.run("send", code=1)
    kid = root.answer("key", "show")["kid"]
    ledger.database.write(lambda connection: admit(connection, kid))
    said = root.run("outbox", "--set-aside", "1", typed="y\n")
    assert "no form is flagged for it" in said
    root.run(*found)
    with ledger.database.reading() as connection:
        assert [each.first for each in missing_counters(connection, [kid])[kid]] == [1]
        known = partial(ledger.books.organization, connection)
        assert gaps(connection, [kid], known) == {}
    ledger.database.close()
