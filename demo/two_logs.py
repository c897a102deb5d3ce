"""Two logs that vouch for each other: the firm's, in which the visits are recorded, and the laboratory's own.

The laboratory runs a cosigner at an address, which the firm's log asks by itself. The firm, behind its
router, comes by with a command.
"""

from __future__ import annotations

import re
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import ground
from cast import FIRM, LAB, ORIGIN
from ground import DemoError
from stage import Stage

from bailee.ledger.checkpoint import parse_vkey, read_note

LAB_ORIGIN: Final = "demo.quill-lab.example/log1"


@dataclass(frozen=True)
class Log:
    """A ledger on this machine: its folder, where it answers, its public key."""

    home: Path
    address: str
    key: str


@dataclass(frozen=True)
class Cosigner:
    """A cosigner on this machine: its folder, its public key, and where it answers when it does."""

    folder: Path
    key: str
    address: str = field(default_factory=ground.free_address)


@dataclass(frozen=True)
class Both:
    """The two logs, and for each the cosigner that the other organization keeps for it."""

    firm: Log
    lab: Log
    for_firm: Cosigner
    for_lab: Cosigner

    def write_policy(self, path: Path) -> Path:
        """What the auditor brings: the firm's log, the laboratory's cosigner, and that it
        must have signed.
        """
        path.write_text(f"log {self.firm.key}\ncosigner quill {self.for_firm.key}\nquorum 1\n")
        return path


@contextmanager
def running(stage: Stage) -> Iterator[Both]:
    """Both logs made and served, each knowing its cosigner, until the block ends."""
    firm = _log(stage, "An operator creates the ledger of the firm.", stage.folder / "ledger", ORIGIN)
    lab = _log(
        stage, "The laboratory has a ledger of its own, elsewhere.", stage.folder / "lab-ledger", LAB_ORIGIN
    )
    stage.headline("Neither shall have to believe the other: each makes a cosigner for the other's log.")
    for_firm = _cosigner(stage, "lab", stage.folder / "lab-cosigner", f"{LAB}.example/cosigner", firm)
    for_lab = _cosigner(stage, "office", stage.folder / "firm-cosigner", f"{FIRM}.example/cosigner", lab)
    _name(firm, f"{for_firm.key} {for_firm.address}")
    _name(lab, for_lab.key)
    stage.tell("Each operator enters the other's public key into settings.toml. Then all of it is started.")
    commands = {
        for_firm.address: ["cosign", "serve", "--folder", str(for_firm.folder)],
        firm.address: ["serve", "--home", str(firm.home)],
        lab.address: ["serve", "--home", str(lab.home)],
    }
    with ExitStack() as ends:
        started = {}
        for address, words in commands.items():
            typed = [*words, "--listen", address.removeprefix("http://")]
            stage.command(["bailee", *typed])
            started[address] = ends.enter_context(ground.process(typed, stage.folder / "services.txt"))
        for address, process in started.items():
            ground.wait_for(address, process)
        yield Both(firm, lab, for_firm, for_lab)


def begin_the_labs(stage: Stage, both: Both) -> None:
    """The laboratory's own log gets its first entry, and the firm's line under it: the second direction."""
    stage.headline(f"In its own log the laboratory founds itself too; {LAB_ORIGIN} has its first entry.")
    who, lab = "lab-at-home", both.lab
    stage.typed(who, "key", "new", silent=True)
    stage.typed(
        who, "join", "--service", lab.address, "--org", LAB, "--origin", LAB_ORIGIN, "--log-key", lab.key,
        shows=["Joined the log"],
    )  # fmt: skip
    kid = stage.answer(who, "key", "show")["kid"]
    stage.typed("operator", "admit", kid, "--home", str(lab.home), silent=True)
    stage.typed(
        who, "found", LAB, "--name", "Quill Laboratory", "--person", "Lorna Quill", shows=["Recorded"]
    )
    _wait_for_checkpoint(lab, lab.key)
    stage.step(
        "The firm, behind its router, comes by: it fetches the laboratory's checkpoint and brings its line.",
        "office",
        "cosign",
        "once",
        lab.address,
        "--folder",
        str(both.for_lab.folder),
        shows=[f"Cosigned {LAB_ORIGIN}"],
    )
    _wait_for_checkpoint(lab, both.for_lab.key)


def show_the_firms(stage: Stage, both: Both) -> None:
    """What the laboratory's cosigner has seen, once it has signed the newest checkpoint of the firm's log."""
    _wait_for_checkpoint(both.firm, both.for_firm.key)
    stage.step(
        "The firm's log has asked the laboratory's cosigner whenever it grew. How far has it signed?",
        "lab", "cosign", "show", "--folder", str(both.for_firm.folder), shows=[f"{ORIGIN}: "],
    )  # fmt: skip


def _wait_for_checkpoint(log: Log, signer: str) -> None:
    """Wait until the log shows a checkpoint with a line of this key. Raises `DemoError`."""
    key, until = parse_vkey(signer), time.monotonic() + ground.GIVE_UP_AFTER_S
    while time.monotonic() < until:
        try:
            with urllib.request.urlopen(f"{log.address}/checkpoint", timeout=5) as answer:
                if read_note(answer.read().decode()).by(key):
                    return
        except urllib.error.HTTPError as nothing_yet:
            nothing_yet.close()
        except OSError:
            pass  # a busy machine answers later
        time.sleep(0.05)
    raise DemoError(f"{key.name} did not sign; services.txt says why.")


def _log(stage: Stage, sentence: str, home: Path, origin: str) -> Log:
    address = ground.free_address()
    said = stage.step(
        sentence, "operator", "init", "--home", str(home), "--origin", origin, "--address", address,
        shows=["Ledger ", "public key"],
    )  # fmt: skip
    return Log(home, address, said.rpartition("public key, for all who verify: ")[2].strip())


def _cosigner(stage: Stage, who: str, folder: Path, name: str, log: Log) -> Cosigner:
    said = stage.typed(
        who, "cosign", "new", "--folder", str(folder), "--name", name, shows=["Its public key"]
    )
    stage.typed(who, "cosign", "follow", log.key, "--folder", str(folder), shows=["follows"])
    return Cosigner(folder, said.rpartition(": ")[2].strip())


def _name(log: Log, cosigner: str) -> None:
    settings = log.home / "settings.toml"
    text, count = re.subn(
        r"(?m)^cosigners = .*$", lambda _: f'cosigners = ["{cosigner}"]', settings.read_text()
    )
    if count != 1:
        raise DemoError(f"{settings} names no cosigners.")
    settings.write_text(text)
