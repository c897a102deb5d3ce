"""The good visit: from a lot of cassettes to accepted samples, with one readiness question that is answered
with no.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from cast import FIRM, LAB, Story
from stage import Stage

from bailee.domain.numbers import grouped

SEAL: Final = "HF-20417"
RUN: Final = (
    "--run",
    "5:00",
    "--planned",
    "5:00",
    "--covers",
    "--meter",
    "M-3",
    "--height",
    "4 ft",
    "--near",
    "none",
)
FLOW: Final = ("--flow-before", "15.0", "--flow-after", "14.9")
OUTDOORS: Final = (
    "--kind",
    "outdoor",
    "--room",
    "outdoors",
    "--space",
    "other",
    "--area",
    "reference",
    "--distance",
    "12 ft",
    "--sky",
    "cloudy",
    "--wind",
    "light",
)
ASKED: Final = ("--analysis", "spore count", "--turnaround", "2 days")
FOUND: Final = (
    "--ventilation",
    "normal",
    "--windows-closed-h",
    "26",
    "--purifiers-off-h",
    "26",
    "--fresh-air",
    "none",
    "--cleaned-h-ago",
    "48",
)


@dataclass(frozen=True)
class Visit:
    """The numbers of one visit."""

    form: str
    samples: list[str]
    envelope: str = ""


def indoor(room: str, area: str = "complaint") -> tuple[str, ...]:
    """The words for an indoor sample."""
    return ("--kind", "indoor", "--room", room, "--space", "conditioned", "--area", area)


def lot(
    story: Story, count: int, expiry: str, maker_lot: str, to: str, sentence: str, kind: str = "slit"
) -> tuple[str, list[str]]:
    """A lot received and issued: its number and the sample numbers."""
    stage = story.stage
    stage.step(
        sentence,
        "keeper",
        "lot",
        "receive",
        "--maker-lot",
        maker_lot,
        "--cassette",
        kind,
        "--expiry",
        expiry,
        "--count",
        str(count),
        *(("--nominal-flow", "15.0") if kind == "slit" else ()),
        shows=["Lot ", "Recorded"],
    )
    number = next(
        each["lot"]
        for each in stage.answer("keeper", "lot", "show")["lots"]
        if each["maker_lot"] == maker_lot
    )
    stage.typed(
        "keeper",
        "lot",
        "issue",
        grouped(number),
        "--count",
        str(count),
        "--to",
        story.kids[to],
        shows=["Recorded: issued"],
    )
    issued: list[str] = stage.answer("keeper", "lot", "show", number)["issued"]
    return number, issued


def newest_form(stage: Stage, who: str) -> str:
    """The form somebody has just opened."""
    spoken = stage.answer(who, "outbox")
    return next(str(each["chain"]).removeprefix("form/") for each in spoken if each["act"] == "opened")


def play(story: Story) -> Visit:
    """Lot, labels, visit, envelope, dock."""
    stage = story.stage
    stage.act("A good visit")
    stage.tell(
        f"The site lies in {story.zone}, where it is day as you read this; all times below are on its clock."
    )
    year = datetime.now(ZoneInfo(story.zone)).year + 1
    media, samples = lot(
        story,
        4,
        f"{year}-12",
        "42-0117",
        "inspector",
        "Mina Tarn, media keeper, enters a box of four cassettes and issues four numbers.",
    )
    stage.step(
        "She prints the labels; each goes on the cassette itself, never on a cover that comes off.",
        "keeper",
        "label",
        "sheet",
        grouped(media),
        "--pdf",
        str(story.out / "labels.pdf"),
        shows=["Written to"],
    )
    tapes = "She enters a tape for surfaces too: no air is drawn through it."
    _, (tape,) = lot(story, 1, f"{year}-12", "12-0004", "inspector", tapes, "tape")
    form = _on_site(story, samples)
    _outdoor_control(story, samples)
    _surface(story, tape)
    samples = [*samples, tape]
    envelope = _pack(story, form, samples)
    _dock(story, form, envelope, samples)
    return Visit(form, samples, envelope)


def _on_site(story: Story, samples: list[str]) -> str:
    stage = story.stage
    stage.step(
        "Ines Marlow, inspector, opens the form of her visit and reads the cautions.",
        "inspector",
        "open",
        "--lab",
        LAB,
        "--zone",
        story.zone,
        "--client",
        "Perpetua Example",
        "--site",
        "12 Invented Lane",
        "--question",
        "musty odor in the basement",
        "--method",
        "ASTM D7788",
        *ASKED,
        *FOUND,
        shows=["Before you start", "1. Look first", "2. Do not touch", "6. Before going in", "Form "],
        full=True,
    )
    form = newest_form(stage, "inspector")
    stage.step(
        "She runs the first cassette in the bedroom; the volume is computed, never typed.",
        "inspector",
        "collect",
        samples[0],
        *indoor("bedroom"),
        "--point",
        "P1",
        "--serial",
        "K-3301",
        "--pump",
        "P-7",
        "--started",
        story.clock(27),
        *RUN,
        *FLOW,
        shows=["expiration date", "Volume 74.75 L", "No outdoor control yet."],
        full=True,
    )
    stage.step(
        "No signal in the basement: the next two are signed on the phone and wait there.",
        "inspector",
        "collect",
        samples[1],
        *indoor("basement"),
        "--point",
        "P2",
        "--serial",
        "K-3302",
        "--pump",
        "P-7",
        "--started",
        story.clock(21),
        *RUN,
        *FLOW,
        "--offline",
        shows=["not sent yet"],
    )
    stage.typed(
        "inspector",
        "collect",
        samples[2],
        *indoor("living", "reference"),
        "--point",
        "P3",
        "--serial",
        "K-3303",
        "--pump",
        "P-7",
        "--started",
        story.clock(15),
        *RUN,
        *FLOW,
        "--offline",
        shows=["not sent yet"],
    )
    stage.step("Upstairs again, she sends them.", "inspector", "send", shows=["Recorded: collected"])
    return form


def _outdoor_control(story: Story, samples: list[str]) -> None:
    stage = story.stage
    stage.step(
        "Before she drives off she asks whether the three may be sealed: no, and it shows why.",
        "inspector",
        "seal",
        *map(grouped, samples[:3]),
        "--counted",
        "3",
        "--seal",
        SEAL,
        "--across-opening",
        "--record-enclosed",
        "--yes",
        shows=["NOT READY", "OC-01", "Nothing was signed"],
        since="NOT READY",
        code=1,
    )
    stage.step(
        "So she collects the outdoor control, twelve feet from the house.",
        "inspector",
        "collect",
        samples[3],
        *OUTDOORS,
        "--point",
        "P4",
        "--serial",
        "K-3304",
        "--pump",
        "P-7",
        "--started",
        story.clock(8),
        *RUN,
        *FLOW,
        shows=["Volume", "Recorded"],
    )
    air = ("inspector", "read-conditions", "--instrument", "T-2", "--where")
    stage.step(
        "She reads the air indoors and outdoors, where it has been dry since yesterday.",
        *air,
        "indoors",
        "--temperature-c",
        "21",
        "--humidity-pct",
        "58",
        shows=["Recorded: conditions read"],
    )
    stage.typed(
        *air,
        "outdoors",
        "--temperature-c",
        "9",
        "--humidity-pct",
        "70",
        "--rain-ended-h",
        "20",
        shows=["Recorded: conditions read"],
    )


def _surface(story: Story, tape: str) -> None:
    story.stage.step(
        "She lifts a stain off the basement wall with the tape: a surface has no volume and no control.",
        "inspector",
        "collect-surface",
        tape,
        *("--medium", "tape", "--room", "basement", "--point", "P5", "--area", "complaint"),
        *("--material", "drywall", "--surface", "stained", "--area-cm2", "4", "--label-on", "bag"),
        *("--place", "under the window", "--presence", "--no-culture"),
        shows=["Recorded: surface collected"],
    )
    story.stage.step(
        "On the way the kit stays with her.",
        "inspector",
        "secure",
        "--how",
        "possession",
        "--where",
        "person",
        "--at",
        story.clock(2),
        "--zone",
        story.zone,
        shows=["Recorded: held"],
    )


def hand_to_clerk(story: Story, who: str, samples: list[str], sentence: str) -> None:
    """An inspector gives, the clerk takes: two signatures."""
    numbers = [grouped(each) for each in samples]
    story.stage.step(
        sentence,
        who,
        "give",
        *numbers,
        "--to",
        FIRM,
        "--to-key",
        story.kids["clerk"],
        "--count",
        str(len(samples)),
        "--purpose",
        "shipping",
        shows=["Recorded: relinquished"],
    )
    story.stage.typed(
        "clerk",
        "take",
        *numbers,
        "--condition",
        "intact",
        "--count",
        str(len(samples)),
        "--purpose",
        "shipping",
        shows=["Recorded: received"],
    )


def _pack(story: Story, form: str, samples: list[str]) -> str:
    stage = story.stage
    hand_to_clerk(
        story,
        "inspector",
        samples,
        "Back at the office she relinquishes all five to Cato Wren, clerk, and he receives them.",
    )
    printed = stage.step(
        "He prints the custody record that goes into the envelope; it names the seal in his hand.",
        "clerk",
        "record",
        grouped(form),
        "--seal",
        SEAL,
        "-o",
        str(story.out / "custody-record-to-enclose.pdf"),
        shows=["Custody record of"],
    )
    envelope = re.findall(r"--envelope\s+(E\w{11})", printed)[0]
    typed = "\n".join([*map(grouped, samples), "", str(len(samples)), SEAL, "y", "y", "y"]) + "\n"
    stage.step(
        "He scans all five into an envelope, counts them by hand and seals it.",
        "clerk", "seal", "--envelope", grouped(envelope), typed=typed,
        shows=["scan: 5: ", f"seal {SEAL}: 5 samples", "Recorded: sealed"],
    )  # fmt: skip
    stage.step(
        "He prints the label of the envelope, and the sheet outside, on which the dock writes.",
        "clerk",
        "label",
        "envelope",
        grouped(envelope),
        "--pdf",
        str(story.out / "envelope-label.pdf"),
        shows=["Written to"],
    )
    sheet = str(story.out / "sealed-sheet.pdf")
    stage.typed("clerk", "sealed-sheet", grouped(envelope), "-o", sheet, shows=["Sealed sheet of"])
    now = datetime.now(ZoneInfo(story.zone))
    friday = now.date() + timedelta(days=(4 - now.weekday()) % 7 or 7)
    stage.step(
        "Would Friday do, with a carrier that rests at the weekend? In time, and after the cut-off:",
        "clerk",
        "window",
        "--lab",
        LAB,
        "--carrier",
        "birch-post",
        "--at",
        f"{friday} 16:30",
        "--zone",
        story.zone,
        shows=[f"{friday + timedelta(days=3)} 10:30"],
    )
    stage.typed(
        "clerk",
        "window",
        "--lab",
        LAB,
        "--carrier",
        "birch-post",
        "--at",
        f"{friday} 18:00",
        "--zone",
        story.zone,
        shows=[f"{friday + timedelta(days=4)} 10:30"],
    )
    stage.step(
        "He ships it today with the other one; the screen says when it is expected there, then asks.",
        "clerk",
        "ship",
        grouped(envelope),
        "--carrier",
        "acorn-freight",
        "--service",
        "next day",
        "--tracking",
        "AF-1002003",
        "--zone",
        story.zone,
        typed="y\n",
        shows=["Expected delivery", "Recorded: shipped"],
    )
    return envelope


def _dock(story: Story, form: str, envelope: str, samples: list[str]) -> None:
    stage = story.stage
    stage.tell("(The night in the carrier's van is left out: the clock of the ledger is the real one.)")
    typed = (
        "\n".join(["sound", SEAL, "intact", "y", *map(grouped, samples), "", "y", str(len(samples)), "y"])
        + "\n"
    )
    stage.step(
        "Dov Larkspur at the dock of Quill Laboratory types the seal as he reads it, scans, counts.",
        "dock",
        "receive",
        grouped(envelope),
        "--all-intact",
        "--temperature",
        "19.5",
        typed=typed,
        shows=["Number as read on the seal", "Discrepancies: none.", "Recorded: received"],
    )
    stage.step(
        "He accepts the samples under the laboratory's own numbers.",
        "dock",
        "accept",
        grouped(envelope),
        *[word for n, s in enumerate(samples, 1) for word in ("--lab-number", f"{s}=Q-{n}")],
        shows=["Recorded: accepted"],
    )
    stage.step(
        "Who held the first sample, and how was it secured?",
        "dock",
        "show",
        grouped(samples[0]),
        since="Chain of custody",
    )
    stage.step(
        "What do the rules find, and what are the four verdicts?",
        "dock",
        "check",
        grouped(form),
        since="No findings.",
        shows=["Verdicts"],
    )
    stage.step(
        "Ines fetches the custody record as it stands now.",
        "inspector",
        "record",
        grouped(form),
        "-o",
        str(story.out / "custody-record.pdf"),
        shows=["Custody record of"],
    )
