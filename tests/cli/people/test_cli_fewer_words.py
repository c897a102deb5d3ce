"""What a device can know by itself nobody types: its key at the first joining, the numbers of a lot that
arrives, the form of a sample.

No outside source: common practice of command lines.
"""

from __future__ import annotations

import json

import pytest

from town import ADDRESS, FIRM, INDOOR, OPEN, Town, collect

_BOX = ("--maker-lot", "42-0117", "--cassette", "slit", "--nominal-flow", "15.0", "--expiry")


def test_who_joins_without_a_key_gets_one_and_can_be_enrolled(settled: Town) -> None:
    """A newcomer would type four commands where two say all there is to say."""
    new = settled.person("newcomer")
    request = settled.folder / "newcomer.json"
    said = new.run(
        "join",
        "--service",
        ADDRESS,
        "--org",
        FIRM,
        "--request",
        str(request),
        "--person",
        "Nell Fenn",
        "--device",
        "laptop 4",
    )
    kid = new.answer("key", "show")["kid"]
    assert kid in said
    asked = json.loads(request.read_text("utf-8"))
    assert (asked["kid"], asked["person"], asked["device"]) == (kid, "Nell Fenn", "laptop 4")
    settled.person("firm-root").run("enroll", str(request), "--role", "clerk", "--checked", "in_person")
    assert new.answer("chase") is not None, "the new key may ask"


def test_a_key_that_is_there_is_kept_when_its_device_joins_again(settled: Town) -> None:
    """The service moved to another address, and whoever joined there anew would have lost
    the enrolled key.
    """
    clerk = settled.person("clerk")
    before = clerk.answer("key", "show")["kid"]
    clerk.join_only()
    assert clerk.answer("key", "show")["kid"] == before


def test_a_device_that_was_not_joined_gets_no_key(settled: Town) -> None:
    """A key would be made for a service that is not the one meant."""
    new = settled.person("newcomer")
    new.run("join", "--service", ADDRESS, "--org", FIRM, "--origin", "another.example", code=1)
    assert not (new.folder / "key.pem").exists()


def test_a_box_is_received_numbered_and_its_labels_printed(settled: Town) -> None:
    """The media keeper would copy a lot number from one screen into two commands."""
    keeper, file, pdf = (
        settled.person("keeper"),
        settled.folder / "numbers.txt",
        settled.folder / "labels.pdf",
    )
    said = keeper.run(
        "lot", "receive", *_BOX, "2027-03", "--count", "3", "--issue", "3", "--numbers", str(file)
    )
    numbers = file.read_text("ascii").split()
    (newest,) = [each for each in keeper.answer("lot", "show")["lots"] if each["issued"] == numbers]
    assert len(numbers) == 3
    assert "Recorded: lot received" in said
    assert "Recorded: issued" in said
    keeper.run("label", "sheet", "--pdf", str(pdf))
    keeper.run("label", "sheet", newest["lot"], "--pdf", str(settled.folder / "again.pdf"))
    assert pdf.read_bytes().startswith(b"%PDF")
    assert "Enter which lot" in settled.person("quality").run("label", "sheet", "--pdf", str(pdf), code=2)


def test_an_expired_box_is_received_and_not_numbered(settled: Town) -> None:
    """Numbers would be given to cassettes that no visit may use, because the box was numbered in the same
    breath (ML-02).
    """
    keeper, file = settled.person("keeper"), settled.folder / "numbers.txt"
    said = keeper.run(
        "lot", "receive", *_BOX, "2026-03", "--count", "3", "--issue", "3", "--numbers", str(file), code=1
    )
    assert "Recorded: lot received" in said
    assert "ML-02" in said
    assert not file.exists()


def test_more_numbers_than_cassettes_are_not_issued_with_the_box(settled: Town) -> None:
    """A slip of the finger would give numbers to cassettes that are not there (ML-09)."""
    keeper = settled.person("keeper")
    told = keeper.type("lot", "receive", *_BOX, "2027-03", "--count", "3", "--issue", "30")
    assert told.exit_code == 1
    assert "ML-09" in told.output


def test_a_program_reads_one_answer_for_the_box_and_its_numbers(settled: Town) -> None:
    """Two documents of JSON on one screen are none."""
    told = settled.person("keeper").answer("lot", "receive", *_BOX, "2027-03", "--count", "3", "--issue", "3")
    assert [each["act"] for each in told] == ["lot_received", "issued"]


@pytest.mark.slow
def test_a_sample_names_its_form_when_the_record_is_printed(settled: Town) -> None:
    """The clerk holds cassettes, not a form number."""
    _, (sample, *_) = settled.lot()
    settled.person("inspector").run(*OPEN)
    collect(settled, sample, INDOOR)
    clerk, pdf = settled.person("clerk"), settled.folder / "record.pdf"
    clerk.run("record", sample, "-o", str(pdf))
    assert pdf.read_bytes().startswith(b"%PDF")
    assert "form" in clerk.run("record", settled.lot()[0], "-o", str(pdf), code=2)
