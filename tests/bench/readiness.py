"""How long the readiness question takes, as the envelope grows: 10, 20 and 40 visits of five samples.

    python tests/bench/readiness.py [--rounds 5]

Everything is counted: reading and folding every form from the database, all rules, the statements to sign.
Prints the median and the cost of one sample; growth is linear when that cost stays level.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from datetime import UTC
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from machine import card

from bailee.domain import statements
from bailee.domain.moments import Moment
from bailee.operations import prepare
from bailee.store.database import Database
from field import FIRM, Field, make_home

VISITS = (10, 20, 40)
KINDS = ("indoor", "indoor", "indoor", "indoor", "outdoor")


def visits(field: Field, count: int) -> list[str]:
    """So many visits, all samples in the clerk's hands."""
    found = []
    for number in range(count):
        lot, samples = field.lot(len(KINDS))
        form = field.open_form()
        for sample, kind in zip(samples, KINDS, strict=True):
            field.collect(form, lot, sample, kind, pump=f"P-{number}")
        field.hand_to_clerk(form, samples)
        field.clock.advance(minutes=-50)
        found += samples
    return found


def main() -> int:
    """Measure and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=5)
    asked = parser.parse_args()
    print(card())
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/ledger.sqlite"
        Database(url).migrate()
        field = Field(make_home(Path(folder) / "home", url))
        samples = visits(field, max(VISITS))
        field.clock.advance(hours=1)
        for count in VISITS:
            part = samples[: count * len(KINDS)]
            times = []
            for _ in range(asked.rounds):
                at = Moment(field.clock().astimezone(UTC), -300)
                data = {
                    "envelope": field.number("envelope"),
                    "samples": part,
                    "total": len(part),
                    "seal": field.number("seal"),
                    "at": at.text(),
                    "across_opening": True,
                    "record_enclosed": True,
                }
                draft = statements.draft("form", "sealed", data, FIRM, field.people["clerk"].key.kid)
                began = time.perf_counter()
                with field.ledger.database.reading() as connection:
                    told = prepare.readiness(connection, field.ledger.books, draft, now=at)
                times.append(time.perf_counter() - began)
            took = statistics.median(times) * 1000
            print(
                f"{count:3} visits, {len(part):3} samples: {took:7.1f} ms, {took / len(part):5.2f} ms a"
                f" sample, ready: {told.ready}, {len(told.findings)} findings"
            )
        field.ledger.database.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
