"""Let one service work for an hour as on a busy day, and look whether it grows: memory, files, threads.

    python tests/crash/soak.py [--minutes 60] [--postgres] [--clients 6] [--traced FILE]

Each client plays one visit after another: a lot received and issued, a form, cassettes, how they are secured,
voided at the end so that nothing is left to chase. On the shelf are as many lots as the service keeps in
memory, so that this is full from the first minute on. Between its acts it asks: form, page, papers, auditor's
file, checkpoint, proofs, what is due. So the data grow, and what one question costs does not. Memory is what
the process holds of the machine (VmRSS, proc(5)), as the median of a minute. It may be at the end at most
MOST times what it was after a sixth of the time: of an hour, 60 against 10 minutes. Prints a line a minute;
exits 1 when memory, files or threads grew, or an answer was 5xx. `--traced` writes where the memory is held
at the end that was not after a sixth of the time (tracemalloc: slow, and no figure for the goal).

The goal of 1.03 is a choice: a service that grows by 3 % an hour is to be started again every month (common
practice, no source).
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import re
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter, deque
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bailee.domain import numbers
from bailee.operations.snapshots import MOST_KEPT
from bailee.signing import access
from bailee.store.database import Database
from field import FIRM, ORIGIN, Clock, Device, Field, make_home
from own_postgres import OwnPostgres
from waiting import until

MOST: Final = 1.03
FEW: Final = 8
"""Files that come and go: a connection to the database, an answer that waits on disk."""
SAMPLES, HOLDS = 3, 8
_SERVE: Final = "from bailee_cli.main import main; main()"
_TRACED: Final = (
    """
import os, signal, sys, tracemalloc
report, first = sys.argv.pop(1), []
def look(*_):
    now = tracemalloc.take_snapshot()
    if first:
        with open(report + ".new", "w") as told:
            for each in now.compare_to(first[0], "traceback")[:25]:
                print(each, *each.traceback.format(), sep="\\n", file=told)
        os.rename(report + ".new", report)
    first.append(now)
signal.signal(signal.SIGUSR1, look)
tracemalloc.start(12)
"""
    + _SERVE
)
"""At the first SIGUSR1 it remembers, at the second it writes what has come since."""


class Present(Clock):
    """The clock of the service, which nobody moves."""

    def __call__(self) -> datetime:
        """Now."""
        return datetime.now(UTC).replace(microsecond=0)

    def advance(self, **by: float) -> None:
        """Not here."""


class Client(threading.Thread):
    """An inspector and a media keeper with a connection that stays open."""

    def __init__(self, number: int, field: Field, port: int, end: float, answers: Counter[str]) -> None:
        super().__init__(daemon=True)
        self._chance = random.Random(number)
        self.inspector = field.device(f"soak inspector {number}", FIRM)
        self.keeper = field.device(f"soak keeper {number}", FIRM)
        field.enroll(self.inspector, "inspector")
        field.enroll(self.keeper, "media_keeper")
        self._field, self._port, self._end, self._answers = field, port, end, answers
        self._connection: http.client.HTTPConnection | None = None
        self._cookie = ""
        self._forms = deque([""] * 3, maxlen=3)
        self._entries = 1
        self.is_done = False

    def run(self) -> None:
        """Until the time is over."""
        while time.monotonic() < self._end:
            self._visit()
        self.is_done = True

    def _visit(self) -> None:
        lot, form = self._number("lot"), self._number("form")
        samples = [self._number("sample") for _ in range(SAMPLES)]
        received = {
            "maker_lot": "42-0117", "cassette": "slit", "expiry": "2028-03-31", "count": SAMPLES,
            "nominal_flow": "15.0", "run_s": 300,
        }  # fmt: skip
        self._act(self.keeper, f"lot/{lot}", "lot_received", received)
        self._act(self.keeper, f"lot/{lot}", "issued", {"samples": samples})
        opened = {
            "edition": 1, "parties": {"firm": FIRM, "lab": "quill-lab"}, "visit": "2026-12-01",
            "zone": "America/New_York", "method": "ASTM D7788", "question_given": True,
        }  # fmt: skip
        private = {"client": "Perpetua Example", "site": "12 Invented Lane", "question": "musty odor"}
        self._act(self.inspector, f"form/{form}", "opened", opened, private)
        self._forms.append(form)
        for sample in samples:
            run = self._field.run(lot, sample)
            self._act(self.inspector, f"form/{form}", "collected", run, {"place": "by the window"})
        for _ in range(HOLDS):
            since = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S+00:00")
            held = {"samples": samples, "secured": "possession", "where": "vehicle", "since": since}
            self._act(self.inspector, f"form/{form}", "held", held)
        for sample in samples:
            self._act(self.inspector, f"form/{form}", "voided", {"sample": sample, "reason": "dropped"})

    def _number(self, kind: numbers.Kind) -> str:
        return numbers.issue(kind, self._chance.choice)

    def _act(
        self, device: Device, chain: str, act: str, data: Any, private: dict[str, str] | None = None
    ) -> None:
        signed = device.sign(chain, act, data, private)
        status, text = self._ask("act", "/entries", signed)
        if status == http.HTTPStatus.CREATED:
            device.heads[chain] = json.loads(text)["leaf"]
        for _ in range(2):
            time.sleep(self._chance.uniform(0.05, 0.25))
            self._look()

    def _look(self) -> None:
        what = self._chance.choices(list(LOOKS), list(LOOKS.values()))[0]
        form = self._forms[0]  # two visits ago: everything on it has its place
        if not form and (what == "page" or "FORM" in what):
            return
        if what == "page" and not self._cookie:
            token = access.issue_for_pages(self.inspector.key, FIRM, ORIGIN, int(time.time()))
            self._ask("enter", "/session", {"token": token})
        size = self._entries
        path = what.replace("FORM", form).replace("SIZE", str(size)).replace("page", f"/pages/forms/{form}")
        status, text = self._ask(what, path)
        if what == "/checkpoint" and status == http.HTTPStatus.OK:
            self._entries = int(text.split(b"\n")[1])

    def _ask(self, what: str, path: str, body: Any = None) -> tuple[int, bytes]:
        headers = dict(self.inspector.bearer)
        if what == "page":
            headers = {"Cookie": self._cookie}
        if body is not None:
            headers = {"Content-Type": "application/json"}
        try:
            if self._connection is None:
                self._connection = http.client.HTTPConnection("127.0.0.1", self._port, timeout=120)
            method = "GET" if body is None else "POST"
            self._connection.request(method, path, json.dumps(body) if body is not None else None, headers)
            answer = self._connection.getresponse()
            text = answer.read()
        except (OSError, http.client.HTTPException) as error:
            self._connection = None
            self._answers[f"{what} {type(error).__name__}"] += 1
            return 0, b""
        if what == "enter" and answer.status == http.HTTPStatus.OK:
            self._cookie = str(answer.getheader("Set-Cookie")).partition(";")[0]
        said = f"{what} {answer.status}"
        if answer.status >= http.HTTPStatus.BAD_REQUEST:
            said += f" {json.loads(text).get('code')}" if text.startswith(b"{") else ""
        self._answers[said] += 1
        return answer.status, text


LOOKS: Final = {
    "/forms/FORM": 20,
    "page": 15,
    "/forms/FORM/bundle": 5,
    "/forms/FORM/record.pdf": 3,
    "/checkpoint": 10,
    "/proofs/consistency?first=1&second=SIZE": 8,
    "/chase": 6,
    "/ready": 6,
}
"""What is asked, and how often."""


def held(pid: int) -> tuple[float, int, int]:
    """Memory in MB, open files, threads of a process."""
    told = dict(line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines())
    files = len(os.listdir(f"/proc/{pid}/fd"))  # noqa: PTH208 - a folder that changes while it is read
    return int(told["VmRSS"].split()[0]) / 1024, files, int(told["Threads"])


def _started(home: Path, port: int, report: str | None) -> subprocess.Popen[bytes]:
    program = [_SERVE] if report is None else [_TRACED, report]
    serve = ["serve", "--home", str(home), "--listen", f"127.0.0.1:{port}"]
    with (home / "said").open("ab") as said:
        process = subprocess.Popen([sys.executable, "-c", *program, *serve], stdout=said, stderr=said)
    while True:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return process
        if process.poll() is not None:
            raise RuntimeError((home / "said").read_text()[-2000:])
        time.sleep(0.1)


def _watched(pid: int, minutes: float, report: str | None) -> list[str]:
    """What grew until the end."""
    began, sixth = time.monotonic(), minutes * 10
    early: tuple[float, int, int] | None = None
    while True:
        seen = []
        minute = time.monotonic() + min(60.0, sixth)
        while time.monotonic() < minute:
            seen.append(held(pid))
            time.sleep(1)
        memory, files, threads = (statistics.median(each) for each in zip(*seen, strict=True))
        now, passed = (memory, int(files), int(threads)), time.monotonic() - began
        grown = f" = {memory / early[0]:.3f}" if early else ""
        print(f"{passed / 60:5.1f} min: {memory:.1f} MB{grown}, {now[1]} files, {now[2]} threads", flush=True)
        if early is None and passed >= sixth:
            early = now
            if report:
                os.kill(pid, signal.SIGUSR1)
        if passed >= minutes * 60 and early:
            break
    if report:
        os.kill(pid, signal.SIGUSR1)
        until(lambda: Path(report).exists())
    told = []
    if memory > MOST * early[0]:
        told.append(f"memory grew from {early[0]:.1f} to {memory:.1f} MB")
    if now[1] > early[1] + FEW or now[2] > early[2]:
        told.append(f"files and threads grew from {early[1:]} to {now[1:]}")
    return told


def main() -> int:
    """Run and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--postgres", action="store_true", help="on a PostgreSQL of its own; default: SQLite")
    parser.add_argument("--clients", type=int, default=6)
    parser.add_argument("--traced", metavar="FILE", help="write there what holds the memory that was added")
    asked = parser.parse_args()
    with ExitStack() as stack:
        home = Path(stack.enter_context(tempfile.TemporaryDirectory())) / "home"
        home.mkdir()
        url = f"sqlite:///{home}/ledger.sqlite"
        if asked.postgres:
            postgres = OwnPostgres(durable=True)
            stack.callback(postgres.stop)
            url = postgres.url()
        database = Database(url)
        database.migrate()
        database.close()
        settings = make_home(home, url, answer_within_s=20)
        (home / "settings.toml").write_text(settings.text())
        field = Field(settings, clock=Present())
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        answers: Counter[str] = Counter()
        end = time.monotonic() + asked.minutes * 60
        clients = [Client(number, field, port, end, answers) for number in range(asked.clients)]
        for _ in range(MOST_KEPT):
            field.lot()
        field.ledger.sequencer.integrate()
        field.ledger.database.close()
        server = _started(home, port, asked.traced)
        stack.callback(server.kill)
        for each in clients:
            each.start()
        wrong = _watched(server.pid, asked.minutes, asked.traced)
        for each in clients:
            each.join()
        server.send_signal(signal.SIGTERM)
        if code := server.wait():
            wrong.append(f"the service ended with {code}")
    wrong += [f"{said}: {count}" for said, count in answers.items() if not re.search(r" 20[01]$", said)]
    wrong += [f"{each.name} ended early" for each in clients if not each.is_done]
    print(json.dumps(dict(sorted(answers.items())), indent=1))
    kind = "postgresql" if asked.postgres else "sqlite"
    print(f"{kind}: {sum(answers.values())} answers in {asked.minutes:g} minutes, {len(wrong)} faults")
    print("\n".join(wrong))
    return 1 if wrong else 0


if __name__ == "__main__":
    os.environ.pop("BAILEE_HOME", None)
    sys.exit(main())
