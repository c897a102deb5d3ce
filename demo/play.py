"""The whole journey on this machine: an invented firm and laboratory, real keys, the real services, real
HTTP.

    sh demo/run [--no-serve] [--out FOLDER]

Ends with 0 when every screen said what it should, with 1 and a sentence when one did not. Demo keys: not
evidence.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import audit
import bad_visit
import cast
import good_visit
import ground
import screens
import two_logs
import visitor
from cast import Story
from stage import Stage

OUT = Path(__file__).resolve().parent / "out"
WRITTEN = (
    ("labels.pdf", "labels for the cassettes, to print at 100 %"),
    ("envelope-label.pdf", "the label of the envelope"),
    ("custody-record-to-enclose.pdf", "the custody record that lies inside"),
    ("sealed-sheet.pdf", "the sheet outside, on which the dock writes"),
    ("custody-record.pdf", "the custody record of the good visit"),
    ("good-visit.json", "the auditor's file of the good visit"),
    ("good-visit-altered.json", "the same with one figure changed"),
    ("bad-visit.json", "the auditor's file of the bad visit"),
    ("log-policy.txt", "the log's key and its cosigner, for the auditor"),
    ("screens/", "every screen in full, by step and person"),
    ("journey.txt", "what you have just read"),
)


def main(arguments: Sequence[str]) -> int:
    """Play it; the exit code."""
    parser = argparse.ArgumentParser(
        prog="sh demo/run", description="The whole journey, in an invented firm and laboratory."
    )
    parser.add_argument("--no-serve", action="store_true", help="end after the journey")
    parser.add_argument("--out", type=Path, default=OUT, help="folder to write to [default: demo/out]")
    asked = parser.parse_args(arguments)
    zone = cast.daytime_zone(datetime.now(UTC))
    try:
        with ground.surroundings(zone):
            return play(asked.out, zone, stay=not asked.no_serve)
    except ground.DemoError as failure:
        print(f"\nThe demonstration stopped: {failure}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 0


def play(out: Path, zone: str, *, stay: bool) -> int:
    """From an empty folder to pages to browse."""
    began = time.monotonic()
    out = Path(os.path.relpath(out)) if Path.cwd() in out.resolve().parents else out
    ground.fresh(out)
    stage = Stage(out)
    stage.tell(
        "DEMO KEYS \N{EM DASH} NOT EVIDENCE. Every person, firm, laboratory, carrier and address is invented;"
        " the keys are real."
    )
    stage.act("Two ledgers, each cosigned by the other side")
    with two_logs.running(stage) as both:
        stage.act("A firm, a laboratory")
        story = Story(
            stage, zone, both.firm.address, both.firm.key, both.write_policy(out / "log-policy.txt")
        )
        cast.settle(story, both.firm.home)
        two_logs.begin_the_labs(stage, both)
        good = good_visit.play(story)
        bad = bad_visit.play(story)
        audit.play(story, both, good, bad)
        cast.ask_for_two(story)
        with screens.served(story) as there:
            if not stay:
                _on_screens(stage, there)
            _where_to_look(stage, time.monotonic() - began)
            if stay:
                where_to_play(stage, there)
                _stay()
    return 0


def _on_screens(stage: Stage, there: screens.Screens) -> None:
    """The ten steps that a visitor takes, by a browser without a window."""
    stage.act("The same on screens")
    with visitor.browser() as chromium:
        if chromium is None:
            stage.tell("Left out: the screens in a browser, since Playwright or Chromium is not here.")
            return
        visitor.play(there, chromium)
    stage.tell(
        "A visitor made three keys in a browser, collected, gave, sealed, shipped, received and accepted"
        " there; the file is complete and cosigned, and the altered one does not verify. The screens are in"
        f" {stage.folder / 'pictures'}."
    )


def _where_to_look(stage: Stage, seconds: float) -> None:
    stage.act(f"Done: {stage.count} steps in {seconds:.0f} seconds")
    stage.tell(f"Demo keys \N{EM DASH} not evidence. To look at, in the folder {stage.folder}:")
    for name, what in WRITTEN:
        if not (stage.folder / name).exists():
            raise ground.DemoError(f"{name} was not written.")
        stage.line(f"      {name:30} {what}")


def where_to_play(stage: Stage, there: screens.Screens) -> None:
    """The last that the start says: one address, on a line of its own."""
    stage.act("The services keep running until you press Ctrl-C")
    stage.tell(
        f"What was played: journey.txt and the papers in {stage.folder}. Now play it yourself, in ten steps"
        " and four roles, in Chrome, Edge or Firefox on this computer. Open:"
    )
    stage.line("")
    stage.line(f"{there.address()}/")


def _stay() -> None:
    while True:
        time.sleep(3600)


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # the services must not outlive us
    sys.exit(main(sys.argv[1:]))
