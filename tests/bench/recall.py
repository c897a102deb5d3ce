"""How long a recall takes: every sample, form, envelope and laboratory of one lot, out of a million samples.

    python tests/bench/recall.py [--samples 1000000] [--rounds 50] [--postgres]

Fills the index as registering would (four mentions a sample, four samples a form, forty a lot), without the
entries themselves, and asks for lots chosen at random. Prints the median and the slowest answer, and the size
of the index.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import sqlalchemy as sa
from machine import card

from bailee.domain import numbers
from bailee.operations import recall
from bailee.operations.snapshots import Books
from bailee.store import schema
from bailee.store.database import Database
from own_postgres import OwnPostgres

FORM, LOT = 4, 40
"""Samples on a form, and samples of one lot."""
FIRM, LABS = "harrow-field", ("quill-lab", "sedge-lab", "third-lab")
AT_ONCE = 50_000


def name(letter: str, number: int) -> str:
    """A number that is valid and the same in every run."""
    digits = ""
    for _ in range(10):
        number, rest = divmod(number, len(numbers.ALPHABET))
        digits += numbers.ALPHABET[rest]
    whole = letter + digits
    return whole + numbers.check_character(whole)


def rows(samples: int) -> Iterator[tuple[str, dict[str, Any]]]:
    """Chains, parties and mentions as they would have been indexed, oldest first."""
    lots = -(-samples // LOT)
    for lot in range(lots):
        yield "chain", {"id": lot + 1, "name": f"lot/{name('M', lot)}", "length": 2}
        yield "party", {"org": FIRM, "chain_id": lot + 1}
    for place in range(samples):
        form, sample, lot = place // FORM, name("S", place), name("M", (place * 7919) % lots)
        chain = lots + form + 1
        if place % FORM == 0:
            yield "chain", {"id": chain, "name": f"form/{name('F', form)}", "length": FORM + 3}
            for org in (FIRM, LABS[form % len(LABS)]):
                yield "party", {"org": org, "chain_id": chain}
        envelope, n = name("E", form // 5), place % FORM + 2
        said = (
            (sample, 1, "issued", None, (place * 7919) % lots + 1),
            (sample, n, "collected", lot, chain),
            (lot, n, "used", sample, chain),
            (sample, FORM + 2, "packed", envelope, chain),
        )
        for number, at, what, other, on in said:
            yield "mention", {"number": number, "chain_id": on, "n": at, "what": what, "other": other}


def fill(database: Database, samples: int) -> int:
    """Insert them in groups; how many mentions there were."""
    waiting: dict[str, list[dict[str, Any]]] = {"chain": [], "party": [], "mention": []}
    count = 0

    def flush() -> None:
        with database.engine.begin() as connection:
            for table, group in waiting.items():
                if group:
                    connection.execute(schema.metadata.tables[table].insert(), group)
                    group.clear()

    for table, row in rows(samples):
        waiting[table].append(row)
        count += table == "mention"
        if len(waiting["mention"]) >= AT_ONCE or len(waiting["chain"]) >= AT_ONCE:
            flush()
    flush()
    with database.engine.begin() as connection:
        connection.execute(sa.text("ANALYZE"))
    return count


def measure(database: Database, samples: int, rounds: int) -> list[float]:
    """Milliseconds of each answer; every one is checked for its number of samples."""
    chosen, lots = random.Random(7), -(-samples // LOT)
    took = []
    for _ in range(rounds):
        lot = name("M", chosen.randrange(lots))
        began = time.perf_counter()
        with database.reading() as connection:
            found = recall.uses(connection, Books(), FIRM, lot)
            told = (len(found.uses), len(found.forms), len(found.envelopes), len(found.laboratories))
        took.append((time.perf_counter() - began) * 1000)
        assert LOT * 0.9 <= told[0] <= LOT * 1.1, told
        assert all(told), told
    return took


def main() -> None:
    """Fill, ask, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--samples", type=int, default=1_000_000)
    parser.add_argument("--rounds", type=int, default=50)
    parser.add_argument("--postgres", action="store_true")
    wanted = parser.parse_args()
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        url = f"sqlite:///{folder / 'ledger.sqlite'}"
        if wanted.postgres:
            server = OwnPostgres()
            stack.callback(server.stop)
            url = server.url("postgres")
        database = Database(url)
        stack.callback(database.close)
        database.migrate()
        began = time.perf_counter()
        count = fill(database, wanted.samples)
        print(card())
        print(f"{wanted.samples} samples, {count} mentions filled in {time.perf_counter() - began:.0f} s")
        took = measure(database, wanted.samples, wanted.rounds)
        kind = "PostgreSQL" if wanted.postgres else "SQLite"
        print(
            f"{kind}: recall of a lot with {LOT} samples: median {statistics.median(took):.1f} ms, "
            f"slowest of {wanted.rounds} {max(took):.1f} ms (the first answer {took[0]:.1f} ms)"
        )


if __name__ == "__main__":
    main()
