"""Every command of every guide, typed by the person it is for, in one firm and laboratory over one log."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from journey import FOLDER, Journey, blocks

from typed_commands import TypedCommands
from waiting import until

GUIDES = ("administrator", "media-keeper", "inspector", "clerk", "dock", "auditor", "operator", "cosigner")
KID = r"^kid: +(\S+)$"
LINE = r"^ +([1-5] [0-9A-Z ]+ +\S)$"
LOG_KEY = r"^log key: +(\S+)$"
NUMBER = r"[0-9A-Z]{4} [0-9A-Z]{4} [0-9A-Z]{4}"


@pytest.fixture
def journey(tmp_path: Path) -> Iterator[Journey]:
    """A folder for each person; nobody has a key, and there is no log."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = listener.getsockname()[1]
    with TypedCommands(tmp_path) as typed:
        yield Journey(typed, tmp_path, port)


@pytest.mark.slow
def test_everything_in_every_guide_is_typed(journey: Journey) -> None:
    """If this fails, whoever works by their guide gets stuck, in the field or at the dock."""
    founded(journey)
    watched(journey)
    stocked(journey)
    visited(journey)
    shipped(journey)
    received(journey)
    audited(journey)
    looked_after(journey)
    untyped = [
        (each.guide, each.heading) for name in GUIDES for each in blocks(name) if each not in journey.done
    ]
    assert untyped == []


def founded(journey: Journey) -> None:
    """The log, two organizations, their people, equipment and hours."""
    journey.types("operator", "operator", "Make the ledger")
    for who, heading in (("office", "Found the organization"), ("lab", "At a laboratory")):
        journey.types(who, "administrator", heading, slice(1))
        journey.reads("ROOT", who, KID)
        journey.types("operator", "operator", "Admit an organization")
        if who == "office":
            journey.types(who, "administrator", heading, slice(1, None))
    people = (
        ("keeper", "media-keeper"),
        ("inspector", "inspector"),
        ("clerk", "clerk"),
        ("quality", "inspector"),
    )
    for who, guide in people:
        journey.types(who, guide, "Once: your key")
        journey.carries("request.json", who, "office", f"{who}.json")
    journey.types("dock", "dock", "Once: your key")
    journey.carries("request.json", "dock", "lab", "dock.json")
    journey.types("office", "administrator", "Enroll people")
    journey.types("lab", "administrator", "At a laboratory", slice(1, None))
    journey.known["INSPECTOR"] = journey.shown("inspector", KID)
    journey.types("office", "administrator", "Equipment, training, licenses")
    journey.types("office", "administrator", "Hours and limits")


def watched(journey: Journey) -> None:
    """The laboratory cosigns and copies the log."""
    journey.types("lab", "cosigner", "Once: a key for this alone")
    journey.reads("COSIGNER", "lab", r"auditors: +(\S+)$")
    journey.reads("MONITOR", "lab", KID)
    journey.known["LOG_KEY"] = journey.shown("lab", LOG_KEY)
    journey.types("lab", "cosigner", "Follow a log")
    journey.types("operator", "operator", "Name who watches")
    assert (journey.folder / "operator" / "ledger" / "settings.toml").stat().st_mode & 0o777 == 0o600
    journey.types("lab", "cosigner", "Come by")
    journey.types("lab", "cosigner", "Check what you cosign")


def stocked(journey: Journey) -> None:
    """Boxes, numbers and labels."""
    for heading, name in (("A box arrives", "LOT"), ("The maker recalls a lot", "RECALLED")):
        journey.types("keeper", "media-keeper", heading, slice(1))
        journey.reads(name, "keeper", rf"^Lot ({NUMBER})", -1)
        journey.types("keeper", "media-keeper", heading, slice(1, None))
        if name == "LOT":
            said = journey.types("keeper", "media-keeper", "Numbers and labels")
            for number in range(5):
                sample = f"S{number + 1}"
                journey.reads(sample, "keeper", r"^(S[0-9A-Z]{3} [0-9A-Z]{4} [0-9A-Z]{4})", number)
                journey.known[sample] = journey.known[sample].replace(" ", "")  # as a scanner reads the label
            assert "Recorded" in said
    assert (journey.folder / "keeper" / "labels.pdf").read_bytes().startswith(b"%PDF")


def visited(journey: Journey) -> None:
    """Before the visit, on site, and into the clerk's hands."""
    said = journey.types("inspector", "inspector", "The days before")
    assert "Carry " in said
    said = journey.types("inspector", "inspector", "Open the form, check the pump", slice(1))
    journey.reads("FORM", "inspector", rf"^Form ({NUMBER})")
    assert "Before you start" in said
    assert "Volume 74.75 L" in said
    journey.types("inspector", "inspector", "Open the form, check the pump", slice(1, None))
    journey.types("inspector", "inspector", "Each cassette")
    assert "OC-01" in journey.types("inspector", "inspector", "Before you leave")
    journey.known["CLERK"] = journey.shown("clerk", KID)
    journey.types("inspector", "inspector", "Transfer")


def shipped(journey: Journey) -> None:
    """Taken over, sealed, shipped."""
    for heading in ("Receive them", "By when?"):
        journey.types("clerk", "clerk", heading)
    heading = "Record, envelope, seal"
    journey.types("clerk", "clerk", heading, slice(1))
    journey.reads("ENVELOPE", "clerk", rf"in envelope ({NUMBER}):", -1)
    assert "SE-02" in journey.types("clerk", "clerk", heading, slice(1, 3))
    assert "Recorded: sealed" in journey.types("clerk", "clerk", heading, slice(3, None))
    said = journey.types("clerk", "clerk", "Ship it")
    assert "Expected delivery" in said
    assert "Recorded: shipped" in said
    for paper in ("record.pdf", "envelope.pdf", "sheet.pdf"):
        assert (journey.folder / "clerk" / paper).read_bytes().startswith(b"%PDF")


def received(journey: Journey) -> None:
    """At the dock."""
    assert "Discrepancies: none." in journey.types("dock", "dock", "Before you open it")
    assert "Recorded: accepted" in journey.types("dock", "dock", "Decide")
    journey.types("dock", "dock", "What leaves the laboratory")
    assert f"http://127.0.0.1:{journey.port}/enter#" in journey.types("dock", "dock", "Pages to look at")


def _cosigned(journey: Journey) -> bool:
    """Whether the file made after the cosigner came by has its word: what is signed in between has not."""
    journey.types("lab", "cosigner", "Come by")
    journey.types("clerk", "auditor", "Get the file")
    note = json.loads((journey.folder / "clerk" / "visit.json").read_text())["checkpoint"]
    return "quill-lab.example/cosigner" in note


def audited(journey: Journey) -> None:
    """One file, and nothing else."""
    until(lambda: _cosigned(journey))
    journey.known["FIRM_ROOT"] = journey.shown("office", KID)
    journey.known["LAB_ROOT"] = journey.shown("lab", LINE, 5)
    (journey.folder / "auditor").mkdir()
    journey.carries("visit.json", "clerk", "auditor", "visit.json")
    journey.types("auditor", "auditor", "Bring the keys")
    said = journey.types("auditor", "auditor", "Check it")
    assert "Records: unaltered, complete and cosigned" in said
    assert "Custody: no fault found. No break in custody found." in said
    assert "Records: unaltered, cosigned; the root of quill-lab was not brought" in said
    assert "Verified" in journey.types("auditor", "auditor", "Trust no program of ours")


def looked_after(journey: Journey) -> None:
    """What comes once in a while, and what ends something."""
    journey.types("office", "administrator", "Every week")
    journey.types("dock", "dock", "Stores and disposal")
    journey.types("operator", "operator", "Every day")
    journey.stops()
    journey.types("operator", "operator", "A new version, a spoiled index")
    journey.types("operator", "operator", "When it freezes")


def test_every_guide_with_commands_is_typed() -> None:
    """If this fails, a guide is typed by nobody (that for programs is, by test_pages_to_read)."""
    typed = {
        each.name.removesuffix(".md")
        for each in FOLDER.iterdir()
        if each.name.endswith(".md") and "```sh" in each.read_text("utf-8")
    }
    assert typed == {*GUIDES, "machines"}
