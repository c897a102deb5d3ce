"""Whether time tells that a number exists: questions about what may not be seen, beside the same about what
is not there.

    python tests/bench/visibility.py [--rounds 300]

A third organization asks a ledger in which two others made forty visits, of which none is its own. Each round
asks in turn about a number of theirs and about two that nobody ever had, in an order drawn anew; the
processor's time is taken, because waiting is the same for all. Prints for each operation the median of the
ratio unseen/unknown in paired rounds, and beside it the same of the two unknown numbers: what chance alone
makes of it on this machine. The goal is that both columns say the same; the exit code is 1 when the median of
an operation lies farther from 1 than `FAR` and than three times chance.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from machine import card

from bailee.ledger import entry as entries
from bailee.signing import signed_statement
from bailee.store import log
from bailee.store.database import Database
from field import OUTSIDER, Device, Field, make_home

VISITS: Final = 40
FAR: Final = 0.05
"""Five per cent of an answer: below that, a network hides it."""
AT: Final = "2026-12-01T09:12:00-05:00"
PATHS: Final = {
    "form": (
        "/forms/{}",
        "/forms/{}/facts",
        "/forms/{}/record.pdf",
        "/forms/{}/bundle",
        "/window?number={}&carrier=acorn-freight&handed_over=2026-12-01T16:00&service_days=1",
    ),
    "envelope": ("/envelopes/{}", "/envelopes/{}/sealing"),
    "sample": ("/samples/{}",),
    "lot": ("/lots/{}", "/lots/{}/uses"),
    "statement": ("/statements/{}",),
    "entry": ("/entries/{}",),
}
Ask = Callable[[str], Any]


def visits(field: Field) -> dict[str, list[str]]:
    """So many visits up to the carrier: numbers by kind."""
    found: dict[str, list[str]] = {kind: [] for kind in PATHS}
    for _ in range(VISITS):
        lot, samples = field.lot(2)
        form, envelope = field.open_form(), field.number("envelope")
        for sample, kind in zip(samples, ("indoor", "outdoor"), strict=True):
            field.collect(form, lot, sample, kind)
        field.hand_to_clerk(form, samples)
        field.seal(envelope, samples, field.number("seal"))
        for kind, number in (("form", form), ("envelope", envelope), ("sample", samples[0]), ("lot", lot)):
            found[kind].append(number)
    field.ledger.sequencer.integrate()
    with field.ledger.database.reading() as connection:
        for form in found["form"]:
            newest = log.chain(connection, f"form/{form}")[-1]
            found["statement"].append(signed_statement.digest(entries.read(newest.text).stmt))
            found["entry"].append(str(newest.index))
    return found


def nowhere(field: Field, kind: str, dice: random.Random) -> str:
    """A number that nobody ever had."""
    match kind:
        case "statement":
            return signed_statement.digest(str(dice.random()))
        case "entry":
            return str(1_000_000 + dice.randrange(1_000_000))
    return field.number(kind)  # type: ignore[arg-type]


def asks(field: Field, stranger: Device) -> Iterator[tuple[str, str, Ask]]:
    """Each operation: its name, the kind of number it asks about, and how."""
    client = field.app.test_client()

    def get(path: str) -> Ask:
        return lambda number: client.get(path.format(number), headers=stranger.bearer)

    for kind, paths in PATHS.items():
        for path in paths:
            yield f"GET {path.format(f'<{kind}>')}", kind, get(path)
    yield (
        "POST /readiness (taking)",
        "sample",
        lambda number: client.post(
            "/readiness",
            json={
                "act": "received",
                "data": {"items": [{"sample": number, "condition": ["intact"]}], "at": AT},
            },
            headers=stranger.bearer,
        ),
    )
    yield (
        "POST /entries (voided)",
        "form",
        lambda number: client.post(
            "/entries",
            json=stranger.sign(
                f"form/{number}", "voided", {"sample": field.number("sample"), "reason": "dropped"}
            ),
        ),
    )


def timed(ask: Ask, number: str) -> tuple[float, int]:
    """Seconds of work and status of one answer. Signing the question is part of both sides, and the same."""
    began = time.thread_time()
    answer = ask(number)
    return time.thread_time() - began, answer.status_code


def main() -> int:
    """Measure and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=300)
    rounds = parser.parse_args().rounds
    print(card())
    dice, told = random.Random(11), 0
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/ledger.sqlite"
        Database(url).migrate()
        field = Field(make_home(Path(folder) / "home", url))
        unseen = visits(field)
        field.clock.advance(hours=1)
        stranger = _third(field)
        for name, kind, ask in asks(field, stranger):
            ratios, chance, statuses = [], [], set()
            for _ in range(rounds):
                numbers = {
                    "unseen": dice.choice(unseen[kind]),
                    "unknown": nowhere(field, kind, dice),
                    "again": nowhere(field, kind, dice),
                }
                took = {}
                for which in dice.sample(sorted(numbers), 3):
                    took[which], status = timed(ask, numbers[which])
                    statuses.add(status)
                ratios.append(took["unseen"] / took["unknown"])
                chance.append(took["again"] / took["unknown"])
            ratio, null = statistics.median(ratios), statistics.median(chance)
            tells = abs(ratio - 1) > max(FAR, 3 * abs(null - 1))
            told += tells
            print(
                f"{name:36} {statuses}  unseen/unknown {ratio:.3f}  unknown/unknown"
                f" {null:.3f}{'  TELLS' if tells else ''}"
            )
        field.ledger.database.close()
    return 1 if told else 0


def _third(field: Field) -> Device:
    root = field.roots[OUTSIDER] = field.device("third root", OUTSIDER)
    founded = {"name": "Third", "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign(f"org/{OUTSIDER}", "founded", founded)), root)
    stranger = field.device("stranger", OUTSIDER)
    field.enroll(stranger, "inspector")
    return stranger


if __name__ == "__main__":
    sys.exit(main())
