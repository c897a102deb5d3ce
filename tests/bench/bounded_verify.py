"""What `bailee verify` takes of files that grow, up to the largest it reads: time and memory for each entry.

    python tests/bench/bounded_verify.py [--entries 20000] [--rounds 3] [--only NAME …]

Each file is read, verified and told by a fresh process at a quarter of the size and at the whole of it, in
turn; the least processor time of each counts. Prints milliseconds and kilobytes for each entry (what the
process holds at most, less what it holds with a file of a faultless visit; Linux tells it), and the ratio of
the time for an entry in the whole file to that in the quarter (goal: at most 1.3). Then the two largest
things that a file can hold beside entries: 1,000 contradictions, and members that this program does not know,
as long as a file may be and with as many values as it may have.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from machine import card

from bailee.verify import bundle, file_limits
from growing import Grown, grown

BESIDE = 60
"""Entries that every file has beside what grows, and some to spare: the whole stays below the bound."""
GROWING = {"entries": 1, "devices": 2, "samples": 1, "settings": 1, "elsewhere": 1, "disclosures": 1}
"""Directions, and how many entries each step adds.

`disclosures` is as large as a file may be with a sixth of the entries.
"""

JUDGE = """
import sys, time
def most():
    with open("/proc/self/status") as status:  # ru_maxrss would begin with what the parent held
        return next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
sys.path.insert(0, sys.argv[1])
from bailee.errors import BaileeError
from bailee.verify import bundle
from bailee.verify.report_text import render_text
from bailee.verify.verifier import verify
from growing import grown
from log_simulator import AT
trust = grown("entries", 0).trust
held = most()
data = open(sys.argv[2], "rb").read()
began = time.process_time()
try:
    told = bundle.read(data)
    said = f"{len(told.entries)} {len(render_text(verify(told, trust, AT)))}"
except BaileeError as error:
    said = f"0 {error.code}"
print(said, time.process_time() - began, most() - held)
"""


def judged(path: Path) -> tuple[int, float, int, str]:
    """Entries, seconds and kilobytes of one process with this file, and how long its report is or why there
    is none.
    """
    here = str(Path(__file__).resolve().parents[1])
    done = subprocess.run(
        [sys.executable, "-c", JUDGE, here, str(path)], capture_output=True, check=True, env=dict(os.environ)
    )
    entries, said, seconds, memory = done.stdout.decode().split()
    return int(entries), float(seconds), int(memory), said


def written(folder: Path, name: str, text: str) -> Path:
    """The file."""
    path = folder / f"{name.replace(' ', '-')}.json"
    path.write_text(text, "utf-8")
    return path


def unknown(values: int, size: int) -> str:
    """A faultless file with a member of so many values, and of a text that makes it so many bytes."""
    text = bundle.write(grown("entries", 0).bundle).rstrip()[:-1]
    parts = values - sum(map(text.count, ",[{")) - 4
    text += ', "many": [' + ",".join(["7"] * parts) + '], "long": "'
    return text + "x" * (size - len(text) - 2) + '"}'


def growth(folder: Path, name: str, entries: int, rounds: int) -> None:
    """One direction at both sizes."""
    found: list[tuple[int, float, int, int]] = []
    paths = []
    for whole in (entries // 4, entries):
        made: Grown = grown(name, (whole - BESIDE) // GROWING[name])
        text = bundle.write(made.bundle)
        paths.append((written(folder, f"{name}-{whole}", text), len(text)))
    for path, size in paths:
        tries = [judged(path) for _ in range(rounds)]
        count, _, memory, _ = tries[0]
        found.append((count, min(each[1] for each in tries), memory, size))
    for count, seconds, memory, size in found:
        each = f"{1000 * seconds / count:6.2f} ms, {memory / count:6.1f} kB for each" if count else "refused"
        print(
            f"{name:14} {count:6,} entries {size / 1e6:5.1f} MB: {seconds:6.1f} s, {memory / 1024:5.0f} MiB;"
            f" {each}"
        )
    (few, quick, *_), (many, slow, *_) = found
    if few and many:
        print(f"{name:14} ratio {slow / many / (quick / few):.2f}", flush=True)


def main() -> int:
    """Measure and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--entries", type=int, default=file_limits.MAX_ENTRIES)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--only", nargs="*", default=[*GROWING, "contradictions", "unknown members"])
    asked = parser.parse_args()
    print(card())
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        for name in GROWING:
            if name in asked.only:
                growth(folder, name, asked.entries // (6 if name == "disclosures" else 1), asked.rounds)
        files = {
            "contradictions": lambda: bundle.write(grown("contradictions", file_limits.MAX_CONFLICTS).bundle),
            "unknown members": lambda: unknown(file_limits.MAX_PARTS, file_limits.MAX_BYTES),
        }
        for name, make in files.items():
            if name in asked.only:
                text = make()
                count, seconds, memory, said = judged(written(folder, name, text))
                print(
                    f"{name:16} {len(text) / 1e6:5.1f} MB, {count:,} entries: {seconds:.1f} s,"
                    f" {memory / 1024:.0f} MiB; report {said}",
                    flush=True,
                )
    return 0


if __name__ == "__main__":
    sys.exit(main())
