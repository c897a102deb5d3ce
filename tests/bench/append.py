"""What one registered statement costs over HTTP, beside the least it could cost.

    python tests/bench/append.py [--rounds 5] [--requests 300] [--clients 1] [--postgres]

The floor is a Flask view under the same server that does only what cannot be left out: validate the JSON,
check one Ed25519 signature, hash, sign, read a head, insert one row, commit durably, by the driver's own SQL.
Product and floor run in turn, so that a busy machine hurts both. Prints medians and their ratio (goals: 1.6
for one client, 0.65 of the floor's rate for eight).
"""

from __future__ import annotations

import argparse
import hashlib
import http.client
import json
import multiprocessing
import statistics
import sys
import tempfile
import threading
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from flask import Flask, Response, request
from machine import card
from pydantic import BaseModel
from waitress.server import create_server

from bailee.ledger.base64url import unb64u
from bailee.store.database import Database
from field import Field, make_home
from own_postgres import OwnPostgres

FORMS = 50


class Body(BaseModel):
    """What the floor reads of a request."""

    statement: str
    disclosures: list[str]


def product(url: str, home: Path, count: int) -> tuple[Any, list[bytes]]:
    """The real application, and as many signed statements ready to send."""
    field = Field(make_home(home, url))
    lot, samples = field.lot(FORMS)
    forms = []
    for sample in samples:
        forms.append(field.open_form())
        field.collect(forms[-1], lot, sample)
    data = {"secured": "possession", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}
    inspector = field.people["inspector"]
    signed = [
        inspector.sign(
            f"form/{forms[n % FORMS]}", "held", {**data, "samples": [samples[n % FORMS]]}, after=None
        )
        for n in range(count)
    ]
    field.ledger.sequencer.start(0.5)
    return field.app, [json.dumps(each).encode() for each in signed]


def floor(url: str) -> Any:
    """The bare handler, checking the same texts with the one key that signed them (`field.Field` makes it
    from its name).
    """
    database = Database(url)
    with database.engine.begin() as connection:
        connection.exec_driver_sql(
            "CREATE TABLE bare (chain INTEGER, n INTEGER, body TEXT, leaf TEXT, PRIMARY KEY (chain, n))"
        )
        connection.exec_driver_sql("CREATE TABLE bare_head (chain INTEGER PRIMARY KEY, n INTEGER, leaf TEXT)")
        for chain in range(FORMS):
            connection.exec_driver_sql(f"INSERT INTO bare_head VALUES ({chain}, 0, '')")
    own = Ed25519PrivateKey.generate()
    public = Ed25519PrivateKey.from_private_bytes(hashlib.sha256(b"inspector").digest()).public_key()
    lock = threading.Lock()
    mark = "?" if database.is_sqlite else "%s"
    update = f"UPDATE bare_head SET n = {mark}, leaf = {mark} WHERE chain = {mark}"
    insert = f"INSERT INTO bare VALUES ({mark}, {mark}, {mark}, {mark})"
    read = f"SELECT n, leaf FROM bare_head WHERE chain = {mark}" + (
        "" if database.is_sqlite else " FOR UPDATE"
    )

    app = Flask("floor")

    @app.post("/entries")
    def append() -> Response:
        text = Body.model_validate_json(request.get_data(cache=False)).statement
        signing_input, _, signature = text.rpartition(".")
        public.verify(unb64u(signature), signing_input.encode())
        chain = int(hashlib.sha256(text.encode()).hexdigest(), 16) % FORMS
        with lock:
            connection = database.engine.raw_connection()
            try:
                cursor = connection.cursor()
                if database.is_sqlite:
                    cursor.execute("BEGIN IMMEDIATE")
                cursor.execute(read, (chain,))
                n, leaf = cursor.fetchone()
                new = hashlib.sha256(f"{leaf}{text}".encode()).hexdigest()
                own.sign(new.encode())
                cursor.execute(insert, (chain, n + 1, text, new))
                cursor.execute(update, (n + 1, new, chain))
                connection.commit()
            finally:
                connection.close()
        return Response(json.dumps({"leaf": new}), 201, content_type="application/json")

    return app


def send(port: int, bodies: list[bytes], results: Any) -> None:
    """Send one after the other over one connection; the time of each."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    times = []
    for body in bodies:
        began = time.perf_counter()
        connection.request("POST", "/entries", body, {"Content-Type": "application/json"})
        answer = connection.getresponse()
        answer.read()
        times.append(time.perf_counter() - began)
        assert answer.status == 201, answer.status
    results.put(times)


def measure(port: int, bodies: list[bytes], clients: int) -> tuple[list[float], float]:
    """All times, and requests a second."""
    results: Any = multiprocessing.Queue()
    workers = [
        multiprocessing.Process(target=send, args=(port, bodies[n::clients], results)) for n in range(clients)
    ]
    began = time.perf_counter()
    for worker in workers:
        worker.start()
    times = [each for _ in workers for each in results.get()]
    took = time.perf_counter() - began
    for worker in workers:
        worker.join()
    return times, len(times) / took


def serve(app: Any) -> int:
    """The application under waitress with four threads, in a thread of its own."""
    server = create_server(app, host="127.0.0.1", port=0, threads=4, ident=None)
    threading.Thread(target=server.run, daemon=True).start()
    return int(server.effective_port)


def main() -> int:
    """Run in turn and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--requests", type=int, default=300)
    parser.add_argument("--clients", type=int, default=1)
    parser.add_argument("--postgres", action="store_true")
    asked = parser.parse_args()
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        url = f"sqlite:///{folder}/ledger.sqlite"
        bare = f"sqlite:///{folder}/bare.sqlite"
        if asked.postgres:
            server = OwnPostgres(durable=True)
            stack.callback(server.stop)
            url = bare = server.url()
        Database(url).migrate()
        app, bodies = product(url, folder / "home", asked.rounds * asked.requests)
        ports = {"product": serve(app), "floor": serve(floor(bare))}
        times: dict[str, list[float]] = {name: [] for name in ports}
        rates: dict[str, list[float]] = {name: [] for name in ports}
        for number in range(asked.rounds):
            part = bodies[number * asked.requests : (number + 1) * asked.requests]
            for name, port in ports.items() if number % 2 else reversed(ports.items()):
                found, rate = measure(port, part, asked.clients)
                times[name] += found
                rates[name].append(rate)
        p50 = {name: statistics.median(found) * 1e6 for name, found in times.items()}
        p99 = {name: statistics.quantiles(found, n=100)[98] * 1e6 for name, found in times.items()}
        rate = {name: statistics.median(found) for name, found in rates.items()}
        print(card())
        for name in ports:
            print(f"{name:8} p50 {p50[name]:7.0f} us  p99 {p99[name]:7.0f} us  {rate[name]:6.0f}/s")
        print(
            f"p50 ratio {p50['product'] / p50['floor']:.2f}  rate ratio {rate['product'] / rate['floor']:.2f}"
        )
        app.extensions["ledger"].sequencer.stop()
    return 0


if __name__ == "__main__":
    multiprocessing.set_start_method("fork")
    sys.exit(main())
