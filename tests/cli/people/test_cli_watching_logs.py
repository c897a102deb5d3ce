"""Cosign, monitor, repair and the auditor's policy, as people type them."""

from __future__ import annotations

import json
import shutil
import signal
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from wsgiref.simple_server import make_server

import httpx2
import pytest
from click.testing import CliRunner
from test_cli_operator import init

from bailee.cosigning.folder import load
from bailee.cosigning.service import application
from bailee.ledger.checkpoint import KeyType, format_vkey, parse, parse_vkey, read_note
from bailee.operations.ledger import Ledger
from bailee.operations.publishing.cosignatures import configured
from bailee.signing import notes, vkeys
from bailee.signing.keys import SigningKey
from bailee_cli.device.session import Session
from bailee_cli.main import bailee
from field import LAB
from hosts.listening import running
from terminal import commands
from town import ADDRESS, INTACT, Person, Town, dock, verify_words
from waiting import until


def setting(town: Town, name: str, value: tuple[str, ...]) -> None:
    """What the operator writes into the settings."""
    object.__setattr__(town.ledger.settings, name, value)


@pytest.fixture
def lab(settled: Town) -> Person:
    """The laboratory's quality manager, whom the firm's operator named as a monitor."""
    person = settled.person("lab-quality", LAB)
    kid = person.session().of("lab-quality", as_json=False).key.kid
    setting(settled, "monitors", (kid,))
    settled.ledger.sequencer.integrate()
    return person


def monitor(person: Person, mirror: Path, *more: str, code: int = 0) -> str:
    """One round."""
    words = ["monitor", ADDRESS, "--mirror", str(mirror), "--log-key", person.town.ledger.vkey, *more]
    return person.run(*words, code=code)


def cosigner(person: Person, folder: Path) -> str:
    """A new cosigner that follows the town's log; its public key."""
    said = person.run("cosign", "new", "--folder", str(folder), "--name", "quill-lab.example/cosigner")
    vkey = said.split()[-1]
    assert parse_vkey(vkey).type is KeyType.COSIGNATURE_V1
    person.run("cosign", "follow", "--folder", str(folder), person.town.ledger.vkey)
    return vkey


def test_a_laboratory_mirrors_and_cosigns_the_firm_s_log(lab: Person, tmp_path: Path) -> None:
    """If this fails, nobody but the operator ever sees the whole log."""
    town, folder, mirror = lab.town, tmp_path / "cosigner", tmp_path / "mirror"
    vkey = cosigner(lab, folder)
    town.ledger.cosigners._cosigners = configured([vkey], town.ledger.settings.origin)
    said = monitor(lab, mirror, "--cosign", str(folder))
    size = town.app.test_client().get("/health").get_json()["published"]

    assert f"{size} entries in order, {size} of them new" in said
    assert f"Cosigned {size} entries." in said
    note = read_note(town.app.test_client().get("/checkpoint").text)
    assert notes.cosigned_at(note, parse_vkey(vkey)) == int(town.clock().timestamp())
    assert f"{size} entries" in lab.run("cosign", "show", "--folder", str(folder))
    assert "0 of them new" in monitor(lab, mirror)


def test_only_a_named_monitor_copies_the_log(lab: Person, tmp_path: Path) -> None:
    """If this fails, every account reads everybody's business."""
    said = monitor(lab.town.person("inspector"), tmp_path / "mirror", code=1)
    assert "ask the operator" in said
    assert not (tmp_path / "mirror" / "checkpoint").exists()


def test_a_log_that_was_rolled_back_is_told_by_its_monitor_and_cosigner(lab: Person, tmp_path: Path) -> None:
    """If this fails, an operator can take yesterday back and nobody notices."""
    town, folder, mirror = lab.town, tmp_path / "cosigner", tmp_path / "mirror"
    cosigner(lab, folder)
    old = town.app.test_client().get("/checkpoint").text
    lab.run("cosign", "once", ADDRESS, "--folder", str(folder), code=1)  # its operator has not named it yet
    town.lot(1)
    town.ledger.sequencer.integrate()
    monitor(lab, mirror)
    lab.run("cosign", "once", ADDRESS, "--folder", str(folder), code=1)
    town.ledger.publisher.places.checkpoint.write_text(old)

    assert "contradicts itself" in monitor(lab, mirror, code=1)
    assert len(list((mirror / "evidence").iterdir())) == 2
    said = " ".join(lab.run("cosign", "once", ADDRESS, "--folder", str(folder), code=1).split())
    assert "an older state, or another log than before. Nothing was signed." in said
    assert (
        "does not continue what it showed" not in said
    )  # which nobody has seen: it may be another log, or an old copy


def test_a_log_that_is_not_followed_yet_names_the_step_before(lab: Person, tmp_path: Path) -> None:
    """If this fails, whoever forgot `follow` reads that the memory is lost, and makes another key."""
    folder = str(tmp_path / "cosigner")
    lab.run("cosign", "new", "--folder", folder, "--name", "lab.example/cosigner")
    said = " ".join(lab.run("cosign", "once", ADDRESS, "--folder", folder, code=3).split())
    assert "does not follow" in said
    assert "`bailee cosign follow KEY --folder FOLDER`" in said
    assert "lost" not in said
    assert "new key" not in said


def test_a_cosigner_the_log_does_not_know_is_told(lab: Person, tmp_path: Path) -> None:
    """If this fails, a cosigner and its scheduler believe that it counts, and no auditor ever sees it."""
    cosigner(lab, tmp_path / "cosigner")
    output = tmp_path / "note"
    words = ["cosign", "once", ADDRESS, "--folder", str(tmp_path / "cosigner"), "-o", str(output)]
    said = " ".join(lab.run(*words, code=1).split())
    assert "The log did not accept it" in said
    assert "enter this cosigner's public key in the settings and restart" in said
    assert len(read_note(output.read_text()).signatures) == 2


def test_an_auditor_who_names_a_cosigner_sees_complete_and_cosigned(
    shipped: tuple[Town, list[str]], tmp_path: Path
) -> None:
    """If this fails, the strongest of the three states can never be reached by anybody."""
    town, samples = shipped
    dock(town, *samples[:3], *INTACT, "--counted", "3")
    town.ledger.sequencer.integrate()
    lab, folder = town.person("lab-quality", LAB), tmp_path / "cosigner"
    vkey = cosigner(lab, folder)
    town.ledger.cosigners._cosigners = configured([vkey], town.ledger.settings.origin)
    lab.run("cosign", "once", ADDRESS, "--folder", str(folder))
    inspector = town.person("inspector")
    form = inspector.answer("show")["forms"][0]["form"]
    file, policy = tmp_path / "bundle.json", tmp_path / "policy"
    inspector.run("bundle", form, "-o", str(file))
    policy.write_text(f"log {town.ledger.vkey}\ncosigner lab {vkey}\nquorum 1\n")
    words = verify_words(town)
    at = words.index("--log-key")
    roots = [*words[:at], *words[at + 2 :]]

    said = town.person("auditor").run(
        "verify", str(file), *roots, "--policy", str(policy), "--at", "2026-12-02 18:00", code=None
    )
    assert "Records: unaltered, complete and cosigned" in said
    assert "cosigned by lab at 2026-12-02 " in " ".join(said.split())
    assert "unaltered, not cosigned" in town.person("auditor").run("verify", str(file), *words, code=None)
    assert "--policy" in town.person("auditor").run("verify", str(file), *roots, code=2)
    ends = partial(town.person("auditor").type, "verify", str(file), *roots, "--policy", str(policy))
    assert ends().exit_code == 0
    other = format_vkey(notes.cosigner_key("notary.example/cosigner", SigningKey.generate()))
    policy.write_text(f"log {town.ledger.vkey}\ncosigner lab {vkey}\ncosigner notary {other}\nquorum 2\n")
    few = ends()
    assert "Records: unaltered, cosigned by 1 of the 2 you asked for" in few.output
    assert few.exit_code == 1, "a scheduler sees it, too"
    policy.write_text("nonsense\n")
    assert "Line 1" in town.person("auditor").run(
        "verify", str(file), *roots, "--policy", str(policy), code=2
    )


def test_yesterday_s_database_is_repaired_from_a_mirror(lab: Person, tmp_path: Path) -> None:
    """If this fails, a restored backup is the end of the log, whatever copies there are."""
    town, mirror = lab.town, tmp_path / "mirror"
    home, file = town.ledger.settings.home, Path(town.ledger.database.url.database)
    (home / "settings.toml").write_text(town.ledger.settings.text())
    put_away(town.ledger)
    shutil.copy(file, tmp_path / "backup")
    town.lot(2)
    town.ledger.sequencer.integrate()
    monitor(lab, mirror)
    put_away(town.ledger)
    shutil.copy(tmp_path / "backup", file)
    other = tmp_path / "other-home"
    shutil.move(town.ledger.settings.entry_tiles, other / "entry-tiles")

    empty = CliRunner().invoke(bailee, ["repair", "--home", str(home), "--from", str(tmp_path)])
    assert empty.exit_code == 2
    assert f"There are no entry tiles in {tmp_path}:" in empty.output
    refused = CliRunner().invoke(bailee, ["repair", "--home", str(home)])
    assert refused.exit_code == 3
    assert "2 entries of the log (counted from 0), the first " in refused.output
    done = CliRunner().invoke(bailee, ["repair", "--home", str(home), "--from", str(mirror)])
    assert done.exit_code == 0, done.output
    assert "2 were brought back, byte for byte" in done.output
    assert "not here again unless a file that you named has it: contradictions and time stamps" in " ".join(
        done.output.split()
    )
    checked = CliRunner().invoke(bailee, ["check-ledger", "--home", str(home)])
    assert checked.exit_code == 0, checked.output
    again = CliRunner().invoke(bailee, ["repair", "--home", str(home)])
    assert "0 were brought back" in again.output
    assert "not here again" not in again.output
    put_away(town.ledger)
    for each in ("", "-wal", "-shm"):  # the database goes away with what lies beside it
        Path(f"{file}{each}").unlink(missing_ok=True)
    shutil.copy(tmp_path / "backup", file)
    shutil.rmtree(town.ledger.settings.entry_tiles)
    from_home = CliRunner().invoke(bailee, ["repair", "--home", str(home), "--from", str(other)])
    assert "2 were brought back, byte for byte" in from_home.output


def put_away(ledger: Ledger) -> None:
    """Let go of the database file, so that it may be copied or exchanged."""
    ledger.database.close()
    file = Path(ledger.settings.database.removeprefix("sqlite:///"))
    for journal in file.parent.glob(f"{file.name}-*"):
        journal.unlink()


@contextmanager
def answering(folder: Path) -> Iterator[str]:
    """A cosigner of a folder, with an address of its own."""
    with running(make_server("127.0.0.1", 0, application(load(folder), time.time))) as address:
        yield address


def test_repair_brings_back_what_only_a_cosigner_saw_signed(lab: Person, tmp_path: Path) -> None:
    """A host that died after the cosigner signed, and before it noted that itself, would be frozen anew after
    each start.
    """
    town, folder = lab.town, tmp_path / "cosigner"
    home, file = town.ledger.settings.home, Path(town.ledger.database.url.database)
    shown, marks = town.ledger.publisher.places.checkpoint, town.ledger.settings.high_water_file
    vkey = cosigner(lab, folder)
    before = {each: each.read_bytes() for each in (shown, marks)}
    put_away(town.ledger)
    shutil.copy(file, tmp_path / "backup")
    town.lot(2)
    town.ledger.sequencer.integrate()
    lab.run("cosign", "once", ADDRESS, "--folder", str(folder), code=1)  # kept by the cosigner alone
    put_away(town.ledger)
    shutil.copy(tmp_path / "backup", file)
    for each, content in before.items():
        each.write_bytes(content)

    with answering(folder) as url:
        setting(town, "cosigners", (f"{vkey} {url}",))
        (home / "settings.toml").write_text(town.ledger.settings.text())
        done = CliRunner().invoke(bailee, ["repair", "--home", str(home)])
    assert done.exit_code == 0, done.output
    assert "2 were brought back, byte for byte" in done.output
    assert "does not answer" not in done.output
    alone = CliRunner().invoke(bailee, ["repair", "--home", str(home)])
    assert "The cosigner quill-lab.example/cosigner does not answer" in alone.output


@pytest.mark.parametrize("left", [None, b"", b"\xff junk without an end", b'"a note of another log"\n'])
def test_a_lost_high_water_file_needs_a_decision(lab: Person, left: bytes | None) -> None:
    """If this fails, deleting one file quietly takes away what the log remembers of itself."""
    town = lab.town
    home = town.ledger.settings.home
    (home / "settings.toml").write_text(town.ledger.settings.text())
    town.ledger.settings.high_water_file.unlink()
    if left is not None:
        town.ledger.settings.high_water_file.write_bytes(left)
    refused = CliRunner().invoke(bailee, ["repair", "--home", str(home)])
    assert refused.exit_code == 2
    assert "--new-high-water" in refused.output
    asked = CliRunner().invoke(bailee, ["repair", "--home", str(home), "--new-high-water"])
    assert asked.exit_code == 2, "an older copy would begin a second history, and nobody was asked"
    size = town.ledger.publisher.published().size
    told = f"This copy ends at {size}. If a checkpoint above {size} is held anywhere, stop: starting"
    assert told in asked.output
    assert "repeat with --yes" in " ".join(asked.output.split())
    assert not (home / "high-water.put-aside").exists()
    done = CliRunner().invoke(bailee, ["repair", "--home", str(home), "--new-high-water", "--yes"])
    assert done.exit_code == 0, done.output
    assert f"This copy ends at {size}." in done.output
    assert town.ledger.settings.high_water_file.read_text().count("\n") == 1
    aside = home / "high-water.put-aside"
    assert (aside.read_bytes() if left is not None else None) == left


def test_a_cosigner_that_is_not_there(tmp_path: Path) -> None:
    """If this fails, a wrong folder makes a second cosigner with an empty memory."""
    for words in (["show"], ["serve"], ["once", "https://x.example"]):
        done = CliRunner().invoke(bailee, ["cosign", *words, "--folder", str(tmp_path / "none")])
        assert done.exit_code == 3, done.output
        assert "cosign new" in done.output
    assert not (tmp_path / "none").exists()


class Process:
    """A command that listens, in a process of its own (a fork of one that has read the program); what it says
    is kept.
    """

    def __init__(self, folder: Path, *words: str) -> None:
        with socket.create_server(("127.0.0.1", 0)) as probe:
            self.address = f"127.0.0.1:{probe.getsockname()[1]}"
        self.url = f"http://{self.address}"
        self.said = folder / f"said-{self.address.rpartition(':')[2]}"
        self.process = commands().run([*words, "--listen", self.address], self.said)
        with httpx2.Client(base_url=self.url) as client:
            while not self.process.has_ended:
                try:
                    client.get("/")
                except httpx2.TransportError:
                    time.sleep(0.05)
                else:
                    return
        raise AssertionError(self.said.read_text())

    def stop(self) -> str:
        """SIGTERM, and what it said."""
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait() == 0
        return self.said.read_text()


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Process]]:
    """Starts commands that end with the test, however it ends."""
    running: list[Process] = []

    def begin(*words: str) -> Process:
        running.append(Process(tmp_path, *words))
        return running[-1]

    yield begin
    for each in running:
        if not each.process.has_ended:
            each.stop()


def found(home: Path, url: str, org: str) -> None:
    """One more organization, which is one more entry of the log."""
    session = Session(home=home)
    for words in (["key", "new"], ["join", "--service", url, "--org", org], ["found", org, "--name", org]):
        done = CliRunner().invoke(bailee, ["--as", org, *words], obj=session)
        assert done.exit_code == 0, done.output


@pytest.mark.slow
def test_a_log_and_its_cosigner_in_their_own_processes(tmp_path: Path, start: Callable[..., Process]) -> None:
    """If this fails, the commands of the manual do not give a cosigned log, or an old copy of it is served
    on.
    """
    folder, home = str(tmp_path / "cosigner"), tmp_path / "ledger"
    invoke = CliRunner().invoke
    said = invoke(bailee, ["cosign", "new", "--folder", folder, "--name", "quill-lab.example/cosigner"])
    vkey = said.output.split()[-1]
    invoke(bailee, ["cosign", "follow", "--folder", folder, init(home, "--open-founding").split()[-1]])
    cosigner = start("cosign", "serve", "--folder", folder)
    settings = home / "settings.toml"
    named = settings.read_text().replace("cosigners = []", f'cosigners = ["{vkey} {cosigner.url}"]')
    settings.write_text(named)
    server = start("serve", "--home", str(home))
    found(tmp_path / "homes", server.url, "first")
    until_cosigned(server.url, vkey, 1)
    server.stop()
    shutil.copy(home / "ledger.sqlite", tmp_path / "backup")
    server = start("serve", "--home", str(home))
    found(tmp_path / "homes", server.url, "second")
    until_cosigned(server.url, vkey, 2)
    server.stop()
    shutil.copy(tmp_path / "backup", home / "ledger.sqlite")

    server = start("serve", "--home", str(home))
    health = httpx2.get(f"{server.url}/health", timeout=600).json()
    assert health["status"] == "log-frozen"
    assert "holds 1 entries of the log, and 2 were signed" in health["frozen"]
    time.sleep(1)
    warned = [line for line in server.stop().splitlines() if "and 2 were signed" in line]
    assert [json.loads(each)["level"] for each in warned] == ["error"]
    assert "1 were brought back" in invoke(bailee, ["repair", "--home", str(home)]).output
    server = start("serve", "--home", str(home))
    with httpx2.Client(base_url=server.url, timeout=600) as client:
        until(lambda: client.get("/health").json()["status"] == "ok")  # the cosigner was asked and agrees
    found(tmp_path / "homes", server.url, "third")
    until_cosigned(server.url, vkey, 3)


def until_cosigned(url: str, vkey: str, size: int) -> None:
    """Wait until the published checkpoint has this size and cosignature."""
    with httpx2.Client(base_url=url, timeout=600) as client:

        def holds() -> bool:
            answer = client.get("/checkpoint")
            note = read_note(answer.text) if answer.status_code == 200 else None
            return bool(note and parse(note.text).size == size and notes.cosigned_at(note, parse_vkey(vkey)))

        until(holds)


def test_a_mistyped_log_key_is_no_accusation(lab: Person, tmp_path: Path) -> None:
    """If this fails, a monitor with a slip in its settings tells everybody that an honest log is forged."""
    town = lab.town
    town.ledger.sequencer.integrate()
    key = format_vkey(notes.verifier_key(town.ledger.settings.origin, SigningKey.generate()))
    said = lab.run("monitor", ADDRESS, "--mirror", str(tmp_path / "mirror"), "--log-key", key, code=3)
    assert "the key is wrong" in " ".join(said.split())
    lines = " ".join(vkeys.lines(parse_vkey(town.ledger.vkey)))
    typed = f"{town.ledger.settings.origin}={lines}"
    wrong = typed[:-1] + ("A" if typed[-1] != "A" else "B")
    assert "Line 5 of the five lines" in " ".join(
        lab.run("monitor", ADDRESS, "--mirror", str(tmp_path / "mirror"), "--log-key", wrong, code=2).split()
    )
    assert "in order" in lab.run("monitor", ADDRESS, "--mirror", str(tmp_path / "mirror"), "--log-key", typed)
