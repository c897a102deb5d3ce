"""Which version of a paper counts, typed at the laboratory and read by everybody."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

from pypdf import PdfReader

from bailee.domain import numbers
from bailee.ledger.base64url import b64u
from bailee.signing import signed_statement
from town import INTACT, Town, dock

WHOLE = (
    *INTACT,
    "--package",
    "sound",
    "--counted",
    "3",
    "--yes",
)


def test_a_copy_given_out_again_is_read_by_firm_and_laboratory(
    shipped: tuple[Town, list[str]], tmp_path: Path
) -> None:
    """If this fails, two papers of one visit lie on two desks, and nobody can say which one counts."""
    town, samples = shipped
    dock(town, *samples[:3], *WHOLE)
    laboratory = town.person("dock")
    form = laboratory.answer("show", samples[0])["form"]
    length = laboratory.answer("show", form)["length"]
    paper = tmp_path / "record.pdf"
    laboratory.run("record", form, "-o", str(paper))
    laboratory.run("copy", form, "--of", "record", "--version", "1", "--file", str(paper))
    outbox = laboratory.session().of("dock", as_json=False).outbox
    data = dict(signed_statement.read(outbox.newest(1)[0].text).claims.data)
    outbox.close()
    assert data == {
        "of": "record", "version": 1, "entries": length, "file": b64u(sha256(paper.read_bytes()).digest()),
    }  # fmt: skip
    town.person("inspector").run("correct", samples[0], "height_m=1.3", "--reason", "misread")
    assert "RC-18" in town.person("clerk").run("check", form, code=1)
    laboratory.run("copy", form, "--of", "record", "--version", "2", "--reason", "correction")
    for reader in ("clerk", "dock"):
        assert "It replaced version 1" in town.person(reader).run("check", form, code=None)


def test_who_has_a_copy_is_told_of_a_recall(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, the command that the chase list offers does not sign what settles it."""
    town, samples = shipped
    dock(town, *samples[:3], *WHOLE)
    laboratory = town.person("dock")
    form, lot = laboratory.answer("show", samples[0])["form"], town.person("keeper").answer("lot", "show")
    laboratory.run("copy", form, "--of", "result", "--version", "1")
    number = lot["lots"][0]["lot"] if isinstance(lot, dict) else lot[0]["lot"]
    town.clock.advance(minutes=1)
    town.person("keeper").run("lot", "recall", number, "--reason", "maker")
    said = town.person("clerk").run("check", form, code=None)
    assert "ML-13" in said
    assert f"bailee notify {form} --of recall --about {number} --to … --how … --at …" in said
    words = ("notify", form, "--about", number, "--of", "recall", "--to", "client", "--how", "telephone")
    assert "Recorded: notified" in town.person("clerk").run(*words, "--called-person", "Perpetua Example")
    assert "ML-13" not in town.person("clerk").run("check", form, code=None)


def test_one_command_enters_the_notice_of_a_recalled_lot_on_every_form(
    shipped: tuple[Town, list[str]],
) -> None:
    """If this fails, whoever recalls a lot of twenty visits types twenty commands, and forgets the last."""
    town, samples = shipped
    dock(town, *samples[:3], *WHOLE)
    laboratory, keeper, clerk = (town.person(each) for each in ("dock", "keeper", "clerk"))
    form = laboratory.answer("show", samples[0])["form"]
    laboratory.run("copy", form, "--of", "result", "--version", "1")
    lots = keeper.answer("lot", "show")
    number = lots["lots"][0]["lot"] if isinstance(lots, dict) else lots[0]["lot"]
    words = ("notify", number, "--of", "recall", "--to", "client", "--how", "telephone")
    assert "No form waits for a notice" in clerk.run(*words, "--yes", code=2)
    town.clock.advance(minutes=1)
    keeper.run("lot", "recall", number, "--reason", "maker")
    assert f"bailee notify {form} --of recall --about {number}" in clerk.run("chase", code=None)
    assert "Name with --about" in clerk.run(*words, "--about", samples[0], "--yes", code=2)
    said = clerk.run(*words, typed="y\n")
    assert f"1 form of lot {numbers.grouped(number)}" in said
    assert numbers.grouped(form) in said
    assert "Enter on 1 form that the client was notified (telephone)?" in said
    assert "Recorded: notified" in said
    assert "ML-13" not in clerk.run("check", form, code=None)
    assert "No form waits for a notice" in clerk.run(*words, "--yes", code=2)


def test_without_a_network_the_reader_says_how_far_the_copy_reads(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a copy would claim to tell of entries that nobody had seen."""
    town, samples = shipped
    form = town.person("dock").answer("show", samples[0])["form"]
    words = ("copy", form, "--of", "result", "--version", "1", "--reference", "R-77", "--offline")
    assert "--entries" in town.person("dock").run(*words, code=2)
    town.person("dock").run(*words, "--entries", "9")


def test_the_same_copy_typed_twice_is_signed_once(shipped: tuple[Town, list[str]], tmp_path: Path) -> None:
    """If this fails, a clerk who types it again is told that two different copies bear one number."""
    town, samples = shipped
    laboratory, paper = town.person("dock"), tmp_path / "record.pdf"
    form = laboratory.answer("show", samples[0])["form"]
    paper.write_bytes(b"one and the same")
    words = ("copy", form, "--of", "record", "--version", "1", "--file", str(paper))
    laboratory.run(*words)
    before = laboratory.outbox()
    assert laboratory.answer(*words, code=1)["code"] == "said-already"
    paper.write_bytes(b"another one")
    told = laboratory.answer(*words, code=1)
    assert (told["code"], told["differs"]) == ("said-otherwise", ["file"])
    assert laboratory.outbox() == before
    laboratory.run("copy", form, "--of", "record", "--version", "2", "--file", str(paper))
    laboratory.run(*words, "--both")


def test_an_analyst_is_given_a_blind_copy_and_it_is_signed(
    shipped: tuple[Town, list[str]], tmp_path: Path
) -> None:
    """The analyst reads which cassette is the blank, or nobody can show later that the copy was blind."""
    town, samples = shipped
    dock(town, *samples[:3], *WHOLE)
    laboratory, paper = town.person("dock"), tmp_path / "blind.pdf"
    form = laboratory.answer("show", samples[0])["form"]
    assert "Blind copy of" in laboratory.run("record", form, "--blind", "-o", str(paper))
    said = " ".join(page.extract_text() for page in PdfReader(paper).pages)
    assert numbers.grouped(samples[0]) in said
    assert "Perpetua" not in said
    laboratory.run("copy", form, "--of", "blind", "--version", "1", "--file", str(paper))
    assert (
        laboratory.answer("record", form, "--blind", "--seal", "C-1", "-o", str(paper), code=2)["code"]
        == "one-paper"
    )


def test_what_the_report_takes_over_is_one_page(shipped: tuple[Town, list[str]], tmp_path: Path) -> None:
    """The laboratory copies figures by hand from a record of four pages."""
    town, samples = shipped
    dock(town, *samples[:3], *WHOLE)
    laboratory, paper = town.person("dock"), tmp_path / "report.pdf"
    assert "For the report of" in laboratory.run("record", samples[0], "--for-report", "-o", str(paper))
    (page,) = PdfReader(paper).pages
    assert "Perpetua Example" in page.extract_text()


def test_a_firm_issues_no_result_of_its_laboratory(shipped: tuple[Town, list[str]]) -> None:
    """The clerk closed what stood on the chase list by signing that the result was there."""
    town, samples = shipped
    clerk = town.person("clerk")
    form, before = clerk.answer("show", samples[0])["form"], clerk.outbox()
    told = clerk.run("copy", form, "--of", "result", "--version", "1", code=1)
    assert "Only a laboratory of the form issues its result" in " ".join(told.split())
    assert clerk.outbox() == before
    clerk.run("copy", form, "--of", "record", "--version", "1")
