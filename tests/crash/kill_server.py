"""Kill the server with SIGKILL at random while four people append, and look for loss.

    python tests/crash/kill_server.py [--statements 2000] [--postgres] [--seed 1]

Each client signs, sends, and sends the same bytes again until it is answered; a killed server is started
again. At the end: every acknowledged statement is in the ledger exactly as acknowledged, nothing is there
twice, every chain links, and the whole log hashes to its checkpoint, in the database and in the tiles on
disk. Prints figures; exits 1 when anything is wrong. The seed fixes keys and kill times; what the kill
interrupts is up to the machine.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import signal
import socket
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from contextlib import ExitStack
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bailee.disk import tile_files
from bailee.disk.tile_files import TileFiles, TreeOnDisk
from bailee.errors import BaileeError
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.base64url import b64u
from bailee.ledger.checkpoint import Checkpoint, parse_vkey
from bailee.operations.ledger import Ledger
from bailee.signing import notes, signed_statement
from bailee.store import log, tree
from bailee.store.database import Database
from field import FIRM, Device, Field, make_home
from forked_commands import ForkedCommands
from own_postgres import OwnPostgres

CLIENTS = 4


class Server:
    """`bailee serve` as a process that can be killed and started again."""

    def __init__(self, home: Path, port: int, commands: ForkedCommands) -> None:
        self.home, self.port, self.kills = home, port, 0
        self._commands = commands
        self.start()

    def start(self) -> None:
        """Start and wait until it answers."""
        said = self.home / "said"
        words = ["serve", "--home", str(self.home), "--listen", f"127.0.0.1:{self.port}"]
        self.process = self._commands.run(words, said)
        while True:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/health", timeout=2):
                    return
            except OSError:
                if self.process.has_ended:
                    raise RuntimeError(said.read_text()[-2000:]) from None
                time.sleep(0.05)

    def kill(self) -> None:
        """No warning, no clean-up."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.kills += 1


class Client(threading.Thread):
    """One person with one device, saying the same kind of thing again and again on one form."""

    def __init__(self, device: Device, form: str, sample: str, port: int, count: int) -> None:
        super().__init__()
        self.device, self.form, self.sample, self.port, self.count = device, form, sample, port, count
        self.acknowledged: list[tuple[str, str]] = []
        self.retries = 0
        self.refused: list[Any] = []

    def run(self) -> None:
        """Sign once, send until answered."""
        for _ in range(self.count):
            data = {
                "samples": [self.sample],
                "secured": "possession",
                "where": "vehicle",
                "since": "2026-12-01T09:30:00-05:00",
            }
            signed = self.device.sign(f"form/{self.form}", "held", data, after=None)
            answer = self.insist(signed)
            if answer["status"] == "refused":
                self.refused.append(answer)
                return
            self.acknowledged.append((signed["statement"], answer["leaf"]))

    def insist(self, signed: dict[str, Any]) -> Any:
        """The same bytes until there is an answer."""
        body = json.dumps({"statements": [signed]}).encode()
        while True:
            request = urllib.request.Request(
                f"http://127.0.0.1:{self.port}/entries", body, {"Content-Type": "application/json"}
            )
            try:
                with urllib.request.urlopen(request, timeout=120) as response:
                    return json.load(response)["answers"][0]
            except (OSError, ValueError, http.client.HTTPException):
                self.retries += 1
                time.sleep(0.05)


def check_files(ledger: Ledger, checkpoint: Checkpoint) -> list[str]:
    """What is wrong with tiles, published checkpoint and high-water file."""
    wrong = []
    public, private = TileFiles(ledger.settings.tiles), TileFiles(ledger.settings.entry_tiles)
    try:
        if merkle.root(TreeOnDisk(public, checkpoint.size), checkpoint.size) != checkpoint.root:
            wrong.append("the tiles on disk do not hash to the checkpoint")
        tile_files.require_derived(public, private, 0, checkpoint.size)
    except BaileeError as error:
        wrong.append(error.sentence)
    if ledger.publisher.published() != checkpoint:
        wrong.append("the published checkpoint is not the newest one")
    marks = []
    for line in ledger.settings.high_water_file.read_text().splitlines():
        try:
            note = json.loads(line)
        except ValueError:
            continue  # cut short by a kill, and never relied on
        marks.append(notes.open_checkpoint(note, [parse_vkey(ledger.vkey)]))
    if [mark.size for mark in marks] != sorted({mark.size for mark in marks}):
        wrong.append("the high-water file does not rise")
    with ledger.database.reading() as connection:
        if any(tree.root_at(connection, mark.size) != mark.root for mark in marks):
            wrong.append("something was signed that is not this log")
    return wrong


def check(ledger: Ledger, database: Database, clients: list[Client]) -> list[str]:
    """What is wrong with the ledger, if anything."""
    wrong = []
    with database.reading() as connection:
        waiting = tree.is_waiting(connection)
        size = tree.size(connection)
        found = {}
        chains: dict[str, tuple[int, str]] = {}
        leaves = []
        for logged in log.everything(connection, 0, size):
            entry = entries.read(logged.text)
            n, head = chains.get(logged.chain, (0, ""))
            if entry.n != n + 1 or entry.prev != (head or None):
                wrong.append(f"{logged.chain} breaks at {entry.n}")
            leaf = entries.leaf_hash(logged.text.encode())
            chains[logged.chain] = (entry.n, b64u(leaf))
            leaves.append(leaf)
            digest = signed_statement.digest(entry.stmt)
            if digest in found:
                wrong.append(f"{digest} is there twice")
            found[digest] = b64u(leaf)
        checkpoint = notes.open_checkpoint(tree.newest_note(connection) or "", [parse_vkey(ledger.vkey)])
        fresh = {(row.level, row.index): row.hashes for row in merkle.grow(_Nothing(), 0, leaves)}
        root = merkle.root(_Rows(fresh), len(leaves))
        if (checkpoint.size, checkpoint.root) != (size, root):
            wrong.append("the log does not hash to its checkpoint")
    if waiting:
        wrong.append("entries are still waiting for their place")
    wrong += check_files(ledger, checkpoint)
    for client in clients:
        wrong += [
            f"acknowledged and lost: {leaf}"
            for text, leaf in client.acknowledged
            if found.get(signed_statement.digest(text)) != leaf
        ]
        wrong += [f"refused: {answer['problem']['detail']}" for answer in client.refused]
    return wrong


def wait_for_more(clients: list[Client], more: int) -> None:
    """Until so many more statements are acknowledged, or nobody says any: as many kills on every machine."""
    until = sum(len(each.acknowledged) for each in clients) + more
    while any(each.is_alive() for each in clients) and sum(len(e.acknowledged) for e in clients) < until:
        time.sleep(0.002)


class _Nothing:
    def read(self, level: int, index: int) -> bytes:
        return b""


class _Rows:
    def __init__(self, rows: dict[tuple[int, int], bytes]) -> None:
        self._rows = rows

    def read(self, level: int, index: int) -> bytes:
        return self._rows.get((level, index), b"")


def prepare(home: Path, url: str, seed: int) -> tuple[Ledger, list[tuple[Device, str, str]]]:
    """A founded ledger with one form and one sample for each client."""
    field = Field(make_home(home, url))
    (home / "settings.toml").write_text(field.ledger.settings.text())
    lot, samples = field.lot(CLIENTS)
    people = []
    for number, sample in enumerate(samples):
        device = field.device(f"crash {seed} {number}", FIRM)
        field.enroll(device, "inspector")
        form = field.open_form()
        field.collect(form, lot, sample)
        people.append((device, form, sample))
    return field.ledger, people


def main() -> int:
    """Run and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--statements", type=int, default=2000)
    parser.add_argument(
        "--postgres", action="store_true", help="on a durable PostgreSQL of its own; default: SQLite"
    )
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    chance = random.Random(asked.seed)
    with ExitStack() as stack:
        commands = stack.enter_context(ForkedCommands())
        folder = stack.enter_context(tempfile.TemporaryDirectory())
        home = Path(folder) / "home"
        url = f"sqlite:///{folder}/ledger.sqlite"
        if asked.postgres:
            postgres = OwnPostgres(durable=True)
            stack.callback(postgres.stop)
            url = postgres.url()
        database = Database(url)
        stack.callback(database.close)
        database.migrate()
        ledger, people = prepare(home, url, asked.seed)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        server = Server(home, port, commands)
        share = asked.statements // CLIENTS
        clients = [Client(device, form, sample, port, share) for device, form, sample in people]
        began = time.monotonic()
        for client in clients:
            client.start()
        while any(client.is_alive() for client in clients):
            wait_for_more(clients, chance.randrange(10, 50))
            time.sleep(chance.uniform(0, 0.05))
            if any(client.is_alive() for client in clients):
                server.kill()
                server.start()
        took = time.monotonic() - began
        server.process.send_signal(signal.SIGTERM)
        server.process.wait()
        ledger.sequencer.integrate()
        wrong = check(ledger, database, clients)
        acknowledged = sum(len(client.acknowledged) for client in clients)
        retries = sum(client.retries for client in clients)
        print(
            f"{database.engine.dialect.name}: {acknowledged} statements acknowledged in {took:.1f} s,"
            f" {server.kills} kills, {retries} retries, {len(wrong)} faults"
        )
        print("\n".join(wrong[:20]))
        return 1 if wrong or acknowledged != share * CLIENTS else 0


if __name__ == "__main__":
    os.environ.pop("BAILEE_HOME", None)
    sys.exit(main())
