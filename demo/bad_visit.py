"""The bad visit beside it: an expired cassette, a late entry, a broken seal, four in a box of five.

All of it is recorded as it is.
"""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from cast import LAB, Story
from good_visit import ASKED, FLOW, FOUND, OUTDOORS, RUN, Visit, hand_to_clerk, indoor, lot, newest_form

from bailee.domain import numbers
from bailee.domain.numbers import grouped

SEAL: Final = "HF-20418"


def play(story: Story) -> Visit:
    """The same trade, on a bad day."""
    stage = story.stage
    stage.act("A bad visit")
    now = datetime.now(ZoneInfo(story.zone))
    old = now.date().replace(day=1) - timedelta(days=40)
    _, good = lot(
        story,
        4,
        f"{now.year + 1}-12",
        "42-0118",
        "second",
        "Mina enters another box of four, for Bram Sorrel.",
    )
    number, expired = lot(
        story,
        1,
        f"{old.year + 1}-{old:%m}",
        "39-0042",
        "second",
        f"He finds a fifth cassette in his van. Its box says {old:%Y-%m}; she reads a year too much and"
        " issues a number.",
    )
    stage.step(
        "She sees it when he has left, and corrects it. The old value stays visible.",
        "keeper",
        "lot",
        "expiry",
        grouped(number),
        f"{old:%Y-%m}",
        "--reason",
        "misread",
        shows=["Recorded: expiry corrected"],
    )
    samples = [*good[:3], *expired, good[3]]
    form = _collect(story, samples)
    hand_to_clerk(story, "second", samples, "Bram relinquishes all five to Cato.")
    envelope = _exception(story, samples)
    _dock(story, envelope, samples)
    stage.step(
        "What do the rules find, and what are the four verdicts? In short:",
        "lab-quality", "check", grouped(form), code=1,
    )  # fmt: skip
    stage.in_short(
        stage.answer("lab-quality", "check", form, code=1),
        ["CU-05", "CU-15", "ML-02", "ML-11", "RC-01", "RC-03", "RC-06"],
    )
    return Visit(form, samples, envelope)


def _collect(story: Story, samples: list[str]) -> str:
    stage = story.stage
    stage.step(
        "Bram opens his form.",
        "second",
        "open",
        "--lab",
        LAB,
        "--zone",
        story.zone,
        "--client",
        "Ottoline Sample",
        "--site",
        "3 Nowhere Row",
        "--question",
        "stain on a ceiling",
        *ASKED,
        *FOUND,
        "--quiet",
        shows=["Form "],
    )
    form = newest_form(stage, "second")
    stage.step(
        "The first cassette ran an hour and a half ago, and he signs only now: recorded, called late.",
        "second",
        "collect",
        samples[0],
        *indoor("bedroom"),
        "--point",
        "P1",
        "--serial",
        "K-4401",
        "--pump",
        "P-9",
        "--started",
        story.clock(95),
        *RUN,
        *FLOW,
        shows=["Volume", "Recorded"],
    )
    rest = (
        (samples[1], 27, indoor("kitchen")),
        (samples[2], 21, indoor("hallway", "reference")),
        (samples[4], 9, OUTDOORS),
    )
    for number, (sample, ago, what) in enumerate(rest, 2):
        if number == 2:
            stage.headline("Two more rooms and the outdoor control go as they should.")
        stage.typed(
            "second",
            "collect",
            sample,
            *what,
            "--point",
            f"P{number}",
            "--serial",
            f"K-440{number}",
            "--pump",
            "P-9",
            "--started",
            story.clock(ago),
            *RUN,
            *FLOW,
            shows=["Recorded"],
        )
    stage.step(
        "The fifth is the expired one. The screen says so at once; he uses it all the same.",
        "second",
        "collect",
        samples[3],
        *indoor("bathroom"),
        "--point",
        "P5",
        "--serial",
        "K-4405",
        "--pump",
        "P-9",
        "--started",
        story.clock(15),
        *RUN,
        *FLOW,
        shows=["HAS PASSED", "Recorded"],
    )
    return form


def _exception(story: Story, samples: list[str]) -> str:
    stage = story.stage
    envelope = numbers.issue("envelope", secrets.choice)
    sealing = (
        "seal",
        "--envelope",
        grouped(envelope),
        *map(grouped, samples),
        "--counted",
        "5",
        "--seal",
        SEAL,
        "--across-opening",
        "--record-enclosed",
        "--yes",
    )
    stage.step(
        "Cato wants to seal: the expired cassette stops the envelope.",
        "clerk", *sealing, shows=["NOT READY"], code=1,
    )  # fmt: skip
    stage.in_short(stage.answer("clerk", *sealing, code=1), ["ML-02", "SE-01"])
    stage.step(
        "Bram may not excuse himself. Quentin Ashby, quality, allows it: a recorded deviation.",
        "quality",
        "except",
        "ML-02",
        grouped(samples[3]),
        "--reason",
        "no_alternative",
        shows=["Recorded: excepted"],
    )
    stage.step(
        "Now Cato may seal; what was excepted stays a warning, and he signs that he saw it.",
        "clerk", *sealing, shows=["acknowledged by signing", "5 samples", "Recorded: sealed"],
    )  # fmt: skip
    stage.step(
        "He ships it.",
        "clerk",
        "ship",
        grouped(envelope),
        "--carrier",
        "acorn-freight",
        "--service",
        "next day",
        "--tracking",
        "AF-1002004",
        "--zone",
        story.zone,
        "--yes",
        shows=["Expected delivery", "Recorded: shipped"],
    )
    return envelope


def _dock(story: Story, envelope: str, samples: list[str]) -> None:
    stage = story.stage
    stage.tell("(The night is left out again; that is why the break in custody below has no length.)")
    found = [grouped(each) for number, each in enumerate(samples) if number != 1]
    stage.step(
        "At the dock: a broken seal, and four cassettes where five were stated. Recorded, not refused.",
        "dock",
        "receive",
        grouped(envelope),
        *found,
        "--package",
        "opened",
        "--seal",
        SEAL,
        "--seal-state",
        "broken",
        "--counted",
        "4",
        "--record-enclosed",
        "--all-intact",
        "--yes",
        shows=[
            "Discrepancies: The seal is broken. 4 counted; 5 on record.",
            "Not inside",
            "Recorded: received",
        ],
    )
    stage.step(
        "Lys Penhallow, quality of the laboratory, puts the four on hold and calls the sampling firm.",
        "lab-quality",
        "put-on-hold",
        *found,
        "--reason",
        "seal",
        "--reason",
        "count",
        "--reason",
        "media_expired",
        "--called",
        story.clock(),
        "--zone",
        story.zone,
        "--called-person",
        "Cato Wren",
        shows=["Recorded: on hold"],
    )
