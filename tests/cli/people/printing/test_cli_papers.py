"""The papers that a clerk prints around a seal: what goes in before it exists."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from bailee.domain.numbers import grouped
from town import ENVELOPE, SEAL, Town

pytestmark = pytest.mark.slow


def read(town: Town, name: str) -> str:
    """What a paper in the town's folder says."""
    pages = PdfReader(io.BytesIO((town.folder / name).read_bytes())).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_the_record_to_enclose_names_a_number_with_which_the_envelope_is_sealed(
    visited: tuple[Town, list[str]],
) -> None:
    """The record inside would name another envelope than the one it lies in."""
    town, samples = visited
    clerk, paper = town.person("clerk"), str(town.folder / "in.pdf")
    said = clerk.answer("record", samples[0], "--seal", "C-4711", "--containers", "2", "-o", paper)
    assert {"seal", "containers", "envelope", "form", "written"} == said.keys()
    envelope = said["envelope"]
    assert f"closed with seal C-4711, as envelope {grouped(envelope)}" in read(town, "in.pdf")
    assert "2 containers" in read(town, "in.pdf")
    clerk.run("seal", *samples[:3], "--envelope", envelope, "--counted", "3", *SEAL)
    assert clerk.answer("show", envelope)["seal"] == "C-4711"


def test_an_envelope_named_is_the_one_printed_and_never_one_that_is_sealed(
    visited: tuple[Town, list[str]],
) -> None:
    """A clerk who prints after sealing would think that the paper lies inside."""
    town, samples = visited
    clerk, paper = town.person("clerk"), str(town.folder / "in.pdf")
    asked = ("record", samples[0], "--for", ENVELOPE, "--seal", "C-4711", "-o", paper)
    assert f"bailee seal --envelope {ENVELOPE} --seal C-4711" in " ".join(clerk.run(*asked).split())
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    assert clerk.answer(*asked, code=1)["code"] == "sealed-already"


def test_the_seal_that_was_printed_closes_the_envelope_that_was_printed(
    visited: tuple[Town, list[str]],
) -> None:
    """The record inside would name one envelope and the ledger another, over twelve characters not typed."""
    town, samples = visited
    clerk, paper = town.person("clerk"), str(town.folder / "in.pdf")
    envelope = clerk.answer("record", samples[0], "--seal", "C-4711", "-o", paper)["envelope"]
    said = clerk.run("seal", *samples[:3], "--counted", "3", *SEAL)
    assert f"Envelope {grouped(envelope)}, seal C-4711" in " ".join(said.split())
    assert f"as envelope {grouped(envelope)}" in read(town, "in.pdf")


def test_without_a_seal_there_is_nothing_to_enclose(visited: tuple[Town, list[str]]) -> None:
    """A record without the number of its seal would be enclosed as if it had one."""
    town, samples = visited
    paper = town.folder / "in.pdf"
    town.person("clerk").run("record", samples[0], "--for", ENVELOPE, "-o", str(paper), code=2)
    assert not paper.exists()


def test_the_sheet_for_the_pocket_is_printed_once_it_is_sealed(visited: tuple[Town, list[str]]) -> None:
    """A clerk without the sheet sends an envelope whose dock has nowhere to write."""
    town, samples = visited
    clerk, paper = town.person("clerk"), str(town.folder / "sheet.pdf")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    assert grouped(ENVELOPE) in clerk.run("sealed-sheet", ENVELOPE, "-o", paper)
    assert "C-4711" in read(town, "sheet.pdf")
    assert "Perpetua" not in read(town, "sheet.pdf")
    clerk.run("unseal", ENVELOPE, "--reason", "wrong_seal", "--seal", "C-4711")
    assert clerk.answer("sealed-sheet", ENVELOPE, "-o", paper, code=2)["code"] == "not-sealed"


def test_a_paper_printed_again_is_marked_and_no_other_is(visited: tuple[Town, list[str]]) -> None:
    """The clerk prints again after a jam, and two papers without a mark are both signed."""
    town, samples = visited
    clerk, paper = town.person("clerk"), str(town.folder / "in.pdf")
    asked = ("record", samples[0], "--seal", "C-4711", "--for", ENVELOPE, "-o", paper)
    assert "Print 2" not in clerk.run(*asked)
    assert "REPRINT" not in read(town, "in.pdf")
    assert "Print 2 of it on this device" in clerk.run(*asked)
    assert "REPRINT: print 2, " in read(town, "in.pdf")
    clerk.run("record", samples[0], "--seal", "C-4711", "-o", paper)
    assert "REPRINT: print 3, " in read(town, "in.pdf"), "the seal names its envelope"
    assert grouped(ENVELOPE) in read(town, "in.pdf")
    clerk.run("record", samples[0], "--seal", "C-4712", "-o", paper)
    assert "REPRINT" not in read(town, "in.pdf"), "another envelope's"
    for again in ((), ("REPRINT: print 2, ",)):
        clerk.run("paper", clerk.answer("show", samples[0])["form"], "-o", paper)
        assert ("REPRINT" in read(town, "in.pdf")) == bool(again)


def test_a_record_to_enclose_comes_too_late_after_receipt(visited: tuple[Town, list[str]]) -> None:
    """A dock prints the record it did not find inside, and files it as if it had traveled."""
    town, samples = visited
    clerk, paper = town.person("clerk"), str(town.folder / "in.pdf")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    asked = ("record", samples[0], "--seal", "C-4712", "-o", paper)
    told = clerk.answer(*asked, code=1)
    assert told["code"] == "nothing-to-enclose"
    assert "Print the custody record as it stands, without envelope and seal." in told["detail"]


def test_the_slip_for_whoever_carries_it_has_its_number(visited: tuple[Town, list[str]]) -> None:
    """The number entered with the shipment would be on no paper."""
    town, samples = visited
    clerk, paper = town.person("clerk"), str(town.folder / "slip.pdf")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run("receipt-slip", ENVELOPE, "--slip", "R-7", "--telephone", "555-0137", "-o", paper)
    assert read(town, "slip.pdf").count("Slip R-7") == 2
    assert "555-0137" in read(town, "slip.pdf")
    assert clerk.answer("receipt-slip", ENVELOPE, "--slip", "/", "-o", paper, code=2)["code"]
