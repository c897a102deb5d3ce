"""The device: its key file, its passphrase, the log it belongs to, and what it does when that log goes back
on itself.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

import pytest

from bailee.ledger.checkpoint import Checkpoint
from bailee.signing import notes
from bailee.signing.keys import SigningKey
from bailee_cli.device import checkpoints
from field import FIRM, ORIGIN
from terminal import Terminal, served
from town import ADDRESS, OPEN, Town


def test_a_key_file_is_for_its_owner_alone(town: Town) -> None:
    """If this fails, anybody on a shared machine can sign as this person."""
    person = town.person("inspector")
    person.run("key", "new")

    assert (person.folder / "key.pem").stat().st_mode & 0o777 == 0o600
    assert person.folder.stat().st_mode & 0o777 == 0o700


@pytest.mark.skipif(sys.platform == "win32", reason="file modes are POSIX")
@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660, 0o644])
def test_a_key_file_that_others_can_read_is_not_used(town: Town, mode: int) -> None:
    """If this fails, a key that may have been copied goes on signing."""
    person = town.person("inspector")
    person.run("key", "new")
    (person.folder / "key.pem").chmod(mode)

    assert "may have been copied" in person.run("key", "show", code=3)


def test_a_key_is_never_replaced(town: Town) -> None:
    """If this fails, one command too many destroys a key and everything it could still affirm."""
    person = town.person("inspector")
    person.run("key", "new")
    before = (person.folder / "key.pem").read_bytes()

    assert "never replaced" in person.run("key", "new", code=2)
    assert (person.folder / "key.pem").read_bytes() == before


def test_a_passphrase_protects_the_file(town: Town) -> None:
    """If this fails, a stolen laptop signs by itself, or a good passphrase locks its owner out."""
    person = town.person("inspector")
    person.run("key", "new", "--passphrase", typed="correct horse\ncorrect horse\n")

    assert b"BEGIN ENCRYPTED PRIVATE KEY" in (person.folder / "key.pem").read_bytes()
    assert "passphrase is wrong" in person.run("key", "show", typed="wrong horse\n", code=2)
    assert "kid" in person.run("key", "show", typed="correct horse\n")


def test_a_passphrase_can_come_from_the_environment(town: Town, monkeypatch: pytest.MonkeyPatch) -> None:
    """If this fails, a label printer's script has to keep a key without a passphrase."""
    monkeypatch.setenv("BAILEE_PASSPHRASE", "correct horse")
    person = town.person("inspector")
    person.run("key", "new", "--passphrase")

    assert "kid" in person.run("key", "show")


def test_before_a_key_and_a_service_there_is_a_sentence(town: Town) -> None:
    """If this fails, a new inspector's first command is a traceback."""
    person = town.person("inspector")

    assert "bailee key new" in person.run("key", "show", code=3)
    person.run("key", "new")
    assert "bailee join" in person.run("show", code=3)


def test_a_name_cannot_lead_out_of_the_folder(town: Town) -> None:
    """If this fails, `--as ../other` signs with somebody else's key."""
    said = town.person("../other").run("key", "new", code=2)

    assert "cannot name a person" in said


@pytest.mark.parametrize("address", ["127.0.0.1:8765", "ledger.example", "ftp://ledger.example", "https://"])
def test_an_address_without_its_beginning_is_told(town: Town, address: str) -> None:
    """Who leaves out https:// would check a network that is in order."""
    said = town.person("newcomer").run("join", "--service", address, "--org", FIRM, code=2)
    assert "is no address of a service: write it with http:// or https:// in front." in said


def test_joining_pins_the_log(town: Town) -> None:
    """If this fails, a service that took over the address can give itself out as the old log."""
    person = town.person("inspector")
    person.run("key", "new")

    assert "you entered another.example" in person.run(
        "join", "--service", ADDRESS, "--org", FIRM, "--origin", "another.example", code=1
    )
    person.join_only()
    town.line.says["GET /health"] = {"origin": "another.example", "log_key": town.ledger.vkey}
    assert "already belongs to the log" in person.run("join", "--service", ADDRESS, "--org", FIRM, code=1)


def test_a_device_that_nobody_enrolled_may_have_mistyped_its_organization(settled: Town) -> None:
    """If this fails, a slip in the name costs a newcomer the key, or an enrolled device leaves its firm."""
    new = settled.person("newcomer")
    said = " ".join(new.run("join", "--service", ADDRESS, "--org", "harrow-feild").split())
    assert "Not checked: whether harrow-feild is on this log" in said
    assert "A new organization is founded first" in said
    kid = new.answer("key", "show")["kid"]
    request = new.folder / "request.json"
    new.run("join", "--service", ADDRESS, "--org", FIRM, "--request", str(request))
    asked = json.loads(request.read_text("utf-8"))
    assert (asked["organization"], asked["kid"]) == (FIRM, kid)

    inspector = settled.person("inspector")
    assert "already belongs" in inspector.run("join", "--service", ADDRESS, "--org", "harrow-feild", code=1)


@pytest.mark.slow
def test_a_newcomer_is_asked_again_and_told_what_is_next(settled: Town) -> None:
    """Who leaves out http:// or writes the firm's full name starts over, and then has a key and no idea."""
    with served(settled) as address, Terminal(settled.person("newcomer"), "join") as screen:
        for asked, text in (
            ("Address of the service", address.partition("//")[2]),
            ("Your organization's short name there, like harrow-field: ", "Harrow & Field"),
            ("Type the short name again; or n: ", FIRM),
            ("Type the address of the service again; or n: ", address),
        ):
            screen.sees(asked)
            screen.types(f"{text}\n")
        code, rest = screen.ends()
    assert (code, "Next: `bailee key request -o request.json`." in rest) == (0, True), rest


def test_a_log_that_lost_entries_is_noticed_by_every_device(
    settled: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If this fails, a ledger restored from an old copy goes unnoticed by the people who filled it."""
    monkeypatch.setattr(checkpoints, "AGAIN_S", 0)
    inspector = settled.person("inspector")
    settled.ledger.sequencer.integrate()
    inspector.run(*OPEN)
    key = SigningKey.from_seed(b"log".ljust(32, b"."))
    settled.line.says["GET /checkpoint"] = notes.sign(Checkpoint(ORIGIN, 1, bytes(32)), key)
    said = inspector.run(*OPEN, code=1)

    assert "Recorded: opened" in said
    assert "has already seen" in said
    assert "Leave this device as it is" in said


def test_a_host_that_was_just_started_is_asked_again_before_anybody_is_accused(
    settled: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If this fails, every restart of a second host makes inspectors keep their devices as evidence."""
    inspector = settled.person("inspector")
    settled.ledger.sequencer.integrate()
    inspector.run(*OPEN)
    key = SigningKey.from_seed(b"log".ljust(32, b"."))
    settled.line.says["GET /checkpoint"] = notes.sign(Checkpoint(ORIGIN, 1, bytes(32)), key)
    pauses: list[float] = []

    def catch_up(seconds: float) -> None:
        pauses.append(seconds)
        settled.line.says.pop("GET /checkpoint", None)

    monkeypatch.setattr(time, "sleep", catch_up)
    assert "already seen" not in inspector.run(*OPEN)
    assert checkpoints.AGAIN_S in pauses


def test_a_log_that_was_rewritten_is_noticed_by_every_device(settled: Town) -> None:
    """If this fails, an operator can show one history to the firm and another one to the laboratory."""
    inspector = settled.person("inspector")
    settled.ledger.sequencer.integrate()
    inspector.run(*OPEN)
    settled.ledger.sequencer.integrate()
    size = settled.app.test_client().get("/health").get_json()["size"]
    key = SigningKey.from_seed(b"log".ljust(32, b"."))
    settled.line.says["GET /checkpoint"] = notes.sign(Checkpoint(ORIGIN, size, bytes(32)), key)
    said = inspector.run(*OPEN, code=1)

    assert "does not continue the one" in said.replace("\n", " ")


def test_a_checkpoint_by_another_key_is_not_believed(settled: Town) -> None:
    """If this fails, whoever sits on the network can make up a log."""
    inspector = settled.person("inspector")
    settled.line.says["GET /checkpoint"] = notes.sign(
        Checkpoint(ORIGIN, 99, bytes(32)), SigningKey.generate()
    )

    assert "log key" in inspector.run(*OPEN, code=1)


def test_what_a_device_saw_is_in_its_next_statement(settled: Town) -> None:
    """If this fails, no statement can bound the time at which it was made."""
    inspector = settled.person("inspector")
    settled.ledger.sequencer.integrate()
    inspector.run(*OPEN)
    inspector.run(*OPEN)
    outbox = inspector.session().of("inspector", as_json=False).outbox
    from bailee.signing import signed_statement

    claims = signed_statement.read(outbox.newest(1)[0].text).claims
    outbox.close()

    assert claims.seen is not None
    assert claims.seen.size > 0


def test_profiles_live_where_the_environment_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If this fails, keys land in the wrong folder on a machine set up by an administrator."""
    from bailee_cli.device.profile import home_folder

    assert home_folder({"BAILEE_HOME": str(tmp_path)}) == tmp_path
    assert home_folder(dict(os.environ) | {"BAILEE_HOME": ""}).name == "bailee"
