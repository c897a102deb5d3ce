"""Fuzz every parser that meets bytes of strangers.

    python tests/fuzz/run.py --minutes 60 [--from 0] [--output FOLDER] [PARSER…]

Every parser named, or each, gets so many minutes, by turns of ten seconds. What crashed is written to the
folder: the case, and beside it what was raised. What walked new lines is written to `kept/`. The last lines
tell executions and minutes of each. Ends with 1 when anything crashed.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import logging
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fuzz.engine import Crash, Fuzzer
from fuzz.parsers import PARSERS

TURN_S = 10.0
MEMORY = 3 * 1024**3
"""Bytes of address space: who asks for more gets a MemoryError."""


def main() -> int:
    """The command."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("parsers", nargs="*", metavar="PARSER", help=f"of {', '.join(PARSERS)}")
    asked.add_argument("--minutes", type=float, default=60.0, help="for each parser")
    asked.add_argument("--from", type=int, default=0, dest="first", help="number of the first case")
    asked.add_argument("--output", type=Path, help="folder for what is found")
    given = asked.parse_args()
    output = given.output or Path(tempfile.mkdtemp(prefix="bailee-fuzz-found-"))
    (output / "kept").mkdir(parents=True, exist_ok=True)
    logging.disable(logging.CRITICAL)
    with contextlib.suppress(ImportError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    fuzzers = [Fuzzer(name) for name in given.parsers or PARSERS]
    numbers = {each.name: given.first for each in fuzzers}
    spent = dict.fromkeys(numbers, 0.0)
    seen: dict[str, int] = {}

    def tell(crash: Crash) -> None:
        seen[crash.name] = seen.get(crash.name, 0) + 1
        if seen[crash.name] == 1:
            (output / crash.name).write_bytes(crash.case)
            (output / f"{crash.name}.txt").write_text(
                f"{crash.what} at {crash.where}\n\n{crash.told}", "utf-8", "replace"
            )
            print(f"{crash.name}: {crash.what} at {crash.where}", flush=True)

    print(f"{len(fuzzers)} parsers, {given.minutes:g} min each; what is found goes to {output}", flush=True)
    for each in fuzzers:
        for crash in each.replay():
            tell(crash)
    rounds = 0
    while left := [each for each in fuzzers if spent[each.name] < 60 * given.minutes]:
        for each in left:
            begin, known = time.monotonic(), set(each.kept)
            while time.monotonic() - begin < min(TURN_S, 60 * given.minutes):
                for crash in each.step(numbers[each.name]):
                    tell(crash)
                numbers[each.name] += 1
            spent[each.name] += time.monotonic() - begin
            for case in set(each.kept) - known:
                (output / "kept" / f"{each.name}-{hashlib.sha256(case).hexdigest()[:12]}").write_bytes(case)
        rounds += 1
        if rounds % 10 == 0:
            _tell_counts(fuzzers, spent, seen)
    _tell_counts(fuzzers, spent, seen)
    return 1 if seen else 0


def _tell_counts(fuzzers: list[Fuzzer], spent: dict[str, float], seen: dict[str, int]) -> None:
    for each in fuzzers:
        crashes = sum(name.startswith(f"{each.name}-") for name in seen)
        print(
            f"{each.name:<18} {spent[each.name] / 60:6.1f} min {each.executions:>10,} executions"
            f" {len(each.kept):>5} kept {crashes} faults",
            flush=True,
        )
    print(flush=True)


if __name__ == "__main__":
    sys.exit(main())
